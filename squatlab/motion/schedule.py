"""When each part moves: smooth schedules, which joint goes first, where the bar slows.

Knee and leg each follow a smoothest movement (minimum jerk) of their own;
a lead sets one out before the other, and the sticking region bends time
itself, for both alike.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from squatlab.motion.plan import Plan
from squatlab.signals import minimum_jerk

DEEPEST_DIP = 0.9
"""How much of its speed the ascent loses in the sticking region with the best
load: 0.09 m/s are left of a mean of 0.32 [hales2009] [sanchezmedina2017]. With
less by how far the load is beyond where the region begins [teaching-value]."""

DIP_WIDTH = 0.10
"""Half the width of the sticking region, of the time of the ascent
[teaching-value]."""

ARCH_RISES_S = (-0.05, 0.20)
ARCH_FALLS = (0.50, 0.80)
"""An over-arch comes as the descent begins, s, and goes in its second
half, of its time [teaching-value]."""

CATCHING_UP = (0.15, 0.60)
"""Between which shares of the time the joint that set out later catches up
[teaching-value]."""


class Swing(NamedTuple):
    """Say how hips swing out of their way while the knees are far ahead.

    A lead of more than ``from_lead`` (a share of the time) swings them by
    ``gain`` of their way for each further share of lead. The swing is
    largest at ``largest`` and over at ``over``, shares of the time.
    """

    from_lead: float
    gain: float
    largest: float
    over: float

    def at(self, tau: ArrayLike, lead: ArrayLike) -> ArrayLike:
        """Return the swing at a share of the time, as a share of the way."""
        beyond = np.maximum(lead - self.from_lead, 0.0)
        out_and_back = ramp(tau, 0.0, self.largest) - ramp(tau, self.largest, self.over)
        return self.gain * beyond * out_and_back


PUSHED_FORWARD = Swing(from_lead=0.1, gain=0.5, largest=0.25, over=0.6)
"""Knees that bend far ahead of the hips push the hips forward
[teaching-value]."""

THROWN_BACK = Swing(from_lead=0.2, gain=0.7, largest=0.3, over=0.7)
"""Knees that stretch far ahead of the hips throw the hips back
[teaching-value]."""


class Sticking(NamedTuple):
    """Say at which share of the ascent's time it is slowest, and by how much."""

    place: ArrayLike
    dip: ArrayLike


class Timeline(NamedTuple):
    """Hold times (frame,) s, each frame's repetition, and when each starts."""

    time: NDArray[np.float64]
    which: NDArray[np.intp]
    start: NDArray[np.float64]


class Shares(NamedTuple):
    """Hold how much of a lift's angles there is at each frame, 0 to 1.

    ``knee`` and ``leg`` go from standing, 0, to the bottom, 1; ``arch`` is
    the part of an over-arch that is there. Each (frame, …).
    """

    knee: NDArray[np.float64]
    leg: NDArray[np.float64]
    arch: ArrayLike = 0.0


def ramp(value: ArrayLike, first: ArrayLike, last: ArrayLike) -> NDArray[np.float64]:
    """Return 0 up to ``first``, 1 from ``last`` on, smoothest between [flash1985]."""
    return minimum_jerk((value - first) / (last - first)).position


def timeline(plan: Plan, repetitions: int, standing_s: float, rate: float) -> Timeline:
    """Lay the repetitions out in time, at ``rate`` frames per second.

    A frame between two repetitions belongs to the nearer one.
    """
    moving = np.broadcast_to(plan.descent_s + plan.pause_s + plan.ascent_s, repetitions)
    start = standing_s + np.concatenate([[0.0], np.cumsum(moving + standing_s)])
    time = np.arange(int(np.ceil(start[-1] * rate - 1e-6)) + 1) / rate
    time.flags.writeable = False
    start = start[:-1]
    which = np.searchsorted(start[1:] - 0.5 * standing_s, time, side="right")
    return Timeline(time, which, start)


def sticking(plan: Plan, risen: ArrayLike) -> Sticking:
    """Place the sticking region in the ascent's time.

    It lies where ``risen`` (0 to 1) of the knee's way up is done; its dip
    deepens with the load from where the region begins.
    """
    beyond = (plan.load - plan.slows_from) / (1.0 - plan.slows_from)
    dip = DEEPEST_DIP * np.clip(beyond, 0.0, 1.1)
    tau = np.linspace(0.0, 1.0, 201)
    undisturbed = np.interp(risen, minimum_jerk(tau).position, tau)
    # `slowed` must give ``undisturbed`` at the place. Far from both ends its two tanh of the
    # ends are 1, so that slowed(place) = (place − lost) / (1 − 2 lost); solved for the place.
    lost = dip * DIP_WIDTH
    return Sticking(undisturbed * (1 - 2 * lost) + lost, dip)


def slowed(tau: ArrayLike, where: Sticking) -> NDArray[np.float64]:
    """Return time with a slow stretch in it: 0 at 0, 1 at 1, always rising.

    Time runs at 1 − dip / cosh²((τ − place) / width), that is slowest at
    the place; this is its integral, scaled to end at 1.
    """
    tau = np.clip(tau, 0.0, 1.0)
    before = np.tanh(where.place / DIP_WIDTH)
    after = np.tanh((1 - where.place) / DIP_WIDTH)
    lost = where.dip * DIP_WIDTH
    passed = np.tanh((tau - where.place) / DIP_WIDTH) + before
    return (tau - lost * passed) / (1 - lost * (before + after))


def descent(since: ArrayLike, plan: Plan) -> Shares:
    """Return the shares of the way down, ``since`` s after its start.

    Knees that go far ahead push the hips forward before they come back.
    """
    tau, hip_lead = since / plan.descent_s, plan.hip_lead_s / plan.descent_s
    descended = _shares(tau, hip_lead, plan.braking)
    if np.any(-hip_lead > PUSHED_FORWARD.from_lead):
        leg = descended.leg - PUSHED_FORWARD.at(tau, -hip_lead)
        descended = descended._replace(leg=leg)
    if np.any(plan.arch_deg):
        arch = ramp(since, *ARCH_RISES_S) - ramp(tau, *ARCH_FALLS)
        descended = descended._replace(arch=arch)
    return descended


def ascent(since: ArrayLike, plan: Plan, where: Sticking) -> Shares:
    """Return the shares of the way up, ``since`` s after its start.

    With a negative ``ascent_lead_s`` the knees stretch first, so that the
    hips rise and the shoulders stay; far ahead they throw the hips back.
    """
    tau, hip_lead = slowed(since / plan.ascent_s, where), plan.ascent_lead_s / plan.ascent_s
    risen = _shares(tau, hip_lead)
    if np.any(-hip_lead > THROWN_BACK.from_lead):
        risen = risen._replace(leg=risen.leg - THROWN_BACK.at(tau, -hip_lead))
    return risen


def _shares(tau: ArrayLike, lead: ArrayLike, braking: ArrayLike = 0.0) -> Shares:
    """Return both shares, the leg's angle ahead of the knee's by a lead.

    A negative lead sets the knee's out first. The later one catches up by
    the middle, so that both arrive together.
    """
    still_behind = 1 - ramp(tau, *CATCHING_UP)
    knee_tau = tau - np.maximum(lead, 0.0) * still_behind
    leg_tau = tau - np.maximum(-lead, 0.0) * still_behind
    return Shares(
        knee=minimum_jerk(_brought_forward(knee_tau, braking)).position,
        leg=minimum_jerk(_brought_forward(leg_tau, braking)).position,
    )


def _brought_forward(tau: ArrayLike, braking: ArrayLike) -> ArrayLike:
    """Return time that runs ahead in between: 0 at 0, 1 at 1, always rising.

    τ + b τ (1 − τ) runs 1 + b times as fast at first and 1 − b times at
    the end, so what moves by it is fastest early and then brakes.
    """
    if not np.any(braking):
        return tau
    tau = np.clip(tau, 0.0, 1.0)
    return tau + braking * tau * (1.0 - tau)


def shares(plan: Plan, line: Timeline, where: Sticking) -> Shares:
    """Return the shares of every frame; ``plan`` is spread over frames."""
    since = line.time - line.start[line.which]
    down = descent(since, plan)
    up = ascent(since - plan.descent_s - plan.pause_s, plan, where)
    return Shares(down.knee - up.knee, down.leg - up.leg, down.arch)
