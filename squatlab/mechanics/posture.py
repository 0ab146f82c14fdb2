"""A lifter under a bar: where everything is, whether it can be held, and why not."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from squatlab import tables
from squatlab.frozen import Frozen, freeze
from squatlab.lifter import Lifter
from squatlab.mechanics import trunk
from squatlab.mechanics.legs import Leg, Stance, end_masses, midway
from squatlab.mechanics.support import Base
from squatlab.mechanics.trunk import Bar
from squatlab.mechanics.vectors import Vector, angle_between
from squatlab.units import READING

SLACK = 1e-6
"""Rounding allowed at a limit, degrees or metres."""

OBSTACLES = (
    "stance out of reach",
    "cannot balance",
    "ankles do not bend so far",
    "knees do not bend so far",
    "hips do not bend so far",
    "tips backward",
    "tips forward",
)
"""Short names of the problems, in the order in which they are looked for."""


class Problem(NamedTuple):
    """Say where a problem is present and how to word it for one posture."""

    present: ArrayLike
    words: Callable[..., str]
    values: tuple[ArrayLike, ...] = ()


class MomentArms(NamedTuple):
    """Hold level distances in metres, positive with the load in front.

    ``*_bar`` runs to the vertical line through the bar, ``*_system`` to
    the line through the centre of mass of lifter and bar together.
    """

    hip_bar: ArrayLike
    knee_bar: ArrayLike
    ankle_bar: ArrayLike
    l5s1_bar: ArrayLike
    hip_system: ArrayLike
    knee_system: ArrayLike
    ankle_system: ArrayLike
    l5s1_system: ArrayLike


@dataclass(frozen=True, eq=False)
class Posture(Frozen):
    """Hold one posture or any array of them; make one by balance or pose.

    Stores only both legs, the trunk's lean (as sine and cosine), lumbar
    flexion in radians and the x over which it should balance, m.
    Everything else is computed when first used.
    """

    lifter: Lifter
    bar: Bar
    stance: Stance
    right: Leg
    left: Leg
    sine: ArrayLike
    cosine: ArrayLike
    lumbar: ArrayLike = 0.0
    target_x_m: ArrayLike = 0.0

    def __post_init__(self) -> None:
        for number in (self.sine, self.cosine, self.lumbar, self.target_x_m):
            freeze(number)
        for leg in (self.right, self.left):
            for point in (leg.heel, leg.toe, leg.ball, leg.ankle, leg.knee, leg.hip):
                # Without freeze(), whose own tests cost as much as a whole single posture.
                for axis in (point.x, point.y, point.z):
                    if isinstance(axis, np.ndarray):
                        axis.flags.writeable = False

    @cached_property
    def shape(self) -> tuple[int, ...]:
        """Return the shape of the batch: () is one posture."""
        legs = (part for leg in (self.right, self.left) for part in (leg.ankle, leg.knee, leg.hip))
        return np.broadcast_shapes(
            self.lifter.shape,
            self.bar.shape,
            self.stance.shape,
            *(np.shape(array) for array in (self.sine, self.lumbar, self.target_x_m)),
            *(np.shape(axis) for joint in legs for axis in (joint.x, joint.y, joint.z)),
        )

    @property
    def hip(self) -> Vector:
        """Return the point midway between the hip joints, m."""
        return midway(self.right.hip, self.left.hip)

    @property
    def knee(self) -> Vector:
        """Return the point midway between the knees, m."""
        return midway(self.right.knee, self.left.knee)

    @property
    def ankle(self) -> Vector:
        """Return the point midway between the ankles, m."""
        return midway(self.right.ankle, self.left.ankle)

    @property
    def base(self) -> Base:
        """Return the part of the right foot that bears weight, x in m."""
        return self.stance.support.base(self.right.heel, self.right.ball, self.right.toe)

    def at(self, spot: trunk.Spot) -> Vector:
        """Return a point of the trunk in space, m."""
        return trunk.place(spot, self.hip, self.sine, self.cosine)

    @cached_property
    def hat(self) -> Vector:
        """Return the centre of mass of head, arms and trunk, m."""
        return freeze(self.at(trunk.spot_of_hat(self.lifter, self.lumbar)))

    @cached_property
    def bar_centre(self) -> Vector:
        """Return the centre of the bar, m."""
        return freeze(self.at(trunk.spot_of_bar(self.lifter, self.bar, self.lumbar)))

    @cached_property
    def l5s1(self) -> Vector:
        """Return the joint between low back and pelvis, m."""
        return freeze(self.at(trunk.spot_of_l5(self.lifter, self.lumbar)))

    @cached_property
    def system_centre(self) -> Vector:
        """Return the centre of mass of lifter and bar together, m."""
        mass, spot = trunk.load_on_hips(self.lifter, self.bar, self.lumbar)
        # Σ m r / Σ m over the load on the hips and the legs' masses at their joints.
        moment, total = self.at(spot) * mass, mass
        for joint, joint_mass in end_masses(self.lifter).items():
            place = midway(getattr(self.right, joint), getattr(self.left, joint))
            moment, total = moment + place * joint_mass, total + joint_mass
        return freeze(moment * (1.0 / total))

    @cached_property
    def com(self) -> NDArray[np.float64]:
        """Return the system's centre of mass, (…, 3) m."""
        return freeze(self.system_centre.stack())

    @property
    def com_shift(self) -> ArrayLike:
        """Return how far the system's centre is ahead of its target, m."""
        return self.system_centre.x - self.target_x_m

    @cached_property
    def trunk_deg(self) -> ArrayLike:
        """Return the trunk's lean from the vertical, °, above L5/S1."""
        return freeze(np.degrees(np.arctan2(self.sine, self.cosine)))

    @cached_property
    def thigh_deg(self) -> ArrayLike:
        """Return the right thigh's elevation, °; below 0 is past level."""
        rise = (self.right.hip.y - self.right.knee.y) / self.lifter.thigh_m
        return freeze(np.degrees(np.arcsin(np.clip(rise, -1, 1))))

    @cached_property
    def shank_deg(self) -> ArrayLike:
        """Return the right shank's lean from the vertical, °.

        Positive toward the toes.
        """
        line = self.right.knee - self.right.ankle
        lean = np.arccos(np.clip(line.y / self.lifter.shank_m, -1, 1))
        return freeze(np.degrees(np.copysign(lean, line.x)))

    @cached_property
    def hip_flexion_deg(self) -> ArrayLike:
        """Return the right hip's flexion against the pelvis, °.

        0 is standing upright; below 0 the hip is stretched back; past 180
        the trunk would lie beyond the thigh.
        """
        # The angle between pelvis and thigh has no sign. Their cross product does: where the
        # pelvis lies behind the thigh's line, a small angle is a stretch and a large one is
        # more than 180° of flexion.
        pelvis = self.l5s1 - self.hip
        thigh = self.right.hip - self.right.knee
        angle = np.degrees(angle_between(pelvis, thigh))
        beyond = pelvis.cross(thigh).z < 0
        return freeze(np.where(beyond, np.where(angle > 90.0, 360.0 - angle, -angle), angle)[()])

    @cached_property
    def feasible(self) -> ArrayLike:
        """Return whether this lifter can hold this posture (bool, …)."""
        ok = True
        for problem in problems(self):
            ok = ok & ~np.asarray(problem.present)
        return bool(ok) if np.ndim(ok) == 0 else freeze(ok)

    @cached_property
    def reason(self) -> str | NDArray[np.str_]:
        """Return why it is not feasible, in words; empty where it is.

        One string for one posture, an array of strings for many.
        """
        return freeze(first_reason(problems(self)))

    @cached_property
    def points(self) -> dict[str, NDArray[np.float64]]:
        """Return every named point, each (…, 3) m.

        ``pelvis`` is midway between the hips. Where they slid aside it stays
        in the middle plane, as trunk and bar do (`legs.midway`). Sides end
        in _r and _l.
        """
        spots = trunk.drawn_spots(self.lifter, self.bar, self.lumbar)
        vectors = {"pelvis": self.hip} | {name: self.at(spot) for name, spot in spots.items()}
        for side, leg in (("r", self.right), ("l", self.left)):
            vectors |= {f"{name}_{side}": getattr(leg, name) for name in Leg.__slots__}
        return freeze({name: vector.stack() for name, vector in vectors.items()})

    def moment_arms(self) -> MomentArms:
        """Return level distances from each joint to bar and system, m."""
        joints = (self.hip.x, self.knee.x, self.ankle.x, self.l5s1.x)
        lines = (self.bar_centre.x, self.system_centre.x)
        return MomentArms(*(line - joint for line in lines for joint in joints))

    def __repr__(self) -> str:
        if self.shape:
            feasible = np.broadcast_to(self.feasible, self.shape)
            return f"{feasible.size} postures, {np.count_nonzero(feasible)} feasible"
        if self.feasible:
            return (
                f"Posture: trunk {self.trunk_deg:.1f}°, thigh {self.thigh_deg:.1f}°, "
                f"shank {self.shank_deg:.1f}°, {self.bar.name} {self.bar.mass_kg:g} kg"
            )
        return f"Posture, not feasible: {self.reason}"


def problems(posture: Posture) -> tuple[Problem, ...]:
    """Return every check of a posture, in the order of ``OBSTACLES``."""
    reachable = np.isfinite(posture.hip.x) & np.isfinite(posture.knee.x)
    return (
        Problem(
            ~reachable,
            lambda: (
                "the stance is out of reach: the thigh is too short for these feet and knees; "
                "bring the heels closer, turn the feet out less or choose another depth"
            ),
        ),
        Problem(
            reachable & ~np.isfinite(posture.sine),
            lambda: (
                "no trunk lean balances this: even level, the trunk cannot bring the weight "
                "over the feet; lean the shanks more or squat less deep"
            ),
        ),
        _over_limit(
            _worse(posture, "dorsiflexion"),
            posture.lifter.dorsiflexion_deg,
            lambda needed, limit: (
                f"the ankles would have to bend {needed:.0f}° and this lifter's "
                f"limit is {limit:.0f}°; keep the shins more upright or put a "
                "wedge under the heels"
            ),
        ),
        _over_limit(
            _worse(posture, "knee_flexion"),
            tables.value("limits", name="knee", quantity="flexion"),
            lambda needed, limit: (
                f"the knees would have to bend {needed:.0f}°, past the "
                f"{limit:.0f}° at which thigh meets calf; squat less deep"
            ),
        ),
        _over_limit(
            posture.hip_flexion_deg,
            tables.value("limits", name="hip", quantity="flexion"),
            lambda needed, limit: (
                f"the hips would have to bend {needed:.0f}°, past the "
                f"{limit:.0f}° at which trunk meets thigh; squat less deep or lean less"
            ),
        ),
        *_off_the_feet(posture),
    )


def _worse(posture: Posture, angle: str) -> ArrayLike:
    """Return the larger of both legs' angles, degrees."""
    right = getattr(posture.right, angle)()
    # Mirrored legs share their coordinates, and so their angles: nothing to compare.
    if posture.right.knee.x is not posture.left.knee.x:
        right = np.maximum(right, getattr(posture.left, angle)())
    return np.degrees(right)


def _over_limit(needed: ArrayLike, limit: ArrayLike, words: Callable[..., str]) -> Problem:
    """Return the problem of needing more degrees than a joint has."""
    return Problem(np.greater(needed, np.asarray(limit) + SLACK), words, (needed, limit))


def _off_the_feet(posture: Posture) -> tuple[Problem, Problem]:
    """Return the two ways of tipping off the part of the foot that bears."""
    base = posture.base
    x = posture.system_centre.x
    return (
        Problem(
            np.less(x, base.rear_x - SLACK),
            lambda x, edge: (
                f"the lifter tips backward: the centre of mass is "
                f"{READING.words(edge - x)} behind the "
                "part of the foot that bears weight; lean more or bring the knees forward"
            ),
            (x, base.rear_x),
        ),
        Problem(
            np.greater(x, base.front_x + SLACK),
            lambda x, edge: (
                f"the lifter tips forward: the centre of mass is "
                f"{READING.words(x - edge)} ahead of the toes; lean less or sit back"
            ),
            (x, base.front_x),
        ),
    )


def first_reason(found: tuple[Problem, ...]) -> str | NDArray[np.str_]:
    """Return the first problem's words; "" without one; arrays for many."""
    shape = np.broadcast_shapes(*(np.shape(problem.present) for problem in found))
    reasons = np.full(shape, "", dtype=object)
    for problem in reversed(found):
        present = np.broadcast_to(problem.present, shape)
        values = [np.broadcast_to(value, shape) for value in problem.values]
        for index in np.argwhere(present):
            at = tuple(index)
            reasons[at] = problem.words(*(value[at] for value in values))
    return reasons[()] if shape == () else reasons
