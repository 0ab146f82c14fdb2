"""Motion capture: the points of a C3D file."""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from squatlab import storage
from squatlab.adapters.c3d_points import C3DError, points_of
from squatlab.adapters.file_format import Format, Listing
from squatlab.tracks import Tracks, TracksError, receive
from squatlab.tracks.naming import (
    PELVIS_MARKERS,
    POINTS,
    likely_name,
    named,
    our_name,
    suggestion,
    with_middles,
)
from squatlab.tracks.orientation import AXES_EXAMPLE, found_axes
from squatlab.tracks.pelvis import with_hips
from squatlab.tracks.points import Argument
from squatlab.tracks.recorded import LEG

BUILT_FOR = "Linux (x86-64), macOS and Windows (x86-64) with Python 3.11 to 3.14"
"""Where ezc3d comes ready built; there it is installed along with squatlab."""


def read_c3d(
    path: str | Path,
    points: Mapping[str, str] | None = None,
    *,
    axes: str | None = None,
    **declared: Any,
) -> Tracks:
    """Return the tracks in a C3D file, in metres and our axes, checked.

    ``points`` says which of the file's labels are which of our points,
    {"RightHip": "hip_r"}. Labels that are our own names need no saying;
    others are not guessed at, for they may be markers on the skin.
    ``axes`` says where x, y, z point; else the body tells. The rest as
    `receive`. Needs the package ezc3d; a damaged file
    harms nothing. Raises TracksError.
    """
    path = Path(path)
    labels, rate, units, times, places = recording(path)
    try:
        labels, places = with_middles(labels, places, points)
        names = named(labels, points, our_name)
        taken = [number for number, name in enumerate(names) if name in POINTS]
        ours = [names[number] for number in taken]
        legs = [[f"{joint}_{side}" for joint in LEG] for side in "rl"]
        predicted = {"hip_r", "hip_l"} if {*PELVIS_MARKERS} <= {*ours} else set()
        lacking = [[name for name in leg if name not in {*ours} | predicted] for leg in legs]
        if all(lacking):
            raise TracksError(
                "no labels mean hip, knee and ankle of one leg to us. Say which do; ",
                *suggestion(labels, min(lacking, key=len)),
                f". The labels: {', '.join(labels)}",
            )
        if axes is None:
            axes = _axes_of_body(times, places[:, taken], ours, labels)
        note = f"{len(taken)} of {len(names)} points of the file were taken."
        return receive(
            times,
            places[:, taken],
            ours,
            view="3d",
            units=units,
            axes=axes,
            rate=rate,
            source=path.name,
            notes=[note],
            **declared,
        )
    except TracksError as error:
        raise TracksError(f"{path.name}: ", *error.parts) from error


def recording(path: Path) -> tuple[list[str], float, str, NDArray, NDArray]:
    """Return labels, rate, unit, times (time,) and places (time, label, 3) of a file.

    Raises TracksError.
    """
    if not path.exists():
        raise TracksError(f"{path.name}: there is no such file in {path.parent}")
    try:
        storage.check_readable(path)
        points = points_of(path)
    except ImportError as error:
        raise TracksError(
            f"{path.name}: C3D files are read by the package ezc3d, which is not installed here. "
            f'On {BUILT_FOR} run "{sys.executable}" -m pip install ezc3d; elsewhere it must be '
            "built from its source, or the joints be exported as CSV"
        ) from error
    except (C3DError, ValueError) as error:
        raise TracksError(f"{path.name}: {error}") from error
    except OSError as error:
        raise TracksError(f"{path.name}: cannot be read: {error.strerror or error}") from error
    if not (0 < points.rate < np.inf and len(points.labels) == points.places.shape[1]):
        raise TracksError(
            f"{path.name}: it names {len(points.labels)} points at {points.rate:g} Hz and holds "
            f"{points.places.shape[1]}; it is damaged, export it again"
        )
    times = (np.arange(len(points.places)) + points.first_frame) / points.rate
    return points.labels, points.rate, points.units, times, points.places


def _axes_of_body(
    times: NDArray, positions: NDArray, names: Sequence[str], labels: Sequence[str]
) -> str:
    found = found_axes(with_hips(Tracks(times, positions, names, "3d")))
    if found is None:
        more = [
            label
            for label in labels
            if likely_name(label)[:-2] in ("hip", "heel", "toe") and likely_name(label) not in names
        ]
        raise TracksError(
            "which way the lifter faces cannot be told without both hips or a heel and toe. ",
            *(("Name them as well, ", *suggestion(more), "; or say") if more else ("Say",)),
            " where the axes point, for example ",
            Argument("axes", (AXES_EXAMPLE,)),
        )
    return found


def _listing(path: Path) -> Listing:
    labels, rate, units, times, places = recording(path)
    about = f"C3D, {len(times)} frames at {rate:g} Hz, {units}"
    return Listing(about, labels, np.isfinite(places[..., 0]).mean(axis=0).tolist())


C3D = Format(
    name="C3D",
    suffixes=(".c3d",),
    # Its second byte is 50 hex; text never holds the bytes beyond 7F that its header has.
    begins_like=lambda start: start[1:2] == b"\x50" and not start.isascii(),
    listing=_listing,
    read=read_c3d,
    takes=frozenset("points axes required bridge_s".split()),
    fixed={"view": "3d"},
    meaning=our_name,
)
