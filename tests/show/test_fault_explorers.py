"""The explorers of 08 and 09 without a browser: every control moves picture and words."""

from __future__ import annotations

import json
import re

import pytest

from squatlab import faults
from squatlab.faults import catalogue
from squatlab.lessons.fault_cases import amount, read, squat, suppose
from squatlab.review import prioritise
from squatlab.show import fault_explorers
from squatlab.show.fault_explorers import FIVE
from tests.kept import drawn

MAKERS = [fault_explorers.faults, fault_explorers.first_to_fix]


@pytest.fixture(params=MAKERS, ids=lambda make: make.__name__)
def explorer(request):
    return request.param()


def test_every_control_changes_picture_and_words(explorer):
    for name, control in explorer.controls.items():
        picture, words = explorer.display.picture, explorer.display.sentence
        if hasattr(control, "max"):
            control.value = control.min + 0.9 * (control.max - control.min)
        else:
            control.value = next(v for v in options(control) if v != control.value)
        if name == "load":  # it matters only where something would stop a set
            explorer.controls["lumbar_rounding"].value = 3.2
        assert explorer.error is None, name
        assert (explorer.display.picture, explorer.display.sentence) != (picture, words), name


def options(control) -> list[str]:
    return [value for _, value in control.options]


def test_presets_show_something_else_and_reset_brings_the_start_back(explorer):
    start = explorer.display.picture, explorer.display.sentence
    for name, button in explorer.presets.items():
        if name != "Reset":
            before = explorer.display.sentence
            button.click()
            assert explorer.error is None and explorer.display.sentence != before, name
    explorer.controls[next(n for n, c in explorer.controls.items() if hasattr(c, "max"))].value = 1
    if "policy" in explorer.controls:
        explorer.controls["policy"].value = "largest-first"
    explorer.presets["Reset"].click()
    assert (explorer.display.picture, explorer.display.sentence) == start


def test_the_clip_follows_fault_and_size():
    shown = fault_explorers.faults()
    clip = shown.clip
    for name in catalogue():
        shown.controls["fault"].value = name
        before = clip.data
        shown.controls["size"].value = 2.9 if shown.controls["size"].value < 2.9 else 2.2
        size = float(faults.fault(name).value_at(shown.controls["size"].value))
        found = read(squat(1.8, **{name: size}))[name]
        assert f"put in {amount(faults.fault(name), size)}, read {found.amount}" in shown.sentence
        assert clip.data != before
        drawn = {line.name for panel in clip.film.panels for line in panel.found}
        assert drawn and len(drawn) <= len(faults.fault(name).lines)
        marks = clip.shown["marks"]
        assert [mark["frame"] for mark in marks] == [found.worst]


def test_a_new_fault_is_shown_where_it_shows_most_and_a_size_keeps_the_frame():
    shown = fault_explorers.faults()
    shown.controls["fault"].value = "lumbar_overarching"
    early = shown.clip.frame
    assert early < squat().bottom - 20
    shown.controls["size"].value = 3.0
    assert shown.clip.frame == early


def test_a_size_is_read_out_in_the_faults_unit():
    shown = fault_explorers.faults()
    assert shown._repair.words["Size"][3]["2.4"] == "clear, 12.0°"
    shown.controls["fault"].value = "fast_descent"
    assert shown._repair.words["Size"][3]["2.5"] == "clear, 0.75 s"
    assert shown._repair.words["Size"][3]["0.9"].startswith("no fault")
    assert shown._repair.words["Descent"][0] == " s"


def test_what_comes_along_and_what_cannot_be_is_said():
    shown = fault_explorers.faults()
    shown.controls["fault"].value = "knees_far_forward"
    assert "Else called: heels lift (clear), bar drifts forward (gross)" in shown.sentence
    shown.controls["fault"].value = "fast_descent"
    assert "Not possible" not in shown.sentence
    shown.controls["size"].value = fault_explorers.MOST
    assert "Not possible: the bar would leave the back" in shown.sentence


def test_no_size_of_any_fault_breaks_the_explorer():
    shown = fault_explorers.faults()
    for name in catalogue():
        shown.controls["fault"].value = name
        for size in (fault_explorers.LEAST, 1.3, fault_explorers.MOST):
            shown.controls["size"].value = size
            assert shown.error is None, (name, size, shown.sentence)


def test_readers_without_a_kernel_get_frames_or_bars(explorer):
    bundle = explorer._repr_mimebundle_()
    data = bundle[0] if isinstance(bundle, tuple) else bundle
    assert re.search(r'alt="([^"]{40,})"', data["text/html"])
    assert data["text/plain"] == f"Explorer: {explorer.sentence}"
    if hasattr(explorer, "clip"):
        shown = drawn(data["text/html"])
        assert "knees apart" in shown and "lowest point" in shown


def test_first_to_fix_is_what_the_ranking_says():
    shown = fault_explorers.first_to_fix()
    for severity in (1.0, 1.8, 2.0, 3.0):
        shown.controls["knees_first"].value = severity
        found = suppose(**{name: shown.controls[name].value for name in FIVE})
        assert f"Fix first: {prioritise(found).first.finding.name} (" in shown.sentence
    shown.controls["policy"].value = "largest-first"
    shown.controls["fast_descent"].value = 3.2
    assert "Fix first: drops into the hole" in shown.sentence


def test_gross_rounding_stops_a_loaded_set_only():
    shown = fault_explorers.first_to_fix()
    shown.presets["Just short of stop"].click()
    assert "Stop the set" not in shown.sentence
    shown.controls["lumbar_rounding"].value += 0.2
    assert shown.sentence.startswith("Stop the set and unload")
    shown.controls["load"].value = "none"
    assert "Stop the set" not in shown.sentence
    shown.presets["Nothing"].click()
    assert shown.sentence.startswith("Nothing to fix")


def test_an_earlier_severity_stays_as_a_thin_line():
    shown = fault_explorers.first_to_fix()
    assert 'stroke-dasharray="3 2"' not in shown.display.picture
    shown.controls["heel_lift"].value = 3.0
    assert 'stroke-dasharray="3 2"' in shown.display.picture


def test_an_error_is_shown_in_the_pictures_place():
    shown = fault_explorers.first_to_fix()
    shown._build = lambda values: 1 / 0
    shown.controls["heel_lift"].value = 1.0
    assert shown.sentence == "Cannot be drawn: division by zero"


def test_what_is_sent_to_the_player_can_be_sent():
    shown = fault_explorers.faults()
    shown.controls["size"].value = 3.1
    assert json.dumps(shown.clip.shown) and shown.clip.shown["height"] == 330
    rows = len(shown.clip.data) / 2 / shown.clip.shown["frames"]
    assert rows.is_integer()


@pytest.mark.parametrize("make", MAKERS)
def test_a_projector_gets_everything_larger(make):
    page, large = make(), make(size="projector")
    assert "squatlab-projector" in large._dom_classes and large.error is None
    if hasattr(large, "clip"):
        assert large.clip.shown["height"] > page.clip.shown["height"]
