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

WHO = ("observer", "lifter")
"""The columns that say whose sheet a row is from."""

COLUMNS = (*WHO, "fault", "size", "first")

SIZES = {word: size for size, name in enumerate(faults.SIZES, 1) for word in (name, name[0])}
"""What may be typed for a size, from 1 for slight: the word, or its first letter."""

FIRST = {"no": False, "0": False, "yes": True, "x": True, "1": True}
"""What may be typed for a fault to fix first."""


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
        return tuple(self._seen(place, fault) for place, fault in enumerate(faults.catalogue()))

    def _seen(self, place: int, fault: str) -> FaultSeen:
        """Count how often the fault at a place in the catalogue was seen."""
        sizes = self.sizes[..., place]
        # Linear weights: slight for clear is half as bad as slight for gross.
        likeness = agreement(sizes, len(faults.SIZES) + 1, "linear")
        slight, clear, gross = (int((sizes == size).sum()) for size in (1, 2, 3))
        return FaultSeen(
            fault=fault,
            slight=slight,
            clear=clear,
            gross=gross,
            first=int((self.first == place).sum()),
            lifters=int((sizes > 0).any(axis=0).sum()),
            alike=likeness.alike,
            kappa=likeness.kappa,
        )

    def __str__(self) -> str:
        summary = self.summary()
        names = {row.fault: faults.fault(row.fault).name for row in summary}
        which_first = "which to fix first"
        # As wide as the longest name shown: the table must fit a small screen.
        shown = [which_first, *(names[row.fault] for row in summary if row.lifters)]
        widest = max(map(len, shown))
        lines = [f"{'':{widest}} slight clear gross first lifters alike kappa"]
        seen_by_nobody = []
        for seen in summary:
            if not seen.lifters:
                seen_by_nobody.append(names[seen.fault])
                continue
            likeness = ObserversAgreement(seen.alike, seen.kappa)
            lines.append(
                f"{names[seen.fault]:{widest}} {seen.slight:6} {seen.clear:5} {seen.gross:5} "
                f"{seen.first:5} {seen.lifters:7} {likeness}"
            )
        likeness = agreement(self.first, self.sizes.shape[2] + 1)
        lines.append(f"{which_first:{widest + 33}} {likeness}")
        if seen_by_nobody:
            lines.append(f"Seen by nobody: {', '.join(seen_by_nobody)}.")
        return "\n".join(lines)


class ObserversAgreement(NamedTuple):
    """Hold the share of pairs of sheets that are alike, and the same beyond chance."""

    alike: float
    kappa: Figure

    def __str__(self) -> str:
        if np.isnan(self.alike):
            return self.kappa.reason
        return f"{100 * self.alike:4.0f}% {self.kappa:5.2f}".replace("nan", "  –")


def agreement(
    given: NDArray[np.float64], categories: int, weights: str | None = None
) -> ObserversAgreement:
    """Return the share alike and the kappa of observers (observer, case).

    ``given`` is 0, 1, … below ``categories``, nan for not watched. Kappa
    is the mean of Cohen's over the pairs of observers [light1971]; pairs
    that have none are left out, nan with the reason if all are.
    """
    alike: list[NDArray[np.bool_]] = []
    kappas: list[Figure] = []
    edges = np.arange(categories + 1)
    for one, other in combinations(given, 2):
        both_watched = ~(np.isnan(one) | np.isnan(other))
        if both_watched.any():
            alike.append(one[both_watched] == other[both_watched])
            counts, _, _ = np.histogram2d(one[both_watched], other[both_watched], edges)
            kappas.append(cohen_kappa(counts, weights))
    if not kappas:
        return ObserversAgreement(np.nan, none("no lifter was watched by two observers"))
    known = [kappa for kappa in kappas if not np.isnan(kappa)]
    mean = Figure(np.mean(known)) if known else kappas[0]
    return ObserversAgreement(float(np.mean(np.concatenate(alike))), mean)


class _Tick(NamedTuple):
    """Hold one row: where it stands, the fault's size, and whether to fix it first."""

    row: int
    size: int
    first: bool


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
    # By (observer, lifter), and within a sheet by fault; "" is the row that nothing was seen.
    sheets: dict[tuple[str, str], dict[str, _Tick]] = {}
    problems: list[str] = []
    for number, row in read_rows(path, COLUMNS[:3], COLUMNS[3:]):
        cells = {column: row.get(column, "").casefold() for column in COLUMNS}
        mistakes = _mistakes(cells, allowed)
        fault = ids.get(cells["fault"], "")
        tick = _Tick(number, SIZES.get(cells["size"], 0), FIRST.get(cells["first"], False))
        # Whoever is named first is so in every row, whatever the capitals.
        observer, lifter = (names.setdefault(cells[column], row[column]) for column in WHO)
        sheet = sheets.setdefault((observer, lifter), {})
        mistakes |= _contradictions(sheet, fault, tick)
        sheet.setdefault(fault, tick)
        problems += [
            f"row {number}, column {column}: {words}" for column, words in mistakes.items()
        ]
    if not (problems or sheets):
        problems = ["no marks; type one row for each tick"]
    if problems:
        raise ValueError(f"{Path(path).name}: " + "\n".join(problems))
    return _observations(sheets)


def _observations(sheets: dict[tuple[str, str], dict[str, _Tick]]) -> Observations:
    """Return the sheets of observers and lifters as arrays."""
    order = list(faults.catalogue())
    observers = list(dict.fromkeys(observer for observer, _ in sheets))
    lifters = list(dict.fromkeys(lifter for _, lifter in sheets))
    sizes = np.full((len(observers), len(lifters), len(order)), np.nan)
    first = np.full(sizes.shape[:2], np.nan)
    for (observer, lifter), sheet in sheets.items():
        at = observers.index(observer), lifters.index(lifter)
        sizes[at] = [sheet[fault].size if fault in sheet else 0 for fault in order]
        ticked = [order.index(fault) for fault, tick in sheet.items() if tick.first]
        first[at] = ticked[0] if ticked else len(order)
    return Observations(tuple(observers), tuple(lifters), sizes, first)


def _contradictions(sheet: dict[str, _Tick], fault: str, tick: _Tick) -> dict[str, str]:
    """Return what of a row does not go with earlier rows of its sheet, by column."""
    mistakes = {}
    for other, earlier in sheet.items():
        # The same fault twice, or a fault and that nothing was seen.
        if other == fault or not (fault and other):
            mistakes["fault"] = f"does not go with row {earlier.row}; keep one of them"
        elif earlier.first and tick.first:
            mistakes["first"] = f"is ticked in row {earlier.row} too; one a lifter is fixed first"
    return mistakes


def _mistakes(cells: dict[str, str], allowed: dict[str, Collection[str]]) -> dict[str, str]:
    """Return what is wrong with one row by itself, by column."""
    mistakes = {column: "is empty; give a name" for column in WHO if not cells[column]}
    for column, words in allowed.items():
        if cells[column] and words and cells[column] not in words:
            near = tables.closest(cells[column], words) or f" of {', '.join(words)}"
            mistakes[column] = f"“{cells[column]}” is not one{near}"
    is_first_without_fault = FIRST.get(cells["first"]) and not cells["fault"]
    if is_first_without_fault or bool(cells["fault"]) != bool(cells["size"]):
        mistakes.setdefault("size", "goes with a fault: give both, or neither if nothing was seen")
    return mistakes
