"""Who moves first: from what shall be seen to the leads that make it seen.

A lead of one schedule before the other is not what a camera sees: hip and
knee angle each answer to both. So every lifter gets a table, leads against
what they result in, and it is read backward.
"""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from squatlab import signals
from squatlab.mechanics import trunk
from squatlab.mechanics.posture import Posture
from squatlab.motion.path import Path
from squatlab.motion.plan import LONGEST_LEAD, Plan
from squatlab.motion.schedule import Shares, ascent, descent, sticking

LEADS = np.linspace(-LONGEST_LEAD, LONGEST_LEAD, 17)[:, np.newaxis]
"""The leads that are tried, in shares of the time of the way."""

TAU = np.linspace(-0.2, 1.0, 61)[:, np.newaxis, np.newaxis]
"""The instants that are tried, in shares of the time of the way."""

AT_RISE = 0.25
"""The part of the hips' rise at which up and down are compared
[teaching-value]."""

BEGUN_TO_LOWEST = 0.81
"""The share of a smoothest movement left when 5 % of it is done [flash1985]."""


class SideView(NamedTuple):
    """Hold what is seen from the right, rad: flexion of hip and knee, lean."""

    hip: NDArray[np.float64]
    knee: NDArray[np.float64]
    lean: NDArray[np.float64]


def side_view(posture: Posture) -> SideView:
    """Return the angles of the right side in the picture's plane.

    The trunk's line runs from the hip to C7.
    """
    lifter, leg = posture.lifter, posture.right
    l5 = trunk.spot_of_l5(lifter, posture.lumbar)
    c7 = posture.at(trunk.Spot(l5.along + lifter.hip_to_c7_m - lifter.pelvis_m, l5.behind))
    lean = np.arctan2(c7.x - leg.hip.x, c7.y - leg.hip.y)
    thigh = np.arctan2(leg.knee.x - leg.hip.x, leg.hip.y - leg.knee.y)
    shank = np.arctan2(leg.knee.x - leg.ankle.x, leg.knee.y - leg.ankle.y)
    return SideView(lean + thigh, thigh + shank, lean)


def knees_before_hips(path: Path, hip_lead_s: ArrayLike) -> ArrayLike:
    """Return how long before the hips the knees begin to bend, s.

    For each lead (lead, 1 or repetition) in s; both onsets at 5 %.
    """
    plan = replace(path.plan, hip_lead_s=hip_lead_s)
    seen = side_view(replace(path, plan=plan).posture(descent(TAU * plan.descent_s, plan)))
    hip, knee = (
        signals.onset(angle, TAU.ravel(), rest=angle[0]) for angle in (seen.hip, seen.knee)
    )
    return (hip - knee) * plan.descent_s


def hips_before_shoulders(path: Path, ascent_lead_s: ArrayLike) -> ArrayLike:
    """Return how much more the trunk leans going up than going down, °.

    With the hips at the same height, a quarter of their way up; for each
    lead (lead, 1 or repetition) in s.
    """
    plan = replace(path.plan, ascent_lead_s=ascent_lead_s)
    where = sticking(plan, path.risen_to(plan.slowest_deg))
    down = path.posture(descent(TAU * plan.descent_s, plan))
    up = ascent(TAU * plan.ascent_s, plan, where)
    up = path.posture(up._replace(knee=1 - up.knee, leg=1 - up.leg))
    top, low = down.hip.y[0], down.hip.y[-1]
    level = low + AT_RISE * (top - low)
    leans = (
        _where(way.hip.y[::step], level, side_view(way).lean[::step])
        for way, step in ((up, 1), (down, -1))
    )
    return np.degrees(np.subtract(*leans))


def _where(height: NDArray, level: ArrayLike, values: NDArray) -> NDArray[np.float64]:
    """Return the values where a height that rises in time passes a level."""
    after = np.argmax(height > level, axis=0)[np.newaxis]
    (low, high), (first, then) = (
        (np.take_along_axis(array, after - 1, 0)[0], np.take_along_axis(array, after, 0)[0])
        for array in np.broadcast_arrays(height, values)
    )
    return first + (level - low) / (high - low) * (then - first)


def timed(path: Path) -> tuple[Plan, dict[str, str]]:
    """Return the path's plan with the leads and times that grant its wishes.

    Also returns, by fault and in words, which of them this lifter cannot
    grant; the nearest is done then.
    """
    plan, unmet = path.plan, {}
    if not np.all(np.isnan(plan.drop_s)):
        plan = _dropping(path)
    if not np.all(np.isnan(plan.ascent_m_s)):
        plan = replace(plan, ascent_s=_coming_up(path))
    for fault, wish, lead, lasts, result, unit, words in (
        (
            "knees_first",
            plan.onset_s,
            "hip_lead_s",
            plan.descent_s,
            knees_before_hips,
            1000,
            "the knees can begin at most {:.0f} ms before the hips in this descent",
        ),
        (
            "hips_rise_first",
            plan.rise_deg,
            "ascent_lead_s",
            plan.ascent_s,
            hips_before_shoulders,
            1,
            "the trunk can lean at most {:.1f}° further in this ascent",
        ),
    ):
        if np.all(np.isnan(wish)):
            continue
        leads = LEADS * lasts
        table = result(replace(path, plan=plan), leads)
        found, most = _read_backward(leads, table, wish, getattr(plan, lead))
        if np.any(wish > most):
            unmet[fault] = f"{fault}: {words.format(unit * np.min(most))}"
        plan = replace(plan, **{lead: found})
    return plan, unmet


def _read_backward(
    leads: NDArray, table: NDArray, wish: ArrayLike, otherwise: ArrayLike
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the leads that give what is wished, and the most that can be had.

    The table falls with the lead; nan wishes keep what they have.
    """
    wish, otherwise = np.broadcast_arrays(wish, otherwise, table[0])[:2]
    leads, table = (np.broadcast_to(rows, (len(leads), wish.size)) for rows in (leads, table))
    found, most = otherwise.copy(), np.full(wish.size, np.inf)
    for k in np.flatnonzero(~np.isnan(wish)):
        known = np.isfinite(table[:, k])
        rising = np.maximum.accumulate(table[known, k][::-1])
        if rising.size:
            found[k] = np.interp(wish[k], rising, leads[known, k][::-1])
            most[k] = rising[-1]
    return found, most


def _coming_up(path: Path) -> NDArray[np.float64]:
    """Return how long each ascent lasts, s: the bar's rise by its mean speed.

    As long as the plan says where no speed is wished or no posture can be.
    """
    ends = Shares(np.array([[0.0], [1.0]]), np.array([[0.0], [1.0]]))
    height = path.posture(ends).bar_centre.y
    lasts = (height[0] - height[1]) / path.plan.ascent_m_s
    return np.where(lasts > 0.0, lasts, path.plan.ascent_s)


def _dropping(path: Path) -> Plan:
    """Return the plan whose descent is seen to last as wished.

    From 5 % of the hips' way to the lowest point, over 0.81. Leads keep
    their share of the descent, so that the way only runs faster.
    """
    plan = path.plan
    height = path.posture(descent(TAU[:, 0] * plan.descent_s, plan)).hip.y
    begun = signals.onset(height, TAU.ravel(), rest=height[0], end=height[-1])
    lasts = plan.drop_s * BEGUN_TO_LOWEST / (1 - begun)
    # Where a posture cannot be, nothing is seen to last; that it cannot be is told elsewhere.
    lasts = np.where(np.isnan(lasts), plan.descent_s, lasts)
    return replace(plan, descent_s=lasts, hip_lead_s=plan.hip_lead_s * lasts / plan.descent_s)
