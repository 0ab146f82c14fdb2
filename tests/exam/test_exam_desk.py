"""The certifier's forms: what is missing is said, and the functions get what is filled in."""

from __future__ import annotations

import os
from dataclasses import replace

import pytest

from squatlab import tables
from squatlab.exam.build import draw
from squatlab.exam.marking import mark
from squatlab.exam.package import Package
from squatlab.exam.policy import shipped_policy
from squatlab.exam.records import Records, decide, opinions
from squatlab.exam.report import Report
from squatlab.exam.reviews import template
from squatlab.exam.screens import exam_desk
from squatlab.exam.screens.exam_desk import (
    ExamForm,
    ExamSitting,
    PackingRow,
    PanelForm,
    ReviewForm,
    SealedForm,
    SittingForm,
    flag_words,
    outcome_words,
)
from squatlab.exam.secret import of_demo
from squatlab.questions.blueprint import cell
from tests.exam import invented_class


@pytest.fixture(autouse=True)
def in_a_folder(tmp_path, monkeypatch):
    """Own files are beside the notebook."""
    monkeypatch.chdir(tmp_path)


@pytest.fixture(scope="module")
def few():
    """Two forms of two questions, quickly drawn."""
    cells = [replace(cell("choice_safety"), count=2)]
    return [draw(of_demo(1), name, cells, certify=False) for name in ("spring", "summer")]


@pytest.fixture
def own(tmp_path):
    """A packed form with its key beside it, and what was handed in."""
    form, key = invented_class.form_and_key()
    form, key = invented_class.pack(tmp_path / "spring.zip", form, key)
    key.write(tmp_path / "spring.key.json")
    return form, key, list(invented_class.sheets(form, key, 8))


@pytest.fixture
def club(own):
    form, key, sheets = own
    return ExamSitting(form, key, Report(mark(form, key, sheets)))


def test_practice_needs_nothing_and_certifying_one_s_own_secret_and_bank():
    exam = ExamForm()
    assert exam.values.names == ("spring", "summer") and not exam.values.certify
    exam.fill(purpose="certify")
    assert "demo" in exam.missing[0], exam.missing
    exam.fields["secret"].draw()
    assert os.listdir() == ["secret.json"]
    assert len(exam.missing) == 1 and "Knowledge, cues" in exam.missing[0]
    exam.fill(override="a class that never saw the course")
    assert exam.missing == ()
    plan = exam.values
    assert plan.certify and plan.secret.weakness == "" and plan.override.startswith("a class")


def test_a_secret_is_never_drawn_over_another():
    exam = ExamForm()
    exam.fields["secret"].draw()
    first = exam.values.secret
    exam.fields["secret"].draw()
    assert sorted(os.listdir()) == ["secret-2.json", "secret.json"]
    assert exam.values.secret != first
    exam.fields["secret"].control.value = ""
    assert exam.values.secret == of_demo(1)


@pytest.mark.parametrize(
    ("wanted", "said"),
    [
        ({"second": "Spring"}, "another name"),
        ({"first": ""}, "First form: is missing"),
        ({"first": "../spring"}, "form"),
        ({"cut": "33"}, "the blueprint has 32"),
        ({"minutes": "2"}, "not possible"),
        ({"bank": "beside"}, "neither items.csv nor cues.csv"),
        ({"blueprint": "beside"}, "there is no blueprint.csv"),
        ({"policy": "beside"}, "there is no exam_policy.csv"),
    ],
)
def test_each_step_of_an_exam_says_what_is_wrong(wanted, said):
    exam = ExamForm()
    exam.fill(**wanted)
    assert said in " ".join(exam.missing)


def test_a_form_asks_what_one_s_own_blueprint_says_under_one_s_own_policy(tmp_path):
    columns, *rows = (tables.folder("data") / "blueprint.csv").read_text().splitlines()
    safety = next(row for row in rows if row.startswith("choice_safety,"))
    (tmp_path / "blueprint.csv").write_text(f"{columns}\n{safety}\n")
    (tmp_path / "exam_policy.csv").write_text("name,value\nwaiting_days,21\n")
    exam = ExamForm()
    assert len(exam.values.cells) > 1 and exam.values.policy == shipped_policy()
    exam.fill(blueprint="beside", policy="beside", second="")
    plan = exam.values
    assert [cell.name for cell in plan.cells] == ["choice_safety"]
    assert plan.policy.waiting_days == 21
    assert f"spring: {plan.cells[0].count} questions" in exam.steps[2].message
    (made,) = plan.drawn()
    assert set(made.cells.values()) == set(plan.cells)
    assert made.key.policy.waiting_days == 21
    (tmp_path / "exam_policy.csv").write_text("name,value\nwaiting_dayz,21\n")
    exam._changed()
    assert "row 2: no policy has “waiting_dayz”" in " ".join(exam.missing)


def test_too_few_lifts_to_certify_are_told_before_anything_is_drawn(tmp_path):
    rows = (tables.folder("data") / "blueprint.csv").read_text().splitlines(keepends=True)
    first_four_cells = rows[:5]  # 5 + 4 + 4 lifts, and `cases_to_certify` is 30
    (tmp_path / "blueprint.csv").write_text("".join(first_four_cells))
    exam = ExamForm()
    exam.fill(blueprint="beside")
    assert exam.missing == ()
    exam.fill(purpose="certify")
    exam.fields["secret"].draw()
    (missing,) = exam.missing
    assert "What it asks" in missing and "13 lifts" in missing and "30 or more" in missing
    exam.fill(override="a trial of the form itself")
    assert exam.missing == ()


def test_forms_are_drawn_when_the_button_is_pressed_and_say_so_after_a_change(monkeypatch):
    drawn = []
    exam = ExamForm()
    shown = exam.pressed("Draw", lambda plan: drawn.append(plan.names) or list(plan.names))
    assert shown.values == ["spring", "summer"], "running the cell draws"
    exam.fill(first="autumn")
    assert len(drawn) == 1
    with pytest.raises(ValueError, match="press “Draw”"):
        _ = shown.values
    shown._button.click()
    assert shown.values == ["autumn", "summer"] and len(drawn) == 2


def test_packing_writes_what_pack_writes_and_never_over_another(few, tmp_path, monkeypatch):
    monkeypatch.setattr(exam_desk, "stills", invented_class.small_stills)
    source = ExamForm().pressed("Draw", lambda _: few)
    row = PackingRow(source)
    sealed = SealedForm({}, row)
    row.pack.click()
    assert {path.name for path in (tmp_path / "forms").iterdir()} == {
        f"{name}.{kind}"
        for name in ("spring", "summer")
        for kind in ("zip", "key.json", "register.json")
    }
    assert "spring.zip, summer.zip" in row.message
    sealed.fill(form=row.values[1].package.relative_to("."))
    assert sealed.values.form.id == "summer"
    row.pack.click()
    assert "is there already" in row.message


def test_a_sitting_of_one_s_own_from_a_folder_of_hand_ins(own, club, tmp_path):
    form, key, sheets = own
    sitting = SittingForm(club)
    assert sitting.values is club
    sitting.fill(whose="own", **{"from": "folder"})
    assert "hand-ins" in sitting.missing[0]
    for sheet in sheets:
        sheet.write(tmp_path / "hand-ins" / f"{sheet.candidate}.json")
    (tmp_path / "hand-ins" / "broken.json").write_text("{")
    sitting._changed()
    report = sitting.values.report
    assert report.marks.candidates == tuple(one.candidate for one in sheets)
    assert len(report.refused) == 1 and "broken.json" in report.refused[0]
    assert sitting.steps[1].message == "8 people, 1 refused."
    assert outcome_words(sitting.values).count("\n") == 7
    assert flag_words(sitting.values)


def test_hand_ins_that_cannot_be_marked_keep_nobody_else_s_out(own, club, tmp_path):
    """A copy, two that differ, one of another form, and a folder by such a name."""
    form, key, sheets = own
    folder = tmp_path / "hand-ins"
    for sheet in sheets:
        sheet.write(folder / f"{sheet.candidate}.json")
    once, twice = sheets[0], sheets[1]
    once.write(folder / f"{once.candidate} (1).json")
    other = replace(twice, answers=twice.answers | {form.items[0]: None})
    other.write(folder / f"{twice.candidate} (1).json")
    longer = sheets[2].answers | {"first-99": "nothing"}
    replace(sheets[2], form="summer", answers=longer).write(folder / "summer.json")
    (folder / "old.json").mkdir()
    sitting = SittingForm(club)
    sitting.fill(whose="own", **{"from": "folder"})
    report = sitting.values.report
    assert sorted(report.marks.candidates) == sorted(
        sheet.candidate for sheet in sheets if sheet is not twice
    )
    assert report.appealed == ()
    words = "\n".join(report.refused)
    assert "answers to form summer, not spring" in words and "old.json" in words
    assert f"candidate {twice.candidate}: 2 hand-ins differ (receipts " in words
    assert twice.receipt in words and other.receipt in words


def test_a_key_that_is_not_there_or_not_the_form_s_is_refused(own, club, tmp_path):
    sitting = SittingForm(club)
    (tmp_path / "spring.key.json").rename(tmp_path / "else.json")
    sitting.fill(whose="own")
    assert "spring.key.json" in sitting.missing[0]
    other = invented_class.form_and_key(name="other")[1]
    other.write(tmp_path / "other.key.json")
    sitting.fields["key"].look_again()
    sitting.fill(key=tmp_path.joinpath("other.key.json").relative_to(tmp_path))
    assert not sitting.steps[0].complete


def test_a_sitting_of_one_s_own_from_the_records(own, club, tmp_path):
    form, key, sheets = own
    sitting = SittingForm(club)
    sitting.fill(whose="own")
    assert "Records: add the file" in sitting.missing[0]
    records = Records(str(tmp_path / "records.sqlite"), "T. Test")
    attempts, _ = invented_class.record_all(records, form, key, sheets)
    decide(records, attempts[0].number)
    records.close()
    sitting.fields["records"].look_again()
    sitting.fill(records=tmp_path.joinpath("records.sqlite").relative_to(tmp_path))
    assert sitting.missing == ()
    report = sitting.values.report
    assert len(report.outcomes) == 8 and set(report.decided) == {attempts[0].candidate}


def test_ratings_of_judges_give_the_cut_and_a_wrong_table_is_said(own, club, tmp_path):
    sitting = SittingForm(club)
    panel = PanelForm(sitting, {})
    assert panel.values.panel is None
    lifts = club.lifts
    rows = [",".join(["judge", *lifts]), *(",".join([f"J{n}", *["70"] * 30]) for n in (1, 2))]
    panel.fields["ratings"].add("mine.csv", "\n".join(rows).encode())
    assert panel.values.panel.cut.cut == pytest.approx(21.0)
    assert len(panel.values.candidates("Letter")) == 8
    panel.fields["ratings"].add("bad.csv", b"judge,q1\nJ1,70\n")
    assert "bad.csv" in panel.missing[0]


def test_coaches_tables_are_compared_with_the_key_and_entered_once(own, club, tmp_path):
    form, key, sheets = own
    Records(str(tmp_path / "records.sqlite"), "T. Test").close()
    package = Package.read(tmp_path / "spring.zip")
    table = template(form, package.questions).splitlines()
    item = next(name for name, entry in key.entries.items() if entry.kind == "first")
    letter = "abcdefg"[package.questions[item].options.index(key.entries[item].answer)]
    typed = [line.replace(f",,{item},,", f",K1,{item},{letter},") for line in table]
    own_sitting = ExamSitting(form, key, club.report, package, tmp_path / "records.sqlite")

    class Chosen(SittingForm):
        def _values(self):
            return own_sitting

    review = ReviewForm(Chosen(club), {})
    assert "no coach has answered yet" in review.missing[0]
    review.fields["first"].add("K1.csv", "\n".join(typed).encode())
    assert [(one.coach, one.item, one.fits) for one in review.values.opinions] == [
        ("K1", item, True)
    ]
    review.enter.click()
    assert "Your name" in review._entered.value
    review.fill(by="A. Judge")
    review.enter.click()
    assert "1 answers entered" in review._entered.value
    review.enter.click()
    assert "0 answers entered" in review._entered.value, "the same again changes nothing"
    records = Records.existing(str(tmp_path / "records.sqlite"))
    assert [one.coach for one in opinions(records, form.id)] == ["K1"]
    records.close()


def test_packed_forms_are_offered_from_here_and_from_folders_that_lie_here(tmp_path):
    def offered(**more):
        field = exam_desk.SealedField("Form", {}, (".zip",), folder=tmp_path, **more)
        return field, [name for name, _ in field.control.options]

    assert offered()[1] == ["add a file first"] and offered(needed=False)[1] == ["none"]
    for name in ("spring.zip", "forms/summer.zip", "forms/deeper/winter.zip", "forms/notes.txt"):
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_bytes(b"")
    for needed in (True, False):
        field, names = offered(needed=needed)
        assert names == ["spring.zip", "forms/summer.zip"], needed
    # What is chosen stays chosen when there is more to choose from.
    field.control.value = tmp_path / "forms/summer.zip"
    (tmp_path / "autumn.zip").write_bytes(b"")
    field.look_again()
    assert field.control.value == tmp_path / "forms/summer.zip"
    assert [name for name, _ in field.control.options] == [
        *("autumn.zip", "spring.zip", "forms/summer.zip")
    ]
