"""The charts of the notebooks: each a picture that also says its numbers."""

from __future__ import annotations

from collections.abc import Sequence

from squatlab.lifter import Lifter
from squatlab.mechanics.legs import Stance
from squatlab.mechanics.trunk import Bar
from squatlab.show.bar_charts import BarPath, ShiftByBar
from squatlab.show.chart import Chart
from squatlab.show.feasible_map import FeasibleMap
from squatlab.show.leg_charts import (
    LOAD_KG,
    lean_by_stance,
    moments_by_depth,
    moments_by_shank,
    someone,
)
from squatlab.show.marked_charts import COUNT, SEED, LeanByBuild, LeanByLoad, LeanByStature

__all__ = [
    "Chart",
    "bar_path",
    "com_shift_by_bar",
    "feasible_map",
    "lean_by_build",
    "lean_by_load",
    "lean_by_stance",
    "lean_by_stature",
    "moments_by_depth",
    "moments_by_shank",
]


def lean_by_build(
    lifter: Lifter | None = None, seed: int = SEED, count: int = COUNT
) -> LeanByBuild:
    """Plot lean against thigh-to-trunk length over a population [ansur2].

    ``lifter``, if given, is marked among ``count`` women and men drawn
    with ``seed``; ``.mark(lifter)`` moves the mark.
    """
    chart = LeanByBuild(seed=seed, count=count)
    return chart if lifter is None else chart.mark(lifter)


def lean_by_stature(
    lifter: Lifter | None = None, seed: int = SEED, count: int = COUNT
) -> LeanByStature:
    """Plot lean against stature over the same population [ansur2].

    As ``lean_by_build``, for comparison.
    """
    chart = LeanByStature(seed=seed, count=count)
    return chart if lifter is None else chart.mark(lifter)


def lean_by_load(
    lifter: Lifter | None = None,
    place: str = "high",
    thigh_deg: float = 0.0,
    load_kg: float = LOAD_KG,
    stance: Stance | None = None,
) -> LeanByLoad:
    """Plot the lean by both rules of balance against load.

    ``place`` is "high" or "low"; ``load_kg`` is marked, and
    ``.mark(load_kg)`` moves the mark. Raises ValueError for another place.
    """
    places = {"high": Bar.high, "low": Bar.low}
    if place not in places:
        raise ValueError(f'place is {place!r}; choose "high" or "low"')
    chart = LeanByLoad().show(
        someone(lifter), places[place](load_kg), stance or Stance(), thigh_deg, 30.0
    )
    return chart.mark(load_kg)


def feasible_map(
    lifter: Lifter | None = None,
    bar: Bar | None = None,
    stance: Stance | None = None,
    across: str = "shank",
    up: str = "depth",
) -> FeasibleMap:
    """Map what the lifter can hold, over two of four quantities.

    ``across`` and ``up`` are "shank", "depth", "width" or "turnout".
    """
    bar = Bar.high(LOAD_KG) if bar is None else bar
    return FeasibleMap(across, up).show(someone(lifter), bar, stance or Stance())


def bar_path(loads: Sequence[float] = (20, 60, 140), lifter: Lifter | None = None) -> BarPath:
    """Plot the way of the bar's centre down a squat, for several loads, kg.

    At every depth bar and lifter together are over mid-foot.
    """
    return BarPath(someone(lifter), loads)


def com_shift_by_bar(lifter: Lifter | None = None, load_kg: float = LOAD_KG) -> ShiftByBar:
    """Plot where the centre of mass goes when only the bar slides down.

    Legs and trunk are held as they balance the high bar;
    ``.mark(drop_cm)`` marks one place of the bar.
    """
    return ShiftByBar(someone(lifter), load_kg)
