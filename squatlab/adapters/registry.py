"""Which format a file has, what it holds, and its tracks: one way in for every file."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any, NamedTuple

from squatlab.adapters.c3d import C3D
from squatlab.adapters.csv_file import CSV
from squatlab.adapters.file_format import Format
from squatlab.adapters.key_points import KEY_POINTS
from squatlab.tracks import Tracks, TracksError
from squatlab.tracks.naming import POINTS, likely_name, named

FORMATS: tuple[Format, ...] = (C3D, KEY_POINTS, CSV)
"""Every format there is. The last one takes what no other recognises. A new
one is a module that makes a `Format`, and its name here."""


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


def format_of(path: str | Path) -> Format:
    """Return the format of a file, by its name, else by how it begins."""
    path = Path(path)
    for known in FORMATS:
        if path.suffix.lower() in known.suffixes:
            return known
    start = b""
    if path.is_file():
        with path.open("rb") as opened:
            start = opened.read(64)
    return next(known for known in FORMATS if known.begins_like(start))


def read(path: str | Path, **declared: Any) -> Tracks:
    """Return the tracks in a file of any format we know: CSV, C3D, COCO JSON.

    What the file does not say is declared: view, units, axes, rate (Hz),
    scale_px_per_m, points (our names by the file's labels), person,
    keypoints, least_score, required, bridge_s; None is not declared. The
    module of each format says what it takes. Raises TracksError.
    """
    path = Path(path)
    known = format_of(path)
    given = {name: value for name, value in declared.items() if value is not None}
    for name, value in list(given.items()):
        if name in known.fixed and value == known.fixed[name]:
            del given[name]
        elif name not in known.takes:
            always = f", which is always {known.fixed[name]}" if name in known.fixed else ""
            raise TracksError(
                f"{path.name}: {name} is declared as {value!r}, but a {known.name} file takes no "
                f"{name}{always}; leave it out. It takes {', '.join(sorted(known.takes))}"
            )
    return known.read(path, **given)


def contents(path: str | Path) -> Contents:
    """Return what labels a file has, and what they mean to us.

    In a file of key points a point counts as seen if anybody's is. Raises
    TracksError for a file that cannot be read.
    """
    path = Path(path)
    known = format_of(path)
    listing = known.listing(path)
    names = named(listing.labels, None, known.meaning)
    labels = {}
    for label, name, share in zip(listing.labels, names, listing.seen, strict=True):
        likely = likely_name(label)
        unsure = f"perhaps {likely}" if likely in POINTS and likely not in names else "–"
        labels[label] = share, name if name in POINTS else unsure
    return Contents(path.name, listing.about, labels)
