"""What a coach gets to judge a form's key blind: each item on paper, and no key."""

from __future__ import annotations

from collections.abc import Iterator
from math import inf
from string import ascii_lowercase as LETTERS

import numpy as np

from squatlab.exam.package import Package, shown
from squatlab.exam.report import Report
from squatlab.exam.reviews import COACH, MISSED, SPLIT
from squatlab.exam.screens.stills import picture
from squatlab.questions.question import Pictures, Question
from squatlab.show.paper import GREY, Page, wrapped

HOW = (
    "Answer alone, and before you hear what others say. Tick, then type the letters into the table "
    "that comes with this sheet: in an order, the one to fix first comes first. Pictures show "
    "moments and no tempo: better watch the clips of the same form in notebook 11, if you can, and "
    "hand that in instead. This is about pictures; it diagnoses nobody."
)

MOMENTS = 6
"""Pictures of each view: from the start to the lowest, and after it to the end."""

TALL, PIXELS = 32.0, 220
"""Height of a picture, mm, and in pixels: fine on paper, and a small file."""

LINE, GAP = 4.8, 4.0
"""Height of a row of options and room between items, mm."""


def blind_sheets(package: Package, paper: str = "A4") -> tuple[Page, ...]:
    """Return the pages on which one coach answers every item of a form.

    They are made from the candidates' file alone, so nothing of the key
    can be on them. ``paper`` is "A4" or "Letter".
    """
    pages: list[Page] = []
    page, y = Page(paper), inf
    for question in package.questions.values():
        clip = package.clip(question.id)
        if y + _height(page, question, clip) > page.bottom - LINE:
            foot = f"Form {package.form.id}, page {len(pages) + 1}"
            page = Page(paper, alt=f"Blind sheet. {foot}:")
            y = page.head("What do you see?", COACH, "Date")
            page.words(page.right, page.bottom - 3, foot, 8, anchor="right", colour=GREY)
            if not pages:
                y = page.paragraph(page.left, y, page.right - page.left, HOW, 8.5) + GAP
            pages.append(page)
        page.alt += f" {question.id} ({question.kind})"
        y = _item(page, y, question, clip)
    return tuple(pages)


def _choices(question: Question) -> list[str]:
    """Return the options as they stand on the sheet, each with its letter."""
    choices = question.how.choices(question)
    letters = [*LETTERS[: len(question.options)], *[""] * len(choices)]
    return [
        f"{letter or 'none'}  {shown(option).removeprefix('none ')}"
        for letter, option in zip(letters, choices, strict=False)
    ]


def _columns(choices: list[str]) -> int:
    """Return how many options fit beside each other."""
    longest = max(map(len, choices), default=0)
    return 3 if longest <= 35 else 2 if longest <= 53 else 1


def _lines(page: Page, question: Question) -> list[str]:
    """Return the question in lines as wide as the page."""
    asked = f"{question.id}  {question.text} ({question.how.paper})"
    return wrapped(asked, page.right - page.left, 9.5, bold=True)


def _height(page: Page, question: Question, clip: Pictures | None) -> float:
    """Return how much of a page an item takes, mm."""
    choices = _choices(question)
    rows = len(_lines(page, question)) + (-(-len(choices) // _columns(choices)) or 1)
    return LINE * rows + ((TALL + 1) * len(clip.views) + LINE if clip else 0.0) + GAP


def _item(page: Page, y: float, question: Question, clip: Pictures | None) -> float:
    """Write one item; return where the next goes."""
    end = y + _height(page, question, clip)
    for line in _lines(page, question):
        page.words(page.left, y, line, 9.5, bold=True)
        y += LINE
    if clip:
        y = _moments(page, y, clip)
    choices = _choices(question)
    columns = _columns(choices)
    wide = (page.right - page.left) / columns
    for n, choice in enumerate(choices):
        x, top = page.left + n % columns * wide, y + n // columns * LINE
        page.box(x, top, 3.2, 3.2)
        page.cell(x + 5, top, wide - 7, 3.2, choice, 8.5)
    if not choices:
        page.rule(page.left, y + 3.2, page.left + 40)
        page.words(page.left + 42, y, question.unit, 9)
    page.rule(page.left, end - GAP, page.right, 0.3)
    return end


def _moments(page: Page, y: float, clip: Pictures) -> float:
    """Print a row of each view, from where something begins to move to where all is still."""
    moves = np.flatnonzero(np.diff(clip.frames))
    begin, end = (int(moves[0]), int(moves[-1]) + 1) if moves.size else (0, 0)
    down = np.linspace(begin, clip.lowest, MOMENTS // 2)
    up = np.linspace(clip.lowest, end, MOMENTS // 2 + 1)[1:]
    step = (page.right - page.left) / MOMENTS
    for n, frame in enumerate(np.append(down, up).round().astype(int).tolist()):
        whole = picture(clip, frame)
        for row, panel in enumerate(clip.views):
            bounds = panel.left, panel.top, panel.left + panel.width, panel.top + panel.height
            ratio = panel.width / panel.height
            small = whole.crop(bounds).convert("L").resize((round(PIXELS * ratio), PIXELS))
            wide = min(step, TALL * ratio)
            x = page.left + n * step + (step - wide) / 2
            page.picture(x, y + row * (TALL + 1), wide, wide / ratio, small)
        below = y + (TALL + 1) * len(clip.views)
        page.words(
            page.left + (n + 0.5) * step,
            below,
            f"{(frame - begin) / clip.rate:.2f} s",
            7,
            anchor="center",
            colour=GREY,
        )
    return below + LINE


def review_pages(report: Report, paper: str = "A4") -> Iterator[Page]:
    """Yield what coaches said of the key and what to look at; none before any has."""
    lines = report.review.lines() if report.opinions else []
    while lines:
        page = Page(paper, alt=f"The key of form {report.marks.form.id}: {lines[0]}")
        y = page.head("The key", "Form", "Date")
        page.words(page.right - 97, page.top, report.marks.form.id, 11, bold=True)
        while lines and y < page.bottom - 14:
            line = lines.pop(0)
            look = {"bold": line in (MISSED, SPLIT)}
            y = page.paragraph(page.left, y, page.right - page.left, line, 9.5, **look) + 1
        yield page
