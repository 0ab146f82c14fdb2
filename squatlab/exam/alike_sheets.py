"""Answer sheets that are too much alike: who made the same errors, and hardly others.

Two people who know the same make the same right answers. The same wrong
ones, again and again, tell more: errors in common are set against all
differences [harpp1993]. It lists whom to look at; it proves nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

BLOCK = 500
"""People compared at once with all others: memory stays small."""


class AlikeSheets(NamedTuple):
    """Hold two sheets: the wrong answers they share, and where they differ."""

    one: str
    other: str
    same_errors: int
    differences: int

    def __str__(self) -> str:
        return (
            f"{self.one} and {self.other}: {self.same_errors} of the same wrong answers, "
            f"{self.differences} differences"
        )


def alike_sheets(
    candidates: Sequence[str],
    answers: NDArray[np.int64],
    marks: NDArray[np.float64],
    fewest_shared: int,
) -> tuple[AlikeSheets, ...]:
    """Return the pairs that share many errors, the most alike first.

    ``answers`` (people, items) numbers the different answers to an item,
    from 0, −1 for none; ``marks`` (people, items) from 0 to 1, an answer
    below 1 being wrong. A pair is listed from ``fewest_shared`` errors in
    common on, if these are no fewer than its differences.
    """
    wrong = (marks < 1) & (answers >= 0)
    pairs = []
    for start in range(0, len(answers), BLOCK):
        block = slice(start, start + BLOCK)
        shared = np.zeros((len(answers[block]), len(answers)), dtype=np.int32)
        same = np.zeros_like(shared)
        # One item at a time: people × people of truth values, never a third axis.
        for item in range(answers.shape[1]):
            equal = answers[block, item, None] == answers[None, :, item]
            same += equal
            shared += equal & wrong[block, item, None]
        differ = answers.shape[1] - same
        pairs += _listed(candidates, start, shared, differ, fewest_shared)
    return tuple(sorted(pairs, key=lambda pair: (pair.differences - pair.same_errors, pair)))


def _listed(
    candidates: Sequence[str], start: int, shared: NDArray, differ: NDArray, fewest_shared: int
) -> Iterator[AlikeSheets]:
    """Yield the pairs of a block of people that share enough errors."""
    for row, column in np.argwhere((shared >= fewest_shared) & (shared >= differ)).tolist():
        if start + row < column:  # each pair once, nobody with themselves
            pair = candidates[start + row], candidates[column]
            yield AlikeSheets(*pair, int(shared[row, column]), int(differ[row, column]))
