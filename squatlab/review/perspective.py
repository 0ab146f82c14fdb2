"""From a picture to metres in the lifter's axes: scale, camera, perspective.

A picture shows what is near larger. In a side view the near leg is 10 to 25 cm
nearer than the trunk, which alone makes a level thigh look 3° too high; from
the front, knees that come forward seem to fall in by 2°.

Arrays of positions are (…, time, point, axis): leading axes may hold hundreds
of slightly different pictures of one recording, which are placed in one call.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from squatlab import tables
from squatlab.lifter import Lifter
from squatlab.review.errors import ReviewError
from squatlab.segments import lengths_of
from squatlab.signals import low_pass
from squatlab.tracks import Tracks, TracksError
from squatlab.tracks.scale import SEGMENT_M, full_length, measured_scale

USUAL_STATURE_M = 1.75
"""The lifter whose lengths stand in for those that are not declared."""

USUAL = {name: USUAL_STATURE_M * share for name, share in lengths_of("winter2009").items()}
"""Lengths of a lifter of 1.75 m, m [winter2009]."""

PHONE_M = tuple(
    tables.value("limits", name="phone", quantity=quantity) for quantity in ("distance", "height")
)
"""Distance and height of a camera of which nothing is declared, for
pictures in px without a scale [teaching-value]."""

FAR_M = 1000.0
"""From here there is no perspective to speak of: 0.3 mm at a plate."""

PLATE = ("plate_top", "plate_bottom")

PLATE_OUTSIDE_M = tables.value("limits", name="plate", quantity="outside_collar")
"""The middle of the plates is this far outside the collar [teaching-value]."""

SIGN = {"r": 1.0, "l": -1.0}
"""Which way z points to a side's outside."""

MOST_YAW = np.radians(30.0)
"""A front view that is turned further than this is none."""

STRAIGHT = "straight knee"

DEPTH_M = {
    "hip": 0.09,
    "knee": 0.25,
    STRAIGHT: 0.16,
    "ankle": 0.19,
    "heel": 0.17,
    "toe": 0.22,
    "shoulder": 0.22,
}
"""How far to the side of the lifter's middle the near joints are, with
feet at shoulder width, the knee at the bottom and straight [teaching-value]."""

LEAST_TRAVEL_M = 0.1
"""Hips that go down less than this do not push the knees out any further."""

USUAL_TURNOUT_COSINE = 0.98
"""Cosine of a usual turnout of 12°: how much of a foot's length points ahead."""

ALONG_FOOT = {"heel": -0.5, "toe": 0.5, "ankle": -0.25}
"""Where heel, toe and ankle are, ahead of mid-foot, in lengths of the foot."""

STANDING_AHEAD = {"knee": 0.12, "hip": 0.05}
"""How far ahead of the joint below a standing lifter's knee and hip are, in
lengths between them: weight over mid-foot, knees unlocked [teaching-value]."""


class Standpoint(NamedTuple):
    """Say from where a picture was taken, m, and whether that is declared.

    Distance and height may have the leading axes of the positions.
    """

    distance_m: ArrayLike
    height_m: ArrayLike
    declared: bool


class Scale(NamedTuple):
    """Say how many px make a metre at the lifter's middle; where from."""

    px_per_m: float
    known: bool
    words: str = ""


class Placed(NamedTuple):
    """Hold points, name: (…, time, 3) m; x forward, y up, z right, of a view.

    ``standpoint`` is from where they count as seen. ``yaw`` (…,) is how far
    the lifter stands turned to the right in the view, rad, nan if it cannot
    be told; the points are turned back. ``foot_m`` (…,) is how long a foot
    is taken to be.
    """

    points: dict[str, NDArray[np.float64]]
    standpoint: Standpoint
    yaw: ArrayLike = np.nan
    foot_m: ArrayLike = np.nan


class Origin(NamedTuple):
    """Say where the camera's axis meets the picture, (…, 2) m, and from where."""

    at: NDArray[np.float64]
    standpoint: Standpoint


def mean(values: NDArray[np.float64], axis: int = -1) -> NDArray[np.float64]:
    """Return the mean along an axis of what is seen, nan where nothing is."""
    count = values.shape[axis]
    if not count:
        return np.full(np.delete(values.shape, axis), np.nan)
    plain = np.add.reduce(values, axis=axis) / count
    if not np.isnan(plain).any():
        return plain
    seen = ~np.isnan(values)
    counts, totals = seen.sum(axis=axis), np.where(seen, values, 0.0).sum(axis=axis)
    return np.where(counts > 0, totals / np.maximum(counts, 1), np.nan)


# Camera and scale


def standpoint_of(tracks: Tracks, camera: Any) -> Standpoint:
    """Return where the camera stood: as declared, else as phones do.

    ``camera`` has ``distance_m`` and ``height_m``, or maps views to such.
    A picture with a scale, of an undeclared camera, counts as taken from
    far away. Raises ReviewError for numbers that cannot be.
    """
    if isinstance(camera, Mapping):
        camera = camera.get(tracks.view)
    if tracks.view == "3d":
        return Standpoint(FAR_M, 1.0, True)
    if camera is None:
        has_no_scale = tracks.units == "px" and tracks.scale_px_per_m is None
        return Standpoint(*(PHONE_M if has_no_scale else (FAR_M, 1.0)), False)
    numbers = []
    for name, low, high in (("distance_m", 1.0, FAR_M), ("height_m", 0.0, 5.0)):
        number = getattr(camera, name, None)
        if not isinstance(number, int | float) or not low <= number <= high:
            raise ReviewError(
                f"the camera's {name} is {number!r}; declare it in m, between {low:g} and "
                f"{high:g}, or give no camera"
            )
        numbers.append(float(number))
    return Standpoint(*numbers, True)


def scale_of(tracks: Tracks, lifter: Lifter | None, standpoint: Standpoint) -> Scale:
    """Return the scale: the picture's own, a plate's, or the lifter's.

    Beside the lifter a plate hangs nearer and looks larger; from the front
    it is as far as the bar. Without any, a usual leg gives one in which
    angles and times are right and lengths are not known.
    """
    if tracks.units == "m":
        return Scale(1.0, True)
    if tracks.scale_px_per_m:
        return Scale(tracks.scale_px_per_m, True)
    distance = standpoint.distance_m
    if set(PLATE) <= set(tracks.names):
        try:
            scale = measured_scale(tracks, *PLATE, None)
        except TracksError:
            scale = np.nan
        collar = 0.5 * tables.value("limits", name="bar", quantity="between_collars_greatest")
        nearer = collar + PLATE_OUTSIDE_M if tracks.view == "side" else 0.0
        # What is nearer by this much looks larger in proportion of the distances.
        scale *= (distance - nearer) / distance
        if _fits(tracks, scale):
            return Scale(scale, True, "the plate")
    declared = lifter is not None
    for part, upper, lower in (("thigh", "hip", "knee"), ("shank", "knee", "ankle")):
        line = _longest(tracks, upper, lower)
        # Without noise, which only makes the longest longer.
        length = full_length(low_pass(line, tracks.rate, min(6.0, 0.25 * tracks.rate)))
        if length > 0:
            metres = getattr(lifter, f"{part}_m") if declared else USUAL[part]
            nearer = DEPTH_M[upper] if tracks.view == "side" else 0.0
            scale = length / metres * (distance - nearer) / distance
            return Scale(float(scale), declared, f"the declared {part}" if declared else "")
    return Scale(1.0, False)


def _fits(tracks: Tracks, scale: float) -> bool:
    """Tell whether a shank has a shank's length by this scale, if one is seen."""
    if not scale > 0:
        return False
    shank = float(mean(np.linalg.norm(_longest(tracks, "knee", "ankle"), axis=1))) / scale
    return bool(np.isnan(shank) or SEGMENT_M[0] <= shank <= SEGMENT_M[1])


def _longest(tracks: Tracks, upper: str, lower: str) -> NDArray[np.float64]:
    """Return the vector between two joints (time, axis) on the better seen side."""
    sides = [s for s in "rl" if {f"{upper}_{s}", f"{lower}_{s}"} <= set(tracks.names)]
    lines = [tracks[f"{upper}_{s}"] - tracks[f"{lower}_{s}"] for s in sides]
    return max(lines, key=lambda v: np.isfinite(v).sum(), default=np.full((2, 2), np.nan))


# The four kinds of view


def from_the_side(
    names: Sequence[str],
    seen: NDArray[np.float64],
    standing: NDArray[np.intp],
    near: str,
    standpoint: Standpoint,
    lifter: Lifter | None,
    depths: Mapping[str, float],
) -> Placed:
    """Place the points of a side view, (…, time, point, 2) m, in space.

    How near the camera each joint of the near side is comes from a front
    view (``depths``), or is as usual. z stays 0: it is not seen.
    """
    depth = dict(DEPTH_M)
    if lifter is not None:
        depth["hip"] = 0.5 * float(lifter.hip_width_m)
    depth = {f"{joint}_{near}": nearer for joint, nearer in (depth | dict(depths)).items()}
    # How far out a bent knee is may differ along the leading axes: it is corrected below.
    bent, straight = depth[f"knee_{near}"], depth[f"{STRAIGHT}_{near}"]
    depth[f"knee_{near}"] = straight
    feet = (f"heel_{near}", f"toe_{near}")
    still = mean(seen[..., standing, :, :], -3)
    origin, standpoint = _origin(names, still, depth, standpoint, feet)
    # A point d nearer than the middle, at distance D, looks larger by D / (D − d).
    distance = _over_points(standpoint.distance_m)
    shrink = 1.0 - np.array([depth.get(name, 0.0) for name in names]) / distance
    placed = np.zeros((*np.broadcast_shapes(seen.shape[:-1], shrink.shape), 3))
    placed[..., :2] = (seen - origin[..., np.newaxis, np.newaxis, :]) * shrink[..., np.newaxis]
    if f"knee_{near}" in names:
        # A straight knee is further in than a bent one: it comes out as the hips go down.
        knee = names.index(f"knee_{near}")
        further = (np.asarray(bent) - straight)[..., np.newaxis]
        outward = straight + further * _lowered(placed, names, near, standing)
        correction = (1.0 - outward / distance[..., 0]) / shrink[..., knee]
        placed[..., knee, :] *= correction[..., np.newaxis]
    placed[..., 1] += _over_points(standpoint.height_m)
    return Placed(by_name(names, placed), standpoint, 0.0)


def _lowered(
    placed: NDArray[np.float64], names: Sequence[str], near: str, standing: NDArray[np.intp]
) -> NDArray[np.float64]:
    """Return how far the hip is down, 0 to 1, (…, time): so far the knee has come out."""
    if f"hip_{near}" not in names or not len(standing):
        return np.ones(placed.shape[:-2])
    height = placed[..., names.index(f"hip_{near}"), 1]
    top = mean(height[..., standing])[..., np.newaxis]
    travel = np.maximum(top - np.fmin.reduce(height, axis=-1, keepdims=True), LEAST_TRAVEL_M)
    return np.clip((top - height) / travel, 0.0, 1.0)


def from_the_front(
    names: Sequence[str],
    seen: NDArray[np.float64],
    standing: NDArray[np.intp],
    standpoint: Standpoint,
    lifter: Lifter | None,
) -> Placed:
    """Place the points of a front view, (…, time, point, 2) m, in space.

    A picture shows no depth, but shank and thigh keep their lengths: the
    knee is where the ray through it is a shank from the ankle, the hip a
    thigh behind the knee. The lengths are taken while standing.
    """
    still = mean(seen[..., standing, :, :], -3)
    foot = _foot_length(names, still, lifter)
    along = USUAL_TURNOUT_COSINE * np.where(np.isfinite(foot), foot, USUAL["foot"])
    ahead = {name: along * ALONG_FOOT.get(name[:-2], 0.0) for name in names}
    feet = tuple(f"{joint}_{side}" for joint in ("heel", "toe") for side in "rl")
    origin, standpoint = _origin(names, still, ahead, standpoint, feet)
    seen = seen - origin[..., np.newaxis, np.newaxis, :]
    still = still - origin[..., np.newaxis, :]
    ahead_of_all = np.stack([ahead[name] for name in names], axis=-1)[..., np.newaxis, :]
    placed = _on_ray(seen, ahead_of_all, standpoint)
    for side in "rl":
        _place_leg(placed, names, seen, still, side, standpoint)
    yaw = np.full(placed.shape[:-3], np.nan)
    if set(feet) <= set(names):
        heel_r, heel_l, toe_r, toe_l = (placed[..., names.index(foot), :] for foot in feet)
        # The feet's middle line points straight ahead of the lifter.
        line = mean((toe_r + toe_l - heel_r - heel_l)[..., standing, :], -2)
        yaw = np.arctan2(line[..., 2], line[..., 0])
        _place_bar(placed, names, seen, yaw, standpoint)
    return Placed(by_name(names, rotated(placed, yaw)), standpoint, yaw, foot)


def _place_bar(
    placed: NDArray[np.float64],
    names: Sequence[str],
    seen: NDArray[np.float64],
    yaw: NDArray[np.float64],
    standpoint: Standpoint,
) -> None:
    """Place the ends of the bar where they are if it lies square to the lifter.

    Of a lifter who stands turned one end is nearer the camera, by z tan(yaw)
    at z aside, and looks further from the camera's height than the other.
    """
    aside = np.tan(np.clip(yaw, -MOST_YAW, MOST_YAW))[..., np.newaxis]
    for name in ("bar_end_r", "bar_end_l"):
        if name in names:
            column = names.index(name)
            ahead = np.nan_to_num(-aside) * placed[..., column, 2]
            placed[..., column, :] = _on_ray(
                seen[..., column : column + 1, :], ahead[..., np.newaxis], standpoint
            )[..., 0, :]


def _foot_length(
    names: Sequence[str], still: NDArray[np.float64], lifter: Lifter | None
) -> NDArray[np.float64]:
    """Return a foot's length (…,) m: as declared, else from the shanks, else nan."""
    leading = still.shape[:-2]
    if lifter is not None:
        return np.full(leading, float(lifter.foot_m))
    shanks = [
        np.linalg.norm(
            still[..., names.index(f"knee_{side}"), :]
            - still[..., names.index(f"ankle_{side}"), :],
            axis=-1,
        )
        for side in "rl"
        if {f"knee_{side}", f"ankle_{side}"} <= set(names)
    ]
    if not shanks:
        return np.full(leading, np.nan)
    return mean(np.stack(shanks, axis=-1)) * (USUAL["foot"] / USUAL["shank"])


def _on_ray(
    seen: NDArray[np.float64], ahead: ArrayLike, standpoint: Standpoint
) -> NDArray[np.float64]:
    """Return (…, time, point, 3) for what is seen across and up from the axis.

    ``seen`` is (…, time, point, 2) m; ``ahead`` (…, time, point) m is how
    far toward the camera it is, which is forward.
    """
    shrink = 1.0 - ahead / _over_points(standpoint.distance_m)
    height = _over_points(standpoint.height_m)
    placed = np.empty((*np.broadcast_shapes(seen.shape[:-1], shrink.shape), 3))
    placed[..., 0] = ahead
    placed[..., 1] = seen[..., 1] * shrink + height
    placed[..., 2] = -seen[..., 0] * shrink
    return placed


def _place_leg(
    placed: NDArray[np.float64],
    names: Sequence[str],
    seen: NDArray[np.float64],
    still: NDArray[np.float64],
    side: str,
    standpoint: Standpoint,
) -> None:
    """Put knee and hip of one side where the lengths of the leg allow."""
    ankle, knee = f"ankle_{side}", f"knee_{side}"
    if not {ankle, knee} <= set(names):
        return

    def standing_at(name: str) -> NDArray[np.float64]:
        return still[..., np.newaxis, names.index(name), np.newaxis, :]

    # Each is (…, 1, 1, 2 or 3): one frame, one point. First the leg as it stands.
    below_seen, below = standing_at(ankle), placed[..., names.index(ankle), :]
    ankle_ahead = below[..., :1, :1]
    below_standing = _on_ray(below_seen, ankle_ahead, standpoint)
    for name in (knee, f"hip_{side}"):
        if name not in names:
            return
        column, joint = names.index(name), name[:-2]
        joint_seen = standing_at(name)
        step = joint_seen - below_seen
        rise = np.hypot(step[..., 0], step[..., 1])
        ahead = below_standing[..., 0] + STANDING_AHEAD[joint] * rise
        joint_standing = _on_ray(joint_seen, ahead, standpoint)
        length = np.linalg.norm(joint_standing - below_standing, axis=-1)[..., 0]
        # Then wherever it is, at that length.
        ahead = along_ray(seen[..., column, :], below, length, joint == "knee", standpoint)
        joint_moving = _on_ray(seen[..., column, np.newaxis, :], ahead[..., np.newaxis], standpoint)
        placed[..., column, :] = below = joint_moving[..., 0, :]
        below_standing, below_seen = joint_standing, joint_seen


def along_ray(
    seen: NDArray[np.float64],
    base: NDArray[np.float64],
    length: ArrayLike,
    nearer: bool,
    standpoint: Standpoint,
) -> NDArray[np.float64]:
    """Return how far toward the camera a joint is, m, (…, time).

    It is ``length`` (…, 1) m from ``base`` (…, time, 3), on the ray through
    ``seen`` (…, time, 2); of the two places there the ``nearer`` or the
    further. Where the ray passes too far off, the place closest to it.
    """
    distance = np.asarray(standpoint.distance_m)[..., np.newaxis]
    height = np.asarray(standpoint.height_m)[..., np.newaxis]
    up, right = seen[..., 1] / distance, -seen[..., 0] / distance
    ahead, above, aside = distance - base[..., 0], height - base[..., 1], -base[..., 2]
    # |camera + d (−1, up, right) − base|² = length², a quadratic in the way d.
    squared = 1.0 + up**2 + right**2
    along = -ahead + above * up + aside * right
    root = along**2 - squared * (ahead**2 + above**2 + aside**2 - np.asarray(length) ** 2)
    root = np.sqrt(np.maximum(root, 0.0))
    return distance - (-along - root if nearer else -along + root) / squared


def in_space(
    names: Sequence[str],
    seen: NDArray[np.float64],
    standing: NDArray[np.intp],
    standpoint: Standpoint,
) -> Placed:
    """Turn points (…, time, point, 3) so that the hips' line points to the right."""
    yaw = np.zeros(seen.shape[:-3])
    if {"hip_r", "hip_l"} <= set(names):
        hips = seen[..., names.index("hip_r"), :] - seen[..., names.index("hip_l"), :]
        across = mean(hips[..., standing, :], -2)
        yaw = np.arctan2(-across[..., 0], across[..., 2])
    return Placed(by_name(names, rotated(seen, yaw)), standpoint, 0.0)


def as_filmed(names: Sequence[str], seen: NDArray[np.float64], kind: str) -> Placed:
    """Return the points as a picture shows them, (…, time, point, 2) m, uncorrected.

    Across is forward in a picture from the side, to the left in one from
    the front.
    """
    placed = np.zeros((*seen.shape[:-1], 3))
    placed[..., 1] = seen[..., 1]
    if kind == "front":
        placed[..., 2] = -seen[..., 0]
    else:
        placed[..., 0] = seen[..., 0]
    return Placed(by_name(names, placed), Standpoint(FAR_M, 0.0, declared=False))


def by_name(names: Sequence[str], placed: NDArray[np.float64]) -> dict[str, NDArray[np.float64]]:
    """Return each point (…, time, 3) of (…, time, point, 3) by its name."""
    return {name: placed[..., column, :] for column, name in enumerate(names)}


def rotated(points: NDArray[np.float64], yaw: ArrayLike) -> NDArray[np.float64]:
    """Return points (…, time, point, 3) turned right by ``yaw`` (…,) if known."""
    yaw = np.where(np.isnan(yaw), 0.0, yaw)
    if not yaw.any():
        return points
    sine, cosine = np.sin(yaw), np.cos(yaw)
    none, whole = np.zeros_like(yaw), np.ones_like(yaw)
    # Columns of the rotation about the vertical, for row vectors.
    turn = np.stack(
        [
            np.stack([cosine, none, -sine], axis=-1),
            np.stack([none, whole, none], axis=-1),
            np.stack([sine, none, cosine], axis=-1),
        ],
        axis=-2,
    )
    return points @ turn[..., np.newaxis, :, :]


def _origin(
    names: Sequence[str],
    still: NDArray[np.float64],
    toward: Mapping[str, ArrayLike],
    standpoint: Standpoint,
    feet: Sequence[str],
) -> Origin:
    """Return where the camera's axis meets the picture, and its standpoint.

    It points at the lifter's mid-foot, level, and the floor is as far
    below it as the camera is high. ``still`` (…, point, 2) is where the
    points are while standing, ``toward`` (…,) how far toward the camera.
    Without feet the floor is a usual shank below the knees; without those
    there is none, so the picture counts as taken from far away.
    """
    is_seen = np.isfinite(still).all(axis=tuple(range(still.ndim - 2)) + (-1,))

    def those_seen(wanted: Sequence[str]) -> list[str]:
        return [name for name in wanted if name in names and is_seen[names.index(name)]]

    ground, height = those_seen(feet), 0.0
    if len(ground) < len(feet):
        ground, height = those_seen(("ankle_r", "ankle_l")), USUAL["ankle_height"]
    if not ground:
        ground = those_seen(("knee_r", "knee_l"))
        height = USUAL["ankle_height"] + USUAL["shank"]
    if not ground:
        at = np.zeros((*still.shape[:-2], 2))
        return Origin(at, Standpoint(FAR_M, 0.0, declared=False))
    at = sum(still[..., names.index(name), :] for name in ground) / len(ground)
    distance = np.asarray(standpoint.distance_m)
    # The floor there looks further below the axis by as much as it is nearer.
    nearer = sum(distance / (distance - toward[name]) for name in ground) / len(ground)
    drop = nearer * (np.asarray(standpoint.height_m) - height)
    return Origin(at + np.stack([np.zeros_like(drop), drop], axis=-1), standpoint)


def _over_points(number: ArrayLike) -> NDArray[np.float64]:
    """Return a number (…,) as (…, 1, 1): the same for every frame and point."""
    return np.asarray(number, dtype=float)[..., np.newaxis, np.newaxis]
