"""The explorers of 08 and 09 without a browser: every control moves picture and words."""

from __future__ import annotations

import json
import re

import numpy as np
import pytest

from squatlab import faults
from squatlab.faults import catalogue
from squatlab.lessons.fault_cases import amount, read, squat, suppose
from squatlab.review import prioritise
from squatlab.show import fault_explorers, palette
from squatlab.show.controls import Slider
from squatlab.show.fault_explorers import FIVE
from squatlab.show.picture import svg
from tests.kept import drawn

MAKERS = [fault_explorers.faults, fault_explorers.first_to_fix]


@pytest.fixture(params=MAKERS, ids=lambda make: make.__name__)
def explorer(request):
    return request.param()


def shown_by(explorer) -> tuple:
    return explorer.picture["panes"], bytes(explorer.data), explorer.sentence


def test_every_control_changes_picture_and_words(explorer):
    for name, control in explorer.controls.items():
        before = shown_by(explorer)
        if isinstance(control, Slider):
            setattr(explorer, name, control.low + 0.9 * (control.high - control.low))
        else:
            others = (v for _, v in control.options if v != getattr(explorer, name))
            setattr(explorer, name, next(others))
        if name == "load":  # it matters only where something would stop a set
            explorer.lumbar_rounding = 3.2
        assert explorer.error is None, name
        assert shown_by(explorer) != before, name


def test_presets_show_something_else_and_reset_brings_the_start_back(explorer):
    start = shown_by(explorer)
    for name in explorer.presets:
        before = explorer.sentence
        explorer.press(name)
        assert explorer.error is None and explorer.sentence != before, name
    if "policy" in explorer.controls:
        explorer.policy = "largest-first"
    explorer.reset()
    assert shown_by(explorer) == start


def test_the_clip_follows_fault_and_size():
    shown = fault_explorers.faults()
    for name in catalogue():
        shown.fault = name
        before = shown.film_data
        shown.severity = 2.9 if shown.severity < 2.9 else 2.2
        size = float(faults.fault(name).value_at(shown.severity))
        found = read(squat(1.8, **{name: size}))[name]
        assert f"set {amount(faults.fault(name), size)}, measured {found.amount}" in shown.sentence
        assert shown.film_data != before
        drawn = {line.name for panel in shown.film.panels for line in panel.lines}
        assert drawn and len(drawn) <= len(faults.fault(name).lines)
        marks = shown.shown["marks"]
        assert [mark["frame"] for mark in marks] == [found.worst]


def test_a_new_fault_is_shown_where_it_shows_most_and_a_size_keeps_the_frame():
    shown = fault_explorers.faults()
    shown.fault = "lumbar_overarching"
    early = shown.frame
    assert early < squat().bottom - 20
    shown.severity = 3.0
    assert shown.frame == early


def spoken(explorer, name: str) -> dict[float, str]:
    (control,) = [c for c in explorer.spec["controls"] if c["name"] == name]
    return dict(zip(control["at"], control["texts"], strict=True))


def test_a_size_is_read_out_in_the_faults_unit():
    shown = fault_explorers.faults()
    for name, severity, unit in (("knee_valgus", 2.4, "°"), ("fast_descent", 2.4, " s")):
        shown.fault = name
        words = amount(faults.fault(name), float(faults.fault(name).value_at(severity)))
        assert spoken(shown, "severity")[severity] == f"clear, {words}" and words.endswith(unit)
    assert spoken(shown, "severity")[0.8].startswith("no fault")
    assert spoken(shown, "descent")[1.8] == "1.8 s"


def test_what_comes_along_and_what_cannot_be_is_said():
    shown = fault_explorers.faults()
    shown.fault = "knees_far_forward"
    assert "Also called: heels lift (clear), bar drifts forward (gross)" in shown.sentence
    shown.fault = "fast_descent"
    assert "Not possible" not in shown.sentence
    shown.severity = fault_explorers.MOST
    assert "Not possible: the bar would leave the back" in shown.sentence


def test_no_size_of_any_fault_breaks_the_explorer():
    shown = fault_explorers.faults()
    for name in catalogue():
        shown.fault = name
        for size in (fault_explorers.LEAST, 1.3, fault_explorers.MOST):
            shown.severity = size
            assert shown.error is None, (name, size, shown.sentence)


def test_readers_without_a_kernel_get_frames_or_bars(explorer):
    bundle = explorer._repr_mimebundle_()
    data = bundle[0] if isinstance(bundle, tuple) else bundle
    assert re.search(r'alt="([^"]{40,})"', data["text/html"])
    assert data["text/plain"] == f"Explorer: {explorer.sentence}"
    if hasattr(explorer, "film"):
        shown = drawn(data["text/html"])
        assert "knees apart" in shown and "lowest point" in shown


def test_first_to_fix_is_what_the_ranking_says():
    shown = fault_explorers.first_to_fix()
    for severity in (1.0, 1.8, 2.0, 3.0):
        shown.knees_first = severity
        found = suppose(**{name: getattr(shown, name) for name in FIVE})
        assert f"Fix first: {prioritise(found).first.finding.name} (" in shown.sentence
    shown.policy = "largest-first"
    shown.fast_descent = 3.2
    assert "Fix first: drops into the hole" in shown.sentence


def test_gross_rounding_stops_a_loaded_set_only():
    shown = fault_explorers.first_to_fix()
    shown.press("Just short of stop")
    assert "Stop the set" not in shown.sentence
    shown.lumbar_rounding += 0.2
    assert shown.sentence.startswith("Stop the set and unload")
    shown.load = "none"
    assert "Stop the set" not in shown.sentence
    shown.press("Nothing")
    assert shown.sentence.startswith("Nothing to fix")


def test_an_earlier_severity_stays_as_a_thin_line():
    shown = fault_explorers.first_to_fix()
    assert 'stroke-dasharray="3 2"' not in svg(shown.scene())
    shown.heel_lift = 3.0
    assert 'stroke-dasharray="3 2"' in svg(shown.scene())


def test_an_error_is_shown_in_the_pictures_place():
    shown = fault_explorers.first_to_fix()
    shown.subject.build = lambda values: 1 / 0
    shown.heel_lift = 1.0
    assert shown.sentence == "Cannot be drawn: division by zero"


def test_while_a_size_moves_the_frame_that_is_shown_follows(monkeypatch):
    shown = fault_explorers.faults()
    shown.frame = 150
    answers = []
    monkeypatch.setattr(shown, "send", lambda content, buffers=None: answers.append(content))
    want = [shown.controls["severity"].positions.tolist().index(2.8)]
    shown._received(None, {"kind": "ask", "name": "severity", "want": want}, [])
    sizes, clip = answers[0]["panes"]
    shown.severity = 2.8
    assert answers[0]["sentences"] == [shown.sentence]
    assert clip["structures"][0]["first"] == shown.picture["panes"][1]["structures"][0]["first"]
    assert json.dumps(answers[0]) and json.dumps(shown.shown)


@pytest.mark.parametrize("make", MAKERS)
def test_a_projector_gets_everything_larger(make):
    page, large = make(), make(size="projector")
    assert large.spec["scale"] > page.spec["scale"] and large.error is None
    if hasattr(large, "film"):
        assert large.shown["height"] > page.shown["height"]


def test_the_clean_lift_goes_down_and_up_in_step():
    rep = squat(2.4, knee_valgus=12)
    filmed = fault_explorers.Filmed(rep, 12.0, read(rep)["knee_valgus"], (), 1.5)
    shown, _ = filmed.on_film()
    for panel in shown.panels:
        (ghost,) = [p for p in panel.figure if getattr(p, "stroke", "") == palette.GHOST]
        # The outline of a quicker lift is lowest when the lifter is.
        heads = np.min([point.imag for point in ghost.points], axis=0)
        assert heads[rep.bottom] == pytest.approx(heads.max(), abs=1)
        assert heads[0] == pytest.approx(heads[-1], abs=2)
