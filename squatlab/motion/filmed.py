"""The points that can be filmed: the posture's, bar and head as they tip, the plate."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from squatlab import tables
from squatlab.mechanics.posture import Posture

PointPositions = dict[str, NDArray[np.float64]]

PLATE_OUTSIDE_M = tables.value("limits", name="plate", quantity="outside_collar")

WITH_THE_BAR = ("shoulder", "elbow", "wrist", "bar_end")
"""What tips with the bar, as one piece: arms keep their lengths."""

GAZE_AHEAD_M = {
    bar: tuple(
        tables.value("limits", name="gaze", quantity=f"{bar}_bar_{end}")
        for end in ("least", "most")
    )
    for bar in ("high", "low")
}
"""Where the eyes rest ahead of the toes, with a high and a low bar, nearest and furthest."""

LOW_BAR_M = tables.value("limits", name="bar", quantity="low_from")


def filmed_points(
    posture: Posture, tilt_deg: ArrayLike, head_up_deg: ArrayLike, early: NDArray[np.float64]
) -> PointPositions:
    """Return every point by name, each (frame, 3) m.

    ``tilt_deg`` (frame,) is how far the bar's right end is down,
    ``head_up_deg`` how far the head goes back beyond what the gaze needs,
    nan for a head in line with the trunk, as ``early`` (frame,) says. The
    plate is the right one, 0.450 m across [iwf].
    """
    shape = (early.size, 3)
    points = {name: np.broadcast_to(point, shape) for name, point in posture.points.items()}
    bar, tilt = points["bar"], np.radians(tilt_deg)
    if np.any(tilt):
        for name in (f"{joint}_{side}" for joint in WITH_THE_BAR for side in "rl"):
            points[name] = bar + _turned(points[name] - bar, tilt, 2, 1)
    if not np.all(np.isnan(head_up_deg)):
        spots = GAZE_AHEAD_M["low" if posture.bar.drop_m > LOW_BAR_M else "high"]
        points["head"] = _head(points, np.radians(head_up_deg), early, spots)
    radius = 0.5 * tables.value("limits", name="plate", quantity="diameter")
    collar = 0.5 * tables.value("limits", name="bar", quantity="between_collars_greatest")
    for name, up in (("plate_top", radius), ("plate_bottom", -radius)):
        points[name] = bar + _turned(np.array([0.0, up, collar + PLATE_OUTSIDE_M]), tilt, 2, 1)
    for point in points.values():
        point.flags.writeable = False
    return points


def _turned(arm: NDArray, angle: ArrayLike, one: int, other: int) -> NDArray[np.float64]:
    """Return vectors (…, 3) turned in a plane, from axis ``one``'s positive side
    toward the negative side of the ``other``.
    """
    cosine, sine = np.cos(angle), np.sin(angle)
    turned = np.empty(np.broadcast_shapes(arm.shape, (*np.shape(angle), 3)))
    turned[...] = arm
    turned[..., one] = arm[..., one] * cosine + arm[..., other] * sine
    turned[..., other] = arm[..., other] * cosine - arm[..., one] * sine
    return turned


def _head(
    points: PointPositions, beyond: ArrayLike, early: NDArray[np.float64], spots: tuple[float, ...]
) -> NDArray[np.float64]:
    """Return the head, (frame, 3) m, thrown back by an angle in rad.

    It is turned about C7. ``beyond`` counts from the head's direction in
    which the eyes keep resting on a spot on the floor; of the nearest and
    the furthest usual spot (``spots``, m ahead of the toes) the one that
    asks for more turning is taken. The body's centre of mass does not
    follow the head: its mass is small and moves little.
    """
    neck, c7, toe_x = points["head"] - points["c7"], points["c7"], points["toe_r"][0, 0]
    lean_back = -np.arctan2(neck[:, 0], neck[:, 1])
    head, gaze_rise = points["head"], 0.0
    # Where the head goes changes a little where the spot is seen. Three rounds settle it.
    for _ in range(3):
        turn = np.nan_to_num(beyond + gaze_rise + lean_back[0] - lean_back) * early
        head = c7 + _turned(neck, turn, 1, 0)
        gaze_down = [np.arctan2(head[:, 1], toe_x + spot - head[:, 0]) for spot in spots]
        gaze_rise = np.max([angle[0] - angle for angle in gaze_down], axis=0)
    return head
