"""What a file of recorded positions holds, before it is read as tracks."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from squatlab.adapters.c3d import recording
from squatlab.adapters.key_points import LEAST_SCORE, crowd
from squatlab.tracks.frames import fault_in, rate_of
from squatlab.tracks.heading import COLUMN, likely_heading, read_heading
from squatlab.tracks.naming import POINTS, exact_name, likely_name, named
from squatlab.tracks.schema import read_schema
from squatlab.tracks.table import numbers, opening
from squatlab.tracks.tracks import TracksError


class Contents(NamedTuple):
    """Hold what a file has: its name, its kind and length, its labels.

    Each label comes with the share of frames it is seen in and with what it
    means to us, in words. Printing it shows a table.
    """

    file: str
    about: str
    labels: dict[str, tuple[float, str]]

    def __repr__(self) -> str:
        wide = max(map(len, ("label", *self.labels)))
        lines = [f"{self.file}: {self.about}", f"  {'label':{wide}}   seen  means"]
        for label, (seen, means) in self.labels.items():
            share = "    –" if math.isnan(seen) else f"{int(100 * seen):3} %"  # cut: 100 is all
            lines.append(f"  {label:{wide}}  {share}  {means}")
        return "\n".join(lines)


def contents(path: str | Path) -> Contents:
    """Return what labels a CSV, C3D or JSON file has, and what they mean to us.

    In a JSON file a point counts as seen if anybody's is. Raises
    TracksError for a file that cannot be read.
    """
    path = Path(path)
    kind = kind_of(path)
    about, labels, seen = {"c3d": _of_c3d, "json": _of_json, "csv": _of_csv}[kind](path)
    names = named(labels, None, exact_name if kind == "c3d" else likely_name)
    held = {}
    for label, name, share in zip(labels, names, seen, strict=True):
        likely = likely_name(label)
        unsure = f"perhaps {likely}" if likely in POINTS and likely not in names else "–"
        held[label] = share, name if name in POINTS else unsure
    return Contents(path.name, about, held)


def kind_of(path: Path) -> str:
    """Return "csv", "c3d" or "json", by the name, else by what is inside."""
    suffix = path.suffix.lower()
    if suffix in (".c3d", ".json"):
        return suffix[1:]
    if path.is_dir() and any(path.glob("*.json")):
        return "json"
    if suffix != ".csv" and path.is_file():
        with path.open("rb") as opened:
            start = opened.read(64)
        if start[1:2] == b"\x50" and not start.isascii():
            return "c3d"
        if start.lstrip(b"\xef\xbb\xbf \t\r\n")[:1] in (b"{", b"["):
            return "json"
    return "csv"


def _of_c3d(path: Path) -> tuple[str, list[str], Any]:
    labels, rate, units, times, places = recording(path)
    about = f"C3D, {len(times)} frames at {rate:g} Hz, {units}"
    return about, labels, np.isfinite(places[..., 0]).mean(axis=0)


def _of_json(path: Path) -> tuple[str, list[str], Any]:
    people, labels = crowd(path)
    seen = [np.any([p[:, 2] >= LEAST_SCORE for p in group], axis=0) for group in people.values()]
    most = max(map(len, people.values()))
    crowded = "1 person" if most == 1 else f"up to {most} people"
    about = f"key points in px, {len(people)} pictures with {crowded}, no frame rate in the file"
    return about, labels, np.mean(seen, axis=0)


def _of_csv(path: Path) -> tuple[str, list[str], Any]:
    with opening(path):
        try:
            return _as_read(path)
        except TracksError as error:
            cells = likely_heading(path)[1]
            if not cells:
                raise
            found = (COLUMN.fullmatch(cell.lower()) for cell in cells)
            labels = [f["point"] if f else cell for f, cell in zip(found, cells, strict=True)]
            labels = list(filter(None, dict.fromkeys(labels)))
            return f"CSV, cannot be read yet: {error}", labels, [math.nan] * len(labels)


def _as_read(path: Path) -> tuple[str, list[str], Any]:
    heading = read_heading(path)
    told = {"units": heading.unit or "unit not told"} | read_schema(path, heading)
    times, positions = numbers(path, heading)
    rate = "times that do not rise" if fault_in(times) else f"{rate_of(times):.4g} Hz"
    view = told.get("view", "view not told")
    about = f"CSV, {len(times)} frames at {rate}, {told['units']}, {view}"
    return about, heading.points, np.isfinite(positions).all(axis=2).mean(axis=0)
