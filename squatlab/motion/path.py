"""The way of the hips: about the ankles, from standing to the bottom."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from squatlab.lifter import Lifter
from squatlab.mechanics.balance import balance_on
from squatlab.mechanics.legs import (
    SIGN,
    Leg,
    Stance,
    foot,
    leg_from_angles,
    leg_from_hip,
    roll_toward,
)
from squatlab.mechanics.posture import Posture
from squatlab.mechanics.support import Support
from squatlab.mechanics.trunk import Bar
from squatlab.mechanics.vectors import Vector
from squatlab.motion.plan import Plan, spread
from squatlab.motion.schedule import Shares, ramp

STANDING_KNEE = np.radians(4.0)
"""Knees unlocked but straight, rad [teaching-value]."""

WEIGHT_FORWARD = (0.0, 0.3)
"""Between which shares of the knee's way down the weight goes forward and bar
and head tip [teaching-value]."""

HEELS_RISE = (0.3, 0.66)
"""Between which shares of the knee's way the heels rise [teaching-value]."""

KNEES_IN = (0.4, 0.86)
"""Between which shares of the knee's way the knees fall in and the hips slide
to one side [teaching-value]."""

BACK_ROUNDS = (0.55, 1.0)
"""Between which shares of the knee's way the low back rounds
[teaching-value]."""


class Bend(NamedTuple):
    """Hold knee flexion, the legs' lean from ankle to hip, and the roll of
    each knee about that line, all in rad.
    """

    knee: ArrayLike
    leg: ArrayLike
    roll_r: ArrayLike = 0.0
    roll_l: ArrayLike = 0.0


@dataclass(frozen=True, eq=False)
class Path:
    """Hold the way between two solved postures, standing and bottom."""

    lifter: Lifter
    bar: Bar
    stance: Stance
    plan: Plan
    standing: Bend
    bottom: Bend

    def at(self, which: NDArray[np.intp]) -> Path:
        """Return the path spread over frames; ``which`` numbers their repetition."""
        bottom = Bend(*(spread(angle, which) for angle in self.bottom))
        return replace(self, plan=self.plan.at(which), bottom=bottom)

    def risen_to(self, thigh_deg: float) -> ArrayLike:
        """Return the share of the way up done when the thigh is so steep.

        One per repetition; in the leg's plane, to half a percent.
        """
        share = np.linspace(0.0, 1.0, 201)[:, np.newaxis]
        bend = self.bend(Shares(share, share))
        # Law of sines in the triangle ankle, knee, hip: the angle at the hip between the
        # thigh and the line to the ankle. The line's own lean makes it one from the vertical.
        sine = self.lifter.shank_m * np.sin(bend.knee) / leg_length(self.lifter, bend.knee)
        elevation = 90.0 - np.degrees(np.arcsin(sine) - bend.leg)
        return 1.0 - share[:, 0][np.argmin(np.abs(elevation - thigh_deg), axis=0)]

    def bend(self, shares: Shares) -> Bend:
        """Return the leg's angles where these shares of the way are done."""
        # The roll grows slowly at first: the power keeps the knee over the foot in between.
        rolled = np.maximum(shares.knee, 0.0) ** 1.5
        return Bend(
            knee=self.standing.knee + (self.bottom.knee - self.standing.knee) * shares.knee,
            leg=self.standing.leg + (self.bottom.leg - self.standing.leg) * shares.leg,
            roll_r=self.bottom.roll_r * rolled,
            roll_l=self.bottom.roll_l * rolled,
        )

    def posture(self, shares: Shares) -> Posture:
        """Return the balanced posture where these shares of the way are done."""
        plan, bend = self.plan, self.bend(shares)
        down = shares.knee
        deep, early = ramp(down, *KNEES_IN), ramp(down, *WEIGHT_FORWARD)
        stance = replace(
            self.stance,
            valgus_deg=plan.valgus_deg * deep if np.any(plan.valgus_deg) else 0.0,
            heel_rise_deg=(
                plan.heel_rise_deg * ramp(down, *HEELS_RISE) if np.any(plan.heel_rise_deg) else 0.0
            ),
        )
        lumbar = np.radians(
            plan.lumbar_deg * ramp(down, *BACK_ROUNDS) - plan.arch_deg * shares.arch
        )
        return _balanced(
            self.lifter,
            self.bar,
            stance,
            bend,
            asymmetry_deg=plan.asymmetry_deg,
            shift=plan.shift_m * deep if np.any(plan.shift_m) else 0.0,
            lumbar=lumbar,
            drift=plan.drift_m * early,
            straightness=plan.straightness * early,
            onto_ball=early * ~Support(plan.heel_rise_deg).heels_bear,
        )


def leg_length(lifter: Lifter, knee: ArrayLike) -> ArrayLike:
    """Return the distance from ankle to hip, m, at a knee flexion in rad.

    Law of cosines; the flexion is what the knee's angle lacks of 180°, so
    its cosine is added.
    """
    shank, thigh = lifter.shank_m, lifter.thigh_m
    return np.sqrt(shank**2 + thigh**2 + 2 * shank * thigh * np.cos(knee))


def path_of(lifter: Lifter, bar: Bar, stance: Stance, plan: Plan) -> Path:
    """Solve standing and bottom, and return the path between them."""
    stance = replace(stance, turnout_deg=plan.turnout_deg)
    lowest = replace(stance, valgus_deg=plan.valgus_deg, heel_rise_deg=plan.heel_rise_deg)
    standing = _standing(lifter, bar, stance, plan)
    return Path(lifter, bar, stance, plan, standing, _bottom(lifter, lowest, plan))


def _bottom(lifter: Lifter, stance: Stance, plan: Plan) -> Bend:
    """Return the bend at which thigh and shank are as the plan says."""
    thigh, shank = np.radians(plan.thigh_deg), np.radians(plan.shank_deg)
    leg = leg_from_angles(lifter, stance, thigh, shank)
    line = leg.hip - leg.ankle
    # `leg_length` solved for the flexion.
    squares = line.dot(line) - lifter.shank_m**2 - lifter.thigh_m**2
    knee = np.arccos(squares / (2 * lifter.shank_m * lifter.thigh_m))

    def roll(side: str) -> ArrayLike:
        """Return the roll at which this side's knee points as its foot does."""
        own = _own_stance(stance, plan.asymmetry_deg, side)
        hip = Vector(leg.hip.x, leg.hip.y, plan.shift_m + _hip_out(lifter, side))
        return roll_toward(lifter, own, hip, side)

    return Bend(knee, np.arctan2(line.x, line.y), roll("r"), roll("l"))


def _own_stance(stance: Stance, asymmetry_deg: float, side: str) -> Stance:
    """Return the stance of one foot, turned out by half the asymmetry."""
    turnout_deg = stance.turnout_deg + 0.5 * SIGN[side] * asymmetry_deg
    return replace(stance, turnout_deg=turnout_deg)


def _hip_out(lifter: Lifter, side: str) -> ArrayLike:
    """Return how far to the right of the middle a side's hip is, m."""
    return 0.5 * SIGN[side] * lifter.hip_width_m


def _standing(lifter: Lifter, bar: Bar, stance: Stance, plan: Plan) -> Bend:
    """Find the leg's lean at which the standing trunk leans as planned."""
    leg_leans = np.radians(np.linspace(-8.0, 16.0, 49))
    trunk_leans = _balanced(lifter, bar, stance, Bend(STANDING_KNEE, leg_leans)).trunk_deg
    usable = np.isfinite(trunk_leans)
    if not usable.any():
        return Bend(STANDING_KNEE, np.nan)
    # The further forward the hips, the further back the trunk: interp wants the falling
    # lean as a rising one.
    leg = np.interp(-plan.standing_lean_deg, -trunk_leans[usable], leg_leans[usable])
    return Bend(STANDING_KNEE, float(leg))


def _balanced(
    lifter: Lifter,
    bar: Bar,
    stance: Stance,
    bend: Bend,
    *,
    asymmetry_deg: float = 0.0,
    shift: ArrayLike = 0.0,
    lumbar: ArrayLike = 0.0,
    drift: ArrayLike = 0.0,
    straightness: ArrayLike = 0.0,
    onto_ball: ArrayLike = 0.0,
) -> Posture:
    """Return the balanced posture whose hips are where the bend takes them.

    All angles in rad, lengths in m, any shapes that broadcast.
    """
    _, _, ball, ankle = foot(lifter, stance, "r")
    half = 0.5 * lifter.hip_width_m
    # Seen from the side, the leg is shorter by what it goes across, from ankle to hip.
    with np.errstate(invalid="ignore"):
        length = np.sqrt(leg_length(lifter, bend.knee) ** 2 - (ankle.z - half) ** 2)
    x = ankle.x + length * np.sin(bend.leg)
    y = ankle.y + length * np.cos(bend.leg)
    if not asymmetry_deg and not np.any(shift):
        right = leg_from_hip(lifter, stance, Vector(x, y, half), bend.roll_r)
        left = right.mirrored()
    else:

        def leg(side: str, roll: ArrayLike) -> Leg:
            """Return one leg under hips that have slid to one side."""
            own = _own_stance(stance, asymmetry_deg, side)
            hip = Vector(x, y, shift + _hip_out(lifter, side))
            return leg_from_hip(lifter, own, hip, roll, side)

        right, left = leg("r", bend.roll_r), leg("l", bend.roll_l)
        ball = Vector(np.maximum(right.ball.x, left.ball.x), 0.0, 0.0)
    # The heels rise later than this: the weight must be on the ball before they do.
    target = np.maximum(drift, onto_ball * ball.x)
    if np.any(straightness):
        # Two rules of balance: bar and body together over mid-foot, or the bar alone. A lifter
        # between the two lets the bar wander less than under the first; the weight then goes
        # back by a part of what it would under the second.
        bar_over = balance_on(lifter, bar, stance, right, left, "bar", 0.0, lumbar)
        back = np.minimum(np.nan_to_num(bar_over.system_centre.x), 0.0)
        target = np.where(target > 0.0, target, straightness * back)
    return balance_on(lifter, bar, stance, right, left, "system", target, lumbar)
