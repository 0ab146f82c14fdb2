"""Where the hooks and the safety bars go for one lifter, or for many."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from squatlab import tables
from squatlab.gym.rack import Rack, RackTooHighError, mid_sternum_m
from squatlab.gym.unracking import Unracking, highest_flat_m, unrack
from squatlab.lifter import Lifter
from squatlab.mechanics.balance import balance
from squatlab.mechanics.legs import Stance
from squatlab.mechanics.trunk import Bar
from squatlab.ranges import within
from squatlab.units import BODY_LENGTH, FLOOR_HEIGHT

START = 45.0
"""Thigh elevation, °, at which the search for the lowest bar starts: a
squat that cannot get even so low is no squat [teaching-value]."""


def lowest_bar_m(
    lifter: Lifter,
    bar: Bar,
    stance: Stance,
    thigh_deg: ArrayLike | None = None,
    shank_deg: ArrayLike = 30.0,
) -> ArrayLike:
    """Return the height of the bar at the bottom of this lifter's squat, m.

    Of every posture that can be held on the way down to ``thigh_deg``,
    −10° or a little below level thighs [teaching-value], with the shank
    at ``shank_deg`` or what the ankles allow. nan in batches where there
    is none; for one lifter ValueError with the reason.
    """
    if thigh_deg is None:
        thigh_deg = tables.value("racks", name="safety bars", quantity="thigh")
    start = np.maximum(thigh_deg, START)
    # The first axis is the way down, half a degree a step to the usual depth; the others are
    # lifters.
    part = np.linspace(0, 1, 111).reshape(-1, *(1,) * np.ndim(lifter.stature_m))
    shank = np.minimum(shank_deg, lifter.dorsiflexion_deg)
    descent = balance(lifter, bar, stance, start + (thigh_deg - start) * part, shank)
    height = np.where(descent.feasible, descent.bar_centre.y, np.inf).min(axis=0)
    if height.ndim:
        return np.where(np.isfinite(height), height, np.nan)
    if not descent.feasible.any():
        raise ValueError(f"this lifter cannot hold any such squat: {descent.reason[0]}")
    return float(height)


def safety_hole(
    rack: Rack, lowest_m: ArrayLike, margin_m: float | None = None
) -> int | NDArray[np.int64]:
    """Return the highest hole whose safety bars clear the lowest bar.

    ``lowest_m`` is from ``lowest_bar_m``; the gap is never less than
    ``margin_m``, 3 cm [teaching-value]. Raises RackTooHighError if the
    rack does not reach low enough.
    """
    least = tables.value("racks", name="safety bars", quantity="margin")
    margin = within("margin_m", least if margin_m is None else margin_m, 0.0, 0.30, "m")
    try:
        return rack.at_most(np.asarray(lowest_m) - margin - rack.safety_offset_m)
    except RackTooHighError as error:
        raise RackTooHighError(
            f"the safety bars cannot be set {BODY_LENGTH.words(margin)} below the lowest bar "
            f"({FLOOR_HEIGHT.words(np.min(lowest_m))}): {error}; use a rack that goes lower, or "
            "squat to a box that ends the descent higher, with a spotter at each end"
        ) from None


@dataclass(frozen=True, eq=False)
class SetUp:
    """Hold the holes for one lifter and one bar, and what they mean.

    ``hole`` is for the hooks, ``safety`` for the safety bars;
    ``lowest_m`` is the lowest height of the bar.
    """

    rack: Rack
    lifter: Lifter
    bar: Bar
    hole: int | NDArray[np.int64]
    safety: int | NDArray[np.int64]
    lowest_m: ArrayLike

    @cached_property
    def at(self) -> Unracking:
        """Return what it takes to unrack from the chosen hole."""
        return self._unrack(0)

    @cached_property
    def above(self) -> Unracking:
        """Return what it would take one hole higher."""
        return self._unrack(1)

    @cached_property
    def below(self) -> Unracking:
        """Return what it would take one hole lower."""
        return self._unrack(-1)

    def _unrack(self, step: int) -> Unracking:
        """Return what it takes from so many holes above the chosen one."""
        height = self.rack.height(self.hole) + step * self.rack.spacing_m
        return unrack(self.lifter, self.bar, height)

    @property
    def gap_m(self) -> ArrayLike:
        """Return how far below the lowest bar the safety bars are, m."""
        return self.lowest_m - self.rack.safety_height(self.safety)

    def __str__(self) -> str:
        if np.ndim(self.hole):
            return f"{np.size(self.hole)} set-ups"
        return self.words[0]

    @property
    def words(self) -> list[str]:
        """Return what each set-up means, in four lines."""
        numbers = (
            self.hole,
            self.rack.height(self.hole),
            self.safety,
            self.rack.safety_height(self.safety),
            self.gap_m,
        )
        columns = [np.ravel(column).tolist() for column in numbers]
        unrackings = self.at.words, self.above.words, self.below.words
        paragraphs = []
        for hole, hooks_m, safety, bars_m, gap_m, at, above, below in zip(
            *columns, *unrackings, strict=True
        ):
            paragraphs.append(
                f"Hooks in hole {hole} ({FLOOR_HEIGHT.words(hooks_m)}): {at}.\n"
                f"One hole higher: {above}.\nOne hole lower: {below}.\n"
                f"Safety bars in hole {safety} ({FLOOR_HEIGHT.words(bars_m)}), "
                f"{BODY_LENGTH.words(gap_m)} below the lowest bar."
            )
        return paragraphs


def set_up(
    rack: Rack,
    lifter: Lifter,
    bar: Bar,
    stance: Stance | None = None,
    mid_sternum: ArrayLike | None = None,
    thigh_deg: ArrayLike | None = None,
    shank_deg: ArrayLike = 30.0,
) -> SetUp:
    """Choose the holes of hooks and safety bars for a lifter and a bar.

    Hooks go nearest to the middle of the breastbone [common-practice]
    (``mid_sternum`` measured, m, or estimated from stature), but never
    so high that clearing them takes tiptoe. Raises ValueError where the
    rack does not reach.
    """
    if mid_sternum is None:
        mid_sternum = mid_sternum_m(lifter.stature_m)
    wanted = within("mid_sternum", mid_sternum, 0.8, 1.9, "m to the middle of the breastbone")
    hole = np.minimum(rack.nearest(wanted), rack.at_most(highest_flat_m(lifter, bar)))
    hole = int(hole) if hole.ndim == 0 else hole
    lowest = lowest_bar_m(lifter, bar, stance or Stance(), thigh_deg, shank_deg)
    return SetUp(rack, lifter, bar, hole, safety_hole(rack, lowest), lowest)
