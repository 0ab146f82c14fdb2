"""Values of mechanics to be worked out by hand, with their keys computed."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.random import Generator

from squatlab import tables
from squatlab.lifter import Lifter
from squatlab.mechanics.balance import pose
from squatlab.mechanics.legs import Stance
from squatlab.mechanics.posture import Posture
from squatlab.mechanics.trunk import Bar, spot_of_bar
from squatlab.units import MASS, WORKED_LENGTH

VERSION = 3
"""Of how these are worded; another wording is another item."""


class WorkedNumber(NamedTuple):
    """Hold a question for a number, right within ``tolerance`` of ``unit``."""

    prompt: str
    right: float
    tolerance: float
    unit: str
    why: str
    source: str = "teaching-value"


def _posture(rng: Generator) -> Posture:
    """Return somebody who holds a lean in whole degrees, thighs level."""
    lifter = Lifter.from_stature(rng.integers(158, 193) / 100, float(rng.integers(58, 101)))
    bar = Bar.high(10.0 * int(rng.integers(6, 15)))
    return pose(lifter, bar, Stance(), int(rng.integers(25, 56)))


def hip_arm(rng: Generator) -> WorkedNumber:
    """Ask how far the bar is ahead of the hip."""
    posture = _posture(rng)
    spot, lean = spot_of_bar(posture.lifter, posture.bar), float(posture.trunk_deg)
    return WorkedNumber(
        f"The bar lies {WORKED_LENGTH.words(spot.along)} up the back from the hip and "
        f"{WORKED_LENGTH.words(spot.behind)} behind the line of the trunk, which leans "
        f"{lean:.0f}°. How many cm is the bar ahead of the hip?",
        100 * float(posture.moment_arms().hip_bar),
        1.0,
        "cm",
        f"Up the back times sin {lean:.0f}°, less what lies behind times cos {lean:.0f}°.",
    )


def bar_moment(rng: Generator) -> WorkedNumber:
    """Ask what the bar alone asks of one hip."""
    posture = _posture(rng)
    arm, load = round(100 * float(posture.moment_arms().hip_bar)), float(posture.bar.mass_kg)
    return WorkedNumber(
        f"The line of a bar of {MASS.words(load)} passes {WORKED_LENGTH.words(arm / 100)} ahead "
        f"of both hips. How many N·m must each hip hold for the bar alone? Take {tables.G} m/s².",
        0.5 * tables.G * load * arm / 100,
        3.0,
        "N·m",
        f"{load:g} kg × {tables.G} m/s² × {arm / 100:.2f} m, half of it for each hip.",
    )


def centre_shift(rng: Generator) -> WorkedNumber:
    """Ask how far lifter and bar together move when the bar alone does."""
    posture, ahead = _posture(rng), int(rng.integers(4, 11))
    body, load = float(posture.lifter.mass_kg), float(posture.bar.mass_kg)
    return WorkedNumber(
        f"A lifter of {MASS.words(body)} lets a bar of {MASS.words(load)} drift "
        f"{WORKED_LENGTH.words(ahead / 100)} forward and holds all else still. How many "
        "cm does the centre of mass of both together move?",
        ahead * load / (load + body),
        0.2,
        "cm",
        f"By the bar's share of all the mass: {ahead} cm × {load:g} / {load + body:g}.",
    )


def thigh_from_the_side(rng: Generator) -> WorkedNumber:
    """Ask how long a level thigh looks from the side, turned out."""
    posture, out = _posture(rng), 5 * int(rng.integers(2, 9))
    thigh = round(100 * float(posture.lifter.thigh_m), 1)
    return WorkedNumber(
        f"A level thigh of {WORKED_LENGTH.words(thigh / 100)} points {out}° out. How many cm long "
        "does a camera square to the side see it?",
        thigh * float(np.cos(np.radians(out))),
        0.4,
        "cm",
        f"What points out is lost to the side: {thigh:.1f} cm × cos {out}°.",
    )


NUMBERS: dict[str, Callable[[Generator], WorkedNumber]] = {
    maker.__name__: maker for maker in (hip_arm, bar_moment, centre_shift, thigh_from_the_side)
}
"""What a cell of the kind ``number`` may draw."""
