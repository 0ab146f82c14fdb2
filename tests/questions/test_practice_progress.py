"""Progress: nothing lost by a crash, and what comes next leans to what was confused."""

from __future__ import annotations

import json
import os
from datetime import UTC, datetime
from itertools import count

import numpy as np
import pytest

from squatlab.questions import practice_progress
from squatlab.questions.blueprint import cell
from squatlab.questions.cases import case, planned, supposed
from squatlab.questions.kinds import NOTHING
from squatlab.questions.practice_progress import LABELS, Answered, Progress, difficulty
from squatlab.review import prioritise

CELL = cell("practice")
NUMBERS = count()


def answered(right, first=None, there=None, ticked=None, margin=1.0):
    """Return an answer, right unless told otherwise."""
    there = there or (right,)
    return Answered(next(NUMBERS), right, first or right, there, ticked or there, None, margin)


def given(path, *answers):
    progress = Progress(path)
    for one in answers:
        progress.put(one)
    return progress


def test_nothing_is_written_before_the_first_answer(tmp_path):
    path = tmp_path / "new" / "me.jsonl"
    assert Progress(path).answered == [] and not path.parent.exists()
    noon = datetime(2026, 5, 1, 12, 0, tzinfo=UTC)
    progress = Progress(path, lambda: noon)
    assert progress.put(answered("knee_valgus")) == noon
    assert '"at":"2026-05-01T12:00:00.000Z"' in path.read_text()


def test_it_goes_on_where_it_was(tmp_path):
    path = tmp_path / "me.jsonl"
    first = given(path, answered("knee_valgus", "lateral_shift"), answered(NOTHING))
    again = Progress(path)
    assert again.answered == first.answered and again.damaged == ()
    assert again.need() == first.need() and again.next_seed(CELL) == first.next_seed(CELL)


@pytest.mark.parametrize("torn", [1, 20, 80])
def test_half_a_line_at_the_end_is_survived(tmp_path, torn):
    path = tmp_path / "me.jsonl"
    three = given(path, *(answered(name) for name in ("head_up", "heel_lift", NOTHING)))
    os.truncate(path, path.stat().st_size - torn)
    again = Progress(path)
    if torn == 1:  # only the line's end is lost
        assert again.answered == three.answered
        return
    assert again.answered == three.answered[:2]
    again.put(three.answered[2])
    assert Progress(path).answered == three.answered and Progress(path).damaged == ()


def test_a_changed_line_is_named_and_left_out(tmp_path):
    path = tmp_path / "me.jsonl"
    three = given(path, *(answered(name) for name in ("head_up", "heel_lift", NOTHING)))
    path.write_text(path.read_text().replace('"first":"heel_lift"', '"first":"head_up"', 1))
    again = Progress(path)
    assert again.damaged == (3,)
    assert again.answered == [three.answered[0], three.answered[2]]


def test_another_file_is_refused_and_left_as_it_is(tmp_path):
    path = tmp_path / "me.jsonl"
    path.write_text(json.dumps({"my": "notes"}) + "\n")
    with pytest.raises(ValueError, match="me.jsonl holds no practice and was left as"):
        Progress(path)
    assert path.read_text() == '{"my": "notes"}\n'


def test_a_full_disk_is_told_and_the_answer_not_counted(tmp_path, monkeypatch):
    path = tmp_path / "me.jsonl"
    progress = given(path, answered("head_up"))
    before = path.read_bytes()

    def full(descriptor, data):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "write", full)
    with pytest.raises(OSError, match="NOT saved"):
        progress.put(answered("heel_lift"))
    monkeypatch.undo()
    assert len(progress.answered) == 1 and path.read_bytes() == before


def test_the_need_is_counted_by_hand(tmp_path):
    """(wrong + 1) / (mattered + 2); a wrong first counts for both faults."""
    progress = given(
        tmp_path / "me.jsonl",
        answered("knee_valgus", "lateral_shift", ticked=("lateral_shift",)),
        answered("knee_valgus"),
        answered(NOTHING, "head_up", ticked=("head_up",)),
    )
    need = progress.need()
    # knee_valgus: missed 1, not named first 1, seen 1; lateral_shift: called 1, named first 1.
    assert need["knee_valgus"] == pytest.approx(3 / 5)
    assert need["lateral_shift"] == pytest.approx(3 / 4)
    assert need["head_up"] == need[NOTHING] == pytest.approx(3 / 4)
    assert need["heel_lift"] == 0.5
    first = progress.first
    row, column = LABELS.index("knee_valgus"), LABELS.index("lateral_shift")
    assert first.counts[row, column] == 1 and first.counts.sum() == 3
    told = {one.fault: one[1:] for one in progress.spotted}
    assert told["knee_valgus"] == (1, 1, 0, 1) and told["head_up"] == (0, 0, 1, 2)


@pytest.fixture
def as_planned(monkeypatch):
    """Take every case as it is planned: to film and measure each takes most of the time."""
    monkeypatch.setattr(practice_progress, "_is_easy", lambda one: True)
    monkeypatch.setattr(practice_progress, "case", lambda cell, seed: None)


def test_what_was_confused_comes_more_often(tmp_path, as_planned):
    """Both faults of a confused pair, and more often than what is always told rightly."""
    clear = [answered(name) for name in LABELS for _ in range(3) if name != "knee_valgus"]
    mixed = [answered("knee_valgus", "lateral_shift", ticked=("lateral_shift",)) for _ in range(4)]
    trained = given(tmp_path / "trained.jsonl", *clear, *mixed)
    fresh = Progress(tmp_path / "fresh.jsonl")
    shares = {}
    for name, progress in (("trained", trained), ("fresh", fresh)):
        plans = [planned(CELL, progress.next_seed(CELL, start)) for start in range(25)]
        shares[name] = [
            np.mean([fault in plan for plan in plans])
            for fault in ("knee_valgus", "lateral_shift", "head_up")
        ]
    assert shares["trained"][0] > 2 * shares["fresh"][0]
    assert shares["trained"][1] > 1.5 * shares["fresh"][1]
    assert shares["trained"][0] > 2 * shares["trained"][2]


def test_it_gets_harder_with_success_and_easier_without(tmp_path, as_planned):
    progress = Progress(tmp_path / "me.jsonl")
    assert progress.level() == "easy"
    levels = []
    for right in (1, 1, 1, 1, 0, 0, 0, 0, 0, 1, 1, 1):
        progress.put(answered("head_up", "head_up" if right else "heel_lift"))
        levels.append(progress.level())
    easy, middling, hard = "easy", "middling", "hard"
    # Of the last eight: 4/4 right, then 4/5, 4/6, 4/7, 4/8, and 3/8 four times.
    assert levels == [*[easy] * 3, hard, hard, *[middling] * 3, *[easy] * 4]

    def median_margin(name, *answers):
        trained = given(tmp_path / name, *answers)
        plans = (planned(CELL, trained.next_seed(CELL, start)) for start in range(12))
        return np.median([prioritise(supposed(plan)).margin for plan in plans if plan])

    good = median_margin("good", *(answered(name) for name in LABELS))
    others = (*LABELS[1:], LABELS[0])
    poor = median_margin("poor", *map(answered, LABELS, others))
    assert good < 0.8 < poor


def test_practice_begins_with_easy_cases_and_clean_ones(tmp_path):
    """As notebook 10 says; clean lifts are never easy, but may not be hard."""
    progress = Progress(tmp_path / "me.jsonl")
    first = [case(CELL, progress.next_seed(CELL, start)) for start in range(10)]
    told = {(one.first == NOTHING, difficulty(one.margin)) for one in first}
    assert told == {(False, "easy"), (True, "middling")}
    assert len({one.first for one in first}) > 4


def test_a_margin_has_a_word():
    assert [difficulty(margin) for margin in (0.3, 0.6, 1.2, 1.3, np.inf)] == [
        "hard",
        "middling",
        "middling",
        "easy",
        "easy",
    ]


def test_seeds_can_be_typed_and_depend_on_answers_alone(tmp_path):
    progress = Progress(tmp_path / "me.jsonl")
    one = progress.next_seed(CELL)
    assert one == Progress(tmp_path / "other.jsonl").next_seed(CELL) and 1 <= one < 1_000_000
    assert progress.next_seed(CELL, 2) != one
    progress.put(answered("head_up"))
    assert progress.next_seed(CELL) != one
