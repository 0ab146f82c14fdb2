"""What one view shows: points and angles, and the frames that count."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from squatlab.lifter import Lifter
from squatlab.review.picture import Scale
from squatlab.review.places import Places
from squatlab.review.reading import CannotTell, mean
from squatlab.signals import Repetition, low_pass

LEG = ("hip", "knee", "ankle", "heel", "toe", "shoulder")
"""The joints that a view has a near one of."""

ENOUGH_S = 0.25
"""Standing for less than this is no measure of how one stands
[teaching-value]."""

ONSET_HZ = 2.5
"""What is kept of the angles whose onsets are compared [teaching-value]. In
300 trials the exact value stayed within 1 ms of that at 6 Hz, and the noise
fell from 33 to 20 ms at 60 frames per second, from 39 to 26 at 30."""

SEEN = 0.8
"""This share of a stretch of frames must be seen [teaching-value]."""

BOTTOM_S = STEADY_S = 0.3
"""What counts as the bottom, s around the lowest frame; and over how long
the largest value is a mean [teaching-value]."""

LOWEST = 0.15
"""The lowest part of the way of the hips, as a share of it."""


@dataclass(frozen=True, eq=False)
class View:
    """Hold what one view shows, filtered, in metres and the lifter's axes.

    ``kind`` is that of the tracks; ``near`` the side that is measured, "r"
    or "l"; ``stands`` numbers the frames of standing, by repetition.
    ``lifter`` and ``bar_kg`` are what the user declared.
    """

    kind: str
    times: NDArray[np.float64]
    rate: float
    near: str
    height: NDArray[np.float64]
    repetitions: tuple[Repetition, ...]
    stands: tuple[NDArray[np.intp], ...]
    places: Places
    scale: Scale
    lifter: Lifter | None = None
    bar_kg: float | None = None

    def __getitem__(self, name: str) -> NDArray[np.float64]:
        """Return a point (time, 3); a joint without a side is the near one.

        Raises CannotTell if it is not there.
        """
        name = f"{name}_{self.near}" if name in LEG else name
        if name not in self.places.points:
            raise CannotTell(f"{name} is not among the points of the {self.kind} view")
        return self.places.points[name]

    def __contains__(self, name: str) -> bool:
        return (f"{name}_{self.near}" if name in LEG else name) in self.places.points

    def need_scale(self) -> None:
        """Raise CannotTell where nothing says how large things are."""
        if not self.scale.known:
            raise CannotTell(
                "there is no scale: track plate_top and plate_bottom, or declare the lifter"
            )

    def mean(
        self, values: NDArray[np.float64], frames: Any, names: Sequence[str], when: str
    ) -> NDArray[np.float64]:
        """Return the mean of values (time, …) over frames.

        Raises CannotTell, naming the points they rest on, if too few of
        the frames are seen.
        """
        part = values[frames]
        if not len(part) or np.isnan(part).any():
            self.check(values, frames, names, when)
        return mean(part)

    def check(
        self, values: NDArray[np.float64], frames: Any, names: Sequence[str], when: str
    ) -> None:
        """Raise CannotTell if too few frames of values (time, …) are seen."""
        unseen = np.isnan(values[frames])
        if not unseen.size or unseen.any() and unseen.mean() > 1 - SEEN:
            lost = [n for n in names if np.isnan(self[n][frames]).any()] or names
            raise CannotTell(f"{', '.join(lost)}: not seen {when}")

    def most(self, values: NDArray[np.float64], names: Sequence[str]) -> float:
        """Return the largest of values (frame,), as a mean of neighbours.

        A single frame would be the one with the largest error. Raises
        CannotTell if no stretch without a gap is long enough.
        """
        width = max(1, min(int(round(STEADY_S * self.rate)), len(values)))
        means = np.convolve(values, np.full(width, 1.0 / width), "valid")
        if np.isnan(means).all():
            raise CannotTell(f"{', '.join(names)}: never seen for {STEADY_S:g} s on end")
        return float(np.nanmax(means))

    def stand_before(self, rep: Repetition) -> NDArray[np.intp]:
        """Return the frames of standing before a repetition, or else all.

        Raises CannotTell where the lifter never stands still.
        """
        found = self.stands[self.repetitions.index(rep)]
        if found.size < ENOUGH_S * self.rate:
            raise CannotTell(
                "the lifter does not stand still before or after it; film half a second more"
            )
        return found

    def around(self, frame: int, seconds: float = BOTTOM_S) -> slice:
        """Return the frames around one."""
        half = int(round(0.5 * seconds * self.rate))
        return slice(max(0, frame - half), frame + half + 1)

    def lower(self, rep: Repetition, share: float) -> NDArray[np.intp]:
        """Return the frames in which the hips are in the lowest share of their way."""
        height = self.height[rep.start : rep.end + 1]
        low, high = self.height[rep.bottom], self.standing_height(rep)
        return rep.start + np.flatnonzero(height <= low + share * (high - low))

    def standing_height(self, rep: Repetition) -> float:
        """Return how high the hips are while standing, m."""
        return float(mean(self.height[self.stand_before(rep)]))

    @cached_property
    def lean(self) -> NDArray[np.float64]:
        """Return the lean of the line from the hip to C7, rad, (time,)."""
        return _lean(self[self.top] - self["hip"])

    @property
    def top(self) -> str:
        """Return the point at the top of the trunk."""
        return "shoulder" if "c7" not in self and "shoulder" in self else "c7"

    @cached_property
    def lumbar(self) -> NDArray[np.float64]:
        """Return how far the low back is rounded, rad, (time,)."""
        return _lean(self["c7"] - self["l5"]) - _lean(self["l5"] - self["hip"])

    @cached_property
    def thigh(self) -> NDArray[np.float64]:
        """Return how far the thigh leans, knee forward of the hip, rad, (time,)."""
        return _lean(self["knee"] - self["hip"], down=True)

    @cached_property
    def bending(self) -> NDArray[np.float64]:
        """Return flexion of hip and knee as seen from the side, rad, (time, 2).

        Filtered so far that their onsets can be told apart.
        """
        hip, knee = self.lean + self.thigh, self.thigh + _lean(self["knee"] - self["ankle"])
        return low_pass(np.stack([hip, knee], axis=1), self.rate, min(ONSET_HZ, 0.25 * self.rate))

    @cached_property
    def knee_flexion(self) -> NDArray[np.float64]:
        """Return how far the near knee is bent, rad, (time,)."""
        shank, thigh = self["knee"] - self["ankle"], self["hip"] - self["knee"]
        along, one, other = (
            np.einsum("ij,ij->i", a, b) for a, b in ((shank, thigh), (shank, shank), (thigh, thigh))
        )
        return np.arctan2(np.sqrt(np.maximum(one * other - along**2, 0.0)), along)


def _lean(line: NDArray[np.float64], down: bool = False) -> NDArray[np.float64]:
    """Return how far a line (…, 3) leans forward from straight up (or down), rad."""
    return np.arctan2(line[..., 0], -line[..., 1] if down else line[..., 1])
