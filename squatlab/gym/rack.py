"""A rack's holes, and the height at which a lifter wants the bar.

Every height is that of the bar's centre above the floor the lifter
stands on, with the bar lying on hooks or safety bars.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from squatlab import tables, units
from squatlab.questions.typed_numbers import LENGTHS, metres
from squatlab.ranges import number_within, numbers, shown, whole_within, within

SURVEYS = {"men": ("men",), "women": ("women",), "both": ("men", "women")}

ROUNDING = 1e-9
"""Rounding allowed when a height is compared with a hole's, in holes."""

SPACINGS_M = (0.01, 0.30)
"""From hole to hole it is no less and no more, m [teaching-value]."""

SAME_M = 1e-6
"""Two spacings that differ by less are one, m."""


def mid_sternum_m(stature_m: ArrayLike, survey: str = "both") -> ArrayLike:
    """Estimate the height of the middle of the breastbone, m.

    Its upper end stands at .819 (men) and .816 (women) of stature
    [ansur2], its length is .098 and .082 of stature [deleva1996]; the
    middle is half a length lower. ``survey`` is "men", "women" or "both"
    (their mean, at most 5 mm from either). People of one stature differ
    by ± 2.5 cm, so measure where you can, in the shoes worn for lifting.
    """
    if not isinstance(survey, str) or survey not in SURVEYS:
        raise ValueError(f"survey is {shown(survey)}; choose one of {', '.join(SURVEYS)}")
    stature = within("stature_m", stature_m, 1.2, 2.3, "m")
    shares = [
        tables.value("racks", name=name, quantity="suprasternale")
        - tables.value("racks", name=name, quantity="sternum") / 2
        for name in SURVEYS[survey]
    ]
    return stature * (sum(shares) / len(shares))


class RackTooHighError(ValueError):
    """Say that even a rack's lowest hole is too high."""


@dataclass(frozen=True)
class Rack:
    """Describe a rack's uprights by the holes for its hooks.

    ``first_hole_m`` is the height of the bar's centre with the hooks in
    hole 1, ``spacing_m`` the step to the next hole, ``holes`` their
    number. ``safety_offset_m`` is how much higher a bar lies on the
    safety bars than on the hooks of the same hole (often negative).
    Raises ValueError outside sensible ranges.
    """

    first_hole_m: float
    spacing_m: float
    holes: int
    safety_offset_m: float = 0.0

    def __post_init__(self) -> None:
        number_within("first_hole_m", self.first_hole_m, 0.05, 2.0, "m")
        number_within("spacing_m", self.spacing_m, *SPACINGS_M, "m")
        number_within("safety_offset_m", self.safety_offset_m, -0.30, 0.30, "m")
        whole_within("holes", self.holes, 1, 200, "holes")

    @classmethod
    def of(cls, spacing: str = "50 mm") -> Rack:
        """Return a rack with a hole every "50 mm", "2 in", "3 in" or so.

        data/racks.csv has the common spacings; with another the holes
        reach from and to as high as those of the nearest common rack.
        Measure your own first hole, for these are choices of ours
        [teaching-value]. Raises ValueError for what is no such length.
        """
        known = [row["name"] for row in tables.read("racks") if row["quantity"] == "spacing"]
        try:
            asked_m = number_within("the spacing", metres(spacing), *SPACINGS_M, "m")
        except ValueError as error:
            raise ValueError(f"{error}; common are {', '.join(known)}") from None
        # A rack in inches begins at whole inches, one in millimetres at whole centimetres.
        alike = [name for name in known if _in_inches(metres(name)) == _in_inches(asked_m)]
        nearest = min(alike, key=lambda name: abs(metres(name) - asked_m))
        common = cls(
            first_hole_m=tables.value("racks", name=nearest, quantity="first_hole"),
            spacing_m=tables.value("racks", name=nearest, quantity="spacing"),
            holes=int(tables.value("racks", name=nearest, quantity="holes")),
        )
        if abs(common.spacing_m - asked_m) < SAME_M:
            return common
        steps = int((common.top_m - common.first_hole_m) / asked_m + ROUNDING)
        return cls(common.first_hole_m, asked_m, steps + 1)

    @property
    def step(self) -> str:
        """Return the way from hole to hole as people say it: "2 in", "50 mm"."""
        if _in_inches(self.spacing_m):
            return f"{self.spacing_m / LENGTHS['in']:.5g} in"
        return f"{1000 * self.spacing_m:.3g} mm"

    def height_words(self, height_m: float) -> str:
        """Return a height in the units chosen; in cm with inches for a rack in inches."""
        if units.chosen() == units.US:
            return units.FLOOR_HEIGHT.words(height_m)
        inches = f" ({round(height_m / LENGTHS['in'], 1):g} in)" if self.step.endswith("in") else ""
        return f"{100 * height_m:.0f} cm{inches}"

    @property
    def top_m(self) -> float:
        """Return the height of the highest hole, m."""
        return self.first_hole_m + (self.holes - 1) * self.spacing_m

    def height(self, hole: ArrayLike) -> ArrayLike:
        """Return the height of the bar's centre in a hole, counted from 1, m.

        Raises ValueError if the rack has no such hole.
        """
        number = within("hole", hole, 1, self.holes, "(this rack's holes)")
        if np.any(number != np.round(number)):
            raise ValueError(f"hole is {hole}; holes are whole numbers from 1 to {self.holes}")
        return self.first_hole_m + (number - 1) * self.spacing_m

    def nearest(self, height_m: ArrayLike) -> int | NDArray[np.int64]:
        """Return the hole nearest to a height; the lower of two.

        The lower, because too low costs a deeper dip and too high costs
        balance. Raises ValueError beyond half a step from the end holes.
        """
        height = numbers("height_m", height_m)
        # In reach is what lies half a step beyond an end hole at most: no further from the
        # middle than half the way between the end holes and half a step. nan is not in reach.
        middle_m, between_m = (self.first_hole_m + self.top_m) / 2, self.top_m - self.first_hole_m
        beyond = ~(np.abs(height - middle_m) * 2 <= between_m + self.spacing_m * (1 + ROUNDING))
        if beyond.any():
            high = units.FLOOR_HEIGHT
            raise ValueError(
                f"a bar height of {high.words(height[beyond].flat[0])} is out of this rack's "
                f"reach: its holes hold the bar from {high.figure(self.first_hole_m)} to "
                f"{high.words(self.top_m)}; choose another rack, or stands of the right height"
            )
        # Rounding half a step down takes the lower of two holes.
        steps = (height - self.first_hole_m) / self.spacing_m
        return _whole(np.clip(np.ceil(steps - 0.5 - ROUNDING) + 1, 1, self.holes))

    def at_most(self, height_m: ArrayLike) -> int | NDArray[np.int64]:
        """Return the highest hole that is not above a height.

        Raises RackTooHighError if even the first hole is.
        """
        height = numbers("height_m", height_m)
        steps = np.floor((height - self.first_hole_m) / self.spacing_m + ROUNDING)
        below = ~(steps >= 0)
        if below.any():
            high = units.FLOOR_HEIGHT
            raise RackTooHighError(
                f"no hole is at or below {high.words(height[below].flat[0])}: this rack's lowest "
                f"holds the bar at {high.words(self.first_hole_m)}"
            )
        return _whole(np.minimum(steps + 1, self.holes))

    def safety_height(self, hole: ArrayLike) -> ArrayLike:
        """Return the height of a bar lying on the safety bars, m."""
        return self.height(hole) + self.safety_offset_m


def _in_inches(spacing_m: float) -> bool:
    """Return whether holes so far apart are a rack's in inches: some eighths of an inch."""
    eighths = 8 * spacing_m / LENGTHS["in"]
    return abs(eighths - round(eighths)) < 1e-6


def _whole(holes: ArrayLike) -> int | NDArray[np.int64]:
    """Return numbers of holes as integers, a single one as an int."""
    return int(holes) if np.ndim(holes) == 0 else np.asarray(holes).astype(np.int64)
