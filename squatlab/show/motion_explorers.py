"""The explorers of notebooks 06 and 07: a repetition in time, and what a phone sees of it.

Each position of a slider may be another repetition or another film; `explorers`
has those where a position is one posture.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np

from squatlab.lessons.filming import VIEWS, by_eye, errors, exactly, filmed, on_screen
from squatlab.lifter import Lifter
from squatlab.mechanics.legs import Stance
from squatlab.mechanics.posture import Posture
from squatlab.mechanics.trunk import Bar
from squatlab.motion import Camera, Rep, Tempo, synthesise
from squatlab.motion.ascent import ascent_of
from squatlab.motion.effort import BEST
from squatlab.show.controls import Values, choice, measured, slider
from squatlab.show.explorer import Explorer, Pane, Together, positions
from squatlab.show.motion_charts import RepetitionChart, order_words, speed_words
from squatlab.show.moving import joined, per_position, rows_of, worded
from squatlab.show.phone_charts import ErrorChart
from squatlab.show.phone_picture import on_screens, phone_pane, screen_words
from squatlab.show.plot import BESIDE, Chart
from squatlab.show.scene import Words, describe, side_pane
from squatlab.show.views import FRONT, HEIGHT, SIDE
from squatlab.units import DISTANCE, either

__all__ = ["phone", "repetition"]

FEW = 6
"""Positions of the first piece where each takes a repetition or a reading of its own
[teaching-value]."""

STANDING = 20.0
"""Where a picture begins in which the lifter of a repetition stands, picture units."""


def repetition(size: str = "page") -> Explorer:
    """Explore what moves first, how fast, and where a squat sticks.

    Descent, ascent, the hips' lead and the load move a lifter of 80 kg;
    the picture stands at the instant chosen. Beside it: who begins, and
    the bar's speed. ``size`` is "page" or "projector".
    """
    average = Lifter.from_stature(1.75, 80)
    controls = {
        "instant": slider("Time", 1, 0, 5.2, 0.1, " s", zero="first bend"),
        "descent": slider("Descent", 1.8, 0.6, 2.5, 0.1, " s"),
        "ascent": slider("Ascent", 1.8, 1.0, 2.5, 0.1, " s"),
        "lead": slider("Hips start", 100, -200, 200, 10, " ms early", " ms late", "with knees"),
        "load": slider("Load", 85, 10, 100, 5, " % of the best"),
    }
    presets = {
        "Hips first": {"lead": 200, "instant": 0.4},
        "Knees first": {"lead": -200, "instant": 0.4},
        "Bottom": {"instant": 1.9},
        "Best load": {"load": 100, "ascent": 2.0, "instant": 2.8},
        "Light and fast": {"load": 30, "ascent": 1.0, "instant": 2.5},
        "Dropped": {"descent": 0.8, "lead": 30, "instant": 0.6},
    }

    # The instant's slider asks for the same repetition at each of its steps.
    @lru_cache(maxsize=64)
    def moved(descent: float, ascent: float, lead: float, load: float) -> Rep:
        bar = Bar.high(round(load / 100 * BEST * average.mass_kg, 1))
        tempo = Tempo(descent, ascent_s=ascent, hip_lead_s=lead / 1000)
        return synthesise(average, bar, Stance(), tempo)

    def of(values: Values) -> list[Rep]:
        """Return the repetition of each position, only one if they share it."""
        shared = {name: value for name, value in values.items() if name != "instant"}
        return [
            moved(each["descent"], each["ascent"], each["lead"], each["load"])
            for each in positions(shared) or [values]
        ]

    def build(values: Values) -> Posture:
        reps, instant = of(values), values["instant"]
        now = []
        for rep in reps:
            frame = np.searchsorted(rep.time, instant + rep.events["start"])
            now.append(rows_of(rep.posture, np.minimum(frame, rep.time.size - 1), rep.time.size))
        return joined(now)

    def in_words(values: Values, posture: Posture) -> Words:
        impossible, movements = [], []
        for rep in of(values):
            impossible.append(f"Cannot be done: {rep.reason}. " if rep.reason else "")
            order, speed = order_words(rep).capitalize(), speed_words(rep, ascent_of(rep))
            movements.append(f"{order}. {speed}")

        def sentence(impossible: str, instant: float, posture: str, movement: str) -> str:
            return f"{impossible}{instant:.1f} s from the first bend. {posture} {movement}"

        return worded(
            sentence,
            per_position(impossible),
            values["instant"],
            describe(posture),
            per_position(movements),
        )

    chart = RepetitionChart(BESIDE)
    panes = (
        Pane(
            "Side view",
            lambda _, now, before: side_pane(now, before, top=STANDING),
            SIDE,
            HEIGHT - STANDING,
        ),
        Pane(
            "Chart",
            lambda values, *_: chart.of(of(values), values["instant"]).marks,
            *BESIDE,
            stage=chart.stage,
        ),
    )
    return Explorer(Together(build, panes, in_words, FEW), controls, presets, size)


def phone(size: str = "page") -> Explorer:
    """Explore what distance, height, angle, speed and noise cost.

    The lowest instant of one squat as the camera has it; beside it, by
    how much every fault is misread from that film. ``size`` is "page" or
    "projector".
    """
    controls = {
        "distance": measured("Distance", DISTANCE, either((4, 1.5, 8, 0.5), (13, 5, 26, 1))),
        "height": measured(
            "Height", DISTANCE, either((1, 0.2, 2, 0.1), (3.5, 0.5, 6.5, 0.5)), " high"
        ),
        "yaw": slider("Off square", 0, -30, 30, 3, "° one way", "° the other way", "square"),
        "rate": slider("Frames", 60, 15, 240, 15, " per second"),
        "noise": slider("Noise", 3, 0, 15, 1, " px a point", zero="none"),
        "camera": choice("Camera", (("at the side", "side"), ("in front", "front"))),
    }
    presets = {
        "Too near": {"distance": either(2, 6)},
        "On the floor": {"height": either(0.2, 0.5)},
        "15° off square": {"yaw": 15},
        "Slow motion": {"rate": 240},
        "Dark room": {"noise": 10, "rate": 30},
    }
    rep = synthesise(Lifter.from_stature(1.75, 80), Bar.high(60), Stance())
    exact = exactly(rep)
    chart = ErrorChart(BESIDE)

    def placed(values: Values) -> Camera:
        return VIEWS[values["camera"]](
            distance_m=DISTANCE.si(values["distance"]),
            height_m=DISTANCE.si(values["height"]),
            yaw_deg=values["yaw"],
            rate=values["rate"],
            noise_px=values["noise"],
        )

    def build(values: Values) -> Taken:
        cameras = tuple(map(placed, positions(values) or [values]))
        # The same noise for every camera, so that only what was moved makes a difference.
        readings = [
            errors(filmed(rep, camera, np.random.default_rng(1)), exact) for camera in cameras
        ]
        by_fault = {
            name: per_position([reading[name] for reading in readings]) for name in readings[0]
        }
        return Taken(cameras, chart.of(by_fault))

    def in_words(_: Values, taken: Taken) -> Words:
        view = taken.cameras[0].view
        seen = by_eye(on_screens(rep, taken.cameras))
        true = by_eye(on_screen(rep, None, view))
        sentences = *screen_words(view, seen, true), per_position(taken.errors.marks.alt)
        return worded(lambda *parts: " ".join(parts), *sentences)

    panes = (
        # A side view has the room of the wider front view, so that nothing jumps.
        Pane("Screen", lambda _, taken, __: phone_pane(rep, taken.cameras, width=FRONT), FRONT),
        Pane("Chart", lambda _, taken, __: taken.errors.marks, *BESIDE, stage=chart.stage),
    )
    return Explorer(Together(build, panes, in_words, FEW), controls, presets, size)


class Taken(NamedTuple):
    """Hold cameras (positions,) and how far what is read of their films is off."""

    cameras: tuple[Camera, ...]
    errors: Chart
