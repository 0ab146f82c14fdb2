"""One lifter with faults put in, filmed by two phones and read; and supposed findings."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from squatlab import faults
from squatlab.faults import Fault
from squatlab.lifter import Lifter
from squatlab.mechanics.legs import Stance
from squatlab.mechanics.trunk import Bar
from squatlab.motion import Camera, Injection, Rep, Tempo, film, synthesise
from squatlab.review import ErrorModel, Finding, Findings, measure
from squatlab.units import cached_words

LIFTER, BAR = Lifter.from_stature(1.75, 80), Bar.high(60)
"""Who squats here, with a load for learning [teaching-value]."""

PHONES = {"side": Camera.side(), "front": Camera.front()}


@cached_words(64)
def squat(descent_s: float = 1.8, **sizes: float) -> Rep:
    """Return one squat of the average lifter, faults put in by name.

    ``sizes`` are in each fault's unit, as in ``squat(knee_valgus=12)``;
    60 frames per second. Raises ValueError for an unknown fault or a
    size out of range.
    """
    put_in = [Injection(name, size) for name, size in sizes.items()]
    tempo = Tempo(descent_s, standing_s=0.6)
    return synthesise(LIFTER, BAR, Stance(), tempo, put_in, rate=PHONES["side"].rate)


@cached_words(64)
def read(rep: Rep, *views: str, load: bool = True, seed: int = 1) -> Findings:
    """Return what phones 4 m away make of it, their places declared.

    ``views`` are "side", "front" or, left out, both; ``load`` says
    whether the masses of lifter and bar are declared.
    """
    rng = np.random.default_rng(seed)
    cameras = {view: PHONES[view] for view in views or PHONES}
    films = [film(rep.points, rep.time, camera, rng) for camera in cameras.values()]
    known = {"lifter": rep.lifter, "bar_kg": rep.bar.mass_kg} if load else {}
    return measure(*films, camera=cameras, errors=ErrorModel.exact(), **known)


def amount(of: Fault, value: float) -> str:
    """Return a value of a fault with its unit, "−" for minus."""
    return Finding(of.id, float(value)).amount


def limits(of: Fault) -> str:
    """Return where the sizes of a fault begin, in words."""
    way = "at" if of.smaller_is_worse else "from"
    sizes = zip(faults.SIZES, of.thresholds, strict=True)
    return ", ".join(f"{size} {way} {amount(of, value)}" for size, value in sizes)


def suppose(**severities: float) -> tuple[Finding, ...]:
    """Return findings as if these severities had been read.

    1 is slight, 2 clear, 3 gross, as in ``suppose(knee_valgus=2.4)``.
    Raises ValueError for an unknown fault.
    """
    found = []
    for name, severity in severities.items():
        fault = faults.fault(name)
        value, size = float(fault.value_at(severity)), str(fault.size(fault.value_at(severity)))
        answer = "yes" if size else "no"
        found.append(Finding(fault.id, value, answer, size, float(severity), view=fault.view))
    return tuple(found)


def projection_angle(rep: Rep) -> NDArray[np.float64]:
    """Return the angle at the right knee as a front view shows it, (frame,) °.

    The usual frontal-plane projection angle: 180 is a straight leg.
    """
    hip, knee, ankle = (rep.points[f"{joint}_r"][:, 1:] for joint in ("hip", "knee", "ankle"))
    up, down = hip - knee, ankle - knee
    lengths = np.linalg.norm(up, axis=1) * np.linalg.norm(down, axis=1)
    return np.degrees(np.arccos(np.clip((up * down).sum(axis=1) / lengths, -1, 1)))
