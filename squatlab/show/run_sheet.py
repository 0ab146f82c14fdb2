"""The printed run sheet of a half-day: one page for the day, its back for the answers."""

from __future__ import annotations

from collections.abc import Sequence

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

SheetLine = tuple[str, bool]
"""Words and whether they are bold."""


def run_sheet(day: Timetable, paper: str = "A4") -> tuple[Page, Page]:
    """Return the run sheet, and for its back what to say to wrong answers.

    ``paper`` is "A4" or "Letter". Raises ValueError if a timetable of
    your own holds more than a page can.
    """
    slots = [slot for slot in day.slots if slot.kind != "before"]
    front = [(slot, _what(slot), _asked(slot)) for slot in slots]
    back = [(slot, _asked(slot)[:2], _replies(slot)) for slot in slots if slot.ask]
    return _page("The half-day", front, paper), _page("Answers to expect", back, paper)


def _what(slot: Slot) -> list[SheetLine]:
    show, check = slot.show and f"Project {slot.show}", slot.safety and f"Check: {slot.safety}"
    return [(slot.title, True), (show, False), (check, True), (slot.do, False)]


def _asked(slot: Slot) -> list[SheetLine]:
    wrong = " ".join(f"“{answer}”" for answer, _ in slot.wrong)
    return [(slot.ask, True), (slot.right, False), (wrong and f"Expect {wrong}", False)]


def _replies(slot: Slot) -> list[SheetLine]:
    return [
        line for answer, reply in slot.wrong for line in ((f"“{answer}”", True), (reply, False))
    ]


def _page(
    title: str, rows: Sequence[tuple[Slot, list[SheetLine], list[SheetLine]]], paper: str
) -> Page:
    page = Page(paper, alt=f"{title}: {'; '.join(f'{s.start} {s.title}' for s, *_ in rows)}.")
    y, end, wide = page.head(title, "Date"), page.framed(CAUTION) - 2, page.right - page.left
    y = page.words(page.left, y - 1, READ, 6.5, colour=GREY) + 1
    for size in SIZES:
        high = LEADING * size * POINT
        laid = [
            (_broken(what, WHAT - 3, size), _broken(asked, wide - TIME - WHAT - 1, size))
            for _, what, asked in rows
        ]
        tall = [max(map(len, columns)) * high + 1.8 for columns in laid]
        if y + sum(tall) <= end:
            break
    else:
        raise ValueError(f"“{title}” does not fit on one page: shorten the timetable's words")
    for (slot, *_), columns, height in zip(rows, laid, tall, strict=True):
        page.box(page.left, y, wide, height, SHADE if slot.safety else "none", 0)
        page.rule(page.left, y, page.right, 0.4)
        time = [(slot.start, True), (f"{slot.minutes} min", False)]
        for x, lines in zip((1, TIME, TIME + WHAT), (time, *columns), strict=True):
            for number, (words, bold) in enumerate(lines):
                page.words(page.left + x, y + 1.4 + number * high, words, size, bold)
        y += height
    return page


def _broken(column: list[SheetLine], width: float, size: float) -> list[SheetLine]:
    # For type of size 1: then every size is measured with the same, remembered widths.
    return [(line, bold) for text, bold in column for line in wrapped(text, width / size, 1, bold)]
