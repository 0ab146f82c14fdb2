"""What must hold in any lifter: lengths, levels and heights that a view shows, and by how much."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from squatlab.review.errors import CannotTell
from squatlab.review.perspective import DEPTH_M, STRAIGHT, mean
from squatlab.review.quantities import Quantities
from squatlab.review.view import LEG, View

HEIGHTS = ("hip standing", "knee standing", "hip bottom", "knee bottom")
"""Heights above the ankle that two views of one squat both see."""

HEIGHT_SD_M = 0.006
"""How far apart those are, SD: the views are not filmed at the same instant
of the same repetition [teaching-value]."""


class KeptLength(NamedTuple):
    """Say that the length between two points stays what it is standing.

    Give or take ``halfway_sd_m`` and ``bottom_sd_m``; standing it is that
    ``declared`` of the lifter, give or take ``declared_sd_m``.
    """

    first: str
    second: str
    halfway_sd_m: float
    bottom_sd_m: float
    declared: str = ""
    declared_sd_m: float = 0.0


LENGTHS_OF_LEG = (
    KeptLength("hip", "knee", 0.006, 0.009, "thigh_m", 0.022),
    KeptLength("knee", "ankle", 0.005, 0.008, "shank_m", 0.018),
)
LENGTHS_OF_TRUNK = (
    KeptLength("hip", "l5", 0.008, 0.010, "pelvis_m", 0.012),
    KeptLength("l5", "c7", 0.012, 0.025),
    KeptLength("c7", "bar", 0.012, 0.018),
)
"""The spine bends and skin moves, so the trunk keeps its lengths less well
than the leg [teaching-value]."""

FLAT_FOOT_SD_M, ANKLE_HEIGHT_SD_M = 0.006, 0.010
"""How far from level heel and toe are, and an ankle from its declared height
above the heel, while standing [teaching-value]."""

BALANCE_SD_M = 0.022
"""How far from over mid-foot the centre of mass stands: nobody stands on
heels or toes alone [teaching-value]."""

KEPT_HIP_WIDTH_SD_M, HIP_WIDTH_SD_M = 0.012, 0.015
"""How far the hips' distance at the bottom is from that standing, and that
from the declared one [teaching-value]."""

LEVEL_SD_M = {
    "hip": 0.010,
    "knee": 0.010,
    "ankle": 0.006,
    "heel": 0.005,
    "toe": 0.005,
    "bar_end": 0.012,
}
"""How far from level both sides of a standing lifter are [teaching-value]."""

MIDDLE_SD_M = {"hip": 0.010, "knee": 0.012, "heel": 0.006, "toe": 0.010}
"""How far from over the ankles' middle other middles are [teaching-value]."""

MOMENT_S = 0.3
"""The bottom is so long, around the lowest frame [teaching-value]."""

HALFWAY_SHARE = 0.12
"""Halfway is within this share of the hips' way from its middle
[teaching-value]."""


class Law(NamedTuple):
    """Hold what must hold in one view: value (row,), its target, its SD, m."""

    value: NDArray[np.float64]
    expected: float
    sd: float


class Moments(NamedTuple):
    """Hold a mean place (row, 3) or length (row,), m, at three moments."""

    standing: Any
    halfway: Any
    bottom: Any


def laws_of(view: View) -> list[Law]:
    """Return what must hold in one view by itself."""
    if view.kind == "side":
        return _laws_of_leg(view, view.near) + _laws_of_trunk(view)
    if view.kind == "front":
        return _laws_across(view)
    if view.kind == "3d":
        legs = _laws_of_leg(view, "r") + _laws_of_leg(view, "l")
        return legs + _laws_of_trunk(view) + _laws_across(view)
    return []


def heights_of(view: View) -> dict[str, NDArray[np.float64]]:
    """Return those of `HEIGHTS` that a view shows, (row,) m."""
    heights: dict[str, NDArray[np.float64]] = {}
    ankle = places_of(view, f"ankle_{view.near}")
    if ankle is None:
        return heights
    base = ankle.standing[..., 1]
    for joint in ("hip", "knee"):
        places = places_of(view, f"{joint}_{view.near}")
        if places is not None:
            heights[f"{joint} standing"] = places.standing[..., 1] - base
            heights[f"{joint} bottom"] = places.bottom[..., 1] - base
    return heights


def places_of(view: View, name: str) -> Moments | None:
    """Return where a point is in the first repetition, (row, 3) m, None without it."""
    if name not in view.placed.points:
        return None
    point, repetition, standing = view.placed.points[name], view.repetitions[0], view.stands[0]
    half = max(1, int(0.5 * MOMENT_S * view.rate))
    bottom = slice(max(0, repetition.bottom - half), repetition.bottom + half + 1)
    high, low = mean(view.hips[standing]), view.hips[repetition.bottom]
    frames = np.arange(repetition.start, repetition.end + 1)
    from_middle = np.abs(view.hips[frames] - 0.5 * (high + low))
    halfway = frames[from_middle < HALFWAY_SHARE * (high - low)]
    if not halfway.size:
        halfway = np.array([repetition.bottom])
    return Moments(*(mean(point[..., span, :], -2) for span in (standing, halfway, bottom)))


def lengths_between(view: View, first: str, second: str) -> Moments | None:
    """Return how far two points are apart, (row,) m, None without both.

    A side view does not see how far a knee is out beside the hip; where
    it usually is counts. To a point of the trunk lengths are measured in
    the lifter's middle plane.
    """
    one, other = places_of(view, first), places_of(view, second)
    if one is None or other is None:
        return None
    is_within_leg = _has_side(first) and _has_side(second)
    lengths = []
    for lowered, begin, end in zip((0.0, 0.5, 1.0), one, other, strict=True):
        line, aside = begin - end, 0.0
        if not is_within_leg:
            line = line[..., :2]
        elif view.kind == "side":
            aside = _aside(view, first, lowered) - _aside(view, second, lowered)
        lengths.append(np.sqrt((line**2).sum(axis=-1) + aside**2))
    return Moments(*lengths)


def _has_side(name: str) -> bool:
    return name[-2:] in ("_r", "_l")


def _aside(view: View, name: str, lowered: float) -> ArrayLike:
    """Return how far out a point of a side view is, m, a number or (row,)."""
    depths = DEPTH_M | dict(view.depths)
    if not _has_side(name):
        return 0.0
    if name[:-2] == "knee":
        # A bent knee is further out than a straight one.
        return depths[STRAIGHT] + lowered * (depths["knee"] - depths[STRAIGHT])
    return depths.get(name[:-2], 0.0)


def _kept(view: View, side: str, length: KeptLength) -> list[Law]:
    """Return that a length stays what it is standing, and is what was declared."""
    names = (f"{n}_{side}" if n in LEG else n for n in (length.first, length.second))
    lengths = lengths_between(view, *names)
    if lengths is None:
        return []
    standing, halfway, bottom = lengths
    laws = [
        Law(halfway - standing, 0.0, length.halfway_sd_m),
        Law(bottom - standing, 0.0, length.bottom_sd_m),
    ]
    if length.declared and view.lifter is not None and view.scale.known:
        declared_m = float(getattr(view.lifter, length.declared))
        laws.append(Law(standing, declared_m, length.declared_sd_m))
    return laws


def _laws_of_leg(view: View, side: str) -> list[Law]:
    """Return what must hold of one leg and its foot."""
    laws = [law for length in LENGTHS_OF_LEG for law in _kept(view, side, length)]
    heel, toe, ankle = (places_of(view, f"{joint}_{side}") for joint in ("heel", "toe", "ankle"))
    if heel is not None and toe is not None:
        rise = (toe.standing - heel.standing)[..., 1]
        laws.append(Law(rise, 0.0, FLAT_FOOT_SD_M))
        if ankle is not None and view.lifter is not None and view.scale.known:
            height = (ankle.standing - heel.standing)[..., 1]
            laws.append(Law(height, float(view.lifter.ankle_height_m), ANKLE_HEIGHT_SD_M))
    return laws


def _laws_of_trunk(view: View) -> list[Law]:
    """Return what must hold of pelvis, trunk and bar, and of balance."""
    laws = [law for length in LENGTHS_OF_TRUNK for law in _kept(view, view.near, length)]
    if view.lifter is not None and view.body_kg is not None and view.bar_kg is not None:
        body_kg, bar_kg = (np.asarray(kg)[..., np.newaxis] for kg in (view.body_kg, view.bar_kg))
        try:
            ahead = Quantities(view).centre_ahead(body_kg, bar_kg)
        except CannotTell:
            return laws
        laws.append(Law(mean(ahead[..., view.stands[0]]), 0.0, BALANCE_SD_M))
    return laws


def _laws_across(view: View) -> list[Law]:
    """Return what must hold between right and left of a standing lifter."""
    laws, middles = [], {}
    for joint, sd in LEVEL_SD_M.items():
        right, left = places_of(view, f"{joint}_r"), places_of(view, f"{joint}_l")
        if right is None or left is None:
            continue
        laws.append(Law((right.standing - left.standing)[..., 1], 0.0, sd))
        middles[joint] = 0.5 * (right.standing + left.standing)[..., 2]
        if joint == "hip":
            width = (right.standing - left.standing)[..., 2]
            low = (right.bottom - left.bottom)[..., 2]
            laws.append(Law(low - width, 0.0, KEPT_HIP_WIDTH_SD_M))
            if view.lifter is not None and view.scale.known:
                laws.append(Law(width, float(view.lifter.hip_width_m), HIP_WIDTH_SD_M))
    if "ankle" in middles:
        laws += [
            Law(middles[joint] - middles["ankle"], 0.0, sd)
            for joint, sd in MIDDLE_SD_M.items()
            if joint in middles
        ]
    return laws
