"""A lift in words and numbers over time, for anyone who cannot watch the clip."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from squatlab.questions.cases import Case
from squatlab.questions.question import Account
from squatlab.review.quantities import Quantities
from squatlab.review.view import view_of

MOMENTS = {
    "standing": 1.0,
    "¼ down": 0.75,
    "½ down": 0.5,
    "¾ down": 0.25,
    "lowest": 0.0,
    "¼ up": 0.25,
    "½ up": 0.5,
    "¾ up": 0.75,
    "up": 1.0,
}
"""What is told when, and how high the hips are then, as a share of their way."""

FROM_THE_SIDE = (
    "trunk_lean",
    "low_back",
    "thigh_level",
    "knee_flexion",
    "knee_ahead",
    "heel_height",
    "bar_ahead",
    "head_back",
)
FROM_THE_FRONT = (
    "foot_out_r",
    "knee_out_r",
    "foot_out_l",
    "knee_out_l",
    "hip_shift",
    "bar_tilt",
)
"""The quantities that each view tells."""


def account(case: Case) -> Account:
    """Return what a case's tracks show, as far as its views go."""
    lift = case.rep
    quantities = Quantities(view_of(lift.tracks(), lift.lifter, float(lift.bar.mass_kg)))
    frames, lasts = _frames(quantities), case.findings["fast_descent"].amount
    heading = f"{case.lifter} The way down lasts {lasts}."
    names: tuple[str, ...] = ()
    if case.cell.view != "front":
        begins = quantities.bend_onsets
        heading += (
            f" Seen from the side the hip has begun to bend at {begins.hip:.2f} s, the knee at "
            f"{begins.knee:.2f} s; {case.findings['bar_forward'].reason}."
        )
        names += FROM_THE_SIDE
    if case.cell.view != "side":
        names += FROM_THE_FRONT
    rows = [("time, s", _cells(quantities.view.times, frames, 2))]
    for name in names:
        quantity = getattr(quantities, name)
        rows.append((f"{quantity.label}, {quantity.unit}", _cells(quantity.series, frames)))
    return Account(heading, tuple(MOMENTS), tuple(rows))


def _frames(quantities: Quantities) -> list[float]:
    """Return when each moment is, in frames and parts of them."""
    view, repetition = quantities.view, quantities.repetition
    height, standing = quantities.hip_height.series, view.stand_before(repetition)
    low, high = height[repetition.bottom], height[standing].mean()
    frames = [float(standing[0])]
    for name, share in list(MOMENTS.items())[1:-1]:
        way = np.arange(repetition.bottom, repetition.end + 1)
        if name.endswith("down"):
            way = np.arange(repetition.bottom, repetition.start - 1, -1)
        rising = np.maximum.accumulate(height[way])
        frames.append(float(np.interp(low + share * (high - low), rising, way)))
    frames[4] = float(repetition.bottom)
    return [*frames, len(height) - 1.0]


def _cells(values: NDArray, frames: list[float], digits: int = 1) -> tuple[str, ...]:
    read = np.round(np.interp(frames, np.arange(len(values)), values), digits) + 0.0
    return tuple("–" if v != v else f"{v:.{digits}f}".replace("-", "−") for v in read)
