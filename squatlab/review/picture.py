"""From a picture to metres: how large it is, and what perspective does to it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from squatlab import tables
from squatlab.lifter import Lifter
from squatlab.review.reading import ReviewError, mean
from squatlab.segments import lengths_of
from squatlab.signals import low_pass
from squatlab.tracks import Tracks, TracksError
from squatlab.tracks.scale import SEGMENT_M, full_length, measured_scale

PHONE_M = (4.0, 1.0)
"""Distance and height of a camera of which nothing is declared, for
pictures in px without a scale [teaching-value]."""

FAR_M = 1000.0
"""From here there is no perspective to speak of: 0.3 mm at a plate."""

PLATE = ("plate_top", "plate_bottom")

PLATE_OUTSIDE_M = 0.03
"""The middle of the plates is this far outside the collar [teaching-value]."""

STRAIGHT = "straight knee"

DEPTH_M = {
    "hip": 0.09, "knee": 0.25, STRAIGHT: 0.16, "ankle": 0.19, "heel": 0.17, "toe": 0.22,
    "shoulder": 0.22,
}  # fmt: skip
"""How far to the side of the lifter's middle the near joints are, with
feet at shoulder width, the knee at the bottom and straight [teaching-value]."""

USUAL = {part: lengths_of("winter2009")[part] * 1.75 for part in ("shank", "thigh")}
"""Thigh and shank of a lifter of 1.75 m, when nothing gives a scale, m."""


class Standpoint(NamedTuple):
    """Say from where a picture was taken, m, and whether that is declared."""

    distance_m: float
    height_m: float
    declared: bool


class Scale(NamedTuple):
    """Say how many px make a metre at the lifter's middle; where from."""

    px_per_m: float
    known: bool
    words: str = ""


def standpoint(tracks: Tracks, camera: Any) -> Standpoint:
    """Return where the camera stood: as declared, else as phones do.

    ``camera`` has ``distance_m`` and ``height_m``, or maps views to such.
    A picture with a scale, of an undeclared camera, counts as taken from
    far away. Raises ReviewError for numbers that cannot be.
    """
    if isinstance(camera, Mapping):
        camera = camera.get(tracks.view)
    if tracks.view == "3d":
        return Standpoint(FAR_M, 1.0, True)
    if camera is None:
        raw = tracks.units == "px" and tracks.scale_px_per_m is None
        return Standpoint(*(PHONE_M if raw else (FAR_M, 1.0)), False)
    found = []
    for name, low, high in (("distance_m", 1.0, FAR_M), ("height_m", 0.0, 5.0)):
        number = getattr(camera, name, None)
        if not isinstance(number, int | float) or not low <= number <= high:
            raise ReviewError(
                f"the camera's {name} is {number!r}; declare it in m, between {low:g} and "
                f"{high:g}, or give no camera"
            )
        found.append(float(number))
    return Standpoint(*found, True)


def scale_of(tracks: Tracks, lifter: Lifter | None, stand: Standpoint) -> Scale:
    """Return the scale: the picture's own, a plate's, or the lifter's.

    Beside the lifter a plate hangs nearer and looks larger; from the front
    it is as far as the bar. Without any, a usual leg gives one in which
    angles and times are right and lengths are not known.
    """
    if tracks.units == "m":
        return Scale(1.0, True)
    if tracks.scale_px_per_m:
        return Scale(tracks.scale_px_per_m, True)
    if set(PLATE) <= set(tracks.names):
        try:
            scale = measured_scale(tracks, *PLATE, None)
        except TracksError:
            scale = np.nan
        collar = 0.5 * tables.value("limits", name="bar", quantity="between_collars_greatest")
        nearer = collar + PLATE_OUTSIDE_M if tracks.view == "side" else 0.0
        scale *= (stand.distance_m - nearer) / stand.distance_m
        if _fits(tracks, scale):
            return Scale(scale, True, "the plate")
    declared = lifter is not None
    for part, upper, lower in (("thigh", "hip", "knee"), ("shank", "knee", "ankle")):
        line = _longest(tracks, upper, lower)
        # Without noise, which only makes the longest longer.
        length = full_length(low_pass(line, tracks.rate, min(6.0, 0.25 * tracks.rate)))
        if length > 0:
            metres = getattr(lifter, f"{part}_m") if declared else USUAL[part]
            nearer = DEPTH_M[upper] if tracks.view == "side" else 0.0
            scale = length / metres * (stand.distance_m - nearer) / stand.distance_m
            return Scale(float(scale), declared, f"the declared {part}" if declared else "")
    return Scale(1.0, False)


def _fits(tracks: Tracks, scale: float) -> bool:
    """Tell whether a shank has a shank's length by this scale, if one is seen."""
    if not scale > 0:
        return False
    shank = float(mean(np.linalg.norm(_longest(tracks, "knee", "ankle"), axis=1))) / scale
    return bool(np.isnan(shank) or SEGMENT_M[0] <= shank <= SEGMENT_M[1])


def _longest(tracks: Tracks, upper: str, lower: str) -> NDArray[np.float64]:
    """Return the vector between two joints (time, axis) on the better seen side."""
    sides = [s for s in "rl" if {f"{upper}_{s}", f"{lower}_{s}"} <= set(tracks.names)]
    found = [tracks[f"{upper}_{s}"] - tracks[f"{lower}_{s}"] for s in sides]
    return max(found, key=lambda v: np.isfinite(v).sum(), default=np.full((2, 2), np.nan))
