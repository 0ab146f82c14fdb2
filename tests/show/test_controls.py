"""Controls without a browser: what they are called, what they say, what stock ones need."""

from __future__ import annotations

import pytest

from squatlab.show import explorers, rack_picture
from squatlab.show.controls import Repair, Slider, button, choice, sent, slider

SHORT_NAMES = {
    explorers.lever_arms: ("Bar position", "Load", "Depth", "Shin lean"),
    explorers.proportions: ("Thigh length", "Trunk length", "Shin length", "Stature"),
    explorers.stance: (
        "Stance width",
        "Turnout",
        "Knees inward",
        "Ankle limit",
        "Shin lean",
        "Depth",
    ),
    explorers.balance_rules: ("Bar position", "Thigh length", "Stance width", "Load", "Depth"),
    rack_picture.rack_height: ("Stature", "Bar position", "Holes every"),
}


@pytest.mark.parametrize(("maker", "names"), SHORT_NAMES.items())
def test_every_control_has_its_name(maker, names):
    labels = [c.label for c in maker().controls.values()]
    assert set(names) <= set(labels)


def test_a_value_is_worded_with_unit_side_and_a_word_for_nought():
    depth = slider("Depth", 0, -60, 30, 1, "° below level", "° above level", "level")
    words = [depth.words(value, {}) for value in (-12, -0.4, 0, 7)]
    assert words == ["12° above level", "level", "level", "7° below level"]
    assert slider("Shift", 0, -2, 2, 0.5, " cm").words(-1.5, {}) == "−1.5 cm"


def test_a_slider_stands_at_its_steps_and_nowhere_else():
    load = slider("Load", 60, 0, 200, 5, " kg")
    assert load.positions.tolist() == list(range(0, 201, 5))
    drop = slider("Bar position", 3, 0, 14, 0.5, " cm")
    assert len(drop.positions) == 29 and drop.positions[-1] == 14
    assert load.checked(9999) == 200 and load.checked(-1) == 0


def test_a_choice_knows_its_options():
    view = choice("View", (("side", "s"), ("front", "f")), "f")
    assert view.value == "f" and view.checked("s") == "s"
    with pytest.raises(ValueError, match="View is 'x'; choose from s, f"):
        view.checked("x")


def test_what_is_sent_to_the_browser_holds_every_value_in_words():
    shown = explorers.lever_arms()
    controls = {c["name"]: c for c in sent(shown.controls, shown.values())}
    assert controls["load"]["texts"][:2] == ["no bar at all", "5 kg"]
    assert len(controls["depth"]["at"]) == len(controls["depth"]["texts"]) == 91
    assert not controls["lean"]["enabled"] and controls["depth"]["enabled"]
    assert controls["view"]["turns"] and not controls["hold"]["turns"]


def test_a_key_moves_a_slider_by_a_step_a_coach_would_take():
    controls = explorers.balance_rules().controls
    steps = {c.label: c.step for c in controls.values() if isinstance(c, Slider)}
    assert steps == {
        "Bar position": 0.5,
        "Thigh length": 1,
        "Stance width": 1,
        "Load": 5,
        "Depth": 1,
        "Trunk lean": 0.5,
    }


def test_a_button_calls_without_arguments():
    pressed = []
    button("Reset", lambda: pressed.append(True)).click()
    assert pressed == [True]


def test_stock_controls_are_sent_what_makes_them_usable():
    state = Repair().get_state()
    for name in ("data-lm-suppress-shortcuts", "radiogroup"):
        assert name in state["_esm"]
    assert ".squatlab" in state["_css"]
