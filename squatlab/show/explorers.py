"""The explorers of notebooks 01 to 05, one function each.

Each names its controls and presets, turns their values into a posture and
says which panes of `scene` and charts stand beside each other; `explorer`
does the rest. Those of 06 to 09 are in `motion_explorers` and
`fault_explorers`.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import NamedTuple

import numpy as np

from squatlab.lifter import Lifter
from squatlab.mechanics.balance import balance, pose
from squatlab.mechanics.legs import Stance
from squatlab.mechanics.posture import Posture
from squatlab.mechanics.trunk import Bar
from squatlab.show.controls import Choice, Slider, Values, choice, measured, slider
from squatlab.show.explorer import VIEW, Explorer, Pane, Together
from squatlab.show.feasible_map import COARSE, FeasibleMap
from squatlab.show.marked_charts import LeanByBuild, LeanByLoad
from squatlab.show.moving import worded
from squatlab.show.plot import BESIDE
from squatlab.show.scene import MOMENTS, Words, describe, front_pane, moments_pane, side_pane
from squatlab.show.sweep import Sweep
from squatlab.show.views import FRONT, HEIGHT, SIDE
from squatlab.units import BAR_PLACE, BODY_LENGTH, MASS, READING, STATURE, either

__all__ = [
    "balance_rules",
    "bar_thigh_stance",
    "lever_arms",
    "proportions",
    "stance",
]


class BarPlaces(NamedTuple):
    """Hold how far down the back the bar lies, in a system's unit."""

    high: float
    low: float


def _places() -> BarPlaces:
    """Return the steps that are nearest to the two usual places of the bar."""
    return either(BarPlaces(3.0, 9.5), BarPlaces(1.25, 3.75))  # cm, in


HOLD = (("the balance", "balance"), ("the trunk's lean", "trunk"))

TRUNK_HELD = "hold", "trunk"
"""The choice with which the trunk's lean is a control of its own."""

ABOVE_LEVEL, LEVEL = 60.0, 110.0
"""Where pictures begin that come no higher than thighs 60° above level, or than level
thighs, picture units: what is higher would always be empty."""


def _views(top: float) -> tuple[Pane, Pane]:
    """Return the side and the front view, from ``top`` down."""
    return (
        Pane(
            "Side view",
            lambda _, now, before: side_pane(now, before, top=top),
            SIDE,
            HEIGHT - top,
            views=("side", "both"),
        ),
        Pane(
            "Front view",
            lambda _, now, before: front_pane(now, before, top=top),
            FRONT,
            HEIGHT - top,
            views=("front", "both"),
        ),
    )


SIDE_PANE, FRONT_PANE = _views(ABOVE_LEVEL)
LEVEL_VIEWS = _views(LEVEL)
MOMENTS_PANE = Pane(
    "Joint moments",
    lambda _, now, before: moments_pane(now, before, ABOVE_LEVEL),
    MOMENTS,
    HEIGHT - ABOVE_LEVEL,
)


def _bar_position() -> Slider:
    ends = either((3.0, 0, 14, 0.5), (1.25, 0, 5.5, 0.25))
    return measured("Bar position", BAR_PLACE, ends, " below C7", "at C7")


def _load(kg: float = 100, lb: float = 225) -> Slider:
    ends = either((kg, 0, 200, 5), (lb, 0, 440, 5))
    return measured("Load", MASS, ends, zero="no bar at all")


def _depth(value: float = 0) -> Slider:
    # The other way round than a thigh's elevation, so that deeper is further to the right.
    return slider("Depth", value, -60, 30, 1, "° below level", "° above level", "thigh level")


def _shin(value: float = 30) -> Slider:
    return slider("Shin lean", value, 5, 45, 1, "° forward")


def _percent(label: str, step: int = 1) -> Slider:
    return slider(label, 100, 85, 115, step, " % of average")


AVERAGE_LIFTER = Lifter.from_stature(1.75, 80)
"""Whose thighs, a share longer or shorter, an explorer has that moves no stature
[teaching-value]."""


def _thigh(step: int = 1) -> Slider:
    """Return a slider of the thigh's length in per cent of the average, worded as a length."""
    share = _percent("Thigh length", step)

    def words(percent: float, _: Values) -> str:
        length = READING.words(AVERAGE_LIFTER.thigh_m * percent / 100)
        if percent == 100:
            return f"{length}, average"
        return f"{length}, {percent - 100:+.0f} %".replace("-", "−")

    return replace(share, words=words)


def _stance_width(steps: int = 1) -> Slider:
    """Return a slider of the stance's width, so many steps of 1 cm or 0.5 in at a time."""
    ends = either((30, 16, 100, steps), (12, 6, 40, 0.5 * steps))
    return measured("Stance width", BODY_LENGTH, ends, " at heels")


def _view(first: str = "side") -> Choice:
    """Return which view is shown: one at first, so that a chart has room beside it."""
    views = choice("View", (("side", "side"), ("front", "front"), ("side and front", "both")))
    return replace(views, value=first, turns=True)


def _lean(value: float) -> Slider:
    """Return the trunk's lean, which can be moved while it is what is held."""
    lean = slider("Trunk lean", value, -10, 75, 0.5, "° forward", "° back", "upright")

    def words(number: float, values: Values) -> str:
        return lean.words(number, values) if values["hold"] == "trunk" else "as it balances"

    return replace(lean, words=words, only_with=TRUNK_HELD)


def _bar(values: Values) -> Bar:
    """Return the bar as its load and its place are set."""
    high = Bar.high(MASS.si(values["load"]))
    return replace(high, drop_m=BAR_PLACE.si(values["bar_position"]), name="bar")


def _held(
    values: Values, lifter: Lifter, stance: Stance, shank_deg: float, over: str = "system"
) -> Posture:
    """Return the posture that balances, or the one with the trunk's lean as it is held."""
    bar, thigh_deg = _bar(values), -values["depth"]
    if values["hold"] == "balance":
        return balance(lifter, bar, stance, thigh_deg, shank_deg, over=over)
    return pose(lifter, bar, stance, values["lean"], thigh_deg, shank_deg)


def _described(_: Values, posture: Posture) -> Words:
    """Return an explorer's sentence, which follows from the posture alone."""
    return describe(posture)


def _lean_when_held(explorer: Together, values: Values, name: str) -> Values:
    """Return the lean that the trunk has when it begins to be held: as the balance left it."""
    if name != "hold" or values["hold"] != "trunk":
        return {}
    balanced = explorer.build(values | {"hold": "balance"}).trunk_deg
    return {"lean": round(float(balanced), 1)} if np.isfinite(balanced) else {}


def lever_arms(lifter: Lifter | None = None, size: str = "page") -> Explorer:
    """Explore what load, depth, shins and the bar's place ask of the joints.

    Holding the trunk instead of the balance shows how far a lower bar
    takes the centre of mass back. ``size`` is "page" or "projector".
    """
    who = lifter or AVERAGE_LIFTER
    controls = {
        "bar_position": _bar_position(),
        "load": _load(),
        "depth": _depth(),
        "shank": _shin(),
        "hold": choice("Hold", HOLD),
        "lean": _lean(40),
        VIEW: _view(),
    }
    presets = {
        "High bar": {},
        "Low bar": {"bar_position": _places().low},
        "Empty bar": {"load": either(20, 45)},
        "Deep": {"depth": 20, "shank": 35},
        "Upright shins": {"shank": 20},
    }
    panes = SIDE_PANE, MOMENTS_PANE, FRONT_PANE
    subject = Together(
        lambda values: _held(values, who, Stance(), values["shank"]), panes, _described
    )
    return Explorer(subject, controls, presets, size, partial(_lean_when_held, subject))


def proportions(size: str = "page") -> Explorer:
    """Explore why two good lifters lean differently.

    Beside the picture: lean against thigh-to-trunk length over a
    surveyed population, this lifter marked [ansur2].
    """
    controls = {
        "thigh": _percent("Thigh length"),
        "trunk": _percent("Trunk length"),
        "shank_length": _percent("Shin length"),
        "stature": measured("Stature", STATURE, either((175, 150, 200, 1), (69, 59, 79, 1))),
        VIEW: _view(),
    }
    presets = {
        "Long thighs": {"thigh": 110},
        "Short thighs": {"thigh": 92},
        "Long trunk": {"trunk": 108},
        "Tall": {"stature": either(195, 77)},
        "Short": {"stature": either(155, 61)},
    }
    population = LeanByBuild(size=BESIDE)

    def build(values: Values) -> Posture:
        lifter = Lifter.from_stature(STATURE.si(values["stature"]), 80).scaled(
            thigh=values["thigh"] / 100,
            trunk=values["trunk"] / 100,
            shank=values["shank_length"] / 100,
        )
        return balance(lifter, Bar.high(80), Stance(), 0, 30)

    chart = Pane(
        "Chart",
        lambda _, now, __: population.marked(now.lifter).marks,
        *BESIDE,
        stage=population.stage,
    )
    panes = *LEVEL_VIEWS, chart
    subject = Together(build, panes, lambda _, p: _with_lengths(p))
    return Explorer(subject, controls, presets, size)


def _with_lengths(posture: Posture) -> Words:
    """Return the sentence of a posture, or of each, and how long its segments are."""

    def words(balance_words: str, thigh_m: float, trunk_m: float, shank_m: float) -> str:
        return (
            f"{balance_words} Thighs {READING.words(thigh_m)}, trunk {READING.words(trunk_m)}, "
            f"shins {READING.words(shank_m)}."
        )

    lifter = posture.lifter
    return worded(words, describe(posture), lifter.thigh_m, lifter.trunk_m, lifter.shank_m)


def stance(size: str = "page") -> Explorer:
    """Explore what width and turnout buy and what the ankles allow.

    Beside the picture: which shin leans and depths this lifter can hold.
    """
    controls = {
        # Every step has a map of its own.
        "stance_width": _stance_width(2),
        "turnout": slider("Turnout", 12, 0, 45, 1, "° out", zero="straight ahead"),
        "valgus": slider("Knees inward", 0, -10, 25, 1, "° inward", "° outward", "over the feet"),
        "ankle_limit": slider("Ankle limit", 40, 10, 50, 1, "° of bend"),
        "heel_rise": slider("Heel rise", 0, 0, 25, 1, "°", zero="heels down"),
        "wedge": measured(
            "Wedge",
            BAR_PLACE,
            either((0, 0, 6, 0.5), (0, 0, 2.5, 0.25)),
            " under the heels",
            "flat floor",
        ),
        "shank": _shin(),
        "depth": _depth(),
        VIEW: _view("front"),
    }
    presets = {
        "Wide": {"stance_width": either(60, 24), "turnout": 25, "shank": 22},
        "Stiff ankles": {"ankle_limit": 22},
        "Stiff ankles, heels up": {"ankle_limit": 22, "heel_rise": 9},
        "Stiff ankles, on a wedge": {"ankle_limit": 22, "wedge": either(3, 1.25)},
        "Knees in": {"valgus": 15},
        "Too wide": {"stance_width": either(100, 40)},
    }
    bar, average = Bar.high(60), AVERAGE_LIFTER

    def build(values: Values) -> Posture:
        who = replace(average, dorsiflexion_deg=values["ankle_limit"])
        feet = Stance(
            heel_width_m=BODY_LENGTH.si(values["stance_width"]),
            turnout_deg=values["turnout"],
            valgus_deg=values["valgus"],
            heel_rise_deg=values["heel_rise"],
            wedge_m=BAR_PLACE.si(values["wedge"]),
        )
        return balance(who, bar, feet, -values["depth"], values["shank"])

    held = FeasibleMap("shank", "depth", BESIDE, COARSE)

    def map_of(values: Values, posture: Posture, _: object) -> Sweep:
        return held.marked(posture, values["shank"], values["depth"]).marks

    panes = SIDE_PANE, FRONT_PANE, Pane("Map", map_of, *BESIDE, stage=held.stage)
    return Explorer(Together(build, panes, _described), controls, presets, size)


LOADS, SHIN_DEG = (60.0, 135.0), 28.0
"""The bar, kg or lb, and the shins of the two explorers of bar, thigh and stance
[teaching-value]."""


def balance_rules(size: str = "page") -> Explorer:
    """Explore bar position, thigh length and stance together.

    Choose which of two rules puts something over mid-foot, or hold the
    trunk and see the centre of mass shift. Beside it: both rules by load.
    """
    controls = {
        "bar_position": _bar_position(),
        "thigh": _thigh(),
        "stance_width": _stance_width(),
        "load": _load(*LOADS),
        "depth": _depth(),
        "lean": _lean(40),
        "over": choice("Over mid-foot", (("bar and lifter", "system"), ("the bar alone", "bar"))),
        "hold": choice("Hold", HOLD),
        VIEW: _view(),
    }
    presets = {
        "Low bar": {"bar_position": _places().low},
        "Long thighs": {"thigh": 110},
        "Wide stance": {"stance_width": either(55, 22)},
        "Light bar": {"load": either(20, 45)},
        "Heavy bar": {"load": either(180, 405)},
    }

    def build(values: Values) -> Posture:
        who = AVERAGE_LIFTER.scaled(thigh=values["thigh"] / 100)
        feet = Stance(BODY_LENGTH.si(values["stance_width"]))
        return _held(values, who, feet, SHIN_DEG, values["over"])

    rules = LeanByLoad(size=BESIDE)

    def by_load(values: Values, posture: Posture, _: object) -> Sweep:
        legs = posture.lifter, posture.bar, posture.stance
        return rules.marked(MASS.si(values["load"]), *legs, -values["depth"]).marks

    panes = SIDE_PANE, FRONT_PANE, Pane("Chart", by_load, *BESIDE, stage=rules.stage)
    subject = Together(build, panes, _described)
    return Explorer(subject, controls, presets, size, partial(_lean_when_held, subject))


def bar_thigh_stance(size: str = "page") -> Explorer:
    """Explore bar position, thigh length and stance together, at level thighs.

    Few steps, so that every combination can be kept: 9 places of the bar,
    among them the usual high and low one, 7 thigh lengths, 9 widths.
    """
    # From the high to the low bar in five steps, two beyond each.
    high, low = _places()
    step = (low - high) / 5
    first = round(high - 2 * step, 2)
    drops = high, first, first + 8 * step, step
    widths = either((30, 20, 60, 5), (12, 8, 24, 2))
    controls = {
        "bar_position": measured("Bar position", BAR_PLACE, drops, " below C7"),
        "thigh": _thigh(step=5),
        "stance_width": measured("Stance width", BODY_LENGTH, widths, " at heels"),
        "hold": choice("Hold", HOLD),
        VIEW: _view("both"),
    }
    presets = {
        "Low bar": {"bar_position": low},
        "Long thighs": {"thigh": 115},
        "Wide stance": {"stance_width": either(60, 24)},
        "Low bar, trunk held": {"bar_position": low, "hold": "trunk"},
    }
    load = either(*LOADS)
    usual = balance(AVERAGE_LIFTER, Bar.high(MASS.si(load)), Stance(), 0, SHIN_DEG)
    held_lean_deg = float(usual.trunk_deg)

    def build(values: Values) -> Posture:
        who = AVERAGE_LIFTER.scaled(thigh=values["thigh"] / 100)
        feet = Stance(BODY_LENGTH.si(values["stance_width"]))
        bar = _bar(values | {"load": load})
        if values["hold"] == "balance":
            return balance(who, bar, feet, 0, SHIN_DEG)
        return pose(who, bar, feet, held_lean_deg, 0, SHIN_DEG)

    return Explorer(Together(build, LEVEL_VIEWS, _described), controls, presets, size)
