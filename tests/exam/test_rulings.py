"""An item found wrong: right for everyone, in one step, once, and nobody loses."""

from __future__ import annotations

import os
import re
import signal
import sys
import threading
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from squatlab.exam.answers import Sheet
from squatlab.exam.forms import Form, FormKey
from squatlab.exam.marking import mark
from squatlab.exam.records import (
    Records,
    RecordsError,
    appeal,
    change,
    changes,
    check,
    credited,
    decide,
    gradebook,
    grounds,
    issue,
    rule,
    sheets,
    standings,
)
from squatlab.exam.report import Report
from squatlab.exam.statistics import kr20
from squatlab.questions.kinds import NOTHING
from squatlab.questions.question import Key
from tests.exam import invented_class
from tests.exam.test_hard_times import PROCESSES
from tests.exam.test_records import hand_in, rows, tamper

WHY = "both coaches see the knees fall in"

# Five lifts a–e and one item to spot, cut 4. By hand, 1 is right (the key says NOTHING):
#     a b c d e   score        c credited
# P1  1 1 1 1 1   5 passed     5 passed: had it
# P2  1 1 0 1 0   3 failed     4 passed
# P3  1 1 1 0 0   3 failed     3 failed: had it
# P4  0 0 0 1 1   2 failed     3 failed
BY_HAND = {"P1": "11111", "P2": "11010", "P3": "11100", "P4": "00011"}
AFTER = {"P1": (5, True), "P2": (4, True), "P3": (3, False), "P4": (3, False)}


def small() -> tuple[Form, FormKey]:
    """Return the form of the table above and its key."""
    options = ("knees_first", "heel_lift", NOTHING)
    entries = {
        name: Key("first", NOTHING, cell=f"cell {name}", options=options) for name in "abcde"
    }
    entries["spot"] = Key("spot", ("heel_lift",), cell="spot", options=options[:2])
    key = FormKey.of("small", entries)
    return Form("small", tuple(entries), 4, key.seal), key


def answered(form: Form, candidate: str, right: str) -> Sheet:
    """Return a sheet with the lifts right where there is a 1."""
    answers = {
        item: NOTHING if one == "1" else "heel_lift"
        for item, one in zip("abcde", right, strict=True)
    }
    answers["spot"] = ["knees_first"]
    return Sheet(form.id, form.seal, candidate, answers, "2026-05-01T10:00:00Z")


@pytest.fixture
def sat(records):
    """Records in which P1 to P4 sat the small form and were decided on; by candidate."""
    form, key = small()
    handed = [answered(form, who, right) for who, right in BY_HAND.items()]
    attempts, _ = invented_class.record_all(records, form, key, handed)
    for one in attempts:
        decide(records, one.number, "J. Panel")
    return records, form, key, {one.candidate: one.number for one in attempts}


def stand(records: Records) -> dict[str, tuple[float, bool]]:
    """Return score and result of every candidate, as they stand."""
    return {one.candidate: (one.decision.score, one.decision.passed) for one in standings(records)}


def test_whoever_had_it_wrong_gains_a_mark_and_nobody_else(sat):
    records, form, key, attempts = sat
    before = rows(records, "attempts"), rows(records, "responses"), rows(records, "decisions")
    ruling = rule(records, form, key, "c", WHY, "B. Board")
    assert stand(records) == AFTER
    assert (ruling.item, ruling.certifies, ruling.by, ruling.why) == ("c", True, "B. Board", WHY)
    told = changes(records, ruling)
    assert [(one.candidate, one.before.score, one.after.score) for one in told] == [
        ("P2", 3, 4),
        ("P4", 2, 3),
    ]
    assert [one.candidate for one in told if one.after.passed != one.before.passed] == ["P2"]
    assert {one.after.by for one in told} == {"B. Board"}
    words = f"ruling, row {ruling.number}: c counts as right for everyone: {WHY}"
    assert {one.after.why for one in told} == {words}
    # The first results stay readable, as they were.
    assert (rows(records, "attempts"), rows(records, "responses")) == before[:2]
    assert rows(records, "decisions")[:4] == before[2] and len(rows(records, "decisions")) == 6
    assert gradebook(records).splitlines()[2:] == [f"{who},{AFTER[who][0]}" for who in AFTER]
    assert issue(records, attempts["P2"], "J", override="a trial").status == "valid"
    assert records.verify() == ()


def test_ruling_again_changes_nothing_and_tells_the_same(sat):
    records, form, key, _ = sat
    ruling = rule(records, form, key, "c", WHY, "B. Board")
    told, head = changes(records, ruling), records.head()
    assert rule(records, form, key, "c", "another reason", "somebody else") == ruling
    assert records.head() == head and changes(records, ruling) == told


def test_who_is_decided_on_later_gains_it_then(sat):
    records, form, key, _ = sat
    late = answered(form, "P5", "11001")
    waits, _ = invented_class.record_all(records, form, key, [late])  # recorded, not decided
    ruling = rule(records, form, key, "c", WHY, "B. Board")
    after = [answered(form, "P6", "11010"), answered(form, "P7", "11110")]
    more, _ = invented_class.record_all(records, form, key, after)
    found = {one.candidate: decide(records, one.number, "J. Panel", "late") for one in waits + more}
    # By hand: P5 a b e and c given, P6 a b d and c given, P7 a b c d.
    assert {who: one.score for who, one in found.items()} == {"P5": 4, "P6": 4, "P7": 4}
    assert found["P5"].why == f"late; {ruling.words}" and found["P7"].why == "late"
    assert [one.score for one in waits + more] == [3, 3, 4], "the first results are the key's"
    assert [one.candidate for one in changes(records, ruling)] == ["P2", "P4"]


def test_an_item_is_not_credited_twice_with_appeals_before_and_after(sat):
    records, form, key, attempts = sat

    def hear(who: str, *items: str) -> float:
        also = dict.fromkeys(items, "heel_lift")
        return appeal(records, attempts[who], also, "both fit", "A").score

    assert (hear("P2", "c"), hear("P4", "a")) == (4, 3)
    rule(records, form, key, "c", WHY, "B. Board")
    # P2 has c already; P4 has a accepted (d e a), and now c.
    assert stand(records) == AFTER | {"P4": (4, True)}
    assert (hear("P2", "c"), hear("P2", "c", "e"), hear("P2", "e"), hear("P2")) == (4, 5, 5, 4)
    assert hear("P3", "d", "e") == 5
    rule(records, form, key, "e", WHY, "B. Board")
    # P2 a b d and c e given; P3 had both; P4 d e, a accepted, c given.
    assert stand(records) == {"P1": (5, True), "P2": (5, True), "P3": (5, True), "P4": (4, True)}
    assert records.verify() == ()


def test_an_item_that_no_score_hangs_on(sat):
    records, form, key, _ = sat
    before = stand(records)
    ruling = rule(records, form, key, "spot", "the clip is cut short", "B. Board")
    assert not ruling.certifies and changes(records, ruling) == () and stand(records) == before


def test_what_cannot_be_ruled(sat):
    records, form, key, _ = sat
    with pytest.raises(RecordsError, match="a ruling needs the reason"):
        rule(records, form, key, "c", " ", "B. Board")
    with pytest.raises(RecordsError, match="small has no item 'z'; its items are a to spot"):
        rule(records, form, key, "z", WHY, "B. Board")
    with pytest.raises(ValueError, match="the key is not the one the form was sealed with"):
        rule(records, form, small()[1], "c", WHY, "B. Board")
    other, its_key = replace(form, cut=2), replace(key, cut=None)
    with pytest.raises(RecordsError, match="small is on record with another seal or cut"):
        rule(records, other, its_key, "c", WHY, "B. Board")
    for item in "abc":
        rule(records, form, key, item, WHY, "B. Board")
    with pytest.raises(RecordsError, match="with d as many lifts would be credited as its cut ask"):
        rule(records, form, key, "d", WHY, "B. Board")
    assert len(rows(records, "rulings")) == 3


def test_only_this_form_is_touched(sat):
    records, form, key, _ = sat
    other = invented_class.form_and_key()
    attempt = invented_class.record(records, *other, *hand_in(*other, wrong=8, candidate="C9"))
    decide(records, attempt.number, "J. Panel")
    rule(records, form, key, "c", WHY, "B. Board")
    assert stand(records) == AFTER | {"C9": (22, False)} and credited(records, "spring") == {}


@pytest.mark.parametrize("table", ["rulings", "accepted"])
def test_an_altered_ruling_is_named_and_not_built_on(tmp_path, table):
    form, key = small()
    records = Records(tmp_path / "records.sqlite", "T. Test")
    sheet = answered(form, "P2", "11010")
    (one,), _ = invented_class.record_all(records, form, key, [sheet])
    appeal(records, one.number, {"e": "heel_lift"}, "both fit", "A")
    number = rule(records, form, key, "c", WHY, "B. Board").number
    (row,) = rows(records, table)
    tamper(tmp_path / "records.sqlite", f"UPDATE {table} SET item = 'd'")
    name = (
        f"rulings, row {number} (small, d)"
        if table == "rulings"
        else (f"accepted, row {row['number']} (d)")
    )
    assert records.verify()[0] == f"{name}, was altered"
    words = re.escape(f"{name}, was altered: restore the records")
    with pytest.raises(RecordsError, match=words):
        rule(records, form, key, "b", WHY, "B. Board")
    if table == "rulings":
        with pytest.raises(RecordsError, match=words):
            credited(records, "small")
    tamper(tmp_path / "records.sqlite", f"DELETE FROM {table}")
    assert records.verify()[0] == f"{table}, row {row['number']}, was removed"


# Killed, and crowded.


def rule_until(call: int, where: str, form: Form, key: FormKey, told) -> None:
    """Rule and tell how many calls it took, but be killed at one of them; the life of a child."""
    made, records = 0, Records(where, "T. Test")

    def count(frame, event, _) -> None:
        nonlocal made
        if event == "call" and "squatlab" in frame.f_code.co_filename:
            made += 1
            if made == call:
                os.kill(os.getpid(), signal.SIGKILL)

    sys.setprofile(count)
    rule(records, form, key, "first-04", WHY, "B. Board")
    sys.setprofile(None)
    told.send(made)


def test_killed_at_any_point_of_a_ruling_and_run_again(where, form_and_key):
    """All of it or nothing is there, and the next run completes it."""
    form, key = form_and_key
    handed = list(invented_class.sheets(form, key, 12))
    marks = mark(form, key, handed)
    records = Records(where, "T. Test")
    for one in invented_class.record_all(records, form, key, handed)[0]:
        decide(records, one.number, "J. Panel")
    before, head = stand(records), records.head()
    gained = {
        who: score + (1 - had)
        for who, score, had in zip(marks.candidates, marks.score, marks.cases[:, 4], strict=True)
    }
    assert 0 < sum(gained[who] > before[who][0] for who in gained) < 12

    def run(call: int) -> int:
        ours, theirs = PROCESSES.Pipe(duplex=False)
        child = PROCESSES.Process(target=rule_until, args=(call, where, form, key, theirs))
        child.start()
        theirs.close()
        child.join(300)
        assert child.exitcode == (-signal.SIGKILL if call else 0)
        return 0 if call else ours.recv()

    for share in (0.3, 0.6, 0.95):
        run(int(share * 12 * 10))
        assert (stand(records), records.head(), records.verify()) == (before, head, ())
    assert run(0) > 12 * 10, "it was killed in the middle"
    assert {who: score for who, (score, _) in stand(records).items()} == gained
    end = records.head()
    assert run(0) and records.head() == end and records.verify() == ()
    records.close()


def test_ruled_while_hand_ins_come_in(where, form_and_key):
    form, key = form_and_key
    handed = list(invented_class.sheets(form, key, 24))
    marks = mark(form, key, handed)
    expected = dict(zip(marks.candidates, marks.score + 1 - marks.cases[:, 4], strict=True))
    gate = threading.Barrier(5)

    def come(mine: list[Sheet]) -> None:
        records = Records(where, "T. Test")
        gate.wait()
        for sheet in mine:
            (one,), _ = invented_class.record_all(records, form, key, [sheet])
            decide(records, one.number, "J. Panel")
        records.close()

    Records(where, "T. Test").close()
    threads = [threading.Thread(target=come, args=(handed[n::4],)) for n in range(4)]
    for thread in threads:
        thread.start()
    records = Records(where, "T. Test")
    gate.wait()
    rule(records, form, key, "first-04", WHY, "B. Board")
    for thread in threads:
        thread.join()
    assert {who: score for who, (score, _) in stand(records).items()} == expected
    assert records.verify() == ()
    records.close()


# Whatever happens, nobody loses.

LIFTS = st.lists(st.tuples(*[st.booleans()] * 5), min_size=1, max_size=6)


@given(LIFTS, st.sets(st.sampled_from("abcde")))
@settings(deadline=None)
def test_no_score_falls_and_none_passes_all_lifts(people, items):
    form, key = small()
    handed = [
        answered(form, f"P{n}", "".join("01"[one] for one in person))
        for n, person in enumerate(people)
    ]
    before, after = mark(form, key, handed), mark(form, key, handed, dict.fromkeys(items, "B"))
    gained = [
        sum(not one for item, one in zip("abcde", person, strict=True) if item in items)
        for person in people
    ]
    assert (after.score - before.score).tolist() == gained
    assert (after.passed >= before.passed).all() and (after.score <= 5).all()
    assert (after.points >= before.points).all()
    assert [one.cases for one in after.results()] == [5] * len(people)


STEPS = st.lists(
    st.one_of(
        st.tuples(st.just("rule"), st.sampled_from("abcde")),
        st.tuples(st.just("decide"), st.integers(0, 2)),
        st.tuples(st.just("appeal"), st.tuples(st.integers(0, 2), st.sampled_from("abcde"))),
    ),
    max_size=8,
)


@given(st.lists(st.tuples(*[st.booleans()] * 5), min_size=3, max_size=3), STEPS)
@settings(deadline=None, max_examples=25)
def test_rulings_and_appeals_in_any_order_add_up(tmp_path_factory, people, steps):
    """Against a reckoning of sets: right by the key, on the last appeal, or by a ruling."""
    form, key = small()
    records = Records(tmp_path_factory.mktemp("kept") / "records.sqlite", "T. Test")
    handed = [
        answered(form, f"P{n}", "".join("01"[one] for one in person))
        for n, person in enumerate(people)
    ]
    attempts = [invented_class.record_all(records, form, key, [one])[0][0] for one in handed]
    keyed = [{item for item, one in zip("abcde", person, strict=True) if one} for person in people]
    heard, ruled, decided = [set(), set(), set()], set(), set()
    for what, how in steps:
        before = {one.number: one.decision for one in standings(records)}
        if what == "rule" and len(ruled | {how}) < 4:
            rule(records, form, key, how, WHY, "B")
            ruled.add(how)
            for one in standings(records):
                assert before[one.number] is None or (
                    one.decision.score >= before[one.number].score
                    and one.decision.passed >= before[one.number].passed
                )
        elif what == "decide":
            decide(records, attempts[how].number, "J")
            decided.add(how)
        elif what == "appeal":
            person, item = how
            appeal(records, attempts[person].number, {item: "heel_lift"}, "both fit", "A")
            decided.add(person)
            heard[person] = {item}
    for n, one in enumerate(standings(records)):
        if n in decided:
            assert one.decision.score == len(keyed[n] | heard[n] | ruled), (n, steps)
        else:
            assert one.decision is None
    assert records.verify() == ()
    records.close()


# What the report says.


def test_a_report_leaves_it_out_and_says_so(sat):
    records, form, key, _ = sat
    rule(records, form, key, "c", WHY, "B. Board")
    rule(records, form, key, "spot", "the clip is cut short", "B. Board")
    gifts = credited(records, form.id)
    decided = {one.candidate: one.decision.score for one in standings(records)}
    report = Report(mark(form, key, sheets(records, form), gifts), decided)
    assert {one.candidate: (one.score, one.passed) for one in report.outcomes} == AFTER
    assert report.appealed == () and report.lifts == 5
    # By hand, without c: rows 1111, 1101, 1100, 0011 of a b d e; p .75 .75 .75 .5, Σpq .8125;
    # totals 4 3 2 2, variance .6875; KR-20 4/3 (1 − .8125/.6875) = −.242424.
    assert report.analysis.kr20 == pytest.approx(-0.242424, abs=1e-6)
    others = [[1, 1, 1, 1], [1, 1, 1, 0], [1, 1, 0, 0], [0, 0, 1, 1]]
    assert report.analysis.kr20 == kr20(others)
    # Mean of 5 4 3 3; Lord at 3 of 4, which is the cut without c: sqrt(3 · 1 / 3) = 1.
    assert (report.analysis.mean, report.analysis.cut, report.analysis.passed) == (3.75, 4, 2)
    assert report.analysis.error_at_cut == pytest.approx(1.0)
    assert [one.item for one in report.analysis.items] == ["a", "b", "d", "e"]
    first, *rest = report.form_lines()
    assert first.startswith("4 candidates, 2 passed at 4 of 5 lifts (50 %,")
    (line,) = (one for one in rest if "Found wrong" in one)
    assert "counts as right for everyone: c (B. Board, " in line and f": {WHY}); spot (B" in line
    assert line.endswith("Scores have it; parts, cells, items and statistics leave it out.")
    items = {row["item"]: row for row in report.items()}
    for item in ("c", "spot"):
        assert items[item]["look at"] == "counts as right for everyone"
        assert items[item]["difficulty"] == items[item]["item–rest"] == "–"
    assert items["e"]["difficulty"] == "0.50" and items["d"]["look at"] != items["c"]["look at"]
    row = report.candidates()[1]
    assert row["parts and cells"] == "without what is credited" and row["score"] == "4"
    assert (row["cell c"], row["cell d"], row["spotting"]) == ("–", "100 %", "–")
    # Five lifts, four people: 20 answers, of which c's are no confusion, nor is the spotting.
    assert report.marks.first.counts.sum() == 16 and report.marks.spot == ()
    assert np.isnan(report.marks.sensitivity).all()


def test_the_first_report_is_as_before(sat):
    records, form, key, _ = sat
    report = Report(mark(form, key, sheets(records, form), credited(records, form.id)))
    assert "Found wrong" not in str(report) and report.analysis.cut == 4
    assert len(report.analysis.items) == 5 and report.marks.first.counts.sum() == 20


def test_a_certificate_of_before_holds(sat):
    records, form, key, attempts = sat
    code = issue(records, attempts["P1"], "J", override="a trial").code
    rule(records, form, key, "c", WHY, "B. Board")
    assert check(records, code).status == "valid"
    assert change(records, code, "suspended", "a question", "J").status == "suspended"


def test_a_credited_lift_no_longer_counts_for_a_certificate_s_error(sat):
    """Lord 1957, √(x (n − x) / (n − 1)): 4 of 5 before, 3 of the 4 that still tell after."""
    records, form, key, attempts = sat
    before = grounds(records, attempts["P1"])
    assert (before.lifts, before.error) == (5, pytest.approx(np.sqrt(4 * 1 / 4)))
    rule(records, form, key, "c", WHY, "B. Board")
    after = grounds(records, attempts["P1"])
    assert (after.lifts, after.error) == (4, pytest.approx(np.sqrt(3 * 1 / 3)))
