"""The report: the same numbers as the marks, decisions that stand, and panels as typed."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import numpy as np
import pytest

from squatlab import faults
from squatlab.exam.alike_sheets import alike_sheets
from squatlab.exam.answers import Sheet
from squatlab.exam.forms import Form, FormKey
from squatlab.exam.marking import mark
from squatlab.exam.panel import read_angoff, read_ebel
from squatlab.exam.report import Report, aligned, as_csv, beside, cell_words, number
from squatlab.exam.statistics import conditional_standard_error, kr20
from squatlab.questions.kinds import NOTHING
from squatlab.questions.question import Key
from tests.exam import invented_class


@pytest.fixture(scope="module")
def report():
    form, key = invented_class.form_and_key()
    return Report(mark(form, key, invented_class.sheets(form, key, 40)))


def test_a_band_is_one_standard_error_of_a_person_at_the_cut(report):
    # Lord 1957, at 22.5 of 30: sqrt(22.5 · 7.5 / 29) = 2.412.
    error = np.sqrt(22.5 * 7.5 / 29)
    assert error == pytest.approx(conditional_standard_error(22.5, 30))
    for one in report.outcomes:
        low, high = max(0, one.score - error), min(30, one.score + error)
        assert one.band == pytest.approx((low, high))
        assert one.passed == (one.score >= 22.5)
        assert one.sure == (not low < 22.5 <= high), one
    assert {one.sure for one in report.outcomes} == {True, False}


def test_a_decision_that_stands_goes_before_the_marks(report):
    failed = next(one for one in report.outcomes if not one.passed)
    appealed = Report(report.marks, {failed.candidate: 23.0})
    after = next(one for one in appealed.outcomes if one.candidate == failed.candidate)
    assert (after.score, after.passed) == (23.0, True)
    told = f"Scores changed on appeal: {failed.candidate}. Parts, cells, items and these statistics"
    before, now = report.form_lines(), appealed.form_lines()
    (line,) = (one for one in now if one.startswith("Scores changed"))
    assert line.startswith(told) and line.endswith("of the marks before appeals.")
    passed = sum(one.passed for one in report.outcomes)
    assert before[0].startswith(f"40 candidates, {passed} passed at 22.5 of 30 lifts")
    assert now[0].startswith(f"40 candidates, {passed + 1} passed at"), "the headline follows"
    assert now[1:5] == before[1:5], "statistics are of the key"
    cells = {row["candidate"]: row["parts and cells"] for row in appealed.candidates()}
    assert cells.pop(failed.candidate) == "before appeal" and set(cells.values()) == {"as scored"}


def test_two_sittings_stand_beside_each_other(report):
    form, key = invented_class.form_and_key(name="autumn")
    other = Report(mark(form, key, invented_class.sheets(form, key, 20, seed=2)))
    rows = {row["mean mark, 1 is all right"]: row for row in beside(report, other)}
    assert rows["people"]["spring"] == "40" and rows["people"]["autumn"] == "20"
    for name, one in (("spring", report), ("autumn", other)):
        scores, cell = one.marks.score, one.marks.by_cell()["cell-1"]
        assert rows["mean of the lifts"][name] == f"{scores.mean():.1f} of 30"
        assert rows["standard deviation"][name] == f"{scores.std(ddof=1):.2f}"
        assert rows["passed"][name] == f"{100 * (scores >= 22.5).mean():.0f} %"
        assert rows["cell-1"][name] == f"{cell.mean():.2f}"


def test_what_is_nearly_all_does_not_read_as_all():
    assert [number(one) for one in (0.994, 0.996, 1.0, 1 - 1e-12, float("nan"))] == [
        "0.99",
        ">0.99",
        "1.00",
        "1.00",
        "–",
    ]


def test_the_items_note_says_what_is_flagged_and_how_far_chance_goes(report):
    note = "Only lifts that certify are flagged under “look at”. With 40 people an item–rest has a"
    assert report.items_note == f"{note} sampling error of 0.16." and note in str(report)
    assert {row["its error"] for row in report.items()} == {"0.16"}
    assert {row["decision"] for row in report.candidates()} == {
        "outside one standard error of the cut",
        "within one standard error of the cut",
    }


def test_rows_are_the_marks(report):
    marks = report.marks
    rows = {row["candidate"]: row for row in report.candidates()}
    for n, who in enumerate(marks.candidates):
        assert rows[who]["score"] == f"{marks.score[n]:g}" and rows[who]["of"] == "30"
        assert rows[who]["cell-1"] == f"{100 * marks.by_cell()['cell-1'][n]:.0f} %"
        assert rows[who]["spotting"] == f"{100 * marks.feedback['spotting'][n]:.0f} %"
    assert not any("first-" in text for row in rows.values() for text in (*row, *row.values()))
    items = {row["item"]: row for row in report.items()}
    assert items["first-03"]["difficulty"] == f"{marks.cases[:, 3].mean():.2f}"
    assert items["cue-0"]["upper–lower"] == "–"
    assert f"KR-20: {kr20(marks.cases):.2f}, 95 % interval 0." in report.form_lines()[1]


def test_the_report_says_what_certifying_asks_and_whose_result_is_near(report):
    told = " ".join(report.form_lines())
    trust = report.analysis.kr20
    weak = "weak for it: its reliability is too low" if trust < 0.8 else "This test has both"
    assert "Certifying asks for 30 lifts" in told and "reliability of 0.80 or more" in told
    assert weak in told
    near = [
        one.candidate
        for one in report.outcomes
        if abs(one.score - 22.5) < (report.analysis.error_at_cut)
    ]
    assert near and f"Within one standard error of the cut: {', '.join(near)}." in told


def test_missing_refused_unanswered_and_much_alike_are_listed_apart():
    form, key = invented_class.form_and_key()
    people = list(invented_class.sheets(form, key, 12))
    few = {item: given for item, given in people[0].answers.items() if item != "first-05"}
    few["first-06"] = None
    copied = replace(people[3], candidate="C99999")
    marks = mark(form, key, [replace(people[0], answers=few), *people[1:], copied])
    report = Report(marks, absent=("C77", "C78"), refused=("C79: late",))
    lines = report.form_lines()
    assert "Without an answer, and so wrong: 2 lifts (C00000 2)." in lines
    assert "Given the form, nothing handed in: C77, C78." in lines
    assert "Handed in, refused: C79: late." in lines
    wrong = int((marks.marks[3] < 1).sum())
    assert report.alike[0] == ("C00003", "C99999", wrong, 0) and len(report.alike) == 1
    assert any(line.startswith("Sheets to compare") and "C99999" in line for line in lines)
    rows = {row["candidate"]: row for row in report.candidates()}
    assert [rows[who]["lifts not answered"] for who in ("C00000", "C00001")] == ["2", "0"]


def test_a_form_without_lifts_has_no_report_and_says_so():
    form, key = invented_class.form_and_key(lifts=0)
    marks = mark(form, key, invented_class.sheets(form, key, 5))
    with pytest.raises(ValueError, match="spring asks for the first fault of no lift"):
        str(Report(marks))


def test_alike_sheets_by_hand():
    """Errors in common over differences: 6 of 6 with 2 apart, and honest pairs far from it."""
    answers = np.array([
        [1, 1, 1, 1, 1, 1, 0, 0, 0, 0], [1, 1, 1, 1, 1, 1, 2, 0, 0, 2],
        [2, 2, 2, 2, 2, 2, 0, 0, 0, 0], [0, 0, 0, 0, 0, 0, 0, 0, 0, 0],
        [-1, -1, -1, -1, -1, -1, -1, -1, -1, -1], [-1, -1, -1, -1, -1, -1, -1, -1, -1, -1],
    ])  # fmt: skip
    marks = (answers == 0).astype(float)
    found = alike_sheets(list("ABCDEF"), answers, marks, 6)
    assert found == (("A", "B", 6, 2),), "unanswered is no error in common"
    everyone = np.vstack([answers[:1]] * 3), np.vstack([marks[:1]] * 3)
    assert len(alike_sheets(list("XYZ"), *everyone, 6)) == 3


def test_faults_stand_in_the_catalogues_order_with_nothing_last():
    names = [faults.fault(name).name for name in ("short_depth", "knees_first", "heel_lift")]
    options = (*names, NOTHING)
    entries = {f"q{n}": Key("first", right, options=options) for n, right in enumerate(options)}
    key = FormKey.of("small", entries)
    form = Form("small", tuple(entries), 3, key.seal)
    given = {"q0": names[1], "q1": names[1], "q2": names[1], "q3": NOTHING}
    report = Report(mark(form, key, [Sheet("small", key.seal, "C1", given, "2026-05-01T10:00Z")]))
    assert report.first.labels == (names[1], names[0], names[2], NOTHING)
    assert report.first.counts.tolist() == [[1, 0, 0, 0], [1, 0, 0, 0], [1, 0, 0, 0], [0, 0, 0, 1]]
    assert report.named_instead() == [
        "“heels lift” was called “knees first” 1 times of 1.",
        "“not deep enough” was called “knees first” 1 times of 1.",
    ]
    depth = report.confusions()[1]
    assert (depth["fault"], depth["missed as first"]) == ("not deep enough", "100 %")
    assert report.confusions()[0]["named first without need"] == "67 %"
    assert "Reliability KR-20: none (1 people are too few" in str(report)
    assert "no spread with one candidate" in report.form_lines()[0] and "nan" not in str(report)


def test_cells_have_words_and_tables_are_aligned(report):
    assert cell_words("first_stop") == "first: stop the set" and cell_words("my_own") == "my own"
    text = aligned([{"a": "1", "long": "x"}, {"a": "333", "long": ""}])
    assert text == "a    long\n1    x\n333"
    again = list(csv.DictReader(io.StringIO(as_csv(report.items()))))
    assert again == report.items()
    assert str(report).count("first-") == 30


def typed(path, text: str):
    path.write_text(text, encoding="utf-8")
    return path


def test_a_typed_panel_gives_the_cut_of_its_ratings(tmp_path):
    # exam.md's own example of a modified Angoff: cut 3.875 of 6, SE .0433013, ICC .9676492.
    rows = (
        ".60 .75 .50 .90 .65 .40",
        ".70 .80 .55 .85 .60 .45",
        ".65 .70 .45 .95 .70 .50",
        "55 85 60% 90 55 35",
    )
    items = [f"q{n}" for n in range(1, 7)]
    lines = [",".join([f"J{n}", *row.split()]) for n, row in enumerate(rows)]
    path = typed(tmp_path / "panel.csv", "\n".join([",".join(["judge", *items]), *lines]))
    panel = read_angoff(path, items)
    assert panel.cut.cut == pytest.approx(3.875) and panel.cut.whole == 4
    assert panel.cut.standard_error == pytest.approx(0.0433013, abs=1e-7)
    assert panel.cut.icc == pytest.approx(0.9676492, abs=1e-7)
    assert panel.judges == ("J0", "J1", "J2", "J3") and sum(panel.sums) / 4 == panel.cut.cut
    with pytest.raises(ValueError, match=r"panel\.csv has no column “q7”"):
        read_angoff(path, [*items, "q7"])
    path = typed(tmp_path / "panel.csv", "judge,q1\nA,1\n")
    with pytest.raises(
        ValueError, match="“1” may be one of a hundred or all of them; write 1 % or"
    ):
        read_angoff(path, ["q1"])
    path = typed(tmp_path / "panel.csv", "judge,q1\nA,70\nB,lots\n")
    with pytest.raises(
        ValueError, match=r"row 3, column q1: “lots” is no share.*Write 70 or 0\.70"
    ):
        read_angoff(path, ["q1"])
    # A row pasted twice would count its judge twice.
    path = typed(tmp_path / "panel.csv", "judge,q1\nAnn,70\nB,60\nann,70\n")
    with pytest.raises(ValueError, match=r"row 4: judge “ann” stands above as well"):
        read_angoff(path, ["q1"])
    path = typed(tmp_path / "panel.csv", "judge,q1\nA,70\n,60\n")
    with pytest.raises(ValueError, match=r"row 3, column judge: is empty"):
        read_angoff(path, ["q1"])


def test_a_typed_ebel_table_gives_its_cut(tmp_path):
    # Shares and counts of exam.md: 26.70 of 40, so 27.
    shares = {"essential": (90, 80, 70), "important": (70, 60, 45), "supplementary": (50, 40, 30)}
    counts = {"essential": (8, 6, 2), "important": (6, 8, 4), "supplementary": (2, 3, 1)}
    hard = ("easy", "medium", "hard")
    rows = [f"{r},{d},{shares[r][n]} %,{counts[r][n]}" for r in shares for n, d in enumerate(hard)]
    head = "relevance,difficulty,share,count"
    cut = read_ebel(typed(tmp_path / "ebel.csv", "\n".join([head, *rows])))
    assert cut.cut == pytest.approx(26.70) and (cut.whole, cut.items) == (27, 40)
    whole = typed(tmp_path / "ebel.csv", "\n".join([head, *rows]))
    assert read_ebel(whole, 40)[:2] == cut[:2]
    with pytest.raises(
        ValueError, match="counts sum to 40, the form has 41 lifts: correct the cou"
    ):
        read_ebel(whole, 41)
    both = "no row for essential and hard; supplementary and hard; write each word alike"
    with pytest.raises(ValueError, match=both):
        read_ebel(typed(tmp_path / "ebel.csv", "\n".join([head, *rows[:2], *rows[3:-1]])))
    with pytest.raises(ValueError, match="row 3: give each relevance and difficulty once"):
        read_ebel(typed(tmp_path / "ebel.csv", "\n".join([head, rows[0], rows[0]])))
