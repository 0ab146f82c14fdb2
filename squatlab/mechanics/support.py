"""What of the feet bears weight: the whole foot, also on a wedge, or only its ball."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from squatlab import tables
from squatlab.lifter import Lifter
from squatlab.mechanics.vectors import Vector

BALL = tables.value("limits", name="foot", quantity="ball")
"""Ball of the foot, about which the raised foot turns, as a fraction of
the foot's length from the heel."""


class Base(NamedTuple):
    """Hold where the part of the foot that bears weight begins and ends.

    Both are x in metres, positive ahead of mid-foot.
    """

    rear_x: ArrayLike
    front_x: ArrayLike

    @property
    def length(self) -> ArrayLike:
        """Return how long the base is from rear to front, m."""
        return self.front_x - self.rear_x


@dataclass(frozen=True, eq=False)
class Support:
    """Say what carries the heels, and so which part of the foot bears weight.

    A wedge ``wedge_m`` high under the heels, or the heel of a shoe that
    raises them by as much, fills the gap and bears weight; 0 is a flat
    floor. ``heel_rise_deg`` is how far the heels are lifted off what is
    under them: heels in the air bear nothing. Numbers or arrays that
    broadcast. ``Stance.support`` makes one.
    """

    heel_rise_deg: ArrayLike = 0.0
    wedge_m: ArrayLike = 0.0

    @property
    def heels_bear(self) -> ArrayLike:
        """Return whether the heels bear weight (bool, …).

        They do wherever something is under them: on the floor and on a
        wedge, but not once they rise.
        """
        return np.less_equal(self.heel_rise_deg, 0)

    def pitch(self, lifter: Lifter) -> ArrayLike:
        """Return how far the foot is turned about its ball, rad.

        By the wedge, and by the heels' rise on top of it.
        """
        return turn_that_lifts(lifter, self.wedge_m) + np.radians(self.heel_rise_deg)

    def base(self, heel: Vector, ball: Vector, toe: Vector) -> Base:
        """Return the part of a foot that bears weight, from its points, m."""
        return Base(np.where(self.heels_bear, heel.x, ball.x)[()], toe.x)

    def base_length(self, lifter: Lifter) -> ArrayLike:
        """Return the length along the foot that bears weight, m."""
        return np.where(self.heels_bear, 1.0, 1.0 - BALL)[()] * lifter.foot_m

    def target_x(self, ball: Vector) -> ArrayLike:
        """Return the x over which the weight belongs, m.

        Mid-foot, or the ball where the heels bear nothing. Mid-foot is
        that of the flat foot, x = 0: turning the foot on a wedge of 3 cm
        brings its middle 1 mm forward, which is neglected.
        """
        return np.where(self.heels_bear, 0.0, ball.x)[()]


def turn_that_lifts(lifter: Lifter, height_m: ArrayLike) -> ArrayLike:
    """Return the turn of the foot about its ball that lifts the heel, rad.

    The heel is BALL × foot length behind the ball, so it is lifted by
    that arm times the sine of the turn. nan where the foot is too short.
    """
    arm = BALL * lifter.foot_m
    with np.errstate(invalid="ignore"):
        return np.arcsin(np.divide(height_m, arm))
