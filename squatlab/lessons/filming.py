"""What a camera does to what is read: many films of squats that are known exactly."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from squatlab import faults
from squatlab.motion import Camera, Injection, Rep, draw_person, film
from squatlab.review import ErrorModel, Findings, ReviewError, measure
from squatlab.review.errors import CannotTell
from squatlab.review.measurers import MEASURERS
from squatlab.review.quantities import Quantities
from squatlab.review.view import as_filmed, views_of
from squatlab.tracks import TracksError

HALFWAY = 2.5
"""Severity of the faults that are put in: halfway from clear to gross."""

TRIES = 500
"""So many lifters may fail before it is said that nobody can do it."""

VIEWS = {"side": Camera.side, "front": Camera.front}


def exactly(rep: Rep) -> Findings:
    """Return what is read from the exact points in space."""
    errors = ErrorModel.exact()
    return measure(rep.tracks(), lifter=rep.lifter, bar_kg=rep.bar.mass_kg, errors=errors)


def filmed(rep: Rep, camera: Camera, rng: np.random.Generator | None = None) -> Findings | None:
    """Return what is read from a film, the camera's place declared.

    That it stands off square is not declared, for nobody knows it. Values
    are taken as they are read, to show what a camera does to them. None
    where the film shows no repetition.
    """
    tracks = film(rep.points, rep.time, camera, rng)
    try:
        return measure(
            tracks,
            lifter=rep.lifter,
            bar_kg=rep.bar.mass_kg,
            camera=camera,
            errors=ErrorModel.exact(),
        )
    except (ReviewError, TracksError):
        return None


def value_read(
    fault: str, rep: Rep, camera: Camera, rng: np.random.Generator | None = None
) -> float:
    """Return what a film reads of one fault in one repetition; nan for "cannot tell".

    The same as in `filmed`, sooner: nothing else is read.
    """
    if faults.fault(fault).view not in ("any", camera.view):
        return np.nan
    tracks = film(rep.points, rep.time, camera, rng)
    try:
        (view,) = views_of(tracks, lifter=rep.lifter, bar_kg=rep.bar.mass_kg, camera=camera)
        if not view.repetitions:
            return np.nan
        return float(MEASURERS[fault](Quantities(view), view.repetitions[0]).value)
    except (CannotTell, ReviewError, TracksError):
        return np.nan


def errors(found: Findings | None, exact: Findings) -> dict[str, float]:
    """Return by how much each fault is misread, in its unit; nan for "cannot tell"."""
    return {f.fault: (found[f.fault].value if found else np.nan) - f.value for f in exact}


def on_screen(rep: Rep, camera: Camera | None = None, view: str = "side") -> dict[str, complex]:
    """Return every point at the lowest instant, as on the screen: across, up.

    In m at the lifter's middle, mid-foot below 0, also what lies outside
    the picture. Without a camera as from infinitely far, straight on.
    """
    points = {name: point[rep.bottom] for name, point in rep.points.items()}
    if camera is None:
        across, sign = (0, 1) if view == "side" else (2, -1)
        return {name: complex(sign * p[across], p[1]) for name, p in points.items()}
    wide = replace(camera, width_px=10_000, height_px=10_000)
    seen = (wide.project(np.stack(list(points.values()))) - 5000) / camera.px_per_m
    return dict(zip(points, (seen @ (1, 1j) + 1j * camera.height_m).tolist(), strict=True))


class ByEye(NamedTuple):
    """Hold what a protractor on the screen reads: lean and thigh from the
    side; tilt of the bar, °, and hips beside the feet, cm, from the front.
    """

    lean_deg: ArrayLike
    thigh_deg: ArrayLike
    tilt_deg: ArrayLike
    hips_aside_cm: ArrayLike

    @property
    def thigh(self) -> str:
        """Return the thigh of one screen in words, as in "3.6° below level"."""
        side = "below" if self.thigh_deg < 0 else "above"
        return f"{abs(self.thigh_deg):.1f}° {side} level"


def by_eye(points: Mapping[str, ArrayLike]) -> ByEye:
    """Read the lines on a screen, as `on_screen` gives them, uncorrected.

    Points may be arrays, of several screens.
    """
    side, front = (Quantities(as_filmed(kind, points)) for kind in ("side", "front"))
    lean, thigh, tilt, aside = (
        quantity.series[..., 0][()]
        for quantity in (side.trunk_lean, side.thigh_line, front.bar_slope, front.hips_aside)
    )
    return ByEye(lean, thigh, tilt, -aside)


def onset_spread_ms(rep: Rep, camera: Camera, count: int = 60, seed: int = 1) -> float:
    """Return the SD, over many films, of who begins first by how much, ms."""
    rng = np.random.default_rng(seed)
    read = [value_read("knees_first", rep, camera, rng) for _ in range(count)]
    return float(np.nanstd(read, ddof=1))


class FilmedCase(NamedTuple):
    """Hold one filmed lifter and the fault that was put in, "" for none."""

    rep: Rep
    fault: str


def cast(each: int = 3, clean: int = 40, seed: int = 1) -> tuple[FilmedCase, ...]:
    """Draw lifters of many builds: ``each`` per fault, and clean ones.

    A clean lifter has no fault, not even a slight one, by exact points;
    the others read as clear or gross in theirs and can do it [ansur2].
    """
    rng = np.random.default_rng(seed)
    wanted = ["", *faults.catalogue()]
    found = {
        fault: [_drawn(fault, rng) for _ in range(each if fault else clean)] for fault in wanted
    }
    return tuple(FilmedCase(rep, fault) for fault, reps in found.items() for rep in reps)


def _drawn(fault: str, rng: np.random.Generator) -> Rep:
    for _ in range(TRIES):
        size = [Injection(fault, float(faults.fault(fault).value_at(HALFWAY)))] if fault else []
        rep = draw_person(rng).squat(size, rng)
        if rep.feasible and (fault or rep.clean):
            read = exactly(rep)
            if read[fault].severity >= 2 if fault else not read.present():
                return rep
    raise ValueError(
        f"none of {TRIES} lifters drawn can squat with {fault or 'no fault at all'} in this size; "
        "look at its sizes in faults.csv"
    )


class Score(NamedTuple):
    """Hold shares in %: of faults found, of clean lifters blamed for one."""

    found: float
    blamed: float


def score(people: Iterable[FilmedCase], seed: int = 1, **camera: Any) -> Score:
    """Return how well clear faults are told with cameras changed like this.

    A fault counts as found if its view calls it clear or gross, a clean
    lifter as blamed if anything is called so from the side or the front.
    The same seed gives the same noise.
    """
    found, blamed = [], []
    for number, (rep, fault) in enumerate(people):
        rng = np.random.default_rng([seed, number])
        if fault:
            of = faults.fault(fault)
            seen_from = VIEWS["side" if of.view == "any" else of.view](**camera)
            found.append(str(of.size(value_read(fault, rep, seen_from, rng))) in CALLED)
        else:
            films = [filmed(rep, view(**camera), rng) for view in VIEWS.values()]
            blamed.append(any(f.size in CALLED for read in films if read for f in read))
    return Score(*(100 * float(np.mean(hits)) for hits in (found, blamed)))


CALLED = ("clear", "gross")
"""The sizes in which a fault is called."""
