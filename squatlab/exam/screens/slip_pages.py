"""Slips with candidates' codes, to print, cut apart and hand out one by one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from squatlab.exam.records import Slip
from squatlab.show.paper import GREY, Page, wrapped

HEIGHT = 44.0
"""Of a slip, mm."""

SECRET = (
    "This code is yours alone: it says that what is handed in is yours. Show it to nobody. Type it "
    "where the exam asks for it; capitals and hyphens do not matter."
)


def slip_pages(
    slips: Sequence[Slip], names: Mapping[str, str] | None = None, paper: str = "A4"
) -> tuple[Page, ...]:
    """Return pages of slips, one below the other.

    ``names``, by candidate, are printed so that the right person gets each
    slip; they are written nowhere else.
    """
    whole = Page(paper)
    a_page = int((whole.bottom - whole.top) // HEIGHT)
    pages = []
    for start in range(0, len(slips), a_page):
        some = slips[start : start + a_page]
        page = Page(paper, alt=f"Codes of {', '.join(slip.candidate for slip in some)}")
        for place, slip in enumerate(some):
            _slip(page, page.top + place * HEIGHT, slip, (names or {}).get(slip.candidate, ""))
        pages.append(page)
    return tuple(pages)


def _slip(page: Page, y: float, slip: Slip, name: str) -> None:
    """Draw one slip: whose it is, the code, the time agreed."""
    left, middle = page.left + 4, page.left + 92
    page.box(page.left, y, page.right - page.left, HEIGHT - 3)
    page.words(left, y + 5, f"Form {slip.form}, candidate {slip.candidate}", 11, bold=True)
    if name:
        page.words(left, y + 11, name, 11)
    page.words(left, y + 18, slip.code, 20, bold=True)
    time = "without a limit" if slip.minutes is None else f"{slip.minutes:g} minutes"
    if slip.time_factor != 1:
        time += f" ({slip.time_factor:g} times the usual, as agreed)"
    page.words(left, y + 30, f"Time from Begin: {time}", 10)
    for n, line in enumerate(wrapped(SECRET, page.right - middle - 4, 8)):
        page.words(middle, y + 5 + 4 * n, line, 8, colour=GREY)
