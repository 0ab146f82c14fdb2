"""The CSV file of tracks, and the side file that says what it means."""

from __future__ import annotations

import contextlib
import csv
from collections.abc import Iterator, Mapping
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from squatlab import tables
from squatlab.tracks.heading import LISTED, TIME, Heading, read_heading
from squatlab.tracks.intake import receive
from squatlab.tracks.naming import named
from squatlab.tracks.schema import read_schema, write_schema
from squatlab.tracks.tracks import Tracks, TracksError

CHUNK = 50_000
"""Rows parsed at once: a long file never stands twice in memory."""


def read_table(
    path: str | Path, points: Mapping[str, str] | None = None, **declared: Any
) -> Tracks:
    """Return checked tracks from a CSV file and its side file, if there.

    What is declared must agree with the side file; see
    `squatlab.tracks.intake.receive` for the names. ``points`` says what
    columns of another name are, {"crotch": "hip_r"}. Raises TracksError.
    """
    path = Path(path)
    with opening(path):
        heading = read_heading(path)
        meaning = _merged(read_schema(path, heading), declared)
        if heading.unit is not None:
            meaning = _merged({"units": heading.unit}, meaning)
        times, positions = numbers(path, heading)
        names = named(heading.points, points)
        return receive(times, positions, names, **({"source": path.name} | meaning))


def write_table(tracks: Tracks, path: str | Path) -> Path:
    """Write tracks as CSV with a Table Schema beside it; return the path.

    Raises TracksError if the name does not end in .csv.
    """
    import pandas as pd

    path = Path(path)
    if path.suffix.lower() != ".csv":
        raise TracksError(f'the file is called "{path.name}"; tracks are written to a .csv file')
    axes = "xyz"[: tracks.positions.shape[2]]
    columns = [TIME, *(f"{name}_{axis}" for name in tracks.names for axis in axes)]
    cells = tracks.positions.reshape(tracks.times.size, -1)
    frame = pd.DataFrame(np.column_stack([tracks.times, cells]), columns=columns, copy=False)
    frame.to_csv(path, index=False, float_format="%.6f", lineterminator="\n")
    write_schema(tracks, path, columns)
    return path


@contextlib.contextmanager
def opening(path: Path) -> Iterator[None]:
    """Check that there is a file to read; say its name in every error."""
    try:
        _check_file(path)
        yield
    except TracksError as error:
        raise TracksError(f"{path.name}: {error}") from error
    except UnicodeDecodeError as error:
        raise TracksError(f"{path.name}: this is not a UTF-8 text file; export as CSV") from error
    except OSError as error:
        raise TracksError(f"{path.name}: cannot be opened: {error.strerror}") from error


def _check_file(path: Path) -> None:
    if path.suffix.lower() in (".c3d", ".json"):
        raise TracksError(
            "this is no CSV file; read it with read_c3d or read_coco of squatlab.adapters"
        )
    if path.is_dir():
        raise TracksError("this is a folder; give the CSV file in it")
    if not path.exists():
        near = tables.closest(path.name, (file.name for file in path.parent.glob("*.csv")))
        raise TracksError(f"there is no such file in {path.parent}{near}")
    if path.stat().st_size == 0:
        raise TracksError("the file is empty; export the tracks again")


def _merged(told: dict[str, Any], declared: dict[str, Any]) -> dict[str, Any]:
    for key, value in declared.items():
        if value is not None and key in told and told[key] != value:
            raise TracksError(
                f"{key} is declared as {value!r}, but the file says {told[key]!r}; correct one"
            )
    return told | {key: value for key, value in declared.items() if value is not None}


def numbers(path: Path, heading: Heading) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return times (time,) and positions (time, point, axis) as a file has them."""
    with path.open("rb") as file:
        blocks = iter(lambda: file.read(1 << 20), b"")
        lines = sum(block.count(b"\n") + block.count(b"\r") for block in blocks)
    shape = (len(heading.points), len(heading.axes))
    # Pages nobody writes to cost nothing, so a generous count of lines does no harm.
    times, positions = np.empty(lines + 1), np.empty((lines + 1, *shape))
    clock, filled, size = heading.columns.index(TIME), 0, 0
    for cells in _chunks(path, heading):
        end = size + len(cells)
        times[size:end] = cells[:, clock]
        positions[size:end] = cells[:, heading.order].reshape(-1, *shape)
        full = np.flatnonzero(~np.isnan(cells).all(axis=1))
        filled = size + int(full[-1]) + 1 if full.size else filled
        size = end
    times, positions = times[:filled], positions[:filled]  # empty lines at the end are no frames
    positions.flags.writeable = False  # nobody else has it: Tracks need not copy it
    return times, positions


def _chunks(path: Path, heading: Heading) -> Iterator[NDArray[np.float64]]:
    """Yield the numbers in pieces, every row as long as the heading."""
    count = len(heading.columns)
    try:
        for first, chunk in _pieces(path, heading, float):
            cells = chunk.to_numpy()
            surplus = np.flatnonzero(~np.isnan(cells[:, count]))
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


def _pieces(path: Path, heading: Heading, kind: type) -> Iterator[tuple[int, Any]]:
    """Yield the number of the first row and a frame, a surplus column last."""
    import pandas as pd

    columns = len(heading.columns) + 1
    with path.open(encoding="utf-8-sig", newline="") as file:
        top = list(islice(csv.reader(file, delimiter=heading.separator), 1, 4))
    if top and len(top[0]) > columns:  # pandas would cut this row short without an error
        raise TracksError(f"row 2 has {len(top[0])} cells, the heading only {columns - 1} columns")
    comma = heading.separator == ";" and any("," in cell for row in top for cell in row)
    reader = pd.read_csv(
        path, sep=heading.separator, decimal="," if comma else ".", dtype=kind, header=None,
        skiprows=1, names=range(columns), index_col=False, skip_blank_lines=False,
        encoding="utf-8-sig", chunksize=CHUNK,
    )  # fmt: skip
    first = 2
    with reader:
        for chunk in reader:
            yield first, chunk
            first += len(chunk)


def _fault_in(path: Path, heading: Heading, error: Exception) -> str:
    """Return in words which cells hold no number, or what else is wrong."""
    import pandas as pd

    found: list[str] = []
    with contextlib.suppress(ValueError, OverflowError):
        for first, chunk in _pieces(path, heading, str):
            for number, name in enumerate(heading.columns):
                cells = chunk[number].dropna()
                numbers = pd.to_numeric(cells.str.replace(",", "."), errors="coerce")
                wrong = cells[numbers.isna()][:LISTED]
                found += [f'row {first + i - chunk.index[0]}, column {name}: "{cell}"'
                          for i, cell in wrong.items()]  # fmt: skip
            if len(found) >= LISTED:
                break
    if not found:
        reason = str(error).strip().removeprefix("Error tokenizing data. C error: ")
        return f"the rows cannot be taken apart: {reason}. Export as plain CSV"
    return (
        f"these cells hold no number: {'; '.join(found[:LISTED])}"
        f"{' and more' if len(found) > LISTED else ''}. Leave a cell empty where nothing was seen"
    )
