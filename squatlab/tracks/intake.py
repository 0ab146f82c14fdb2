"""What every recording goes through on its way in: checked, turned, told."""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np
from numpy.typing import ArrayLike

from squatlab import tables
from squatlab.tracks.naming import POINTS
from squatlab.tracks.orientation import oriented, untangled
from squatlab.tracks.scale import METRES_IN, plausible
from squatlab.tracks.tracks import BRIDGED_S, Tracks, TracksError

LEG = ("hip", "knee", "ankle")
"""Of one leg at least, these points must be there."""

FEWEST = 10
"""Fewer frames than this are no movement [teaching-value]."""

RATES_HZ = (5.0, 2000.0)
"""The frame rates that cameras have [teaching-value]."""


def receive(
    times: ArrayLike,
    positions: ArrayLike,
    names: Sequence[str],
    *,
    view: str | None = None,
    units: str | None = None,
    axes: str | None = None,
    scale_px_per_m: float | None = None,
    rate: float = 0.0,
    source: str = "",
    notes: Sequence[str] = (),
    required: Collection[str] = (),
    bridge_s: float = BRIDGED_S,
) -> Tracks:
    """Return tracks in our units and axes, after every check there is.

    Positions (time, point, axis) are in units "px", "m", "cm" or "mm";
    ``axes`` says where x, y and z point ("x right, y forward, z up").
    Gaps up to ``bridge_s`` seconds are filled. What was changed is in
    the notes. Raises TracksError.
    """
    positions = np.asarray(positions, dtype=float)
    view, units = _declared(positions.shape[-1], view, units)
    notes = list(notes)
    if units in ("cm", "mm"):
        positions = positions * METRES_IN[units]
        notes.append(f"The positions were in {units} and were converted to m.")
    missing = np.isnan(positions)
    half = missing.any(axis=2) & ~missing.all(axis=2)
    if half.any():
        positions = np.where(half[:, :, np.newaxis], np.nan, positions)
        notes.append(f"{half.sum()} positions lacked one axis and count as missing.")
    seen = ~np.isnan(positions).all(axis=(0, 2))
    if not seen.any():
        raise TracksError("no position is given in any frame; track the points and export again")
    if not seen.all():
        unseen = ", ".join(name for name, there in zip(names, seen, strict=True) if not there)
        notes.append(f"Never seen and left out: {unseen}.")
        positions, names = positions[:, seen], [names[i] for i in np.flatnonzero(seen)]
    units = "px" if units == "px" else "m"
    tracks = Tracks(times, positions, names, view, units, scale_px_per_m, rate, source, notes)
    _check_length(tracks)
    _check_points(tracks, required)
    tracks = untangled(plausible(oriented(tracks, axes))).evenly_timed().bridged(bridge_s)
    if view == "3d":
        return tracks
    if view == "front" and not any({f"{j}_r", f"{j}_l"} <= set(tracks.names) for j in LEG):
        tracks = tracks.noting("Most points of a front view are missing: is this a side view?")
    return tracks.noting(
        f"This is a picture, the {view} view alone: what moves toward or away from the camera "
        "cannot be told."
    )


def _declared(axes: int, view: str | None, units: str | None) -> tuple[str, str]:
    asked = []
    if axes == 3:
        view, units = view or "3d", units or "m"
    if view is None:
        asked.append('view="side", "front" or "oblique"')
    if units is None:
        asked.append('units="px" or "m"')
    if asked:
        raise TracksError(
            "positions with two axes are a picture; neither the heading nor a side file says "
            f"what kind. Give it when reading: {' and '.join(asked)}"
        )
    if units not in ("px", *METRES_IN):
        raise TracksError(f'the units are "{units}"; they must be px, {", ".join(METRES_IN)}')
    return view, units


def _check_points(tracks: Tracks, required: Collection[str]) -> None:
    lacking = [name for name in required if name not in tracks]
    legs = [
        [f"{joint}_{side}" for joint in LEG if f"{joint}_{side}" not in tracks] for side in "rl"
    ]
    lacking += [name for name in min(legs, key=len) if name not in lacking]
    if lacking:
        raise TracksError(
            f"required points are missing: {', '.join(lacking)}"
            f"{tables.closest(lacking[0], tracks.names) or '.'} There are: "
            f"{', '.join(tracks.names)}. Needed are at least hip, knee and ankle of one leg, named "
            f"hip_r, knee_r, ankle_r or hip_l, knee_l, ankle_l{_likely(tracks.names, lacking)}"
        )
    together = [
        ~np.isnan([tracks[f"{joint}_{side}"] for joint in LEG]).any(axis=(0, 2))
        for side, leg in zip("rl", legs, strict=True)
        if not leg
    ]
    if not any(seen.sum() >= FEWEST for seen in together):
        raise TracksError(
            f"hip, knee and ankle of one leg are seen together in {max(map(np.sum, together))} "
            f"frames; at least {FEWEST} are needed. Track them through the whole movement"
        )


def _likely(names: Sequence[str], lacking: Sequence[str]) -> str:
    """Return how to say which points of other names are those that lack."""
    other = [name for name in names if name not in POINTS]
    found = {name: point for point in lacking for name in other if point.split("_")[0] in name}
    found = found or dict(zip(other, lacking[:1], strict=False))
    pairs = ", ".join(f'"{name}": "{point}"' for name, point in found.items())
    return f"; or say which they are, points={{{pairs}}}" if pairs else ""


def _check_length(tracks: Tracks) -> None:
    if tracks.times.size < FEWEST:
        raise TracksError(
            f"there are only {tracks.times.size} frames; a movement needs at least {FEWEST}. "
            "Export the whole repetition"
        )
    if not RATES_HZ[0] <= tracks.rate <= RATES_HZ[1]:
        raise TracksError(
            f"the times say {tracks.rate:.3g} frames per second; cameras take {RATES_HZ[0]:g} to "
            f"{RATES_HZ[1]:g}. Time is in seconds: divide milliseconds by 1000, or frame numbers "
            "by the frame rate"
        )
