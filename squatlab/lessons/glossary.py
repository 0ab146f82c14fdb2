"""What the course's words mean: one table, and links to it in the notebooks' texts.

A link's title is the meaning. Browsers show it on hover, screen readers say it, and
the style that comes with every check shows it when the link has the keyboard's focus.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from functools import cache
from typing import NamedTuple

from squatlab import tables

PLACE = "00_start_here.ipynb#What-do-the-words-mean?"
"""Where a reader finds the whole table."""

LINK = re.compile(r"\[([^\]]*)\]\(" + re.escape(PLACE) + r' "([^"]*)"\)')
"""A link to the glossary in a notebook's text: its words and its title."""

LEFT_ALONE = re.compile(
    r"```.*?```"  # code
    r"|`[^`]*`"
    r"|\$[^$]*\$"  # formulas
    r"|!?\[[^\]]*\]\([^)]*\)"  # links and pictures
    r"|<details>.*?</details>"  # folded answers
    r"|<[^>]*>"
    r"|^[#|].*?$",  # headings, rows of tables
    re.DOTALL | re.MULTILINE,
)

CLOSING = ("## How it works", "**To take away**", "## Check yourself", "# ")
"""How the texts begin that stay without links: the opening and the last ones."""


class Term(NamedTuple):
    """Hold a word of the course.

    ``symbol`` and ``code`` are "" where it has none; ``words`` are the
    forms in which texts use it.
    """

    name: str
    symbol: str
    code: str
    words: tuple[str, ...]
    meaning: str
    source: str


@cache
def glossary() -> tuple[Term, ...]:
    """Return every term of data/glossary.csv, in its order.

    Raises ValueError for a form of a word that two terms claim.
    """
    terms = tuple(
        Term(
            row["term"],
            row["symbol"],
            row["code"],
            tuple(row["words"].split("|")),
            row["meaning"],
            row["source"],
        )
        for row in tables.read("glossary")
    )
    claimed = [word for term in terms for word in term.words]
    if twice := sorted({word for word in claimed if claimed.count(word) > 1}):
        raise ValueError(f"glossary.csv has {', '.join(twice)} in two rows; keep one")
    return terms


def term(word: str) -> Term:
    """Return the term of which a word is a form; ValueError with the nearest one."""
    found = {form: each for each in glossary() for form in each.words}
    if word.casefold() not in found:
        near = tables.closest(word, found)
        raise ValueError(f"“{word}” is not in data/glossary.csv{near}")
    return found[word.casefold()]


def glossary_table() -> str:
    """Return the whole glossary as a table in Markdown."""
    head = "| a coach says | symbol | in the code | what it is |\n|---|---|---|---|"
    rows = [
        f"| {each.name} | {each.symbol} | {f'`{each.code}`' if each.code else ''} "
        f"| {each.meaning} |"
        for each in glossary()
    ]
    return "\n".join([head, *rows])


def linked(texts: Iterable[str]) -> list[str]:
    """Return a notebook's texts with every term linked where it first appears.

    Texts are Markdown, without such links, in order. Headings, tables,
    code, formulas, folded answers, the opening and the closing stay.
    """
    still = {word: each for each in glossary() for word in each.words}
    return [text if text.lstrip().startswith(CLOSING) else _linked(text, still) for text in texts]


def _linked(text: str, still: dict[str, Term]) -> str:
    """Return a text with the first of each term linked; take these out of ``still``."""
    # Longest first, so that “base of support” is not cut at a shorter term's word.
    forms = "|".join(map(re.escape, sorted(still, key=len, reverse=True)))
    if not forms:
        return text
    word = re.compile(rf"(?<![\w-])(?:{forms})(?![\w-])", re.IGNORECASE)

    def link(found: re.Match[str]) -> str:
        each = still.get(found[0].casefold())
        if each is None:  # linked a few words before
            return found[0]
        for form in each.words:
            del still[form]
        return f'[{found[0]}]({PLACE} "{each.meaning}")'

    parts, start = [], 0
    for alone in LEFT_ALONE.finditer(text):
        parts += word.sub(link, text[start : alone.start()]), alone[0]
        start = alone.end()
    return "".join([*parts, word.sub(link, text[start:])])


def unlinked(text: str) -> str:
    """Return a text without its links to the glossary."""
    return LINK.sub(r"\1", text)


def links(texts: Sequence[str]) -> list[tuple[str, str]]:
    """Return the words and the title of every link to the glossary in some texts."""
    return [found for text in texts for found in LINK.findall(text)]
