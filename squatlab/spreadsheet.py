"""Read the CSV files that people type, and say what is wrong row by row."""

from __future__ import annotations

import csv
import io
from collections.abc import Collection, Mapping
from pathlib import Path

from squatlab import storage, tables

LONGEST = 20_000_000
"""No sheet that people type is longer, in bytes."""

REST = "after the last"
"""The column of what stands beyond the heading."""


def read_rows(
    path: str | Path,
    required: Collection[str],
    optional: Collection[str] = (),
    other_headings: Mapping[str, str] | None = None,
    measured: Collection[str] = (),
) -> list[tuple[int, dict[str, str]]]:
    """Return (row number, cell by column) of each row; the heading is row 1.

    Commas, semicolons or tabs; capitals and spaces in the heading do not
    matter; empty rows, and empty columns after the last, are skipped;
    ``other_headings`` gives our column for another word. The heading of a
    ``measured`` column may end in a unit in brackets, "Weight (lb)"; every
    row has it as `unit_of` that column. Raises ValueError for what is no
    UTF-8 text, and for a column that is lacking, unknown or there twice.
    """
    path = Path(path)
    lines = _lines(path)
    delimiter = _delimiter(lines)
    try:
        heading, *rows = csv.reader(lines, delimiter=delimiter)
    except csv.Error as error:
        raise ValueError(f"{path.name} is no plain CSV ({error}); save the sheet again") from None
    while heading and not heading[-1].strip():
        heading.pop()  # spreadsheets write columns that once held something
    parted = [_named_and_unit(cell) for cell in heading]
    heading = [(other_headings or {}).get(column, column) for column, _ in parted]
    units = {}
    for number, (column, (_, unit)) in enumerate(zip(heading, parted, strict=True)):
        if unit and column in measured:
            units[unit_of(column)] = unit
        elif unit:  # no unit, but a part of a name that is not known
            heading[number] = f"{column}_({unit})"
    _check(path.name, heading, required, optional)
    numbered_rows = []
    for number, cells in enumerate(rows, start=2):
        stripped = [cell.strip() for cell in cells]
        row = dict(zip(heading, stripped, strict=False)) | dict.fromkeys(heading[len(cells) :], "")
        rest = stripped[len(heading) :]
        if any(rest):
            row[REST] = delimiter.join(rest)
        if any(row.values()):
            numbered_rows.append((number, row | units))
    return numbered_rows


def unit_of(column: str) -> str:
    """Return where a row has the unit that the heading of a column says."""
    return f"{column} in"


def _named_and_unit(cell: str) -> tuple[str, str]:
    """Return a cell of the heading in our spelling, and the unit in brackets behind it."""
    name, _, unit = cell.strip().lower().removesuffix(")").removesuffix("]").partition("(")
    if not unit:
        name, _, unit = name.partition("[")
    return name.strip().replace(" ", "_"), unit.strip()


def without_rows(path: str | Path, numbers: Collection[int]) -> str:
    """Return the text of a sheet without some rows, the rest as it was.

    ``numbers`` are those that `read_rows` gives. Raises ValueError as there.
    """
    lines = _lines(Path(path))
    rows = csv.reader(lines, delimiter=_delimiter(lines))
    kept: list[str] = []
    first_line = 0
    for number, _ in enumerate(rows, start=1):
        # A cell in quotes may hold line ends, so a row can be several lines of the file.
        if number not in numbers:
            kept += lines[first_line : rows.line_num]
        first_line = rows.line_num
    return "".join(kept)


def _lines(path: Path) -> list[str]:
    """Return the lines of a sheet with their ends; ValueError for no text or no heading."""
    try:
        text = storage.read(path, LONGEST).decode("utf-8-sig")
    except UnicodeDecodeError:
        raise ValueError(
            f"{path.name} is not UTF-8 text; save the sheet as “CSV UTF-8” and read it again"
        ) from None
    # Only these end a line: within a cell there may be others.
    lines = io.StringIO(text, newline="").readlines()
    if not (lines and lines[0].strip()):
        raise ValueError(f"{path.name} has no heading; the first row names the columns")
    return lines


def _delimiter(lines: list[str]) -> str:
    """Return what parts the cells: the one of the three that the heading has most of."""
    return max(",;\t", key=lines[0].count)


def _check(
    file: str, heading: list[str], required: Collection[str], optional: Collection[str]
) -> None:
    known = [*required, *optional]
    for column in heading:
        if column not in known:
            raise ValueError(
                f"{file}: the column “{column}” is not known{tables.closest(column, known) or '.'} "
                f"There may be {', '.join(known)}"
            )
        if heading.count(column) > 1:
            raise ValueError(f"{file} has the column “{column}” twice; delete one")
    for column in required:
        if column not in heading:
            raise ValueError(f"{file} has no column “{column}”; needed are {', '.join(required)}")
