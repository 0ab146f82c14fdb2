"""How large: pixels per metre, and whether a body of that size exists."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from squatlab import tables
from squatlab.tracks.points import AnyPoints, Argument, PointsProtocol, TracksError

METRES_IN = {"m": 1.0, "cm": 0.01, "mm": 0.001}
"""The units of length that are understood besides px, in m."""

SEGMENT_M = (0.2, 0.7)
"""How long a person's thigh or shank can be, m [teaching-value]."""

SEGMENT_PX = 10.0
"""A thigh shorter than this in a picture cannot be read [teaching-value]."""

STEADY = 0.1
"""A scale whose middle half of frames spreads wider is doubtful
[teaching-value]."""


def plausible(tracks: AnyPoints) -> AnyPoints:
    """Return the tracks if thigh and shank have a length a person's have.

    Raises TracksError that names the unit the lengths would fit.
    """
    for upper, lower in (("hip", "knee"), ("knee", "ankle")):
        pairs = [(f"{upper}_{side}", f"{lower}_{side}") for side in "rl"]
        spans = [
            full_length(tracks[a] - tracks[b]) for a, b in pairs if {a, b} <= set(tracks.names)
        ]
        length = np.fmax.reduce(spans, initial=np.nan)
        if tracks.units == "px" and length < SEGMENT_PX:
            raise TracksError(
                f"{upper} and {lower} are {length:.3g} px apart, too little to read. If these are "
                "metres, read the file with ",
                Argument("units", ("m",)),
                "; if they are fractions of the picture, multiply x by its width and y by its "
                "height in px",
            )
        metres = length / (tracks.scale_px_per_m or 1.0)
        known = tracks.units == "m" or tracks.scale_px_per_m
        if known and (metres < SEGMENT_M[0] or metres > SEGMENT_M[1]):
            raise TracksError(
                f"{upper} and {lower} are {metres:.3g} m apart; a person's are {SEGMENT_M[0]:g} to "
                f"{SEGMENT_M[1]:g} m. ",
                *_advice(tracks, metres),
            )
    return tracks


def full_length(difference: NDArray[np.float64]) -> float:
    """Return the length of (time, axis) when seen in full, or nan.

    Nine tenths of the frames are shorter: what is seen at a slant looks
    shorter, only noise makes it look longer.
    """
    lengths = _lengths(difference)
    return float(np.quantile(lengths, 0.9)) if lengths.size else np.nan


def measured_scale(
    tracks: PointsProtocol, first: str, second: str, length_m: float | None
) -> float:
    """Return px per m from the distance of two points in px.

    A plate (length None: its diameter [iwf]) is seen in full in every
    frame, so the median counts; a segment only when it is square to the
    camera. Raises TracksError.
    """
    if tracks.units != "px":
        raise TracksError("these positions are in metres already; only pixels need a scale")
    difference = tracks[first] - tracks[second]
    lengths = _lengths(difference)
    if not lengths.size:
        raise TracksError(f"{first} and {second} are never seen in the same frame")
    if length_m is None:
        low, scale, high = np.quantile(lengths, [0.25, 0.5, 0.75])
        if not high - low <= STEADY * scale:
            raise TracksError(
                f"{first} and {second} lie {low:.3g} to {high:.3g} px apart in the middle half of "
                "the frames; the edge of a plate should not change its size. Track both again, "
                "or scale by a measured length of the lifter"
            )
        return float(scale / tables.value("limits", name="plate", quantity="diameter"))
    if not 0.05 <= length_m <= 3:
        raise TracksError(
            f"length_m is {length_m:g}; the distance of {first} and {second} must lie between "
            "0.05 and 3 m"
        )
    return full_length(difference) / length_m


def _lengths(difference: NDArray[np.float64]) -> NDArray[np.float64]:
    lengths = np.linalg.norm(difference, axis=1)
    return lengths[~np.isnan(lengths)]


def _advice(tracks: PointsProtocol, metres: float) -> tuple[str | Argument, ...]:
    """Return what to do about segments that look so long, as parts of an error."""
    if tracks.units == "px":
        return (f"The scale of {tracks.scale_px_per_m:.4g} px per m does not fit this lifter",)
    for unit, size in METRES_IN.items():
        if SEGMENT_M[0] <= metres * size <= SEGMENT_M[1]:
            return f"These look like {unit}: read the file with ", Argument("units", (unit,))
    return ("Check the unit, and that the points carry the right names",)
