"""A class's page for its instructor: what is missed, by how many, what to teach again."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from squatlab.lessons.class_standing import FEWEST, RULE, ClassStanding, Missed

STYLE = (
    "body { font: 16px/1.5 system-ui, sans-serif; color: #1b2430; background: #fff; "
    "max-width: 60em; margin: 2em auto; padding: 0 1em } "
    "table { border-collapse: collapse; width: 100% } "
    "th, td { text-align: left; padding: 4px 12px 4px 0; border-bottom: 1px solid #c5ccd4 } "
    "td.number { text-align: right; font-variant-numeric: tabular-nums } "
    "@media print { body { margin: 0; max-width: none } tr { break-inside: avoid } }"
)


def class_page(standing: ClassStanding) -> str:
    """Return the page, whole in itself, to open in a browser or print."""
    people = f"{standing.people} folder{'s' * (standing.people != 1)} read"
    parts = [
        "<h1>What the class knows and misses</h1>",
        f"<p>{people}. Nobody is named. A share is shown only where at least {FEWEST} people "
        "answered.</p>",
        "<h2>Teach again</h2>",
        f"<p>{escape(RULE)}</p>",
        _again(standing.teach_again),
        "<h2>Checks</h2>",
        "<p>Missed: not right at the first try, the first time.</p>",
        _table("check", standing.checks),
        "<h2>Faults in practice</h2>",
        "<p>Missed: recognised wrongly (not seen, or called where it was not) at least as often as "
        "seen.</p>",
        _table("fault", standing.faults),
        "<h2>Ten questions before and after</h2>",
        f"<p>{escape(gain_words(standing.gains))}</p>",
        *(f"<p>{escape(words)}</p>" for words in standing.damaged),
    ]
    return (
        '<!doctype html><html lang="en"><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>Class</title><style>{STYLE}</style><main>{''.join(parts)}</main></html>\n"
    )


def gain_words(gains: tuple[int, ...]) -> str:
    """Return what both ten questions say, of enough people only."""
    if len(gains) < FEWEST:
        return f"{len(gains)} answered both; a mean gain is shown from {FEWEST} on."
    mean = f"{sum(gains) / len(gains):+.1f}".replace("-", "−")
    return f"{len(gains)} answered both; the mean gain is {mean} of 10."


def _again(missed: tuple[Missed, ...]) -> str:
    if not missed:
        return "<p>Nothing reaches that.</p>"
    lines = (
        f"<li>{escape(one.words)}: missed by {one.missed} of {one.met} ({one.share:.0%})</li>"
        for one in missed
    )
    return f"<ol>{''.join(lines)}</ol>"


def _table(head: str, rows: Iterable[Missed]) -> str:
    heads = "".join(
        f'<th scope="col">{name}</th>' for name in (head, "answered", "missed", "share")
    )
    body = []
    for row in rows:
        share = "–" if row.share is None else f"{row.share:.0%}"
        numbers = "".join(
            f'<td class="number">{cell}</td>' for cell in (row.met, row.missed, share)
        )
        body.append(f'<tr><th scope="row">{escape(row.words)}</th>{numbers}</tr>')
    return f"<table><tr>{heads}</tr>{''.join(body)}</table>"
