"""The CSV file of tracks: its heading, its numbers, and the side file that explains them.

Columns are time_s and <point>_<axis>; beside them <name>.schema.json, a Table
Schema, says view, unit, axes, rate and scale. Here stand plain arrays and words;
`squatlab.tracks.Tracks` checks them.
"""

from __future__ import annotations

import contextlib
import csv
import json
import re
import sys
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from itertools import chain, islice
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from squatlab import storage, tables
from squatlab.ranges import shown
from squatlab.tracks.points import LEAST_SCORE, Argument, TracksError

CHUNK = 5_000_000
"""Cells parsed at once: a long file never stands twice in memory."""

TOO_LARGE = "this is more than fits into memory; cut the recording and read each part by itself"

TIME = "time_s"

LONGEST_HEADING = 2_000_000
"""Characters of the first line that are read: 100,000 columns have fewer."""

MOST_CELLS = 1_000_000_000
"""Rows times columns that are taken into memory, 8 GB [teaching-value]."""

SHEET_COLUMNS = 16_384
"""No spreadsheet has more columns, so none writes more empty ones."""

LISTED = 5
"""Faults of a kind that a message lists."""

CLOCK = re.compile(r"time(?:[ _(\[]+s(?:ec(?:onds)?)?[)\]]?)?")
"""Other spellings of the time column."""

CLOCK_MS = re.compile(r"time(?:stamp)?[ _(\[]+m(?:illi)?s(?:ec(?:onds)?)?[)\]]?")
"""A time column in milliseconds."""

FRAME = re.compile(r"(?:frame|picture)s?(?:[ _]?(?:nr|no|number|index))?\.?")
"""A column that numbers the frames, in place of their times."""

COLUMN = re.compile(
    r"(?P<point>\w[\w .:-]*?)[ _.:-]{1,2}(?P<axis>[xyz])(?:[ _(\[]+(?P<unit>m|cm|mm|px)[)\]]?)?",
    re.IGNORECASE,
)
"""A point's column: hip_r_x, "RHip X", "HipRight_x", "Right hip.x (mm)"."""

SCORE = re.compile(
    r"(?P<point>\w[\w .:-]*?)[ _.:-]{1,2}"
    r"(?:visibility|presence|confidence|conf|score|likelihood|prob)",
    re.IGNORECASE,
)
"""A column that says how sure a program is of a point, 0 to 1."""


class Heading(NamedTuple):
    """Hold a file's columns: points, axes, unit if named, and where each is.

    ``order`` numbers the columns point by point, axis by axis; ``scores``
    gives the column of a point's score by the point's place, for those that
    have one. A number of the time column is ``tick_s`` seconds. With
    ``counts_frames`` that column numbers frames instead. Columns are in
    small letters, points as the file spells them. ``notes`` says what is
    not taken as it stands.
    """

    columns: list[str]
    points: list[str]
    axes: str
    unit: str | None
    order: list[int]
    separator: str
    scores: dict[int, int]
    tick_s: float = 1.0
    counts_frames: bool = False
    notes: tuple[str, ...] = ()


class ClockColumn(NamedTuple):
    """Hold a heading's columns, in small letters, with its clock as TIME.

    A number of the clock is ``tick_s`` seconds; with ``counts_frames`` it
    numbers frames instead.
    """

    columns: list[str]
    tick_s: float = 1.0
    counts_frames: bool = False


class PointColumns(NamedTuple):
    """Hold where a heading has each point.

    ``places`` gives the number of a column by axis, by point in small
    letters; ``spelling`` how the file writes a point; ``scores`` the
    column of a point's score, by point. ``unit`` is None if none is named.
    """

    places: dict[str, dict[str, int]]
    spelling: dict[str, str]
    scores: dict[str, int]
    unit: str | None


def read_heading(path: Path) -> Heading:
    """Return what the first line of a file says. Raises TracksError."""
    with path.open(encoding="utf-8-sig") as file:
        given, separator = _cells(file.readline(LONGEST_HEADING))
    clock = _clock_column([name.lower() for name in given])
    _check_columns(path, given, clock.columns)
    points = _point_columns(given, clock.columns)
    axes = "xyz" if any("z" in axis for axis in points.places.values()) else "xy"
    notes = []
    if points.scores:
        notes.append(f"Points with a score below {LEAST_SCORE:g} count as not seen.")
        if axes == "xyz":
            # A program that scores its points looks at one picture: its z is a guess, in no unit.
            axes = "xy"
            notes.append("z is an estimate from one picture, not a measurement; it was left out.")
    if clock.tick_s != 1.0:
        notes.append("The times were in milliseconds and were converted to s.")
    places = points.places
    lacking = [f"{point}_{axis}" for point in places for axis in axes if axis not in places[point]]
    if lacking:
        raise TracksError(
            f"columns are missing: {', '.join(lacking[:LISTED])}; every point needs x and y, or "
            "every point x, y and z"
        )
    scores = {
        number: points.scores[point]
        for number, point in enumerate(places)
        if point in points.scores
    }
    return Heading(
        columns=clock.columns,
        points=[points.spelling[point] for point in places],
        axes=axes,
        unit=points.unit,
        order=[places[point][axis] for point in places for axis in axes],
        separator=separator,
        scores=scores,
        tick_s=clock.tick_s,
        counts_frames=clock.counts_frames,
        notes=tuple(notes),
    )


def _clock_column(columns: list[str]) -> ClockColumn:
    """Return the columns with the one that tells the time called TIME.

    Seconds in another spelling, else milliseconds, else numbered frames;
    the columns as they are where none or several could be meant.
    """
    if TIME in columns:
        return ClockColumn(columns)
    for spelling, tick_s, counts_frames in (
        (CLOCK, 1.0, False),
        (CLOCK_MS, 0.001, False),
        (FRAME, 1.0, True),
    ):
        likely = [name for name in columns if spelling.fullmatch(name)]
        if len(likely) == 1:
            renamed = [TIME if name == likely[0] else name for name in columns]
            return ClockColumn(renamed, tick_s, counts_frames)
    return ClockColumn(columns)


def _check_columns(path: Path, given: list[str], columns: list[str]) -> None:
    """Raise TracksError for a first line that is no heading of ours."""
    row, below = likely_heading(path) if TIME not in columns else (1, [])
    clocks = (CLOCK, CLOCK_MS, FRAME)
    if row > 1 and any(clock.fullmatch(name.lower()) for name in below for clock in clocks):
        raise TracksError(
            f"line {row} looks like the heading ({', '.join(below[:LISTED])} …); it must be the "
            "first: take out the lines above it"
        )
    if len(columns) < 2:
        raise TracksError(
            f"the first line has {len(columns) or 'no'} column; it must name time_s and then two "
            "or three columns for each point, such as hip_r_x and hip_r_y, separated by commas"
        )
    twice = sorted(name for name, count in Counter(columns).items() if count > 1)
    if twice:
        raise TracksError(f"the first line names a column twice: {', '.join(twice[:LISTED])}")
    if TIME not in columns:
        near = ", ".join(name for name in given if name.lower().startswith("time"))
        rename = near and f"; if it is one of these, rename it to {TIME}: {near}."
        raise TracksError(
            f"there is no column {TIME}{rename or tables.closest(TIME, columns) or '.'} The first "
            "column must be the time of each frame in seconds"
        )


def _point_columns(given: list[str], columns: list[str]) -> PointColumns:
    """Return where each point is, from the cells of a heading as spelt.

    Raises TracksError for a column of neither a point nor a score, two
    columns for one axis, and points in different units.
    """
    places: dict[str, dict[str, int]] = {}
    spelling: dict[str, str] = {}
    scores: dict[str, int] = {}
    units = set()
    for number, (name, cell) in enumerate(zip(columns, given, strict=True)):
        if name == TIME or FRAME.fullmatch(name):
            continue
        if score := SCORE.fullmatch(cell):
            scores[score["point"].lower()] = number
            continue
        match = COLUMN.fullmatch(cell)
        if match is None:
            raise TracksError(
                f'column {number + 1} is called "{name}"; a column is <point>_<axis>, such as '
                "hip_r_x. Take out columns that are no positions"
            )
        units.add(match["unit"] and match["unit"].lower())
        point, axis = match["point"].lower(), match["axis"].lower()
        spelling.setdefault(point, match["point"])
        if axis in places.setdefault(point, {}):
            raise TracksError(f"there are two columns for {point}_{axis}")
        places[point][axis] = number
    if len(units) > 1:
        named = ", ".join(sorted(unit or "none" for unit in units))
        raise TracksError(f"the headings name different units ({named}); use one throughout")
    return PointColumns(places, spelling, scores, unit=units.pop() if units else None)


def times_of(
    heading: Heading, counted: NDArray[np.float64], rate: float | None
) -> NDArray[np.float64]:
    """Return the times (time,) of frames, s: as they are, or numbers by the rate.

    Raises TracksError for numbered frames without a rate.
    """
    if not heading.counts_frames:
        return counted * heading.tick_s
    if not rate:
        raise TracksError(
            "the frames are numbered, and nothing says when they were; give the frame rate: the "
            "pictures per second of the video, ",
            Argument("rate", (60,)),
        )
    return counted / rate


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


SCHEMA = "https://datapackage.org/profiles/2.0/tableschema.json"

ARGUMENTS = {
    "view": ("view", str),
    "units": ("units", str),
    "axes": ("axes", str),
    "rate_hz": ("rate", float),
    "scale_px_per_m": ("scale_px_per_m", float),
    "source": ("source", str),
    "notes": ("notes", list),
}
"""What the side file says beyond the columns, and what `receive` calls it."""


def schema_path(path: str | Path) -> Path:
    """Return where the side file of a CSV file is: <name>.schema.json."""
    return Path(path).with_suffix(".schema.json")


def _schema(columns: list[str], meaning: dict[str, Any]) -> str:
    """Return the side file of a CSV file, which says what its columns mean."""
    fields = [
        {"name": TIME, "type": "number", "unit": "s", "constraints": {"required": True}},
        *({"name": name, "type": "number", "unit": meaning["units"]} for name in columns[1:]),
    ]
    schema = {"$schema": SCHEMA, "fields": fields, "missingValues": [""], "squatlab": meaning}
    return json.dumps(schema, indent=1, ensure_ascii=False) + "\n"


def read_schema(path: Path, heading: Heading) -> dict[str, Any]:
    """Return what a CSV file's side file says, as arguments of `receive`.

    Empty if there is none. Raises TracksError if it is no Table Schema,
    or belongs to other columns.
    """
    side = schema_path(path)
    if not side.exists():
        return {}
    try:
        schema = json.loads(storage.read(side))
        units = {str(field["name"]).lower(): field.get("unit") for field in schema["fields"]}
        given = dict(schema.get("squatlab", {}))
    except OSError as error:
        raise TracksError(
            f"the side file {side.name} cannot be read ({error.strerror or error}); take it away "
            "and declare view and units when reading"
        ) from error
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise TracksError(
            f'the side file {side.name} is not a Table Schema with "fields" ({shown(error)}); fix '
            "it, or take it away and declare view and units when reading"
        ) from error
    absent = sorted(set(units) - set(heading.columns))
    if absent:
        raise TracksError(
            f"the side file {side.name} describes columns that are not there: "
            f"{', '.join(absent[:LISTED])}; it may belong to another file"
        )
    meaning = _arguments(given, side.name)
    named = {str(unit) for name, unit in units.items() if name != TIME and unit is not None}
    named |= {meaning["units"]} if "units" in meaning else set()
    if len(named) > 1 or units.get(TIME, "s") not in ("s", None):
        raise TracksError(
            f"the side file {side.name} gives the units {', '.join(sorted(named))} and for time "
            f"{units.get(TIME, 's')}; use one unit for all positions, and s for time"
        )
    return meaning | ({"units": named.pop()} if named else {})


def _arguments(given: dict[str, Any], name: str) -> dict[str, Any]:
    """Return what a side file says, as `receive` calls it; TracksError for a wrong type."""
    arguments = {}
    for key, (argument, kind) in ARGUMENTS.items():
        value = given.get(key)
        if value in (None, "", []):
            continue
        if kind is float and type(value) is int and abs(value) < sys.float_info.max:
            value = float(value)
        of_kind = isinstance(value, kind)
        if kind is list:
            of_kind = of_kind and all(isinstance(sentence, str) for sentence in value)
        if not of_kind:
            raise TracksError(
                f'the side file {name} says "{key}": {shown(value)}; that must be a {kind.__name__}'
            )
        arguments[argument] = value
    return arguments


def meaning(path: Path, heading: Heading, declared: dict[str, Any]) -> dict[str, Any]:
    """Return what side file, heading and user say together.

    As arguments of `squatlab.tracks.receive`. Raises TracksError where they
    contradict each other.
    """
    together = _merged(read_schema(path, heading), declared)
    return together if heading.unit is None else _merged({"units": heading.unit}, together)


def _merged(in_file: dict[str, Any], declared: dict[str, Any]) -> dict[str, Any]:
    """Return both together; TracksError where they contradict each other."""
    for key, value in declared.items():
        if value is not None and key in in_file and in_file[key] != value:
            raise TracksError(
                f"{key} is declared as {shown(value)}, but the file says {shown(in_file[key])}; "
                "correct one"
            )
    return in_file | {key: value for key, value in declared.items() if value is not None}


def as_files(
    path: str | Path,
    times: NDArray[np.float64],
    positions: NDArray[np.float64],
    names: Sequence[str],
    meaning: dict[str, Any],
) -> dict[Path, str]:
    """Return what to write of positions (time, point, axis): CSV and side file.

    ``meaning`` holds the keys of `ARGUMENTS`. Raises TracksError if the
    name does not end in .csv.
    """
    pd = _pandas()
    path = Path(path)
    if path.suffix.lower() != ".csv":
        raise TracksError(f'the file is called "{path.name}"; tracks are written to a .csv file')
    axes = "xyz"[: positions.shape[2]]
    columns = [TIME, *(f"{name}_{axis}" for name in names for axis in axes)]
    cells = positions.reshape(times.size, -1)
    frame = pd.DataFrame(np.column_stack([times, cells]), columns=columns, copy=False)
    text = frame.to_csv(index=False, float_format="%.6f", lineterminator="\n")
    return {path: text, schema_path(path): _schema(columns, meaning)}


@contextlib.contextmanager
def opening(path: Path) -> Iterator[None]:
    """Check that there is a file to read; say its name in every error."""
    try:
        _check_file(path)
        yield
    except TracksError as error:
        raise TracksError(f"{path.name}: ", *error.parts) from error
    except UnicodeDecodeError as error:
        raise TracksError(f"{path.name}: this is not a UTF-8 text file; export as CSV") from error
    except csv.Error as error:
        raise TracksError(
            f"{path.name}: the first rows are no plain CSV ({error}); export the tracks again"
        ) from error
    except MemoryError as error:
        raise TracksError(f"{path.name}: {TOO_LARGE}") from error
    except OSError as error:
        raise TracksError(f"{path.name}: cannot be opened: {error.strerror or error}") from error


def _check_file(path: Path) -> None:
    if path.suffix.lower() in (".c3d", ".json"):
        raise TracksError("this is no CSV file; read it with squatlab.adapters.read")
    if path.is_dir():
        raise TracksError("this is a folder; give the CSV file in it")
    if not path.exists():
        near = tables.closest(path.name, (file.name for file in path.parent.glob("*.csv")))
        raise TracksError(f"there is no such file in {path.parent}{near}")
    try:
        storage.check_readable(path)
    except ValueError as error:
        raise TracksError(str(error)) from error
    if path.stat().st_size == 0:
        raise TracksError("the file is empty; export the tracks again")


def numbers(path: Path, heading: Heading) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return times (time,) and positions (time, point, axis) as a file has them.

    A position whose score is below `LEAST_SCORE` is nan.
    """
    with path.open("rb") as file:
        blocks = iter(lambda: file.read(1 << 20), b"")
        lines = sum(block.count(b"\n") + block.count(b"\r") for block in blocks)
    shape = (len(heading.points), len(heading.axes))
    if (lines + 1) * (len(heading.columns) + 1) > MOST_CELLS:
        raise TracksError(f"{lines} rows of {len(heading.columns)} columns: {TOO_LARGE}")
    # Memory that is never written to is never taken, so too many lines do no harm.
    times, positions = np.empty(lines + 1), np.empty((lines + 1, *shape))
    clock, filled, size = heading.columns.index(TIME), 0, 0
    for cells in _chunks(path, heading):
        end = size + len(cells)
        times[size:end] = cells[:, clock]
        positions[size:end] = cells[:, heading.order].reshape(-1, *shape)
        for point, column in heading.scores.items():
            positions[size:end, point][cells[:, column] < LEAST_SCORE] = np.nan
        full = np.flatnonzero(~np.isnan(cells).all(axis=1))
        filled = size + int(full[-1]) + 1 if full.size else filled
        size = end
    times, positions = times[:filled], positions[:filled]  # empty lines at the end are no frames
    positions.flags.writeable = False  # ours alone: Tracks need not copy what is read-only
    return times, positions


def _chunks(path: Path, heading: Heading) -> Iterator[NDArray[np.float64]]:
    """Yield the numbers in pieces, every row as long as the heading."""
    count = len(heading.columns)
    try:
        for first, chunk in _pieces(path, heading, float):
            cells = chunk.to_numpy()
            surplus = np.flatnonzero(~np.isnan(cells[:, count:]).all(axis=1))
            if surplus.size:
                raise TracksError(
                    f"row {first + surplus[0]} has more cells than the heading has columns; "
                    "decimals are written with a point"
                )
            yield cells[:, :count]
    except (TracksError, UnicodeDecodeError):
        raise
    except (ValueError, OverflowError) as error:
        raise TracksError(_fault_in(path, heading, error)) from error


def _pandas() -> Any:
    """Return pandas, loaded when the first file is: that takes 0.4 s, and films need none."""
    import pandas

    return pandas


def _pieces(path: Path, heading: Heading, kind: type) -> Iterator[tuple[int, Any]]:
    """Yield the number of the first row and a frame, surplus columns last."""
    pd = _pandas()
    with path.open(encoding="utf-8-sig", newline="") as file:
        rows = csv.reader(file, delimiter=heading.separator)
        top = list(islice(rows, 2))
        has_comma = heading.separator != "," and _decimal_mark(chain(top[1:], rows)) == ","
    # pandas would cut this row short without an error.
    filled = max((n for row in top[1:] for n, cell in enumerate(row, 1) if cell.strip()), default=0)
    # Spreadsheets write empty cells behind the last column, as many in every row.
    columns = 1 + max(len(heading.columns), *map(len, top))
    if filled > len(heading.columns) + 1 or columns > SHEET_COLUMNS + len(heading.columns):
        raise TracksError(
            f"row 2 has {len(top[1])} cells, the heading only {len(heading.columns)} columns"
        )
    reader = pd.read_csv(
        path,
        sep=heading.separator,
        decimal="," if has_comma else ".",
        dtype=kind,
        header=None,
        skiprows=1,
        names=range(columns),
        index_col=False,
        skip_blank_lines=False,
        encoding="utf-8-sig",
        chunksize=max(1, CHUNK // columns),
        compression=None,
    )
    first = 2
    with reader:
        for chunk in reader:
            yield first, chunk
            first += len(chunk)


def _decimal_mark(rows: Iterable[Sequence[str]]) -> str:
    """Return the first decimal mark in rows of numbers, a point if there is none."""
    return next((mark for row in rows for cell in row for mark in cell if mark in ".,"), ".")


def _fault_in(path: Path, heading: Heading, error: Exception) -> str:
    """Return in words which cells hold no number, or what else is wrong."""
    pd = _pandas()
    found: list[str] = []
    with contextlib.suppress(ValueError, OverflowError):
        for first, chunk in _pieces(path, heading, str):
            for number, name in enumerate(heading.columns):
                cells = chunk[number].dropna()
                numbers = pd.to_numeric(cells.str.replace(",", "."), errors="coerce")
                wrong = cells[numbers.isna()][:LISTED]
                found += [
                    f'row {first + i - chunk.index[0]}, column {name}: "{cell}"'
                    for i, cell in wrong.items()
                ]
            if len(found) >= LISTED:
                break
    if not found:
        reason = str(error).strip().removeprefix("Error tokenizing data. C error: ")
        return f"the rows cannot be taken apart: {reason}. Export as plain CSV"
    advice = "Leave a cell empty where nothing was seen"
    if f"column {TIME}:" in found[0]:
        advice = "Times are in seconds, such as 12.35"
    return (
        f"these cells hold no number: {'; '.join(found[:LISTED])}"
        f"{' and more' if len(found) > LISTED else ''}. {advice}"
    )
