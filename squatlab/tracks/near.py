"""Which leg of a lifter stands nearer to a camera at the side."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from squatlab.tracks.points import PointsProtocol

SEEN_BETTER = 0.2
"""A leg whose hip and knee are seen in more frames than the other's by this
much, their shares added, is measured [teaching-value]."""

STEADIER = 0.1
"""A leg whose thigh and shank change in length by so much less than the
other's, as shares added, is measured [teaching-value]."""


def near_side(tracks: PointsProtocol) -> str:
    """Return the side of the leg to measure, "r" or "l".

    The one whose hip and knee are seen better. Where both are, from the
    side the one that keeps its lengths in the picture: the other turns out
    of it, or its labels are exchanged at times. Where both do, the one whose
    foot is lower: a camera above the floor sees what is nearer lower. Else
    the right, which a front view and one from an angle always take. Tracks
    have y up.
    """
    if tracks.view in ("front", "oblique"):
        return "r"
    low = _low(tracks)
    right_seen, left_seen = _leg_seen(tracks, "r", low), _leg_seen(tracks, "l", low)
    if abs(left_seen - right_seen) > SEEN_BETTER:
        return "l" if left_seen > right_seen else "r"
    if tracks.view != "side":
        return "r"
    right_change, left_change = _change_of_lengths(tracks, "r"), _change_of_lengths(tracks, "l")
    if abs(left_change - right_change) > STEADIER:
        return "l" if left_change < right_change else "r"
    return "l" if _foot_above(tracks, "r", "l") > 0 else "r"


def _leg_seen(tracks: PointsProtocol, side: str, low: NDArray[np.bool_]) -> float:
    """Return the shares of frames in which hip and knee are seen, added."""
    return sum(_seen_share(tracks, f"{joint}_{side}", low) for joint in ("hip", "knee"))


def _low(tracks: PointsProtocol) -> NDArray[np.bool_]:
    """Return in which frames the hips are in the lower half of their way."""
    hips = [tracks[name][:, 1] for name in ("hip_r", "hip_l") if name in tracks]
    if not hips:
        return np.ones(tracks.times.size, dtype=bool)
    # One hip or the middle of both, whichever is seen.
    height = np.fmin.reduce(hips)
    low, high = np.fmin.reduce(height), np.fmax.reduce(height)
    return height <= 0.5 * (low + high) if np.isfinite(low) else np.ones(height.size, bool)


def _seen_share(tracks: PointsProtocol, name: str, low: NDArray[np.bool_]) -> float:
    """Return the share of frames in which a point is seen; those that are low count twice.

    There a plate or an arm may hide the nearer leg, and there it counts most.
    """
    if name not in tracks:
        return 0.0
    seen = np.isfinite(tracks[name][:, 0])
    return 0.5 * float(seen.mean()) + 0.5 * float(seen[low].mean())


def _change_of_lengths(tracks: PointsProtocol, side: str) -> float:
    """Return by how much thigh and shank change in length, SD over mean, added; 0 if unseen."""
    change = 0.0
    for upper, lower in (("hip", "knee"), ("knee", "ankle")):
        if f"{upper}_{side}" in tracks and f"{lower}_{side}" in tracks:
            line = tracks[f"{upper}_{side}"] - tracks[f"{lower}_{side}"]
            length = np.linalg.norm(line, axis=-1)
            length = length[np.isfinite(length)]
            change += float(length.std() / length.mean()) if length.size else 0.0
    return change


def _foot_above(tracks: PointsProtocol, one: str, other: str) -> float:
    """Return how much higher one foot is in the picture than the other, or the knees, or 0."""
    for joints in (("ankle", "heel", "toe"), ("knee",)):
        apart = [
            tracks[f"{joint}_{one}"][:, 1] - tracks[f"{joint}_{other}"][:, 1]
            for joint in joints
            if f"{joint}_{one}" in tracks and f"{joint}_{other}" in tracks
        ]
        known = [part[np.isfinite(part)] for part in apart]
        middles = [float(np.median(part)) for part in known if part.size]
        if middles:
            return float(np.mean(middles))
    return 0.0
