"""Where the points of one view are in space, in the lifter's own axes.

A picture shows what is near larger. In a side view the near leg is 10 to 25 cm
nearer than the trunk, which alone would make a level thigh look 3° off; from
the front, knees that come forward would seem to fall in by 8°.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from squatlab.lifter import Lifter
from squatlab.review.picture import DEPTH_M, FAR_M, Standpoint
from squatlab.review.reading import mean
from squatlab.segments import lengths_of

USUAL = lengths_of("winter2009")

ANKLE_M, FOOT_M = USUAL["ankle_height"] * 1.75, USUAL["foot"] * 1.75
"""Height of an ankle and length of a foot, where nothing says, m [winter2009]."""

TURNED = 0.98
"""Cosine of a usual turnout of 12°."""

ALONG_FOOT = {"heel": -0.5, "toe": 0.5, "ankle": -0.25}
"""Where heel, toe and ankle are, ahead of mid-foot, in lengths of the foot."""

STANDING = {"knee": 0.12, "hip": 0.05}
"""How far ahead of the joint below a standing lifter's knee and hip are, in
lengths between them: weight over mid-foot, knees unlocked [teaching-value]."""

SIGN = {"r": 1.0, "l": -1.0}


class Places(NamedTuple):
    """Hold points (name: (time, 3) m; x forward, y up, z right) of a view.

    ``stand`` is from where they count as seen. ``yaw`` is how far the lifter
    stands turned to the right in the view, rad, nan if it cannot be told;
    the points are turned back. ``foot_m`` is how long a foot is taken to be.
    """

    points: dict[str, NDArray[np.float64]]
    stand: Standpoint
    yaw: float = np.nan
    foot_m: float = np.nan


def from_the_side(
    names: Sequence[str],
    flat: NDArray[np.float64],
    standing: NDArray[np.intp],
    near: str,
    stand: Standpoint,
    lifter: Lifter | None,
    depths: Mapping[str, float],
) -> Places:
    """Place the points of a side view, (time, point, 2) m, in space.

    How near the camera each joint of the near side is comes from a front
    view (``depths``), or is as usual. z stays 0: it is not seen.
    """
    depth = dict(DEPTH_M)
    if lifter is not None:
        depth["hip"] = 0.5 * float(lifter.hip_width_m)
    depth = {f"{joint}_{near}": where for joint, where in (depth | dict(depths)).items()}
    toward = np.array([depth.get(name, 0.0) for name in names])
    still = dict(zip(names, mean(flat[standing]), strict=True))
    feet = (f"heel_{near}", f"toe_{near}")
    origin, stand = _axis(still, dict(zip(names, toward, strict=True)), stand, feet)
    placed = np.zeros((*flat.shape[:2], 3))
    shrink = 1.0 - toward / stand.distance_m
    placed[..., :2] = (flat - origin) * shrink[:, np.newaxis]
    placed[..., 1] += stand.height_m
    return Places(_by_name(names, placed), stand, 0.0)


def from_the_front(
    names: Sequence[str],
    flat: NDArray[np.float64],
    standing: NDArray[np.intp],
    stand: Standpoint,
    lifter: Lifter | None,
) -> Places:
    """Place the points of a front view, (time, point, 2) m, in space.

    A picture shows no depth, but shank and thigh keep their lengths: the
    knee is where the ray through it is a shank from the ankle, the hip a
    thigh behind the knee. The lengths are taken while standing.
    """
    still = dict(zip(names, mean(flat[standing]), strict=True))
    foot = _foot_length(still, lifter)
    along = TURNED * (foot if np.isfinite(foot) else FOOT_M)
    toward = {name: along * ALONG_FOOT.get(name[:-2], 0.0) for name in names}
    feet = tuple(f"{joint}_{side}" for joint in ("heel", "toe") for side in "rl")
    origin, stand = _axis(still, toward, stand, feet)
    seen = flat - origin
    placed = _in_space(seen, np.array([toward[name] for name in names]), stand)
    for side in "rl":
        _place_leg(placed, names, seen, mean(seen[standing]), side, stand)
    yaw = np.nan
    if set(feet) <= set(names):
        heels, toes = (
            mean(placed[:, [names.index(foot) for foot in pair]][standing]).mean(axis=0)
            for pair in (feet[:2], feet[2:])
        )
        yaw = float(np.arctan2(toes[2] - heels[2], toes[0] - heels[0]))
    return Places(_by_name(names, _rotated(placed, yaw)), stand, yaw, foot)


def in_space(
    names: Sequence[str],
    solid: NDArray[np.float64],
    standing: NDArray[np.intp],
    stand: Standpoint,
) -> Places:
    """Turn points (time, point, 3) so that the hips' line points to the right."""
    yaw = 0.0
    if {"hip_r", "hip_l"} <= set(names):
        hips = mean(solid[:, [names.index("hip_r"), names.index("hip_l")]][standing])
        yaw = np.arctan2(hips[1, 0] - hips[0, 0], hips[0, 2] - hips[1, 2])
    return Places(_by_name(names, _rotated(solid, float(yaw))), stand, 0.0)


def _by_name(names: Sequence[str], placed: NDArray[np.float64]) -> dict[str, NDArray[np.float64]]:
    return {name: placed[:, column] for column, name in enumerate(names)}


def _rotated(points: NDArray[np.float64], yaw: float) -> NDArray[np.float64]:
    """Return points (…, 3) in axes turned by ``yaw`` to the right, if it is known."""
    if not yaw or np.isnan(yaw):
        return points
    sine, cosine = np.sin(yaw), np.cos(yaw)
    return points @ np.array([[cosine, 0, -sine], [0, 1, 0], [sine, 0, cosine]])


def _axis(
    still: Mapping[str, NDArray[np.float64]],
    toward: Mapping[str, float],
    stand: Standpoint,
    feet: Sequence[str],
) -> tuple[NDArray[np.float64], Standpoint]:
    """Return where the camera's axis meets the picture, (2,), and its standpoint.

    It points at the lifter's mid-foot, level, and the floor is as far
    below it as the camera is high. Without feet there is no floor to go
    by, so the picture counts as taken from far away.
    """

    def seen(wanted: Sequence[str]) -> list[str]:
        return [name for name in wanted if name in still and np.isfinite(still[name][0])]

    ground, height = seen(feet), 0.0
    if len(ground) < len(feet):
        ground, height = seen(("ankle_r", "ankle_l")), ANKLE_M
    if not ground:
        return np.zeros(2), Standpoint(FAR_M, 0.0, declared=False)
    origin = np.mean([still[name] for name in ground], axis=0)
    far = stand.distance_m
    drops = [(stand.height_m - height) * far / (far - toward[name]) for name in ground]
    return origin + (0.0, np.mean(drops)), stand


def _foot_length(still: Mapping[str, NDArray[np.float64]], lifter: Lifter | None) -> float:
    if lifter is not None:
        return float(lifter.foot_m)
    pairs = [(f"knee_{side}", f"ankle_{side}") for side in "rl"]
    shanks = [np.linalg.norm(still[a] - still[b]) for a, b in pairs if {a, b} <= set(still)]
    return float(mean(np.array(shanks))) * USUAL["foot"] / USUAL["shank"]


def _in_space(
    seen: NDArray[np.float64], toward: NDArray[np.float64], stand: Standpoint
) -> NDArray[np.float64]:
    """Return (…, 3) for what is seen across and up from the camera's axis, (…, 2).

    ``toward`` (…,) m is how far toward the camera it is, which is forward.
    """
    shrink = 1.0 - toward / stand.distance_m
    placed = np.empty((*seen.shape[:-1], 3))
    placed[..., 0] = toward
    placed[..., 1] = seen[..., 1] * shrink + stand.height_m
    placed[..., 2] = -seen[..., 0] * shrink
    return placed


def _place_leg(
    placed: NDArray[np.float64],
    names: Sequence[str],
    seen: NDArray[np.float64],
    still: NDArray[np.float64],
    side: str,
    stand: Standpoint,
) -> None:
    """Put knee and hip of one side where the lengths of the leg allow."""
    leg = [f"{joint}_{side}" for joint in ("ankle", "knee", "hip")]
    if not set(leg[:2]) <= set(names):
        return
    base, below = placed[:, names.index(leg[0])], still[names.index(leg[0])]
    low = _in_space(below, base[0, 0], stand)
    for name in leg[1:]:
        if name not in names:
            return
        column, joint = names.index(name), name[:-2]
        rise = float(np.hypot(*(still[column] - below)))
        high = _in_space(still[column], low[0] + STANDING[joint] * rise, stand)
        length, low, below = float(np.linalg.norm(high - low)), high, still[column]
        toward = along_ray(seen[:, column], base, length, joint == "knee", stand)
        placed[:, column] = base = _in_space(seen[:, column], toward, stand)


def along_ray(
    seen: NDArray[np.float64],
    base: NDArray[np.float64],
    length: float,
    nearer: bool,
    stand: Standpoint,
) -> NDArray[np.float64]:
    """Return how far toward the camera a joint is, m, (time,).

    It is ``length`` from ``base`` (time, 3), on the ray through ``seen``
    (time, 2); of the two places there the ``nearer`` or the further.
    Where the ray passes too far off, the place closest to it.
    """
    far = stand.distance_m
    up, right = seen[:, 1] / far, -seen[:, 0] / far
    ahead, above, aside = far - base[:, 0], stand.height_m - base[:, 1], -base[:, 2]
    # |camera + d (−1, up, right) − base|² = length², a quadratic in the way d.
    squared = 1.0 + up**2 + right**2
    along = -ahead + above * up + aside * right
    root = along**2 - squared * (ahead**2 + above**2 + aside**2 - length**2)
    root = np.sqrt(np.maximum(root, 0.0))
    return far - (-along - root if nearer else -along + root) / squared
