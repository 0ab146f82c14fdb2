"""Motion capture: the points of a C3D file."""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from squatlab.adapters.file_format import Format, Listing
from squatlab.tracks import Tracks, TracksError, receive
from squatlab.tracks.naming import POINTS, likely_name, named, our_name, suggestion
from squatlab.tracks.orientation import found_axes
from squatlab.tracks.recorded import LEG


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
    `receive`. Needs the package ezc3d. Raises TracksError.
    """
    path = Path(path)
    labels, rate, units, times, places = recording(path)
    try:
        names = named(labels, points, our_name)
        taken = [number for number, name in enumerate(names) if name in POINTS]
        ours = [names[number] for number in taken]
        if not any({f"{joint}_{side}" for joint in LEG} <= set(ours) for side in "rl"):
            raise TracksError(
                "no labels mean hip, knee and ankle of one leg to us. Say which do, "
                f"{suggestion(labels)}. The labels: {', '.join(labels)}"
            )
        if axes is None:
            axes = _axes_of_body(times, places[:, taken], ours, labels)
        note = f"{len(taken)} of {len(names)} points of the file were taken."
        return receive(
            times, places[:, taken], ours, view="3d", units=units, axes=axes, rate=rate,
            source=path.name, notes=[note], **declared,
        )  # fmt: skip
    except TracksError as error:
        raise TracksError(f"{path.name}: {error}") from error


def recording(path: Path) -> tuple[list[str], float, str, NDArray, NDArray]:
    """Return labels, rate, unit, times (time,) and places (time, label, 3) of a file.

    Raises TracksError.
    """
    content = _opened(path)
    try:
        about = content["parameters"]["POINT"]
        labels = [label.split(":")[-1].strip() for label in about["LABELS"]["value"]]
        rate = float(about["RATE"]["value"][0])
        units = str(about["UNITS"]["value"][0]).strip().lower()
        places = content["data"]["points"][:3].transpose(2, 1, 0)
        first = int(content["header"]["points"]["first_frame"])
    except (KeyError, IndexError) as error:
        raise TracksError(f"{path.name}: the file holds no points ({error})") from error
    return labels, rate, units, (np.arange(len(places)) + first) / rate, places


def _opened(path: Path) -> Any:
    try:
        import ezc3d
    except ImportError as error:
        raise TracksError(
            f"{path.name}: C3D files are read by the package ezc3d, which is not installed; run "
            f'"{sys.executable}" -m pip install ezc3d, or export the joints as CSV'
        ) from error
    if not path.is_file():
        raise TracksError(f"{path.name}: there is no such file in {path.parent}")
    try:
        return ezc3d.c3d(str(path))
    except (OSError, RuntimeError, ValueError, IndexError, MemoryError) as error:
        raise TracksError(f"{path.name}: this is no readable C3D file ({error})") from error


def _axes_of_body(
    times: NDArray, positions: NDArray, names: Sequence[str], labels: Sequence[str]
) -> str:
    found = found_axes(Tracks(times, positions, names, "3d"))
    if found is None:
        more = [label for label in labels if likely_name(label)[:-2] in ("hip", "heel", "toe")
                and likely_name(label) not in names]  # fmt: skip
        raise TracksError(
            "which way the lifter faces cannot be told without both hips or a heel and toe. "
            f"{f'Name them as well, {suggestion(more)}; or say' if more else 'Say'} "
            'where the axes point, for example axes="x right, y forward, z up"'
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
