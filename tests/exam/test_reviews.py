"""Coaches on a key: what they get gives nothing away, what they say is kept and counted."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from PIL import Image
from sklearn.metrics import cohen_kappa_score

from squatlab.__main__ import main
from squatlab.exam import demo
from squatlab.exam.answers import Sheet
from squatlab.exam.build import draw
from squatlab.exam.forms import Form, FormKey
from squatlab.exam.marking import mark
from squatlab.exam.package import Package, Packing
from squatlab.exam.records import (
    Records,
    RecordsError,
    check,
    decide,
    enrol_coach,
    issue,
    open_form,
    opinions,
    record_review,
    standings,
)
from squatlab.exam.report import Report
from squatlab.exam.reviews import MISSED, SPLIT, KeyReview, compared, read_blind, template
from squatlab.exam.screens.blind_sheets import MOMENTS, blind_sheets
from squatlab.exam.screens.report_pages import certificate_page, report_pages
from squatlab.exam.secret import of_demo
from squatlab.questions import files
from squatlab.questions.blueprint import cell
from squatlab.questions.kinds import NOTHING
from squatlab.questions.question import Key, PictureBox, PicturePanel, Pictures, Question
from squatlab.show import paper
from tests.exam import invented_class
from tests.exam.test_records import execute, rows

MILLIMETRE = 72 / 25.4
"""In points."""


def right_answers(key: FormKey) -> dict:
    """Return what a coach answers who agrees with the key everywhere."""
    return {item: invented_class.answer(entry, True) for item, entry in key.entries.items()}


def questions(key: FormKey) -> dict[str, Question]:
    """Return a key's items as a package has them."""
    return {i: Question(i, e.kind, f"What about {i}?", e.options) for i, e in key.entries.items()}


# What is typed.


def typed(path, form: Form, *rows: str):
    """Write a table of answers, each row after the mark of its form."""
    lines = [f"Spring {form.seal[:8]},{row}" for row in "\n".join(rows).splitlines()]
    path.write_text("\n".join(["Form,Coach id,Item,Answer,Write", *lines]), encoding="utf-8")
    return path


def test_the_template_asks_every_item_and_comes_back(form_and_key, tmp_path):
    form, key = form_and_key
    rows = template(form, questions(key)).splitlines()
    assert rows[0] == "form,coach_id,item,answer,write" and len(rows) == 1 + len(key.entries)
    mark = f"spring {form.seal[:8]}"
    assert rows[1] == f"{mark},,first-00,,one letter; coach_id: Coach's id (such as K1)"
    assert rows[2] == f"{mark},,first-01,,one letter"
    filled = [row.replace(",first-00,,", "K1,first-00,b,", 1) for row in rows]
    path = tmp_path / "panel.csv"
    path.write_text("\n".join(filled), encoding="utf-8")
    second = key.entries["first-00"].options[1]
    assert read_blind(path, form, questions(key)) == {"K1": {"first-00": second}}


@pytest.mark.parametrize("other", [{"id": "autumn"}, {"seal": "0" * 64}])
def test_another_form_s_table_is_refused(form_and_key, tmp_path, other):
    form, key = form_and_key
    autumn = replace(form, **other)
    path = tmp_path / "panel.csv"
    path.write_text(template(form, questions(key)).replace(",,first-00,,", ",K1,first-00,b,"))
    words = f"panel.csv is the table of form “spring {form.seal[:8]}”, and this is {autumn.id} "
    with pytest.raises(ValueError, match=f"{words}{autumn.seal[:8]}: give that form and its key"):
        read_blind(path, autumn, questions(key))


def test_letters_stand_for_options_in_the_package_s_order(form_and_key, tmp_path):
    form, key = form_and_key
    a, b, c, *_ = invented_class.FAULTS
    path = typed(
        tmp_path / "panel.csv",
        form,
        "K1,first-03,G,",
        ",spot-3,c a,",
        ",spot-0,None,",
        ",cue-0,b,",
        ',number-0,"98,5",',
        ',rank-0,"c, a, b",',
        ",first-04,,",
        "K2,first-03,a,",
    )
    assert read_blind(path, form, questions(key)) == {
        "K1": {
            "first-03": NOTHING,
            "spot-3": [a, c],
            "spot-0": [],
            "cue-0": "knees out",
            "number-0": 98.5,
            "rank-0": [c, a, b],
        },
        "K2": {"first-03": a},
    }


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("K1,first-00,h,", r"row 2: “h” is no answer to first-00; write one letter \(a to g\)"),
        ("K1,first-00,ab,", "“ab” is no answer to first-00; write one letter"),
        ("K1,first-00,none,", "“none” is no answer to first-00"),
        ("K1,spot-1,aa,", r"write every letter that fits or none \(a to f\)"),
        ("K1,rank-0,ab,", r"“ab” is no answer to rank-0; write all letters in order \(a to c\)"),
        ("K1,number-0,many,", "row 2: “many” is no number; write one, such as 12.5"),
        ("K1,number-0,nan,", "“nan” is no number"),
        ("K1,number-0,12 KG,", "row 2: “12 KG” is in “KG” and this question asks for a number"),
        ("K1,first-99,a,", "item “first-99” is not on this form, or answered twice"),
        ("K1,cue-0,a,\n,cue-0,b,", "row 3: item “cue-0” is not on this form, or answered twice"),
        ("K1,first-00,,", "panel.csv: nothing is answered yet"),
        (",first-00,a,", "the coach is “”; use 1 to 64 letters, digits"),
        ("A. Judge,first-00,a,", "the coach is “A. Judge”.*and no names of persons"),
    ],
)
def test_what_is_mistyped_is_named_by_its_row(form_and_key, tmp_path, row, words):
    form, key = form_and_key
    with pytest.raises(ValueError, match=words):
        read_blind(typed(tmp_path / "panel.csv", form, row), form, questions(key))


def test_every_mistake_is_listed_at_once(form_and_key, tmp_path):
    form, key = form_and_key
    path = typed(tmp_path / "panel.csv", form, "K1,first-00,z,", ",first-01,a,", ",first-02,y,")
    with pytest.raises(ValueError, match=r"row 2: “z”.*; row 4: “y”"):
        read_blind(path, form, questions(key))


# What fits, and who is alike.


def test_an_answer_fits_only_if_it_is_right_in_full(form_and_key):
    form, key = form_and_key
    review = KeyReview(form, key)
    assert all(one.fits for one in review.judged("K1", right_answers(key)))
    a, b, c, d, *_ = invented_class.FAULTS
    fitting = {
        "spot-3": [c, a, b],
        "cue-0": invented_class.CUES[1],
        "number-0": 105,
        "rank-0": (a, b, c),
    }
    assert all(one.fits for one in review.judged("K1", fitting))
    wrong = {
        "first-00": b,
        "spot-3": [a, b],
        "spot-0": [d],
        "cue-0": invented_class.CUES[2],
        "number-0": 105.1,
        "rank-0": [a, c, b],
    }
    found = review.judged("K1", wrong | {"first-01": None})
    assert {one.item for one in found} == wrong.keys() and not any(one.fits for one in found)
    for odd in ({"first-99": a}, {"first-00": "tiredness"}, {"rank-0": a}, {"number-0": "x"}):
        with pytest.raises(
            ValueError, match=f"coach K1: .* is no answer to item {next(iter(odd))}"
        ):
            review.judged("K1", odd)
    with pytest.raises(ValueError, match="this is the key of form autumn"):
        KeyReview(form, replace(key, form="autumn"))


def test_kappa_of_two_coaches_is_cohens():
    """Cohen 1968: the table 88 14 18 / 10 40 10 / 2 6 12 of 200 has kappa .492."""
    table = np.array([[88, 14, 18], [10, 40, 10], [2, 6, 12]])
    options = ("heel_lift", "bar_forward", NOTHING)
    pairs = [(i, j) for i in range(3) for j in range(3) for _ in range(table[i, j])]
    entries = {f"q{n}": Key("first", NOTHING, options=options) for n in range(len(pairs))}
    one, other = ({f"q{n}": options[pair[who]] for n, pair in enumerate(pairs)} for who in (0, 1))
    like = compared(FormKey.of("spring", entries), one, other)
    assert like.kappa == pytest.approx(0.492, abs=5e-4)
    assert like.kappa == pytest.approx(cohen_kappa_score([*one.values()], [*other.values()]))
    assert (like.items, like.share) == (200, pytest.approx(table.trace() / 200))
    assert str(like) == "the same on 70 % of 200 items; kappa of the first: 0.49"


def test_where_kappa_means_nothing_the_reason_is_given(form_and_key):
    _, key = form_and_key
    cue = compared(key, {"cue-0": "hips back"}, {"cue-0": "knees out", "first-00": NOTHING})
    assert (cue.items, cue.share) == (1, 1.0), "both cues are right, so they are alike"
    assert np.isnan(cue.kappa) and str(cue).endswith(
        "none, no lift of which both named the first fault"
    )
    always = compared(key, {"first-00": NOTHING}, {"first-00": NOTHING})
    assert "both raters named the same one category" in str(always)
    nothing = compared(key, {"first-00": NOTHING}, {"first-01": NOTHING})
    assert nothing.items == 0 and np.isnan(nothing.share)


def said(form: Form, key: FormKey, *coaches: dict) -> KeyReview:
    review = KeyReview(form, key)
    found = [review.judged(f"K{n}", given) for n, given in enumerate(coaches, 1)]
    return replace(review, opinions=sum(found, ()))


def test_two_coaches_and_more_than_seven_in_ten_review_an_item(form_and_key):
    # data/exam_policy.csv: review_coaches 2, review_agreement 0.7.
    form, key = form_and_key
    yes, no = {"first-00": key.entries["first-00"].answer}, {"first-00": NOTHING}
    assert said(form, key, yes).reviewed == frozenset()
    assert said(form, key, yes, yes).reviewed == {"first-00"}
    assert said(form, key, yes, yes, no).reviewed == frozenset(), "two in three are too few"
    assert said(form, key, yes, yes, yes, no).reviewed == {"first-00"}, "three in four are enough"
    assert said(form, key, *[yes] * 7, *[no] * 3).reviewed == frozenset(), "more than 0.7"
    assert said(form, key, no, no).reviewed == frozenset()
    assert (
        said(form, key).words
        == said(form, key, yes).words
        == "answer key not yet checked by coaches"
    )
    both = said(form, key, yes | {"cue-0": "hips back"}, yes | {"cue-0": "knees out"})
    assert both.words == "key reviewed by coaches on 1 of 30 lifts"
    assert both.lines()[0] == "Key reviewed by coaches on 1 of 30 lifts, 2 of 40 items in all."


def test_items_on_which_coaches_differ_are_named_with_what_to_do(form_and_key):
    form, key = form_and_key
    mine, yours = right_answers(key), right_answers(key)
    mine["first-00"] = yours["first-00"] = NOTHING
    mine["spot-0"], mine["number-1"] = ["heel_lift"], 42.5
    assert said(form, key, mine, yours).doubts() == [
        MISSED,
        "first-00: key “knees_first”; K1 “nothing”; K2 “nothing”.",
        SPLIT,
        "spot-0: key none; K1 “heel_lift”; K2 none.",
        "number-1: key 101; K1 42.5; K2 101.",
    ]
    assert said(form, key, {"first-00": NOTHING}).doubts()[0] == SPLIT, "one coach is too few"
    assert said(form, key, yours | {"first-00": "knees_first"}).doubts() == []
    pairs = [line.split(":")[0] for line in said(form, key, mine, yours).lines()[1:4]]
    assert pairs == ["The key and K1", "The key and K2", "K1 and K2"]


# What is kept.


def enrolled(records: Records) -> None:
    """Enter two coaches."""
    for coach in ("K1", "K2"):
        enrol_coach(records, coach)


def test_blind_answers_are_kept_in_the_chain_with_their_agreement(records, form_and_key):
    form, key = form_and_key
    enrolled(records)
    first = right_answers(key)
    second = first | {"first-00": NOTHING}
    assert len(record_review(records, form, key, "K1", first)) == 40
    record_review(records, form, key, "K2", second)
    one, two = rows(records, "reviews")
    assert (one["coach"], two["coach"]) == ("K1", "K2") and records.verify() == ()
    assert json.loads(one["agreement"]) == [["The key", "K1", 40, 1.0, 1.0]]
    # By hand: 29 of 30 alike; by chance, with 5 5 4 4 4 4 4 and 4 5 4 4 4 4 5 of 30, 129/900.
    kappa = round((29 / 30 - 129 / 900) / (1 - 129 / 900), 4)
    assert json.loads(two["agreement"]) == [
        ["The key", "K2", 40, 39 / 40, kappa],
        ["K1", "K2", 40, 39 / 40, kappa],
    ]
    found = opinions(records, form.id)
    assert len(found) == 80 and found[40] == ("K2", "first-00", "first", NOTHING, False)
    assert opinions(records, "autumn") == ()
    assert KeyReview(form, key, found).words == "key reviewed by coaches on 29 of 30 lifts"


def test_what_was_said_blind_stands(records, form_and_key):
    form, key = form_and_key
    enrolled(records)
    answers = right_answers(key)
    some = dict(list(answers.items())[:10])
    assert len(record_review(records, form, key, "K1", some)) == 10
    head = records.head()
    assert record_review(records, form, key, "K1", some) == () and records.head() == head
    assert len(record_review(records, form, key, "K1", answers)) == 30, "the rest may follow"
    with pytest.raises(RecordsError, match="other answers to first-03 are on record and stand"):
        record_review(records, form, key, "K1", answers | {"first-03": NOTHING})
    with pytest.raises(ValueError, match="the coach is “A. Judge”"):
        record_review(records, form, key, "A. Judge", answers)
    other = FormKey.of("spring", key.entries)
    with pytest.raises(RecordsError, match="spring is on record with another seal or cut"):
        record_review(records, replace(form, seal=other.seal), other, "K2", answers)
    assert len(opinions(records, form.id)) == 40


def test_an_altered_review_is_named_and_not_used(records, form_and_key):
    form, key = form_and_key
    enrolled(records)
    record_review(records, form, key, "K1", right_answers(key))
    execute(records, "UPDATE reviews SET opinions = replace(opinions, 'true', 'false')")
    assert records.verify() == ("reviews, row 4 (K1, spring), was altered",)
    with pytest.raises(RecordsError, match=r"reviews, row 4 \(K1, spring\), was altered: restore"):
        opinions(records, form.id)


def test_only_coaches_review_and_no_candidate_of_the_form(records, form_and_key):
    form, key = form_and_key
    answers = right_answers(key)
    with pytest.raises(RecordsError, match="K1 is no coach on record, so this is no review"):
        record_review(records, form, key, "K1", answers)
    enrolled(records)
    open_form(records, form, key, "K2")
    with pytest.raises(RecordsError, match="K2 is a candidate of form spring, and candidates do"):
        record_review(records, form, key, "K2", answers)
    with pytest.raises(RecordsError, match="K2 is a candidate's id: give the coach one of their"):
        enrol_coach(records, "K2")
    record_review(records, form, key, "K1", answers)
    with pytest.raises(RecordsError, match="K1 reviewed the key of form spring, so its lifts are"):
        open_form(records, form, key, "K1")
    open_form(records, *invented_class.form_and_key(name="autumn"), "K1")
    assert opinions(records, form.id) and records.verify() == ()


def words(pages, path) -> list[str]:
    """Return the words of each page of the PDF."""
    with pypdfium2.PdfDocument(paper.save(pages, path, "Pages")) as document:
        return [" ".join(page.get_textpage().get_text_bounded().split()) for page in document]


def test_records_report_and_certificate_say_how_far_the_key_is_reviewed(form_and_key, tmp_path):
    form, key = form_and_key
    records = Records(tmp_path / "records.sqlite", "T. Test")
    enrolled(records)
    sheets = [
        Sheet(form.id, form.seal, "C1", right_answers(key), "2026-05-01T10:00:00Z"),
        *invented_class.sheets(form, key, 1),
    ]
    marks = mark(form, key, sheets)
    attempts, _ = invented_class.record_all(records, form, key, sheets)
    decide(records, attempts[0].number, "J. Panel")
    code = issue(records, attempts[0].number, "J. Panel", "a trial").code

    def told() -> list[str]:
        report = Report(marks, opinions=opinions(records, form.id))
        pages = [*report_pages(report), certificate_page(check(records, code), "a course")]
        form_page, *_, last, certificate = words(pages, tmp_path / "report.pdf")
        frozen = check(records, code).key, certificate
        assert all("not yet checked by coaches" in text for text in frozen), (
            "as it was when it was issued"
        )
        return [
            standings(records)[0].key,
            report.candidates()[0]["key"],
            " ".join(report.form_lines()),
            form_page,
            last,
        ]

    assert all("not yet checked by coaches" in text for text in told()), told()
    for coach in ("K1", "K2"):
        record_review(records, form, key, coach, right_answers(key) | {"first-00": NOTHING})
    assert all("ey reviewed by coaches on 29 of 30 lifts" in text for text in told()), told()
    report = Report(marks, opinions=opinions(records, form.id))
    kept = {row["item"]: row["reviewed"] for row in report.items()}
    assert kept["first-00"] == "no" and kept["first-01"] == "yes"
    texts = words(report_pages(report), tmp_path / "report.pdf")
    (page,) = [text for text in texts if text.startswith("The key")]
    assert MISSED in page and "first-00: key “knees_first”; K1 “nothing”" in page
    candidates = [text for text in texts if text.startswith("Result")]
    assert len(candidates) == 2 and not any("first-00" in text for text in candidates)


# What a coach gets.


def clip(*views: str) -> Pictures:
    """Return a clip in which every picture is one grey: 8 times its number, side lighter by 3."""
    wide = 20 * len(views)
    sheets = []
    for first, many in ((0, 1), (1, 8), (9, 8), (17, 7)):  # the first picture stands alone
        sheet = Image.new("RGB", (many * wide, 20))
        for n in range(many):
            for view in range(len(views)):
                grey = (8 * (first + n) + 3 * (view == 0),) * 3
                sheet.paste(grey, (n * wide + 20 * view, 0, n * wide + 20 * view + 20, 20))
        buffer = io.BytesIO()
        sheet.save(buffer, "webp", lossless=True)
        sheets.append(buffer.getvalue())
    # It stands still for ten frames, moves until the lowest, 13, and on to 23, and stands again.
    frames = (*[0] * 10, *range(1, 24), *[23] * 7)
    panels = tuple(PicturePanel(view, 20 * n, 0, 20, 20) for n, view in enumerate(views))
    boxes = (PictureBox(0, 0, wide, 20),) * 4
    return Pictures(tuple(sheets), boxes, 8, wide, 20, frames, 10.0, panels, 19, "A view.")


def packed(path, key: FormKey) -> Package:
    """Write the candidates' file of a key."""
    packing = Packing(key, 5, 60)
    for question in questions(key).values():
        shows = question.kind in ("first", "spot", "cue", "rank")
        views = ("side",) if question.kind == "spot" else ("side", "front")
        unit = "cm" if question.kind == "number" else ""
        packing.add(replace(question, unit=unit, clip=clip(*views) if shows else None))
    Path(path).write_bytes(packing.closed())
    return Package.read(path)


@pytest.fixture(scope="module")
def package(tmp_path_factory):
    key = FormKey.of("spring", invented_class.entries(5))
    return packed(tmp_path_factory.mktemp("form") / "spring.zip", key)


@pytest.mark.parametrize("size", ["A4", "Letter"])
def test_a_sheet_has_every_item_and_its_options_in_order(package, tmp_path, size):
    pages = blind_sheets(package, size)
    texts = words(pages, tmp_path / "blind.pdf")
    whole = " ".join(texts)
    assert (
        "…" not in whole and "Coach's id (such as K1)" in texts[-1] and "Answer alone" in texts[0]
    )
    for question in package.questions.values():
        told = whole.split(question.text)[1].split("What about")[0]
        options = ["nothing to fix" if one == NOTHING else one for one in question.options]
        assert all(
            f"{letter} {one}" in told for letter, one in zip("abcdefg", options, strict=False)
        )
        assert ("none of these" in told) == (question.kind == "spot")
    with pypdfium2.PdfDocument(tmp_path / "blind.pdf") as document:
        for page in document:
            width, height = page.get_size()
            edge = paper.MARGIN * MILLIMETRE - 2
            for thing in page.get_objects(max_depth=4):
                left, bottom, right, top = thing.get_bounds()
                if (right - left) * (top - bottom) < 0.9 * width * height:  # but for the paper
                    assert left >= edge and right <= width - edge
                    assert bottom >= edge and top <= height - edge


def test_pictures_show_both_views_down_and_up_again(package, tmp_path):
    paper.save(blind_sheets(package), tmp_path / "blind.pdf", "Blind")
    found = []
    with pypdfium2.PdfDocument(tmp_path / "blind.pdf") as document:
        for page in document:
            for thing in page.get_objects(max_depth=4):
                if thing.type == pypdfium2.raw.FPDF_PAGEOBJ_IMAGE:
                    left, bottom, *_ = thing.get_bounds()
                    grey = float(np.mean(thing.get_bitmap().to_numpy()[..., 0]))
                    found.append((len(found), -bottom, left, grey))
    kinds = [one.kind for one in package.questions.values()]
    views = 2 * (kinds.count("first") + kinds.count("cue") + kinds.count("rank"))
    assert len(found) == MOMENTS * (views + kinds.count("spot"))
    greys = [grey for *_, grey in found[: 2 * MOMENTS]]
    # From the last still frame, half way down, the lowest (10), two between, where it stands (23).
    assert greys[::2] == pytest.approx([8 * n + 3 for n in (0, 5, 10, 14, 19, 23)], abs=1.1)
    assert greys[1::2] == pytest.approx([8 * n for n in (0, 5, 10, 14, 19, 23)], abs=1.1)
    lefts = [left for _, _, left, _ in found[: 2 * MOMENTS]]
    assert lefts == sorted(lefts)


def test_the_same_questions_with_another_key_give_the_same_sheet(package, tmp_path):
    entries = invented_class.entries(5)
    other = {
        item: replace(entry, answer=NOTHING if entry.kind == "first" else entry.answer)
        for item, entry in entries.items()
    }
    again = packed(tmp_path / "spring.zip", FormKey.of("spring", other))
    assert again.form.seal != package.form.seal
    sheets = [
        paper.save(blind_sheets(one), tmp_path / f"{n}.pdf", "Blind").read_bytes()
        for n, one in enumerate((package, again))
    ]
    assert sheets[0] == sheets[1]
    # The table names the seal, which says nothing of the key; nothing else differs.
    both = ((one.form.seal[:8], template(one.form, one.questions)) for one in (package, again))
    assert len({table.replace(seal, "") for seal, table in both}) == 1


# On the command line, and in the demo.


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    key = FormKey.of("spring", invented_class.entries(30))
    packing = Packing(key, 20, 60)
    for question in questions(key).values():
        packing.add(question)
    _, key = packing.sealed()
    Path("spring.zip").write_bytes(packing.closed())
    key.write("spring.key.json")
    return key


def run(capsys, *said: str) -> tuple[int, str, str]:
    code = main(list(said))
    told = capsys.readouterr()
    return code, told.out, told.err


REVIEW = ("records", "records.sqlite", "review", "--by", "A", "spring.zip", "spring.key.json")
COACHES = ("records", "records.sqlite", "coach", "K1", "K2", "K3", "--by", "A")


def test_sheets_are_written_and_answers_recorded(folder, capsys, tmp_path):
    code, out, _ = run(capsys, "panel", "spring.zip", "-o", "out", "--by", "A", "--paper", "Letter")
    assert code == 0 and "spring.panel.pdf" in out
    assert (tmp_path / "out" / "spring.panel.pdf").read_bytes().startswith(b"%PDF")
    table = (tmp_path / "out" / "spring.panel.csv").read_text(encoding="utf-8")
    first = next(iter(folder.entries))
    (tmp_path / "k1.csv").write_text(table.replace(f",,{first},,", f",K1,{first},a,"))
    typed = tmp_path / "out" / "spring.panel.csv"
    typed.write_text("what a coach typed")
    code, _, said = run(capsys, "panel", "spring.zip", "-o", "out", "--by", "A")
    assert code == 2 and "spring.panel.pdf; choose another folder with -o" in said
    assert typed.read_text() == "what a coach typed"
    assert run(capsys, "panel", "spring.zip", "-o", "out", "--by", "A", "--replace")[0] == 0
    assert typed.read_text(encoding="utf-8") == table
    code, out, _ = run(capsys, *REVIEW)
    assert (
        code == 0
        and out == "Answer key not yet checked by coaches: no coach has answered this form blind.\n"
    )
    code, _, err = run(capsys, *REVIEW, "k1.csv")
    assert code == 2 and "K1 is no coach on record, so this is no review" in err
    assert run(capsys, *COACHES)[0] == 0
    code, out, _ = run(capsys, *REVIEW, "k1.csv")
    assert code == 0 and out.startswith(
        "k1.csv: 1 answer of K1 recorded.\nAnswer key not yet checked by coaches, 0 of 40"
    )
    seal = Package.read("spring.zip").form.seal
    given = right_answers(folder)
    sheet = Sheet("spring", seal, "K2", given, "2026-05-01T10:00:00Z")
    sheet.write("k2.json")
    code, out, _ = run(capsys, *REVIEW, "k2.json", "k1.csv")
    assert code == 0 and "k2.json: 40 answers of K2 recorded." in out
    assert "k1.csv: 0 answers of K1 recorded." in out
    assert "Key reviewed by coaches on 1 of 30 lifts, 1 of 40 items in all." in out
    replace(sheet, candidate="K3", answers=given | {first: NOTHING}).write("k3.json")
    code, out, _ = run(capsys, *REVIEW, "k3.json")
    assert code == 1 and f"{first}: key “knees_first”; K1 “knees_first”; K2" in out and SPLIT in out
    replace(sheet, form="autumn").write("k4.json")
    code, _, err = run(capsys, *REVIEW, "k4.json")
    assert code == 2 and "k4.json answers another form; give the file of spring" in err
    for missing in ((*REVIEW, "k9.csv"), (*REVIEW[:5], "k9.csv", "spring.key.json")):
        code, _, err = run(capsys, *missing)
        assert (
            code == 2 and err == "squatlab: there is no k9.csv: look at its name and its folder\n"
        )


def test_attempts_and_certificates_say_it_too(folder, capsys, tmp_path):
    form = Package.read("spring.zip").form
    (tmp_path / "hand-ins").mkdir()
    pair = ("spring.zip", "spring.key.json")
    _, out, _ = run(capsys, "records", "records.sqlite", "open", *pair, "C1", "--by", "A")
    now = files.stamp(files.now())
    sheet = Sheet("spring", form.seal, "C1", right_answers(folder), now, now)
    sheet.proven(out.split("code ")[1][:14]).write("hand-ins/C1.json")
    run(capsys, "mark", "spring.zip", "spring.key.json", "hand-ins", "--by", "A. Judge")
    _, out, _ = run(capsys, "records", "records.sqlite", "list")
    assert "answer key not yet checked by coaches" in out
    number = next(line.split()[0] for line in out.splitlines() if "C1" in line)
    sure = ("certify", number, "--by", "B. Judge", "--override", "a trial")
    _, out, _ = run(capsys, "records", "records.sqlite", *sure)
    assert "Answer key not yet checked by coaches.\nThe chain of" in out
    given = out[: out.index(" (C1, form")].split()[-1]
    run(capsys, *COACHES)
    for coach in ("K1", "K2"):
        replace(sheet, candidate=coach).write(f"{coach}.json")
    assert run(capsys, *REVIEW, "K1.json", "K2.json")[0] == 0
    told = "ey reviewed by coaches on 30 of 30 lifts"
    assert told in run(capsys, "records", "records.sqlite", "list")[1]
    frozen = run(capsys, "records", "records.sqlite", "check", given)[1]
    assert "Answer key not yet checked by coaches" in frozen, "as it was when it was issued"
    assert told in run(capsys, "report", "spring.zip", "spring.key.json")[1]


def test_two_invented_coaches_are_able_and_sure_of_one_thing_the_key_is_not():
    cells = [replace(cell(name), count=2) for name in ("first_feet", "first_clean", "rank")]
    drawn = draw(of_demo(1), "spring", cells, certify=False)
    review = said(drawn.form, drawn.key, *demo.blind(drawn, 1).values())
    assert demo.blind(drawn, 1) == demo.blind(drawn, 1) and len(review.opinions) == 12
    margins = {name: drawn.items[name].margin for name in list(drawn.items)[:4]}
    assert review.doubts()[0] == MISSED
    assert review.doubts()[1].startswith(f"{min(margins, key=margins.get)}: key ")
    assert len(review.reviewed) >= 3
