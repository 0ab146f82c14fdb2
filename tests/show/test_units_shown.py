"""US units on screen: every explorer, chart and clip in them, and nothing metric left."""

from __future__ import annotations

import re

import numpy as np
import pytest

from squatlab import Bar, Lifter, Stance, balance, units
from squatlab.faults import catalogue
from squatlab.lessons.fault_cases import squat
from squatlab.motion import Camera
from squatlab.motion import film as filmed
from squatlab.show import charts, explorers, fault_explorers, motion_explorers, rack_picture
from squatlab.show.controls import Slider
from squatlab.show.film import film
from squatlab.show.footage import footage
from squatlab.show.lines import describe
from squatlab.show.primitives import Text
from squatlab.show.units_form import UnitsForm
from squatlab.units import METRIC, US

METRIC_WORD = re.compile(r"(?<![\w/])(cm|mm|kg|kilo\w*|centim\w*|met(er|re)s?|N·m|m)(?![\w/])")
"""A metric unit as a word; m/s, ms, °, s and % are no choice of a system."""

MAKERS = {
    "bar_thigh_stance": explorers.bar_thigh_stance,
    "lever_arms": explorers.lever_arms,
    "proportions": explorers.proportions,
    "stance": explorers.stance,
    "balance_rules": explorers.balance_rules,
    "rack_height": rack_picture.rack_height,
    "repetition": motion_explorers.repetition,
    "phone": motion_explorers.phone,
    "faults": fault_explorers.faults,
    "first_to_fix": fault_explorers.first_to_fix,
}


@pytest.fixture
def us():
    with units.written_in(US):
        yield


@pytest.mark.parametrize("name", MAKERS)
def test_an_explorer_made_in_us_units_has_no_metric_word_wherever_it_is_moved(name, us):
    shown = MAKERS[name]()
    units.choose(METRIC)  # chosen later, elsewhere: an explorer keeps to its own
    sent = []
    shown.send = lambda message, buffers=None: sent.append(repr(message))
    for preset in (*list(shown.presets)[:3], "Reset"):
        shown._received(None, {"kind": "press", "preset": preset, "count": 0}, [])
        assert shown.error is None
        sent.append(repr((shown.spec, shown.picture, shown.sentence)))
    for control, slider in shown.controls.items():
        if isinstance(slider, Slider):
            ends = [0, len(slider.positions) // 2, len(slider.positions) - 1]
            shown._received(None, {"kind": "ask", "name": control, "want": ends}, [])
    words = " ".join(sent)
    assert not (found := METRIC_WORD.search(words)), words[found.start() - 60 : found.end() + 20]


CHARTS = {
    "lean_by_build": charts.lean_by_build,
    "lean_by_load": charts.lean_by_load,
    "moments_by_depth": charts.moments_by_depth,
    "lean_by_stance": charts.lean_by_stance,
    "bar_path": charts.bar_path,
    "com_shift_by_bar": charts.com_shift_by_bar,
    "feasible_map": lambda: charts.feasible_map(across="width", up="turnout"),
}


@pytest.mark.parametrize("name", CHARTS)
def test_a_chart_in_us_units_has_no_metric_word(name, us):
    scene = CHARTS[name]().scene()
    words = [part.words for part in scene.primitives if isinstance(part, Text)]
    assert not METRIC_WORD.search(" ".join([*words, scene.alt]))


def test_the_rules_begin_at_an_empty_bar_and_the_mark_is_in_whole_pounds(us):
    chart = charts.lean_by_load()
    assert "° at 45 lb," in chart.alt and "At the marked 220 lb they" in chart.alt
    assert any(text.words.startswith("220 lb: ") for text in chart.scene().texts())


def test_lines_on_a_clip_and_its_sentence_follow(us):
    shown = footage(squat(knee_valgus=12.0, heel_lift=3.0))
    lines = tuple({line for fault in catalogue().values() for line in fault.lines})
    scene = film(shown, lines).scene(shown.bottoms[0], "both", measured=True)
    words = [part.words for part in scene.primitives if isinstance(part, Text)]
    assert any(word.endswith(" in up") for word in words)
    assert not METRIC_WORD.search(" ".join([*words, describe(shown)]))


def test_where_a_camera_stood_is_said_in_the_units_chosen():
    rep, camera = squat(), Camera.side(distance_m=13 * 0.3048, height_m=0.9144)
    tracks = filmed(rep.points, rep.time, camera, np.random.default_rng(1))
    with units.written_in(US):
        assert "a camera 13 ft away and 3 ft high." in footage(tracks, camera=camera).note
        assert not METRIC_WORD.search(footage(tracks).note)
    with units.written_in(METRIC):
        assert "a camera 3.96 m away and 0.91 m high." in footage(tracks, camera=camera).note


def test_a_control_in_us_units_sets_the_same_mechanics(us):
    shown = explorers.lever_arms()
    shown.load, shown.bar_position = 225, 3.75
    posture = balance(
        Lifter.from_stature(1.75, 80),
        # Exact by definition: 0.453 592 37 kg and 25.4 mm (NIST SP 811, appendix B.8).
        Bar(225 * 0.45359237, 3.75 * 0.0254, Bar.high(0).behind_m),
        Stance(),
        0,
        30,
    )
    assert shown.posture.trunk_deg == pytest.approx(posture.trunk_deg, abs=1e-9)
    assert shown.posture.bar.mass_kg == pytest.approx(102.05828, abs=1e-5)


def test_every_preset_of_a_system_stands_on_a_step_of_its_slider():
    for system in (METRIC, US):
        with units.written_in(system):
            for name, make in MAKERS.items():
                shown = make()
                for values in (*shown.presets.values(), shown.values()):
                    for control, value in values.items():
                        if isinstance(slider := shown.controls[control], Slider):
                            assert value in slider.positions, (name, system, control, value)


def test_the_choice_of_units_is_kept_with_the_work_and_said(tmp_path):
    with units.written_in(METRIC):
        form = UnitsForm(tmp_path)
        assert "metric" in repr(form)
        form.choice.value = US
        assert (tmp_path / units.KEPT).read_text() == "us\n" and units.chosen() == US
        assert "units.txt" in form.message and explorers.lever_arms().load == 225
        assert "US" in form._repr_mimebundle_()["text/html"]
        (gone := tmp_path / "a file").write_text("")
        form.folder = gone
        form.choice.value = METRIC
        assert "this page only" in form.message.lower() and units.chosen() == METRIC
