"""Findings that often share a cause: said beside the ranking, not instead."""

from __future__ import annotations

from collections.abc import Collection
from typing import NamedTuple

from squatlab import faults, tables


class Cause(NamedTuple):
    """Hold the faults there are of one cause, what is often so, a check."""

    faults: tuple[str, ...]
    sentence: str
    check: str

    def __str__(self) -> str:
        names = ", ".join(faults.fault(name).name for name in self.faults)
        return f"{names}: {self.sentence} Check: {self.check}"


def shared(present: Collection[str]) -> tuple[Cause, ...]:
    """Return what the faults present may have in common [common-practice].

    Causes are rows of data/causes.csv: a set of faults, and how many of
    them must be there. Raises ValueError if a row names an unknown fault.
    """
    found = []
    for row in tables.read("causes"):
        there = tuple(
            name for name in row["faults"].split() if faults.fault(name).id in set(present)
        )
        if len(there) >= int(row["least"]):
            found.append(Cause(there, row["sentence"], row["check"]))
    return tuple(found)


def consequences() -> tuple[tuple[str, str], ...]:
    """Return pairs of a fault and one that it brings, which waits for it."""
    pairs = []
    for row in tables.read("causes"):
        for pair in row["brings"].split():
            cause, consequence = pair.split(">")
            pairs.append((faults.fault(cause).id, faults.fault(consequence).id))
    return tuple(pairs)
