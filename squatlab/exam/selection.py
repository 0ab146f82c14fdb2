"""Which of the items a cell could have go on a form, so that forms are alike.

Two forms are equal for candidates if their lifts are equally hard. What
makes a lift hard is its margin: how much larger its first fault is than
the next one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from itertools import chain, combinations, islice
from typing import NamedTuple

import numpy as np

from squatlab.questions.blueprint import Cell
from squatlab.questions.cases import case
from squatlab.questions.item_bank import Bank
from squatlab.questions.items import Item, item

ALIKE = 0.05
"""So near the cell's mean margin in the blueprint comes every form in every cell, in
severity: two forms then differ by twice this at most [teaching-value]."""

PUBLIC_ITEMS, MOST_ITEMS = 8, 120
"""Items of public seeds that give the mean margin of a cell without one, and items
looked at before a cell is given up [teaching-value]."""

SETS = 2_000
"""So many sets of items are tried with each new one: all that the cells of the blueprint that
ships have after twelve items. To make a lift takes longer than to try them [teaching-value]."""


class SeededItem(NamedTuple):
    """Hold an item with the seed that makes it again."""

    seed: int
    item: Item


class Misfit(NamedTuple):
    """Say what is wrong with a choice of items; less is better, the first part first.

    ``margin`` is how far, in severity, their mean margin is outside what
    is alike; ``repeated`` how many questions could be unlike the others
    and are not.
    """

    margin: float
    repeated: int


NO_MISFIT = Misfit(0.0, 0)


def choose(
    cell: Cell, seeds: Sequence[int], bank: Bank | None = None, alike: bool = True
) -> list[SeededItem]:
    """Return as many of these seeds, with their items, as a cell counts.

    ``bank`` has knowledge and cues, the one that ships if None. One item
    after another is made, until some of them together have the cell's mean
    margin, and no question is like another where that can be.
    Raises ValueError if it cannot be reached. A form that need not be
    ``alike`` to others takes the first ones, in half the time.
    """
    if not alike:
        return [_seeded_item(cell, seed, bank) for seed in seeds[: cell.count]]
    made: list[SeededItem] = []
    taken: list[SeededItem] = []
    for seed in seeds:
        candidate = _seeded_item(cell, seed, bank)
        # Sets without the candidate were tried before. The newest of the others come first.
        others = combinations(reversed(made), cell.count - 1)
        tries = ([*some, candidate] for some in islice(others, SETS))
        made.append(candidate)
        if len(made) >= cell.count:
            before = [taken] if taken else []
            taken = min(chain(before, tries), key=lambda some: _misfit(cell, some))
            if _misfit(cell, taken) == NO_MISFIT:
                break
    if _misfit(cell, taken).margin > 0:
        raise ValueError(
            f"cell {cell.name}: {len(seeds)} items give no mean margin within {ALIKE} of "
            f"{wanted_margin(cell):.2f}; ask more of them, or widen the cell in blueprint.csv or "
            "leave its margin there empty"
        )
    return taken


def _seeded_item(cell: Cell, seed: int, bank: Bank | None) -> SeededItem:
    """Make an item, without its case: what is chosen may be sent between processes."""
    return SeededItem(seed, replace(item(cell, seed, bank), case=None))


def _misfit(cell: Cell, choice: list[SeededItem]) -> Misfit:
    """Return how far a choice is from the wanted margin, and how much alike its items are."""
    subjects = {cell.how.about(seeded.item) for seeded in choice}
    possible_subjects = min(len(choice), cell.how.varieties(cell))
    repeated = max(0, possible_subjects - len(subjects))
    if not cell.how.shows_lift:
        return Misfit(0.0, repeated)
    mean = float(np.mean([seeded.item.margin for seeded in choice]))
    return Misfit(max(0.0, abs(mean - wanted_margin(cell)) - ALIKE), repeated)


def wanted_margin(cell: Cell) -> float:
    """Return the mean margin, in severity, that lifts of a cell have on every form.

    The blueprint's, or else the cell's `own_margin`.
    """
    return own_margin(cell) if cell.margin is None else cell.margin


@cache
def own_margin(cell: Cell) -> float:
    """Return the mean margin, in severity, that lifts of a cell have of themselves.

    That of as many items as it counts, spread evenly over the margins of items
    anybody may make: unlike the mean of all, one question can have it too. Makes
    `PUBLIC_ITEMS` lifts, which takes as long as to draw the cell once for a form.
    """
    margins = [case(cell, seed).margin for seed in range(PUBLIC_ITEMS)]
    # The middles of as many equal parts: the median for one item, the quartiles for two.
    parts = (np.arange(cell.count) + 0.5) / cell.count
    return float(np.quantile(margins, parts, method="nearest").mean())
