"""Whether a recording's frame rate can be right: how long a squat takes, how hard it turns.

Slow motion that is played at 30 frames per second is taken for a slow squat, frames that
were left out for a fast one. People squat at very different speeds, so only what hardly
anybody does is suspected, and it is said, not corrected.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from squatlab import tables
from squatlab.review.view import View
from squatlab.signals import Repetition

FACTORS = (2, 4, 8)
"""Cameras for slow motion take so many times as many frames as are played."""


class Pace(NamedTuple):
    """Hold how fast repetitions are; each the middle one of all, nan where not seen.

    ``quick_s`` is the time for the middle half of the hips' way, down or
    up, whichever is quicker; ``low_s`` how long the hips are lower than a
    tenth of their way; ``turn`` m/s² how hard they are turned round: from
    half way down to half way up they move as a ball thrown upside down,
    h = a t²/8.
    """

    quick_s: float
    low_s: float
    turn: float


def pace_of(view: View) -> Pace:
    """Return how fast the repetitions of a view are."""
    seen = np.isfinite(view.hips)
    if not view.repetitions or not seen.any():
        return Pace(np.nan, np.nan, np.nan)
    height = np.interp(view.times, view.times[seen], view.hips[seen])
    each = np.array([_pace(height, one, view.rate) for one in view.repetitions])
    known = [column[np.isfinite(column)] for column in each.T]
    return Pace(*(float(np.median(column)) if column.size else np.nan for column in known))


def suspicion(view: View) -> str:
    """Return in words why a view's frame rate is doubted and what to declare, or ''."""
    pace = pace_of(view)
    if pace.quick_s > _limit("middle_half_most") and pace.low_s > _limit("low_most"):
        factor = _nearest(pace.low_s / _limit("low_usual"))
        why = (
            f"the hips are low for {pace.low_s:.1f} s and take {pace.quick_s:.1f} s for half of "
            "their way even where they are quickest"
        )
        rate, what = view.rate * factor, "slow motion"
    elif pace.turn > _limit("turn_most"):
        factor = _nearest(np.sqrt(pace.turn / _limit("turn_usual")))
        why = f"the hips are turned round at the bottom with {pace.turn:.1f} m/s²"
        rate, what = view.rate / factor, "too fast"
    else:
        return ""
    return (
        f"The {view.kind} view may be {what}, so that no time is right: {why}, as hardly anybody "
        f"does. If the camera took {rate:.4g} pictures per second, not {view.rate:.4g}, declare it "
        f"(--fps {rate:.4g})."
    )


def _pace(height: NDArray[np.float64], repetition: Repetition, rate: float) -> Pace:
    """Return how fast one repetition is."""
    down = height[repetition.start : repetition.bottom + 1][::-1]
    up = height[repetition.bottom : repetition.end + 1]
    low = float(height[repetition.bottom])
    way = min(float(down.max()), float(up.max())) - low
    # From the bottom back in time to the descent, and on to the ascent, s.
    before, after = (
        [_first_above(part, low + share * way) / rate for share in (0.25, 0.5, 0.75, 0.9)]
        for part in (down, up)
    )
    quick_s = float(np.fmin(before[2] - before[0], after[2] - after[0]))
    turn_s = before[1] + after[1]
    turn = 8 * 0.5 * way / turn_s**2 if turn_s > 0 else np.nan
    return Pace(quick_s, before[3] + after[3], turn)


def _first_above(height: NDArray[np.float64], level: float) -> float:
    """Return at which frame, between frames, a height first is above a level, or nan."""
    above = np.flatnonzero(height >= level)
    if not above.size or above[0] == 0:
        return np.nan
    after = above[0]
    step = height[after] - height[after - 1]
    return float(after - 1 + (level - height[after - 1]) / step)


def _nearest(ratio: float) -> int:
    """Return which of the factors is nearest, as ratios go."""
    return min(FACTORS, key=lambda factor: abs(np.log(ratio / factor)))


def _limit(quantity: str) -> float:
    """Return a bound of how people squat, in the unit of its row."""
    return tables.value("limits", name="pace", quantity=quantity)
