"""The bank of knowledge items and of cues: a start, for certifiers to add to."""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cache
from typing import NamedTuple

from numpy.random import Generator

from squatlab import faults, tables

CELLS = tuple(
    "set_up bar_position grip gaze bracing stance mechanics causes priority cues safety".split()
)
"""What a blueprint draws from, in the order of the course."""

WRONG = ("wrong_1", "wrong_2", "wrong_3")


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


@cache
def items() -> dict[str, ChoiceItem]:
    """Return every item by its id, in the order of data/items.csv.

    Raises ValueError that names the item and what is wrong with it.
    """
    found: dict[str, ChoiceItem] = {}
    for row in tables.read("items"):
        id = row["id"]
        if problem := "its id is there twice" if id in found else _problem(row):
            raise ValueError(f'items.csv, item "{id}" ({row["prompt"][:40]}…): {problem}')
        kept = {field.name: row[field.name] for field in fields(ChoiceItem) if field.name in row}
        kept |= {"version": int(row["version"]), "wrong": tuple(row[name] for name in WRONG)}
        found[id] = ChoiceItem(**kept)
    return found


def item(id: str) -> ChoiceItem:
    """Return the item with this id; ValueError with the nearest there is."""
    if id not in items():
        raise ValueError(f"there is no item {id!r} in items.csv{tables.closest(str(id), items())}")
    return items()[id]


def cells() -> dict[str, tuple[ChoiceItem, ...]]:
    """Return the items of every cell, by the cell, for a form to draw from."""
    return {cell: tuple(one for one in items().values() if one.cell == cell) for cell in CELLS}


@cache
def cues(fault: str) -> tuple[Cue, ...]:
    """Return what one may say about a fault: cues that fit, and others.

    Raises ValueError for an unknown fault, or naming a row that is wrong.
    """
    wanted, found = faults.fault(fault).id, {}
    for row in tables.read("cues"):
        cue = Cue(row["fault"], row["words"], row["accepted"] == "yes", row["why"], row["source"])
        known = cue.fault in faults.catalogue() and row["accepted"] in ("yes", "no")
        if not (known and cue.words and cue.why) or (cue.fault, cue.words.casefold()) in found:
            raise ValueError(
                f'cues.csv, "{cue.words}" for "{cue.fault}": give a fault of the catalogue, words '
                'that are there once, accepted "yes" or "no", and why'
            )
        found[cue.fault, cue.words.casefold()] = cue
    return tuple(cue for cue in found.values() if cue.fault == wanted)


def _problem(row: dict[str, str]) -> str:
    """Return what is wrong with a row of items.csv, or ""."""
    if empty := [name for name, text in row.items() if name != "fault" and not text.strip()]:
        return f"nothing in {', '.join(empty)}; only fault may be empty"
    if row["kind"] != "choice":
        return f'the kind is "{row["kind"]}"; this table holds "choice"'
    if not row["version"].isdecimal() or int(row["version"]) < 1:
        return f'the version is "{row["version"]}"; give a whole number from 1'
    for column, known in (("cell", CELLS), ("fault", tuple(faults.catalogue()))):
        if (given := row[column]) and given not in known:
            near = tables.closest(given, known)
            return f'there is no {column} "{given}"{near} There are: {", ".join(known)}'
    if len({row[column].casefold() for column in ("right", *WRONG)}) < 4:
        return "two of its four options say the same"
    return ""
