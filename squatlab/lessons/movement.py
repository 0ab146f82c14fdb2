"""The questions of notebooks 06 and 07: a repetition in time, and filming it."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

from numpy.random import Generator

from squatlab import faults
from squatlab.lifter import Lifter
from squatlab.mechanics.legs import Stance
from squatlab.mechanics.trunk import Bar
from squatlab.motion import Injection, Tempo, synthesise
from squatlab.motion.ascent import ascent_of
from squatlab.motion.effort import BEST
from squatlab.questions.question import Check, choice, number


class SpeedAt(NamedTuple):
    """Hold the bar's speed on the way up, m/s, and when it was, s from the bottom."""

    time_s: float
    speed: float


AVERAGE = 1.75, 80.0
"""Stature and mass of the lifter in the questions, m and kg."""


def what_moves_first(rng: Generator) -> Check:
    """Ask what two onsets mean: no fault, or knees first and how large."""
    knees_first = faults.fault("knees_first")
    size = float(rng.choice([0, 30, 75, 85, 130, 150, 210]))
    put_in = [Injection("knees_first", size)] if size else []
    rep = synthesise(Lifter.from_stature(*AVERAGE), Bar.high(60), Stance(), Tempo(), put_in)
    hip, knee = (round(rep.events[f"{joint}_onset"], 2) for joint in ("hip", "knee"))
    late = round(1000 * (hip - knee))
    called = str(knees_first.size(late))
    names = {"": "no fault"} | {one: f"knees first, {one}" for one in faults.SIZES}
    slight, clear, gross = knees_first.thresholds
    begins = f"Here the knees begin {abs(late)} ms {'before' if late > 0 else 'after'} the hips."
    return choice(
        rng,
        f"The hip has done 5 % of its bending at {hip:.2f} s, the knee at {knee:.2f} s. What does "
        "the catalogue call it?",
        {
            names[""]: f"{begins} From {slight:g} ms on it is a fault.",
            names["slight"]: f"{begins} Slight is {slight:g} to {clear:g} ms before them.",
            names["clear"]: f"{begins} Clear is {clear:g} to {gross:g} ms before them.",
            names["gross"]: f"{begins} Gross begins at {gross:g} ms before them.",
        },
        right=names[called],
        why=f"The knees begin {abs(late)} ms {'before' if late > 0 else 'after'} the hips; from "
        f"{slight:g} ms before it is slight, from {clear:g} clear, from {gross:g} gross.",
        hint="Which of the two begins first, and by how many milliseconds? Then look it up.",
    )


def sticking(rng: Generator) -> Check:
    """Ask how long the sticking region lasts, from the bar's speeds."""
    share = int(rng.integers(19, 22)) * 5
    bar = Bar.high(share / 100 * BEST * AVERAGE[1])
    tempo = Tempo(ascent_s=0.1 * int(rng.integers(16, 26)))
    rep = synthesise(Lifter.from_stature(*AVERAGE), bar, Stance(), tempo)
    up = ascent_of(rep)
    ascent_s = rep.events["ascent"]
    first, slowest, second = (
        SpeedAt(round(float(rep.time[frame] - ascent_s), 2), float(up.speed[frame]))
        for frame in (up.first_peak, up.slowest, up.second_peak)
    )
    return number(
        f"The bar leaves the bottom at 0 s. Its speed peaks at {first.time_s:.2f} s "
        f"({first.speed:.2f} m/s), is lowest at {slowest.time_s:.2f} s ({slowest.speed:.2f} m/s) "
        f"and peaks again at {second.time_s:.2f} s ({second.speed:.2f} m/s). How long is the "
        "sticking region?",
        slowest.time_s - first.time_s,
        unit="s",
        tolerance=0.02,
        why="It runs from the first peak to the slowest moment: "
        f"{slowest.time_s:.2f} − {first.time_s:.2f} s.",
        hint="It is where the bar gets slower and slower although the lifter pushes.",
        slips={
            second.time_s - first.time_s: "That runs from peak to peak. After the slowest moment "
            "the bar is already getting faster.",
            second.time_s - slowest.time_s: "That is where the bar gets faster again: the "
            "sticking is over.",
            slowest.time_s: "That counts from the bottom. At first the bar gets faster, and "
            "nothing sticks yet.",
            first.time_s: "That is how long the bar gets faster out of the bottom.",
        },
    )


def where_to_stand(rng: Generator) -> Check:
    """Ask from where a fault is seen."""
    places = {
        "side": "at the side, square to the lifter",
        "front": "in front, square to the lifter",
        "any": "either, at the side or in front",
        "": "half-way between, at 45°",
    }
    replies = {
        "side": "From the side one sees what moves forward and back, up and down. Is that what "
        "this fault does?",
        "front": "From the front one sees what moves to a side, and what is higher on one side. Is "
        "that what this fault does?",
        "any": "That is so only for what shows in both views, such as how fast the lifter goes "
        "down.",
        "": "From half-way every angle is foreshortened and no line is seen in its true length.",
    }
    wanted = str(rng.choice(["side", "front", "any"], p=[0.4, 0.4, 0.2]))
    fault = rng.choice([f.id for f in faults.catalogue().values() if f.view == wanted])
    entry = faults.fault(str(fault))
    return choice(
        rng,
        f'Where do you put the only phone to judge "{entry.name}"?',
        {words: replies[view] for view, words in places.items()},
        right=places[entry.view],
        why=f"Look for: {entry.look_for.rstrip('?.')}.",
        hint="Imagine the fault. In which direction does something move that should not?",
    )


def frames_needed(rng: Generator) -> Check:
    """Ask how fast to film for timing twice, thrice … as sure."""
    rate, surer = int(rng.choice([30, 60])), float(rng.choice([1.5, 2.0, 2.5, 3.0]))
    wanted = int(rng.integers(8, 20))
    spread = surer * wanted
    # The SD of a mean of n independent errors is σ/√n: to be k times surer takes k² the frames.
    needed = rate * surer**2
    return number(
        f"At {rate} frames per second your timing of who bends first has an SD of {spread:g} ms, "
        f"all from jitter that differs in every frame. You want {wanted} ms with the same filter. "
        "How many frames per second are needed?",
        needed,
        unit="frames per second",
        tolerance=10.0,
        why=f"Jitter averages out with the square root of the frames: {spread:g}/{wanted} = "
        f"{surer:g} times surer takes {surer:g}² times the frames.",
        hint="Four times the frames halve the SD.",
        slips={
            rate * surer: f"With {surer:g} times the frames the SD shrinks only by the square root "
            "of that.",
            rate * math.sqrt(surer): "The square root is taken the wrong way round: more "
            "frames are needed than in proportion.",
            rate * surer**2 - rate: "That is how many more are needed, not how many in all.",
        },
    )


MAKERS: dict[str, Callable[[Generator], Check]] = {
    maker.__name__: maker for maker in (what_moves_first, sticking, where_to_stand, frames_needed)
}
