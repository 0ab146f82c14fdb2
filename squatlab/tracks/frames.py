"""The frames of a recording: their times, dropped ones, gaps in a point."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

LATEST_S = 1e10
"""A time later than this is no time of a recording (a clock reads 2e9 s)."""

ON_TIME = 0.05
"""How far a frame may be off the beat, in frames: rounding, not jitter
[teaching-value]."""

HOLE = 1.75
"""From this many beats between two frames on, one was dropped
[teaching-value]; frames of a phone come up to half a beat late."""

RATE_AGREES = 0.02
"""How far a declared rate may be from that of the times [teaching-value]."""


class EvenFrames(NamedTuple):
    """Hold frames put on an even beat: times (time,) s and values (time, …).

    ``missing`` counts the beats without a frame, whose values are nan;
    ``moved`` says whether frames were moved to their beat.
    """

    times: NDArray[np.float64]
    values: NDArray[np.float64]
    missing: int
    moved: bool


class BridgedPoint(NamedTuple):
    """Hold one point (time, axis) after its short gaps were filled.

    ``filled`` and ``left`` count the gaps that were filled and those that
    stay.
    """

    values: NDArray[np.float64]
    filled: int
    left: int


def fault_in(times: NDArray[np.float64]) -> str:
    """Return what is wrong with times (time,) in s, in words, or ''."""
    if times.ndim != 1 or times.size < 2:
        return f"there are {times.size} frames; tracks need at least two"
    missing = ~(np.abs(times) <= LATEST_S)
    if missing.any():
        frames = ", ".join(str(i + 1) for i in np.flatnonzero(missing)[:3])
        return (
            f"{missing.sum()} frames have no time (frame {frames} counted from 1); "
            "every frame needs its time in seconds"
        )
    wrong = np.flatnonzero(np.diff(times) <= 0)
    if wrong.size:
        examples = "; ".join(
            f"frame {i + 2} at {times[i + 1]:.6g} s after frame {i + 1} at {times[i]:.6g} s"
            for i in wrong[:3]
        )
        return (
            f"time must rise from frame to frame, but in {wrong.size} places it stands still or "
            f"goes back: {examples}. Take out double frames and sort by time"
        )
    return ""


def rate_of(times: NDArray[np.float64]) -> float:
    """Return the frame rate in Hz of rising times (time,) in s.

    Counts the beats that passed, those of dropped frames too, and so is
    right with uneven times and with times rounded to the millisecond.
    """
    steps = np.diff(times)
    beats = steps / np.median(steps)
    beats = np.where(beats < HOLE, 1.0, np.rint(beats))
    return float(beats.sum() / steps.sum())


def at_rate(times: NDArray[np.float64], rate: float) -> tuple[NDArray[np.float64], list[str]]:
    """Return times (time,) of frames taken at another rate, and what was done.

    As they are, and nothing to say, where they have that rate or cannot
    be read.
    """
    if fault_in(times) or rate <= 0:
        return times, []
    rate_of_times = rate_of(times)
    if abs(rate / rate_of_times - 1) < RATE_AGREES:
        return times, []
    note = f"The times were those of {rate_of_times:.4g} frames per second; {rate:g} were declared."
    return times[0] + (times - times[0]) * (rate_of_times / rate), [note]


def on_the_beat(times: NDArray[np.float64], values: NDArray[np.float64], rate: float) -> EvenFrames:
    """Return times and values (time, …) with one frame at every beat of rate.

    Uneven frames move to the beat along straight lines; a beat with no
    frame within half a beat is missing (nan). Raises ValueError when more
    than half are missing.
    """
    beats = (times - times[0]) * rate
    count = int(np.rint(beats[-1])) + 1
    if count > 2 * times.size:
        raise ValueError(
            f"only {times.size} frames of {count} are there; cut the recording where it pauses "
            "and read each part by itself"
        )
    moved = bool(np.abs(beats - np.rint(beats)).max() > ON_TIME or count < times.size)
    if not moved and count == times.size:
        return EvenFrames(times, values, missing=0, moved=False)
    beat = np.arange(count)
    after = np.clip(np.searchsorted(beats, beat), 1, beats.size - 1)
    # Each beat lies between two frames, ``step`` beats apart, at ``share`` of the way.
    step = beats[after] - beats[after - 1]
    share = np.clip((beat - beats[after - 1]) / step, 0, 1)
    # Near a frame take it as it is, so that a missing neighbour does not spread.
    near = np.abs(share - np.rint(share)) * step < (0.5 if not moved else ON_TIME)
    share = np.where(near, np.rint(share), np.where(step > HOLE, np.nan, share))
    missing = int(np.isnan(share).sum())
    share = share.reshape(-1, *[1] * (values.ndim - 1))
    earlier, later = values[after - 1], values[after]
    blend = earlier * (1 - share) + later * share
    even = np.where(share == 0, earlier, np.where(share == 1, later, blend))
    return EvenFrames(times[0] + beat / rate, even, missing, moved)


def runs(flags: NDArray[np.bool_]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return where runs of True in (time,) begin and where they have ended."""
    edges = np.diff(np.concatenate(([0], flags.astype(np.int8), [0])))
    return np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)


def bridge(values: NDArray[np.float64], times: NDArray[np.float64], longest: float) -> BridgedPoint:
    """Return one point (time, axis) with short gaps filled by straight lines.

    A gap is short up to ``longest`` frames; longer ones and those at an
    end stay nan.
    """
    seen = ~np.isnan(values).any(axis=1)
    first, end = runs(~seen)
    short = (first > 0) & (end < seen.size) & (end - first <= longest)
    # +1 where a short gap begins and −1 where it has ended add up to 1 inside it.
    marks = np.zeros(seen.size + 1, dtype=int)
    marks[first[short]], marks[end[short]] = 1, -1
    fill = np.cumsum(marks[:-1]) > 0
    bridged = values.copy()
    if fill.any():
        for axis in range(values.shape[1]):
            bridged[fill, axis] = np.interp(times[fill], times[seen], values[seen, axis])
    return BridgedPoint(bridged, filled=int(short.sum()), left=int((~short).sum()))
