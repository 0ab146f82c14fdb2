"""The explorers of notebooks 01 to 05, one function each."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from squatlab.lifter import Lifter
from squatlab.mechanics.balance import balance, pose
from squatlab.mechanics.legs import Stance
from squatlab.mechanics.posture import Posture
from squatlab.mechanics.trunk import Bar
from squatlab.show.controls import choice, slider
from squatlab.show.explorer import CHART, VIEW, Explorer, Values
from squatlab.show.feasible_map import FeasibleMap
from squatlab.show.marked_charts import LeanByBuild, LeanByLoad
from squatlab.show.picture import Scene
from squatlab.show.rack_picture import rack_height
from squatlab.show.scene import front_view, lifter_picture, side_view

__all__ = ["balance_rules", "lever_arms", "proportions", "rack_height", "stance"]

DROP_HIGH, DROP_LOW = 3.0, 9.5  # cm, the nearest steps to the two usual places


BALANCE_OR_TRUNK = (("the balance", "balance"), ("the trunk's lean", "trunk"))


def _bar_position() -> object:
    return slider("Bar position", DROP_HIGH, 0, 14, 0.5, " cm below C7", "", "at C7")


def _load(value: float = 100) -> object:
    return slider("Load", value, 0, 200, 5, " kg", "", "no bar at all")


def _depth(value: float = 0) -> object:
    # The other way round than a thigh's elevation, so that deeper is further to the right.
    return slider("Depth", value, -60, 30, 1, "° below level", "° above level", "thigh level")


def _shank(value: float = 30) -> object:
    return slider("Shank lean", value, 5, 45, 1, "° forward")


def _percent(label: str) -> object:
    return slider(label, 100, 85, 115, 1, " % of average")


def _stance_width() -> object:
    return slider("Stance width", 30, 15, 100, 1, " cm at heels")


def _view(first: str = "side") -> object:
    """Return which view is shown: one at first, so that the chart has room beside it."""
    views = choice("View", (("side", "side"), ("front", "front"), ("side and front", "both")))
    views.value = first
    return views


def _chosen_view(values: Values, posture: Posture, ghost: Posture | None) -> Scene:
    draw = {"both": lifter_picture, "side": side_view, "front": front_view}[values[VIEW]]
    return draw(posture, ghost)


def _bar(values: Values) -> Bar:
    high = Bar.high(values["load"])
    return replace(high, drop_m=values["bar_position"] / 100, name="bar")


class _Hold:
    """Hold the balance, or freeze the trunk's lean when that is switched on."""

    def __init__(self) -> None:
        self.lean_deg: float | None = None

    def __call__(
        self, values: Values, lifter: Lifter, stance: Stance, shank_deg: float, over: str = "system"
    ) -> Posture:
        legs = lifter, _bar(values), stance
        thigh_deg = -values["depth"]
        if values["hold"] == "balance":
            balanced = balance(*legs, thigh_deg, shank_deg, over=over)
            self.lean_deg = float(balanced.trunk_deg) if np.isfinite(balanced.sine) else None
            return balanced
        if self.lean_deg is None:
            return balance(*legs, thigh_deg, shank_deg, over=over)
        lean = float(np.clip(self.lean_deg, -30, 90))
        return pose(*legs, lean, thigh_deg, shank_deg)


def lever_arms(lifter: Lifter | None = None, size: str = "page") -> Explorer:
    """Explore what load, depth, shanks and the bar's place ask of the joints.

    Holding the trunk instead of the balance shows how far a lower bar
    takes the centre of mass back. ``size`` is "page" or "projector".
    """
    who, hold = lifter or Lifter.from_stature(1.75, 80), _Hold()
    controls = {
        "bar_position": _bar_position(),
        "load": _load(),
        "depth": _depth(),
        "shank": _shank(),
        "hold": choice("Hold", BALANCE_OR_TRUNK),
    }
    presets = {
        "High bar": {},
        "Low bar": {"bar_position": DROP_LOW},
        "Empty bar": {"load": 20},
        "Deep": {"depth": 20, "shank": 35},
        "Upright shanks": {"shank": 20},
    }
    return Explorer(controls, lambda v: hold(v, who, Stance(), v["shank"]), presets, size=size)


def proportions(size: str = "page") -> Explorer:
    """Explore why two good lifters lean differently.

    Beside the picture: lean against thigh-to-trunk length over a
    surveyed population, this lifter marked [ansur2].
    """
    controls = {
        "femur": _percent("Femur length"),
        "trunk": _percent("Trunk length"),
        "shank_length": _percent("Shank length"),
        "stature": slider("Stature", 175, 150, 200, 1, " cm"),
        VIEW: _view(),
    }
    presets = {
        "Long thighs": {"femur": 110},
        "Short thighs": {"femur": 92},
        "Long trunk": {"trunk": 108},
        "Tall": {"stature": 195},
        "Short": {"stature": 155},
    }
    population = LeanByBuild(size_px=CHART["page"])

    def built(values: Values) -> Lifter:
        return Lifter.from_stature(values["stature"] / 100, 80).scaled(
            thigh=values["femur"] / 100,
            trunk=values["trunk"] / 100,
            shank=values["shank_length"] / 100,
        )

    def marked(_: Values, posture: Posture) -> LeanByBuild:
        return population.mark(posture.lifter)

    return Explorer(
        controls,
        lambda v: balance(built(v), Bar.high(80), Stance(), 0, 30),
        presets,
        chart=marked,
        draw=_chosen_view,
        size=size,
    )


def stance(size: str = "page") -> Explorer:
    """Explore what width and turnout buy and what the ankles allow.

    Beside the picture: which shank leans and depths this lifter can hold.
    """
    controls = {
        "stance_width": _stance_width(),
        "turnout": slider("Turnout", 12, 0, 45, 1, "° out", zero="straight ahead"),
        "valgus": slider("Knees inward", 0, -10, 25, 1, "° inward", "° outward", "over the feet"),
        "ankle_limit": slider("Ankle limit", 40, 10, 50, 1, "° of bend"),
        "heel_rise": slider("Heel rise", 0, 0, 25, 1, "°", zero="heels down"),
        "wedge": slider("Wedge", 0, 0, 6, 0.5, " cm under the heels", zero="flat floor"),
        "shank": _shank(),
        "depth": _depth(),
        VIEW: _view("front"),
    }
    presets = {
        "Wide": {"stance_width": 60, "turnout": 25, "shank": 22},
        "Stiff ankles": {"ankle_limit": 22},
        "Stiff ankles, heels up": {"ankle_limit": 22, "heel_rise": 9},
        "Stiff ankles, on a wedge": {"ankle_limit": 22, "wedge": 3},
        "Knees in": {"valgus": 15},
        "Too wide": {"stance_width": 100},
    }
    bar, average = Bar.high(60), Lifter.from_stature(1.75, 80)

    def placed(values: Values) -> Stance:
        return Stance(
            heel_width_m=values["stance_width"] / 100,
            turnout_deg=values["turnout"],
            valgus_deg=values["valgus"],
            heel_rise_deg=values["heel_rise"],
            wedge_m=values["wedge"] / 100,
        )

    def build(values: Values) -> Posture:
        who = replace(average, dorsiflexion_deg=values["ankle_limit"])
        return balance(who, bar, placed(values), -values["depth"], values["shank"])

    held, drawn = FeasibleMap("shank", "depth", size_px=CHART["page"]), {}

    def marked(values: Values, posture: Posture) -> FeasibleMap:
        # The map holds for every shank lean and depth: only the rest makes another one.
        rest = {name: value for name, value in values.items() if name not in ("shank", "depth")}
        if rest != drawn:
            held.show(posture.lifter, bar, posture.stance)
            drawn.update(rest)
        return held.mark(values["shank"], values["depth"])

    return Explorer(controls, build, presets, chart=marked, draw=_chosen_view, size=size)


def balance_rules(size: str = "page") -> Explorer:
    """Explore bar position, femur length and stance together.

    Choose which of two rules puts something over mid-foot, or hold the
    trunk and see the centre of mass shift. Beside it: both rules by load.
    """
    hold = _Hold()
    controls = {
        "bar_position": _bar_position(),
        "femur": _percent("Femur length"),
        "stance_width": _stance_width(),
        "load": _load(60),
        "depth": _depth(),
        "over": choice("Over mid-foot", (("bar and lifter", "system"), ("the bar alone", "bar"))),
        "hold": choice("Hold", BALANCE_OR_TRUNK),
        VIEW: _view(),
    }
    presets = {
        "Low bar": {"bar_position": DROP_LOW},
        "Long thighs": {"femur": 110},
        "Wide stance": {"stance_width": 55},
        "Light bar": {"load": 20},
        "Heavy bar": {"load": 180},
    }

    def built(values: Values) -> Lifter:
        return Lifter.from_stature(1.75, 80).scaled(thigh=values["femur"] / 100)

    rules = LeanByLoad(size_px=CHART["page"])

    def marked(values: Values, posture: Posture) -> LeanByLoad:
        legs = posture.lifter, posture.bar, posture.stance
        return rules.show(*legs, -values["depth"]).mark(values["load"])

    return Explorer(
        controls,
        lambda v: hold(v, built(v), Stance(v["stance_width"] / 100), 28, v["over"]),
        presets,
        chart=marked,
        draw=_chosen_view,
        size=size,
    )
