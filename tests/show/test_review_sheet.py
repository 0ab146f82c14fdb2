"""The sheet of a review: every mark has its words, and no words lie on others."""

from __future__ import annotations

import re
from dataclasses import replace
from html import escape, unescape

import numpy as np
import pypdfium2 as pdfium
import pytest

from squatlab import faults
from squatlab.norms import norm_in_words, norms_of
from squatlab.review import Finding, Findings, prioritise
from squatlab.review.findings import Seen
from squatlab.show.review_sheet import MARKS, SIZE_PX, FindingsTable, ReviewSheet
from tests.stick_figure import picture, space


def finding(name, severity=None):
    if severity is None:
        return Finding(name)
    fault = faults.fault(name)
    value = float(fault.value_at(severity))
    size = str(fault.size(value))
    return Finding(
        name, value, "yes" if size else "no", size, severity, "side", 1, 90, 120, 130, 0.5
    )


def findings(view="side", **severities):
    found = (finding(name, severities.get(name)) for name in faults.catalogue())
    return Findings(tuple(replace(one, view=view) for one in found), ())


ALL = dict(zip(faults.catalogue(), np.linspace(3.9, 0.2, 14).tolist(), strict=True))
CASES = {
    "everything": (findings(**ALL), (picture("side"), picture("front"))),
    "widest name first": (findings("front", turnout_out_of_range=2.5), (picture("front"),)),
    "most words": (findings(uneven_bar=2.5), (picture("side"), picture("front"))),
    "nothing there": (findings(heel_lift=0.2), (space(),)),
    "nothing told": (findings(), (picture("oblique"),)),
}


@pytest.fixture(params=CASES, scope="module")
def sheet(request):
    found, tracks = CASES[request.param]
    return ReviewSheet(tracks, found, prioritise(found, "largest-first"))


def texts(figure):
    """Return every text that is drawn with the box it fills, px."""
    figure.canvas.draw()
    words = list(figure.texts)
    for axes in figure.axes:
        words += axes.texts
        if axes.axison:
            words += [*axes.get_yticklabels(), *axes.get_xticklabels()]
    return [(one.get_text(), one.get_window_extent()) for one in words if one.get_text()]


def test_no_words_lie_on_others_or_outside(sheet):
    found = texts(sheet.figure)
    assert len(found) > 20
    for index, (words, box) in enumerate(found):
        assert 0 <= box.x0 and box.x1 <= SIZE_PX[0] and 0 <= box.y0 and box.y1 <= SIZE_PX[1], words
        for others, other in found[index + 1 :]:
            assert not box.overlaps(other), (words, others)


def test_no_words_lie_on_a_picture(sheet):
    *pictures, _ = sheet.figure.axes
    own = {text.get_text() for axes in pictures for text in axes.texts}
    for words, box in texts(sheet.figure):
        assert words in own or not any(box.overlaps(axes.bbox) for axes in pictures), words


def test_size_is_told_by_shape_and_word_not_by_colour_alone():
    found = findings(**ALL)
    sheet = ReviewSheet((picture("side"),), found, prioritise(found))
    chart = sheet.figure.axes[-1]
    marks = [line.get_marker() for line in chart.lines if len(line.get_xdata()) == 1]
    assert marks == [MARKS[one.size] for one in found]
    assert len(set(MARKS.values())) == 4
    said = [text.get_text() for text in chart.texts]
    assert said == [f"{one.answer}, {one.amount}" for one in found]


def test_how_real_lifters_read_stands_behind_every_mark_that_has_a_norm():
    found = findings(short_depth=2.5)
    sheet = ReviewSheet([picture("side")], found, prioritise(found))
    said = " ".join(words.replace("\n", " ") for words, _ in texts(sheet.figure))
    assert norm_in_words("short_depth") in said
    scale = sheet.figure.axes[-1]
    rows = {
        line.get_ydata()[0]: line.get_xdata() for line in scale.lines if len(line.get_xdata()) == 2
    }
    known = [any(norm.has_spread for norm in norms_of(one.fault)) for one in found]
    assert sorted(rows) == list(np.flatnonzero(known))
    ends = rows[[one.fault for one in found].index("short_depth")]
    # A quarter of filmed lifters is more than 2.3° above level, of 5° for slight: (2.3 + 2) / 7.
    assert ends == pytest.approx([0.0, (2.3 + 2) / 7], abs=0.01)


def test_a_place_in_the_order_stands_before_the_name():
    found = findings(knee_valgus=2.5, heel_lift=1.5)
    sheet = ReviewSheet((picture("side"),), found, prioritise(found))
    labels = [label.get_text() for label in sheet.figure.axes[-1].get_yticklabels()]
    assert "1  knees fall in" in labels and "2  heels lift" in labels and "bar tilts" in labels


def test_sheet_and_table_tell_the_time_by_the_film_of_the_view():
    """A film that begins at 10 s; frame 120 at 60 Hz is 2 s later, the start half a second."""
    late = [replace(one, times=one.times + 10) for one in (picture("side"), picture("front"))]
    for view in ("side", "front"):
        found = findings(view, knee_valgus=2.5)
        sheet = ReviewSheet(late, found, prioritise(found))
        said = f"12.00 s of the {view} film, where it shows most: knees fall in"
        assert said in " ".join(words for words, _ in texts(sheet.figure))
        again = replace(found, repetitions=(Seen(view, 30, 90, 150, 10.5, 11.5, 12.5),))
        row = next(line for line in repr(again).splitlines() if line.startswith("knees fall in"))
        assert row.split("°")[1].split()[:2] == ["11.00", "s"], (
            "it shows half a second after the repetition's start"
        )
    lowest = ReviewSheet(late, findings(), prioritise(findings()))
    said = " ".join(words for words, _ in texts(lowest.figure))
    assert re.search(r"1[12]\.\d\d s of the side film, at the lowest point", said)


def test_it_shows_the_worst_frame_and_says_what_to_do():
    found = findings(lumbar_rounding=3.5)
    sheet = ReviewSheet((picture("side"),), found, prioritise(found))
    said = " ".join(words for words, _ in texts(sheet.figure))
    advice = faults.advice("lumbar_rounding")
    assert "Stop the set and unload: low back rounds (gross, 60.0°)" in said
    assert "2.00 s of the film, where it shows most: low back rounds" in said  # frame 120 at 60 Hz
    assert advice.cue in " ".join(said.split()) and advice.check in " ".join(said.split())
    assert "Stop on pain" in said and "Side view" in said


def test_a_notebook_gets_the_picture_and_its_words():
    found = findings(heel_lift=2.2)
    data = ReviewSheet((picture("side"),), found, prioritise(found))._repr_mimebundle_()
    assert data["text/html"].startswith('<img src="data:image/png;base64,iVBORw0KGgo')
    assert "FIX FIRST  heels lift" in data["text/plain"]
    assert f'alt="{escape(data["text/plain"])}"' in data["text/html"]


def test_it_is_printed_as_one_page_whose_words_can_be_searched(sheet, tmp_path):
    for name in ("one.pdf", "two.pdf"):
        sheet.save(tmp_path / name)
    assert (tmp_path / "one.pdf").read_bytes() == (tmp_path / "two.pdf").read_bytes()
    with pdfium.PdfDocument(tmp_path / "one.pdf") as file:
        assert len(file) == 1
        size_mm = [length / 72 * 25.4 for length in file[0].get_size()]
        assert size_mm == pytest.approx([297, 210], abs=0.5)  # A4 across, ISO 216
        said = " ".join(file[0].get_textpage().get_text_range().split())
    for words, _ in texts(sheet.figure):
        assert " ".join(words.split()) in said


def test_without_feet_or_a_bar_neither_is_spoken_of():
    whole = picture("side")
    joints = [name for name in whole.names if name.split("_")[0] not in ("heel", "toe")]
    columns = [whole.names.index(name) for name in joints]
    bare = replace(whole, positions=whole.positions[:, columns], names=tuple(joints))
    for tracks, told in ((whole, True), (bare, False)):
        sheet = ReviewSheet((tracks,), CASES["nothing there"][0], prioritise(findings()))
        said = " ".join(words for words, _ in texts(sheet.figure))
        assert ("mid-foot" in said) == told and "Curve: bar" not in said


def test_findings_are_a_table_with_a_row_for_every_fault():
    found, _ = CASES["most words"]
    table = FindingsTable(found)
    html = unescape(table._repr_html_())
    head, *rows = found.rows()
    assert html.count("<tr>") == 1 + len(rows) == 1 + len(found)
    assert all(f"<td>{cell}</td>" in html for row in rows for cell in row)
    assert all(f">{name}</th>" in html for name in head) and repr(table) == repr(found)
