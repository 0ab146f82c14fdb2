"""The explorers of notebooks 06 and 07: a repetition in time, and what a phone sees of it."""

from __future__ import annotations

from dataclasses import replace
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
from squatlab.motion.instant import posture_at
from squatlab.show.controls import Values, choice, measured, slider
from squatlab.show.explorer import Explorer, OneByOne, Pane
from squatlab.show.motion_charts import RepetitionChart, order_words, speed_words
from squatlab.show.phone_charts import ErrorChart
from squatlab.show.phone_picture import phone_picture, screen_words
from squatlab.show.picture import Scene
from squatlab.show.plot import BESIDE, Chart
from squatlab.show.scene import describe, side_view
from squatlab.show.views import FRONT, SIDE
from squatlab.units import DISTANCE, either

__all__ = ["phone", "repetition"]


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
        "lead": slider("Hips set out", 100, -200, 200, 10, " ms early", " ms late", "with knees"),
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

    @lru_cache(maxsize=64)
    def moved(descent: float, ascent: float, lead: float, load: float) -> Rep:
        bar = Bar.high(round(load / 100 * BEST * average.mass_kg, 1))
        tempo = Tempo(descent, ascent_s=ascent, hip_lead_s=lead / 1000)
        return synthesise(average, bar, Stance(), tempo)

    def of(values: Values) -> Rep:
        return moved(*(values[name] for name in ("descent", "ascent", "lead", "load")))

    def build(values: Values) -> Posture:
        rep = of(values)
        frame = np.searchsorted(rep.time, values["instant"] + rep.events["start"])
        return posture_at(rep, min(int(frame), rep.time.size - 1))

    def told(values: Values, posture: Posture) -> str:
        rep = of(values)
        impossible = f"Cannot be done: {rep.reason}. " if rep.reason else ""
        return (
            f"{impossible}{values['instant']:.1f} s from the first bend. {describe(posture)} "
            f"{order_words(rep).capitalize()}. {speed_words(rep, ascent_of(rep))}"
        )

    chart = RepetitionChart(BESIDE)
    panes = (
        Pane("Side view", lambda _, now, before: side_view(now, before), SIDE),
        Pane(
            "Chart",
            lambda v, *_: chart.of(of(v), v["instant"]).marks.scene(0),
            *BESIDE,
            stage=chart.stage,
        ),
    )
    return Explorer(OneByOne(build, panes, told), controls, presets, size)


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
        "yaw": slider("Off square", 0, -30, 30, 1, "° one way", "° the other way", "square"),
        "rate": slider("Frames", 60, 15, 240, 15, " per second"),
        "noise": slider("Noise", 3, 0, 15, 0.5, " px a point", zero="none"),
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
        camera = placed(values)
        off = errors(filmed(rep, camera, np.random.default_rng(1)), exact)
        return Taken(camera, chart.of(off))

    def told(_: Values, taken: Taken) -> str:
        view = taken.camera.view
        screens = on_screen(rep, taken.camera), on_screen(rep, None, view)
        return " ".join([*screen_words(view, *map(by_eye, screens)), taken.errors.alt])

    panes = (
        Pane("Screen", lambda _, taken, __: _framed(phone_picture(rep, taken.camera)), FRONT),
        Pane("Chart", lambda _, taken, __: taken.errors.marks.scene(0), *BESIDE, stage=chart.stage),
    )
    return Explorer(OneByOne(build, panes, told), controls, presets, size)


class Taken(NamedTuple):
    """Hold what a camera films: where it stands, and the errors of its readings."""

    camera: Camera
    errors: Chart


def _framed(scene: Scene) -> Scene:
    """Return a side or a front view in the room of the wider, so that nothing jumps."""
    left, top, _, bottom = scene.bounds
    return replace(scene, bounds=(left, top, left + FRONT, bottom))
