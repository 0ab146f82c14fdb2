"""Recordings of what no body does: clean and faulty squats, each spoilt in one way."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from squatlab.review import ErrorModel, ReviewError, measure
from squatlab.signals import split_repetitions
from squatlab.tracks import Tracks, TracksError, receive

Points = dict[str, NDArray[np.float64]]
"""Places (time, axis) in m by name, y up; what a kind changes."""


class Recording(NamedTuple):
    """Hold a spoilt recording, how it is spoilt, and which point in which frames (or None)."""

    kind: str
    tracks: Tracks
    point: str = ""
    frames: slice | None = None


class Moments(NamedTuple):
    """Hold frames of a squat: how many, the start of the descent, the lowest, the end."""

    count: int
    start: int
    bottom: int
    end: int


class Spoilt(NamedTuple):
    """Hold the changed points and, where only some frames of a point are, which."""

    points: Points
    point: str = ""
    frames: slice | None = None


Kind = Callable[[Points, Moments, np.random.Generator], Spoilt]
KINDS: dict[str, tuple[tuple[str, ...], Kind]] = {}
"""Each kind with the views in which it can be seen."""


def kind(*views: str) -> Callable[[Kind], Kind]:
    """Enter a function among the kinds, by its name."""

    def entered(function: Kind) -> Kind:
        KINDS[function.__name__] = (views, function)
        return function

    return entered


EVERY = ("side", "front", "3d")


def _across(view_axes: int, size: float) -> NDArray[np.float64]:
    """Return a way along x, in two or three axes."""
    return np.array([size, 0.0, 0.0][:view_axes])


def _legs(points: Points, joint: str) -> list[str]:
    return [f"{joint}_{side}" for side in "rl" if f"{joint}_{side}" in points]


@kind(*EVERY)
def point_flies_off(points, moments, rng):
    """A joint is metres off for a few frames, as where another person walks through."""
    name = str(rng.choice([n for j in ("ankle", "knee", "hip") for n in _legs(points, j)]))
    begin = int(rng.integers(moments.start, moments.end - 8))
    frames = slice(begin, begin + int(rng.integers(3, 8)))
    points[name][frames] += _across(points[name].shape[1], rng.choice([-1, 1]) * rng.uniform(1, 3))
    return Spoilt(points, name, frames)


@kind(*EVERY)
def knees_nailed(points, moments, rng):
    for name in _legs(points, "knee"):
        points[name][:] = points[name][: moments.start].mean(axis=0)
    return Spoilt(points)


@kind(*EVERY)
def trunk_nailed(points, moments, rng):
    for name in ("c7", *_legs(points, "shoulder")):
        if name in points:
            points[name][:] = points[name][: moments.start].mean(axis=0)
    return Spoilt(points)


@kind("front")
def bar_nailed(points, moments, rng):
    for name in _legs(points, "bar_end"):
        points[name][:] = points[name][: moments.start].mean(axis=0)
    return Spoilt(points)


@kind("side", "3d")
def knees_bend_backward(points, moments, rng):
    for side in "rl":
        ankle, knee, hip = (f"{joint}_{side}" for joint in ("ankle", "knee", "hip"))
        if {ankle, knee, hip} <= set(points):
            line = points[hip] - points[ankle]
            length = np.linalg.norm(line, axis=1, keepdims=True)
            along = ((points[knee] - points[ankle]) * line).sum(1, keepdims=True) / length**2
            foot = points[ankle] + along * line
            points[knee] = 2 * foot - points[knee]
    return Spoilt(points)


@kind("side", "front")
def stretched_16_to_9(points, moments, rng):
    return Spoilt({name: place * (16 / 9, 1.0) for name, place in points.items()})


@kind("3d")
def depth_halved(points, moments, rng):
    return Spoilt({name: place * (0.4, 1.0, 1.0) for name, place in points.items()})


def _exchanged(points: Points, one: str, other: str) -> Spoilt:
    """Return points of which two carry each other's names, on both sides."""
    for side in "rl":
        first, second = f"{one}_{side}", f"{other}_{side}"
        first = first if first in points else one
        second = second if second in points else other
        if {first, second} <= set(points):
            points[first], points[second] = points[second], points[first]
    return Spoilt(points)


@kind("side", "3d")
def hip_and_shoulder_exchanged(points, moments, rng):
    return _exchanged(points, "hip", "shoulder" if _legs(points, "shoulder") else "c7")


@kind(*EVERY)
def knee_and_ankle_exchanged(points, moments, rng):
    return _exchanged(points, "knee", "ankle")


@kind(*EVERY)
def hip_and_knee_exchanged(points, moments, rng):
    return _exchanged(points, "hip", "knee")


@kind(*EVERY)
def walks_three_metres(points, moments, rng):
    way = np.linspace(0, rng.choice([-3.0, 3.0]), moments.count)[:, np.newaxis]
    return Spoilt({n: p + way * _across(p.shape[1], 1.0) for n, p in points.items()})


@kind(*EVERY)
def lifted_as_one(points, moments, rng):
    """The points of a stick that goes down and up: nothing bends."""
    hip = points[_legs(points, "hip")[0]][:, 1]
    way = np.zeros_like(next(iter(points.values())))
    way[:, 1] = hip - hip[: moments.start].mean()
    return Spoilt({n: p[: moments.start].mean(axis=0) + way for n, p in points.items()})


@kind(*EVERY)
def shaken(points, moments, rng):
    return Spoilt({n: p + rng.normal(0, 0.12, p.shape) for n, p in points.items()})


@kind(*EVERY)
def frames_shuffled(points, moments, rng):
    order = rng.permutation(moments.count)
    return Spoilt({n: p[order] for n, p in points.items()})


@kind(*EVERY)
def jumps_to_the_bottom(points, moments, rng):
    """Half of the way down is cut out: the hips are low from one frame to the next."""
    for place in points.values():
        place[moments.start : moments.bottom] = place[: moments.start].mean(axis=0)
    return Spoilt(points)


@kind(*EVERY)
def through_the_floor(points, moments, rng):
    for name in points:
        if not name.startswith(("ankle", "heel", "toe")):
            lowered = points[name][:, 1] - points[name][: moments.start, 1].mean()
            points[name][:, 1] += 0.8 * np.minimum(lowered, 0)
    return Spoilt(points)


@kind(*EVERY)
def leaps(points, moments, rng):
    up = np.zeros(moments.count)
    up[moments.bottom : moments.end] = np.hanning(moments.end - moments.bottom) * 2.0
    for place in points.values():
        place[:, 1] += up
    return Spoilt(points)


def _sized(points: Points, leg_m: float) -> Spoilt:
    """Return somebody whose leg, standing, is so long."""
    hip, ankle = _legs(points, "hip")[0], _legs(points, "ankle")[0]
    factor = leg_m / np.linalg.norm(points[hip][0] - points[ankle][0])
    return Spoilt({name: place * factor for name, place in points.items()})


@kind(*EVERY)
def giant(points, moments, rng):
    return _sized(points, rng.uniform(1.25, 1.4))


@kind(*EVERY)
def dwarf(points, moments, rng):
    return _sized(points, rng.uniform(0.42, 0.5))


@kind("side", "front")
def picture_on_its_side(points, moments, rng):
    return Spoilt({n: np.stack([p[:, 1], -p[:, 0]], axis=1) for n, p in points.items()})


@kind("front", "3d")
def one_hip_twice(points, moments, rng):
    points["hip_l"] = points["hip_r"].copy()
    return Spoilt(points)


@kind("side", "3d")
def thigh_grows(points, moments, rng):
    for side in "rl":
        hip, knee = f"hip_{side}", f"knee_{side}"
        if {hip, knee} <= set(points):
            line = points[hip] - points[knee]
            grown = 1 + np.clip(1 - line[:, 1:2] / line[0, 1], 0, 1)
            points[knee] = points[hip] - grown * line
    return Spoilt(points)


@kind(*EVERY)
def two_people(points, moments, rng):
    """The trunk is that of somebody who stands beside."""
    for name in points:
        if name.startswith(("c7", "shoulder", "head", "bar", "l5")):
            points[name] = points[name] + _across(points[name].shape[1], 1.2)
    return Spoilt(points)


@kind("side", "front")
def bar_on_the_floor(points, moments, rng):
    for name in ("bar", "bar_end_r", "bar_end_l"):
        if name in points:
            points[name][:] = points[name][0] - (0.0, 1.2)
    return Spoilt(points)


@kind("side", "3d")
def foot_a_metre_long(points, moments, rng):
    for name in _legs(points, "toe"):
        points[name] = points[name] + _across(points[name].shape[1], 0.8)
    return Spoilt(points)


@kind("side", "3d")
def falls_over(points, moments, rng):
    """The shins lean as no ankle lets them."""
    for side in "rl":
        ankle, knee = f"ankle_{side}", f"knee_{side}"
        if {ankle, knee} <= set(points):
            lean = 1 - np.clip((points["c7"][:, 1] - points["c7"][:, 1].min()) / 0.4, 0, 1)
            shift = 0.5 * lean
            for name, place in points.items():
                if name.startswith(("knee", "hip", "l5", "c7", "bar", "head", "shoulder")):
                    place[:, 0] += shift
                    place[:, 1] -= 0.25 * lean
            break
    return Spoilt(points)


def moments_of(tracks: Tracks) -> Moments | None:
    """Return the frames of the one squat of clean tracks, None if there is not one."""
    hips = [tracks[name][:, 1] for name in ("hip_r", "hip_l") if name in tracks]
    found = split_repetitions(np.mean(hips, axis=0), tracks.times)
    return Moments(tracks.times.size, *found[0]) if len(found) == 1 else None


def in_our_axes(film: Tracks) -> Tracks:
    """Return a film in metres, y up; a plate gives the scale."""
    metres = film.scaled_by().in_metres()
    hip, ankle = (next(n for n in film.names if n.startswith(j)) for j in ("hip", "ankle"))
    is_upside_down = metres[hip][0, 1] < metres[ankle][0, 1]
    return replace(metres, positions=metres.positions * (1, -1)) if is_upside_down else metres


def spoilt(tracks: Tracks, name: str, moments: Moments, rng: np.random.Generator) -> Recording:
    """Return a recording (in m) spoilt in one way, not yet received."""
    points = {n: tracks.positions[:, i].copy() for i, n in enumerate(tracks.names)}
    changed = KINDS[name][1](points, moments, rng)
    positions = np.stack([changed.points[n] for n in tracks.names], axis=1)
    return Recording(name, replace(tracks, positions=positions), changed.point, changed.frames)


def impossible(squats: list[tuple[Tracks, Moments]], seed: int) -> Iterator[Recording]:
    """Give every kind of each squat that shows it."""
    rng = np.random.default_rng(seed)
    for tracks, moments in squats:
        for name, (views, _) in KINDS.items():
            if tracks.view in views:
                yield spoilt(tracks, name, moments, rng)


def received(tracks: Tracks) -> Tracks:
    """Return tracks as a file of them would be received. Raises TracksError."""
    return receive(
        tracks.times,
        tracks.positions,
        tracks.names,
        view=tracks.view,
        units=tracks.units,
        scale_px_per_m=tracks.scale_px_per_m,
    )


def believed(recording: Recording) -> str:
    """Return in words how a recording is believed, or '' if it is refused as it should be.

    Refused is the file, or the point in the frames in question.
    """
    tracks = recording.tracks
    try:
        read = received(tracks)
        measure(read, errors=ErrorModel.exact())
    except (TracksError, ReviewError):
        return ""
    if recording.frames is None:
        return f"{recording.kind}, {tracks.view}"
    place = tracks.positions[recording.frames, tracks.names.index(recording.point)]
    if recording.point in read:
        kept = read[recording.point][recording.frames]
        same = np.isfinite(kept).all(axis=1) & (np.abs(kept) == np.abs(place)).all(axis=1)
        # Where it flies across the other side's the two are first exchanged.
        said = any(n.startswith(recording.point[:-2]) and "not seen there" in n for n in read.notes)
        if same.any() or not said:
            return f"{recording.kind}, {recording.point}, {tracks.view}"
    return ""
