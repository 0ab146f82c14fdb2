"""What decides a set of repetitions before anything moves."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from squatlab.ranges import number_within, whole_within

VARIATION = {
    "thigh_deg": (1.2, 0.8),
    "shank_deg": (1.0, 0.6),
    "lumbar_deg": (2.0, 1.0),
    "valgus_deg": (0.8, 0.5),
    "shift_m": (0.003, 0.002),
    "tilt_deg": (0.3, 0.2),
    "hip_lead_s": (0.012, 0.008),
    "ascent_lead_s": (0.012, 0.008),
    "descent_s": (0.08, 0.05),
    "ascent_s": (0.08, 0.05),
}
"""How lifters differ from each other, and one repetition from the next:
standard deviations in the plan's units [teaching-value]."""

ASYMMETRY_SD_DEG = 1.5
"""How far one foot is turned out more than the other [teaching-value]."""

SHOULDERS_LEAD_S = 0.04
"""How long the hips come forward, which lifts the shoulders, before the
knees stretch on the way up [teaching-value]."""

LONGEST_LEAD = 0.4
"""Hips or knees may go ahead of each other by this share of a descent or
ascent [teaching-value]."""


@dataclass(frozen=True)
class Tempo:
    """Say how long each part takes, in s, and how often it is done.

    ``standing_s`` is the time stood still before, between and after
    ``repetitions``; ``hip_lead_s`` how long before the knees the hips set
    out, negative for after. Raises ValueError outside the ranges.
    """

    descent_s: float = 1.8
    pause_s: float = 0.2
    ascent_s: float = 1.5
    repetitions: int = 1
    standing_s: float = 0.8
    hip_lead_s: float = 0.10

    def __post_init__(self) -> None:
        for name, low, high, unit in (
            ("descent_s", 0.4, 6.0, "s from the first bend to the bottom"),
            ("pause_s", 0.0, 5.0, "s at the bottom"),
            ("ascent_s", 0.4, 8.0, "s from the bottom to standing"),
            ("standing_s", 0.3, 10.0, "s of standing still, enough to see how the lifter stands"),
            ("hip_lead_s", -0.5, 0.5, "s by which the hips set out before the knees"),
        ):
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
    ``rise_deg`` and ``drop_s`` are wishes about the result, nan for none,
    from which neck, shank, leads and descent are found.
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
    valgus_deg: ArrayLike = 0.0
    shift_m: ArrayLike = 0.0
    tilt_deg: ArrayLike = 0.0
    arch_deg: ArrayLike = 0.0
    heel_rise_deg: ArrayLike = 0.0
    drift_m: ArrayLike = 0.0
    ascent_lead_s: ArrayLike = SHOULDERS_LEAD_S
    head_up_deg: ArrayLike = np.nan
    knee_ahead_m: ArrayLike = np.nan
    onset_s: ArrayLike = np.nan
    rise_deg: ArrayLike = np.nan
    drop_s: ArrayLike = np.nan

    def varied(self, repetitions: int, rng: np.random.Generator) -> Plan:
        """Return the plan of a person, who does nothing twice alike."""
        drawn = {}
        for name, (between, from_one_to_next) in VARIATION.items():
            off = between * rng.standard_normal()
            off = off + from_one_to_next * rng.standard_normal(repetitions)
            # No more, or a clean lifter would now and then have a fault.
            drawn[name] = getattr(self, name) + np.clip(off, -3 * between, 3 * between)
        turned = self.asymmetry_deg + ASYMMETRY_SD_DEG * rng.standard_normal()
        return replace(self, asymmetry_deg=turned, **drawn)

    def at(self, which: NDArray[np.intp]) -> Plan:
        """Return the plan spread over frames; ``which`` numbers their repetition."""
        names = [field.name for field in fields(self)]
        return replace(self, **{name: spread(getattr(self, name), which) for name in names})


def spread(value: ArrayLike, which: NDArray[np.intp]) -> ArrayLike:
    """Return one value per frame from one per repetition.

    A number stays one, and so do equal values: less to compute with.
    """
    values = np.ravel(value)
    alike = values.size == 1 or (values == values[0]).all()
    return float(values[0]) if alike else values[which]
