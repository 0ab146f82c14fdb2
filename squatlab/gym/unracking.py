"""What it takes to lift a bar out of the hooks: a dip, or tiptoe."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from squatlab import tables
from squatlab.lifter import Lifter
from squatlab.mechanics.balance import balance
from squatlab.mechanics.legs import Stance
from squatlab.mechanics.posture import Posture
from squatlab.mechanics.support import BALL, Support
from squatlab.mechanics.trunk import Bar
from squatlab.ranges import within
from squatlab.units import BODY_LENGTH, FLOOR_HEIGHT, READING


class LegAngles(NamedTuple):
    """Hold the thigh's elevation and the shank's lean, °."""

    thigh_deg: float
    shank_deg: float


STANDING, LEVEL = LegAngles(88.0, 2.0), LegAngles(0.0, 30.0)
"""Between which the lifter moves to get under the bar: knees bent 4°, and
level thighs [teaching-value]."""

MILLIMETRE = 0.001

STEPS, FINEST = 16, 1e-9
"""Parts of the way down looked at together, and how fine the last of them are."""


@dataclass(frozen=True, eq=False)
class Unracking:
    """Say what it takes to lift a bar out of hooks at a given height.

    ``standing_m`` is the height of the bar on this lifter's back when
    they stand, ``posture`` the one in which they get under the bar,
    ``lip_m`` how far it must rise to clear the hooks.
    """

    lifter: Lifter
    bar_height_m: ArrayLike
    standing_m: ArrayLike
    posture: Posture
    lip_m: float

    @property
    def dip_m(self) -> ArrayLike:
        """Return how far below its standing height the bar lies, m."""
        return _plain(np.maximum(self.standing_m - self.bar_height_m, 0.0))

    @property
    def knee_deg(self) -> ArrayLike:
        """Return how far the knees bend to get under the bar, °.

        nan where it lies too low to get under above level thighs.
        """
        bend = np.degrees(self.posture.right.knee_flexion())
        return _plain(np.where(self.reached, bend, np.nan))

    @property
    def reached(self) -> ArrayLike:
        """Return whether the lifter gets under the bar above level thighs."""
        under = np.abs(self.posture.bar_centre.y - self.bar_height_m) < MILLIMETRE
        return under | np.greater_equal(self.bar_height_m, self.standing_m)

    @property
    def tiptoe_m(self) -> ArrayLike:
        """Return how far the heels must come up to clear the hooks, m.

        Less than 1 mm is none.
        """
        needed = self.bar_height_m + self.lip_m - self.standing_m
        return _plain(np.where(np.greater(needed, MILLIMETRE), needed, 0.0))

    @property
    def heel_rise_deg(self) -> ArrayLike:
        """Return the turn of the foot about its ball that this takes, °.

        nan where the foot is too short for it.
        """
        # The ankle moves on a circle about the ball of the foot, `arm` behind it and `height`
        # above it when the foot is flat. It is radius · sin(rest + turn) above the floor,
        # which tiptoe makes higher by tiptoe_m.
        arm = (BALL - self.lifter.ankle_from_heel) * self.lifter.foot_m
        height = self.lifter.ankle_height_m
        radius, rest = np.hypot(arm, height), np.arctan2(height, arm)
        with np.errstate(invalid="ignore"):
            turn = np.arcsin((height + self.tiptoe_m) / radius) - rest
        return _plain(np.degrees(np.where(np.greater(self.tiptoe_m, 0), turn, 0.0)))

    @property
    def base_m(self) -> ArrayLike:
        """Return the length of foot that bears weight at the clearing, m.

        Heel to toe, or only ball to toe on tiptoe: that is why an
        unracking on tiptoe is unstable.
        """
        return _plain(Support(self.heel_rise_deg).base_length(self.lifter))

    def __str__(self) -> str:
        if np.ndim(self.tiptoe_m):
            on_tiptoe = np.count_nonzero(self.tiptoe_m)
            return f"{np.size(self.tiptoe_m)} unrackings, {on_tiptoe} on tiptoe"
        return self.words[0]

    @property
    def words(self) -> list[str]:
        """Return what each unracking takes, in words."""
        numbers = self.dip_m, self.knee_deg, self.tiptoe_m, self.heel_rise_deg, self.base_m
        columns = [column.ravel().tolist() for column in np.broadcast_arrays(*numbers)]
        return [_in_words(*row) for row in zip(*columns, strict=True)]


def unrack(
    lifter: Lifter, bar: Bar, bar_height_m: ArrayLike, lip_m: float | None = None
) -> Unracking:
    """Work out how a lifter gets a bar out of hooks at a height, m.

    Feet under the hips. ``lip_m`` defaults to 3 cm [teaching-value].
    Raises ValueError where one lifter would have to squat past level
    thighs; in batches the knees' bend is nan there.
    """
    lip = _lip(lip_m)
    height = within("bar_height_m", bar_height_m, 0.05, 2.5, "m")
    standing = _on_the_way(lifter, bar, 0.0).bar_centre.y
    # The part of the way down at which the bar lies at the hooks' height, found as with a ruler:
    # 15 marks are looked at together, and the space below the last one above the hooks is divided
    # again. This works because the bar only comes down on the way, until the trunk is nearly
    # level; nan (no balance) counts as too deep.
    part = np.zeros(np.broadcast_shapes(np.shape(height), np.shape(standing)))
    step = 1.0
    while step > FINEST:
        step /= STEPS
        marks = part + step * np.arange(1, STEPS).reshape(-1, *[1] * part.ndim)
        still_above = _on_the_way(lifter, bar, marks).bar_centre.y > height
        part = part + step * np.count_nonzero(still_above, axis=0)
    unracking = Unracking(lifter, height, standing, _on_the_way(lifter, bar, _plain(part)), lip)
    if np.ndim(unracking.reached) == 0 and not unracking.reached:
        low, usual = FLOOR_HEIGHT.words(height), FLOOR_HEIGHT.words(standing)
        raise ValueError(
            f"a bar at {low} lies too low for this lifter to get under it in balance above level "
            f"thighs (standing, it is at {usual}); move the hooks up"
        )
    return unracking


def highest_flat_m(lifter: Lifter, bar: Bar, lip_m: float | None = None) -> ArrayLike:
    """Return the height of the highest hooks cleared flat-footed, m.

    As in ``unrack``, where less than 1 mm on tiptoe is none.
    """
    return _on_the_way(lifter, bar, 0.0).bar_centre.y - _lip(lip_m) + MILLIMETRE


def _lip(lip_m: float | None) -> float:
    """Return how far the bar must rise to clear the hooks, m, the usual if not given."""
    lip = tables.value("racks", name="hooks", quantity="lip") if lip_m is None else lip_m
    return within("lip_m", lip, 0.0, 0.15, "m")


def _on_the_way(lifter: Lifter, bar: Bar, part: ArrayLike) -> Posture:
    """Return the balanced posture at a part (0 to 1) of the way to level thighs."""
    under_the_hips = Stance(heel_width_m=lifter.hip_width_m, turnout_deg=0.0)
    thigh_deg = STANDING.thigh_deg + (LEVEL.thigh_deg - STANDING.thigh_deg) * part
    shank_deg = STANDING.shank_deg + (LEVEL.shank_deg - STANDING.shank_deg) * part
    return balance(lifter, bar, under_the_hips, thigh_deg, shank_deg)


def _in_words(
    dip_m: float, knee_deg: float, tiptoe_m: float, rise_deg: float, base_m: float
) -> str:
    """Return what one unracking takes, in words."""
    if not tiptoe_m:
        return f"dip {BODY_LENGTH.words(dip_m)}, knees bent {knee_deg:.0f}°, feet flat"
    if np.isnan(rise_deg):
        return f"out of reach: {BODY_LENGTH.words(tiptoe_m)} too high even on tiptoe"
    return (
        f"on tiptoe: heels up {READING.words(tiptoe_m)} ({rise_deg:.0f}°), "
        f"standing on {BODY_LENGTH.words(base_m)} of foot"
    )


def _plain(value: ArrayLike) -> ArrayLike:
    """Return a single number as a float, arrays as they are."""
    return float(value) if np.ndim(value) == 0 else value
