"""The first line of a CSV file of tracks: which column is what."""

from __future__ import annotations

import csv
import re
from pathlib import Path
from typing import NamedTuple

from squatlab import tables
from squatlab.tracks.tracks import TracksError

TIME = "time_s"

LISTED = 5
"""Faults of a kind that a message lists."""

CLOCK = re.compile(r"time(?:[ _(\[]+s(?:ec(?:onds)?)?[)\]]?)?")
"""Other spellings of the time column; one in ms is none."""

COLUMN = re.compile(
    r"(?P<point>\w[\w .:-]*?)[ _.:-]{1,2}(?P<axis>[xyz])(?:[ _(\[]+(?P<unit>m|cm|mm|px)[)\]]?)?"
)
"""A point's column: hip_r_x, "RHip X", "Right hip.x (mm)", in small letters."""


class Heading(NamedTuple):
    """Hold a file's columns: points, axes, unit if named, and where each is.

    ``order`` numbers the columns point by point, axis by axis.
    """

    columns: list[str]
    points: list[str]
    axes: str
    unit: str | None
    order: list[int]
    separator: str


def read_heading(path: Path) -> Heading:
    """Return what the first line of a file says. Raises TracksError."""
    with path.open(encoding="utf-8-sig") as file:
        given, separator = _cells(file.readline(1_000_000))
    columns = [name.lower() for name in given]
    clocks = [name for name in columns if CLOCK.fullmatch(name)]
    if TIME not in columns and len(clocks) == 1:
        columns[columns.index(clocks[0])] = TIME
    row, below = likely_heading(path) if TIME not in columns else (1, [])
    if row > 1 and any(CLOCK.fullmatch(name.lower()) for name in below):
        raise TracksError(
            f"line {row} looks like the heading ({', '.join(below[:LISTED])} …); it must be the "
            "first: take out the lines above it"
        )
    if len(columns) < 2:
        raise TracksError(
            f"the first line has {len(columns) or 'no'} column; it must name time_s and then two "
            "or three columns for each point, such as hip_r_x and hip_r_y, separated by commas"
        )
    twice = sorted({name for name in columns if columns.count(name) > 1})
    if twice:
        raise TracksError(f"the first line names a column twice: {', '.join(twice[:LISTED])}")
    if TIME not in columns:
        near = ", ".join(name for name in given if name.lower().startswith("time"))
        rename = near and f"; if it is one of these, rename it to {TIME}: {near}."
        raise TracksError(
            f"there is no column {TIME}{rename or tables.closest(TIME, columns) or '.'} The first "
            "column must be the time of each frame in seconds"
        )
    places: dict[str, dict[str, int]] = {}
    units = set()
    for number, name in enumerate(columns):
        if name == TIME:
            continue
        match = COLUMN.fullmatch(name)
        if match is None:
            raise TracksError(
                f'column {number + 1} is called "{name}"; a column is <point>_<axis>, such as '
                "hip_r_x. Take out columns that are no positions"
            )
        units.add(match["unit"])
        axis = places.setdefault(match["point"], {})
        if match["axis"] in axis:
            raise TracksError(f"there are two columns for {match['point']}_{match['axis']}")
        axis[match["axis"]] = number
    if len(units) > 1:
        given = ", ".join(sorted(unit or "none" for unit in units))
        raise TracksError(f"the headings name different units ({given}); use one throughout")
    axes = "xyz" if any("z" in axis for axis in places.values()) else "xy"
    lacking = [f"{point}_{axis}" for point in places for axis in axes if axis not in places[point]]
    if lacking:
        raise TracksError(
            f"columns are missing: {', '.join(lacking[:LISTED])}; every point needs x and y, or "
            "every point x, y and z"
        )
    order = [places[point][axis] for point in places for axis in axes]
    return Heading(columns, list(places), axes, units.pop(), order, separator)


def likely_heading(path: Path) -> tuple[int, list[str]]:
    """Return the row (from 1, 0: none) that looks like a heading, and its cells.

    Of the first lines the one with a time column, else the first with two cells.
    """
    with path.open(encoding="utf-8-sig") as file:
        rows = [_cells(file.readline(100_000))[0] for _ in range(20)]
    wide = [row for row, cells in enumerate(rows, 1) if len(cells) > 1]
    timed = [row for row in wide if any(CLOCK.fullmatch(c.lower()) for c in rows[row - 1])]
    row = min(timed or wide, default=0)
    return row, rows[row - 1] if row else []


def _cells(line: str) -> tuple[list[str], str]:
    """Return a line's cells, empty ones at the end left out, and what parts them."""
    separator = max(",;\t", key=line.count)
    row = next(csv.reader([line.rstrip("\r\n")], delimiter=separator), [])
    cells = [cell.strip() for cell in row]
    while cells and not cells[-1]:
        cells.pop()
    return cells, separator
