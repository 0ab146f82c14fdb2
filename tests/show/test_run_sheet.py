"""The run sheet: one page and its back, everything on it, nothing over an edge."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pypdfium2
import pytest

from squatlab.lessons.timetable import Timetable, timetable
from squatlab.show import paper
from squatlab.show.run_sheet import run_sheet
from squatlab.show.sheets import CAUTION

MILLIMETRE = 72 / 25.4
"""In points."""


@pytest.fixture(scope="module", params=["A4", "Letter"])
def printed(request, tmp_path_factory):
    """Day and PDF on one paper; the longest day there is."""
    day = timetable("13:30", 300)
    path = tmp_path_factory.mktemp("sheet") / "run_sheet.pdf"
    return day, pypdfium2.PdfDocument(paper.save(run_sheet(day, request.param), path, "Run sheet"))


def words(page) -> str:
    """Return a page's words, in the order in which they were written, as one line."""
    return " ".join(page.get_textpage().get_text_range().replace("￾", "-").split())


def test_front_and_back_are_one_sheet(printed):
    assert len(printed[1]) == 2


def test_the_front_says_all_that_happens(printed):
    day, document = printed
    front = words(document[0])
    for slot in (slot for slot in day.slots if slot.kind != "before"):
        for text in (
            slot.start,
            f"{slot.minutes} min",
            slot.title,
            slot.show,
            slot.do,
            slot.ask,
            slot.right,
            slot.safety,
        ):
            assert text in front, text
        for wrong, _ in slot.wrong:
            assert f"“{wrong}”" in front
        if slot.safety:
            assert front.index(f"Check: {slot.safety}") < front.index(slot.do)
    assert CAUTION in front and "Minutes: teaching values" in front


def test_the_back_has_a_reply_to_every_wrong_answer(printed):
    day, document = printed
    back = words(document[1])
    for slot in day.slots:
        for wrong, reply in slot.wrong:
            assert f"“{wrong}” {reply}" in back
    assert CAUTION in back


def test_nothing_stands_outside_the_margins_and_nothing_on_anything_else(printed):
    for page in printed[1]:
        text = page.get_textpage()
        boxes = [text.get_rect(index) for index in range(text.count_rects())]
        assert len(boxes) > 60
        left, low, right, high = np.transpose(boxes)
        width, height = page.get_size()
        edge = (paper.MARGIN - 1) * MILLIMETRE
        assert left.min() > edge and right.max() < width - edge
        assert low.min() > edge and high.max() < height - edge
        # A quotation mark is kerned over an A by 1 pt.
        across = (left[:, None] < right - 1.2) & (left < right[:, None] - 1.2)
        along = (low[:, None] < high - 0.3) & (low < high[:, None] - 0.3)
        assert not np.triu(across & along, 1).any()


def test_letters_can_be_read_at_arms_length(printed):
    """6 pt is what newspapers set small print in; capitals are 0.73 of the size."""
    for page in printed[1]:
        text = page.get_textpage()
        letters = text.get_text_range()
        boxes = [text.get_charbox(place) for place, one in enumerate(letters) if one in "EFH"]
        assert min(high - low for _, low, _, high in boxes) >= 0.7 * 6


def test_the_check_is_shaded(printed):
    """Rendered: behind the words of a block on the floor the paper is grey."""
    day, document = printed
    page = document[0]
    picture = np.asarray(page.render(scale=2).to_pil().convert("L"))
    text = page.get_textpage()
    whole = text.get_text_range()
    for title, grey in (("Floor: high bar", True), ("Two builds", False)):
        box = text.get_charbox(whole.index(title))
        right = picture.shape[1] - int(2 * (paper.MARGIN + 2) * MILLIMETRE)
        row = int(2 * (page.get_height() - box[1]))
        assert (picture[row, right] < 250) == grey


def test_what_does_not_fit_is_refused_and_other_paper_too():
    day = timetable()
    much = replace(day["levers"], do="More. " * 3000)
    with pytest.raises(ValueError, match="“The half-day” does not fit on one page: shorten"):
        run_sheet(Timetable((*day.slots, much)))
    with pytest.raises(ValueError, match='the paper is "A5"'):
        run_sheet(day, "A5")
