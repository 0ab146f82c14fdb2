"""What observers typed from their sheets: what was seen, and how far they agree."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from squatlab import faults, tables
from squatlab.questions.agreement import cohen_kappa
from squatlab.questions.figure import Figure, none
from squatlab.spreadsheet import read_rows

COLUMNS = ("observer", "lifter", "fault", "size", "first")
SIZES = {word: size for size, name in enumerate(faults.SIZES, 1) for word in (name, name[0])}
FIRST = {"no": False, "0": False, "yes": True, "x": True, "1": True}


class FaultSeen(NamedTuple):
    """Hold how often one fault was seen, and how far observers agree on it.

    ``slight`` to ``first`` count sheets (one observer, one lifter),
    ``lifters`` those in whom anybody saw it. ``alike`` is the share of
    pairs of sheets of the same size, ``kappa`` the same beyond chance.
    """

    fault: str
    slight: int
    clear: int
    gross: int
    first: int
    lifters: int
    alike: float
    kappa: Figure


@dataclass(frozen=True, eq=False)
class Observations:
    """Hold what each observer saw in each lifter.

    ``sizes`` (observer, lifter, fault) is 0 for not there to 3 for gross,
    ``first`` (observer, lifter) the place in the catalogue of the fault
    to fix first, or one past its end for none; both nan where the
    observer did not watch.
    """

    observers: tuple[str, ...]
    lifters: tuple[str, ...]
    sizes: NDArray[np.float64]
    first: NDArray[np.float64]

    def summary(self) -> tuple[FaultSeen, ...]:
        """Return one entry for each fault, in the catalogue's order."""
        return tuple(
            FaultSeen(
                fault,
                *(int((sizes == size).sum()) for size in (1, 2, 3)),
                int((self.first == place).sum()),
                int((sizes > 0).any(axis=0).sum()),
                *agreement(sizes, 4, "linear"),
            )
            for place, fault in enumerate(faults.catalogue())
            for sizes in (self.sizes[..., place],)
        )

    def __str__(self) -> str:
        seen = [row for row in self.summary() if row.lifters]
        rows = [(faults.fault(row.fault).name, *row[1:]) for row in seen]
        rows.append(
            ("which to fix first", *[""] * 5, *agreement(self.first, self.sizes.shape[2] + 1))
        )
        widest = max(len(row[0]) for row in rows)
        lines = [f"{'':{widest}} slight clear gross first lifters alike kappa"]
        for name, slight, clear, gross, first, lifters, alike, kappa in rows:
            likeness = f"{100 * alike:4.0f}% {kappa:5.2f}".replace("nan", "  –")
            likeness = kappa.reason if np.isnan(alike) else likeness
            lines.append(
                f"{name:{widest}} {slight:6} {clear:5} {gross:5} {first:5} {lifters:7} {likeness}"
            )
        unseen = [faults.fault(r.fault).name for r in self.summary() if not r.lifters]
        lines += [f"Seen by nobody: {', '.join(unseen)}."] if unseen else []
        return "\n".join(lines)


def agreement(
    given: NDArray[np.float64], categories: int, weights: str | None = None
) -> tuple[float, Figure]:
    """Return the share alike and the kappa of observers (observer, case).

    ``given`` is 0, 1, … below ``categories``, nan for not watched. Kappa
    is the mean of Cohen's over the pairs of observers [light1971]; pairs
    that have none are left out, nan with the reason if all are.
    """
    both = [np.array(pair)[:, ~np.isnan(pair).any(axis=0)] for pair in combinations(given, 2)]
    pairs = [pair for pair in both if pair.size]
    if not pairs:
        return np.nan, none("no lifter was watched by two observers")
    edges = np.arange(categories + 1)
    kappas = [cohen_kappa(np.histogram2d(*pair, edges)[0], weights) for pair in pairs]
    alike = float(np.mean(np.concatenate([one == other for one, other in pairs])))
    numbers = [kappa for kappa in kappas if not np.isnan(kappa)]
    return alike, Figure(np.mean(numbers)) if numbers else kappas[0]


def read_observations(path: str | Path, lifters: Collection[str] = ()) -> Observations:
    """Read marks typed from observation sheets, one row for each tick.

    Columns observer, lifter, fault (name or id), size (slight, clear,
    gross or S, C, G), first (x). A row without fault says that nothing
    was seen. ``lifters``, if given, are the only names there may be.
    Raises ValueError that lists every mistake by row and column.
    """
    ids = {n.casefold(): f.id for f in faults.catalogue().values() for n in (f.id, f.name)}
    names = {name.casefold(): name for name in lifters}
    allowed = {"lifter": tuple(names), "fault": ids, "size": SIZES, "first": FIRST}
    sheets: dict[tuple[str, ...], dict[str, tuple[int, int, bool]]] = {}
    problems: list[str] = []
    for number, row in read_rows(path, COLUMNS[:3], COLUMNS[3:]):
        cells = {column: row.get(column, "").casefold() for column in COLUMNS}
        wrong = _mistakes(cells, allowed)
        fault, size = ids.get(cells["fault"], ""), SIZES.get(cells["size"], 0)
        first = FIRST.get(cells["first"], False)
        who = tuple(names.setdefault(cells[column], row[column]) for column in COLUMNS[:2])
        sheet = sheets.setdefault(who, {})
        for other, (earlier, _, ticked) in sheet.items():
            if other == fault or not (fault and other):
                wrong["fault"] = f"does not go with row {earlier}; keep one of them"
            elif ticked and first:
                wrong["first"] = f"is ticked in row {earlier} too; one a lifter is fixed first"
        sheet.setdefault(fault, (number, size, first))
        problems += [f"row {number}, column {column}: {words}" for column, words in wrong.items()]
    if problems or not sheets:
        words = problems or ["no marks; type one row for each tick"]
        raise ValueError(f"{Path(path).name}: " + "\n".join(words))
    order = list(faults.catalogue())
    observers, watched = (tuple(dict.fromkeys(column)) for column in zip(*sheets, strict=True))
    sizes = np.full((len(observers), len(watched), len(order)), np.nan)
    firsts = np.full(sizes.shape[:2], np.nan)
    for (observer, lifter), sheet in sheets.items():
        at = observers.index(observer), watched.index(lifter)
        sizes[at] = [sheet.get(fault, (0, 0))[1] for fault in order]
        ticked = [order.index(fault) for fault, (*_, first) in sheet.items() if first]
        firsts[at] = ticked[0] if ticked else len(order)
    return Observations(observers, watched, sizes, firsts)


def _mistakes(cells: dict[str, str], allowed: dict[str, Collection[str]]) -> dict[str, str]:
    """Return what is wrong with one row by itself, by column."""
    wrong = {column: "is empty; give a name" for column in COLUMNS[:2] if not cells[column]}
    for column, words in allowed.items():
        if cells[column] and words and cells[column] not in words:
            near = tables.closest(cells[column], words) or f" of {', '.join(words)}"
            wrong[column] = f"“{cells[column]}” is not one{near}"
    ticked = FIRST.get(cells["first"]) and not cells["fault"]
    if ticked or bool(cells["fault"]) != bool(cells["size"]):
        wrong.setdefault("size", "goes with a fault: give both, or neither if nothing was seen")
    return wrong
