"""The trunk, head, arms and bar as one rigid shape that turns about the hips.

Every point has two coordinates in the trunk's own frame, *along* it
from the hip centre and *behind* it. Leaning turns the whole shape, so
balance needs one equation. Rounding the low back only changes the shape.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from squatlab import tables
from squatlab.frozen import Frozen
from squatlab.lifter import Lifter
from squatlab.mechanics.vectors import Vector, apex_along
from squatlab.ranges import check_shapes, within

HEAVIEST_KG = 500.0
"""No bar is heavier [teaching-value]."""


@dataclass(frozen=True, eq=False)
class Bar(Frozen):
    """Say how heavy the loaded bar is and where on the back it lies.

    ``mass_kg`` includes bar, plates and collars. ``drop_m`` is measured
    down the back from the prominent vertebra at the base of the neck
    (C7), ``behind_m`` from the trunk's line to the bar's centre. Raises
    ValueError outside the stated ranges.
    """

    mass_kg: ArrayLike
    drop_m: ArrayLike
    behind_m: ArrayLike
    name: str = "own position"

    def __post_init__(self) -> None:
        for name, low, high, unit in (
            ("mass_kg", 0.0, HEAVIEST_KG, "kg on the bar"),
            ("drop_m", -0.05, 0.30, "m down the back from C7"),
            ("behind_m", -0.10, 0.20, "m behind the trunk's line"),
        ):
            object.__setattr__(self, name, within(name, getattr(self, name), low, high, unit))
        check_shapes("a bar", {f.name: np.shape(getattr(self, f.name)) for f in fields(self)})

    @cached_property
    def shape(self) -> tuple[int, ...]:
        """Return the shape of all fields together: () is one bar."""
        return np.broadcast_shapes(*(np.shape(getattr(self, f.name)) for f in fields(self)))

    @classmethod
    def high(cls, mass_kg: ArrayLike) -> Bar:
        """Put the bar on the trapezius, just below C7 [teaching-value]."""
        return cls(mass_kg, *_position("high"), name="high bar")

    @classmethod
    def low(cls, mass_kg: ArrayLike) -> Bar:
        """Put the bar lower, across the back of the shoulders.

        Two to three inches further down the back [common-practice].
        """
        return cls(mass_kg, *_position("low"), name="low bar")


def _position(name: str) -> tuple[float, float]:
    """Return how far down the back and behind it a bar lies, m."""
    return tuple(
        tables.value("bar_positions", name=name, quantity=quantity)
        for quantity in ("drop", "behind")
    )


class Spot(NamedTuple):
    """Place a point in the trunk's frame, metres."""

    along: ArrayLike
    behind: ArrayLike
    z: ArrayLike = 0.0


def spot_of_l5(lifter: Lifter, lumbar: ArrayLike) -> Spot:
    """Return the joint L5/S1; ``lumbar`` flexion (rad) tucks the pelvis."""
    return Spot(lifter.pelvis_m * np.cos(lumbar), lifter.pelvis_m * np.sin(lumbar))


def spot_of_upper_trunk(lifter: Lifter, lumbar: ArrayLike = 0.0) -> Spot:
    """Return the centre of mass of everything above L5/S1, bar left out.

    Chosen so that with a neutral low back head, arms, trunk and pelvis
    together have the centre of mass of the lifter's table.
    """
    # First moments of mass about the hips, kg·m: the whole less the pelvis is what the rest
    # contributes, and divided by its mass that is how far from the hips its centre lies.
    hat, pelvis = lifter.mass("hat"), lifter.mass("pelvis")
    whole_moment = hat * lifter.centre("hat") * lifter.trunk_m
    pelvis_moment = pelvis * lifter.centre("pelvis") * lifter.pelvis_m
    above_l5 = (whole_moment - pelvis_moment) / (hat - pelvis) - lifter.pelvis_m
    l5 = spot_of_l5(lifter, lumbar)
    return Spot(l5.along + above_l5, l5.behind)


def spot_of_hat(lifter: Lifter, lumbar: ArrayLike) -> Spot:
    """Return the centre of mass of head, arms and trunk with the pelvis."""
    hat, pelvis = lifter.mass("hat"), lifter.mass("pelvis")
    upper, l5 = spot_of_upper_trunk(lifter, lumbar), spot_of_l5(lifter, lumbar)
    # The pelvis has its centre on the line from the hips (the origin) to L5/S1.
    fraction = lifter.centre("pelvis")
    lower = Spot(fraction * l5.along, fraction * l5.behind)
    _, centre = _together(hat - pelvis, upper, pelvis, lower)
    return centre


def spot_of_bar(lifter: Lifter, bar: Bar, lumbar: ArrayLike = 0.0) -> Spot:
    """Return the centre of the bar."""
    l5 = spot_of_l5(lifter, lumbar)
    along = l5.along - lifter.pelvis_m + lifter.hip_to_c7_m - bar.drop_m
    return Spot(along, l5.behind + bar.behind_m)


def load_on_hips(lifter: Lifter, bar: Bar, lumbar: ArrayLike) -> tuple[ArrayLike, Spot]:
    """Return mass, kg, and centre of HAT and bar as one body."""
    hat, rod = spot_of_hat(lifter, lumbar), spot_of_bar(lifter, bar, lumbar)
    return _together(lifter.mass("hat"), hat, bar.mass_kg, rod)


def load_on_l5s1(lifter: Lifter, bar: Bar, lumbar: ArrayLike) -> tuple[ArrayLike, Spot]:
    """Return mass, kg, and centre of all above L5/S1, bar included."""
    upper, rod = spot_of_upper_trunk(lifter, lumbar), spot_of_bar(lifter, bar, lumbar)
    return _together(lifter.mass("hat") - lifter.mass("pelvis"), upper, bar.mass_kg, rod)


def _together(
    mass: ArrayLike, spot: Spot, other_mass: ArrayLike, other: Spot
) -> tuple[ArrayLike, Spot]:
    """Return the mass, kg, and the centre of mass of two bodies as one."""
    total = mass + other_mass
    share = other_mass / total
    return total, Spot(
        spot.along + share * (other.along - spot.along),
        spot.behind + share * (other.behind - spot.behind),
    )


def drawn_spots(lifter: Lifter, bar: Bar, lumbar: ArrayLike) -> dict[str, Spot]:
    """Return the points that are drawn and filmed, by name.

    Head in line with the trunk; hands on the bar a forearm's breadth
    outside the shoulders, elbows below the line from shoulder to hand
    [teaching-value]. The elbow is where both arm lengths meet.
    """
    l5, rod = spot_of_l5(lifter, lumbar), spot_of_bar(lifter, bar, lumbar)

    def on_axis(from_hip: ArrayLike, z: ArrayLike = 0.0) -> Spot:
        return Spot(l5.along - lifter.pelvis_m + from_hip, l5.behind, z)

    head = on_axis(lifter.hip_to_c7_m + lifter.head_m)
    spots = {
        "l5": l5,
        "c7": on_axis(lifter.hip_to_c7_m),
        "head": head._replace(behind=head.behind - HEAD_FORWARD * lifter.stature_m),
        "bar": rod,
    }
    half_bar = 0.5 * tables.value("limits", name="bar", quantity="length")
    for side, sign in (("r", 1.0), ("l", -1.0)):
        shoulder = on_axis(lifter.trunk_m, sign * 0.5 * lifter.shoulder_width_m)
        wrist = Spot(rod.along, rod.behind, shoulder.z + sign * GRIP_OUTSIDE)
        spots[f"shoulder_{side}"] = shoulder
        spots[f"elbow_{side}"] = _elbow(lifter, shoulder, wrist)
        spots[f"wrist_{side}"] = wrist
        spots[f"bar_end_{side}"] = Spot(rod.along, rod.behind, sign * half_bar)
    return spots


GRIP_OUTSIDE = 0.16
"""How far outside the shoulder joint each hand holds, m [teaching-value]."""

HEAD_FORWARD = 0.02
"""Centre of the head ahead of the trunk's line, of stature [teaching-value]."""


ELBOW_DOWN = Vector(-1.0, 0.35, 0.0)
"""Where the elbow hangs from the line shoulder to hand: down the trunk, a
little behind it (along, behind, z); only the direction counts
[teaching-value]."""


def _elbow(lifter: Lifter, shoulder: Spot, wrist: Spot) -> Spot:
    """Return the elbow, where upper arm and forearm meet, m.

    Of the circle of possible places about the line from shoulder to hand
    the one toward ``ELBOW_DOWN`` is taken. Arms too short for the grip
    are drawn straight: only a picture depends on them.
    """
    start, end = Vector(*shoulder), Vector(*wrist)
    line = end - start
    distance = line.length()
    axis = line * (1 / distance)
    along = apex_along(distance, lifter.upper_arm_m, lifter.forearm_m)
    radius = np.sqrt(np.maximum(lifter.upper_arm_m**2 - along**2, 0.0))
    square = ELBOW_DOWN - axis * ELBOW_DOWN.dot(axis)
    elbow = start + axis * along + square * (radius / square.length())
    return Spot(elbow.x, elbow.y, elbow.z)


def place(spot: Spot, hip: Vector, sine: ArrayLike, cosine: ArrayLike) -> Vector:
    """Return a spot in space, for a trunk leaning by an angle.

    ``sine`` and ``cosine`` are of the lean from the vertical, ``hip`` is
    the point midway between the hip joints.
    """
    return Vector(
        hip.x + spot.along * sine - spot.behind * cosine,
        hip.y + spot.along * cosine + spot.behind * sine,
        hip.z + spot.z,
    )
