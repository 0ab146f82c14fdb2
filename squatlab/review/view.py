"""One view of a lifter: points in metres in the lifter's axes, and the frames that count."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from squatlab.lifter import Lifter
from squatlab.review import perspective
from squatlab.review.errors import CannotTell, ReviewError
from squatlab.review.perspective import STRAIGHT, Placed, Scale, Standpoint, mean
from squatlab.signals import CUTOFF_HZ, Repetition, low_pass, split_repetitions
from squatlab.tracks import Tracks
from squatlab.tracks.near import near_side

LEG = ("hip", "knee", "ankle", "heel", "toe", "shoulder")
"""The joints that a view has a near one of."""

STANDING_S, BEFORE_S, AFTER_S = 1.0, 0.5, 0.3
"""The last second of standing counts, up to half a second before the hips
have visibly left and from a third after they are back [teaching-value]."""

ENOUGH_S = 0.25
"""Standing for less than this is no measure of how one stands
[teaching-value]."""

END_S = 0.07
"""So long at either end of a trimmed clip stands in for standing: two frames
at 30 per second [teaching-value]."""

SEEN_SHARE = 0.8
"""This share of a stretch of frames must be seen [teaching-value]."""

LOWEST_SHARE = 0.15
"""The lowest part of the way of the hips, as a share of it."""

SLOWEST_HZ = 5.0
"""No camera takes fewer frames per second."""

BLOCK_FRAMES = 1700
"""A recording of more frames is read in blocks of about so many, 28 s
at 60 per second, so that memory stays bounded and time is in proportion."""

MARGIN_S = 2.0
"""So long around what a block needs belongs to it: the filters forget in a
twentieth of that, and onsets are searched a second before a repetition."""

MOST_STANDING_S = 15.0
"""Where a repetition has no standing of its own, so much of all there is
counts, the nearest."""


class Block(NamedTuple):
    """Say which frames of a view are read together, and their repetitions.

    ``first`` and ``end`` number repetitions as a slice does.
    """

    frames: NDArray[np.intp]
    first: int
    end: int


@dataclass(frozen=True, eq=False)
class View:
    """Hold what one view shows, filtered, and read from it where points are.

    ``seen`` (…, time, point, 2 or 3) m is the filtered picture, or space;
    leading axes hold several versions of it. ``near`` is the side that is
    measured, "r" or "l"; ``stands`` numbers the frames of standing, by
    repetition; ``hips`` (time,) is the height of the hips as filmed, by
    which frames are chosen. ``depths`` says how far out near joints are,
    m. ``lifter``, ``body_kg`` and ``bar_kg`` are what the user declared.
    ``unfiltered`` is ``seen`` with its jitter. ``is_trimmed`` says that
    the lifter never stands still, so that the first and the last frames
    stand in for standing. ``uncorrected`` leaves a picture as filmed.
    """

    kind: str
    times: NDArray[np.float64]
    rate: float
    near: str
    names: tuple[str, ...]
    seen: NDArray[np.float64]
    hips: NDArray[np.float64]
    repetitions: tuple[Repetition, ...]
    stands: tuple[NDArray[np.intp], ...]
    standpoint: Standpoint
    scale: Scale
    depths: Mapping[str, ArrayLike]
    lifter: Lifter | None = None
    body_kg: ArrayLike | None = None
    bar_kg: ArrayLike | None = None
    unfiltered: NDArray[np.float64] | None = None
    is_trimmed: bool = False
    uncorrected: bool = False

    @cached_property
    def placed(self) -> Placed:
        """Return the points in space, freed of perspective."""
        if self.uncorrected and self.kind != "3d":
            return perspective.as_filmed(self.names, self.seen, self.kind)
        standing = np.concatenate(self.stands)
        if self.kind == "side":
            return perspective.from_the_side(
                self.names,
                self.seen,
                standing,
                self.near,
                self.standpoint,
                self.lifter,
                self.depths,
            )
        if self.kind == "front":
            return perspective.from_the_front(
                self.names, self.seen, standing, self.standpoint, self.lifter
            )
        if self.kind == "3d":
            return perspective.in_space(self.names, self.seen, standing, self.standpoint)
        return Placed(perspective.by_name(self.names, self.seen), self.standpoint)

    def __getitem__(self, name: str) -> NDArray[np.float64]:
        """Return a point (…, time, 3); a joint without a side is the near one.

        Raises CannotTell if it is not there.
        """
        name = f"{name}_{self.near}" if name in LEG else name
        if name not in self.placed.points:
            raise CannotTell(f"{name} is not among the points of the {self.kind} view")
        return self.placed.points[name]

    def __contains__(self, name: str) -> bool:
        return (f"{name}_{self.near}" if name in LEG else name) in self.names

    @property
    def top(self) -> str:
        """Return the point at the top of the trunk."""
        return "shoulder" if "c7" not in self and "shoulder" in self else "c7"

    def need_scale(self) -> None:
        """Raise CannotTell where nothing says how large things are."""
        if not self.scale.known:
            raise CannotTell(
                "there is no scale: track plate_top and plate_bottom, or declare the lifter"
            )

    # Blocks of a long recording

    @cached_property
    def blocks(self) -> tuple[Block, ...]:
        """Return the frames of consecutive repetitions that are read together.

        With the standing before and after them. One block, of all frames,
        where there are few.
        """
        count = len(self.repetitions)
        if self.times.size <= BLOCK_FRAMES or not count:
            return (Block(np.arange(self.times.size), 0, count),)
        starts = np.array([repetition.start for repetition in self.repetitions])
        span = self.repetitions[-1].end - starts[0]
        # Evenly, so that no repetition at the end is left with little standing to go by.
        size = span / np.ceil(span / BLOCK_FRAMES)
        firsts = np.flatnonzero(np.diff((starts - starts[0]) // size, prepend=-1.0))
        ends = [*firsts[1:], count]
        return tuple(
            Block(self._around(first, end), int(first), int(end))
            for first, end in zip(firsts, ends, strict=True)
        )

    def _around(self, first: int, end: int) -> NDArray[np.intp]:
        """Return the frames of some repetitions and of their standing, with margins."""
        margin = int(MARGIN_S * self.rate)
        spans = [(rep.start, rep.end) for rep in self.repetitions[first:end]]
        for stand in self.stands[first : end + 1]:
            if stand.size:
                breaks = np.flatnonzero(np.diff(stand) > 1)
                begins, ends = stand[np.r_[0, breaks + 1]], stand[np.r_[breaks, -1]]
                spans += zip(begins, ends, strict=True)
        whole = [
            np.arange(max(0, begin - margin), min(last + margin + 1, self.times.size))
            for begin, last in dict.fromkeys(spans)
        ]
        return np.unique(np.concatenate(whole))

    def cut(self, block: Block) -> View:
        """Return the view of one block by itself, its frames numbered from 0."""
        if block.frames.size == self.times.size:
            return self
        frames = block.frames

        def renumbered(numbers: ArrayLike) -> Any:
            return np.searchsorted(frames, numbers)

        return replace(
            self,
            times=self.times[frames],
            seen=self.seen[..., frames, :, :],
            unfiltered=self.unfiltered[frames],
            hips=self.hips[frames],
            repetitions=tuple(
                Repetition(*map(int, renumbered(one)))
                for one in self.repetitions[block.first : block.end]
            ),
            stands=tuple(map(renumbered, self.stands[block.first : block.end + 1])),
        )

    # The frames that count

    def stand_before(self, repetition: Repetition) -> NDArray[np.intp]:
        """Return the frames of standing before a repetition, or else all.

        Raises CannotTell where there are none.
        """
        frames = self.stands[self.repetitions.index(repetition)]
        if frames.size < ENOUGH_S * self.rate and not self.is_trimmed:
            raise CannotTell(
                "the lifter does not stand still before or after it; film half a second more"
            )
        return frames

    def frames_of(self, repetition: Repetition) -> slice:
        """Return the frames from a repetition's start to its end."""
        return slice(repetition.start, repetition.end + 1)

    def lowest(self, repetition: Repetition, share: float) -> NDArray[np.intp]:
        """Return the frames in which the hips are in the lowest share of their way."""
        height = self.hips[self.frames_of(repetition)]
        low = self.hips[repetition.bottom]
        high = mean(self.hips[self.stand_before(repetition)])
        return repetition.start + np.flatnonzero(height <= low + share * (high - low))

    @cached_property
    def lowered(self) -> NDArray[np.float64]:
        """Return how far down the hips are, 0 standing to 1 at the bottom, (time,).

        0 where they are not seen.
        """
        low = min(self.hips[repetition.bottom] for repetition in self.repetitions)
        high = float(mean(self.hips[np.concatenate(self.stands)]))
        way = (high - self.hips) / max(high - low, perspective.LEAST_TRAVEL_M)
        return np.nan_to_num(np.clip(way, 0.0, 1.0))

    # Means over frames

    def standing_mean(
        self, values: NDArray[np.float64], repetition: Repetition, joints: Sequence[str]
    ) -> NDArray[np.float64]:
        """Return the mean of values (…, time) while standing, as `mean_of` does."""
        return self.mean_of(values, self.stand_before(repetition), joints, "while standing")

    def mean_of(
        self, values: NDArray[np.float64], frames: Any, joints: Sequence[str], when: str
    ) -> NDArray[np.float64]:
        """Return the mean of values (…, time) over frames.

        Raises CannotTell, naming the points they rest on, if too few of
        the frames are seen.
        """
        part = values[..., frames]
        if count := part.shape[-1]:
            plain = np.add.reduce(part, axis=-1) / count
            if not np.isnan(plain).any():
                return plain
        self.check(values, frames, joints, when)
        return mean(part)

    def check(
        self, values: NDArray[np.float64], frames: Any, joints: Sequence[str], when: str
    ) -> None:
        """Raise CannotTell if too few frames of values (…, time) are seen."""
        seen = ~np.isnan(values[..., frames])
        if not seen.size or seen.mean() < SEEN_SHARE:
            lost = [n for n in joints if np.isnan(self[n][..., frames, :]).any()] or joints
            raise CannotTell(f"{', '.join(lost)}: not seen {when}")


def views_of(
    *tracks: Tracks,
    lifter: Lifter | None = None,
    bar_kg: float | None = None,
    camera: Any = None,
) -> tuple[View, ...]:
    """Return a view of each recording of the same squats, the front first.

    The front shows how far to the side the joints are that the side view
    sees. Raises TracksError if most frames of one are missing, ReviewError
    for what cannot be reviewed.
    """
    views: list[View] = []
    for given in sorted(tracks, key=lambda one: one.view not in ("front", "3d")):
        views.append(view_of(given, lifter, bar_kg, camera, _depths(views)))
    return tuple(views)


def view_of(
    tracks: Tracks,
    lifter: Lifter | None = None,
    bar_kg: float | None = None,
    camera: Any = None,
    depths: Mapping[str, float] | None = None,
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
    tracks = tracks.evenly_timed()
    near = near_side(tracks)
    if tracks.view == "side":
        tracks = _helped_by_far_leg(tracks, near)
    names = tuple(name for name in _measured_points(tracks.view, near) if name in tracks)
    positions = tracks.positions[:, [tracks.names.index(name) for name in names]]
    if np.isnan(positions).any():
        chosen = replace(tracks, positions=positions, names=names or ("none",))
        positions = chosen.bridged().positions
        # Half of a point is none.
        unseen = np.isnan(positions).any(axis=-1, keepdims=True)
        positions = np.where(unseen, np.nan, positions)
    standpoint = perspective.standpoint_of(tracks, camera)
    scale = perspective.scale_of(tracks, lifter, standpoint)
    positions = positions / scale.px_per_m
    hips = [names.index(f"hip_{s}") for s in _sides(tracks.view, near) if f"hip_{s}" in names]
    filtered = low_pass(positions, tracks.rate, min(CUTOFF_HZ, 0.25 * tracks.rate))
    height, smooth = _height(positions, hips), _height(filtered, hips)
    whole = None if np.isnan(smooth).any() else smooth
    repetitions = tuple(split_repetitions(height, tracks.times, smooth=whole))
    stands = _standing(repetitions, tracks.rate, tracks.times.size)
    is_trimmed = bool(repetitions) and max(map(len, stands)) < ENOUGH_S * tracks.rate
    if is_trimmed:
        stands = (_ends(smooth, tracks.rate),) * len(stands)
    return View(
        tracks.view,
        tracks.times,
        tracks.rate,
        near,
        names,
        filtered,
        smooth,
        repetitions,
        stands,
        standpoint,
        scale,
        depths or {},
        lifter,
        None if lifter is None else lifter.mass_kg,
        bar_kg,
        positions,
        is_trimmed,
    )


def as_filmed(kind: str, points: Mapping[str, ArrayLike]) -> View:
    """Return one picture of a kind as a view of one frame, uncorrected.

    ``points`` (…) are across and up on the screen, m. What a protractor
    held to the screen reads are its quantities, (…, 1).
    """
    places = np.stack(np.broadcast_arrays(*points.values()), axis=-1)[..., np.newaxis, :]
    seen = np.stack([places.real, places.imag], axis=-1)
    return View(
        kind,
        np.zeros(1),
        np.nan,
        "r",
        tuple(points),
        seen,
        np.full(1, np.nan),
        (),
        (),
        Standpoint(perspective.FAR_M, 0.0, declared=False),
        Scale(1.0, True),
        {},
        uncorrected=True,
    )


def _helped_by_far_leg(tracks: Tracks, near: str) -> Tracks:
    """Return tracks whose near leg is filled in from the far one where it is hidden.

    Seen from the side both legs do the same, a little apart: by as much as
    while both are seen. What is never seen of the near one is where that of
    the far one is.
    """
    far, names = "l" if near == "r" else "r", list(tracks.names)
    for joint in LEG:
        hidden, seen = f"{joint}_{near}", f"{joint}_{far}"
        if hidden not in tracks and seen in tracks:
            names[names.index(seen)] = hidden
    if names != list(tracks.names):
        tracks = replace(tracks, names=tuple(names))
    positions = tracks.positions
    for joint in LEG:
        hidden, seen = f"{joint}_{near}", f"{joint}_{far}"
        if hidden not in tracks or seen not in tracks:
            continue
        missing = np.isnan(tracks[hidden]).any(axis=1) & np.isfinite(tracks[seen]).all(axis=1)
        if not missing.any():
            continue
        apart = np.nan_to_num(mean(tracks[hidden] - tracks[seen], 0))
        positions = positions.copy()
        positions[missing, tracks.names.index(hidden)] = tracks[seen][missing] + apart
    return tracks if positions is tracks.positions else replace(tracks, positions=positions)


def _sides(kind: str, near: str) -> str:
    return near if kind == "side" else "rl"


def _measured_points(kind: str, near: str) -> list[str]:
    """Return the names of all points that are measured in a kind of view."""
    joints = {"front": LEG[:5], "oblique": LEG[:1]}.get(kind, LEG)
    limbs = [f"{joint}_{side}" for joint in joints for side in _sides(kind, near)]
    trunk, ends = ["l5", "c7", "head", "bar"], ["bar_end_r", "bar_end_l"]
    return limbs + {"side": trunk, "front": ends, "oblique": []}.get(kind, trunk + ends)


def _height(positions: NDArray[np.float64], hips: Sequence[int]) -> NDArray[np.float64]:
    """Return the height of the middle of the hips that are seen, (time,)."""
    if not hips:
        return np.full(len(positions), np.nan)
    return mean(positions[:, hips, 1])


def _standing(
    repetitions: Sequence[Repetition], rate: float, frames: int
) -> tuple[NDArray[np.intp], ...]:
    """Return the frames of standing before each repetition, and after the last.

    Where there are too few, all there are, up to those nearest.
    """
    spans, begin, long = [], 0, int(STANDING_S * rate)
    for repetition in repetitions:
        end = int(repetition.start - BEFORE_S * rate)
        spans.append(np.arange(max(begin, end - long), end))
        begin = int(repetition.end + AFTER_S * rate)
    spans.append(np.arange(begin, min(begin + long, frames)))
    together, most = np.concatenate(spans), int(MOST_STANDING_S * rate)
    moments = [repetition.start for repetition in repetitions] + [frames]
    stands = []
    for moment, span in zip(moments, spans, strict=True):
        if span.size < ENOUGH_S * rate:
            begin = int(np.searchsorted(together, moment)) - most // 2
            begin = max(0, min(begin, together.size - most))
            span = together[begin : begin + most]
        stands.append(span)
    return tuple(stands)


def _ends(height: NDArray[np.float64], rate: float) -> NDArray[np.intp]:
    """Return the first and the last frames, which stand in for standing.

    Of those in which hips are seen. Only those of the end at which the hips
    are higher, if the other is lower by more than a tenth of their way.
    """
    count, seen = max(2, int(END_S * rate)), np.flatnonzero(np.isfinite(height))
    first, last = seen[:count], seen[-count:]
    high_first, high_last = float(mean(height[first])), float(mean(height[last]))
    tenth = 0.1 * float(np.nanmax(height) - np.nanmin(height))
    if high_first < high_last - tenth:
        return last
    if high_last < high_first - tenth:
        return first
    return np.union1d(first, last)


def _depths(views: Sequence[View]) -> dict[str, float]:
    """Return how far out the joints of a leg are, m, where a front view tells."""
    depths: dict[str, float] = {}
    for view in views:
        if view.kind not in ("front", "3d") or not view.repetitions:
            continue
        view = view.cut(view.blocks[0])
        try:
            low = view.lowest(view.repetitions[0], LOWEST_SHARE)
        except CannotTell:
            continue
        standing = view.stands[0]
        for name, joint, frames in [
            ("hip", "hip", low),
            ("knee", "knee", low),
            (STRAIGHT, "knee", standing),
            *((joint, joint, standing) for joint in LEG[2:5]),
        ]:
            if joint in view:
                aside = float(abs(mean(view[joint][frames, 2])))
                depths |= {name: aside} if np.isfinite(aside) else {}
    return depths
