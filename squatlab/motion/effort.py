"""How heavy a load is for a lifter, and how fast it comes up."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from squatlab import tables
from squatlab.lifter import Lifter
from squatlab.mechanics.trunk import Bar

BEST = 1.5
"""The best squat that is assumed of a lifter when none is declared, of body
mass [teaching-value]."""

HEAVIEST = 1.1
"""A load beyond the best by more than a tenth comes up no slower: nobody
would come up with it at all [teaching-value]."""


def load_share(lifter: Lifter, bar: Bar, best_kg: float | None = None) -> float:
    """Return the load as a share of the lifter's best, 1 being the best.

    ``best_kg`` is the most the lifter can squat once; left out, it is
    BEST × body mass.
    """
    best = BEST * lifter.mass_kg if best_kg is None else best_kg
    return float(min(bar.mass_kg / best, HEAVIEST))


def fastest_speed(share: ArrayLike) -> ArrayLike:
    """Return the mean speed of the bar's way up, m/s, tried as fast as can be.

    The published relation of load and speed in the full back squat, load
    in % of the best = a v² + b v + c [sanchezmedina2017], solved for v:
    0.32 m/s at the best load. A share of the best, any shape.
    """
    square, slope, constant = (
        tables.value("limits", name="load_by_speed", quantity=quantity)
        for quantity in ("square", "slope", "constant")
    )
    left = constant - 100.0 * np.asarray(share, dtype=float)
    # Of the two roots this one is slower the heavier the load.
    return ((-slope - np.sqrt(slope**2 - 4.0 * square * left)) / (2.0 * square))[()]


def mean_speed(share: ArrayLike, intent: ArrayLike) -> ArrayLike:
    """Return the mean speed of the bar's way up, m/s.

    ``intent`` 1 is as fast as the load allows, 0 as slow as the best load
    comes up; in training most people are nearer the latter, and under the
    best load everybody is as fast as can be.
    """
    slowest = fastest_speed(1.0)
    fastest = fastest_speed(share)
    return np.where(share < 1.0, slowest + intent * (fastest - slowest), fastest)[()]
