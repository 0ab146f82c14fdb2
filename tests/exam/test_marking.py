"""Marks: exact where they certify, fair where they tell, the same for the same answers."""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest
from sklearn.metrics import confusion_matrix, recall_score

from squatlab.exam.answers import Sheet
from squatlab.exam.marking import mark, right
from squatlab.exam.statistics import cohen_kappa
from squatlab.questions.agreement import dprime
from squatlab.questions.kinds import NOTHING, informedness
from squatlab.questions.question import Key
from tests.exam import invented_class
from tests.exam.invented_class import FAULTS

FIRST = Key("first", "heel_lift", options=(*FAULTS, NOTHING))
SPOT = Key("spot", ("heel_lift", "uneven_bar"), options=FAULTS)
CUE = Key("cue", ("hips back", "chest up"), options=invented_class.CUES)
NUMBER = Key("number", 250.0, tolerance=10)
CLEAN = Key("spot", (), options=FAULTS)
DCG = {
    "abc": 3 + 1 / np.log2(3), "bac": 1 + 3 / np.log2(3),
    "random": 4 / 3 * (1 + 1 / np.log2(3) + 1 / 2),
}  # fmt: skip
RANK = Key("rank", ("a", "b"), options=("a", "b", "c"), gains=(3, 1))


@pytest.mark.parametrize(
    ("entry", "answer", "expected"),
    [
        (FIRST, "heel_lift", 1),
        (FIRST, "uneven_bar", 0),
        (FIRST, NOTHING, 0),
        (FIRST, None, 0),
        (SPOT, ("uneven_bar", "heel_lift"), 1),
        (SPOT, (), 0),
        (SPOT, ("heel_lift",), 1 / 2),
        (SPOT, FAULTS, 0),
        (SPOT, None, 0),
        (CLEAN, (), 1),
        (CLEAN, ("heel_lift",), 0),
        # Sensitivity 1, specificity 3/4.
        (SPOT, ("heel_lift", "uneven_bar", FAULTS[0]), 3 / 4),
        (CUE, "chest up", 1),
        (CUE, "hips back", 1),
        (CUE, "knees out", 0),
        (NUMBER, 240, 1),
        (NUMBER, 260.0, 1),
        (NUMBER, 260.1, 0),
        (NUMBER, -250, 0),
        # nDCG by hand: gains 3 and 1, discounts 1, 1/log2(3), 1/2.
        (RANK, ("a", "b", "c"), 1),
        (RANK, ("a", "b"), 1),
        # At random every place has the mean gain 4/3; that is 0 on the scale, the best 1.
        (RANK, ("b", "a", "c"), (DCG["bac"] - DCG["random"]) / (DCG["abc"] - DCG["random"])),
        (RANK, ("c", "a", "b"), 0),
        (RANK, ("c", "b", "a"), 0),
        (RANK, (), 0),
    ],
)
def test_one_answer(entry, answer, expected):
    assert right(entry, answer) == pytest.approx(expected)


def test_guessing_earns_nothing_on_the_scales_of_the_feedback():
    """Over all orders, all options, and any rate at which faults are called."""
    orders = [RANK.how.above_chance(RANK, order) for order in permutations(RANK.options)]
    assert np.mean(orders) == pytest.approx(0, abs=1e-12) and max(orders) == 1 and min(orders) < 0
    cues = [CUE.how.above_chance(CUE, option) for option in CUE.options]
    assert np.mean(cues) == pytest.approx(0, abs=1e-12) and max(cues) == 1
    assert FIRST.how.above_chance(FIRST, None) == 0
    rng = np.random.default_rng(1)
    there = rng.random((20_000, len(FAULTS))) < 0.3
    for rate in (0.0, 0.2, 0.7, 1.0):
        called = rng.random(there.shape) < rate
        four = [(there & called), (there & ~called), (~there & called), (~there & ~called)]
        assert informedness([one.sum() for one in four]) == pytest.approx(0, abs=0.01)
    assert informedness([3, 0, 0, 5]) == 1
    assert informedness([81, 19, 40, 60]) == pytest.approx(0.81 + 0.60 - 1)  # Youden 1950


@pytest.mark.parametrize(
    ("entry", "answer"),
    [
        (FIRST, "hips"),
        (FIRST, ("heel_lift",)),
        (FIRST, 1),
        (SPOT, "heel_lift"),
        (SPOT, ("heel_lift", "heel_lift")),
        (SPOT, ("hips",)),
        (CUE, "louder"),
        (NUMBER, "250"),
        (NUMBER, ("250",)),
        (RANK, ("a", "a")),
        (RANK, ("d",)),
        (RANK, "a"),
    ],
)
def test_an_answer_that_the_item_does_not_offer(entry, answer):
    assert right(entry, answer) is None


@pytest.fixture(scope="module")
def sat(form_and_key):
    form, key = form_and_key
    sheets = list(invented_class.sheets(form, key, 60))
    return form, key, sheets, mark(form, key, sheets)


def test_the_score_is_how_often_the_first_fault_was_named(sat):
    form, key, sheets, marks = sat
    for sheet, score, passed in zip(sheets, marks.score, marks.passed, strict=True):
        lifts = [item for item in form.items if key.entries[item].kind == "first"]
        named = sum(sheet.answers[item] == key.entries[item].answer for item in lifts)
        assert score == named and passed == (named >= 22.5)
    assert marks.cases.shape == (60, 30) and set(np.unique(marks.cases)) == {0, 1}
    assert 0 < marks.passed.sum() < 60


def test_spotting_as_scikit_learn_has_it(sat):
    form, key, sheets, marks = sat
    items = [item for item in form.items if key.entries[item].kind == "spot"]
    there = [fault in key.entries[item].answer for item in items for fault in FAULTS]
    for n, sheet in enumerate(sheets):
        called = [fault in sheet.answers[item] for item in items for fault in FAULTS]
        assert marks.sensitivity[n] == pytest.approx(recall_score(there, called))
        assert marks.specificity[n] == pytest.approx(recall_score(there, called, pos_label=False))
        (rejections, alarms), (misses, hits) = confusion_matrix(there, called).tolist()
        assert marks.dprime[n] == dprime(hits, misses, alarms, rejections)


def test_the_class_map_as_scikit_learn_has_it(sat):
    form, key, sheets, marks = sat
    items = [item for item in form.items if key.entries[item].kind == "first"]
    keyed = [key.entries[item].answer for _ in sheets for item in items]
    named = [sheet.answers[item] for sheet in sheets for item in items]
    assert marks.first.labels == (*FAULTS, NOTHING)
    assert (marks.first.counts == confusion_matrix(keyed, named, labels=[*FAULTS, NOTHING])).all()
    assert 0 < cohen_kappa(marks.first.counts) < 1
    for fault in marks.spot:
        spots = [item for item in form.items if key.entries[item].kind == "spot"]
        there = [fault.fault in key.entries[item].answer for _ in sheets for item in spots]
        called = [fault.fault in sheet.answers[item] for sheet in sheets for item in spots]
        (rejections, alarms), (misses, hits) = confusion_matrix(
            there, called, labels=[False, True]
        ).tolist()
        assert fault[1:] == (hits, misses, alarms, rejections)


def test_feedback_weighs_its_parts_and_decides_nothing(sat):
    _, _, _, marks = sat
    parts = marks.feedback
    spotting = np.maximum(marks.sensitivity + marks.specificity - 1, 0)
    assert parts["spotting"] == pytest.approx(spotting)
    for part, asked in (("order", "rank"), ("cue", "cue")):
        places = [n for n, item in enumerate(marks.form.items) if item.startswith(asked)]
        scaled = marks.above_chance[:, places].mean(axis=1)
        assert parts[part] == pytest.approx(np.maximum(scaled, 0))
    order, cue = parts["order"], parts["cue"]
    assert parts["all"] == pytest.approx(0.4 * spotting + 0.3 * order + 0.3 * cue)


def test_a_part_that_was_not_asked_has_no_weight():
    entries = {k: v for k, v in invented_class.entries(30).items() if v.kind in ("first", "cue")}
    key = invented_class.FormKey.of("spring", entries)
    form = invented_class.Form("spring", tuple(entries), 20, key.seal)
    marks = mark(form, key, list(invented_class.sheets(form, key, 4)))
    assert np.isnan(marks.feedback["spotting"]).all() and np.isnan(marks.dprime).all()
    assert marks.feedback["all"] == pytest.approx(marks.feedback["cue"])
    assert marks.spot == ()


def test_points_and_cells(sat):
    form, key, _, marks = sat
    weights = np.array([key.entries[item].points for item in form.items])
    assert marks.points == pytest.approx((marks.marks * weights).sum(axis=1))
    cells = marks.by_cell()
    assert list(cells) == ["cell-0", "cell-1", "cell-2", "spot", "cue", "number", "rank"]
    assert cells["cell-1"] == pytest.approx(marks.cases[:, 1::3].mean(axis=1))


def test_a_mark_depends_on_nobody_else_and_on_no_order(sat):
    form, key, sheets, marks = sat
    for n in (0, 17, 59):
        alone = mark(form, key, [sheets[n]])
        assert alone.score[0] == marks.score[n]
        assert (alone.marks[0] == marks.marks[n]).all()
    mixed = sheets[:]
    random.Random(1).shuffle(mixed)
    other = mark(form, key, mixed)
    assert dict(zip(other.candidates, other.score, strict=True)) == dict(
        zip(marks.candidates, marks.score, strict=True)
    )
    assert (other.first.counts == marks.first.counts).all() and set(other.spot) == set(marks.spot)


def test_what_was_left_out_is_wrong_but_confuses_nobody(form_and_key):
    form, key = form_and_key
    marks = mark(form, key, [Sheet(form.id, form.seal, "C1", {}, "2026-05-01T10:00:00Z")])
    assert not marks.marks.any() and not marks.first.counts.any() and not marks.spotted.any()
    assert np.isnan(marks.sensitivity[0]) and not marks.passed[0]


def test_a_sheet_that_cannot_be_marked_is_refused_by_name(sat):
    form, key, sheets, marks = sat
    odd = replace(sheets[3], answers=dict(sheets[3].answers) | {"number-1": "a lot"})
    other = replace(sheets[5], seal="0" * 64)
    found = mark(form, key, [*sheets[:3], odd, sheets[4], other, *sheets[6:]])
    assert [str(refusal) for refusal in found.refused] == [
        "candidate C00003: the answer to number-1 is none that it offers; ask for the file again",
        "candidate C00005: answers to another form; ask for the file again",
    ]
    kept = [n for n in range(60) if n not in (3, 5)]
    assert found.candidates == tuple(sheets[n].candidate for n in kept)
    assert (found.marks == marks.marks[kept]).all() and (found.spotted == marks.spotted[kept]).all()
    assert found.first.counts.sum() == 58 * 30
    with pytest.raises(ValueError, match="the key is not the one the form was sealed with"):
        mark(form, invented_class.form_and_key()[1], sheets)


def test_nobody_handed_in(form_and_key):
    marks = mark(*form_and_key, [])
    assert marks.marks.shape == (0, 40) and marks.score.shape == (0,)
    assert list(marks.results()) == [] and marks.feedback["all"].shape == (0,)
