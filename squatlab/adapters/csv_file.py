"""Positions in a CSV file: one column for each point and axis, one row a frame."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np

from squatlab.adapters.file_format import Format, Listing
from squatlab.tracks import Tracks, TracksError, csv
from squatlab.tracks.frames import fault_in, rate_of


def listing(path: Path) -> Listing:
    """Return what columns a CSV file has; one that cannot be read yet says why.

    Raises TracksError for a file that has no heading at all.
    """
    with csv.opening(path):
        try:
            return _as_read(path)
        except TracksError as error:
            cells = csv.likely_heading(path)[1]
            if not cells:
                raise
            columns = [csv.COLUMN.fullmatch(cell) for cell in cells]
            labels = [
                column["point"] if column else cell
                for column, cell in zip(columns, cells, strict=True)
            ]
            labels = [label for label in dict.fromkeys(labels) if label]
            return Listing(f"CSV, cannot be read yet: {error}", labels, [math.nan] * len(labels))


def _as_read(path: Path) -> Listing:
    heading = csv.read_heading(path)
    declared = {"units": heading.unit or "unit not told"} | csv.read_schema(path, heading)
    counted, positions = csv.numbers(path, heading)
    times = counted * heading.tick_s
    rate = "times that do not rise" if fault_in(times) else f"{rate_of(times):.4g} Hz"
    if heading.counts_frames:
        rate = "numbered pictures, no frame rate in the file"
    view = declared.get("view", "view not told")
    about = f"CSV, {len(times)} frames at {rate}, {declared['units']}, {view}"
    return Listing(about, heading.points, np.isfinite(positions).all(axis=2).mean(axis=0).tolist())


CSV = Format(
    name="CSV",
    suffixes=(".csv", ".tsv", ".txt"),
    begins_like=lambda start: (
        True
    ),  # what is nothing else is read as text, which says what it lacks
    listing=listing,
    read=Tracks.read,
    takes=frozenset(
        "view units axes scale_px_per_m rate points required bridge_s source notes".split()
    ),
)
