"""The trainees' pages of the course, as their notebooks say: title, question, checks."""

from __future__ import annotations

import json
import re
from functools import cache
from typing import NamedTuple

from squatlab import tables

ASKED = re.compile(r'^check\("(\w+)", seed=(\d+)\)', re.MULTILINE)
"""How a notebook asks a check."""

TITLE = re.compile(r"# (\d\d) · (.+)")


class CoursePage(NamedTuple):
    """Hold what a notebook is about.

    ``question`` is the first it asks, ``checks`` are name and seed of each
    check, in order.
    """

    file: str
    number: str
    title: str
    question: str
    checks: tuple[tuple[str, int], ...]


@cache
def course_pages() -> tuple[CoursePage, ...]:
    """Return the trainees' notebooks in order.

    Raises ValueError for one without a title.
    """
    pages = []
    for path in sorted(tables.folder("notebooks").glob("[0-9]*.ipynb")):
        cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
        opening, *others = ("".join(cell["source"]) for cell in cells)
        heading = TITLE.match(opening)
        if heading is None:
            raise ValueError(f"{path.name} does not begin with “# 00 · Title”")
        asked = re.search(r"^[^#*\n][^?\n]*\?", opening[heading.end() :], re.MULTILINE)
        checks = tuple((name, int(seed)) for name, seed in ASKED.findall("\n".join(others)))
        question = asked[0] if asked else ""
        pages.append(CoursePage(path.name, heading[1], heading[2], question, checks))
    return tuple(pages)
