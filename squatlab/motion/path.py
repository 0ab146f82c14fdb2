"""The way of the hips: about the ankles, from standing to the bottom."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from squatlab.lifter import Lifter
from squatlab.mechanics.balance import balance_on
from squatlab.mechanics.legs import (
    SIGN,
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

EARLY, HEELS, DEEP, ROUNDING = (0.0, 0.3), (0.3, 0.66), (0.4, 0.86), (0.55, 1.0)
"""Between which shares of the knee's way the weight goes forward, bar and
head tip; the heels rise; the knees fall in and the hips slide; the low
back rounds [teaching-value]."""


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
        sine = self.lifter.shank_m * np.sin(bend.knee) / leg_length(self.lifter, bend.knee)
        elevation = 90.0 - np.degrees(np.arcsin(sine) - bend.leg)
        return 1.0 - share[:, 0][np.argmin(np.abs(elevation - thigh_deg), axis=0)]

    def bend(self, shares: Shares) -> Bend:
        """Return the leg's angles where these shares of the way are done."""
        rolled = np.maximum(shares.knee, 0.0) ** 1.5  # so the knee stays over the foot when low
        return Bend(
            self.standing.knee + (self.bottom.knee - self.standing.knee) * shares.knee,
            self.standing.leg + (self.bottom.leg - self.standing.leg) * shares.leg,
            *(roll * rolled for roll in self.bottom[2:]),
        )

    def posture(self, shares: Shares) -> Posture:
        """Return the balanced posture where these shares of the way are done."""
        plan, bend = self.plan, self.bend(shares)
        down = shares.knee
        deep, early = ramp(down, *DEEP), ramp(down, *EARLY)
        stance = replace(
            self.stance,
            valgus_deg=plan.valgus_deg * deep if np.any(plan.valgus_deg) else 0.0,
            heel_rise_deg=(
                plan.heel_rise_deg * ramp(down, *HEELS) if np.any(plan.heel_rise_deg) else 0.0
            ),
        )
        lumbar = np.radians(plan.lumbar_deg * ramp(down, *ROUNDING) - plan.arch_deg * shares.arch)
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
    """Return the distance from ankle to hip, m, at a knee flexion in rad."""
    shank, thigh = lifter.shank_m, lifter.thigh_m
    return np.sqrt(shank**2 + thigh**2 + 2 * shank * thigh * np.cos(knee))


def path_of(lifter: Lifter, bar: Bar, stance: Stance, plan: Plan) -> Path:
    """Solve standing and bottom, and return the path between them."""
    stance = replace(stance, turnout_deg=plan.turnout_deg)
    lowest = replace(stance, valgus_deg=plan.valgus_deg, heel_rise_deg=plan.heel_rise_deg)
    standing = _standing(lifter, bar, stance, plan)
    return Path(lifter, bar, stance, plan, standing, _bottom(lifter, lowest, plan))


def _bottom(lifter: Lifter, stance: Stance, plan: Plan) -> Bend:
    thigh, shank = np.radians(plan.thigh_deg), np.radians(plan.shank_deg)
    leg = leg_from_angles(lifter, stance, thigh, shank)
    line = leg.hip - leg.ankle
    squares = line.dot(line) - lifter.shank_m**2 - lifter.thigh_m**2
    knee = np.arccos(squares / (2 * lifter.shank_m * lifter.thigh_m))
    rolls = (
        roll_toward(lifter, own, Vector(leg.hip.x, leg.hip.y, plan.shift_m + place), side)
        for side, own, place in _sides(lifter, stance, plan.asymmetry_deg)
    )
    return Bend(knee, np.arctan2(line.x, line.y), *rolls)


def _sides(
    lifter: Lifter, stance: Stance, asymmetry_deg: float
) -> Iterator[tuple[str, Stance, float]]:
    """Give each side, its own stance and how far out its hip is."""
    for side, sign in SIGN.items():
        turnout = stance.turnout_deg + 0.5 * sign * asymmetry_deg
        yield side, replace(stance, turnout_deg=turnout), 0.5 * sign * lifter.hip_width_m


def _standing(lifter: Lifter, bar: Bar, stance: Stance, plan: Plan) -> Bend:
    """Find the leg's lean at which the standing trunk leans as wished."""
    leg = np.radians(np.linspace(-8.0, 16.0, 49))
    found = _balanced(lifter, bar, stance, Bend(STANDING_KNEE, leg))
    lean = found.trunk_deg
    usable = np.isfinite(lean)
    if not usable.any():
        return Bend(STANDING_KNEE, np.nan)
    # The further forward the hips, the further back the trunk.
    wished = np.interp(-plan.standing_lean_deg, -lean[usable], leg[usable])
    return Bend(STANDING_KNEE, float(wished))


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
    with np.errstate(invalid="ignore"):
        length = np.sqrt(leg_length(lifter, bend.knee) ** 2 - (ankle.z - half) ** 2)
    x = ankle.x + length * np.sin(bend.leg)
    y = ankle.y + length * np.cos(bend.leg)
    if not asymmetry_deg and not np.any(shift):
        right = leg_from_hip(lifter, stance, Vector(x, y, half), bend.roll_r)
        left = right.mirrored()
    else:
        right, left = (
            leg_from_hip(lifter, own, Vector(x, y, shift + place), roll, side)
            for (side, own, place), roll in zip(
                _sides(lifter, stance, asymmetry_deg), bend[2:], strict=True
            )
        )
        ball = Vector(np.maximum(right.ball.x, left.ball.x), 0.0, 0.0)
    # The heels rise later than this: the weight must be on the ball before they do.
    target = np.maximum(drift, onto_ball * ball.x)
    if np.any(straightness):
        # Over mid-foot may be bar and body together or the bar alone. Between both the bar
        # wanders less than by the first rule, and the weight goes back a little.
        bar_over = balance_on(lifter, bar, stance, right, left, "bar", 0.0, lumbar)
        back = np.minimum(np.nan_to_num(bar_over.system_centre.x), 0.0)
        target = np.where(target > 0.0, target, straightness * back)
    return balance_on(lifter, bar, stance, right, left, "system", target, lumbar)
