"""Hip joints from markers on the pelvis: they cannot be felt, so they are predicted."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from squatlab import tables
from squatlab.tracks.naming import PELVIS_MARKERS
from squatlab.tracks.points import AnyPoints
from squatlab.units import READING


def with_hips(tracks: AnyPoints) -> AnyPoints:
    """Return tracks in space with hips predicted from pelvis markers.

    Where hip_r or hip_l is not among the points and the four markers are.
    In metres; a note says how far off the hips may be.
    """
    wanted = [name for name in ("hip_r", "hip_l") if name not in tracks]
    if not wanted or not all(name in tracks for name in PELVIS_MARKERS):
        return tracks
    hips = hip_joints(*(tracks[name] for name in PELVIS_MARKERS))
    added = [hips["r" if name == "hip_r" else "l"] for name in wanted]
    positions = np.concatenate([tracks.positions, np.stack(added, axis=1)], axis=1)
    off_m = tables.value("limits", name="hip_from_pelvis", quantity="error")
    return tracks.noting(
        f"{' and '.join(wanted)} were computed from the markers on the pelvis; they may be "
        f"{READING.words(off_m)} off.",
        positions=positions,
        names=(*tracks.names, *wanted),
    )


def hip_joints(
    asis_r: NDArray[np.float64],
    asis_l: NDArray[np.float64],
    psis_r: NDArray[np.float64],
    psis_l: NDArray[np.float64],
) -> dict[str, NDArray[np.float64]]:
    """Return the centres of the hip joints by side, each (…, 3) m.

    From the middle of the front markers: back by 0.24 of the pelvis's
    depth + 9.9 mm, down by 0.30 of its width + 10.9 mm, and to each side
    by 0.33 of its width + 7.3 mm [harrington2007]. Any right-handed axes,
    markers (…, 3) m.
    """
    front, back = 0.5 * (asis_r + asis_l), 0.5 * (psis_r + psis_l)
    across = asis_r - asis_l
    width = np.linalg.norm(across, axis=-1, keepdims=True)
    depth = np.linalg.norm(front - back, axis=-1, keepdims=True)
    # The pelvis's own axes: to its right, up at right angles to the plane of the markers, forward.
    right = across / width
    up = np.cross(right, front - back)
    up = up / np.linalg.norm(up, axis=-1, keepdims=True)
    forward = np.cross(up, right)

    def along(direction: str, size: NDArray[np.float64]) -> NDArray[np.float64]:
        share, offset = (
            tables.value("limits", name="hip_from_pelvis", quantity=f"{direction}_{part}")
            for part in ("share", "offset")
        )
        return share * size + offset

    middle = front - along("back", depth) * forward - along("down", width) * up
    return {
        "r": middle + along("aside", width) * right,
        "l": middle - along("aside", width) * right,
    }
