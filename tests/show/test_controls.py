"""Controls without a browser: what is said, and what is sent to be mended."""

from __future__ import annotations

import pytest

from squatlab.show import explorers
from squatlab.show.controls import Repair, button, choice, repair_for, slider

SHORT_NAMES = {
    "lever_arms": ("Bar position", "Load", "Depth", "Shank lean"),
    "proportions": ("Femur length", "Trunk length", "Shank length", "Stature"),
    "stance": ("Stance width", "Turnout", "Knees inward", "Ankle limit", "Shank lean", "Depth"),
    "balance_rules": ("Bar position", "Femur length", "Stance width", "Load", "Depth"),
    "rack_height": ("Stature", "Bar position", "Holes every"),
}


@pytest.mark.parametrize(("maker", "names"), SHORT_NAMES.items())
def test_every_control_has_its_name(maker, names):
    labels = [c.description for c in getattr(explorers, maker)().controls.values()]
    assert set(names) <= set(labels)


def test_the_repair_knows_unit_negative_and_zero_of_every_slider():
    depth = slider("Depth", 0, -60, 30, 1, "° below level", "° above level", "level")
    load = slider("Load", 60, 0, 200, 5, " kg")
    repair = repair_for([depth, load, choice("View", (("side", "s"),))])
    assert repair.words == {
        "Depth": ["° below level", "° above level", "level"],
        "Load": [" kg", "", ""],
    }


def test_what_is_sent_to_the_browser_holds_script_style_and_words():
    state = Repair(words={"Load": [" kg", "", ""]}).get_state()
    assert state["words"] == {"Load": [" kg", "", ""]}
    for mended in ("aria-label", "aria-valuetext", "data-lm-suppress-shortcuts", "aria-pressed"):
        assert mended in state["_esm"]
    assert ".squatlab" in state["_css"]


@pytest.mark.parametrize(("step", "shown"), [(1, ".0f"), (0.5, ".1f"), (5, ".0f")])
def test_a_slider_shows_as_many_digits_as_its_step_has(step, shown):
    assert slider("Load", 0, 0, 10, step, " kg").readout_format == shown


def test_a_key_moves_a_slider_by_a_step_a_coach_would_take():
    controls = explorers.balance_rules().controls
    steps = {c.description: c.step for c in controls.values() if hasattr(c, "step")}
    assert steps == {
        "Bar position": 0.5, "Femur length": 1, "Stance width": 1, "Load": 5, "Depth": 1,
    }  # fmt: skip


def test_a_button_calls_without_arguments():
    pressed = []
    button("Reset", lambda: pressed.append(True)).click()
    assert pressed == [True]


def test_a_chart_is_worded_anew_whenever_it_changes():
    shown = explorers.proportions()
    before = shown.display.alt
    shown.controls["femur"].value = 110
    assert shown.display.alt != before
    assert "This lifter: thigh length divided by trunk length 0.94" in shown.display.alt
