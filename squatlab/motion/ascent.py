"""How fast the bar comes up, and where it nearly stops."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import scipy  # scipy.signal is loaded when it is first used: that takes a second
from numpy.typing import NDArray

from squatlab.motion.rep import Rep
from squatlab.signals import derivative

LEAST_DIP = 0.02
"""A loss of less than this between two peaks is no sticking region, m/s
[teaching-value]."""


class Ascent(NamedTuple):
    """Hold the way up of one repetition.

    ``speed`` (frame,) is the bar's over the whole set, m/s, up positive;
    ``mean`` that of the way up. The rest are frames: the fastest,
    ``first_peak`` and ``slowest`` where the sticking region begins and
    ends, and ``second_peak`` after it; these three are None if the bar
    never slows [vandentillaar2020].
    """

    speed: NDArray[np.float64]
    mean: float
    fastest: int
    first_peak: int | None = None
    slowest: int | None = None
    second_peak: int | None = None

    @property
    def sticks(self) -> bool:
        """Return whether the bar slows between two peaks."""
        return self.slowest is not None


def ascent_of(rep: Rep, repetition: int = 1) -> Ascent:
    """Return how the bar goes up in one repetition of a set, from 1.

    Raises ValueError for a repetition that the set does not have.
    """
    if not 1 <= repetition <= len(rep.each):
        raise ValueError(
            f"repetition is {repetition}; this set has {len(rep.each)}, counted from 1"
        )
    when, time = rep.each[repetition - 1], rep.time
    height = rep.posture.bar_centre.y
    speed = derivative(height, 1.0 / (time[1] - time[0]))
    first, last = np.searchsorted(time, (when["ascent"], when["end"]))
    rise = np.interp([when["ascent"], when["end"]], time, height)
    mean = float(np.diff(rise)[0] / (when["end"] - when["ascent"]))
    peaks = first + scipy.signal.find_peaks(speed[first:last], prominence=LEAST_DIP)[0]
    fastest = int(first + np.argmax(speed[first:last]))
    if len(peaks) < 2:
        return Ascent(speed, mean, fastest)
    slowest = peaks[0] + np.argmin(speed[peaks[0] : peaks[-1]])
    second_peak = slowest + np.argmax(speed[slowest:last])
    return Ascent(speed, mean, fastest, int(peaks[0]), int(slowest), int(second_peak))
