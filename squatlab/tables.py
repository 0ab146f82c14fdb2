"""Read the tables in ``data``; no row without a source gets in."""

from __future__ import annotations

import csv
import difflib
from collections.abc import Iterable
from functools import cache
from pathlib import Path

G = 9.81
"""Acceleration of free fall, m/s², rounded as is usual [teaching-value]."""

KINDS = ("publication", "standard", "survey", "common-practice", "teaching-value")
"""What a source can be: two of them say that nobody measured the number."""


def folder(name: str) -> Path:
    """Return the folder "data" or "notebooks" that came with squatlab.

    An installed copy holds it inside the package, a checkout beside it.
    Raises ValueError for another name, FileNotFoundError when the copy
    is incomplete.
    """
    if name not in ("data", "notebooks"):
        raise ValueError(f'there is no folder "{name}"; ask for "data" or "notebooks"')
    package = Path(__file__).parent
    for place in (package / name, package.parent / name):
        if place.is_dir():
            return place
    raise FileNotFoundError(
        f'the folder "{name}" is missing from {package} and from {package.parent}; '
        "install squatlab again, or run it from a complete checkout"
    )


@cache
def read(name: str) -> tuple[dict[str, str], ...]:
    """Return the rows of the table ``data/<name>.csv``, cells as text.

    Read once and then remembered: do not change the rows. Raises
    ValueError that names file and line if a row is ragged or its
    ``source`` is empty or not a key of ``data/sources.csv``.
    """
    known = sources()
    path, rows = _open(name)
    for line, row in rows:
        key = row.get("source")
        if not key:
            raise ValueError(
                f"{path.name}, line {line}: no source; every row names a key of sources.csv, "
                '"common-practice" for a rule of the trade or "teaching-value" for a choice of ours'
            )
        if key not in known:
            raise ValueError(
                f'{path.name}, line {line}: the source "{key}" is not in sources.csv; '
                f"add it there{closest(key, known)}"
            )
    return tuple(row for _, row in rows)


@cache
def sources() -> dict[str, str]:
    """Return the citation of every source, by its key.

    Read from ``data/sources.csv``. Raises ValueError if a key stands
    there twice, has no citation or is of an unknown kind.
    """
    path, rows = _open("sources")
    citations: dict[str, str] = {}
    for line, row in rows:
        key = row["key"]
        if not key or not row["citation"]:
            raise ValueError(f"{path.name}, line {line}: give both a key and a citation")
        if key in citations:
            raise ValueError(f'{path.name}, line {line}: "{key}" is there already; keep one row')
        if row["kind"] not in KINDS:
            raise ValueError(
                f'{path.name}, line {line}: the kind "{row["kind"]}" is not one of '
                f"{', '.join(KINDS)}"
            )
        citations[key] = row["citation"]
    return citations


@cache
def value(table: str, **where: str) -> float:
    """Return the one number of a table that fits, in the row's unit.

    For example ``value("bar_positions", name="high", quantity="drop")``.
    Raises ValueError if no row or more than one row fits.
    """
    rows = read(table)
    matching = [row for row in rows if all(row.get(k) == v for k, v in where.items())]
    if len(matching) != 1:
        asked = ", ".join(f'{k} "{v}"' for k, v in where.items())
        present = sorted({", ".join(row.get(k, "no such column") for k in where) for row in rows})
        raise ValueError(
            f"{len(matching)} rows of {table}.csv have {asked}; exactly one must. "
            f"There are: {'; '.join(present)}"
        )
    return float(matching[0]["value"])


def closest(given: str, allowed: Iterable[str]) -> str:
    """Return '; did you mean "…"?' for a slip of the pen, or ''."""
    near = difflib.get_close_matches(given, list(allowed), 1)
    return f'; did you mean "{near[0]}"?' if near else ""


def _open(name: str) -> tuple[Path, list[tuple[int, dict[str, str]]]]:
    path = folder("data") / f"{name}.csv"
    if not path.is_file():
        present = sorted(file.stem for file in path.parent.glob("*.csv"))
        raise ValueError(
            f'there is no table "{name}"{closest(name, present) or "."} '
            f"The tables: {', '.join(present)}"
        )
    with path.open(encoding="utf-8", newline="") as file:
        reader = csv.DictReader(file)
        rows = [(reader.line_num, row) for row in reader]
    for line, row in rows:
        if None in row or None in row.values():
            raise ValueError(
                f"{path.name}, line {line}: not {len(reader.fieldnames or ())} cells, as the first "
                "line has; put quotation marks round a cell that holds a comma"
            )
    return path, rows
