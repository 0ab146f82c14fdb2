"""The printed run sheet of a half-day: one page for the day, its back for the answers.

I0 and `squatlab timetable` print it; `lessons.timetable` has what stands on it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from squatlab.lessons.timetable import Slot, Timetable
from squatlab.show.paper import GREY, LEADING, POINT, SHADE, Page, wrapped
from squatlab.show.sheets import CAUTION

TIME, WHAT = 14.0, 78.0
"""Widths of the columns for the time and for what happens, mm."""

SIZES = (8.0, 7.75, 7.5, 7.25, 7.0, 6.75, 6.5, 6.25, 6.0)
"""Type to try, from the largest on, until everything fits."""

READ = (
    "Project: notebook, heading, what to press, minutes on the screen. Grey: on the floor; nobody "
    "lifts before the check is done. Minutes: teaching values."
)


class SheetLine(NamedTuple):
    """Hold words and whether they are bold."""

    words: str
    bold: bool = False


class SheetRow(NamedTuple):
    """Hold one slot of the day and the lines of its two columns beside the time."""

    slot: Slot
    what: list[SheetLine]
    asked: list[SheetLine]


def run_sheet(day: Timetable, paper: str = "A4") -> tuple[Page, Page]:
    """Return the run sheet, and for its back what to say to wrong answers.

    ``paper`` is "A4" or "Letter". Raises ValueError if a timetable of
    your own holds more than a page can.
    """
    slots = [slot for slot in day.slots if slot.kind != "before"]
    front = [SheetRow(slot, _what(slot), _asked(slot)) for slot in slots]
    back = [SheetRow(slot, _question(slot), _replies(slot)) for slot in slots if slot.ask]
    return _page("The half-day", front, paper), _page("Answers to expect", back, paper)


def _what(slot: Slot) -> list[SheetLine]:
    """Return what happens in a slot, what to project and what to check."""
    lines = [SheetLine(slot.title, bold=True)]
    if slot.show:
        lines.append(SheetLine(f"Project {slot.show}"))
    if slot.safety:
        lines.append(SheetLine(f"Check: {slot.safety}", bold=True))
    return [*lines, SheetLine(slot.do)]


def _question(slot: Slot) -> list[SheetLine]:
    """Return what is asked, and the right answer."""
    return [SheetLine(slot.ask, bold=True), SheetLine(slot.right)]


def _asked(slot: Slot) -> list[SheetLine]:
    """Return what is asked, the right answer, and the wrong ones to expect."""
    lines = _question(slot)
    if slot.wrong:
        answers = " ".join(f"“{answer}”" for answer, _ in slot.wrong)
        lines.append(SheetLine(f"Expect {answers}"))
    return lines


def _replies(slot: Slot) -> list[SheetLine]:
    """Return each wrong answer, and what to say to it."""
    lines = []
    for answer, reply in slot.wrong:
        lines += SheetLine(f"“{answer}”", bold=True), SheetLine(reply)
    return lines


class _LaidRow(NamedTuple):
    """Hold a row of the sheet: its columns broken into lines, and its height, mm."""

    slot: Slot
    what: list[SheetLine]
    asked: list[SheetLine]
    height: float


def _laid(row: SheetRow, size: float, width: float) -> _LaidRow:
    """Return a row as type of a size needs it on a page of a width, mm."""
    what = _broken(row.what, WHAT - 3, size)
    asked = _broken(row.asked, width - TIME - WHAT - 1, size)
    height = max(len(what), len(asked)) * LEADING * size * POINT + 1.8
    return _LaidRow(row.slot, what, asked, height)


def _page(title: str, rows: Sequence[SheetRow], paper: str) -> Page:
    """Return rows as one page, in the largest of `SIZES` in which they fit."""
    slots = "; ".join(f"{row.slot.start} {row.slot.title}" for row in rows)
    page = Page(paper, alt=f"{title}: {slots}.")
    y, end, wide = page.head(title, "Date"), page.framed(CAUTION) - 2, page.right - page.left
    y = page.words(page.left, y - 1, READ, 6.5, colour=GREY) + 1
    for size in SIZES:
        laid = [_laid(row, size, wide) for row in rows]
        if y + sum(row.height for row in laid) <= end:
            break
    else:
        raise ValueError(f"“{title}” does not fit on one page: shorten the timetable's words")
    line_mm = LEADING * size * POINT
    for row in laid:
        slot = row.slot
        page.box(page.left, y, wide, row.height, SHADE if slot.safety else "none", 0)
        page.rule(page.left, y, page.right, 0.4)
        time = [SheetLine(slot.start, bold=True), SheetLine(f"{slot.minutes} min")]
        for x, lines in ((1, time), (TIME, row.what), (TIME + WHAT, row.asked)):
            for number, line in enumerate(lines):
                line_y = y + 1.4 + number * line_mm
                page.words(page.left + x, line_y, line.words, size, line.bold)
        y += row.height
    return page


def _broken(column: list[SheetLine], width: float, size: float) -> list[SheetLine]:
    """Return lines no wider than a column, mm, in type of a size."""
    broken = []
    for line in column:
        # For type of size 1: then every size is measured with the same, remembered widths.
        for words in wrapped(line.words, width / size, 1, line.bold):
            broken.append(SheetLine(words, line.bold))
    return broken
