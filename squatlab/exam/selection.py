"""Which of the items a cell could have go on a form, so that forms are alike."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from itertools import chain, combinations, islice

import numpy as np

from squatlab.questions.blueprint import Cell
from squatlab.questions.cases import case
from squatlab.questions.item_bank import Bank
from squatlab.questions.items import Item, item

ALIKE = 0.05
"""So near the cell's mean margin in the blueprint comes every form in every cell, in
severity: two forms then differ by twice this at most [teaching-value]."""

SOME, MOST = 8, 120
"""Items of public seeds that give the mean margin of a cell without one, and items
looked at before a cell is given up [teaching-value]."""

SETS = 2_000
"""So many sets of items are tried with each new one: all that the cells of the blueprint that
ships have after twelve items. To make a lift takes longer than to try them [teaching-value]."""


def choose(
    cell: Cell, seeds: Sequence[int], bank: Bank | None = None, alike: bool = True
) -> list[tuple[int, Item]]:
    """Return as many of these seeds, with their items, as a cell counts.

    ``bank`` has knowledge and cues, the one that ships if None. One item
    after another is made, until some of them together have the cell's mean
    margin, and no question is like another where that can be.
    Raises ValueError if it cannot be reached. A form that need not be
    ``alike`` to others takes the first ones, in half the time.
    """
    if not alike:
        return [(seed, replace(item(cell, seed, bank), case=None)) for seed in seeds[: cell.count]]
    made: list[tuple[int, Item]] = []
    taken: list[tuple[int, Item]] = []
    for seed in seeds:
        seeded_item = seed, replace(item(cell, seed, bank), case=None)
        # Sets without the new item were tried before. The newest of the others come first.
        others = combinations(reversed(made), cell.count - 1)
        tries = ([*some, seeded_item] for some in islice(others, SETS))
        made.append(seeded_item)
        if len(made) >= cell.count:
            before = [taken] if taken else []
            taken = min(chain(before, tries), key=lambda some: _fault_of(cell, some))
            if _fault_of(cell, taken) == (0.0, 0):
                break
    if _fault_of(cell, taken)[0] > 0:
        raise ValueError(
            f"cell {cell.name}: {len(seeds)} items give no mean margin within {ALIKE} of "
            f"{wanted_margin(cell):.2f}; ask more of them, or widen the cell in blueprint.csv or "
            "leave its margin there empty"
        )
    return taken


def _fault_of(cell: Cell, some: list[tuple[int, Item]]) -> tuple[float, int]:
    """Return how far a choice is from the wanted margin, and how much alike its items are."""
    alike = max(
        0, min(len(some), cell.how.varieties(cell)) - len({cell.how.about(one) for _, one in some})
    )
    if not cell.how.shows_lift:
        return 0.0, alike
    away = abs(float(np.mean([one.margin for _, one in some])) - wanted_margin(cell))
    return max(0.0, away - ALIKE), alike


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
    `SOME` lifts, which takes as long as to draw the cell once for a form.
    """
    margins = [case(cell, seed).margin for seed in range(SOME)]
    parts = (np.arange(cell.count) + 0.5) / cell.count
    return float(np.quantile(margins, parts, method="nearest").mean())
