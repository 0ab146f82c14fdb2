"""What a candidate reads before a sitting and after it: rows of data/exam_notices.csv.

The notebook's sitting and the served one show them alike.
"""

from __future__ import annotations

from typing import NamedTuple

from squatlab import tables


class Notice(NamedTuple):
    """Hold one thing a candidate is told: what it is about, and the words."""

    head: str
    words: str


def notices(page: str) -> list[Notice]:
    """Return what stands on a page of data/exam_notices.csv, such as "before"."""
    return [
        Notice(row["head"], row["words"])
        for row in tables.read("exam_notices")
        if row["page"] == page
    ]
