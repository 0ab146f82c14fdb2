"""Synthetic squats for the tests of the review, and what cameras see of them."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np

from squatlab import Bar, Lifter, Stance
from squatlab.motion import Camera, Injection, Tempo, film, synthesise
from squatlab.review import ErrorModel, measure
from squatlab.tracks import Tracks

LIFTER, BAR_KG = Lifter.from_stature(1.75, 80), 80.0
SIDE, FRONT, OBLIQUE = Camera.side(), Camera.front(), Camera.oblique()
DECLARED = {"lifter": LIFTER, "bar_kg": BAR_KG, "camera": SIDE, "errors": ErrorModel.exact()}


@cache
def squat(*faults, repetitions=1, turnout=14.0, **manner):
    """Return a repetition with faults (name, size[, onset])."""
    injections = [Injection(*fault) for fault in faults]
    tempo = Tempo(repetitions=repetitions)
    return synthesise(LIFTER, Bar.high(BAR_KG), Stance(0.34, turnout), tempo, injections, **manner)


def filmed(rep, *cameras, rng=None):
    """Return what each camera sees: side and front unless told."""
    return [film(rep.points, rep.time, camera, rng) for camera in cameras or (SIDE, FRONT)]


def reviewed(rep, *cameras, rng=None, **declared):
    """Return the findings of a repetition as filmed, everything declared."""
    return measure(*filmed(rep, *cameras, rng=rng), **(DECLARED | declared))


def without(tracks, *names):
    """Return tracks without some points."""
    kept = [i for i, name in enumerate(tracks.names) if name not in names]
    return replace(
        tracks, positions=tracks.positions[:, kept], names=tuple(tracks.names[i] for i in kept)
    )


def hiding(tracks, name, begin_s, end_s):
    """Return tracks in which a point is not seen for a while."""
    positions = tracks.positions.copy()
    frames = (tracks.times >= begin_s) & (tracks.times <= end_s)
    positions[frames, tracks.names.index(name)] = np.nan
    return replace(tracks, positions=positions)


def renamed(tracks: Tracks, old: str, new: str) -> Tracks:
    """Return tracks whose points of one side carry the other side's names."""
    names = [n.removesuffix(old) + new if n.endswith(old) else n for n in tracks.names]
    return replace(tracks, names=tuple(names))
