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

COLUMN = re.compile(r"(?P<point>\w+)_(?P<axis>[xyz])(?:_(?P<unit>m|cm|mm|px))?")


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
        line = file.readline(1_000_000).rstrip("\r\n")
    separator = max(",;\t", key=line.count)
    columns = [name.strip().lower() for name in next(csv.reader([line], delimiter=separator), [])]
    while columns and not columns[-1]:
        columns.pop()
    if len(columns) < 2:
        raise TracksError(
            f"the first line has {len(columns)} columns; it must name time_s and then two or three "
            "columns for each point, such as hip_r_x and hip_r_y, separated by commas"
        )
    twice = sorted({name for name in columns if columns.count(name) > 1})
    if twice:
        raise TracksError(f"the first line names a column twice: {', '.join(twice[:LISTED])}")
    if TIME not in columns:
        raise TracksError(
            f"there is no column {TIME}{tables.closest(TIME, columns)} The first column must be "
            "the time of each frame in seconds"
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
