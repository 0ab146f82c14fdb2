"""Smooth, differentiate and divide a movement that was recorded frame by frame."""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

import numpy as np
import scipy  # scipy.signal is loaded when it is first used: that takes a second
from numpy.typing import ArrayLike, NDArray

from squatlab.ranges import within
from squatlab.tracks.frames import rate_of, runs

CUTOFF_HZ = 6.0
"""What is kept of a slow whole-body movement [winter2009]."""

TWO_PASSES = (np.sqrt(2) - 1) ** 0.25
"""0.8022: what a second pass does to the cut-off of order 2 [winter2009]."""

ONSET = 0.05
"""The share of a movement at which it has begun [teaching-value]."""

ONSET_FROM = 0.40
"""From this share of the movement its onset is searched backward
[teaching-value]: a twitch while still standing does not count."""

LEAST_TRAVEL_M = 0.15
"""Hips that go down less than this do not squat [teaching-value]."""


class MinimumJerk(NamedTuple):
    """Hold the smoothest movement from 0 to 1 in time 1, its speed and acceleration."""

    position: NDArray[np.float64]
    speed: NDArray[np.float64]
    acceleration: NDArray[np.float64]


class Residuals(NamedTuple):
    """Hold a residual analysis: the suggested cut-off in Hz, the residual
    (frequency, …) at each trial cut-off, and the noise, in units of values.
    """

    cutoff_hz: ArrayLike
    frequencies_hz: NDArray[np.float64]
    residuals: NDArray[np.float64]
    noise: ArrayLike


class LowPass(NamedTuple):
    """Hold one pass of the filter: its sections, and its state at rest."""

    sections: NDArray[np.float64]
    state_at_rest: NDArray[np.float64]


class Repetition(NamedTuple):
    """Hold the frames in which one repetition starts, is lowest and ends."""

    start: int
    bottom: int
    end: int

    @property
    def descent(self) -> slice:
        """Return the frames from the start to the bottom, both included."""
        return slice(self.start, self.bottom + 1)

    @property
    def ascent(self) -> slice:
        """Return the frames from the bottom to the end, both included."""
        return slice(self.bottom, self.end + 1)


def minimum_jerk(tau: ArrayLike) -> MinimumJerk:
    """Return position, speed and acceleration of a minimum-jerk movement.

    ``tau`` is time over duration; before 0 and after 1 all is at rest.
    For a distance A in a time D multiply by A, A/D and A/D²: the peaks
    are 1.875 and 5.7735 [flash1985].
    """
    given = np.asarray(tau, dtype=float)
    t = np.clip(given, 0.0, 1.0)
    moving = given == t
    return MinimumJerk(
        t**3 * (10 + t * (6 * t - 15)),
        30 * t**2 * (1 - t) ** 2 * moving,
        60 * t * (1 - t) * (1 - 2 * t) * moving,
    )


def low_pass(values: ArrayLike, rate: float, cutoff_hz: float = CUTOFF_HZ) -> NDArray[np.float64]:
    """Return values (time, …) without what is faster than the cut-off.

    A Butterworth filter of order 2 run forward and back, so that nothing
    is delayed; at the cut-off in Hz 0.707 is left [winter2009]. Each run
    of frames between gaps (nan) is filtered by itself. Raises ValueError
    unless the cut-off is below half the rate.
    """
    values = _by_time(values)
    within("cutoff_hz", cutoff_hz, 0.01, 0.499 * rate, f"Hz at a frame rate of {rate:g} Hz")
    design = _low_pass_design(float(rate), float(cutoff_hz))
    padding = int(np.ceil(3 * rate / cutoff_hz))  # three periods: what starts the filter has died
    columns = values.reshape(len(values), -1)
    result = columns.copy()
    missing = np.isnan(columns)
    gappy = missing.any(axis=0)
    if not gappy.any():
        return _both_ways(design, columns, padding).reshape(values.shape)
    result[:, ~gappy] = _both_ways(design, columns[:, ~gappy], padding)
    # Columns with the same gaps are filtered together; the axes of a point always have them.
    patterns, which = np.unique(missing[:, gappy], axis=1, return_inverse=True)
    for number, pattern in enumerate(patterns.T):
        alike = np.flatnonzero(gappy)[which == number]
        for first, end in zip(*runs(~pattern), strict=True):
            result[first:end, alike] = _both_ways(design, columns[first:end, alike], padding)
    return result.reshape(values.shape)


def residual_analysis(values: ArrayLike, rate: float) -> Residuals:
    """Return the cut-off that Winter's residual analysis suggests.

    The residual of values (time, …) falls with the cut-off, and where
    only noise is left it falls along a line; the line's value at 0 Hz is
    the noise, and the cut-off with that residual is taken [winter2009].
    Raises ValueError for gaps (nan).
    """
    values = _by_time(values)
    if np.isnan(values).any():
        raise ValueError("values have gaps (nan); take a stretch of frames without any")
    half = rate / 2
    frequencies = np.geomspace(min(0.5, half / 20), half / 2, 60)
    residuals = np.stack(
        [np.sqrt(np.mean((values - low_pass(values, rate, f)) ** 2, axis=0)) for f in frequencies]
    )
    # Above a quarter of the range only noise is left: the line through those residuals meets
    # 0 Hz at the noise, its constant term.
    tail = frequencies >= half / 4
    flat = residuals.reshape(len(frequencies), -1)
    noise = np.polyfit(frequencies[tail], flat[tail], 1)[1].reshape(values.shape[1:])
    first = np.argmax(residuals <= noise, axis=0)
    cutoff_hz = _crossing(noise, frequencies, residuals, first)
    return Residuals(cutoff_hz, frequencies, residuals, noise[()])


def derivative(values: ArrayLike, rate: float, order: int = 1) -> NDArray[np.float64]:
    """Return the first or second derivative of values (time, …), per s or s².

    Differences of neighbours on both sides, exact for a parabola; filter
    first, for noise grows. A frame beside a gap is nan. Raises ValueError
    for another order and for fewer than three frames.
    """
    values = _by_time(values)
    if order not in (1, 2):
        raise ValueError(f"order is {order}; it must be 1 (speed) or 2 (acceleration)")
    if len(values) < 3:
        raise ValueError(f"there are {len(values)} frames; a derivative needs three")
    if order == 1:
        return np.gradient(values, 1.0 / rate, axis=0, edge_order=2)
    inner = (values[2:] - 2 * values[1:-1] + values[:-2]) * rate**2
    return np.concatenate([inner[:1], inner, inner[-1:]])


def onset(
    values: ArrayLike,
    time: ArrayLike,
    fraction: float = ONSET,
    *,
    search_from: float = ONSET_FROM,
    rest: ArrayLike | None = None,
    end: ArrayLike | None = None,
) -> ArrayLike:
    """Return when values (time, …) began to move, s, between frames.

    The crossing of ``fraction`` of the way from ``rest`` (median of the
    first tenth of the frames) to ``end`` (the value furthest from it),
    searched backward from where ``search_from`` of the way is passed. nan
    where there is no movement or no such crossing.
    """
    values, time = _by_time(values), np.asarray(time, dtype=float)
    if rest is None:
        rest = np.median(values[: max(1, len(values) // 10)], axis=0)
    if end is None:
        away = np.abs(values - rest)
        far = np.argmax(np.where(np.isnan(away), -1.0, away), axis=0)
        end = np.take_along_axis(values, far[np.newaxis], axis=0)[0]
    travel = np.asarray(end - rest, dtype=float)
    share = (values - rest) / np.where(travel == 0, np.nan, travel)
    frame = np.arange(len(values)).reshape(-1, *[1] * (values.ndim - 1))
    # argmax of booleans is the first True; of the reversed ones, the last.
    passed = np.argmax(share >= search_from, axis=0)
    still_at_rest = (share < fraction) & (frame < passed)
    first_moving = len(values) - np.argmax(still_at_rest[::-1], axis=0)
    index = np.where(still_at_rest.any(axis=0), first_moving, 0)
    return _crossing(fraction, time, share, index)


def split_repetitions(
    height: ArrayLike,
    time: ArrayLike,
    least_travel_m: float = LEAST_TRAVEL_M,
    *,
    smooth: NDArray[np.float64] | None = None,
) -> list[Repetition]:
    """Return the repetitions in the height of the hips (time,), in order.

    A repetition goes down and up again by at least ``least_travel_m``, by
    ten times the noise and by two fifths of the deepest. It starts and
    ends 2 % of its way (or the noise) below the standing height around
    it, or with the recording where that begins or ends lower; angles move
    earlier, so look for their onset from half a second before. Gaps do
    not matter; no repetition gives an empty list.
    ``smooth`` (time,) is the same height without jitter and without gaps,
    if it is known already.
    """
    height, time = _by_time(height), np.asarray(time, dtype=float)
    seen = ~np.isnan(height)
    if height.ndim != 1:
        raise ValueError(f"height is {height.shape}; give the height of one point, (time,)")
    if seen.sum() < 3:
        return []
    whole = np.interp(time, time[seen], height[seen])
    if smooth is None:
        rate = rate_of(time)
        smooth = low_pass(whole, rate, min(CUTOFF_HZ, rate / 4))
    # The SD of normal noise is 1.4826 times the median of its size, which outliers do not move.
    noise = 1.48 * float(np.median(np.abs(whole - smooth)))
    bottoms, about = scipy.signal.find_peaks(-smooth, prominence=max(least_travel_m, 10 * noise))
    travels = about["prominences"]
    bottoms = bottoms[travels >= 0.4 * travels.max(initial=0.0)]
    edges = [0, *bottoms, smooth.size - 1]
    repetitions = []
    for before, bottom, after in zip(edges, bottoms, edges[2:], strict=False):
        level = min(_standing(smooth[before : bottom + 1]), _standing(smooth[bottom : after + 1]))
        level -= max(0.02 * (level - smooth[bottom]), noise)
        way_down = np.flatnonzero(smooth[before : bottom + 1] >= level)
        way_up = np.flatnonzero(smooth[bottom : after + 1] >= level)
        start = before + (way_down[-1] if way_down.size else 0)
        end = bottom + way_up[0] if way_up.size else after
        repetitions.append(Repetition(int(start), int(bottom), int(end)))
    return repetitions


def _standing(height: NDArray[np.float64]) -> float:
    """Return the height of standing, the median of the highest tenth of the travel."""
    low, high = height.min(), height.max()
    return float(np.median(height[height >= high - 0.1 * (high - low)]))


def _by_time(values: ArrayLike) -> NDArray[np.float64]:
    """Return values as floats, or raise ValueError for a single number."""
    values = np.asarray(values, dtype=float)
    if values.ndim == 0:
        raise ValueError("values is a single number; give one for every frame, (time, …)")
    return values


@cache
def _low_pass_design(rate: float, cutoff_hz: float) -> LowPass:
    """Return the filter of one pass, made once for each rate."""
    # Two passes lower the cut-off of order 2 to 0.8022 of it, so each pass gets a higher one.
    # The bilinear transform warps frequencies by tan(π f / rate), and there the correction
    # belongs: at 30 Hz a plain f / 0.8022 would be 7 % off.
    design = rate / np.pi * np.arctan(np.tan(np.pi * cutoff_hz / rate) / TWO_PASSES)
    sections = scipy.signal.butter(2, design, fs=rate, output="sos")
    return LowPass(sections, scipy.signal.sosfilt_zi(sections)[..., np.newaxis])


def _both_ways(design: LowPass, values: NDArray[np.float64], padding: int) -> NDArray[np.float64]:
    """Return values (time, column) filtered forward and back.

    As scipy.signal.sosfiltfilt, which would work out the state at rest anew.
    """
    # A run shorter than the padding is mirrored as far as it goes; a lone frame stays.
    if len(values) < 2 or not values.size:
        return values
    pad = min(padding, len(values) - 1)
    # Turned about the first and the last value, so that the movement goes on smoothly.
    head = 2 * values[0] - values[pad:0:-1]
    tail = 2 * values[-1] - values[-2 : -pad - 2 : -1]
    padded = np.concatenate([head, values, tail])
    state = design.state_at_rest
    forward, _ = scipy.signal.sosfilt(design.sections, padded, axis=0, zi=state * padded[0])
    back, _ = scipy.signal.sosfilt(design.sections, forward[::-1], axis=0, zi=state * forward[-1])
    return back[::-1][pad : pad + len(values)]


def _crossing(
    level: ArrayLike, x: NDArray, y: NDArray[np.float64], index: NDArray[np.intp]
) -> ArrayLike:
    """Return x where y (row, …) meets a level just before row ``index``.

    nan where the index is 0; straight between the two rows.
    """
    after = np.take_along_axis(y, index[np.newaxis], axis=0)[0]
    before = np.take_along_axis(y, np.maximum(index - 1, 0)[np.newaxis], axis=0)[0]
    step = np.where(after == before, np.nan, after - before)
    start = x[np.maximum(index - 1, 0)]
    meeting = start + (level - before) / step * (x[index] - start)
    return np.where(index == 0, np.nan, meeting)[()]
