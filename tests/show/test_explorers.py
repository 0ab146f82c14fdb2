"""Explorers without a browser: move a control, look at picture and sentence."""

from __future__ import annotations

import re
from io import BytesIO

import pytest
from ipywidgets import Widget
from PIL import Image

from squatlab import Bar, Lifter, Stance, balance, joint_moments, pose
from squatlab.show import explorers
from squatlab.show.controls import Repair
from squatlab.show.explorer import CHART, Explorer
from tests.kept import drawn

MAKERS = [
    explorers.lever_arms, explorers.proportions, explorers.stance, explorers.balance_rules,
    explorers.rack_height,
]  # fmt: skip
AVERAGE = Lifter.from_stature(1.75, 80)


@pytest.fixture(params=MAKERS, ids=lambda make: make.__name__)
def explorer(request) -> Explorer:
    return request.param()


def bar(drop_cm: float, load: float) -> Bar:
    return Bar(load, drop_cm / 100, Bar.high(0).behind_m)


def lean(text: str) -> float:
    return float(re.search(r"Lean (−?[\d.]+)°", text)[1].replace("−", "-"))


def test_moving_the_bar_and_the_load_gives_the_packages_numbers():
    shown = explorers.lever_arms()
    shown.controls["bar_position"].value = 8
    shown.controls["load"].value = 140
    posture = balance(AVERAGE, bar(8, 140), Stance(), 0, 30)
    assert f"Lean {posture.trunk_deg:.1f}°" in shown.sentence
    assert f"hip {joint_moments(posture).hip:.0f}," in shown.sentence
    assert f"Lean {posture.trunk_deg:.1f}°" in shown.display.picture


def test_the_way_a_browser_sends_a_value_works_too():
    shown = explorers.lever_arms()
    shown.controls["depth"].set_state({"value": 20.0})
    assert lean(shown.sentence) == pytest.approx(
        balance(AVERAGE, bar(3, 100), Stance(), -20, 30).trunk_deg, abs=0.051
    )


def test_a_held_trunk_and_a_lower_bar_shift_the_centre_of_mass_back():
    shown = explorers.lever_arms()
    held = balance(AVERAGE, bar(3, 100), Stance(), 0, 30).trunk_deg
    shown.controls["hold"].value = "trunk"
    assert "centre of mass over mid-foot" in shown.sentence
    shown.controls["bar_position"].value = 9.5
    shift = 100 * pose(AVERAGE, bar(9.5, 100), Stance(), held, 0, 30).com_shift
    assert shift < 0
    assert f"centre of mass {-shift:.1f} cm behind mid-foot" in shown.sentence
    shown.controls["hold"].value = "balance"
    assert "centre of mass over mid-foot" in shown.sentence


def test_the_second_rule_is_on_offer():
    shown = explorers.balance_rules()
    shown.controls["over"].value = "bar"
    expected = balance(AVERAGE, bar(3, 60), Stance(), 0, 28, over="bar")
    assert lean(shown.sentence) == pytest.approx(expected.trunk_deg, abs=0.051)
    assert "ahead of mid-foot" in shown.sentence or "behind mid-foot" in shown.sentence


def test_the_three_sliders_of_the_fifth_notebook_come_first():
    labels = [c.description for c in explorers.balance_rules().controls.values()]
    assert labels[:3] == ["Bar position", "Femur length", "Stance width"]


def test_stature_hides_what_proportions_do():
    shown = explorers.proportions()
    start = lean(shown.sentence)
    shown.controls["stature"].value = 195
    tall = lean(shown.sentence)
    shown.reset()
    shown.controls["femur"].value = 110
    long = lean(shown.sentence)
    assert abs(tall - start) < 2 < 4 < long - start


def test_stiff_ankles_are_told_in_the_figures_place_and_raised_heels_help():
    shown = explorers.stance()
    shown.presets["Stiff ankles"].click()
    assert "limit is 22°" in shown.sentence
    assert "limit is 22°" in re.sub(r"<[^>]+>", " ", shown.display.picture)
    for preset in ("Stiff ankles, heels up", "Stiff ankles, on a wedge"):
        shown.presets[preset].click()
        assert shown.posture.feasible


def test_a_stance_out_of_reach_has_its_reason_instead_of_a_body():
    shown = explorers.stance()
    shown.presets["Too wide"].click()
    assert "out of reach" in shown.sentence and shown.error is None


def test_reset_brings_back_the_very_same_picture(explorer):
    before = explorer.display.picture
    for control in explorer.controls.values():
        if hasattr(control, "max"):
            control.value = control.min + 0.6 * (control.max - control.min)
    assert explorer.display.picture != before
    explorer.presets["Reset"].click()
    assert explorer.display.picture == before


def test_a_value_handed_back_rounded_leaves_no_outline(explorer):
    first = explorer.display.picture
    control = next(iter(explorer.controls.values()))
    control.value += 1e-13
    assert explorer.display.picture == first
    control.value += control.step
    assert explorer.display.picture != first


def test_every_preset_shows_something_or_says_why_not(explorer):
    for name, button in explorer.presets.items():
        button.click()
        assert explorer.error is None, name
        assert explorer.sentence.startswith(("Lean", "Cannot be held", "Hooks in hole")), name


@pytest.mark.parametrize("part", [0.0, 0.25, 0.5, 0.75, 1.0])
def test_no_corner_of_any_slider_breaks_an_explorer(explorer, part):
    for control in explorer.controls.values():
        if hasattr(control, "max"):
            control.value = control.min + part * (control.max - control.min)
            assert explorer.error is None, explorer.sentence


def test_the_posture_before_a_gesture_stays_as_an_outline():
    shown = explorers.lever_arms()
    start = shown.posture
    for load in (110, 120, 130):
        shown.controls["load"].value = load
        assert shown._ghost is start
    before = shown.posture
    shown.controls["depth"].value = 10
    assert shown._ghost is before


def test_an_unexpected_error_is_shown_and_kept():
    def broken(values):
        raise RuntimeError("the wheel came off")

    shown = explorers.lever_arms()
    shown._build = broken
    shown.controls["load"].value = 50
    assert shown.sentence == "Cannot be drawn: the wheel came off"
    assert isinstance(shown.error, RuntimeError)
    assert "wheel came off" in shown.display.picture


def test_values_stay_within_a_slider():
    shown = explorers.lever_arms()
    shown.controls["load"].value = 9999
    assert shown.controls["load"].value == 200


def test_an_explorer_leaves_a_picture_for_readers_without_a_kernel(explorer):
    bundle = explorer._repr_mimebundle_()
    data = bundle[0] if isinstance(bundle, tuple) else bundle
    assert drawn(data["text/html"]) == explorer.display.picture
    assert data["text/plain"] == f"Explorer: {explorer.sentence}"
    assert "application/vnd.jupyter.widget-view+json" in data
    assert repr(explorer) == repr(explorer.__class__.__repr__(explorer)).strip("'\"")


def test_every_slider_has_words_for_its_value(explorer):
    repair = next(child for child in explorer.children if isinstance(child, Repair))
    for control in explorer.controls.values():
        assert control.description
        if hasattr(control, "max"):
            assert repair.words[control.description][0]


def test_an_unknown_size_is_explained():
    with pytest.raises(ValueError, match='choose "page" or "projector"'):
        explorers.lever_arms(size="huge")
    assert "squatlab-projector" in explorers.lever_arms(size="projector")._dom_classes


def test_a_chart_follows_where_there_is_one():
    shown = explorers.proportions()
    before = shown.display.chart
    shown.controls["femur"].value = 108
    assert shown.display.chart != before
    assert Image.open(BytesIO(shown.display.chart)).size == CHART["page"]


def test_what_a_move_changes_arrives_in_one_message_and_no_echo(monkeypatch):
    sent = []

    def note(widget, message, buffers=None):
        changed = {*message["state"], *(path[0] for path in message["buffer_paths"])}
        sent.append((type(widget).__name__, message["method"], changed))

    shown = explorers.proportions()
    monkeypatch.setattr(Widget, "_send", note)
    shown.controls["femur"].set_state({"value": 108.0})
    assert sent == [("Display", "update", {"picture", "chart", "alt", "sentence"})]


def test_the_rack_follows_stature_and_says_the_set_ups_numbers():
    from squatlab.gym import Rack, set_up

    shown = explorers.rack_height()
    shown.controls["stature"].value = 190
    lifter = Lifter.from_stature(1.90, 90)
    plan = set_up(Rack.of("50 mm"), lifter, Bar.high(20))
    assert shown.sentence == " ".join(str(plan).splitlines())
    assert f"hooks in hole {plan.hole}" in shown.display.picture
    assert f"safety bars in hole {plan.safety}" in shown.display.picture


def test_a_lifter_taller_than_the_rack_is_explained_not_crashed():
    shown = explorers.rack_height()
    shown.controls["place"].value = "low"
    shown.controls["spacing"].value = "2 in"
    for stature in range(150, 206, 5):
        shown.controls["stature"].value = stature
        assert shown.sentence.startswith(("Hooks in hole", "Cannot be drawn: "))
