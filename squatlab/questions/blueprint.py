"""The blueprint of a form: what is asked, how often, about which lifts."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TypeVar

from squatlab import faults, tables
from squatlab.questions import numbers
from squatlab.questions.files import harmless
from squatlab.questions.item_bank import CELLS
from squatlab.questions.kinds import KINDS, Kind, kind
from squatlab.spreadsheet import read_rows

T = TypeVar("T")

COLUMNS = (
    "cell",
    "kind",
    "count",
    "points",
    "draws",
    "beside",
    "others",
    "sizes",
    "lifters",
    "bar",
    "view",
    "clean",
    "margin",
)
"""What a blueprint says of each cell; data/blueprint.csv shows how."""

ANY = {"lifters": ("women", "men"), "bar": ("high", "low")}
"""What "any" stands for in these columns."""

FAULT_WORDS = ("any", *(f"tier{tier}" for tier in faults.TIERS), *faults.catalogue())
"""What names faults in a blueprint."""


@dataclass(frozen=True)
class Cell:
    """Hold one row of data/blueprint.csv; count 0 is for practice alone.

    ``draws`` is what a question is about: faults of which one is first, or
    cells of the bank, or numbers. ``beside`` are faults that may be there
    too, ``others`` how many of them (least, most). ``clean`` is the share
    of lifts with nothing to fix. ``margin``, in severity, is what the mean
    margin of a form's lifts in this cell comes near; None: worked out when
    a form is drawn. Raises ValueError for what cannot be.
    """

    name: str
    kind: str
    count: int
    points: float
    draws: tuple[str, ...]
    beside: tuple[str, ...] = ()
    others: tuple[int, int] = (0, 0)
    sizes: tuple[str, ...] = ("clear", "gross")
    lifters: tuple[str, ...] = ANY["lifters"]
    bar: tuple[str, ...] = ANY["bar"]
    view: str = "both"
    clean: float = 0.0
    margin: float | None = None

    def __post_init__(self) -> None:
        lift = self.kind in KINDS and self.how.shows_lift
        for wrong, words in (
            (self.kind not in KINDS, f"the kind is one of {', '.join(KINDS)}"),
            (
                self.count < 0 or not 0 < self.points < math.inf,
                "count is 0 or more, points are more than 0",
            ),
            (not 0 <= self.clean <= 1, "clean is a share, from 0 to 1"),
            (
                self.margin is not None and not 0 < self.margin < math.inf,
                "margin is more than 0, or empty",
            ),
            (
                not 0 <= self.others[0] <= self.others[1],
                "others are a whole number, or from the least to the most, such as 1-2",
            ),
            (lift and self.view not in ("side", "front", "both"), "view is side, front or both"),
            (lift and not self.draws, "its view shows none of what it draws"),
            (not self.draws, "draws says what it asks about"),
            (
                lift and not (self.sizes and set(self.sizes) <= set(faults.SIZES)),
                "sizes: slight, clear, gross",
            ),
        ):
            if wrong:
                raise ValueError(f"cell {self.name} of the blueprint: {words}")

    @property
    def how(self) -> Kind:
        """Return what its kind of question does."""
        return kind(self.kind)

    @property
    def options(self) -> tuple[str, ...]:
        """Return the faults that its views show, in the catalogue's order."""
        seen = ("any", "side", "front") if self.view == "both" else ("any", self.view)
        return tuple(fault.id for fault in faults.catalogue().values() if fault.view in seen)


@cache
def blueprint() -> dict[str, Cell]:
    """Return the cells of data/blueprint.csv by their names, in its order.

    Of faults, "any" means all that the view shows, "tier1" to "tier4"
    those of a tier. Raises ValueError that names the cell.
    """
    return {row["cell"]: _cell(row) for row in tables.read("blueprint")}


def read_blueprint(path: str | Path) -> dict[str, Cell]:
    """Return the cells of a blueprint of one's own, a table with the same columns.

    Its words, source and note may be left out. Raises ValueError that names
    the row.
    """
    path = Path(path)
    cells: dict[str, Cell] = {}
    for number, row in read_rows(path, COLUMNS, ("words", "source", "note")):
        where = f"{path.name}, row {number}"
        if row["cell"] in cells:
            raise ValueError(f"{where}: the cell “{row['cell']}” stands above as well; keep one")
        try:
            cells[row["cell"]] = _cell(row)
        except ValueError as error:
            raise ValueError(f"{where}: {error}") from None
    if not any(cell.count for cell in cells.values()):
        raise ValueError(f"{path.name} asks no question; give at least one row a count above 0")
    return cells


def _cell(row: dict[str, str]) -> Cell:
    """Return the cell that a row describes; ValueError names the column that is wrong."""
    kind_id, view = row["kind"], row["view"]
    draws, beside = row["draws"].split(), row["beside"].split()
    sizes = row["sizes"].split()
    how = KINDS.get(kind_id)
    if how is not None:
        _check_known("draws", draws, _drawn_by(how))
    if how is not None and how.shows_lift:
        _check_known("beside", beside, FAULT_WORDS)
        _check_known("sizes", sizes, faults.SIZES)
        for column, all_of_them in ANY.items():
            _check_known(column, [row[column]], ("any", *all_of_them))
        draws, beside = _faults(draws, view), _faults(beside, view)
    least, _, most = row["others"].partition("-")
    return Cell(
        name=row["cell"],
        kind=kind_id,
        count=_number(int, "count", row["count"]),
        points=_number(float, "points", row["points"]),
        draws=tuple(draws),
        beside=tuple(beside),
        others=(_number(int, "others", least), _number(int, "others", most or least)),
        sizes=tuple(sizes),
        lifters=ANY["lifters"] if row["lifters"] == "any" else (row["lifters"],),
        bar=ANY["bar"] if row["bar"] == "any" else (row["bar"],),
        view=view,
        clean=_number(float, "clean", row["clean"]),
        margin=_number(float, "margin", row["margin"]) if row["margin"] else None,
    )


def _drawn_by(how: Kind) -> Collection[str]:
    """Return the words that a kind of question may draw from."""
    if how.shows_lift:
        return FAULT_WORDS
    return CELLS if how.needs_options else numbers.NUMBERS


def _check_known(column: str, words: Collection[str], known: Collection[str]) -> None:
    """Raise ValueError that names the column for a word that is not known there."""
    for word in words:
        if word not in known:
            raise ValueError(
                f"{column} has “{harmless(word)}”, which is not known there"
                f"{tables.closest(word, known) or '.'} There may be {', '.join(known)}"
            )


def _number(read: Callable[[str], T], column: str, text: str) -> T:
    """Return a cell's number; ValueError names the column."""
    try:
        return read(text)
    except ValueError:
        kind_of = "a whole number" if read is int else "a number"
        raise ValueError(f"{column} is “{text}”; write {kind_of}") from None


def cell(name: str) -> Cell:
    """Return the cell of this name; ValueError with the nearest there is."""
    if name not in blueprint():
        near = tables.closest(str(name), blueprint())
        raise ValueError(f"there is no cell {name!r} in blueprint.csv{near}")
    return blueprint()[name]


def _faults(words: list[str], view: str) -> list[str]:
    """Return the faults that words name and a view shows."""
    named = set(words)
    return [
        fault.id
        for fault in faults.catalogue().values()
        if (view == "both" or fault.view in ("any", view))
        and {"any", f"tier{fault.tier}", fault.id} & named
    ]
