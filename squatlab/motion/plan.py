"""What decides a set of repetitions before anything moves."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from squatlab.ranges import number_within, whole_within


class Variation(NamedTuple):
    """Hold two SDs: between lifters, and from one repetition to the next."""

    between: float
    from_one_to_next: float

    def draw(self, repetitions: int, rng: np.random.Generator) -> NDArray[np.float64]:
        """Return how far each repetition is from the plan, (repetitions,)."""
        of_this_lifter = self.between * rng.standard_normal()
        deviation = of_this_lifter + self.from_one_to_next * rng.standard_normal(repetitions)
        # Cut off, or a clean lifter would now and then have a fault.
        largest = 3 * max(self)
        return np.clip(deviation, -largest, largest)


VARIATION = {
    "thigh_deg": Variation(1.2, 0.8),
    "shank_deg": Variation(1.0, 0.6),
    "lumbar_deg": Variation(2.0, 1.0),
    "valgus_deg": Variation(0.8, 0.5),
    "shift_m": Variation(0.003, 0.002),
    "tilt_deg": Variation(0.3, 0.2),
    "hip_lead_s": Variation(0.02, 0.015),
    "ascent_lead_s": Variation(0.02, 0.01),
    "onset_s": Variation(0.0, 0.015),
    "rise_deg": Variation(0.0, 0.8),
    "descent_s": Variation(0.08, 0.05),
    "ascent_s": Variation(0.08, 0.05),
    "ascent_m_s": Variation(0.02, 0.01),
}
"""How lifters of one plan differ, in the plan's units [teaching-value]. What
people differ in more than this, `draw_person` draws."""

ASYMMETRY_SD_DEG = 1.5
"""How far one foot is turned out more than the other [teaching-value]."""

SHOULDERS_LEAD_S = 0.04
"""How long the hips come forward, which lifts the shoulders, before the
knees stretch on the way up [teaching-value]."""

LONGEST_LEAD = 0.4
"""Hips and knees may set out at most this share of a descent or ascent before
each other [teaching-value]."""

BRAKING = 0.35
"""How far the descent is brought forward, so that it is fastest early and
then brakes [teaching-value]: the middle of filmed descents is fastest at .37
to .45 of their time, that of a smoothest movement at half of it."""

SLOWEST_ABOVE_LEVEL_DEG = 35.0
"""Elevation of the thigh where a heavy ascent is slowed most, °. The speed that
it would have without is still rising there, so that the bar is slowest a few
degrees lower, at the measured 32.5 [hales2009]."""

SLOWS_FROM = 0.8
"""The share of the best load from which the ascent has a sticking region
[teaching-value]: rarely reported below near-maximal loads, and at six
repetitions to failure in 10 of 15 lifters [vandentillaar2014]."""


@dataclass(frozen=True)
class Tempo:
    """Say how long each part takes, in s, and how often it is done.

    ``ascent_s`` left out is as long as the load makes it: ``intent`` 1
    comes up as fast as the load allows, 0 no faster than the best load.
    ``standing_s`` is the time stood still before, between and after
    ``repetitions``; ``hip_lead_s`` how long before the knees the hips set
    out, negative for after. ``braking`` 0 makes the descent the mirror of
    a light ascent, more makes it fastest earlier. Raises ValueError
    outside the ranges.
    """

    descent_s: float = 1.8
    pause_s: float = 0.2
    ascent_s: float | None = None
    repetitions: int = 1
    standing_s: float = 0.8
    hip_lead_s: float = 0.10
    intent: float = 0.25
    braking: float = BRAKING

    def __post_init__(self) -> None:
        ranges = (
            ("descent_s", 0.4, 6.0, "s from the first bend to the bottom"),
            ("pause_s", 0.0, 5.0, "s at the bottom"),
            ("ascent_s", 0.4, 8.0, "s from the bottom to standing"),
            ("standing_s", 0.3, 10.0, "s of standing still, enough to see how the lifter stands"),
            ("hip_lead_s", -0.5, 0.5, "s by which the hips set out before the knees"),
            ("intent", 0.0, 1.0, "(1 is as fast as the load allows)"),
            ("braking", 0.0, 0.8, "(0 is the mirror of a light ascent)"),
        )
        for name, low, high, unit in ranges:
            if name == "ascent_s" and self.ascent_s is None:
                continue
            number = number_within(name, getattr(self, name), low, high, unit)
            object.__setattr__(self, name, number)
        count = whole_within("repetitions", self.repetitions, 1, 50, "repetitions")
        object.__setattr__(self, "repetitions", count)
        if abs(self.hip_lead_s) > LONGEST_LEAD * self.descent_s:
            raise ValueError(
                f"hip_lead_s is {self.hip_lead_s:g} in a descent of {self.descent_s:g} s; it must "
                f"be at most {LONGEST_LEAD:g} of the descent, so that both joints can still "
                "reach the bottom"
            )


USUAL = Tempo()
"""The tempo when none is given [teaching-value]."""


@dataclass(frozen=True, eq=False)
class Plan:
    """Hold what decides the motion: numbers, or one per repetition (repetitions,).

    Angles in degrees, lengths in m, times in s, at the bottom or where
    they are largest. ``head_up_deg``, ``knee_ahead_m``, ``onset_s``,
    ``rise_deg``, ``drop_s`` and ``ascent_m_s`` say what should be measured
    in the end, nan for no wish; neck, shank, leads, descent and ascent
    are found from them. ``load`` is the share of the best load, the ascent
    slows from ``slows_from`` on, with the thigh ``slowest_deg`` above
    level. ``straightness`` is how far the lifter keeps the bar over
    mid-foot, 1, rather than bar and body together, 0.
    """

    turnout_deg: float
    asymmetry_deg: float
    standing_lean_deg: float
    descent_s: ArrayLike
    pause_s: ArrayLike
    ascent_s: ArrayLike
    hip_lead_s: ArrayLike
    thigh_deg: ArrayLike
    shank_deg: ArrayLike
    lumbar_deg: ArrayLike
    valgus_deg: ArrayLike
    heel_rise_deg: ArrayLike
    braking: ArrayLike
    straightness: ArrayLike
    load: float
    slows_from: float
    slowest_deg: float
    ascent_m_s: ArrayLike
    onset_s: ArrayLike
    rise_deg: ArrayLike
    shift_m: ArrayLike = 0.0
    tilt_deg: ArrayLike = 0.0
    arch_deg: ArrayLike = 0.0
    drift_m: ArrayLike = 0.0
    ascent_lead_s: ArrayLike = SHOULDERS_LEAD_S
    head_up_deg: ArrayLike = np.nan
    knee_ahead_m: ArrayLike = np.nan
    drop_s: ArrayLike = np.nan

    def varied(self, repetitions: int, rng: np.random.Generator) -> Plan:
        """Return the plan with this person's own deviations, one a repetition."""
        drawn = {
            name: getattr(self, name) + variation.draw(repetitions, rng)
            for name, variation in VARIATION.items()
        }
        turned = self.asymmetry_deg + ASYMMETRY_SD_DEG * rng.standard_normal()
        return replace(self, asymmetry_deg=turned, **drawn)

    def at(self, which: NDArray[np.intp]) -> Plan:
        """Return the plan spread over frames; ``which`` numbers their repetition."""
        names = [field.name for field in fields(self)]
        return replace(self, **{name: spread(getattr(self, name), which) for name in names})


def spread(value: ArrayLike, which: NDArray[np.intp]) -> ArrayLike:
    """Return one value per frame from one per repetition.

    A single number, and values that are all equal, become one number:
    less to compute with.
    """
    values = np.ravel(value)
    # A single nan stands for no wish, and is equal to nothing.
    if values.size == 1 or (values == values[0]).all():
        return float(values[0])
    return values[which]
