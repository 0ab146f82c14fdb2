"""What starts first and how long it takes: faults of sequence and of tempo."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from squatlab import faults
from squatlab.review.reading import CannotTell, Reading
from squatlab.review.views import LEG, View
from squatlab.signals import Repetition, onset

FIRST_QUARTER = 0.25
"""Up and down are compared at this part of the hips' rise."""

DOWN = 0.95
"""The way down counts as done here. The lowest frame is no measure of when
one arrives: in a pause of 0.2 s noise puts it anywhere, and the time is
wrong by 0.14 ± 0.15 s at 60 frames per second."""

BEGUN_TO_DOWN = 0.618
"""From 5 to 95 % over this is, without a pause, the time from 5 % to the
lowest point over 0.81: 0.612 to 0.626 in 80 trials with drops of 0.7 to 1.1 s
[teaching-value]."""


def knees_first(view: View, rep: Repetition) -> Reading:
    """Measure how long before the hip the knee begins to bend, ms."""
    bending, names = view.bending, (view.top, *LEG[:3])
    rest = view.mean(bending, view.stand_before(rep), names, "while standing")
    hip, knee = _onsets(view, rep, bending, rest)
    if np.isnan(hip) or np.isnan(knee):
        raise CannotTell("when hips and knees begin to bend is not seen")
    early, late = np.searchsorted(view.times, sorted((hip, knee)))
    value = float(1000 * (hip - knee))
    words = f"knees {abs(value):.0f} ms {'before' if value > 0 else 'after'} the hips"
    return Reading(value, words, np.full(late - early + 1, value), int(early))


def hips_rise_first(view: View, rep: Repetition) -> Reading:
    """Measure how much more the trunk leans going up than going down, °.

    With the hips at the same height. Knees that go first upright the trunk
    on the way down, and then there is nothing clean to compare with.
    """
    fault = faults.fault("knees_first")
    try:
        first = float(fault.severity(knees_first(view, rep).value))
    except CannotTell:
        first = 0.0
    if first >= 2:
        raise CannotTell("the knees go first on the way down: no clean way to compare with")
    height, low = view.height, view.height[rep.bottom]
    level = low + FIRST_QUARTER * (view.standing_height(rep) - low)
    lean = np.degrees(view.lean)
    down, up = (
        _where_at(level, height[way], lean[way])
        for way in (slice(rep.bottom, max(rep.start - 1, 0), -1), rep.ascent)
    )
    if np.isnan(up - down):
        names = ", ".join((view.top, "hip"))
        raise CannotTell(f"{names}: not seen a quarter of the way up and down")
    rising = np.where(height[rep.ascent] > level, np.nan, lean[rep.ascent] - down)
    words = f"lean {up:.1f}° going up, {down:.1f}° going down"
    return Reading(up - down, words, rising, rep.bottom)


def fast_descent(view: View, rep: Repetition) -> Reading:
    """Measure the time of the descent, s, a pause at the bottom left out."""
    height, top, frames = view.height, view.standing_height(rep), slice(rep.start, rep.bottom + 1)
    begun = _onsets(view, rep, height, top)
    level = DOWN * height[rep.bottom] + (1 - DOWN) * top
    done = _where_at(-level, -height[frames], view.times[frames])
    if np.isnan(done - begun):
        raise CannotTell("when the hips begin to go down, or are down, is not seen")
    value = float(done - begun) / BEGUN_TO_DOWN
    series = np.full(rep.bottom - rep.start + 1, value)
    return Reading(value, "from standing to the bottom", series, rep.start)


def _onsets(
    view: View, rep: Repetition, values: NDArray[np.float64], rest: ArrayLike
) -> NDArray[np.float64]:
    """Return when values (time, …) leave rest for where they are at the bottom, s.

    nan where that is not seen.
    """
    frames = slice(max(0, rep.start - int(view.rate)), rep.bottom + 1)
    return onset(values[frames], view.times[frames], rest=rest, end=values[rep.bottom])


def _where_at(level: float, height: NDArray[np.float64], values: NDArray[np.float64]) -> float:
    """Return values where a height first rises past a level, nan if it does not."""
    above = height > level
    after = int(np.argmax(above))
    if not after:
        return np.nan
    share = (level - height[after - 1]) / (height[after] - height[after - 1])
    return float(values[after - 1] + share * (values[after] - values[after - 1]))
