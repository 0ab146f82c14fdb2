"""Projector pages of the half-day: a question, hands, one thing to look at."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from html import escape
from typing import NamedTuple

from squatlab.lessons.timetable import Slot, timetable


class ProjectorPage(NamedTuple):
    """Hold a page for the projector; ``kept`` names what moves on it."""

    path: str
    title: str
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
    made: list[tuple[Slot, ProjectorPage]] = []
    for number, slot in enumerate(slots, 1):
        name = f"{number:02}_{slot.name}"
        made.append((slot, ProjectorPage(f"{name}.html", slot.title, _question(slot))))
        if slot.name in kept:
            moving = (
                f'{_hands_beside(slot)}<div data-kept="{kept[slot.name]}" data-later="yes"></div>'
            )
            made.append(
                (slot, ProjectorPage(f"{name}_see.html", slot.title, moving, kept[slot.name]))
            )
    paths = [page.path for _, page in made]
    for place, (slot, page) in enumerate(made):
        back = paths[place - 1] if place else ""
        next_ = paths[place + 1] if place + 1 < len(paths) else ""
        links = "".join(
            f'<a class="{words.lower()}" href="{path}">{words}</a>'
            for words, path in (("Back", back), ("Next", next_))
            if path
        )
        script = f'<script defer src="../kept/{page.kept}.js"></script>' if page.kept else ""
        yield (
            page.path,
            SHELL.format(
                title=escape(page.title),
                script=script,
                slot=slot.name,
                back=back,
                next=next_,
                start=slot.start,
                end=_end(slot),
                links=links,
                body=page.body,
            ),
        )
    yield (
        "index.html",
        SHELL.format(
            title="The half-day",
            script="",
            slot="",
            back="",
            next=paths[0],
            start="",
            end="",
            links=f'<a class="next" href="{paths[0]}">Next</a>',
            body=_overview(made),
        ),
    )
    yield (
        "instructor.html",
        SHELL.format(
            title="The instructor’s own page",
            script="",
            slot="",
            back="",
            next="",
            start="",
            end="",
            links='<a href="index.html">The half-day</a>',
            body=_expected(slots),
        ),
    )


def _end(slot: Slot) -> str:
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
    return f'<p class="asked">{escape(slot.ask)} <span data-votes="{slot.name}"></span></p>'


def _overview(made: list[tuple[Slot, ProjectorPage]]) -> str:
    rows = "".join(
        f'<tr><td>{slot.start}</td><td><a href="{page.path}">{escape(slot.title)}</a></td>'
        f"<td>{slot.minutes} min</td></tr>"
        for slot, page in made
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
        rows += [pair for wrong, reply in slot.wrong for pair in (("Wrong", wrong), ("Say", reply))]
        rows += [("Do", slot.do), ("Safety", slot.safety)]
        listed = "".join(f"<dt>{word}</dt><dd>{escape(text)}</dd>" for word, text in rows if text)
        hands = (
            f'<p>Hands: <span data-votes="{slot.name}">none typed</span></p>' if slot.ask else ""
        )
        parts.append(
            f"<section><h2>{slot.start} {escape(slot.title)}, {slot.minutes} min</h2>"
            f"<dl>{listed}</dl>{hands}</section>"
        )
    return "".join(parts)
