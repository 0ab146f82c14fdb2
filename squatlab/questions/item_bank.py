"""Banks of knowledge items and of cues: the one that ships, and a certifier's own.

The bank that ships (data/items.csv and data/cues.csv) is for practice: whoever
has squatlab has its answers. A form that certifies draws from a bank that the
certifier keeps beside the secret.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, fields
from functools import cache
from pathlib import Path
from typing import NamedTuple

from numpy.random import Generator

from squatlab import faults, spreadsheet, tables

CELLS = tuple(
    "set_up bar_position grip gaze bracing stance mechanics causes priority cues safety".split()
)
"""What a blueprint draws from, in the order of the course."""

WRONG = ("wrong_1", "wrong_2", "wrong_3")

ITEM_COLUMNS = (
    "id",
    "version",
    "kind",
    "cell",
    "fault",
    "prompt",
    "right",
    *WRONG,
    "why",
    "source",
    "author",
)
CUE_COLUMNS = ("fault", "words", "accepted", "why", "source")
"""The columns of a bank's two tables, items.csv and cues.csv."""

Rows = Iterable[Mapping[str, str]]


class Asked(NamedTuple):
    """Hold a question as it is put, and the right option's letter."""

    prompt: str
    options: tuple[str, ...]
    key: str


@dataclass(frozen=True)
class ChoiceItem:
    """Hold a question of knowledge with one right and three wrong answers.

    ``fault`` is an id of the catalogue or ""; ``why`` also says what the
    tempting wrong answer misses. A changed item gets a higher ``version``.
    """

    id: str
    version: int
    cell: str
    fault: str
    prompt: str
    right: str
    wrong: tuple[str, str, str]
    why: str
    source: str
    author: str

    def asked(self, rng: Generator) -> Asked:
        """Return the question with its options shuffled by a generator."""
        options = (self.right, *self.wrong)
        order = rng.permutation(len(options))
        shuffled = tuple(options[place] for place in order)
        return Asked(self.prompt, shuffled, "abcd"[shuffled.index(self.right)])


@dataclass(frozen=True)
class Cue:
    """Hold words one may say about a fault, and whether they fit it."""

    fault: str
    words: str
    accepted: bool
    why: str
    source: str


@dataclass(frozen=True)
class Bank:
    """Hold knowledge items and cues, in the order of their tables.

    ``ships`` is True for the bank that comes with squatlab, which is for
    practice. Make a certifier's own by `read`.
    """

    items: tuple[ChoiceItem, ...]
    cues: tuple[Cue, ...]
    ships: bool = False

    @classmethod
    def read(cls, folder: str | Path) -> Bank:
        """Read items.csv and cues.csv of a folder; one of them may be absent.

        Raises FileNotFoundError without either, and ValueError that names
        a row and what is wrong with it.
        """
        folder = Path(folder)
        items_file, cues_file = folder / "items.csv", folder / "cues.csv"
        if not (items_file.exists() or cues_file.exists()):
            raise FileNotFoundError(
                f"{folder} has neither items.csv nor cues.csv; start them with: squatlab bank "
                f"{folder} --new"
            )
        return cls(
            tuple(_items(_rows(items_file, ITEM_COLUMNS)).values()) if items_file.exists() else (),
            _cues(_rows(cues_file, CUE_COLUMNS)) if cues_file.exists() else (),
        )

    def of_cell(self, cell: str) -> tuple[ChoiceItem, ...]:
        """Return the items of one of `CELLS`."""
        return tuple(one for one in self.items if one.cell == cell)

    def cues_of(self, fault: str) -> tuple[Cue, ...]:
        """Return what one may say about a fault: cues that fit, and others."""
        return tuple(cue for cue in self.cues if cue.fault == fault)

    @property
    def fingerprint(self) -> str:
        """Return the SHA-256 of all that it holds: another bank, another one."""
        held = [asdict(one) for one in (*self.items, *self.cues)]
        return hashlib.sha256(json.dumps(held, sort_keys=True).encode()).hexdigest()

    def known(self) -> tuple[str, ...]:
        """Return which items and cues everybody has, because they also ship."""
        prompts = {one.prompt.casefold() for one in items().values()}
        words = {(cue.fault, cue.words.casefold()) for cue in all_cues()}
        return (
            *(one.id for one in self.items if one.prompt.casefold() in prompts),
            *(cue.words for cue in self.cues if (cue.fault, cue.words.casefold()) in words),
        )


@cache
def shipped() -> Bank:
    """Return the bank that ships, for practice."""
    return Bank(tuple(items().values()), all_cues(), ships=True)


@cache
def items() -> dict[str, ChoiceItem]:
    """Return every item that ships by its id, in the order of data/items.csv.

    Raises ValueError that names the item and what is wrong with it.
    """
    return _items(tables.read("items"))


def item(id: str) -> ChoiceItem:
    """Return the item with this id; ValueError with the nearest there is."""
    if id not in items():
        raise ValueError(f"there is no item {id!r} in items.csv{tables.closest(str(id), items())}")
    return items()[id]


def cells() -> dict[str, tuple[ChoiceItem, ...]]:
    """Return the items that ship by their cell."""
    return {cell: tuple(one for one in items().values() if one.cell == cell) for cell in CELLS}


@cache
def all_cues() -> tuple[Cue, ...]:
    """Return every cue that ships; ValueError names a row that is wrong."""
    return _cues(tables.read("cues"))


def cues(fault: str) -> tuple[Cue, ...]:
    """Return the cues that ship for a fault: those that fit, and others.

    Raises ValueError for an unknown fault, or naming a row that is wrong.
    """
    wanted = faults.fault(fault).id
    return tuple(cue for cue in all_cues() if cue.fault == wanted)


def _rows(path: Path, columns: tuple[str, ...]) -> Rows:
    """Yield the rows of a certifier's table; ValueError for one with too many cells."""
    for number, row in spreadsheet.read_rows(path, columns):
        if spreadsheet.REST in row:
            raise ValueError(
                f"{path.name}, row {number}: more cells than columns; put words with a comma in "
                "quotation marks"
            )
        yield row


def _items(rows: Rows) -> dict[str, ChoiceItem]:
    """Return the items of a table by their ids; ValueError names a wrong row."""
    found: dict[str, ChoiceItem] = {}
    for row in rows:
        id = row["id"]
        if problem := "its id is there twice" if id in found else _problem(row):
            raise ValueError(f'items.csv, item "{id}" ({row["prompt"][:40]}…): {problem}')
        kept = {field.name: row[field.name] for field in fields(ChoiceItem) if field.name in row}
        kept |= {"version": int(row["version"]), "wrong": tuple(row[name] for name in WRONG)}
        found[id] = ChoiceItem(**kept)
    return found


def _cues(rows: Rows) -> tuple[Cue, ...]:
    """Return the cues of a table; ValueError names a wrong row."""
    found: dict[tuple[str, str], Cue] = {}
    for row in rows:
        cue = Cue(row["fault"], row["words"], row["accepted"] == "yes", row["why"], row["source"])
        known = cue.fault in faults.catalogue() and row["accepted"] in ("yes", "no")
        if not (known and cue.words and cue.why) or (cue.fault, cue.words.casefold()) in found:
            raise ValueError(
                f'cues.csv, "{cue.words}" for "{cue.fault}": give a fault of the catalogue, words '
                'that are there once, accepted "yes" or "no", and why'
            )
        found[cue.fault, cue.words.casefold()] = cue
    return tuple(found.values())


def _problem(row: Mapping[str, str]) -> str:
    """Return what is wrong with a row of items.csv, or ""."""
    if empty := [name for name, text in row.items() if name != "fault" and not text.strip()]:
        return f"nothing in {', '.join(empty)}; only fault may be empty"
    if row["kind"] != "choice":
        return f'the kind is "{row["kind"]}"; this table holds "choice"'
    if not row["version"].isdecimal() or int(row["version"]) < 1:
        return f'the version is "{row["version"]}"; give a whole number from 1'
    for column, known in (("cell", CELLS), ("fault", tuple(faults.catalogue()))):
        if (given := row[column]) and given not in known:
            near = tables.closest(given, known) or "."
            return f'there is no {column} "{given}"{near} There are: {", ".join(known)}'
    if len({row[column].casefold() for column in ("right", *WRONG)}) < 4:
        return "two of its four options say the same"
    return ""
