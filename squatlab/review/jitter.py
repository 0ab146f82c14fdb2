"""How points jitter: measured while the lifter stands still, and drawn again."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import scipy  # scipy.signal is loaded when it is first used: that takes a second
from numpy.typing import NDArray

from squatlab.review.perspective import mean
from squatlab.review.view import View
from squatlab.signals import CUTOFF_HZ, low_pass

USUAL_JITTER_M, USUAL_JITTER_S = 0.006, 0.1
"""Size and duration of the jitter where nobody stands still [teaching-value]."""

LAGS, STILL_FRAMES = 6, 12
"""The autocovariance is taken at so many lags (frames), in spans of standing
of at least so many frames."""

LOW, GROWTHS = 0.7, (0.5, 4.0)
"""Jitter at the bottom is that below this share of the way down; what it may
be against that of standing, at least and at most [teaching-value]."""

ROUNDS = 30
"""So many times what a mean hides is put back; it no longer changes then."""

SD_PER_MEDIAN = 1.48
"""SD of a normal distribution over the median of its absolute values."""


class Jitter(NamedTuple):
    """Hold how points wander while the lifter stands still: SD, m, and how long, s.

    ``growth`` says how many times as large it is at the bottom, where
    limbs and plates hide each other.
    """

    sd_m: float
    seconds: float
    growth: float = 1.0

    def decay(self, rate: float) -> float:
        """Return how like the jitter is from one frame to the next, 0 to 1."""
        return float(np.exp(-1.0 / (rate * self.seconds))) if self.seconds > 0 else 0.0


class _Wander(NamedTuple):
    """Hold the variance of a wander, m², and its autocorrelation from frame to frame."""

    variance: float
    decay: float


def jitter_of(view: View, grows: bool) -> Jitter:
    """Return how the points wander while the lifter stands still.

    From the autocovariance of the unfiltered points, pooled over points
    and spans of standing. With ``grows`` the bottom is looked at as well.
    """
    runs = _still(view)
    if not runs or view.is_trimmed or len(view.names) < 2:
        return Jitter(USUAL_JITTER_M, USUAL_JITTER_S)
    covariances = [_autocovariance(view.unfiltered[run[0] : run[-1] + 1]) for run in runs]
    # The lifter may fidget between repetitions: the span in the middle counts.
    middle = int(np.argsort([covariance[0] for covariance in covariances])[len(runs) // 2])
    if not covariances[middle][0] > 0:
        return Jitter(0.0, 0.0)
    wander = _wander(covariances[middle], frames=runs[middle].size)
    # a = exp(−1 / (rate · seconds)), the autocorrelation of what fades exponentially.
    seconds = -1.0 / (view.rate * np.log(wander.decay)) if wander.decay else 0.0
    sd_m = float(np.sqrt(wander.variance))
    growth = _growth(view, sd_m, wander.decay) if grows and view.repetitions else 1.0
    return Jitter(sd_m, float(seconds), growth)


def _still(view: View) -> list[NDArray[np.intp]]:
    """Return the frames of each span of standing that is long enough."""
    frames = np.unique(np.concatenate(view.stands)) if view.stands else np.zeros(0, int)
    runs = np.split(frames, np.flatnonzero(np.diff(frames) > 1) + 1)
    return [run for run in runs if run.size >= STILL_FRAMES]


def _autocovariance(part: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the autocovariance (lag,), m², of points (time, point, axis) about their means.

    What all points do together is the lifter's own sway or the camera's,
    and no jitter.
    """
    away = part - mean(part, 0)
    away = np.nan_to_num(away - mean(away, 1)[:, np.newaxis])
    # Jumps of a tracker are not wander: cut at four times the usual.
    most = 4 * SD_PER_MEDIAN * np.median(np.abs(away), axis=0)
    away = np.clip(away, -most, most)
    frames, points = away.shape[:2]
    products = [(away[lag:] * away[: frames - lag]).sum() / away.size for lag in range(LAGS)]
    # Taking off what n points do together takes off 1 / n of what each does.
    return np.array(products) * points / (points - 1)


def _wander(covariance: NDArray[np.float64], frames: int) -> _Wander:
    """Return the wander behind an autocovariance (lag,), m², that a short span shows.

    What is seen is about the mean of n frames, which takes its own
    variance from every lag. For an autocorrelation a^k at lag k that is
    variance / n · (1 + 2 Σ (1 − k / n) a^k), the sum from k = 1 to n − 1.
    Variance and a are only known once that is put back: by repeating.
    """
    lags, steps = np.arange(1, LAGS), np.arange(1, frames)
    hidden, decay = 0.0, 0.0
    for _ in range(ROUNDS):
        whole = covariance + hidden
        likeness = np.clip(whole[1:] / whole[0], 0.0, 0.999)
        # Each lag k gives a = likeness^(1 / k); likenesses of less than a tenth are chance.
        decays = np.where(likeness > 0.1, likeness ** (1.0 / lags), 0.0)
        decay = float(np.clip(decays.mean(), 0.0, 0.95)) if likeness[0] > 0.15 else 0.0
        of_mean = 1 + 2 * ((1 - steps / frames) * decay**steps).sum()
        hidden = min(whole[0] / frames * of_mean, 2.0 * covariance[0])
    return _Wander(covariance[0] + hidden, decay)


def _growth(view: View, sd_m: float, decay: float) -> float:
    """Return how many times as large jitter is at the bottom as standing.

    From third differences, from frame to frame, of which movement makes
    next to nothing. What they have more of at the bottom counts against
    what jitter of this size, that decays so from frame to frame, has.
    """
    differences = np.abs(np.diff(view.unfiltered, 3, axis=0))
    # A third difference is of four frames; it counts at its second.
    lowered = view.lowered[1:-2]
    is_low = lowered > LOW
    is_still = np.zeros(view.times.size, bool)
    is_still[np.concatenate(view.stands)] = True
    standing, bottom = differences[is_still[1:-2]], differences[is_low]
    is_seen = np.isfinite(standing).any(axis=0) & np.isfinite(bottom).any(axis=0)
    if is_low.sum() < STILL_FRAMES or not is_seen.any():
        return 1.0

    def variance(part: NDArray[np.float64]) -> float:
        return np.mean((SD_PER_MEDIAN * np.nanmedian(part[:, is_seen], axis=0)) ** 2)

    # The variance of x₃ − 3 x₂ + 3 x₁ − x₀ where neighbours correlate by a, a², a³: (1, −3, 3, −1)
    # times itself gives 20, −30, 12 and −2.
    expected = sd_m**2 * (20 - 30 * decay + 12 * decay**2 - 2 * decay**3)
    growth = np.sqrt(max(1.0 + (variance(bottom) - variance(standing)) / expected, 0.0))
    # Those frames are not quite at the bottom: from 1 standing it grows in proportion.
    return float(np.clip(1.0 + (growth - 1.0) / lowered[is_low].mean(), *GROWTHS))


def drawn_jitter(view: View, jitter: Jitter, draws: int) -> NDArray[np.float64]:
    """Return jitter like a view's own, filtered: (draw, time, point, axis) m."""
    rng = np.random.default_rng(20)  # the same for every recording: a review repeats itself
    decay = jitter.decay(view.rate)
    wander = rng.normal(0.0, jitter.sd_m, (view.times.size, draws, *view.seen.shape[1:]))
    if decay:
        # A first-order autoregression, x = a x before + √(1 − a²) white, keeps the SD of white
        # noise; the first frame has it from the start.
        fresh = np.sqrt(1 - decay**2)
        wander[0] /= fresh
        wander = scipy.signal.lfilter([fresh], [1.0, -decay], wander, axis=0)
    grown = 1.0 + (jitter.growth - 1.0) * view.lowered
    wander *= grown[:, np.newaxis, np.newaxis, np.newaxis]
    calm = low_pass(wander, view.rate, min(CUTOFF_HZ, 0.25 * view.rate))
    return np.moveaxis(calm, 0, 1)
