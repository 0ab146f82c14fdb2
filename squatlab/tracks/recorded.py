"""Where the points of one lifter were, as one view saw them over time.

`Tracks` holds them; `receive` is what every recording goes through on its way in:
checked, turned to our axes and converted, with a note on each change.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from numbers import Real
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from squatlab import storage, tables
from squatlab.frozen import Frozen
from squatlab.ranges import numbers, shown
from squatlab.tracks import csv, frames
from squatlab.tracks.naming import (
    PELVIS_MARKERS,
    POINTS,
    hints,
    named,
    suggestion,
    with_middles,
)
from squatlab.tracks.orientation import doubted, oriented, turned, untangled
from squatlab.tracks.pelvis import with_hips
from squatlab.tracks.points import AXES, Argument, TracksError
from squatlab.tracks.possible import possible
from squatlab.tracks.scale import METRES_IN, measured_scale, plausible

UNITS = ("m", "px")

BRIDGED_S = 0.1
"""The longest gap that is filled by a straight line [teaching-value]: a
lifter turning at the bottom leaves that line by about 3 mm."""

FARTHEST = 1e6
"""No position is farther from the origin than this, in m or px."""


LEG = ("hip", "knee", "ankle")
"""Of one leg at least, these points must be there."""

FEWEST = 10
"""Fewer frames than this are no movement [teaching-value]."""

RATES_HZ = (5.0, 2000.0)
"""The frame rates that cameras have [teaching-value]."""


@dataclass(frozen=True, eq=False, repr=False)
class Tracks(Frozen):
    """Hold times (time,) in s and positions (time, point, 2 or 3) of a view.

    ``view`` is "side", "front" or "oblique" for a picture, "3d" for space.
    A picture is in px, with ``scale_px_per_m`` once it is known, or in m;
    space is in m. nan is not seen. ``notes`` says what reading a file
    did. Usually made by `read`. Raises TracksError.
    """

    times: NDArray[np.float64]
    positions: NDArray[np.float64]
    names: tuple[str, ...]
    view: str
    units: str = "m"
    scale_px_per_m: float | None = None
    rate: float = 0.0
    source: str = ""
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        settle = object.__setattr__
        settle(self, "times", _kept(self.times))
        settle(self, "positions", _kept(self.positions))
        settle(self, "names", _names(self.names))
        settle(self, "notes", tuple(self.notes))
        _check_kind(self.view, self.units, self.scale_px_per_m)
        _check_shape(self.times, self.positions, self.names, self.view)
        if fault := frames.fault_in(self.times):
            raise TracksError(fault)
        extremes = [extreme.reduce(self.positions, axis=None) for extreme in (np.fmin, np.fmax)]
        if np.abs(extremes).max() > FARTHEST:
            raise TracksError(
                f"a position lies {FARTHEST:g} {self.units} or more from the origin; leave what "
                "was not seen empty (nan)"
            )
        settle(self, "rate", _checked_rate(self.rate, self.times))

    @classmethod
    def read(cls, path: str | Path, **declared: Any) -> Tracks:
        """Return the tracks in a CSV file, checked; ``notes`` says what was done.

        What neither heading nor side file tells is declared: view, units,
        axes, scale_px_per_m, required (point names) and bridge_s, as in
        `receive`, and ``points``, our names by those of the columns,
        {"crotch": "hip_r"}. A declared ``rate`` goes before times in the
        file, which in slow motion are those of playing it. Raises
        TracksError.
        """
        path = Path(path)
        points = declared.pop("points", None)
        with csv.opening(path):
            heading = csv.read_heading(path)
            meaning = {"source": path.name} | csv.meaning(path, heading, declared)
            if heading.notes:
                meaning["notes"] = [*meaning.get("notes", ()), *heading.notes]
            counted, positions = csv.numbers(path, heading)
            new_rate = declared.get("rate") if not heading.counts_frames else None

            def received(points: Mapping[str, str] | None, **meaning: Any) -> Tracks:
                times = csv.times_of(heading, counted, meaning.get("rate"))
                if new_rate:
                    times, note = frames.at_rate(times, new_rate)
                    meaning["notes"] = [*meaning.get("notes", ()), *note]
                labels, places = with_middles(heading.points, positions, points)
                return receive(times, places, named(labels, points), **meaning)

            return _asking_once(received, meaning | {"points": points})

    def write(self, path: str | Path) -> Path:
        """Write a CSV file and beside it what its columns mean, as JSON.

        Columns are time_s and <point>_<axis>, six decimals, empty where
        missing; both files or none. Returns the path of the CSV. Raises
        TracksError, and OSError where they cannot be written.
        """
        storage.write_together(self.as_files(path))
        return Path(path)

    def as_files(self, path: str | Path) -> dict[Path, str]:
        """Return what `write` writes, by its path. Raises TracksError."""
        meaning = {
            "view": self.view,
            "units": self.units,
            "axes": self.axes,
            "rate_hz": self.rate,
            "scale_px_per_m": self.scale_px_per_m,
            "source": self.source,
            "notes": list(self.notes),
        }
        return csv.as_files(path, self.times, self.positions, self.names, meaning)

    @property
    def axes(self) -> str:
        """Return where the axes point, in words."""
        return AXES[self.view]

    def __contains__(self, name: object) -> bool:
        return name in self.names

    def __getitem__(self, name: str) -> NDArray[np.float64]:
        """Return the positions of one point, (time, 2 or 3) in `units`."""
        if name not in self.names:
            raise TracksError(
                f'there is no point "{name}"{tables.closest(name, self.names) or "."} '
                f"The points: {', '.join(self.names)}"
            )
        return self.positions[:, self.names.index(name)]

    def __repr__(self) -> str:
        scale = f", {self.scale_px_per_m:.1f} px/m" if self.scale_px_per_m else ""
        return (
            f"Tracks: {self.view}, {len(self.names)} points, {self.times.size} frames "
            f"at {self.rate:.4g} Hz, {self.units}{scale}"
        )

    def noting(self, sentence: str, **changes: Any) -> Tracks:
        """Return tracks with fields changed and a sentence that says so."""
        notes = tuple(dict.fromkeys((*self.notes, sentence)))
        return replace(self, notes=notes, **changes)

    def in_metres(self) -> Tracks:
        """Return the same tracks in metres.

        Raises TracksError if this is a picture without a scale.
        """
        if self.units == "m":
            return self
        if self.scale_px_per_m is None:
            raise TracksError(
                "these positions are pixels without a scale; give one with "
                "tracks.scaled_by() if plate_top and plate_bottom are among the points, or with "
                'tracks.scaled_by("hip_r", "knee_r", length_m=…) from a measured length'
            )
        metres = self.positions / self.scale_px_per_m
        return replace(self, positions=metres, units="m", scale_px_per_m=None)

    def scaled_by(
        self,
        first: str = "plate_top",
        second: str = "plate_bottom",
        length_m: float | None = None,
        *,
        nearer_m: float = 0.0,
        distance_m: float | None = None,
    ) -> Tracks:
        """Return tracks whose scale comes from two points a known length apart.

        The length is that of a plate, 0.450 m [iwf], unless given. A plate
        hangs nearer the camera than the lifter and looks larger: say by
        how much, and how far the camera stands. Raises TracksError.
        """
        scale = measured_scale(self, first, second, length_m)
        if nearer_m:
            if distance_m is None or not abs(nearer_m) < distance_m:
                raise TracksError(
                    f"{first} is {nearer_m:g} m nearer than the lifter, but the camera's distance "
                    f"is {distance_m}; give distance_m, the camera to the lifter's middle, in m"
                )
            scale *= (distance_m - nearer_m) / distance_m
        words = f"The scale, {scale:.1f} px/m, comes from {first} and {second}."
        return plausible(self.noting(words, scale_px_per_m=scale))

    def evenly_timed(self) -> Tracks:
        """Return tracks with one frame at every beat of `rate`.

        Dropped frames come back as missing, uneven ones are moved to the
        beat along straight lines; even tracks are returned as they are.
        Raises TracksError if most frames are missing.
        """
        try:
            even = frames.on_the_beat(self.times, self.positions, self.rate)
        except ValueError as error:
            raise TracksError(str(error)) from error
        tracks = self
        if even.missing:
            words = (
                f"{even.missing} of {even.times.size} frames were dropped; they count as missing."
            )
            tracks = tracks.noting(words, times=even.times, positions=even.values)
        if even.moved:
            words = f"The frames were unevenly spaced and were put on an even {self.rate:.4g} Hz."
            tracks = tracks.noting(words, times=even.times, positions=even.values)
        return tracks

    def bridged(self, longest_s: float = BRIDGED_S) -> Tracks:
        """Return tracks with short gaps filled by straight lines.

        Gaps longer than ``longest_s`` seconds, and those at either end,
        stay missing. The notes tell how many of each.
        """
        gappy = np.flatnonzero(np.isnan(self.positions).any(axis=(0, 2)))
        if not gappy.size:
            return self
        positions, short, long = self.positions.copy(), 0, 0
        longest = longest_s * self.rate + 0.01  # frames; a hair more, for times are rounded
        for point in gappy:
            bridged = frames.bridge(self.positions[:, point], self.times, longest)
            positions[:, point] = bridged.values
            short += bridged.filled
            long += bridged.left
        positions.flags.writeable = False
        tracks = self
        if short:
            words = f"Gaps up to {longest_s:g} s, {short} in all, were filled by straight lines."
            tracks = tracks.noting(words, positions=positions)
        if long:
            words = f"Gaps longer than {longest_s:g} s or at an end, {long} in all, stay missing."
            tracks = tracks.noting(words)
        return tracks


def receive(
    times: ArrayLike,
    positions: ArrayLike,
    names: Sequence[str],
    *,
    view: str | None = None,
    units: str | None = None,
    axes: str | None = None,
    scale_px_per_m: float | None = None,
    rate: float = 0.0,
    source: str = "",
    notes: Sequence[str] = (),
    required: Collection[str] = (),
    bridge_s: float = BRIDGED_S,
) -> Tracks:
    """Return tracks in our units and axes, after every check there is.

    Positions (time, point, axis) are in units "px", "m", "cm" or "mm";
    ``axes`` says where x, y and z point ("x right, y forward, z up").
    Gaps up to ``bridge_s`` seconds are filled. What was changed is in
    the notes. Raises TracksError.
    """
    positions = _kept(positions)
    names = _names(names)
    if positions.ndim != 3:
        raise TracksError(
            f"positions have shape {positions.shape}; give (time, point, axis), with two or three "
            "axes"
        )
    if positions.shape[1] != len(names):
        raise TracksError(f"there are {positions.shape[1]} points and {len(names)} names for them")
    view, units = _declared(positions.shape[-1], view, units)
    notes = list(notes)
    if units in ("cm", "mm"):
        positions = positions * METRES_IN[units]
        notes.append(f"The positions were in {units} and were converted to m.")
    missing = np.isnan(positions)
    half = missing.any(axis=2) & ~missing.all(axis=2)
    if half.any():
        positions = np.where(half[:, :, np.newaxis], np.nan, positions)
        notes.append(f"{half.sum()} positions lacked one axis and count as missing.")
    seen = ~np.isnan(positions).all(axis=(0, 2))
    if not seen.any():
        raise TracksError("no position is given in any frame; track the points and export again")
    if not seen.all():
        unseen = ", ".join(name for name, there in zip(names, seen, strict=True) if not there)
        notes.append(f"Never seen and left out: {unseen}.")
        positions, names = positions[:, seen], [names[i] for i in np.flatnonzero(seen)]
    units = "px" if units == "px" else "m"
    tracks = Tracks(times, positions, names, view, units, scale_px_per_m, rate, source, notes)
    _check_length(tracks)
    if view == "3d":
        # Hips are predicted from pelvis markers in our axes, so tracks are turned first.
        tracks = with_hips(tracks if axes is None else turned(tracks, axes))
        axes = None
    _check_points(tracks, required)
    tracks = doubted(untangled(plausible(oriented(tracks, axes))))
    tracks = possible(tracks.evenly_timed()).bridged(bridge_s)
    if view == "3d":
        return tracks
    if view == "front" and not any({f"{j}_r", f"{j}_l"} <= set(tracks.names) for j in LEG):
        tracks = tracks.noting("Most points of a front view are missing: is this a side view?")
    return tracks.noting(
        f"This is a picture, the {view} view alone: what moves toward or away from the camera "
        "cannot be told."
    )


def _asking_once(reading: Callable[..., Tracks], declared: dict[str, Any]) -> Tracks:
    """Return what ``reading`` makes of what is declared.

    What is not declared is asked for in one TracksError: after each the
    reading goes on with the first value that was offered, to the next.
    """
    errors: list[TracksError] = []
    asked: dict[str, Argument] = {}
    trial = dict(declared)
    while True:
        try:
            tracks = reading(**trial)
        except TracksError as error:
            new = {argument.name: argument for argument in error.arguments}
            if not new.keys() - asked.keys():
                # Wrong for another reason, which may be that a value was only a trial.
                if not errors:
                    raise
                break
            errors.append(error)
            asked |= {name: new[name] for name in new if name not in asked}
            for name, argument in new.items():
                value = argument.values[0]
                trial[name] = (declared["points"] or {}) | value if name == "points" else value
        else:
            if not errors:
                return tracks
            break
    first, *others = errors
    if not others:
        raise first
    also = [part for error in others for part in (". Also, ", *error.parts)]
    examples = [part for name in asked for part in (" ", asked[name].first())]
    raise TracksError(*first.parts, *also, ". All together, for example:", *examples) from first


def _kept(values: ArrayLike) -> NDArray[np.float64]:
    """Return values as a read-only array; TracksError for what is no number."""
    # Read-only floats already belong to other frozen tracks: sharing them saves a copy of a
    # long recording each time one field is changed.
    if isinstance(values, np.ndarray) and values.dtype == float and not values.flags.writeable:
        return values
    try:
        array = numbers("times or positions", values)
    except ValueError as error:
        raise TracksError(str(error)) from error
    array.flags.writeable = False
    return array


def _names(given: Sequence[str]) -> tuple[str, ...]:
    """Return the names of points, or raise TracksError for what are none."""
    if isinstance(given, str) or not isinstance(given, Collection):
        raise TracksError(f"names is {shown(given)}; give a list with a name for each point")
    if wrong := [name for name in given if not isinstance(name, str)]:
        raise TracksError(f"a name is {shown(wrong[0])}; names of points are text")
    return tuple(given)


def _check_kind(view: str, units: str, scale: float | None) -> None:
    """Raise TracksError for a view, unit or scale that tracks cannot have."""
    if not isinstance(view, str) or view not in AXES:
        raise TracksError(f"the view is {shown(view)}; it must be one of {', '.join(AXES)}")
    if not isinstance(units, str) or units not in UNITS:
        raise TracksError(f"the units are {shown(units)}; they must be m or px")
    if scale is not None and not (isinstance(scale, Real) and np.isfinite(scale)):
        raise TracksError(f"the scale is {shown(scale)}; give px per m, or leave it out")
    if units == "px" and view == "3d":
        raise TracksError("positions in space cannot be in px; give them in m")
    if scale is not None and (units == "m" or not 1 <= scale <= 1e5):
        raise TracksError(
            f"the scale is {scale:g} px per m for positions in {units}; a scale belongs to px and "
            "lies between 1 and 100000"
        )


def _check_shape(times: NDArray, positions: NDArray, names: tuple[str, ...], view: str) -> None:
    """Raise TracksError for arrays that do not fit each other."""
    axes = 3 if view == "3d" else 2
    expected = (times.size, len(names), axes)
    if times.ndim != 1 or positions.shape != expected:
        raise TracksError(
            f"positions are {positions.shape} and times {times.shape} with {len(names)} names; in "
            f"the view {view} positions are (time, point, {axes}), here {expected}"
        )
    twice = sorted(name for name, count in Counter(names).items() if count > 1)
    if twice or not names:
        raise TracksError(f"each point needs a name of its own; there twice: {', '.join(twice)}")


def _checked_rate(declared: float, times: NDArray[np.float64]) -> float:
    """Return the declared rate, Hz, if the times agree; theirs if none is."""
    rate_of_times = frames.rate_of(times)
    if not isinstance(declared, Real) or isinstance(declared, bool):
        raise TracksError(f"the rate is {shown(declared)}; give frames per second, in Hz")
    if not declared:
        return rate_of_times
    if not abs(declared / rate_of_times - 1) < frames.RATE_AGREES:
        raise TracksError(
            f"the rate is given as {declared:g} Hz but the times say {rate_of_times:.4g} Hz; "
            "correct one of them, or leave the rate out"
        )
    return float(declared)


def _declared(axes: int, view: str | None, units: str | None) -> tuple[str, str]:
    """Return view and units; TracksError where a picture's are not declared."""
    asked = []
    for name, given in (("view", view), ("units", units)):
        if given is not None and not isinstance(given, str):
            raise TracksError(f"{name} is {shown(given)}; give text")
    if axes == 3:
        view, units = view or "3d", units or "m"
    if view is None:
        asked.append(Argument("view", ("side", "front", "oblique")))
    if units is None:
        asked.append(Argument("units", ("px", "m")))
    if asked:
        raise TracksError(
            "positions with two axes are a picture; neither the heading nor a side file says "
            "what kind. Give it when reading: ",
            asked[0],
            *(part for argument in asked[1:] for part in (" and ", argument)),
        )
    if not isinstance(units, str) or units not in ("px", *METRES_IN):
        raise TracksError(f'the units are "{units}"; they must be px, {", ".join(METRES_IN)}')
    return view, units


def _check_points(tracks: Tracks, required: Collection[str]) -> None:
    """Raise TracksError unless one leg and all required points are there."""
    lacking = [name for name in required if name not in tracks]
    legs = {side: _lacking_of_leg(tracks, side) for side in "rl"}
    lacking += [name for name in min(legs.values(), key=len) if name not in lacking]
    if lacking:
        raise TracksError(_no_hip(tracks), *_lacking_words(tracks, lacking))
    together = [
        ~np.isnan([tracks[name] for name in _leg_of(tracks, side)]).any(axis=(0, 2))
        for side, missing in legs.items()
        if not missing
    ]
    if not any(seen.sum() >= FEWEST for seen in together):
        raise TracksError(
            f"hip, knee and ankle of one leg are seen together in {max(map(np.sum, together))} "
            f"frames; at least {FEWEST} are needed. Track them through the whole movement"
        )


def _leg_of(tracks: Tracks, side: str) -> list[str]:
    """Return the points that make a leg of a side, "r" or "l".

    From the side one ankle stands for the other: both are on the floor at
    nearly the same place, and plates often hide one. Where there is none
    depth and tempo still rest on hip and knee.
    """
    hip, knee, ankle, other = (
        f"hip_{side}",
        f"knee_{side}",
        f"ankle_{side}",
        f"ankle_{'l' if side == 'r' else 'r'}",
    )
    if tracks.view == "side" and ankle not in tracks:
        if other in tracks:
            return [hip, knee, other]
        if not _may_be_named_otherwise(tracks, ankle):
            return [hip, knee]
    return [hip, knee, ankle]


def _may_be_named_otherwise(tracks: Tracks, point: str) -> bool:
    """Tell whether a label that we do not know may mean a point."""
    unknown = [name for name in tracks.names if name not in POINTS]
    return bool(hints(unknown, [point]) or tables.closest(point, unknown))


def _lacking_of_leg(tracks: Tracks, side: str) -> list[str]:
    return [name for name in _leg_of(tracks, side) if name not in tracks]


def _no_hip(tracks: Tracks) -> str:
    """Return in words that a hip is missing, and what that means; '' with one."""
    if "hip_r" in tracks or "hip_l" in tracks:
        return ""
    # All of these markers would have given hips.
    instead = f" In space {', '.join(PELVIS_MARKERS)} would do in its place."
    return (
        "no hip is among the points, so nothing can be measured: where a repetition begins and "
        "ends, depth, lean and timing all rest on it."
        f"{instead if tracks.view == '3d' else ''} "
    )


def _lacking_words(tracks: Tracks, lacking: Sequence[str]) -> tuple[str | Argument, ...]:
    """Return what is missing, what there is, and what may be it, as parts of an error."""
    other = [name for name in tracks.names if name not in POINTS]
    return (
        f"required points are missing: {', '.join(lacking)}"
        f"{tables.closest(lacking[0], other) or '.'} There are: {', '.join(tracks.names)}. "
        "Needed are at least hip, knee and ankle of one leg (from the side hip and knee), named "
        "hip_r, knee_r, ankle_r or hip_l, knee_l, ankle_l; ",
        *(suggestion(other, lacking) if other else ("track them",)),
    )


def _check_length(tracks: Tracks) -> None:
    """Raise TracksError for too few frames, or a rate no camera has."""
    if tracks.times.size < FEWEST:
        raise TracksError(
            f"there are only {tracks.times.size} frames; a movement needs at least {FEWEST}. "
            "Export the whole repetition"
        )
    if not RATES_HZ[0] <= tracks.rate <= RATES_HZ[1]:
        raise TracksError(
            f"the times say {tracks.rate:.3g} frames per second; cameras take {RATES_HZ[0]:g} to "
            f"{RATES_HZ[1]:g}. Time is in seconds: divide milliseconds by 1000, or frame numbers "
            "by the frame rate"
        )
