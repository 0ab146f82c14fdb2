"""Slips and blind sheets on paper: where things stand on a page, and what slips say."""

from __future__ import annotations

import numpy as np
import pytest

from squatlab.exam.records import Slip
from squatlab.exam.screens.blind_sheets import LINE, _height, _item
from squatlab.exam.screens.slip_pages import slip_pages
from squatlab.questions.question import Question
from squatlab.show import paper


def written(page):
    """Return the texts of a page with their places, and its boxes."""
    (axes,) = page.figure.axes
    texts = [(text.get_text(), *text.get_position()) for text in axes.texts]
    return texts, [box.get_bbox() for box in axes.patches]


@pytest.mark.parametrize(("length", "columns"), [(8, 3), (31, 3), (40, 2), (49, 2), (60, 1)])
def test_options_stand_in_rows_beside_their_boxes_and_read_from_the_left(length, columns):
    options = tuple(f"{n} ".ljust(length, "x") for n in range(7))
    page = paper.Page()
    question = Question("q01", "choice", "Which?", options)
    end = _item(page, 60.0, question, None)
    texts, boxes = written(page)
    tops = sorted({round(box.y0, 6) for box in boxes})
    lefts = sorted({round(box.x0, 6) for box in boxes})
    assert len(boxes) == 7 and (len(tops), len(lefts)) == (-(-7 // columns), columns)
    assert np.diff(tops) == pytest.approx(LINE)
    assert all(page.left <= box.x0 and box.x1 <= page.right for box in boxes)
    # In the order of reading the boxes have the options' letters right of them.
    for letter, option, box in zip(
        "abcdefg", options, sorted(boxes, key=lambda box: (box.y0, box.x0)), strict=True
    ):
        ((x, y),) = [(x, y) for text, x, y in texts if text.startswith(f"{letter}  {option[:2]}")]
        assert box.x1 < x < box.x1 + 5 and box.y0 < y < box.y1 + 1.5
    assert max(tops) + LINE < end == pytest.approx(60.0 + _height(page, question, None))


def test_a_number_is_written_on_a_line_with_its_unit(tmp_path):
    page = paper.Page()
    _item(page, 60.0, Question("q01", "number", "How far?", (), "cm"), None)
    texts, boxes = written(page)
    assert boxes == [] and "cm" in [text for text, *_ in texts]


def slip(name, minutes=60.0, factor=1.0):
    return Slip(1, name, "spring", "7XKQ-M2PD-9RTA", factor, minutes, ())


def test_a_slip_says_whose_it_is_and_how_long_they_have():
    slips = [slip("C1"), slip("C2", 90.0, 1.5), slip("C3", None)]
    (page,) = slip_pages(slips, {"C2": "A. Rower"})
    texts, boxes = written(page)
    words = [text for text, *_ in texts]
    assert [word for word in words if word.startswith("Time from Begin: ")] == [
        "Time from Begin: 60 minutes",
        "Time from Begin: 90 minutes (1.5 times the usual, as agreed)",
        "Time from Begin: without a limit",
    ]
    assert words.count("7XKQ-M2PD-9RTA") == 3 and words.count("A. Rower") == 1
    # Each slip is a box; what is of it stands in it, and no two overlap.
    assert len(boxes) == 3
    for one, box in zip(slips, boxes, strict=True):
        inside = [text for text, _, y in texts if box.y0 < y < box.y1]
        assert f"Form spring, candidate {one.candidate}" in inside and len(inside) < len(words) / 2
    for above, below in zip(boxes[:-1], boxes[1:], strict=True):
        assert above.y1 < below.y0
    assert boxes[-1].y1 <= page.bottom
