"""What each joint must hold while the lifter stands still in a posture."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from squatlab import tables
from squatlab.mechanics import trunk
from squatlab.mechanics.legs import end_masses
from squatlab.mechanics.posture import Posture


class JointMoments(NamedTuple):
    """Hold what the muscles must supply, N·m, extension positive.

    ``hip``, ``knee`` and ``ankle`` are per leg, ``l5s1`` is for the
    whole low back. For the ankle, extension is pressing the toes down.
    """

    hip: ArrayLike
    knee: ArrayLike
    ankle: ArrayLike
    l5s1: ArrayLike

    def __repr__(self) -> str:
        shape = np.broadcast_shapes(*(np.shape(moment) for moment in self))
        if shape:
            return f"JointMoments of {np.prod(shape):.0f} postures"
        parts = (f"{name} {value:.1f}" for name, value in self._asdict().items())
        return f"JointMoments({', '.join(parts)} N·m)"


def joint_moments(posture: Posture) -> JointMoments:
    """Return the static joint moments of a posture.

    Each joint holds the weight above it at its level distance. Moments
    are about the z axis, not about a turned-out knee's own axis, and
    the legs share the load equally. Where the posture is not feasible
    they say what it would take; nan where it cannot be placed at all.
    """
    lifter, ends = posture.lifter, end_masses(posture.lifter)
    on_hips, spot = trunk.load_on_hips(lifter, posture.bar, posture.lumbar)
    on_l5s1, upper = trunk.load_on_l5s1(lifter, posture.bar, posture.lumbar)
    l5 = trunk.spot_of_l5(lifter, posture.lumbar)
    on_knees = on_hips + ends["hip"]
    on_ankles = on_knees + ends["knee"]

    # From joint to joint downward, in kg·m: a lower joint has the moment of the one above,
    # and the weight that rests on that one at the level distance between the two.
    hip = on_hips * _ahead(posture, spot)
    knee = hip + on_knees * (posture.hip.x - posture.knee.x)
    ankle = knee + on_ankles * (posture.knee.x - posture.ankle.x)
    low_back = on_l5s1 * _ahead(
        posture, trunk.Spot(upper.along - l5.along, upper.behind - l5.behind)
    )
    per_leg = 0.5 * tables.G
    # Weight behind the knee bends it, so extension must hold it: the sign turns.
    return JointMoments(per_leg * hip, -per_leg * knee, per_leg * ankle, tables.G * low_back)


def _ahead(posture: Posture, spot: trunk.Spot) -> ArrayLike:
    """Return how far ahead of its origin the trunk's lean takes a spot, m."""
    return spot.along * posture.sine - spot.behind * posture.cosine


class SpineForce(NamedTuple):
    """Hold the least and greatest estimate of a force, N."""

    least: ArrayLike
    greatest: ArrayLike


def back_extensor_force(posture: Posture) -> SpineForce:
    """Estimate the pull of the back muscles that holds L5/S1, N.

    As if one cable pulled 5 to 6 cm behind the joint [teaching-value]:
    always a range, a way to compare postures, and no statement about
    what a spine can bear or whether a lift is safe for anybody.
    """
    moment = joint_moments(posture).l5s1
    short, long = (
        tables.value("limits", name="back_extensors", quantity=quantity)
        for quantity in ("arm_least", "arm_greatest")
    )
    return SpineForce(moment / long, moment / short)
