"""What a coach judges a recording by on paper: moments of it, faults to tick, no number."""

from __future__ import annotations

from squatlab import faults
from squatlab.lifter import Lifter
from squatlab.questions.items import worded
from squatlab.questions.kinds import NOTHING
from squatlab.review.perspective import Standpoint
from squatlab.show.film import film
from squatlab.show.footage import footage
from squatlab.show.frame_row import FrameRow
from squatlab.show.paper import GREY, SHADE, Page
from squatlab.show.raster import image
from squatlab.tracks import Tracks

HOW = (
    "Answer alone, before you hear what others say. Tick every fault that you see, and the one to "
    "fix first. These are five moments, without tempo: watch the blind clip as well if you can "
    "(notebook I4). This is about pictures; it diagnoses nobody."
)

THEN = (
    "Type this as a row of the coaches' file: coach_id (your id, no name), there (the faults you "
    f"ticked, with + between them, or {NOTHING}), first."
)

PIXELS = 1500
"""Width of the moments: 200 a printed inch."""

ROW_MM, BOX_MM = 6.6, 3.4
"""Height of a fault's row, and of a box to tick, mm."""

COLUMNS_MM = (14.0, 14.0, 48.0, 0.0)
"""Widths of the columns there, first, fault, and what to look for (the rest), mm."""


def case_sheet(
    *tracks: Tracks,
    name: str = "",
    paper: str = "A4",
    lifter: Lifter | None = None,
    bar_kg: float | None = None,
    camera: Standpoint | None = None,
) -> Page:
    """Return the page on which one coach says what a recording shows.

    ``name`` is the case's id; ``paper`` is "A4" or "Letter". What is
    declared goes in as to `squatlab.review.measure`. Nothing that the
    review finds is on the page.
    """
    shown = footage(*tracks, lifter=lifter, bar_kg=bar_kg, camera=camera)
    moments = image(FrameRow(film(shown, blind=True)).scene, PIXELS)
    page = Page(paper, alt=f"Blind sheet of a real lifter {name}: moments, faults to tick.")
    width = page.right - page.left
    y = page.head(name or "What do you see?", "Coach (id)", "Date")
    y = page.paragraph(page.left, y, width, HOW, 8.5) + 2
    height = width * moments.height / moments.width
    page.picture(page.left, y, width, height, moments)
    y += height + 3
    heading = ("there", "first", "fault", "what to look for")
    y = page.row(y, ROW_MM, COLUMNS_MM, heading, 8, colour=GREY)
    for number, fault in enumerate([*faults.catalogue(), NOTHING]):
        look_for = "" if fault == NOTHING else faults.fault(fault).look_for
        cells = ("", "", worded(fault), look_for)
        page.row(y, ROW_MM, COLUMNS_MM, cells, 8.5, (2,), "none" if number % 2 else SHADE)
        for column in (0, 1):
            x = page.left + 1 + column * COLUMNS_MM[0]
            page.box(x, y + (ROW_MM - BOX_MM) / 2, BOX_MM, BOX_MM, "white")
        y += ROW_MM
    page.paragraph(page.left, y + 3, width, THEN, 8.5)
    return page
