"""The practice page without a browser: asked, marked, kept, shown again."""

from __future__ import annotations

import os
import re
from datetime import date, datetime

import numpy as np
import pytest

from squatlab import Bar, Lifter, Stance, faults
from squatlab.motion import Camera, Injection, film, synthesise
from squatlab.questions import item_bank
from squatlab.questions.cases import case
from squatlab.questions.items import worded
from squatlab.questions.kinds import NOTHING
from squatlab.questions.practice_progress import LABELS, Answered, Progress, difficulty
from squatlab.questions.real_cases import (
    CoachAnswer,
    CoachKey,
    Consent,
    LiftDeclared,
    RealCases,
)
from squatlab.show.confusions import HEADS, Confusions
from squatlab.show.controls import Repair
from squatlab.show.practice import BETWEEN_REAL, CELL, cell, practice
from tests.kept import drawn

SEED = 11
"""Low back rounds (clear) and knees fall in (slight)."""


@pytest.fixture
def page(tmp_path):
    return practice("me", seed=SEED, folder=tmp_path / "kept")


def right_cue(fault):
    return next(cue for cue in item_bank.cues(fault) if cue.accepted)


def answer(page, *ticked, first=None, cue=None):
    for label in ticked:
        page.ticks[label].value = True
    if first:
        page.first.value = first
        page.cue.value = cue or right_cue(first).words
    page.submit.click()


def words(widget):
    return re.sub(r"<[^>]+>", " ", widget.value)


def clip_of(page):
    return page._clip.children[0]


# Asking


def test_every_fault_can_be_ticked_and_nothing_is_at_first(page):
    assert tuple(page.ticks) == LABELS
    assert [tick.description for tick in page.ticks.values()] == [worded(name) for name in LABELS]
    assert page.named() == () and page.first.value is None and page.cue.value is None
    assert page.first.layout.display == page.cue.layout.display == "none"
    assert sum(isinstance(child, Repair) for child in page.children) == 1


def test_nothing_on_the_page_gives_the_answer_away(page):
    film = clip_of(page).film
    assert not any(panel.measured for panel in film.panels) and not clip_of(page).shown["marks"]
    told = " ".join((repr(page), page._head.value, page.said, film.sentence))
    assert not [fault.name for fault in faults.catalogue().values() if fault.name in told]
    assert "practice/me.jsonl" in practice("me", seed=3, folder="practice")._head.value
    assert not os.path.exists("practice/me.jsonl")


def test_what_is_ticked_can_be_first_and_cues_follow_it(page):
    page.ticks["knee_valgus"].value = page.ticks["head_up"].value = True
    assert [value for _, value in page.first.options] == ["knee_valgus", "head_up"]
    assert page.first.value is None and page.cue.layout.display == "none"
    page.first.value = "head_up"
    assert sorted(value for _, value in page.cue.options) == sorted(
        cue.words for cue in item_bank.cues("head_up")
    )
    assert page.cue.value is None
    page.cue.value = page.cue.options[1][1]
    page.ticks["uneven_bar"].value = True
    assert page.first.value == "head_up" and page.cue.value == page.cue.options[1][1]
    page.ticks["head_up"].value = False
    assert page.first.value is None and page.cue.value is None


def test_the_only_one_is_first_at_once_and_no_longer_with_a_second(page):
    page.ticks["head_up"].value = True
    assert page.first.value == "head_up" and page.cue.layout.display is None
    assert {words for _, words in page.cue.options} == {c.words for c in item_bank.cues("head_up")}
    assert page.cue.value is None
    page.ticks["knee_valgus"].value = True
    assert page.first.value is None and page.cue.layout.display == "none"
    page.ticks["knee_valgus"].value = False
    page.cue.value = page.cue.options[0][1]
    page.ticks["knee_valgus"].value = True
    assert page.first.value == "head_up" and page.cue.value == page.cue.options[0][1]


def test_nothing_to_fix_and_faults_exclude_each_other(page):
    page.ticks["knee_valgus"].value = True
    page.ticks[NOTHING].value = True
    assert page.named() == (NOTHING,) and page.first.layout.display == "none"
    page.ticks["bar_forward"].value = True
    assert page.named() == ("bar_forward",)


@pytest.mark.parametrize(
    ("ticked", "first", "said"),
    [
        ((), None, "tick what you see, or “nothing to fix”"),
        (("knee_valgus",), None, "choose the one to fix first, and what you say"),
        (("knee_valgus", "head_up"), None, "choose the one to fix first, and what you say"),
    ],
)
def test_what_is_missing_is_said_and_nothing_marked(page, ticked, first, said):
    answer(page, *ticked, first=first)
    assert page.said.startswith("Not marked yet") and said in page.said
    assert page.progress.answered == [] and not page.progress.path.exists()


# Marking


def test_a_right_answer_is_told_so_and_kept(page):
    answer(page, "knee_valgus", "lumbar_rounding", first="lumbar_rounding")
    assert page.said.startswith("Right: low back rounds.")
    saved = re.search(r"Saved (\d\d:\d\d:\d\d)\.", page.said)
    assert saved and datetime.strptime(saved[1], "%H:%M:%S")
    assert "Seen: low back rounds, knees fall in." in words(page._result)
    assert "Missed" not in words(page._result) and "Not there" not in words(page._result)
    (kept,) = Progress(page.progress.path).answered
    assert kept == Answered(
        SEED,
        "lumbar_rounding",
        "lumbar_rounding",
        ("lumbar_rounding", "knee_valgus"),
        ("lumbar_rounding", "knee_valgus"),
        True,
        pytest.approx(page.case.margin),
    )


def test_a_wrong_answer_is_told_what_was_there_and_why(page):
    wrong = next(cue for cue in item_bank.cues("knee_valgus") if not cue.accepted)
    answer(page, "knee_valgus", "uneven_bar", first="knee_valgus", cue=wrong.words)
    assert page.said.startswith("Not “knees fall in”: the answer is “low back rounds”.")
    told = words(page._result)
    assert "Seen: knees fall in." in told and "Missed: low back rounds." in told
    assert "Not there: bar tilts." in told
    assert f"Your cue does not fit “knees fall in”: {wrong.why}" in told
    assert all(place.reason in told for place in page.case.ranking)
    assert f"{difficulty(page.case.margin)} to judge" in told
    assert page.progress.answered[0].cue is False


def test_the_lines_of_what_was_there_are_drawn_when_it_is_marked(page):
    answer(page, "lumbar_rounding", first="lumbar_rounding")
    shown = clip_of(page)
    assert shown.lines and shown.frame == page.case.findings["lumbar_rounding"].worst
    lines = {line.name for panel in shown.film.panels for line in panel.found}
    assert "low back" in lines
    assert [mark["words"] for mark in shown.shown["marks"]] == [
        "low back rounds: worst",
        "knees fall in: worst",
    ]


def test_a_clean_lift_is_right_with_nothing_to_fix(page):
    clean = next(seed for seed in range(1, 40) if case(cell(CELL), seed).first == NOTHING)
    page.show_case(clean)
    answer(page, NOTHING)
    assert page.said.startswith("Right: nothing to fix.")
    assert "Seen: nothing to fix." in words(page._result)
    assert page.progress.answered[0].cue is None
    assert "Nothing reaches slight" in words(page._result)


def test_the_stop_rule_is_said(page):
    stops = next(seed for seed in range(1, 200) if case(cell(CELL), seed).ranking.stop)
    page.show_case(stops)
    answer(page, NOTHING)
    assert "The set is stopped and unloaded before any coaching." in words(page._result)


# Going on


def test_the_next_case_begins_anew_and_differs(page):
    answer(page, "knee_valgus", first="knee_valgus")
    page.next.click()
    assert page.case.seed != SEED and page.marked is None and page.named() == ()
    assert page.first.options == () and page._result.value == ""
    assert page.number.value == page.case.seed and not clip_of(page).lines
    before = page.case.seed
    assert page.said.startswith(f"Case {before}: watch")
    page.ticks["knee_valgus"].value = True
    page.next.click()  # left unanswered, the same does not come again
    assert page.case.seed != before
    assert page.said.startswith(f"Case {before} left unanswered; its number brings it back. Case ")


@pytest.mark.parametrize("number", [0, -4, 1_000_001])
def test_a_number_that_no_case_has_is_refused(page, number):
    page.number.value = number
    page.show.click()
    assert page.said == "Case numbers start at 1 and end at 1000000."
    assert page.case.seed == SEED and page.number.value == number


def test_a_case_is_shown_again_by_its_number_and_not_counted_twice(page):
    answer(page, "lumbar_rounding", first="lumbar_rounding")
    page.submit.click()
    assert page.said == "This case is marked. Go on with “Next case”."
    page.next.click()
    page.number.value = SEED
    page.show.click()
    assert page.case.seed == SEED and page.named() == ()
    answer(page, "lumbar_rounding", "knee_valgus", first="lumbar_rounding")
    assert "Not counted" in page.said and len(page.progress.answered) == 1


def test_it_goes_on_where_it_was(page, tmp_path):
    answer(page, "lumbar_rounding", first="lumbar_rounding")
    again = practice("me", folder=tmp_path / "kept")
    assert again.progress.answered == page.progress.answered
    assert "right in 1 of 1" in again._map.value
    assert again.case.seed == again.progress.next_seed(cell(CELL), again._start)


def test_what_cannot_be_saved_is_said_and_can_be_submitted_again(page, monkeypatch):
    def full(descriptor, data):
        raise OSError(28, "No space left on device")

    page.progress.put(Answered(1, NOTHING, NOTHING, (NOTHING,), (NOTHING,), None, 1.0))
    monkeypatch.setattr(os, "write", full)
    answer(page, "knee_valgus", first="knee_valgus")
    assert "NOT saved" in page.said and len(page.progress.answered) == 1
    monkeypatch.undo()
    page.submit.click()
    assert "Saved" in page.said and len(page.progress.answered) == 2


def test_names_that_no_file_can_have_are_refused(tmp_path):
    with pytest.raises(ValueError, match="use 1 to 64 letters, digits"):
        practice("../me", folder=tmp_path)
    with pytest.raises(ValueError, match='choose "page" or "projector"'):
        practice("me", folder=tmp_path, size="huge")


def test_readers_without_a_kernel_see_frames(page):
    bundle = page._repr_mimebundle_()
    assert bundle["text/plain"] == repr(page) and f"Case {SEED}" in repr(page)
    shown = drawn(bundle["text/html"])
    assert "Side view" in shown and "°" not in shown


# What is confused


def test_the_table_of_confusions_says_what_was_counted(tmp_path):
    progress = Progress(tmp_path / "me.jsonl")
    assert (
        repr(Confusions(progress)) == "No case answered yet: what you confuse will be shown here."
    )
    for number, first in enumerate(("lateral_shift", "lateral_shift", "knee_valgus")):
        progress.put(Answered(number, "knee_valgus", first, ("knee_valgus",), (first,), True, 1.0))
    shown = Confusions(progress)
    assert shown.words.startswith("The first to fix was right in 1 of 3.")
    assert "focus on “hips slide to one side”, “knees fall in”" in shown.words
    rows = {row.name: row.cells[1:] for row in shown.rows}
    assert rows == {
        "hips slide to one side": ("2 of 2", "0", "0", "2", "–"),
        "knees fall in": ("2 of 3", "3", "2", "0", "hips slide to one side 2"),
    }
    for words_ in (*HEADS, "2 of 3", "hips slide to one side 2"):
        assert words_ in repr(shown) and words_ in shown.html
    assert shown.html.count("scope='row'") == 2 and shown.html.count("scope='col'") == len(HEADS)


# Real lifters


@pytest.fixture(scope="module")
def real_folder(tmp_path_factory):
    """Give an instructor's folder with two cases of a synthetic squat; nobody was filmed."""
    folder = tmp_path_factory.mktemp("instructor") / "real"
    lifter = Lifter.from_stature(1.75, 75)
    rep = synthesise(lifter, Bar.high(60), Stance(), injections=[Injection("knee_valgus", 9)])
    phone = Camera.front()
    shots = [film(rep.points, rep.time, phone, np.random.default_rng(1))]
    answer = CoachAnswer(("knee_valgus",), "knee_valgus")
    key = CoachKey(answer.there, answer.first, {"K1": answer, "K2": answer}, False)
    consent = Consent("lifter", "I1", date(2020, 1, 2), date(2999, 12, 31))
    cases = RealCases(folder)
    for name in ("R-1", "R-2"):
        cases.keep(name, shots, LiftDeclared.of(lifter, 60, phone), key, consent)
    return folder


@pytest.fixture
def with_real(tmp_path, real_folder):
    return practice("me", seed=SEED, folder=tmp_path, real=real_folder)


def test_without_a_folder_of_the_instructors_no_real_lifter_is_offered(page):
    assert page.real.options == () and not isinstance(page.case.reference, str)


def test_a_real_lifter_is_marked_as_real_asked_and_judged_by_the_coaches_key(with_real):
    page = with_real
    page.real.value = "R-2"
    page.show_real.click()
    assert page.case.reference == "R-2" and "Real lifter, case R-2" in words(page._head)
    assert "coaches agreed" in words(page._head) and "Real lifter" in page.said
    film = clip_of(page).film
    assert not any(panel.measured for panel in film.panels) and not clip_of(page).shown["marks"]
    assert "knees fall in" not in f"{repr(page)}{words(page._head)}{page.said}{film.sentence}"
    answer(page, "head_up", first="head_up")
    told = f"{page.said} {words(page._result)}"
    assert "the answer is “knees fall in”" in told and "2 of 2 coaches" in told
    reading = page.case.findings["knee_valgus"]
    assert f"{reading.amount} {reading.interval}" in told and "to judge" not in told
    shown = clip_of(page)
    assert any(panel.measured for panel in shown.film.panels)
    assert shown.frame == shown.film.footage.frame_of("front", reading.worst)
    kept = Progress(page.progress.path).answered[-1]
    assert (kept.seed, kept.right, kept.first, kept.margin) == (
        "R-2",
        "knee_valgus",
        "head_up",
        None,
    )


def test_each_real_lifter_comes_once_after_some_computed_ones(with_real):
    page, seen = with_real, []
    page.progress.answered += [
        Answered(number, NOTHING, NOTHING, (NOTHING,), (NOTHING,), None, 1.0)
        for number in range(BETWEEN_REAL)
    ]
    for _ in range(2):
        page.next.click()  # the second time the first is passed over, not answered
        seen.append(page.case.reference)
    assert seen == ["R-1", "R-2"]
    answer(page, "knee_valgus", first="knee_valgus")
    page.next.click()
    assert isinstance(page.case.reference, int) and page.progress.computed_in_a_row == 0


def test_a_lifter_whose_file_is_damaged_is_left_out_and_said(tmp_path, real_folder):
    folder = tmp_path / "real"
    folder.mkdir()
    (folder / "R-9.json").write_text("{}", encoding="utf-8")
    page = practice("me", seed=SEED, folder=tmp_path, real=folder)
    assert page.real.options == () and "Not shown: R-9.json" in words(page._head)
