"""A lifter under the bar beside the rack's numbered holes, and its explorer."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from squatlab.gym.rack import Rack, mid_sternum_m
from squatlab.gym.set_up import SetUp, set_up
from squatlab.lifter import Lifter
from squatlab.mechanics.posture import Posture
from squatlab.mechanics.trunk import Bar
from squatlab.show import palette, views
from squatlab.show.controls import Values, choice, slider
from squatlab.show.explorer import Explorer, OneByOne, Pane
from squatlab.show.picture import Scene
from squatlab.show.primitives import Disc, Line, Primitive, Shape, Text, rectangle
from squatlab.units import FLOOR_HEIGHT

UPRIGHT = 470.0
"""Where the upright stands in the picture, beside the lifter."""

WIDTH = 800.0


def rack_picture(plan: SetUp, ghost: Posture | None = None) -> Scene:
    """Return a lifter getting under the bar, beside the rack's holes.

    The holes for hooks and safety bars are named, the bar lies level
    with its hole. ``ghost`` is an earlier posture, drawn as an outline.
    """
    posture = plan.at.posture
    frame = views.side_frame(posture, 0.0)

    def level(height_m: float) -> float:
        return frame.at(complex(0, height_m)).imag

    hooks, safety = plan.rack.height(plan.hole), plan.rack.safety_height(plan.safety)
    sternum = float(mid_sternum_m(plan.lifter.stature_m))
    bar_x = frame.at(complex(float(posture.bar_centre.x), 0)).real
    parts = [
        *views.side(posture, ghost, (), 0.0, 40.0),
        Shape(rectangle(views.SIDE, 0, WIDTH, views.HEIGHT), palette.PAPER),
        Line((complex(0, views.FLOOR), complex(WIDTH, views.FLOOR)), palette.INK, 1.5),
        *_upright(plan.rack, level),
        Line(
            (complex(bar_x, level(hooks)), complex(UPRIGHT, level(hooks))), palette.RED, 1.5, "7 4"
        ),
        Text(complex(24, level(sternum) - 8), "mid-breastbone,", 13.0, fill=palette.SOFT),
        Text(
            complex(24, level(sternum) + 9),
            f"standing: {FLOOR_HEIGHT.words(sternum)}",
            13.0,
            fill=palette.SOFT,
        ),
        *_named(f"hooks in hole {plan.hole}", FLOOR_HEIGHT.words(hooks), level(hooks), palette.RED),
        *_named(
            f"safety bars in hole {plan.safety}",
            FLOOR_HEIGHT.words(safety),
            level(safety),
            palette.BLUE,
        ),
    ]
    return Scene(tuple(parts), (0.0, 0.0, WIDTH, views.HEIGHT), f"Rack and lifter. {words(plan)}")


def _upright(rack: Rack, level: Callable[[float], float]) -> list[Primitive]:
    """Return the upright with its holes; every fourth has its number."""
    top, shown = level(rack.top_m) - 14, range(1, rack.holes + 1)
    outline = rectangle(UPRIGHT - 15, top, UPRIGHT + 15, views.FLOOR)
    parts: list[Primitive] = [Shape(outline, "#eef1f4", palette.RULE)]
    for hole in shown:
        y = level(rack.height(hole))
        parts.append(Disc(complex(UPRIGHT, y), 2.2, palette.SOFT))
        if hole % 4 == 0:
            at = complex(UPRIGHT - 20, y + 4)
            parts.append(Text(at, f"{hole}", 13.0, "end", fill=palette.SOFT))
    return parts


def _named(name: str, height: str, y: float, colour: str) -> list[Primitive]:
    left = UPRIGHT + 34
    return [
        Disc(complex(UPRIGHT, y), 6.5, colour, palette.PAPER, 2.0),
        Line((complex(UPRIGHT + 8, y), complex(left - 6, y)), colour, 2.0),
        Text(complex(left, y - 3), name, 15.0),
        Text(complex(left, y + 18), height, 18.0, bold=True),
    ]


def words(plan: SetUp) -> str:
    """Return one paragraph on the holes and what one up or down would mean."""
    return " ".join(str(plan).splitlines())


def rack_height(size: str = "page") -> Explorer:
    """Explore which holes fit a lifter, for three common hole spacings.

    Mid-sternum height for the hooks is common practice; the safety bars
    go just under this lifter's own lowest bar.
    """
    controls = {
        "stature": slider("Stature", 175, 150, 205, 1, " cm"),
        "place": choice("Bar position", (("high bar", "high"), ("low bar", "low"))),
        "spacing": choice("Holes every", tuple((n, n) for n in ("50 mm", "2 in", "25 mm"))),
    }
    presets = {
        "Short": {"stature": 155},
        "Tall": {"stature": 195},
        "Fine holes": {"spacing": "25 mm"},
        "Low bar": {"place": "low"},
    }

    def build(values: Values) -> SetUp:
        stature = values["stature"] / 100
        lifter = Lifter.from_stature(stature, float(np.round(25 * stature**2)))
        bar = {"high": Bar.high, "low": Bar.low}[values["place"]](20)
        return set_up(Rack.of(values["spacing"]), lifter, bar)

    def picture(_: Values, plan: SetUp, before: SetUp | None) -> Scene:
        return rack_picture(plan, before.at.posture if before else None)

    panes = (Pane("Rack and lifter", picture, WIDTH),)
    return Explorer(OneByOne(build, panes, lambda _, plan: words(plan)), controls, presets, size)
