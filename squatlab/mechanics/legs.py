"""Where feet, ankles, knees and hips are: forward from angles, or back from the hips."""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from squatlab.frozen import Frozen
from squatlab.lifter import Lifter
from squatlab.mechanics.support import BALL, Support
from squatlab.mechanics.vectors import Vector, angle_between
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
        along = height * sine - behind_ball * cosine
        return ball + forward * along + UP * (height * cosine + behind_ball * sine)

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
    hip_z = SIGN[side] * 0.5 * lifter.hip_width_m
    level, sideways = lifter.thigh_m * np.cos(thigh), knee.z - hip_z
    with np.errstate(invalid="ignore"):
        reach = np.sqrt(level * level - sideways * sideways)
    hip = Vector(knee.x - reach, knee.y + lifter.thigh_m * np.sin(thigh), hip_z)
    return Leg(heel, toe, ball, ankle, knee, hip)


def _knee_frame(
    lifter: Lifter, stance: Stance, ankle: Vector, hip: Vector, side: str
) -> tuple[Vector, Vector, Vector, ArrayLike, ArrayLike]:
    """Return axis e, normal n0, binormal b, and the knee's p and h along them."""
    line = hip - ankle
    distance = line.length()
    e = line * (1.0 / distance)
    direction = knee_direction(stance, side)
    normal = direction - e * direction.dot(e)
    n0 = normal * (1.0 / normal.length())
    p = (distance**2 + lifter.shank_m**2 - lifter.thigh_m**2) / (2.0 * distance)
    with np.errstate(invalid="ignore"):
        h = np.sqrt(lifter.shank_m**2 - p**2)
    return e, n0, e.cross(n0), p, h


def leg_from_hip(
    lifter: Lifter, stance: Stance, hip: Vector, roll: ArrayLike = 0.0, side: str = "r"
) -> Leg:
    """Build a leg between a given hip and its foot.

    The knee lies on a circle about the line from ankle to hip; ``roll``
    (radians) says where, 0 being the side where the knee points. A hip
    out of reach gives a nan knee.
    """
    heel, toe, ball, ankle = foot(lifter, stance, side)
    e, n0, b, p, h = _knee_frame(lifter, stance, ankle, hip, side)
    knee = ankle + e * p + n0 * (h * np.cos(roll)) + b * (h * np.sin(roll))
    return Leg(heel, toe, ball, ankle, knee, hip)


def roll_of(lifter: Lifter, stance: Stance, leg: Leg, side: str = "r") -> ArrayLike:
    """Return the roll (radians) with which ``leg_from_hip`` rebuilds a leg.

    In a turned-out stance it is not zero: the knee of a leg built from
    its angles leaves the plane of hip, ankle and foot direction.
    """
    e, n0, b, p, _ = _knee_frame(lifter, stance, leg.ankle, leg.hip, side)
    out = leg.knee - leg.ankle - e * p
    return np.arctan2(out.dot(b), out.dot(n0))


def roll_toward(lifter: Lifter, stance: Stance, hip: Vector, side: str = "r") -> ArrayLike:
    """Return the roll (radians) that lets the shank lean where the knee points.

    The hip may be anywhere, to one side as well. Where no roll does it,
    the shank leans as nearly there as it can.
    """
    _, _, _, ankle = foot(lifter, stance, side)
    e, n0, b, p, h = _knee_frame(lifter, stance, ankle, hip, side)
    direction = knee_direction(stance, side)
    across = Vector(-direction.z, 0.0, direction.x)
    # p e + h (n0 cos + b sin) has nothing across: one cosine, two roots, the smaller is meant.
    one, other = n0.dot(across), b.dot(across)
    turned = np.arctan2(other, one)
    apart = np.arccos(np.clip(-p * e.dot(across) / (h * np.hypot(one, other)), -1, 1))
    # Within ±π: the smaller is | |turned| − apart |, and both of these lie between 0 and π.
    ahead, back = turned + apart, turned - apart
    return np.where(np.abs(ahead) < np.abs(back), ahead, back)[()]


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
    """Return the point halfway; mirrored legs share x and y as they are."""
    if right.x is left.x and right.y is left.y:
        return Vector(right.x, right.y, 0.0)
    return (right + left) * 0.5
