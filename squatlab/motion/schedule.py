"""When what moves: smooth schedules, who goes first, where the bar slows."""

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
"""Between which shares of the time the one who set out later catches up
[teaching-value]."""

PUSHED_FROM, PUSH, PUSHED = 0.1, 0.5, (0.25, 0.6)
"""Knees ahead of the hips by more than this share of the time push the hips
forward, by so much of the way for each further share; when it is most,
and over [teaching-value]."""


THROWN_FROM, THROW, THROWN = 0.2, 0.7, (0.3, 0.7)
"""Knees that stretch ahead of the hips by more than this share of the ascent
throw the hips back, by so much of the way for each further share; when it is
most, and over [teaching-value]."""


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
    """Hold how far knee and leg angle are on their way down, 0 to 1, and
    how much of an over-arch there is; each (frame, …).
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
    """Place the sticking region where ``risen`` (0 to 1) of the knee's way up
    is done; its dip deepens with the load from where the region begins.
    """
    beyond = (plan.load - plan.slows_from) / (1.0 - plan.slows_from)
    dip = DEEPEST_DIP * np.clip(beyond, 0.0, 1.1)
    tau = np.linspace(0.0, 1.0, 201)
    undisturbed = np.interp(risen, minimum_jerk(tau).position, tau)
    lost = dip * DIP_WIDTH
    return Sticking(undisturbed * (1 - 2 * lost) + lost, dip)


def slowed(tau: ArrayLike, where: Sticking) -> NDArray[np.float64]:
    """Return time with a slow stretch in it: 0 at 0, 1 at 1, always rising."""
    tau = np.clip(tau, 0.0, 1.0)
    before = np.tanh(where.place / DIP_WIDTH)
    after = np.tanh((1 - where.place) / DIP_WIDTH)
    lost = where.dip * DIP_WIDTH
    passed = np.tanh((tau - where.place) / DIP_WIDTH) + before
    return (tau - lost * passed) / (1 - lost * (before + after))


def descent(since: ArrayLike, plan: Plan) -> Shares:
    """Return the shares done on the way down, ``since`` s after its start.

    Knees that go far ahead push the hips forward before they come back.
    """
    tau, lead = since / plan.descent_s, plan.hip_lead_s / plan.descent_s
    done = _shares(tau, lead, plan.braking)
    far = np.maximum(-lead - PUSHED_FROM, 0.0)
    if np.any(far):
        out, back = PUSHED
        pushed = PUSH * far * (ramp(tau, 0.0, out) - ramp(tau, out, back))
        done = done._replace(leg=done.leg - pushed)
    if not np.any(plan.arch_deg):
        return done
    return done._replace(arch=ramp(since, *ARCH_RISES_S) - ramp(tau, *ARCH_FALLS))


def ascent(since: ArrayLike, plan: Plan, where: Sticking) -> Shares:
    """Return the shares done on the way up, ``since`` s after its start.

    With a negative ``ascent_lead_s`` the knees stretch first, so that the
    hips rise and the shoulders stay; far ahead they throw the hips back.
    """
    tau, lead = slowed(since / plan.ascent_s, where), plan.ascent_lead_s / plan.ascent_s
    done = _shares(tau, lead)
    far = np.maximum(-lead - THROWN_FROM, 0.0)
    if np.any(far):
        out, back = THROWN
        thrown = THROW * far * (ramp(tau, 0.0, out) - ramp(tau, out, back))
        done = done._replace(leg=done.leg - thrown)
    return done


def _shares(tau: ArrayLike, lead: ArrayLike, braking: ArrayLike = 0.0) -> Shares:
    """Return both shares, the leg's angle ahead of the knee's by a lead.

    The later one catches up by the middle: both arrive together.
    """
    behind = 1 - ramp(tau, *CATCHING_UP)
    knee = minimum_jerk(_brought_forward(tau - np.maximum(lead, 0.0) * behind, braking)).position
    leg = minimum_jerk(_brought_forward(tau - np.maximum(-lead, 0.0) * behind, braking)).position
    return Shares(knee, leg)


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
