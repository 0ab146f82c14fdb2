"""Projector pages of the half-day: a question, hands, one thing to look at.

`squatlab book --present` writes them; `present.js` moves them and keeps the hands.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from html import escape
from typing import NamedTuple

from squatlab.lessons.timetable import Slot, timetable


class ProjectorPage(NamedTuple):
    """Hold a page for the projector; ``kept`` names what moves on it."""

    path: str
    slot: Slot
    body: str
    kept: str = ""


SHELL = """<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>{title}</title>
<meta name="viewport" content="width=device-width, initial-scale=1"><link rel="icon" href="data:,">
<link rel="stylesheet" href="../book.css"><script defer src="../book.js"></script>
<script defer src="present.js"></script>{script}</head>
<body class="projected" data-slot="{slot}" data-back="{back}" data-next="{next}">
<header><span class="clock" data-from="{start}" data-to="{end}"></span><strong>{title}</strong>
<nav aria-label="Pages">{links}</nav></header>
<main>{body}</main></body></html>
"""

HANDS = 4
"""How many answers of a show of hands there is room for [teaching-value]."""


def projector_pages(start: str, kept: dict[str, str]) -> Iterator[tuple[str, str]]:
    """Yield path and text of every projector page, and of the instructor's own.

    ``kept`` maps a slot of the timetable to the name of what moves then.
    Raises ValueError for a start that is no time.
    """
    slots = [slot for slot in timetable(start).slots if slot.start]
    pages: list[ProjectorPage] = []
    for number, slot in enumerate(slots, 1):
        name = f"{number:02}_{slot.name}"
        pages.append(ProjectorPage(f"{name}.html", slot, _question(slot)))
        if slot.name in kept:
            body = (
                f'{_hands_beside(slot)}<div data-kept="{kept[slot.name]}" data-later="yes"></div>'
            )
            pages.append(ProjectorPage(f"{name}_see.html", slot, body, kept[slot.name]))
    paths = ["", *(page.path for page in pages), ""]
    for place, page in enumerate(pages, 1):
        back, after = paths[place - 1], paths[place + 1]
        links = _link("Back", back) + _link("Next", after)
        yield (
            page.path,
            _shell(page.slot.title, page.body, links, back, after, page.slot, page.kept),
        )
    links = _link("Next", pages[0].path)
    yield "index.html", _shell("The half-day", _overview(pages), links, after=pages[0].path)
    links = '<a href="index.html">The half-day</a>'
    yield "instructor.html", _shell("The instructor’s own page", _expected(slots), links)


def _link(words: str, path: str) -> str:
    """Return the link to the page before or after, "" at the ends."""
    return f'<a class="{words.lower()}" href="{path}">{words}</a>' if path else ""


def _shell(
    title: str,
    body: str,
    links: str,
    back: str = "",
    after: str = "",
    slot: Slot | None = None,
    kept: str = "",
) -> str:
    """Return a page whole in itself: ``back`` and ``after`` are where its keys lead."""
    return SHELL.format(
        title=escape(title),
        script=f'<script defer src="../kept/{kept}.js"></script>' if kept else "",
        slot=slot.name if slot else "",
        back=back,
        next=after,
        start=slot.start if slot else "",
        end=_end(slot) if slot else "",
        links=links,
        body=body,
    )


def _end(slot: Slot) -> str:
    """Return when a slot ends, as "10:05"."""
    end = datetime.strptime(slot.start, "%H:%M") + timedelta(minutes=slot.minutes)
    return f"{end:%H:%M}"


def _question(slot: Slot) -> str:
    """Return the body of a page that asks: the question, and a show of hands."""
    parts = [f"<h1>{escape(slot.ask or slot.title)}</h1>"]
    if slot.kind == "break" or not slot.ask:
        parts.append(f"<p>{slot.minutes} minutes, until {_end(slot)}.</p>")
    else:
        rows = "".join(
            f'<div class="hands"><label>Answer {letter} <input type="text" data-answer="{letter}" '
            f'autocomplete="off"></label> <label>Hands <input type="number" min="0" '
            f'inputmode="numeric" data-count="{letter}"></label></div>'
            for letter in "ABCD"[:HANDS]
        )
        parts.append(
            f'<details class="vote" open><summary>Show of hands</summary>{rows}'
            "<p>Kept on this computer, beside what is seen next.</p></details>"
        )
    if slot.safety:
        parts.append(f'<p class="safety"><strong>Safety.</strong> {escape(slot.safety)}</p>')
    return "".join(parts)


def _hands_beside(slot: Slot) -> str:
    """Return the question again, with the hands that were counted."""
    return f'<p class="asked">{escape(slot.ask)} <span data-votes="{slot.name}"></span></p>'


def _overview(pages: list[ProjectorPage]) -> str:
    """Return the day as a table with a link to the question of each slot."""
    rows = "".join(
        f'<tr><td>{page.slot.start}</td><td><a href="{page.path}">{escape(page.slot.title)}</a>'
        f"</td><td>{page.slot.minutes} min</td></tr>"
        for page in pages
        if not page.kept
    )
    return (
        f"<h1>The half-day</h1><table>{rows}</table><p>Keys: Page Down is next, Page Up is back."
        "</p>"
    )


def _expected(slots: list[Slot]) -> str:
    """Return what is for the instructor alone: answers to expect, what to say and do."""
    parts = ["<h1>For the instructor alone: do not project this page</h1>"]
    for slot in slots:
        rows = [("Show", slot.show), ("Ask", slot.ask), ("Right", slot.right)]
        for wrong, reply in slot.wrong:
            rows += ("Wrong", wrong), ("Say", reply)
        rows += ("Do", slot.do), ("Safety", slot.safety)
        listed = "".join(f"<dt>{word}</dt><dd>{escape(text)}</dd>" for word, text in rows if text)
        hands = (
            f'<p>Hands: <span data-votes="{slot.name}">none typed</span></p>' if slot.ask else ""
        )
        parts.append(
            f"<section><h2>{slot.start} {escape(slot.title)}, {slot.minutes} min</h2>"
            f"<dl>{listed}</dl>{hands}</section>"
        )
    return "".join(parts)
