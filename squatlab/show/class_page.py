"""A class's page for its instructor: what is missed, by how many, what to teach again.

`squatlab progress` writes it; `lessons.class_standing` counts.
"""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from squatlab.lessons.class_standing import FEWEST, RULE, ClassStanding, Missed
from squatlab.show.scripts import script


def class_page(standing: ClassStanding) -> str:
    """Return the page, whole in itself, to open in a browser or print."""
    again = standing.teach_again
    gain = mean_gain(standing.gains)
    facts = (
        (str(standing.people), "folder read" if standing.people == 1 else "folders read"),
        (str(len(again)), "to teach again"),
        ("–" if gain is None else gain, "mean gain of ten questions"),
    )
    boxes = "".join(f"<div><b>{number}</b>{words}</div>" for number, words in facts)
    parts = [
        "<h1>What the class knows and misses</h1>",
        '<p class="soft">Nobody is named. A share is shown only where at least '
        f"{FEWEST} people answered.</p>",
        f'<div class="facts">{boxes}</div>',
        "<h2>Teach again</h2>",
        f'<p class="soft">{escape(RULE)}</p>',
        _again(again),
        "<h2>Checks</h2>",
        '<p class="soft">Missed: not right at the first try, the first time.</p>',
        _table("check", standing.checks),
        "<h2>Faults in practice</h2>",
        '<p class="soft">Missed: wrong (not seen, or called where it was not) at least as often '
        "as right.</p>",
        _table("fault", standing.faults),
        "<h2>Ten questions before and after</h2>",
        f"<p>{escape(gain_words(standing.gains))}</p>",
        *(f"<p>{escape(words)}</p>" for words in standing.damaged),
    ]
    return (
        '<!doctype html><html lang="en"><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>Class</title><style>{script('class_page.css')}</style><main>{''.join(parts)}</main></html>\n"
    )


def mean_gain(gains: tuple[int, ...]) -> str | None:
    """Return the ten questions' mean gain, signed; None of too few people."""
    if len(gains) < FEWEST:
        return None
    mean = round(sum(gains) / len(gains), 1) + 0.0  # what rounds to 0 has no minus sign
    return f"{mean:+.1f}".replace("-", "−")


def gain_words(gains: tuple[int, ...]) -> str:
    """Return what both ten questions say, of enough people only."""
    mean = mean_gain(gains)
    if mean is None:
        return f"{len(gains)} answered both; a mean gain is shown from {FEWEST} on."
    return f"{len(gains)} answered both; the mean gain is {mean} of 10."


def _again(missed: tuple[Missed, ...]) -> str:
    """Return what to teach again as a list, with the page to go back to."""
    if not missed:
        return "<p>Nothing reaches that.</p>"
    lines = (
        f"<li><b>{escape(lesson.words)}</b>: missed by {lesson.missed} of {lesson.met} "
        f"({lesson.share:.0%}). Go back to {escape(lesson.page)}.{_small(lesson.asks)}</li>"
        for lesson in missed
    )
    return f'<ol class="again">{"".join(lines)}</ol>'


def _small(words: str) -> str:
    return f"<br><small>{escape(words)}</small>" if words else ""


def _table(head: str, rows: Iterable[Missed]) -> str:
    """Return what was met, with a bar for each share, and the names of what nobody met."""
    rows = list(rows)
    met = [row for row in rows if row.met]
    unmet = [row.words for row in rows if not row.met]
    rest = f'<p class="soft">Met by nobody yet: {escape("; ".join(unmet))}.</p>' if unmet else ""
    if not met:
        return rest
    heads = "".join(
        f'<th scope="col" class="{style}">{name}</th>'
        for name, style in ((head, ""), ("answered", "number"), ("missed", "number"), ("share", ""))
    )
    body = []
    for row in met:
        small = f"<small>{escape(row.asks)}</small>" if row.asks else ""
        share = '<span class="soft">too few</span>'
        if row.share is not None:
            width = f"{100 * row.share:.0f}%"
            share = f'<span class="bar"><i style="width: {width}"></i></span>{row.share:.0%}'
        style = " class=many" if row.again else ""
        body.append(
            f'<tr{style}><th scope="row">{escape(row.words)}{small}</th>'
            f'<td class="number">{row.met}</td><td class="number">{row.missed}</td>'
            f'<td class="share">{share}</td></tr>'
        )
    return f"<table><tr>{heads}</tr>{''.join(body)}</table>{rest}"
