"""A lift in words over time, for anyone who cannot watch the clip.

No numbers: a program that reads them would have the answer. What is measured
is told as an observer would say it, in bands (data/seen_words.csv) that are
wider than a fault's sizes and have other edges.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from squatlab import tables
from squatlab.questions.cases import Case
from squatlab.questions.question import Account
from squatlab.review.quantities import Quantities
from squatlab.review.view import view_of

MOMENTS = {
    "standing": 1.0,
    "a quarter down": 0.75,
    "halfway down": 0.5,
    "three quarters down": 0.25,
    "lowest": 0.0,
    "a quarter up": 0.25,
    "halfway up": 0.5,
    "three quarters up": 0.75,
    "up": 1.0,
}
"""What is told when, and how high the hips are then, as a share of their way."""

FROM_THE_SIDE = (
    "trunk_lean",
    "low_back",
    "thigh_level",
    "knee_ahead",
    "heel_height",
    "weight_ahead",
    "head_back",
)
FROM_THE_FRONT = (
    "foot_out_r",
    "knee_in_r",
    "foot_out_l",
    "knee_in_l",
    "hip_shift",
    "bar_tilt",
)
"""The quantities that each view tells."""


CANNOT_TELL = "–"


class Band(NamedTuple):
    """Hold what is said of a part of the body below a value."""

    part: str
    below: float
    words: str


def bands(quantity: str) -> tuple[Band, ...]:
    """Return the bands of a quantity, from the lowest up; the last has no end."""
    return tuple(
        Band(row["part"], float(row["below"] or "inf"), row["words"])
        for row in tables.read("seen_words")
        if row["quantity"] == quantity
    )


def in_words(quantity: str, value: float) -> str:
    """Return what an observer would say of a value, `CANNOT_TELL` of nan."""
    if math.isnan(value):
        return CANNOT_TELL
    return next(band.words for band in bands(quantity) if value < band.below)


def account(case: Case) -> Account:
    """Return what a case's tracks show, in words, as far as its views go."""
    lift = case.rep
    quantities = Quantities(view_of(lift.tracks(), lift.lifter, float(lift.bar.mass_kg)))
    frames = _frames(quantities)
    findings = case.findings
    sentences = [f"The way down {in_words('descent_s', findings['fast_descent'].value)}"]
    names: tuple[str, ...] = ()
    if case.cell.view != "front":
        sentences += [
            in_words("knee_lead_ms", findings["knees_first"].value),
            in_words("lean_up_deg", findings["hips_rise_first"].value),
        ]
        names += FROM_THE_SIDE
    if case.cell.view != "side":
        names += FROM_THE_FRONT
    rows = tuple(
        (bands(name)[0].part, _words(name, _series(quantities, name), frames)) for name in names
    )
    return Account("; ".join(sentences) + ".", tuple(MOMENTS), rows)


def _frames(quantities: Quantities) -> list[float]:
    """Return when each moment is, in frames and parts of them."""
    view, repetition = quantities.view, quantities.repetition
    height, standing = quantities.hip_height.series, view.stand_before(repetition)
    low, high = height[repetition.bottom], height[standing].mean()
    frames = [float(standing[0])]
    for name, share in list(MOMENTS.items())[1:-1]:
        frames_walked = np.arange(repetition.bottom, repetition.end + 1)
        if name.endswith("down"):
            frames_walked = np.arange(repetition.bottom, repetition.start - 1, -1)
        rising = np.maximum.accumulate(height[frames_walked])
        frames.append(float(np.interp(low + share * (high - low), rising, frames_walked)))
    frames[list(MOMENTS).index("lowest")] = float(repetition.bottom)
    return [*frames, len(height) - 1.0]


def _series(quantities: Quantities, name: str) -> NDArray[np.float64]:
    """Return a quantity (time,), nan for a knee over its foot while the shin is upright.

    Standing, feet wider than the hips lean a straight leg inward: nobody
    would call that a knee inside the foot.
    """
    series = getattr(quantities, name).series
    if not name.startswith("knee_in"):
        return series
    leans_to = getattr(quantities, name.replace("knee_in", "knee_out")).series
    return np.where(np.isnan(leans_to), np.nan, series)


def _words(quantity: str, series: NDArray[np.float64], frames: list[float]) -> tuple[str, ...]:
    """Return what is said of a series (time,) at each moment."""
    values = np.interp(frames, np.arange(len(series)), series)
    return tuple(in_words(quantity, float(value)) for value in values)
