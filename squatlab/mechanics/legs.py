"""Where feet, ankles, knees and hips are: forward from angles, or back from the hips."""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from squatlab.frozen import Frozen
from squatlab.lifter import Lifter
from squatlab.mechanics.support import BALL, Support
from squatlab.mechanics.vectors import Vector, angle_between, apex_along
from squatlab.ranges import check_shapes, within

UP = Vector(0.0, 1.0, 0.0)
SIGN = {"r": 1.0, "l": -1.0}


@dataclass(frozen=True, eq=False)
class Stance(Frozen):
    """Say how the feet stand and where the knees point.

    ``heel_width_m`` is the distance between the centres of the heels,
    ``turnout_deg`` how far each foot points outward, ``valgus_deg`` how
    far each knee falls inward of its foot, ``heel_rise_deg`` how far the
    heels are lifted by turning the feet about their balls, ``wedge_m``
    the height of a wedge or shoe heel under the heels. Numbers or arrays
    that broadcast. Raises ValueError outside the stated ranges.
    """

    heel_width_m: ArrayLike = 0.30
    turnout_deg: ArrayLike = 12.0
    valgus_deg: ArrayLike = 0.0
    heel_rise_deg: ArrayLike = 0.0
    wedge_m: ArrayLike = 0.0

    def __post_init__(self) -> None:
        for name, low, high, unit in (
            ("heel_width_m", 0.0, 1.5, "m between the heels"),
            ("turnout_deg", -10.0, 60.0, "° of turnout"),
            ("valgus_deg", -30.0, 45.0, "° of knee valgus"),
            ("heel_rise_deg", 0.0, 45.0, "° of heel rise"),
            ("wedge_m", 0.0, 0.10, "m of wedge under the heels"),
        ):
            object.__setattr__(self, name, within(name, getattr(self, name), low, high, unit))
        check_shapes("a stance", {f.name: np.shape(getattr(self, f.name)) for f in fields(self)})

    @cached_property
    def shape(self) -> tuple[int, ...]:
        """Return the shape of all fields together: () is one stance."""
        return np.broadcast_shapes(*(np.shape(getattr(self, f.name)) for f in fields(self)))

    @property
    def support(self) -> Support:
        """Return what of the feet bears weight."""
        return Support(self.heel_rise_deg, self.wedge_m)


@dataclass(frozen=True, slots=True, eq=False)
class Leg:
    """Hold the points of one leg as vectors in metres."""

    heel: Vector
    toe: Vector
    ball: Vector
    ankle: Vector
    knee: Vector
    hip: Vector

    def mirrored(self) -> Leg:
        """Return the other leg of a symmetrical lifter."""
        return Leg(*(getattr(self, name).mirrored() for name in Leg.__slots__))

    def centre(self, lifter: Lifter, segment: str) -> Vector:
        """Return the centre of mass of "thigh", "shank" or "foot".

        Measured from the proximal end; the foot's from heel to toe.
        """
        ends = {
            "thigh": (self.hip, self.knee),
            "shank": (self.knee, self.ankle),
            "foot": (self.heel, self.toe),
        }
        start, end = ends[segment]
        return start.toward(end, lifter.centre(segment))

    def knee_flexion(self) -> ArrayLike:
        """Return the knee's flexion in radians; 0 is a straight leg."""
        return angle_between(self.knee - self.ankle, self.hip - self.knee)

    def dorsiflexion(self) -> ArrayLike:
        """Return the shank's lean over the foot in radians.

        A raised heel, in the air or on a wedge, tips the foot's own axis
        down, so the ankle bends that much less.
        """
        # 90° less the angle between shank and foot: the arc sine of what both have in common.
        shank, foot = self.knee - self.ankle, self.ball - self.heel
        return np.arcsin(np.clip(shank.dot(foot) / (shank.length() * foot.length()), -1, 1))


def foot(lifter: Lifter, stance: Stance, side: str) -> tuple[Vector, Vector, Vector, Vector]:
    """Return heel, toe, ball and ankle of the foot on side "r" or "l".

    Mid-foot stands at x = 0. A wedge and a heel rise turn heel and ankle
    about the ball; toe and ball stay on the floor.
    """
    turnout = np.radians(stance.turnout_deg)
    sign, length = SIGN[side], lifter.foot_m
    forward = Vector(np.cos(turnout), 0.0, sign * np.sin(turnout))
    heel = Vector(-0.5 * length * forward.x, 0.0, sign * 0.5 * stance.heel_width_m)
    toe, ball = heel + forward * length, heel + forward * (BALL * length)

    pitch = stance.support.pitch(lifter)
    cosine, sine = np.cos(pitch), np.sin(pitch)

    def raised(behind_ball: ArrayLike, height: ArrayLike) -> Vector:
        """Return a point of the foot after it has turned about its ball.

        Both distances, m, are those on the flat foot. The turn by the
        pitch lifts what lies behind the ball and tips what lies above it
        forward: the usual rotation of a plane.
        """
        ahead = height * sine - behind_ball * cosine
        up = height * cosine + behind_ball * sine
        return ball + forward * ahead + UP * up

    ankle = raised((BALL - lifter.ankle_from_heel) * length, lifter.ankle_height_m)
    return raised(BALL * length, 0.0), toe, ball, ankle


def knee_direction(stance: Stance, side: str) -> Vector:
    """Return the level direction in which the knee points."""
    angle = np.radians(stance.turnout_deg - stance.valgus_deg)
    return Vector(np.cos(angle), 0.0, SIGN[side] * np.sin(angle))


def leg_from_angles(
    lifter: Lifter, stance: Stance, thigh: ArrayLike, shank: ArrayLike, side: str = "r"
) -> Leg:
    """Build a leg from the ground up; angles in radians.

    ``thigh`` is the elevation of the hip above the knee (0 is level),
    ``shank`` the lean from the vertical toward where the knee points.
    Where the thigh cannot reach the hip sideways, the hip is nan.
    """
    heel, toe, ball, ankle = foot(lifter, stance, side)
    direction = knee_direction(stance, side)
    forward = lifter.shank_m * np.sin(shank)
    knee = Vector(
        ankle.x + forward * direction.x,
        ankle.y + lifter.shank_m * np.cos(shank),
        ankle.z + forward * direction.z,
    )
    # The pelvis sets how far the hip is from the middle plane (z). Of the thigh's level
    # length the part across is then given, and Pythagoras leaves the part backward.
    hip_z = SIGN[side] * 0.5 * lifter.hip_width_m
    level, across = lifter.thigh_m * np.cos(thigh), knee.z - hip_z
    with np.errstate(invalid="ignore"):
        backward = np.sqrt(level * level - across * across)
    hip = Vector(knee.x - backward, knee.y + lifter.thigh_m * np.sin(thigh), hip_z)
    return Leg(heel, toe, ball, ankle, knee, hip)


class KneeCircle(NamedTuple):
    """Hold the circle on which the knee lies between a given ankle and hip.

    Shank and thigh have fixed lengths, so the knee can only swing about
    the line from ankle to hip. ``axis`` runs along that line; ``forward``
    is the direction in which the knee points, made square to the line;
    ``across`` is axis × forward: three unit vectors. ``centre`` is the
    circle's centre, ``radius`` its radius, both in m; the radius is nan
    where the hip is further from the ankle than shank and thigh reach.
    """

    axis: Vector
    forward: Vector
    across: Vector
    centre: Vector
    radius: ArrayLike

    def knee(self, roll: ArrayLike) -> Vector:
        """Return the knee, m, at an angle in radians from ``forward``."""
        toward_toes = self.forward * (self.radius * np.cos(roll))
        return self.centre + toward_toes + self.across * (self.radius * np.sin(roll))


def knee_circle(
    lifter: Lifter, stance: Stance, ankle: Vector, hip: Vector, side: str
) -> KneeCircle:
    """Return the circle on which the knee between ankle and hip lies."""
    line = hip - ankle
    distance = line.length()
    axis = line * (1.0 / distance)
    direction = knee_direction(stance, side)
    square = direction - axis * direction.dot(axis)
    forward = square * (1.0 / square.length())
    along = apex_along(distance, lifter.shank_m, lifter.thigh_m)
    # Pythagoras: the knee is one shank from the ankle. A square root of less than nothing
    # is nan: such a posture is marked as out of reach, not raised.
    with np.errstate(invalid="ignore"):
        radius = np.sqrt(lifter.shank_m**2 - along**2)
    return KneeCircle(axis, forward, axis.cross(forward), ankle + axis * along, radius)


def leg_from_hip(
    lifter: Lifter, stance: Stance, hip: Vector, roll: ArrayLike = 0.0, side: str = "r"
) -> Leg:
    """Build a leg between a given hip and its foot.

    ``roll`` (radians) says where on its `KneeCircle` the knee lies, 0
    being the side where the knee points. A hip out of reach gives a nan
    knee.
    """
    heel, toe, ball, ankle = foot(lifter, stance, side)
    knee = knee_circle(lifter, stance, ankle, hip, side).knee(roll)
    return Leg(heel, toe, ball, ankle, knee, hip)


def roll_of(lifter: Lifter, stance: Stance, leg: Leg, side: str = "r") -> ArrayLike:
    """Return the roll (radians) with which ``leg_from_hip`` rebuilds a leg.

    In a turned-out stance it is not zero: the knee of a leg built from
    its angles leaves the plane of hip, ankle and foot direction.
    """
    circle = knee_circle(lifter, stance, leg.ankle, leg.hip, side)
    from_centre = leg.knee - circle.centre
    return np.arctan2(from_centre.dot(circle.across), from_centre.dot(circle.forward))


def roll_toward(lifter: Lifter, stance: Stance, hip: Vector, side: str = "r") -> ArrayLike:
    """Return the roll (radians) that lets the shank lean where the knee points.

    The hip may be anywhere, to one side as well. Where no roll does it,
    the shank leans as nearly there as it can.
    """
    _, _, _, ankle = foot(lifter, stance, side)
    circle = knee_circle(lifter, stance, ankle, hip, side)
    direction = knee_direction(stance, side)
    sideways = Vector(-direction.z, 0.0, direction.x)
    # The shank leans where the knee points if its vector, from the ankle to the knee, has
    # no part in the level direction square to that (sideways):
    #   (centre − ankle)·sideways + radius (f cos roll + a sin roll) = 0,
    # with f, a the sideways parts of the circle's two directions. As f cos roll + a sin roll
    # = hypot(f, a) cos(roll − atan2(a, f)), one arc cosine gives two roots.
    forward_part = circle.forward.dot(sideways)
    across_part = circle.across.dot(sideways)
    centre_part = (circle.centre - ankle).dot(sideways)
    middle = np.arctan2(across_part, forward_part)
    cosine = -centre_part / (circle.radius * np.hypot(forward_part, across_part))
    apart = np.arccos(np.clip(cosine, -1, 1))
    # The root nearer to 0 is meant, on the side where the knee points. It needs no bringing
    # into ±π: its size is | |middle| − apart |, and both of these lie between 0 and π.
    one, other = middle + apart, middle - apart
    return np.where(np.abs(one) < np.abs(other), one, other)[()]


def end_masses(lifter: Lifter) -> dict[str, ArrayLike]:
    """Return both legs' masses, kg, as shared out to the joints.

    By the lever rule a segment balances like two masses at its ends.
    Good for centres of mass and statics, not for inertia.
    """
    foot, shank, thigh = (2.0 * lifter.mass(name) for name in ("foot", "shank", "thigh"))
    return {
        "hip": thigh * (1 - lifter.centre("thigh")),
        "knee": thigh * lifter.centre("thigh") + shank * (1 - lifter.centre("shank")),
        "ankle": shank * lifter.centre("shank"),
        "heel": foot * (1 - lifter.centre("foot")),
        "toe": foot * lifter.centre("foot"),
    }


def midway(right: Vector, left: Vector) -> Vector:
    """Return the point halfway; in the middle plane where both share x and y.

    Mirrored legs do, and hips that slid aside: trunk and bar stay over the
    middle of the feet.
    """
    if right.x is left.x and right.y is left.y:
        return Vector(right.x, right.y, 0.0)
    return (right + left) * 0.5
