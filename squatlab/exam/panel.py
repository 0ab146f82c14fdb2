"""What a panel of judges expects of just-able candidates, as they typed it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np

from squatlab.exam.cut_scores import CutScore, angoff, ebel
from squatlab.spreadsheet import read_rows

EBEL = ("relevance", "difficulty", "share", "count")


class Panel(NamedTuple):
    """Hold a panel's ratings, sum by judge, and the cut they give."""

    judges: tuple[str, ...]
    sums: tuple[float, ...]
    cut: CutScore


def read_angoff(path: str | Path, items: Sequence[str]) -> Panel:
    """Read ratings: a row a judge, a column an item, percent or share.

    ``items`` are those that certify; each needs a rating from each judge.
    Raises ValueError that names row and column.
    """
    name = Path(path).name
    rows = read_rows(path, ["judge", *items])
    table = []
    for number, row in rows:
        table.append([_share(name, number, item, row[item]) for item in items])
    if not table:
        raise ValueError(f"{name} has no judge; type one row for each")
    judges = tuple(row["judge"] for _, row in rows)
    return Panel(judges, tuple(map(float, np.sum(table, axis=1))), angoff(table))


def read_ebel(path: str | Path) -> CutScore:
    """Read a table of relevance, difficulty, share and count of items.

    Every pair of relevance and difficulty has one row. Raises ValueError
    that names the row.
    """
    name, found = Path(path).name, {}
    for number, row in read_rows(path, EBEL):
        pair = row["relevance"], row["difficulty"]
        if pair in found or not row["count"].isdecimal():
            raise ValueError(
                f"{name}, row {number}: give each relevance and difficulty once, with a whole "
                "count of items"
            )
        found[pair] = _share(name, number, "share", row["share"]), int(row["count"])
    if not found:
        raise ValueError(f"{name} has no rows; type one for each relevance and difficulty")
    relevance, difficulty = (tuple(dict.fromkeys(part)) for part in zip(*found, strict=True))
    missing = [pair for r in relevance for d in difficulty if (pair := (r, d)) not in found]
    if missing:
        raise ValueError(f"{name}: there is no row for {' and '.join(missing[0])}")
    cells = np.array([[found[r, d] for d in difficulty] for r in relevance])
    return ebel(cells[..., 0], cells[..., 1])


def _share(name: str, number: int, column: str, typed: str) -> float:
    try:
        value = float(typed.replace("%", "").replace(",", "."))
    except ValueError:
        value = np.nan
    value = value / 100 if value > 1 or "%" in typed else value
    if not 0 <= value <= 1:
        raise ValueError(
            f"{name}, row {number}, column {column}: “{typed}” is no share; of a hundred just-able "
            "candidates, how many get it right? Write 70 or 0.70"
        )
    return value
