"""Where the points of a front view are in space: depth from the lengths of the legs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from squatlab.lifter import Lifter
from squatlab.review.picture import Standpoint
from squatlab.review.places import Places, axis, by_name, rotated
from squatlab.review.reading import mean
from squatlab.segments import lengths_of

USUAL = lengths_of("winter2009")

FOOT_M = USUAL["foot"] * 1.75
"""Length of a foot, where nothing says, m [winter2009]."""

TURNED = 0.98
"""Cosine of a usual turnout of 12°."""

ALONG_FOOT = {"heel": -0.5, "toe": 0.5, "ankle": -0.25}
"""Where heel, toe and ankle are, ahead of mid-foot, in lengths of the foot."""

STANDING = {"knee": 0.12, "hip": 0.05}
"""How far ahead of the joint below a standing lifter's knee and hip are, in
lengths between them: weight over mid-foot, knees unlocked [teaching-value]."""


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
    origin, stand = axis(still, toward, stand, feet)
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
    return Places(by_name(names, rotated(placed, yaw)), stand, yaw, foot)


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
