"""The printed report: all on the page, item content only where it may be."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pypdfium2
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg

from squatlab.exam.cut_scores import angoff, ebel
from squatlab.exam.marking import mark
from squatlab.exam.panel import JudgesPanel
from squatlab.exam.records import Certificate
from squatlab.exam.report import Report
from squatlab.exam.screens.report_pages import (
    BAR,
    CAUTION,
    _bar,
    _Column,
    _scale,
    _scores,
    certificate_page,
    panel_lines,
    report_pages,
)
from squatlab.show import paper
from tests.exam import invented_class

PANEL = JudgesPanel(("Ash", "Bay"), (22.0, 24.0), angoff([[0.7, 0.75, 0.8], [0.8, 0.8, 0.9]]))


@pytest.fixture(scope="module")
def report():
    form, key = invented_class.form_and_key()
    return Report(mark(form, key, invented_class.sheets(form, key, 7)))


def read(pages, path) -> list[str]:
    """Return the words of each page of the PDF, checking that none lies outside it."""
    document = pypdfium2.PdfDocument(paper.save(pages, path, "Report"))
    texts = []
    for page in document:
        width, height = page.get_size()
        words = page.get_textpage()
        for n in range(words.count_rects()):
            left, bottom, right, top = words.get_rect(n)
            edge = paper.MARGIN * 72 / 25.4 - 2
            assert left >= edge and right <= width - edge, words.get_text_bounded(
                left, bottom, right, top
            )
            assert bottom >= edge and top <= height - edge
        texts.append(" ".join(words.get_text_bounded().split()))
        words.close()
    document.close()
    return texts


@pytest.mark.parametrize("size", ["A4", "Letter"])
def test_the_report_holds_everything_and_stays_on_its_pages(report, tmp_path, size):
    texts = read(report_pages(report, PANEL, ebel([[0.9]], [[30]]), size), tmp_path / "report.pdf")
    assert len(texts) == 3 + 7
    assert "its cut is sealed. For another: judges rate before the sitting" in texts[0]
    assert "squatlab form spring --secret FILE --cut 3 or 27 -o ANOTHER-FOLDER" in texts[0]
    assert report.items_note in texts[2]
    form, group, items = texts[:3]
    assert all(line in form for line in report.form_lines())
    assert (
        "Modified Angoff, 2 judges: 2.38 of 3, so 3" in form and "Ebel: 27.00 of 30, so 27" in form
    )
    assert all(sentence in group for sentence in report.named_instead())
    assert all(row["item"] in items for row in report.items())
    for one, text in zip(report.outcomes, texts[3:], strict=True):
        assert text.startswith("Result") and one.candidate in text
        assert f"{one.score:g} of 30 lifts" in text and f"{one.band[0]:.1f} to" in text
        assert ("Not passed" in text) == (not one.passed)
        assert ("outside this band" in text) == one.sure
        assert " ".join(CAUTION.split()) in text
        others = {other.candidate for other in report.outcomes} - {one.candidate}
        assert not any(name in text for name in others)
        assert not any(item in text for item in report.marks.form.items), "an item's content"


def test_a_page_says_in_words_what_is_on_it(report):
    pages = report_pages(report)
    one = report.outcomes[0]
    assert f"Candidate {one.candidate}, form spring: {one.score:g} of 30 lifts" in pages[3].alt
    assert all(len(page.alt) > 40 for page in pages)


def test_a_page_after_an_appeal_says_from_when_its_marks_are(report, tmp_path):
    one = report.outcomes[0]
    heard = Report(report.marks, {one.candidate: one.score + 1})
    texts = read(report_pages(heard), tmp_path / "report.pdf")
    words = "The score was changed on appeal; these marks are from before it."
    assert [words in text for text in texts[3:]] == [True] + [False] * 6
    assert f"Scores changed on appeal: {one.candidate}." in texts[0]


def test_a_page_says_that_an_item_is_credited_and_names_none(report, tmp_path):
    marks = report.marks
    sheets = invented_class.sheets(marks.form, marks.key, 7)
    gifts = {"first-03": "B. Board, 2026-05-09: two coaches see it so", "cue-0": "B. Board"}
    texts = read(
        report_pages(Report(mark(marks.form, marks.key, sheets, gifts))), tmp_path / "a.pdf"
    )
    words = "right for everyone and left out here: 1 of 30 lifts, other items: 1."
    assert [words in text for text in texts[3:]] == [True] * 7
    assert not any(item in text for text in texts[3:] for item in marks.form.items)
    assert "first-03 (B. Board, 2026-05-09: two coaches see it so); cue-0 (B. Board)" in texts[0]


def test_a_panel_that_agrees_with_the_form_asks_for_nothing(report):
    form = report.marks.form
    agreed = ebel([[0.75]], [[30]])
    assert len(panel_lines(None, agreed, replace(form, cut=23))) == 1
    assert "--cut 23 " in panel_lines(None, agreed, replace(form, cut=24))[-1]


def test_no_panel_says_so():
    assert panel_lines(None, None) == ["No panel of judges has rated the items yet."]


def test_many_items_take_several_pages(tmp_path):
    form, key = invented_class.form_and_key(lifts=90)
    report = Report(mark(form, key, invented_class.sheets(form, key, 3)))
    texts = read(report_pages(report), tmp_path / "report.pdf")
    listed = " ".join(text for text in texts if text.startswith("The items"))
    assert all(item in listed for item in form.items) and len(texts) == 2 + 2 + 3


def test_a_certificate_carries_its_code(tmp_path):
    made = Certificate(
        "DWQ7-JQEJ-43E4", "valid", "", "C07", "spring", "2026-05-01T10", "2028-04-30T1"
    )
    (text,) = read([certificate_page(made, "this squat course")], tmp_path / "certificate.pdf")
    assert "C07 has passed the exam of this squat course, form spring" in text
    assert "Issued 2026-05-01, good to 2028-04-30. Code DWQ7-JQEJ-43E4" in text
    assert "Whoever issued it can say" in text
    named = made._replace(issuer="The Invented Rowing Club", course="the spring course")
    (text,) = read([certificate_page(named, "this squat course")], tmp_path / "certificate.pdf")
    assert "C07 has passed the exam of the spring course, form spring" in text
    assert text.startswith("The Invented Rowing Club Certificate C07")
    assert "The Invented Rowing Club can say whether this code still holds." in text


# What is drawn, read from the page as from a chart: by its own axis.


class Drawn:
    """Hold the boxes on a page, and where each word stands, mm."""

    def __init__(self, draw, *what) -> None:
        page = paper.Page()
        self.left, self.right = page.left, page.right
        column = _Column(page, 50.0)
        draw(column, *what)
        self.end = column.y
        (axes,) = page.figure.axes
        self.boxes = [box.get_bbox() for box in axes.patches]
        places = [(text.get_text(), *text.get_position()) for text in axes.texts]
        # Of a word that stands there twice the lower: axes are below what they are of.
        self.words = {word: x for word, x, y in sorted(places, key=lambda place: place[2])}
        for _, x, y in places:
            assert page.left <= x <= page.right and 50 <= y <= self.end


def test_the_chart_of_scores_has_a_bar_at_each_score_as_high_as_many_have_it(report):
    drawn = Drawn(_scores, report)
    scores = [round(one.score) for one in report.outcomes]
    axis = [drawn.words[str(score)] for score in range(31)]
    assert np.diff(axis) == pytest.approx(axis[1] - axis[0])
    heights = {}
    for box in drawn.boxes:
        (score,) = np.flatnonzero(np.abs(np.array(axis) - (box.x0 + box.x1) / 2) < 0.1)
        heights[int(score)] = box.height
        assert 0.5 < box.width / (axis[1] - axis[0]) < 1, "bars stand apart"
    assert set(heights) == set(scores)
    tallest = max(heights.values())
    most = max(map(scores.count, scores))
    for score, height in heights.items():
        assert height / tallest == pytest.approx(scores.count(score) / most)
    assert len({round(box.y1, 6) for box in drawn.boxes}) == 1, "all stand on one line"


def test_score_band_and_cut_lie_on_the_line_of_lifts(report):
    for outcome in report.outcomes:
        drawn = Drawn(_scale, report, outcome)
        line, band, score, cut = drawn.boxes
        assert drawn.words["0"] == pytest.approx(line.x0) and line.width > 100

        def lifts(x, line=line):
            return report.lifts * (x - line.x0) / line.width

        low, high = outcome.band
        assert (lifts(band.x0), lifts(band.x1)) == pytest.approx((low, high))
        assert lifts((score.x0 + score.x1) / 2) == pytest.approx(outcome.score)
        assert lifts((cut.x0 + cut.x1) / 2) == pytest.approx(report.marks.form.cut, abs=0.05)
        for tick in (score, cut):
            assert tick.width < 2 and tick.y0 < line.y0 and tick.y1 > line.y1
    assert "30" in drawn.words and drawn.words["cut 22.5"] == pytest.approx(
        line.x0 + 0.75 * line.width
    )


def test_a_bar_is_as_long_as_its_share_and_marks_the_mean(report):
    frame, bar, mean = Drawn(_bar, "Cues", 0.25, 0.5).boxes
    assert frame.width == pytest.approx(BAR) and bar.width / frame.width == pytest.approx(0.25)
    assert (mean.x0 + mean.x1) / 2 == pytest.approx((frame.x0 + frame.x1) / 2)
    none = float("nan")
    assert len(Drawn(_bar, "Cues", none, none).boxes) == 1
    assert len(Drawn(_bar, "Cues", 0.25).boxes) == 2


def inked(page):
    """Return the words of a page with the boxes of their letters, mm from the top left."""
    figure = page.figure
    renderer = FigureCanvasAgg(figure).get_renderer()
    (axes,) = figure.axes
    to_mm = axes.transData.inverted()
    found = []
    for text in axes.texts:
        if text.get_text().strip():
            (x0, y0), (x1, y1) = to_mm.transform(text.get_window_extent(renderer))
            found.append((text.get_text(), min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)))
    return found


def test_no_words_of_a_report_lie_on_others(report):
    pages = report_pages(report, PANEL, ebel([[0.9]], [[30]]))
    for number in (0, 3):
        words = inked(pages[number])
        assert len(words) > 10
        for n, (one, left, top, right, bottom) in enumerate(words):
            for other, x0, y0, x1, y1 in words[n + 1 :]:
                wide = min(right, x1) - max(left, x0)
                tall = min(bottom, y1) - max(top, y0)
                # Boxes hold room for capitals and tails: those of two lines touch.
                assert wide < 0.2 or tall < 0.45 * min(bottom - top, y1 - y0), (number, one, other)
