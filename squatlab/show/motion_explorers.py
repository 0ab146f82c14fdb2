"""The explorers of notebooks 06 and 07: a repetition in time, and what a phone sees of it."""

from __future__ import annotations

from functools import lru_cache

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
from squatlab.show.controls import choice, slider
from squatlab.show.explorer import CHART, Explorer, Values
from squatlab.show.motion_charts import RepetitionChart, order_words, speed_words
from squatlab.show.phone_charts import ErrorChart
from squatlab.show.phone_picture import phone_picture, screen_words
from squatlab.show.scene import describe, side_view

__all__ = ["phone", "repetition"]


def repetition(size: str = "page") -> Explorer:
    """Explore what moves first, how fast, and where a squat sticks.

    Descent, ascent, the hips' lead and the load move a lifter of 80 kg;
    the picture stands at the instant chosen. Beside it: who begins, and
    the bar's speed. ``size`` is "page" or "projector".
    """
    average = Lifter.from_stature(1.75, 80)
    controls = {
        "instant": slider("Instant", 1, 0, 5.2, 0.1, " s", zero="first bend"),
        "descent": slider("Descent", 1.8, 0.6, 2.5, 0.1, " s"),
        "ascent": slider("Ascent", 1.8, 1.0, 2.5, 0.1, " s"),
        "lead": slider("Hips set out", 100, -200, 200, 10, " ms early", " ms late", "with knees"),
        "load": slider("Load", 85, 10, 100, 5, " % of the best"),
    }
    presets = {
        "Hips first": {"lead": 200, "instant": 0.4},
        "Knees first": {"lead": -200, "instant": 0.4},
        "Bottom": {"instant": 1.9},
        "Best load": {"load": 100, "ascent": 2.0, "instant": 2.6},
        "Light and fast": {"load": 30, "ascent": 1.0, "instant": 2.5},
        "Dropped": {"descent": 0.8, "lead": 30, "instant": 0.6},
    }

    @lru_cache(maxsize=1)
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

    chart = RepetitionChart(CHART["page"])
    return Explorer(
        controls, build, presets, size=size, describe_as=told,
        chart=lambda values, _: chart.show(of(values)).mark(values["instant"]),
        draw=lambda _, posture, ghost: side_view(posture, ghost),
    )  # fmt: skip


def phone(size: str = "page") -> Explorer:
    """Explore what distance, height, angle, speed and noise cost.

    The lowest instant of one squat as the camera has it; beside it, by
    how much every fault is misread from that film. ``size`` is "page" or
    "projector".
    """
    controls = {
        "distance": slider("Distance", 4, 1.5, 8, 0.5, " m"),
        "height": slider("Height", 1, 0.2, 2, 0.1, " m high"),
        "yaw": slider("Askew", 0, -30, 30, 1, "° one way", "° the other way", "square"),
        "rate": slider("Frames", 60, 15, 240, 15, " per second"),
        "noise": slider("Noise", 3, 0, 15, 0.5, " px a point", zero="none"),
        "camera": choice("Camera", (("at the side", "side"), ("in front", "front"))),
    }
    presets = {
        "Too near": {"distance": 2},
        "On the floor": {"height": 0.2},
        "15° askew": {"yaw": 15},
        "Slow motion": {"rate": 240},
        "Dark room": {"noise": 10, "rate": 30},
    }
    rep = synthesise(Lifter.from_stature(1.75, 80), Bar.high(60), Stance())
    truth, exact = posture_at(rep, rep.bottom), exactly(rep)
    chart = ErrorChart(CHART["page"])

    def placed(values: Values) -> Camera:
        return VIEWS[values["camera"]](
            distance_m=values["distance"], height_m=values["height"], yaw_deg=values["yaw"],
            rate=values["rate"], noise_px=values["noise"],
        )  # fmt: skip

    def told(values: Values, _: Posture) -> str:
        camera = placed(values)
        screens = on_screen(rep, camera), on_screen(rep, None, camera.view)
        chart.show(errors(filmed(rep, camera, np.random.default_rng(1)), exact))
        return " ".join([*screen_words(camera.view, *map(by_eye, screens)), chart.alt])

    return Explorer(
        controls, lambda _: truth, presets, size=size, describe_as=told, chart=lambda *_: chart,
        draw=lambda values, *_: phone_picture(rep, placed(values)),
    )  # fmt: skip
