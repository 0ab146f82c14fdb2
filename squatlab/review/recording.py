"""From the tracks of a recording to a view of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from squatlab.lifter import Lifter
from squatlab.review import places
from squatlab.review.front_places import from_the_front
from squatlab.review.picture import scale_of, standpoint
from squatlab.review.places import Places
from squatlab.review.reading import ReviewError, mean
from squatlab.review.views import ENOUGH_S, LEG, SEEN, View
from squatlab.signals import CUTOFF_HZ, Repetition, low_pass, split_repetitions
from squatlab.tracks import Tracks

STANDING_S, BEFORE_S, AFTER_S = 1.0, 0.5, 0.3
"""The last second of standing counts, up to half a second before the hips
have visibly left and from a third after they are back [teaching-value]."""

SLOWEST_HZ = 5.0
"""No camera takes fewer frames per second."""


def look(
    tracks: Tracks,
    lifter: Lifter | None,
    bar_kg: float | None,
    camera: Any,
    depths: Mapping[str, float],
) -> View:
    """Return what tracks show; ``depths`` says how far out near joints are, m.

    Only the points that are measured are filtered. Raises TracksError if
    most frames are missing, ReviewError for what cannot be reviewed.
    """
    if tracks.rate < SLOWEST_HZ:
        raise ReviewError(
            f"the {tracks.view} view has {tracks.rate:.3g} frames per second; at least "
            f"{SLOWEST_HZ:g} are needed. Time is in seconds"
        )
    tracks, near = tracks.evenly_timed(), _near_side(tracks)
    names = [name for name in _wanted(tracks.view, near) if name in tracks]
    positions = tracks.positions[:, [tracks.names.index(name) for name in names]]
    if np.isnan(positions).any():
        chosen = replace(tracks, positions=positions, names=tuple(names) or ("none",))
        positions = chosen.bridged().positions
    stand = standpoint(tracks, camera)
    scale = scale_of(tracks, lifter, stand)
    positions = positions / scale.px_per_m
    hips = [names.index(f"hip_{s}") for s in _sides(tracks.view, near) if f"hip_{s}" in names]
    repetitions = tuple(split_repetitions(_height(positions, hips), tracks.times))
    stands = _standing(repetitions, tracks.rate, tracks.times.size)
    flat = low_pass(positions, tracks.rate, min(CUTOFF_HZ, 0.25 * tracks.rate))
    standing = np.concatenate(stands)
    if tracks.view == "side":
        found = places.from_the_side(names, flat, standing, near, stand, lifter, depths)
    elif tracks.view == "front":
        found = from_the_front(names, flat, standing, stand, lifter)
    elif tracks.view == "3d":
        found = places.in_space(names, flat, standing, stand)
    else:
        found = Places({name: flat[:, column] for column, name in enumerate(names)}, stand)
    if hips:
        flat = np.stack([found.points[names[hip]] for hip in hips], axis=1)
    return View(
        tracks.view, tracks.times, tracks.rate, near, _height(flat, range(len(hips))), repetitions,
        stands, found, scale, lifter, bar_kg,
    )  # fmt: skip


def _near_side(tracks: Tracks) -> str:
    """Return the side of which the leg is seen better, the right if both are."""
    if tracks.view in ("front", "oblique"):
        return "r"
    seen = {
        side: sum(
            1 - np.isnan(tracks[name][:, 0]).mean()
            for name in (f"hip_{side}", f"knee_{side}", f"ankle_{side}")
            if name in tracks
        )
        for side in "rl"
    }
    return "l" if seen["l"] > seen["r"] + 3 * (1 - SEEN) else "r"


def _sides(view: str, near: str) -> str:
    return near if view == "side" else "rl"


def _wanted(view: str, near: str) -> list[str]:
    joints = {"front": LEG[:5], "oblique": LEG[:1]}.get(view, LEG)
    limbs = [f"{joint}_{side}" for joint in joints for side in _sides(view, near)]
    trunk, ends = ["l5", "c7", "head", "bar"], ["bar_end_r", "bar_end_l"]
    return limbs + {"side": trunk, "front": ends, "oblique": []}.get(view, trunk + ends)


def _height(positions: NDArray[np.float64], hips: Sequence[int]) -> NDArray[np.float64]:
    """Return the height of the middle of the hips that are seen, (time,)."""
    if not hips:
        return np.full(len(positions), np.nan)
    return mean(np.stack([positions[:, hip, 1] for hip in hips]))


def _standing(
    repetitions: Sequence[Repetition], rate: float, frames: int
) -> tuple[NDArray[np.intp], ...]:
    """Return the frames of standing before each repetition, and after the last.

    Where there are too few, all there are.
    """
    spans, begin, long = [], 0, int(STANDING_S * rate)
    for rep in repetitions:
        end = int(rep.start - BEFORE_S * rate)
        spans.append(np.arange(max(begin, end - long), end))
        begin = int(rep.end + AFTER_S * rate)
    spans.append(np.arange(begin, min(begin + long, frames)))
    together = np.concatenate(spans)
    return tuple(span if span.size >= ENOUGH_S * rate else together for span in spans)
