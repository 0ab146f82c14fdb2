"""The practice page without a browser: asked, marked, kept, shown again."""

from __future__ import annotations

import os
import re
from datetime import datetime

import pytest

from squatlab import faults
from squatlab.norms import norm_in_words
from squatlab.offline import asked
from squatlab.questions import item_bank
from squatlab.questions.cases import case
from squatlab.questions.kinds import FALSE_ALARM, NOTHING, CueKind, FirstKind, SpotKind
from squatlab.questions.practice_checks import (
    FIRST,
    SPOT,
    Judgement,
    cue_check,
    first_check,
    marked,
    spot_check,
)
from squatlab.questions.practice_progress import LABELS, Answered, Progress, difficulty
from squatlab.show.confusions import HEADS, Confusions
from squatlab.show.practice import BETWEEN_REAL, CELL, cell, practice
from tests.kept import drawn
from tests.questions.invented_lifters import keep_invented_lifters

SEED = 11
"""Low back rounds (clear) and knees fall in (slight)."""


@pytest.fixture
def page(tmp_path):
    return practice("me", seed=SEED, folder=tmp_path / "kept")


def place_of_cue(fault, accepted=True):
    """The place at which a cue that fits, or does not, is offered."""
    question, key = cue_check(fault)
    return next(i for i, cue in enumerate(question.options) if (cue in key.answer) is accepted)


def answer(page, *ticked, first=None, accepted=True):
    """Answer as the page sends it: every option by its place."""
    spot = [LABELS.index(label) for label in ticked] or None
    cue = None if first is None else place_of_cue(first, accepted)
    place = None if first is None else LABELS.index(first)
    send(page, kind="submit", spot=spot, first=place, cue=cue)


def send(page, **message):
    page._handle_custom_msg(message, [])


def reasons(page):
    return "\n".join(page.said["marked"]["reasons"])


# Asking


def test_every_fault_and_nothing_can_be_ticked(page):
    for question in ("spot", "first"):
        assert tuple(one["id"] for one in page.form[question]["options"]) == LABELS
    assert [one["id"] for one in page.form["spot"]["options"] if one["alone"]] == [NOTHING]
    for fault, cues in page.form["cues"].items():
        offered = [cue["words"] for cue in cues["options"]]
        assert offered == sorted(cue.words for cue in item_bank.cues(fault))
        assert cues.keys() == {"id", "text", "hint", "control", "options"}
        assert all(cue.keys() == {"id", "words"} for cue in cues["options"]), "what fits stays here"


def test_nothing_on_the_page_gives_the_answer_away(page):
    assert not page.shown["measured"] and not page.shown["marks"] and not page.lines
    told = " ".join((repr(page), page.asked["head"], page.said["words"], page.film.sentence))
    assert not [fault.name for fault in faults.catalogue().values() if fault.name in told]
    assert page.said["marked"] is None
    assert "practice/me.jsonl" in practice("me", seed=3, folder="practice").asked["head"]
    assert not os.path.exists("practice/me.jsonl")


@pytest.mark.parametrize(
    ("ticked", "said"),
    [
        ((), "tick what you see, or “nothing to fix”"),
        (("knee_valgus",), "choose the one to fix first, and what you say"),
        (("knee_valgus", "head_up"), "choose the one to fix first, and what you say"),
    ],
)
def test_what_is_missing_is_said_and_nothing_marked(page, ticked, said):
    answer(page, *ticked)
    words = page.said["words"]
    assert words.startswith("Not marked yet") and said in words
    assert page.progress.answered == [] and not page.progress.path.exists()
    count = page.said["count"]
    answer(page, *ticked)
    assert page.said["count"] > count, "the same words are said once more"


@pytest.mark.parametrize(
    ("message", "words"),
    [
        ({"spot": [15], "first": None, "cue": None}, "places are 0 to 14"),
        ({"spot": [0], "first": 1, "cue": 0}, "one of what you ticked"),
        ({"spot": [0, 14], "first": 0, "cue": 0}, "goes with no fault"),
        ({"spot": [0], "first": 0, "cue": 9}, "there is no option 9"),
    ],
)
def test_what_the_page_does_not_offer_is_refused(page, message, words):
    send(page, kind="submit", **message)
    assert words in page.said["words"] and page.marked is None


# Marking


def test_a_right_answer_is_told_so_and_kept(page):
    answer(page, "knee_valgus", "lumbar_rounding", first="lumbar_rounding")
    words = page.said["words"]
    assert words.startswith("Right: “low back rounds”.") and page.said["kind"] == "right"
    saved = re.search(r"Saved (\d\d:\d\d:\d\d)\.", words)
    assert saved and datetime.strptime(saved[1], "%H:%M:%S")
    assert page.said["marked"]["spot"] == "Seen: “low back rounds”, “knees fall in”."
    assert page.said["marked"]["cue"].startswith("Right: ")
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
    question, key = cue_check("knee_valgus")
    wrong = question.options[place_of_cue("knee_valgus", accepted=False)]
    answer(page, "knee_valgus", "uneven_bar", first="knee_valgus", accepted=False)
    words = page.said["words"]
    assert words.startswith("Not “knees fall in”. It is there, but")
    assert "The answer is “low back rounds”." in words
    assert page.said["kind"] == "wrong"
    told = page.said["marked"]
    for listed in (
        "Seen: “knees fall in”.",
        "Missed: “low back rounds”.",
        "Not there: “bar tilts”.",
    ):
        assert listed in told["spot"]
    assert told["cue"].startswith(f"Not “{wrong}”") and key.reply(wrong) in told["cue"]
    assert all(cue in told["cue"] for cue in key.answer)
    assert all(place.reason in reasons(page) for place in page.case.ranking)
    assert f"{difficulty(page.case.margin)} to judge" in reasons(page)
    assert page.progress.answered[0].cue is False


def test_what_was_measured_its_error_and_the_norm_stand_beside_the_reasons(page):
    answer(page, "lumbar_rounding", first="lumbar_rounding")
    measured = [line for line in page.said["marked"]["reasons"] if line.startswith("Measured, ")]
    assert [line.split(":")[0] for line in measured] == [
        "Measured, low back rounds",
        "Measured, knees fall in",
    ]
    for line, fault in zip(measured, page.case.there, strict=True):
        exact, filmed = page.case.findings[fault], page.case.filmed[fault]
        assert exact.amount in line and f"{filmed.amount} {filmed.interval}" in line
        assert filmed.interval.startswith("± ")
        assert abs(filmed.value - exact.value) < 3 * filmed.plus_minus
    assert norm_in_words("lumbar_rounding")[1:] in measured[0] and "no open norm" not in measured[1]


def test_the_lines_of_what_was_there_are_drawn_when_it_is_marked(page):
    answer(page, "lumbar_rounding", first="lumbar_rounding")
    assert page.lines and page.frame == page.case.findings["lumbar_rounding"].worst
    lines = {line.name for panel in page.film.panels for line in panel.lines}
    assert "low back" in lines and page.shown["measured"]
    assert [mark["words"] for mark in page.shown["marks"]] == [
        "low back rounds: worst",
        "knees fall in: worst",
    ]


def test_a_clean_lift_is_right_with_nothing_to_fix(page):
    clean = next(seed for seed in range(1, 40) if case(cell(CELL), seed).first == NOTHING)
    page.show_case(clean)
    answer(page, NOTHING)
    assert page.said["words"].startswith("Right: “nothing to fix”.")
    assert page.said["marked"]["spot"] == "Seen: “nothing to fix”."
    assert page.progress.answered[0].cue is None
    assert "Nothing reaches slight" in reasons(page)


def test_the_stop_rule_is_said(page):
    stops = next(seed for seed in range(1, 200) if case(cell(CELL), seed).ranking.stop)
    page.show_case(stops)
    answer(page, NOTHING)
    assert page.said["marked"]["stop"] == "The set is stopped and unloaded before any coaching."


def test_one_place_marks_practice_in_the_notebook_and_in_the_book(page, monkeypatch):
    """Each kind marks everything wrong: the notebook and the book's pages both say so."""
    monkeypatch.setattr(SpotKind, "call", lambda self, key, option, called: FALSE_ALARM)
    monkeypatch.setattr(FirstKind, "fits", lambda self, key, given: False)
    monkeypatch.setattr(CueKind, "fits", lambda self, key, given: False)
    answer(page, "lumbar_rounding", first="lumbar_rounding")
    said = page.said["marked"]
    assert page.said["kind"] == "wrong" and page.said["words"].startswith("Not “low back rounds”.")
    assert said["spot"].startswith("Not exactly these.") and said["cue"].startswith("Not “")
    spot = asked.with_replies(spot_check(page.case), 1)["options"]
    assert {one[call]["words"] for one in spot for call in ("called", "left")} == {"Not there"}
    for check in (first_check(page.case), cue_check("lumbar_rounding")):
        assert not any(one["right"] for one in asked.with_replies(check, 1)["options"])


def test_the_book_replies_to_every_answer_as_the_notebook_does(page):
    first = asked.with_replies(first_check(page.case), 1)
    for place, label in enumerate(LABELS):
        said = marked(page.case, Judgement(("knee_valgus",), label, None)).first
        sent = first["options"][place]
        assert (sent["right"], sent["tries"]) == (said.right, [said.text])
        assert sent["id"] == FIRST.options[place] == SPOT.options[place]
        assert page.case.first == label or said.text.startswith("Not ")


# Going on


def test_the_next_case_begins_anew_and_differs(page):
    answer(page, "knee_valgus", first="knee_valgus")
    send(page, kind="next")
    before = page.case.seed
    assert before != SEED and page.marked is None and page.asked["reference"] == before
    assert page.said["marked"] is None and not page.lines
    assert page.frame == 0
    send(page, kind="next")  # left unanswered, the same does not come again
    assert page.case.seed != before
    assert page.said["words"].startswith(f"Case {before} left unanswered; its number brings it")


@pytest.mark.parametrize("number", [0, -4, 1_000_001])
def test_a_number_that_no_case_has_is_refused(page, number):
    send(page, kind="show", reference=number)
    assert page.said["words"] == "Case numbers start at 1 and end at 1000000."
    assert page.case.seed == SEED


def test_a_case_is_shown_again_by_its_number_and_not_counted_twice(page):
    answer(page, "lumbar_rounding", first="lumbar_rounding")
    answer(page, "lumbar_rounding", first="lumbar_rounding")
    assert page.said["words"] == "This case is marked. Go on with “Next case”."
    before = page.asked
    send(page, kind="show", reference=SEED)
    assert page.case.seed == SEED and page.marked is None and page.asked != before
    answer(page, "lumbar_rounding", "knee_valgus", first="lumbar_rounding")
    assert "Not counted" in page.said["words"] and len(page.progress.answered) == 1


def test_it_goes_on_where_it_was(page, tmp_path):
    answer(page, "lumbar_rounding", first="lumbar_rounding")
    again = practice("me", folder=tmp_path / "kept")
    assert again.progress.answered == page.progress.answered
    assert "right in 1 of 1" in again.confusions
    assert again.case.seed == again.progress.next_seed(cell(CELL), again._start)


def test_what_cannot_be_saved_is_said_and_can_be_submitted_again(page, monkeypatch):
    def full(descriptor, data):
        raise OSError(28, "No space left on device")

    page.progress.put(Answered(1, NOTHING, NOTHING, (NOTHING,), (NOTHING,), None, 1.0))
    monkeypatch.setattr(os, "write", full)
    answer(page, "knee_valgus", first="knee_valgus")
    assert "NOT saved" in page.said["words"] and len(page.progress.answered) == 1
    monkeypatch.undo()
    answer(page, "knee_valgus", first="knee_valgus")
    assert "Saved" in page.said["words"] and len(page.progress.answered) == 2


def test_names_that_no_file_can_have_are_refused(tmp_path):
    with pytest.raises(ValueError, match="use 1 to 64 letters, digits"):
        practice("../me", folder=tmp_path)
    with pytest.raises(ValueError, match='choose "page" or "projector"'):
        practice("me", folder=tmp_path, size="huge")


def test_readers_without_a_kernel_see_frames(page):
    bundle, *_ = page._repr_mimebundle_()
    assert bundle["text/plain"] == repr(page) and f"case {SEED}" in repr(page)
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
    keep_invented_lifters(folder, "R-1", "R-2")
    return folder


@pytest.fixture
def with_real(tmp_path, real_folder):
    return practice("me", seed=SEED, folder=tmp_path, real=real_folder)


def test_without_a_folder_of_the_instructors_no_real_lifter_is_offered(page):
    assert page.form["real"] == [] and not isinstance(page.case.reference, str)


def test_a_real_lifter_is_marked_as_real_asked_and_judged_by_the_coaches_key(with_real):
    page = with_real
    assert page.form["real"] == ["R-1", "R-2"]
    send(page, kind="show", reference="R-2")
    head = page.asked["head"]
    assert page.case.reference == page.asked["reference"] == "R-2"
    assert "Real lifter, case R-2" in head and "coaches agreed" in head
    assert not page.shown["measured"] and not page.shown["marks"]
    assert "knees fall in" not in f"{repr(page)}{head}{page.said['words']}{page.film.sentence}"
    answer(page, "head_up", first="head_up")
    told = f"{page.said['words']} {reasons(page)}"
    assert "The answer is “knees fall in”" in told and "2 of 2 coaches" in told
    reading = page.case.findings["knee_valgus"]
    assert f"{reading.amount} {reading.interval}" in told and "to judge" not in told
    assert page.shown["measured"] and page.lines
    assert page.frame == page.film.footage.frame_of("front", reading.worst)
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
        page.next_case()  # the second time the first is passed over, not answered
        seen.append(page.case.reference)
    assert seen == ["R-1", "R-2"]
    answer(page, "knee_valgus", first="knee_valgus")
    page.next_case()
    assert isinstance(page.case.reference, int) and page.progress.computed_in_a_row == 0


def test_a_lifter_whose_file_is_damaged_is_left_out_and_said(tmp_path, real_folder):
    folder = tmp_path / "real"
    folder.mkdir()
    (folder / "R-9.json").write_text("{}", encoding="utf-8")
    page = practice("me", seed=SEED, folder=tmp_path, real=folder)
    assert page.form["real"] == [] and "Not shown: R-9.json" in page.asked["head"]
    send(page, kind="show", reference="R-9")
    assert page.said["words"] == "There is no real lifter R-9 here."
