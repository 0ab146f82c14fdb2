"""What the largest of several readings is too large by: chance helps one of them to be it.

It comes off where that makes values truer: of the worse knee, of knees ahead of the toes and
of the bar's tilt. The head's is found too badly from a dozen draws (values 6.4 instead of
5.9° off, 300 films), and turnout and a shift of the hips read no worse than their ± says.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from squatlab.review.perspective import mean

SHOWN_BY_MORE_JITTER = float(np.sqrt(2) - 1)
"""Jitter added to as much jitter makes √2 times as much: it shows this share
of what the first has made a largest value too large by."""


def excess_of_larger(readings: NDArray[np.float64], covariance: NDArray[np.float64]) -> float:
    """Return what the larger of two uncertain readings (2,) is too large by.

    On average, in their unit, if the truth is as they read.
    ``covariance`` (2, 2) is that of their errors, which are normal. Of two
    alike this finds 41 % of it (√2 − 1), as their gap is wide by chance
    too; taking off more would take what one knee alone does for chance.
    """
    # Var(x − y) = Var x + Var y − 2 Cov(x, y).
    gap_sd = np.sqrt(max(covariance[0, 0] + covariance[1, 1] - 2 * covariance[0, 1], 0.0))
    return expected_larger(*readings, gap_sd) - float(max(readings)) if gap_sd > 0 else 0.0


def expected_larger(first: float, second: float, gap_sd: float) -> float:
    """Return the mean of the larger of two normal numbers, from their means.

    ``gap_sd`` is the SD of their difference [clark1961].
    """
    gap = (first - second) / gap_sd
    density = np.exp(-0.5 * gap**2) / np.sqrt(2 * np.pi)
    return float(first * ndtr(gap) + second * ndtr(-gap) + gap_sd * density)


def excess_of_peak(series: NDArray[np.float64], jitters: NDArray[np.float64]) -> float:
    """Return what the largest of a series (frame,) is too large by, on average.

    ``jitters`` (draw, frame) are draws of the jitter that the series has.
    Each is added and taken off, so that what moves all frames alike cancels.
    """
    mirrored = series + np.concatenate([jitters, -jitters])
    peaks = np.fmax.reduce(mirrored, axis=-1)
    more = float(mean(peaks - np.fmax.reduce(series)))
    return max(more, 0.0) / SHOWN_BY_MORE_JITTER
