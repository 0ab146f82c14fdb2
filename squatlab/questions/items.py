"""Items: a question with a computed key, made by a cell and a seed.

The only place where what was put into a lift meets what was read from it is
`squatlab.questions.cases`; the key of a lift is what was read.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from concurrent.futures import Executor
from dataclasses import dataclass
from functools import partial

import numpy as np

from squatlab import faults, units
from squatlab.questions import numbers
from squatlab.questions.blueprint import Cell
from squatlab.questions.blueprint import cell as cell_of
from squatlab.questions.cases import VERSION, Case, case
from squatlab.questions.item_bank import Bank, shipped
from squatlab.questions.kinds import NOTHING, Answer, Kind, kind
from squatlab.questions.question import Key

AUTHOR = "course authors"


@dataclass(frozen=True, eq=False)
class Item:
    """Hold a question, what is right, and why.

    ``right`` is what a `Key` takes: an option, several, an order with
    ``gains``, or a number in ``unit`` within ``tolerance``. Options are
    fault ids, `NOTHING` or words; `words` is what a candidate reads.
    ``margin`` is the case's, nan without a lift; ``case`` shows the lift.
    """

    id: str
    version: int
    kind: str
    cell: str
    prompt: str
    options: tuple[str, ...]
    right: Answer
    source: str
    why: str
    margin: float = float("nan")
    unit: str = ""
    tolerance: float = 0.0
    gains: tuple[float, ...] = ()
    author: str = AUTHOR
    case: Case | None = None

    @property
    def words(self) -> tuple[str, ...]:
        """Return the options as a candidate reads them."""
        return tuple(worded(option) for option in self.options)

    @property
    def how(self) -> Kind:
        """Return what its kind does."""
        return kind(self.kind)

    def key(self, points: float = 1.0) -> Key:
        """Return what is right, as a form's key holds it."""
        return Key(
            self.kind, self.right, points, self.cell, self.options, self.tolerance, self.gains
        )


def worded(option: str) -> str:
    """Return a fault's name for its id, and anything else as it is."""
    if option == NOTHING:
        return "nothing to fix"
    return faults.fault(option).name if option in faults.catalogue() else option


def item(cell: str | Cell, seed: int, bank: Bank | None = None) -> Item:
    """Return the item of a cell, or of its name, and a seed.

    ``bank`` has the knowledge and the cues, the one that ships if None.
    The same for ever: what makes others gets another ``version``. Raises
    ValueError for a cell that is not there, or that nobody can do.
    """
    bank = bank or shipped()
    cell = cell_of(cell) if isinstance(cell, str) else cell
    if cell.how.shows_lift:
        return of_case(case(cell, seed), cell.kind, bank)
    rng = np.random.default_rng([VERSION, seed])
    drawn = str(rng.choice(cell.draws))
    if cell.how.needs_options:
        return _choice(cell, drawn, rng, bank)
    return _number(cell, seed, drawn, rng)


def items(
    cell: str | Cell, seeds: Iterable[int], executor: Executor | None = None
) -> Iterator[Item]:
    """Yield the items of a cell in the order of their seeds.

    ``executor`` is anything from `concurrent.futures`, or that follows it:
    the work is spread over its workers.
    """
    make = partial(item, cell)
    # A cluster wants to know how many there are.
    return executor.map(make, list(seeds)) if executor else map(make, seeds)


def of_case(case: Case, asks: str, bank: Bank | None = None) -> Item:
    """Return what a kind of item, by its id, asks about a case.

    ``bank`` has the cues, the one that ships if None.
    """
    items_kind = kind(asks)
    rng = np.random.default_rng([VERSION, case.seed])
    asked = items_kind.content(case, rng, bank or shipped())
    with units.written_in(units.BOTH):
        why = case.why
    # Not how tall or heavy: with a scale for the pictures, the review would read the answer.
    bar = case.bar.name.capitalize()
    prompt = f"{bar}. {items_kind.prompt.format(first=worded(case.first))}"
    source = "teaching-value" if case.first == NOTHING else faults.fault(case.first).source
    return Item(
        id=f"{case.cell.name}-{case.seed}",
        version=VERSION,
        kind=asks,
        cell=case.cell.name,
        prompt=prompt,
        options=asked.options,
        right=asked.answer,
        source=source,
        why=why,
        margin=case.margin,
        gains=asked.gains,
        case=case,
    )


def _choice(cell: Cell, drawn: str, rng: np.random.Generator, bank: Bank) -> Item:
    """Return one of a bank's items from the cell that was drawn."""
    candidates = bank.of_cell(drawn)
    banked = candidates[int(rng.integers(len(candidates)))]
    return Item(
        id=banked.id,
        version=banked.version,
        kind="choice",
        cell=cell.name,
        prompt=banked.prompt,
        options=banked.asked(rng).options,
        right=banked.right,
        source=banked.source,
        why=banked.why,
        author=banked.author,
    )


def _number(cell: Cell, seed: int, drawn: str, rng: np.random.Generator) -> Item:
    """Return the number that was drawn, to be worked out."""
    with units.written_in(units.BOTH):
        asked = numbers.NUMBERS[drawn](rng)
    return Item(
        id=f"{cell.name}-{seed}",
        version=numbers.VERSION,
        kind="number",
        cell=cell.name,
        prompt=asked.prompt,
        options=(),
        right=asked.right,
        source=asked.source,
        why=asked.why,
        unit=asked.unit,
        tolerance=asked.tolerance,
    )
