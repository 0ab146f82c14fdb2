"""Who moves first: the leads that give a wanted order of joints.

A lead is how long one schedule sets out before the other. A camera sees
something else, because the angles of hip and knee each depend on both
schedules. So a table is made for every lifter, from leads to what would
be measured, and the wanted measurement is looked up in it.
"""

from __future__ import annotations

from collections.abc import Callable
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
"""The leads that are tried, as shares of the time of descent or ascent."""

TAU = np.linspace(-0.2, 1.0, 61)[:, np.newaxis, np.newaxis]
"""The instants that are tried, as shares of the time of descent or ascent."""

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

    The trunk's line runs from the hip to C7. Lean, thigh and shank are
    each measured from the vertical, so that hip and knee flexion are sums.
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
    going_down = replace(path, plan=plan).posture(descent(TAU * plan.descent_s, plan))
    view = side_view(going_down)
    hip_onset = signals.onset(view.hip, TAU.ravel(), rest=view.hip[0])
    knee_onset = signals.onset(view.knee, TAU.ravel(), rest=view.knee[0])
    return (hip_onset - knee_onset) * plan.descent_s


def hips_before_shoulders(path: Path, ascent_lead_s: ArrayLike) -> ArrayLike:
    """Return how much more the trunk leans going up than going down, °.

    With the hips at the same height, a quarter of their way up; for each
    lead (lead, 1 or repetition) in s.
    """
    plan = replace(path.plan, ascent_lead_s=ascent_lead_s)
    where = sticking(plan, path.risen_to(plan.slowest_deg))
    down = path.posture(descent(TAU * plan.descent_s, plan))
    schedule_up = ascent(TAU * plan.ascent_s, plan, where)
    # The shares count the way down, so going up what is done of the ascent comes off 1.
    up = path.posture(schedule_up._replace(knee=1 - schedule_up.knee, leg=1 - schedule_up.leg))
    top, low = down.hip.y[0], down.hip.y[-1]
    level = low + AT_RISE * (top - low)
    # The descent is read backward in time, so that the hips rise in both.
    lean_up = _value_at_height(up.hip.y, level, side_view(up).lean)
    lean_down = _value_at_height(down.hip.y[::-1], level, side_view(down).lean[::-1])
    return np.degrees(lean_up - lean_down)


def _value_at_height(height: NDArray, level: ArrayLike, values: NDArray) -> NDArray[np.float64]:
    """Return the values at the instant when a rising height passes a level.

    All (time, …); straight between the two instants around it.
    """
    height, values = np.broadcast_arrays(height, values)
    after = np.argmax(height > level, axis=0)[np.newaxis]

    def around(array: NDArray) -> tuple[NDArray, NDArray]:
        """Return an array's entries just before and just after the passage."""
        before = np.take_along_axis(array, after - 1, axis=0)[0]
        return before, np.take_along_axis(array, after, axis=0)[0]

    low, high = around(height)
    first, then = around(values)
    return first + (level - low) / (high - low) * (then - first)


class TimedPlan(NamedTuple):
    """Hold a plan whose leads and times give what it asks for.

    ``unmet`` says, by fault and in words, what this lifter cannot do; the
    plan then comes as near as can be.
    """

    plan: Plan
    unmet: dict[str, str]


class LeadRule(NamedTuple):
    """Say which lead of a plan brings about which of its wishes.

    ``wish``, ``lead`` and ``duration`` name fields of a plan: what should
    be measured, the lead to find for it, s, and how long that part of the
    lift lasts, s. ``measured`` takes a path and leads, s, and returns what
    they would be measured as. ``unreachable`` words the most that can be
    had, times ``per_unit``.
    """

    fault: str
    wish: str
    lead: str
    duration: str
    measured: Callable[[Path, ArrayLike], ArrayLike]
    per_unit: float
    unreachable: str


LEAD_RULES = (
    LeadRule(
        fault="knees_first",
        wish="onset_s",
        lead="hip_lead_s",
        duration="descent_s",
        measured=knees_before_hips,
        per_unit=1000,
        unreachable="the knees can begin at most {:.0f} ms before the hips in this descent",
    ),
    LeadRule(
        fault="hips_rise_first",
        wish="rise_deg",
        lead="ascent_lead_s",
        duration="ascent_s",
        measured=hips_before_shoulders,
        per_unit=1,
        unreachable="the trunk can lean at most {:.1f}° further in this ascent",
    ),
)
"""What is found by trying leads, in the order in which it is found."""


def timed(path: Path) -> TimedPlan:
    """Return the path's plan with the leads and times that give its wishes."""
    plan, unmet = path.plan, {}
    if not np.all(np.isnan(plan.drop_s)):
        plan = _dropping(path)
    if not np.all(np.isnan(plan.ascent_m_s)):
        plan = replace(plan, ascent_s=_coming_up(path))
    for rule in LEAD_RULES:
        wish = getattr(plan, rule.wish)
        if np.all(np.isnan(wish)):
            continue
        leads = LEADS * getattr(plan, rule.duration)
        measured = rule.measured(replace(path, plan=plan), leads)
        found = _look_up(leads, measured, wish, getattr(plan, rule.lead))
        if np.any(wish > found.most):
            most = rule.per_unit * np.min(found.most)
            unmet[rule.fault] = f"{rule.fault}: {rule.unreachable.format(most)}"
        plan = replace(plan, **{rule.lead: found.leads})
    return TimedPlan(plan, unmet)


class FoundLeads(NamedTuple):
    """Hold the lead for each repetition, s, and the most that any lead gives."""

    leads: NDArray[np.float64]
    most: NDArray[np.float64]


def _look_up(
    leads: NDArray, measured: NDArray, wish: ArrayLike, otherwise: ArrayLike
) -> FoundLeads:
    """Return the leads at which the wish would be measured.

    ``leads`` and ``measured`` are (lead, 1 or repetition). A repetition
    whose wish is nan keeps its lead, ``otherwise``.
    """
    wish, otherwise = np.broadcast_arrays(wish, otherwise, measured[0])[:2]
    leads = np.broadcast_to(leads, (len(leads), wish.size))
    measured = np.broadcast_to(measured, leads.shape)
    found, most = otherwise.copy(), np.full(wish.size, np.inf)
    for k in np.flatnonzero(~np.isnan(wish)):
        known = np.isfinite(measured[:, k])
        # What is measured falls as the lead grows. interp needs it rising, so both are
        # turned round, and a small dip in it is levelled out.
        rising = np.maximum.accumulate(measured[known, k][::-1])
        if rising.size:
            found[k] = np.interp(wish[k], rising, leads[known, k][::-1])
            most[k] = rising[-1]
    return FoundLeads(found, most)


def _coming_up(path: Path) -> NDArray[np.float64]:
    """Return how long each ascent lasts, s: the bar's rise by its mean speed.

    As long as the plan says where it asks for no speed, or where no
    posture is possible.
    """
    # Nothing done is standing, all done is the bottom.
    standing_and_bottom = np.array([[0.0], [1.0]])
    height = path.posture(Shares(standing_and_bottom, standing_and_bottom)).bar_centre.y
    duration = (height[0] - height[1]) / path.plan.ascent_m_s
    return np.where(duration > 0.0, duration, path.plan.ascent_s)


def _dropping(path: Path) -> Plan:
    """Return the plan whose descent is measured to last ``drop_s``.

    The review measures from 5 % of the hips' way down to the lowest
    point, and divides by 0.81 to have the whole. Leads keep their share
    of the descent, so that the same movement only runs faster.
    """
    plan = path.plan
    height = path.posture(descent(TAU[:, 0] * plan.descent_s, plan)).hip.y
    begun = signals.onset(height, TAU.ravel(), rest=height[0], end=height[-1])
    duration = plan.drop_s * BEGUN_TO_LOWEST / (1 - begun)
    # Where no posture is possible nothing can be measured; `obstacle` says so.
    duration = np.where(np.isnan(duration), plan.descent_s, duration)
    lead = plan.hip_lead_s * duration / plan.descent_s
    return replace(plan, descent_s=duration, hip_lead_s=lead)
