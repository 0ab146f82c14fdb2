"""A lifter under the bar beside the rack's numbered holes, and its explorer.

`gym.set_up` finds the holes; notebook 01 and I0 show the picture.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike

from squatlab.gym.rack import Rack, mid_sternum_m
from squatlab.gym.set_up import SetUp, set_up
from squatlab.lifter import Lifter
from squatlab.mechanics.posture import Posture
from squatlab.mechanics.trunk import Bar
from squatlab.show import measures, palette, views
from squatlab.show.body import SOLID, Build, side_body, side_places
from squatlab.show.controls import Values, choice, measured
from squatlab.show.explorer import Explorer, Pane, Together
from squatlab.show.moving import Moving, worded
from squatlab.show.picture import Scene
from squatlab.show.primitives import Disc, Line, Shape, Text, rectangle
from squatlab.show.sweep import Sweep, whole
from squatlab.units import FLOOR_HEIGHT, STATURE, either

SCALE = 240.0
"""Picture units per metre, the same for everybody: a tall lifter stands tall."""

AHEAD_M = 0.27
"""How far the upright stands ahead of the bar: clear of the face, so that holes are
seen [teaching-value]."""

SAFETY_BEHIND_M = 0.55
"""How far behind the bar the safety bars reach [teaching-value]."""

USUAL_BMI = 25
"""Body mass of the explorer's lifter, kg per m² of stature squared [teaching-value]."""

Level = Callable[[ArrayLike], ArrayLike]
"""From a height, m, to where it is in the picture."""

WIDTH, NAMES = 560.0, 366.0
"""Of the picture, and where its names stand."""

HALF_UPRIGHT = 13.0
"""Half the breadth of the rack's upright, picture units."""


def rack_picture(plan: SetUp, ghost: Posture | None = None) -> Scene:
    """Return a lifter in the rack, getting under the bar, as `rack_pane` does."""
    return rack_pane(plan, ghost).scene(0)


def rack_pane(plan: SetUp, ghost: Posture | None = None) -> Sweep:
    """Return lifters (positions,) in the rack, getting under the bar.

    The holes for hooks and safety bars are named, the bar lies level
    with its hole. Every lifter has the same scale. ``ghost`` is an
    earlier posture, drawn as an outline.
    """
    posture = plan.at.posture
    frame, p = views.side_frame(posture, 0.0, SCALE), side_places(posture)

    def level(height_m: ArrayLike) -> ArrayLike:
        return frame.at(1j * height_m).imag

    hooks_m, safety_m = plan.rack.height(plan.hole), plan.rack.safety_height(plan.safety)
    sternum_m = mid_sternum_m(plan.lifter.stature_m)
    hook_y, safety_y, sternum_y = level(hooks_m), level(safety_m), level(sternum_m)
    bar = frame.at(p["bar"])
    upright = bar.real + AHEAD_M * SCALE
    rear = bar.real - SAFETY_BEHIND_M * SCALE
    safety_bar = rectangle(rear, safety_y, upright - HALF_UPRIGHT, safety_y + 9)
    # The hook reaches from its hole under the bar, and has a lip behind it.
    hook = (
        upright + 1j * (hook_y + 7),
        bar.real - 9 + 1j * (hook_y + 7),
        bar.real - 9 + 1j * (hook_y - 8),
    )
    standing = worded(lambda height: f"standing: {FLOOR_HEIGHT.words(height)}", sternum_m)
    body = side_body(p, Build.of(plan.lifter))
    parts = [
        *views.page("In the rack", 0.0, WIDTH),
        Line((complex(0, views.FLOOR), complex(WIDTH, views.FLOOR)), palette.INK, 1.5),
        *_upright(plan.rack, upright, level),
        Shape(safety_bar, palette.BLUE, palette.INK, 1.0),
        *views.side_ghost(ghost, 0.0, SCALE),
        *body.drawn(frame, SOLID),
        *measures.plate_side(p["bar"], frame, measures.plates_a_side(posture.bar.mass_kg) > 0),
        Line(hook, palette.RED, 4.0),
        Line((12 + 1j * sternum_y, 110 + 1j * sternum_y), palette.SOFT, 1.0, "3 3"),
        Text(12 + 1j * (sternum_y - 8), "mid-breastbone,", 13.0, fill=palette.SOFT),
        Text(12 + 1j * (sternum_y + 17), standing, 13.0, fill=palette.SOFT),
        *_named("hooks in hole", plan.hole, hooks_m, upright, level, palette.RED),
        *_named("safety bars in hole", plan.safety, safety_m, upright, level, palette.BLUE),
    ]
    alt = [f"Rack and lifter. {each}" for each in plan_words(plan)]
    return whole(parts, (0.0, 0.0, WIDTH, BOTTOM), len(alt), alt)


BOTTOM = views.FLOOR + 24


def _upright(rack: Rack, x: ArrayLike, level: Level) -> list[Moving]:
    """Return the upright with its holes; every fourth has its number."""
    top = level(rack.top_m) - 14
    outline = rectangle(x - HALF_UPRIGHT, top, x + HALF_UPRIGHT, views.FLOOR)
    foot = rectangle(x - 60, views.FLOOR - 9, x + 40, views.FLOOR)
    parts: list[Moving] = [
        Shape(foot, "#dfe4e9", palette.RULE),
        Shape(outline, "#eef1f4", palette.RULE),
    ]
    for hole in range(1, rack.holes + 1):
        y = level(rack.height(hole))
        parts.append(Disc(x + 1j * y, 2.2, palette.SOFT))
        if hole % 4 == 0:
            parts.append(Text(x + 17 + 1j * (y + 4), f"{hole}", 13.0, fill=palette.SOFT))
    return parts


def _named(
    what: str, hole: ArrayLike, height_m: ArrayLike, upright: ArrayLike, level: Level, colour: str
) -> list[Moving]:
    """Return a hole's mark and, with a leader to it, its name and height."""
    y = level(height_m)
    return [
        Disc(upright + 1j * y, 6.5, colour, palette.PAPER, 2.0),
        Line((upright + 38 + 1j * y, NAMES - 6 + 1j * y), colour, 2.0),
        Text(NAMES + 1j * (y - 3), worded(lambda number: f"{what} {number}", hole), 15.0),
        Text(NAMES + 1j * (y + 18), worded(FLOOR_HEIGHT.words, height_m), 18.0, bold=True),
    ]


def plan_words(plan: SetUp) -> list[str]:
    """Return a paragraph for each set-up: its holes, and what others would mean."""
    return [" ".join(words.splitlines()) for words in plan.words]


def rack_height(size: str = "page") -> Explorer:
    """Explore which holes fit a lifter, for three common hole spacings.

    Mid-sternum height for the hooks is common practice; the safety bars
    go just under this lifter's own lowest bar.
    """
    spacings = either(("50 mm", "2 in", "25 mm"), ("2 in", "1 in"))
    controls = {
        "stature": measured("Stature", STATURE, either((175, 150, 205, 1), (69, 59, 81, 1))),
        "place": choice("Bar position", (("high bar", "high"), ("low bar", "low"))),
        "spacing": choice("Holes every", tuple((n, n) for n in spacings)),
    }
    presets = {
        "Short": {"stature": either(155, 61)},
        "Tall": {"stature": either(195, 77)},
        "Fine holes": {"spacing": spacings[-1]},
        "Low bar": {"place": "low"},
    }

    def build(values: Values) -> SetUp:
        stature = STATURE.si(values["stature"])
        lifter = Lifter.from_stature(stature, np.round(USUAL_BMI * stature**2))
        bar = {"high": Bar.high, "low": Bar.low}[values["place"]](20)
        return set_up(Rack.of(values["spacing"]), lifter, bar)

    def picture(_: Values, plan: SetUp, before: SetUp | None) -> Sweep:
        return rack_pane(plan, before.at.posture if before else None)

    def in_words(_: Values, plan: SetUp) -> str | list[str]:
        words = plan_words(plan)
        return words if np.ndim(plan.hole) else words[0]

    panes = (Pane("Rack and lifter", picture, WIDTH, BOTTOM),)
    return Explorer(Together(build, panes, in_words), controls, presets, size)
