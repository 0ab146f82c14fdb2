"""A lifter under the bar beside the rack's numbered holes, and its explorer."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from squatlab.gym.rack import Rack, mid_sternum_m
from squatlab.gym.set_up import SetUp, set_up
from squatlab.lifter import Lifter
from squatlab.mechanics.posture import Posture
from squatlab.mechanics.trunk import Bar
from squatlab.show import measures, palette, views
from squatlab.show.body import SOLID, Build, side_body, side_places
from squatlab.show.controls import Values, choice, measured
from squatlab.show.explorer import Explorer, OneByOne, Pane
from squatlab.show.picture import Scene
from squatlab.show.primitives import Disc, Line, Primitive, Shape, Text, rectangle
from squatlab.units import FLOOR_HEIGHT, STATURE, either

SCALE = 212.0
"""Picture units per metre, the same for everybody: a tall lifter stands tall."""

AHEAD_M = 0.27
"""How far the upright stands ahead of the bar: clear of the face, so that holes are
seen [teaching-value]."""

SAFETY_BEHIND_M = 0.55
"""How far behind the bar the safety bars reach [teaching-value]."""

WIDTH, NAMES = 560.0, 366.0
"""Of the picture, and where its names stand."""


def rack_picture(plan: SetUp, ghost: Posture | None = None) -> Scene:
    """Return a lifter in the rack, getting under the bar.

    The holes for hooks and safety bars are named, the bar lies level
    with its hole. Every lifter has the same scale. ``ghost`` is an
    earlier posture, drawn as an outline.
    """
    posture = plan.at.posture
    frame, p = views.side_frame(posture, 0.0, SCALE), side_places(posture)

    def level(height_m: float) -> float:
        return frame.at(complex(0, height_m)).imag

    hooks, safety = plan.rack.height(plan.hole), plan.rack.safety_height(plan.safety)
    sternum = float(mid_sternum_m(plan.lifter.stature_m))
    bar = frame.at(p["bar"])
    upright = bar.real + AHEAD_M * SCALE
    rear = bar.real - SAFETY_BEHIND_M * SCALE
    body = side_body(p, Build.of(plan.lifter))
    y = level(safety)
    parts = [
        *views.page("In the rack", 0.0, WIDTH),
        Line((complex(0, views.FLOOR), complex(WIDTH, views.FLOOR)), palette.INK, 1.5),
        *_upright(plan.rack, upright, level),
        Shape(rectangle(rear, y, upright - 13, y + 9), palette.BLUE, palette.INK, 1.0),
        *views.side_ghost(ghost, 0.0, SCALE),
        *body.drawn(frame, SOLID),
        *measures.plate_side(p["bar"], frame, measures.plates_a_side(posture.bar.mass_kg) > 0),
        # The hook reaches from its hole under the bar, and has a lip behind it.
        Line(
            (
                complex(upright, level(hooks) + 7),
                complex(bar.real - 9, level(hooks) + 7),
                complex(bar.real - 9, level(hooks) - 8),
            ),
            palette.RED,
            4.0,
        ),
        Line((complex(12, level(sternum)), complex(110, level(sternum))), palette.SOFT, 1.0, "3 3"),
        Text(complex(12, level(sternum) - 8), "mid-breastbone,", 13.0, fill=palette.SOFT),
        Text(
            complex(12, level(sternum) + 17),
            f"standing: {FLOOR_HEIGHT.words(sternum)}",
            13.0,
            fill=palette.SOFT,
        ),
        *_named(f"hooks in hole {plan.hole}", hooks, upright, level, palette.RED),
        *_named(f"safety bars in hole {plan.safety}", safety, upright, level, palette.BLUE),
    ]
    return Scene(tuple(parts), (0.0, 0.0, WIDTH, BOTTOM), f"Rack and lifter. {words(plan)}")


BOTTOM = views.FLOOR + 24


def _upright(rack: Rack, x: float, level: Callable[[float], float]) -> list[Primitive]:
    """Return the upright with its holes; every fourth has its number."""
    top = level(rack.top_m) - 14
    outline = rectangle(x - 13, top, x + 13, views.FLOOR)
    foot = rectangle(x - 60, views.FLOOR - 9, x + 40, views.FLOOR)
    parts: list[Primitive] = [
        Shape(foot, "#dfe4e9", palette.RULE),
        Shape(outline, "#eef1f4", palette.RULE),
    ]
    for hole in range(1, rack.holes + 1):
        y = level(rack.height(hole))
        parts.append(Disc(complex(x, y), 2.2, palette.SOFT))
        if hole % 4 == 0:
            parts.append(Text(complex(x + 17, y + 4), f"{hole}", 13.0, fill=palette.SOFT))
    return parts


def _named(
    name: str, height_m: float, upright: float, level: Callable[[float], float], colour: str
) -> list[Primitive]:
    y = level(height_m)
    return [
        Disc(complex(upright, y), 6.5, colour, palette.PAPER, 2.0),
        Line((complex(upright + 38, y), complex(NAMES - 6, y)), colour, 2.0),
        Text(complex(NAMES, y - 3), name, 15.0),
        Text(complex(NAMES, y + 18), FLOOR_HEIGHT.words(height_m), 18.0, bold=True),
    ]


def words(plan: SetUp) -> str:
    """Return one paragraph on the holes and what one up or down would mean."""
    return " ".join(str(plan).splitlines())


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
        lifter = Lifter.from_stature(stature, float(np.round(25 * stature**2)))
        bar = {"high": Bar.high, "low": Bar.low}[values["place"]](20)
        return set_up(Rack.of(values["spacing"]), lifter, bar)

    def picture(_: Values, plan: SetUp, before: SetUp | None) -> Scene:
        return rack_picture(plan, before.at.posture if before else None)

    panes = (Pane("Rack and lifter", picture, WIDTH, BOTTOM),)
    return Explorer(OneByOne(build, panes, lambda _, plan: words(plan)), controls, presets, size)
