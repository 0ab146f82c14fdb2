"""A lifter's points over time, set on the floor as the views of a clip need them.

The first step from a shot (a repetition, or tracks) to a clip; `film` draws
what stands here. Places are for the eye; every number comes from the review.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from squatlab.lifter import Lifter
from squatlab.mechanics.support import BALL
from squatlab.review.disturbances import ErrorModel
from squatlab.review.errors import CannotTell
from squatlab.review.perspective import FAR_M, standpoint_of
from squatlab.review.quantities import Quantities, over_time
from squatlab.review.uncertainty import best_views
from squatlab.review.view import SLOWEST_HZ
from squatlab.review.view import View as Reading
from squatlab.show.body import Build, Places, bend_of
from squatlab.show.measures import plate_radius
from squatlab.signals import CUTOFF_HZ, Repetition, low_pass
from squatlab.tracks import Tracks
from squatlab.tracks.naming import MEASURED
from squatlab.units import DISTANCE

AVERAGE = Lifter.from_stature(1.75, 75)
"""Whose build says how tall a recorded lifter is drawn, from the legs."""

AVERAGE_BUILD = Build.of(AVERAGE)
"""How thick a lifter of unknown mass is drawn."""

MIDDLE_OF_TRUNK = 0.2
"""L5/S1 on the way from hips to C7 where it was not recorded [teaching-value]."""

TOGETHER_S = 0.1
"""Two cameras whose lowest points are further apart were started apart
[teaching-value]."""


class FootageView(NamedTuple):
    """Hold one view: its points as complex numbers (time,), m with y up.

    x = 0 is mid-foot (side) or midway between the feet (front), y = 0
    the floor; nan is not seen. ``metric`` says whether metres are true or
    taken from an average build; ``frames`` which frame of its tracks each
    moment shows, below 0 or past the last where it was not filming.
    ``reading`` is what the review sees in the same tracks: every number
    comes from there, while the points are drawn as filmed. ``moments``, of
    `at_moments`, are the views and the frames that each moment comes from.
    """

    name: str
    places: Places
    build: Build
    metric: bool
    frames: NDArray[np.intp]
    plate_m: float
    reading: Reading | None = None
    moments: tuple[tuple[FootageView, int], ...] = ()

    @property
    def bend(self) -> ArrayLike:
        """Return where the trunk bends, for the whole film or at each moment."""
        if self.moments:
            return np.array([view.bend for view, _ in self.moments])
        return bend_of(self.places)

    def series(self, name: str) -> NDArray[np.float64]:
        """Return a quantity at every moment of the clip, nan where it is not seen."""
        if self.moments:
            return np.array([view.series(name)[frame] for view, frame in self.moments])
        nothing = np.full(self.frames.size, np.nan)
        if self.reading is None:
            return nothing
        try:
            values = over_time(self.reading, name).series
        except CannotTell:
            return nothing
        there = (self.frames >= 0) & (self.frames < values.size)
        return np.where(there, values[np.clip(self.frames, 0, values.size - 1)], np.nan)

    def standing(self, name: str) -> float:
        """Return a quantity's mean while standing before the first repetition, or nan."""
        if self.reading is None or not self.reading.repetitions:
            return np.nan
        repetition = self.reading.repetitions[0]
        try:
            quantity = getattr(Quantities(self.reading), name)
            standing = self.reading.standing_mean(quantity.series, repetition, quantity.joints)
        except CannotTell:
            return np.nan
        return float(standing)


@dataclass(frozen=True, eq=False)
class Footage:
    """Hold what a clip shows: times (time,) from 0 s and its views.

    ``above`` has the points as seen from above, x to the lifter's left
    and y back, where they are known in space. ``repetitions`` are frames.
    """

    time: NDArray[np.float64]
    rate: float
    views: tuple[FootageView, ...]
    above: Places | None
    bar_kg: float
    repetitions: tuple[Repetition, ...]
    note: str = ""

    @property
    def bottoms(self) -> list[int]:
        """Return the frame of each lowest point, at least one."""
        if self.repetitions:
            return [repetition.bottom for repetition in self.repetitions]
        height = self.views[0].places["pelvis"].imag
        return [int(np.nanargmin(height)) if np.isfinite(height).any() else 0]

    def frame_of(self, view: str, frame: int) -> int:
        """Return when the clip shows a frame of one view's tracks."""
        frames = next((v.frames for v in self.views if v.name == view), self.views[0].frames)
        return int(np.argmin(np.abs(frames - frame)))


def at_moments(footages: Sequence[Footage], frames: Sequence[int]) -> Footage:
    """Return one frame of each of several lifts as the moments of one footage.

    They show like lifters in the same views.
    """
    first, picked = footages[0], list(zip(footages, frames, strict=True))
    views = []
    for number, view in enumerate(first.views):
        moments = tuple((lift.views[number], int(frame)) for lift, frame in picked)
        places = _at_each([(of_lift.places, frame) for of_lift, frame in moments])
        views.append(
            view._replace(
                places=places, frames=np.arange(len(moments)), reading=None, moments=moments
            )
        )
    above = None
    if first.above is not None:
        above = _at_each([(lift.above, frame) for lift, frame in picked])
    time = np.array([lift.time[frame] for lift, frame in picked])
    return replace(first, time=time, views=tuple(views), above=above, repetitions=())


def _at_each(moments: Sequence[tuple[Places, int]]) -> Places:
    """Return the points (moments,) that stand at a frame of each of several lifts."""
    first, _ = moments[0]
    return {name: np.array([places[name][frame] for places, frame in moments]) for name in first}


def footage(
    *shots: Any, lifter: Lifter | None = None, bar_kg: float | None = None, camera: Any = None
) -> Footage:
    """Return what one or two shots show, ready to be drawn.

    A shot is a repetition (points, time, lifter, bar) or Tracks in space,
    which give both views, or Tracks of a picture; two pictures may be
    given. Tracks pass the filter that measuring uses. ``lifter``,
    ``bar_kg`` and ``camera`` are declared as to `squatlab.review.measure`.
    Raises ValueError for anything else.
    """
    kinds = list(map(_kind, shots))
    is_one_shot = len(kinds) == 1 and kinds != [NO_SHOT]
    is_two_pictures = len(kinds) == 2 and len({*kinds} - {"3d", NO_SHOT}) == 2
    if not (is_one_shot or is_two_pictures):
        raise ValueError(
            f"given are {len(kinds)} shots ({', '.join(kinds)}); give one repetition, or tracks "
            "of the side, of the front, or one of each"
        )
    build = AVERAGE_BUILD if lifter is None else Build.of(lifter)
    declared = {"lifter": lifter, "bar_kg": bar_kg, "camera": camera}
    if kinds != ["3d"]:
        # The side view, or that of a corner, stands before the front view.
        pictures = sorted(shots, key=lambda shot: shot.view == "front")
        readings = _read(pictures, declared)
        return _in_pictures([_calm(shot) for shot in pictures], readings, camera, build)
    (shot,) = shots
    if not isinstance(shot, Tracks):
        tracks = _as_tracks(shot)
        own = {"lifter": shot.lifter, "bar_kg": float(shot.bar.mass_kg)}
        own |= {"errors": ErrorModel.exact()}
        points, build = shot.points, Build.of(shot.lifter)
        return _in_space(points, shot.time, _read([tracks], own), build, shot.bar.mass_kg)
    even = _calm(shot)
    points = {name: even[name] for name in even.names}
    places = {name: place @ (1, 1j, 0) for name, place in points.items()}
    build = build.scaled(_stature(places))
    return _in_space(points, even.times, _read([shot], declared), build)


NO_SHOT = "no shot"
"""What `footage` calls a thing that is neither tracks nor a repetition."""


def _kind(shot: Any) -> str:
    """Return the view of tracks, "3d" of what is known in space, or `NO_SHOT`."""
    if isinstance(shot, Tracks):
        return shot.view
    return "3d" if hasattr(shot, "points") else NO_SHOT


def _as_tracks(shot: Any) -> Tracks:
    """Return the exact points of a repetition as tracks in space."""
    shape = (len(shot.time), 3)
    points = [np.broadcast_to(point, shape) for point in shot.points.values()]
    return Tracks(shot.time, np.stack(points, axis=1), tuple(shot.points), "3d")


def _read(tracks: Sequence[Tracks], declared: dict[str, Any]) -> dict[str, Reading]:
    """Return what the review sees in tracks, by view; nothing where that is too slow."""
    if any(tracks_shown.rate < SLOWEST_HZ for tracks_shown in tracks):
        return {}
    return {view.kind: view for view in best_views(*tracks, **declared)}


def _calm(tracks: Tracks) -> Tracks:
    """Return tracks on an even beat, without short gaps and without jitter."""
    even = tracks.evenly_timed().bridged()
    if even.rate <= 4 * CUTOFF_HZ:
        return even
    return replace(even, positions=low_pass(even.positions, even.rate))


def _in_space(
    points: Any,
    time: NDArray,
    readings: dict[str, Reading],
    build: Build,
    bar_kg: float = np.nan,
) -> Footage:
    """Return points (time, xyz) that are known in space as a side and a front view."""
    frames, side, front, above = np.arange(len(time)), {}, {}, {}
    for name, place in points.items():
        # x is forward, y up, z to the lifter's right, which is the viewer's left.
        x, y, z = np.broadcast_to(place, (frames.size, 3)).T
        side[name] = x + 1j * y
        front[name] = -z + 1j * y
        above[name] = -z - 1j * x
    reading = readings.get("3d")
    views = (
        _view("side", side, build, True, frames, reading),
        _view("front", front, build, True, frames, reading),
    )
    return _footage(time, views, _complete(above, frames.size, both=False), float(bar_kg))


def _in_pictures(
    shots: list[Tracks], readings: dict[str, Reading], camera: Any, build: Build
) -> Footage:
    """Return one or two pictures' tracks as views, the second at the first one's times."""
    time, views = shots[0].times, []
    notes = _corrections(shots, camera) if readings else []
    for shot in shots:
        metric = shot.units == "m" or shot.scale_px_per_m is not None
        positions = (shot.in_metres() if metric else shot).positions @ (1, 1j)
        places = dict(zip(shot.names, positions.T, strict=True))
        if not metric:  # the legs of an average build give a scale to draw with
            unit = AVERAGE.stature_m / _stature(places)
            places = {name: place * unit for name, place in places.items()}
            notes.append("No scale is known, so there are no distances.")
        frames = np.arange(shot.times.size)
        if views:
            # By how much later the second camera's clock has the lowest point, s.
            hips = _complete(places, frames.size, both=False)["pelvis"]
            late = _low(hips, shot.times) - _low(views[0].places["pelvis"], time)
            if abs(late) > TOGETHER_S:
                notes.append(
                    f"The {shot.view} view was moved by {abs(late):.1f} s: the lowest points meet."
                )
            else:  # also where a lowest point is not seen, nan
                late = 0.0
            frames = np.rint((time + late - shot.times[0]) * shot.rate).astype(int)
            places = _at_frames(places, frames)
        reading = readings.get(shot.view)
        drawn = build.scaled(_stature(places))
        views.append(_view(shot.view, places, drawn, metric, frames, reading))
    # What holds for both views is said once.
    return _footage(time, tuple(views), note=" ".join(dict.fromkeys(notes)))


def _at_frames(places: Places, frames: NDArray[np.intp]) -> Places:
    """Return points at other frames (…) of their film, nan where it was not filming."""
    moved = {}
    for name, place in places.items():
        filming = (frames >= 0) & (frames < place.size)
        moved[name] = np.where(filming, place[np.clip(frames, 0, place.size - 1)], np.nan)
    return moved


def _corrections(shots: list[Tracks], camera: Any) -> list[str]:
    """Return what the numbers are corrected for; the drawing is as filmed."""
    sentences = []
    for shot in shots:
        if shot.view == "oblique":
            continue  # nothing is measured in it
        stood = standpoint_of(shot, camera)
        away, high = DISTANCE.words(stood.distance_m), DISTANCE.words(stood.height_m)
        place = f"{away} away and {high} high"
        if stood.declared:
            words = f"Drawn as filmed, numbers corrected for a camera {place}."
        elif stood.distance_m < FAR_M:
            words = f"Drawn as filmed, numbers as if the camera stood {place}: not declared."
        else:
            words = "Drawn as filmed, and so are the numbers: the camera's place is not declared."
        sentences.append(words)
    return sentences


def _low(hips: NDArray, time: NDArray) -> float:
    """Return when the hips are low, on average, s: the lowest frame itself is chance."""
    seen = hips.imag[np.isfinite(hips)]
    if not seen.size:
        return np.nan
    return float(time[hips.imag <= 0.5 * (seen.min() + seen.max())].mean())


def _footage(
    time: NDArray[np.float64],
    views: tuple[FootageView, ...],
    above: Places | None = None,
    bar_kg: float = np.nan,
    note: str = "",
) -> Footage:
    """Return views as footage whose time begins at 0 s, with the review's repetitions."""
    time = np.asarray(time, dtype=float) - time[0]
    reading = views[0].reading
    repetitions = () if reading is None else reading.repetitions
    rate = (time.size - 1) / float(time[-1])
    return Footage(time, rate, views, above, bar_kg, repetitions, note)


def _view(
    name: str,
    places: Places,
    build: Build,
    metric: bool,
    frames: NDArray,
    reading: Reading | None,
) -> FootageView:
    """Set one view on its floor; the only leg of a picture counts as the right one."""
    if name != "front" and "hip_r" not in places and "hip_l" in places:
        places = {_on_the_right(point): place for point, place in places.items()}
    p = _complete(places, frames.size, both=name == "front")
    radius = plate_radius()
    plate = 0.5 * np.abs(p["plate_top"] - p["plate_bottom"])
    if not metric and not np.isnan(plate).all():
        radius = float(np.nanmedian(plate))
    near = "rl" if name == "front" else "r"
    lift = 0.0
    feet = [p[f"{part}_{side}"] for part in ("heel", "toe") for side in near]
    if np.isnan(feet).all():  # the ankles give the floor, roughly, and mid-foot not at all
        lift = AVERAGE.ankle_height_m
        feet = [p[f"ankle_{side}"] for side in near]
    seen = [foot for foot in feet if np.isfinite(foot).any()]
    if seen:
        # A raised heel lifts no floor: the low tenth of all frames.
        floor = np.nanquantile(np.fmin.reduce([foot.imag for foot in seen]), 0.1) - lift
        middle = np.mean([np.nanmedian(foot.real) for foot in seen])
        p = {key: place - complex(middle, floor) for key, place in p.items()}
    return FootageView(name, p, build, metric, frames, radius, reading)


def _on_the_right(point: str) -> str:
    """Return a point's name with the right side for the left."""
    return f"{point.removesuffix('_l')}_r" if point.endswith("_l") else point


def _complete(places: Places, count: int, both: bool) -> Places:
    """Return every point by name; what others tell of a missing one is filled in.

    ``both``: a middle needs both its sides, which a view from the side does not.
    """
    lost = np.full(count, complex(np.nan, np.nan))
    p = {}
    for name in MEASURED:
        place = places.get(name, lost)
        unseen = np.isnan(place)
        # Of a point with one coordinate nothing is seen.
        p[name] = np.where(unseen, lost, place) if unseen.any() else place

    def fill(name: str, value: Callable[[], NDArray]) -> None:
        unseen = np.isnan(p[name])
        if unseen.any():
            p[name] = np.where(unseen, value(), p[name])

    def middle(one: NDArray, other: NDArray) -> NDArray:
        halfway = 0.5 * (one + other)
        if both:
            return halfway
        # The side that is seen stands for the middle where the other is hidden.
        return np.where(np.isnan(one), other, np.where(np.isnan(other), one, halfway))

    def head() -> NDArray:
        ears = middle(places.get("ear_r", lost), places.get("ear_l", lost))
        return np.where(np.isnan(ears), places.get("nose", lost), ears)

    def ball(side: str) -> NDArray:
        heel, toe = p[f"heel_{side}"], p[f"toe_{side}"]
        return heel + BALL * (toe - heel)

    if both:  # hips that slide to a side take along what is drawn and measured as their middle
        hips = middle(p["hip_r"], p["hip_l"])
        p["pelvis"] = np.where(np.isnan(hips), p["pelvis"], hips)
    fill("pelvis", lambda: middle(p["hip_r"], p["hip_l"]))
    fill("c7", lambda: middle(p["shoulder_r"], p["shoulder_l"]))
    fill("l5", lambda: p["pelvis"] + MIDDLE_OF_TRUNK * (p["c7"] - p["pelvis"]))
    fill("bar", lambda: 0.5 * (p["plate_top"] + p["plate_bottom"]))
    fill("bar", lambda: 0.5 * (p["bar_end_r"] + p["bar_end_l"]))
    fill("head", head)
    for side in "rl":
        fill(f"ball_{side}", partial(ball, side))
    return p


def _stature(places: Places) -> float:
    """Return how tall a lifter with these legs is, in the unit of the points."""
    spans = []
    for side in "rl":
        hip, knee, ankle = (places.get(f"{j}_{side}", np.nan) for j in ("hip", "knee", "ankle"))
        span = np.atleast_1d(np.abs(hip - knee) + np.abs(knee - ankle))
        if np.isfinite(span).any():
            # A leg that turns out of the picture looks shorter, noise makes single frames
            # longer: the upper tenth begins at about its length.
            spans.append(np.nanquantile(span, 0.9))
    if not spans:
        raise ValueError(
            "no leg can be drawn: hip, knee and ankle of one side must be seen together, named "
            "hip_r, knee_r, ankle_r or hip_l, knee_l, ankle_l"
        )
    share = (AVERAGE.thigh_m + AVERAGE.shank_m) / AVERAGE.stature_m
    return float(max(spans) / share)
