"""Faults as changes of a plan: the lifter moves differently and stays balanced."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from numbers import Real
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from squatlab import faults
from squatlab.lifter import Lifter
from squatlab.mechanics.legs import Stance
from squatlab.mechanics.support import BALL, turn_that_lifts
from squatlab.mechanics.trunk import Bar
from squatlab.motion.plan import Plan
from squatlab.ranges import number_within
from squatlab.units import READING

TURNED_OUT_DEG = 20.0
"""The most turnout that is no fault, ° [common-practice]."""

HEEL_TO_SHANK = 0.5
"""Shanks lean further by this much of what the feet tip [teaching-value]: a
rigid ankle would take them along, a loose one not at all."""


class PlannedLift(NamedTuple):
    """Hold what a fault's changes depend on: the plan so far, lifter, bar."""

    plan: Plan
    lifter: Lifter
    bar: Bar


class Injector(NamedTuple):
    """Say which sizes are sensible and what a size changes in the plan."""

    least: float
    most: float
    changes: Callable[[PlannedLift, float], dict[str, ArrayLike]]


def _set(name: str, factor: float = 1.0) -> Callable[[PlannedLift, float], dict[str, ArrayLike]]:
    """Return the change that puts the size, times a factor, in one field."""
    return lambda lift, size: {name: size * factor}


def _heel_lift(lift: PlannedLift, size: float) -> dict[str, ArrayLike]:
    """Turn the feet until the heels are ``size`` cm up; the shanks follow."""
    rise = float(np.degrees(turn_that_lifts(lift.lifter, size / 100)))
    return {"heel_rise_deg": rise, "shank_deg": lift.plan.shank_deg + HEEL_TO_SHANK * rise}


def _bar_forward(lift: PlannedLift, size: float) -> dict[str, ArrayLike]:
    bar, body = lift.bar.mass_kg, lift.lifter.mass_kg
    if not bar:
        raise ValueError(
            "bar_forward turns the shift of the whole into a way of the bar, and the bar has no "
            "mass; give it some, 20 kg for an empty one"
        )
    # Moved by the size alone, the bar would take the common centre of mass along by its
    # share of the mass: so far the whole goes forward here.
    return {"drift_m": size / 100 * bar / (bar + body), "straightness": 0.0}


def _knee_valgus(lift: PlannedLift, size: float) -> dict[str, ArrayLike]:
    """Turn the knees in until they are ``size`` ° off the foot's plane."""
    # The shank leans by shank_deg toward where the knee points. Turned by v from the foot's
    # line, its knee is L sin(shank) sin(v) off the foot's plane, an angle of asin(that / L).
    sine = np.sin(np.radians(size)) / np.sin(np.radians(lift.plan.shank_deg))
    if np.any(np.abs(sine) > np.sin(np.radians(45.0))):
        raise ValueError(
            f"knee_valgus of {size:g}° needs shins that lean further than "
            f"{np.max(lift.plan.shank_deg):.0f}°; give a smaller size or more shank_deg"
        )
    return {"valgus_deg": np.degrees(np.arcsin(sine))}


def _turnout(lift: PlannedLift, size: float) -> dict[str, ArrayLike]:
    """Turn the feet out; the one turned out further is ``size`` ° too far."""
    return {"turnout_deg": TURNED_OUT_DEG + size - 0.5 * abs(lift.plan.asymmetry_deg)}


def _fast_descent(lift: PlannedLift, size: float) -> dict[str, ArrayLike]:
    """Drop in ``size`` s: everything lets go at once, and bounces."""
    return {"drop_s": size, "pause_s": 0.0, "hip_lead_s": 0.0, "braking": 0.0}


INJECTORS = {
    "lumbar_rounding": Injector(0.0, 70.0, _set("lumbar_deg")),
    "knees_first": Injector(0.0, 400.0, _set("onset_s", 0.001)),
    "hips_rise_first": Injector(0.0, 20.0, _set("rise_deg")),
    "lumbar_overarching": Injector(0.0, 35.0, _set("arch_deg")),
    "knee_valgus": Injector(-8.0, 20.0, _knee_valgus),
    "knees_far_forward": Injector(-10.0, 20.0, _set("knee_ahead_m", 0.01)),
    "short_depth": Injector(-25.0, 45.0, _set("thigh_deg")),
    "turnout_out_of_range": Injector(0.0, 30.0, _turnout),
    "heel_lift": Injector(0.0, 7.0, _heel_lift),
    "bar_forward": Injector(0.0, 15.0, _bar_forward),
    "lateral_shift": Injector(-12.0, 12.0, _set("shift_m", 0.01)),
    "uneven_bar": Injector(-15.0, 15.0, _set("tilt_deg")),
    "head_up": Injector(0.0, 60.0, _set("head_up_deg")),
    "fast_descent": Injector(0.5, 3.0, _fast_descent),
}
"""For each fault of the catalogue the sizes it takes, in the fault's unit,
and the plan it makes. ``lateral_shift`` is to the right, ``uneven_bar``
has the right end lower, ``turnout_out_of_range`` splays the feet (feet
straight ahead are a stance). Negative sizes go the other way."""


@dataclass(frozen=True)
class Injection:
    """Put a fault of a given size into a set.

    ``size`` is what a noise-free measurement of the set would read, in the
    fault's unit. ``onset`` is the repetition, counted from 1, from which
    on it is there; left out, from the first. Raises ValueError for an
    unknown fault and a size or onset out of range.
    """

    fault: str
    size: float
    onset: int | None = None

    def __post_init__(self) -> None:
        entry = faults.fault(self.fault)
        injector = INJECTORS[entry.id]
        size = number_within(
            f"the size of {entry.id}", self.size, injector.least, injector.most, entry.unit
        )
        object.__setattr__(self, "size", size)
        if self.onset is None:
            return
        if not isinstance(self.onset, Real) or self.onset < 1 or self.onset % 1:
            raise ValueError(
                f"onset is {self.onset}; give the repetition from which on the fault is there, "
                "counted from 1, or leave it out"
            )
        if self.fault == "turnout_out_of_range" and self.onset > 1:
            raise ValueError(
                f"the feet are set before the first repetition; turnout_out_of_range with onset "
                f"{self.onset} would turn them under load. Leave onset out"
            )

    def into(self, plan: Plan, repetitions: int, lifter: Lifter, bar: Bar) -> Plan:
        """Return the plan with this fault in it.

        Raises ValueError if the set is over before its onset.
        """
        first = int(self.onset or 1)
        if first > repetitions:
            raise ValueError(
                f"{self.fault} begins with repetition {first} of a set of {repetitions}; "
                f"give onset 1 to {repetitions} or a tempo with more repetitions"
            )
        changes = INJECTORS[self.fault].changes(PlannedLift(plan, lifter, bar), self.size)
        if first > 1:
            there = np.arange(1, repetitions + 1) >= first
            changes = {n: np.where(there, v, getattr(plan, n)) for n, v in changes.items()}
        return replace(plan, **changes)


MARGIN_DEG = 1.5
"""The ankles stay this far within their limit when the heels rise to keep
them there, ° [teaching-value]: one side may need a little more."""


def knees_ahead(lifter: Lifter, stance: Stance, plan: Plan) -> tuple[Plan, tuple[str, ...]]:
    """Return the plan that takes the knees as far ahead of the toes as wished.

    By leaning the shanks, and where the ankles bend no further by
    raising the heels, which takes the ankles forward and up; a note says
    so. Closed form, for all repetitions at once.
    """
    if np.all(np.isnan(plan.knee_ahead_m)):
        return plan, ()
    out, wished = np.radians(plan.turnout_deg), ~np.isnan(plan.knee_ahead_m)
    along = lifter.shank_m * np.cos(out - np.radians(plan.valgus_deg))
    behind = (BALL - lifter.ankle_from_heel) * lifter.foot_m * np.cos(out)
    height = lifter.ankle_height_m * np.cos(out)
    ahead = (1 - BALL) * lifter.foot_m * np.cos(out) + np.nan_to_num(plan.knee_ahead_m)
    # Ahead of the ball: along sin(shank) + height sin(pitch) − behind cos(pitch) = ahead, where
    # the foot is pitched by wedge and rise; the shank leans by the pitch and what the ankles bend.
    wedge = turn_that_lifts(lifter, stance.wedge_m)
    bends = np.radians(lifter.dorsiflexion_deg - MARGIN_DEG)
    up, level = along * np.cos(bends) + height, along * np.sin(bends) - behind
    with np.errstate(invalid="ignore"):
        needed = np.arcsin(ahead / np.hypot(up, level)) - np.arctan2(level, up)
        rise = np.maximum(np.radians(plan.heel_rise_deg), needed - wedge)
        pitch = wedge + rise
        shank = np.arcsin((ahead - height * np.sin(pitch) + behind * np.cos(pitch)) / along)
    notes = ()
    if np.any(wished & (needed - wedge > np.radians(plan.heel_rise_deg))):
        lifted_m = BALL * lifter.foot_m * np.sin(np.nanmax(needed - wedge))
        notes = (
            f"knees_far_forward: the ankles bend no further than {lifter.dorsiflexion_deg:.0f}°, "
            f"so the heels rise by {READING.words(lifted_m)} and the weight goes onto the balls "
            "of the feet",
        )
    shank, rise = (
        np.where(wished, np.degrees(angle), otherwise)
        for angle, otherwise in ((shank, plan.shank_deg), (rise, plan.heel_rise_deg))
    )
    return replace(plan, shank_deg=shank, heel_rise_deg=rise), notes
