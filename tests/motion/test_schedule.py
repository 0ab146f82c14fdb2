"""When what moves, against what was published and what coaches see."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from squatlab import Bar, Lifter, Stance
from squatlab.motion import Injection, Tempo, synthesise
from squatlab.motion.effort import BEST
from squatlab.motion.schedule import (
    PUSHED_FORWARD,
    THROWN_BACK,
    Shares,
    Sticking,
    ascent,
    descent,
    slowed,
    sticking,
)
from squatlab.signals import derivative
from tests.motion.definitions import Seen, line_angle

LIFTER = Lifter.from_stature(1.75, 80)
BAR, STANCE = Bar.high(80), Stance()
LIGHT = Bar.high(1e-9)
NOWHERE = Sticking(0.5, 0.0)
"""An ascent that slows nowhere."""


def knee_angle(rep):
    p = rep.points
    thigh, shank = p["hip_r"] - p["knee_r"], p["knee_r"] - p["ankle_r"]
    across = np.linalg.norm(np.cross(thigh, shank), axis=1)
    return np.arctan2(across, np.sum(thigh * shank, axis=1))


@pytest.mark.parametrize("part", ["descent", "ascent"])
def test_the_knee_moves_as_smoothly_as_can_be(part):
    # Flash & Hogan 1985, J Neurosci 5:1688: peaks 1.875 A/D and 5.7735 A/D². The ascent of an
    # empty bar has no sticking region.
    rep = synthesise(
        LIFTER, LIGHT, STANCE, Tempo(1.5, 0.4, 1.2, hip_lead_s=0.0, braking=0.0), rate=500
    )
    when, angle = rep.events, knee_angle(rep)
    first, last = {"descent": ("start", "bottom"), "ascent": ("ascent", "end")}[part]
    inside = (rep.time > when[first] - 0.1) & (rep.time < when[last] + 0.1)
    way, lasts = np.ptp(angle), when[last] - when[first]
    if part == "ascent":
        inside &= rep.time > when["ascent"] + 0.65 * lasts  # where the knees have caught up
    speed = np.abs(derivative(angle, 500.0))[inside].max()
    acceleration = np.abs(derivative(angle, 500.0, 2))[inside].max()
    assert acceleration == pytest.approx(5.7735 * way / lasts**2, rel=0.01)
    if part == "descent":
        assert speed == pytest.approx(1.875 * way / lasts, rel=0.001)


@pytest.mark.parametrize(("lead_s", "knees_first_ms", "slack"), [
    (0.15, -130, 20), (-0.15, 60, 10), (0.0, -25, 10),
])  # fmt: skip
def test_a_lead_is_not_what_is_seen(lead_s, knees_first_ms, slack):
    # From trials with two minimum-jerk schedules: the hips .15 s ahead are seen .13 s ahead, the
    # knees .15 s ahead only .06 s, and with equal leads the hips seem .025 s ahead.
    tempo = Tempo(descent_s=1.6, hip_lead_s=lead_s, braking=0.0)
    rep = synthesise(LIFTER, BAR, STANCE, tempo)
    assert Seen(rep.points, rep.time).knees_first() == pytest.approx(knees_first_ms, abs=slack)


def test_events_are_where_the_points_say():
    tempo = Tempo(1.4, 0.3, 1.6, repetitions=3, standing_s=0.9)
    rep = synthesise(LIFTER, BAR, STANCE, tempo, rate=100)
    assert rep.time[-1] == pytest.approx(0.9 + 3 * (1.4 + 0.3 + 1.6 + 0.9), abs=0.01)
    assert len(rep.each) == 3 and rep.events == rep.each[0]
    height = rep.points["pelvis"][:, 1]
    for when in rep.each:
        still = (rep.time > when["bottom"] - 1e-9) & (rep.time < when["ascent"] + 1e-9)
        assert np.ptp(height[still]) < 1e-9
        assert height[still][0] == pytest.approx(height.min(), abs=1e-9)
        assert when["ascent"] - when["bottom"] == pytest.approx(0.3)
        assert when["hip_onset"] < when["knee_onset"]  # hips lead [common-practice]
    assert rep.time[rep.bottom] == pytest.approx(rep.events["bottom"], abs=0.011)
    between = (rep.time > rep.each[0]["end"]) & (rep.time < rep.each[1]["start"])
    assert np.ptp(height[between]) < 1e-9 and between.sum() > 80


def bar_speed(rep):
    return derivative(rep.points["bar"][:, 1], 120.0)


def peaks_and_dip(rep):
    """Return the speeds of two peaks and the dip between, and the dip's frame."""
    speed, going_up = bar_speed(rep), rep.time > rep.events["ascent"]
    turns = np.flatnonzero((np.diff(np.sign(np.diff(speed))) != 0) & going_up[2:]) + 1
    turns = [i for i in turns if speed[i] > 0.05]
    if len(turns) < 3:
        return None
    return speed[turns[0]], speed[turns[2]], speed[turns[1]], turns[1]


def test_a_heavy_bar_slows_well_above_level_and_goes_on():
    # The sticking region: two peaks of speed with a slow stretch between (van den Tillaar 2020,
    # Front Sports Act Living 2:604177), the thigh 32.5 ± 3.0° above level (Hales et al. 2009,
    # J Strength Cond Res 23:2574).
    best = BEST * LIFTER.mass_kg
    losses = []
    for share in (0.9, 0.95, 1.0):
        rep = synthesise(LIFTER, Bar.high(share * best), STANCE)
        first, second, dip, frame = peaks_and_dip(rep)
        assert dip < min(first, second)
        assert rep.posture.thigh_deg[frame] == pytest.approx(32.5, abs=3.0)
        losses.append(1 - dip / min(first, second))
    assert losses[0] < losses[1] < losses[2]
    assert peaks_and_dip(synthesise(LIFTER, Bar.high(0.8 * best), STANCE)) is None


def fastest_share(rep):
    """Return when the pelvis goes down fastest, as a share of the time from 5 to 95 % down."""
    height = rep.points["pelvis"][:, 1]
    going = slice(*np.searchsorted(rep.time, (rep.events["start"], rep.events["bottom"])))
    down = (height.max() - height[going]) / np.ptp(height)
    first, last = np.interp((0.05, 0.95), down, rep.time[going])
    fastest = rep.time[going][np.argmax(derivative(down, 120.0))]
    return (fastest - first) / (last - first)


def test_the_descent_brakes_and_a_mirrored_one_does_not():
    """Filmed descents are fastest at .37 (83 of a depth camera) to .45 (44 clips)."""
    tempo = Tempo(hip_lead_s=0.0)
    assert fastest_share(synthesise(LIFTER, BAR, STANCE, tempo)) == pytest.approx(0.41, abs=0.03)
    mirrored = replace(tempo, braking=0.0)
    assert fastest_share(synthesise(LIFTER, BAR, STANCE, mirrored)) > 0.48


def test_the_best_lift_is_as_slow_as_best_lifts_are():
    # Sánchez-Medina et al. 2017, Sports Med Int Open 1:E80: .32 ± .03 m/s over the ascent.
    rep = synthesise(LIFTER, Bar.high(BEST * LIFTER.mass_kg), STANCE)
    when, height = rep.events, rep.points["bar"][:, 1]
    rise = np.ptp(np.interp([when["ascent"], when["end"]], rep.time, height))
    assert rise / (when["end"] - when["ascent"]) == pytest.approx(0.32, abs=0.03)


def test_slow_time_begins_and_ends_on_time_and_never_turns_back():
    tau = np.linspace(-0.2, 1.2, 1401)
    for kg in (0.0, 60.0, 120.0, 400.0):
        for risen in (0.0, 0.2, 0.5, 1.0):
            plan = synthesise(LIFTER, Bar.high(max(kg, 1.0)), STANCE).plan
            warped = slowed(tau, sticking(plan, np.array(risen)))
            assert warped[tau <= 0] == pytest.approx(0.0, abs=1e-12)
            assert warped[tau >= 1] == pytest.approx(1.0, abs=1e-12)
            assert (np.diff(warped) >= 0).all()


@pytest.mark.parametrize(
    ("shares_of", "lead", "duration", "swing"),
    [
        (descent, "hip_lead_s", "descent_s", PUSHED_FORWARD),
        (
            lambda since, plan: ascent(since, plan, NOWHERE),
            "ascent_lead_s",
            "ascent_s",
            THROWN_BACK,
        ),
    ],
    ids=["down", "up"],
)
@pytest.mark.parametrize("share", [0.05, 0.35])
def test_hips_that_follow_late_are_pushed_and_hips_that_lead_are_not(
    shares_of, lead, duration, swing, share
):
    """Symmetry: the joint that goes first moves the same, but for hips that the knees push."""
    plan = replace(synthesise(LIFTER, BAR, STANCE).plan, braking=0.0)
    seconds = getattr(plan, duration)
    since = np.linspace(0.0, seconds, 401)
    hips_first = shares_of(since, replace(plan, **{lead: share * seconds}))
    knees_first = shares_of(since, replace(plan, **{lead: -share * seconds}))
    assert hips_first.leg == pytest.approx(knees_first.knee)
    pushed = hips_first.knee - knees_first.leg
    assert pushed.max() == pytest.approx(swing.gain * max(share - swing.from_lead, 0.0), abs=1e-3)
    assert pushed.min() == pytest.approx(0.0, abs=1e-9)
    assert pushed[[0, -1]] == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"descent_s": 0.1}, r"descent_s is 0\.1; it must lie between 0\.4 and 6 s from the first"),
        ({"repetitions": 2.5}, "repetitions is 2.5; give a whole number between 1 and 50"),
        ({"descent_s": 0.5, "hip_lead_s": 0.3}, "at most 0.4 of the descent"),
        ({"standing_s": 0.0}, "enough to see how the lifter stands"),
    ],
)
def test_a_tempo_that_cannot_be_is_refused_in_words(wrong, words):
    with pytest.raises(ValueError, match=words):
        Tempo(**wrong)


def test_where_a_thigh_has_risen_to_is_found_to_half_a_percent():
    """Second route: SciPy's root finder on the posture, feet straight below the hips."""
    width = float(LIFTER.hip_width_m)
    path = synthesise(LIFTER, BAR, Stance(width, 0.0), rate=20).path

    def steepness(risen, thigh_deg):
        down = 1 - risen
        return float(path.posture(Shares(down, down)).thigh_deg) - thigh_deg

    path = replace(path, plan=path.plan.at(np.array([0])))
    for thigh_deg in (3.0, 11.0, 20.0, 31.0, 44.0, 52.5, 63.0, 70.0):
        exact = brentq(steepness, 0.0, 0.999, args=(thigh_deg,))
        assert np.ravel(path.risen_to(thigh_deg)) == pytest.approx(exact, abs=0.0027), thigh_deg


COMES = {
    "heel_lift": (3.0, lambda p: p["heel_r"][:, 1], 0.30, 0.66),
    "lateral_shift": (5.0, lambda p: (p["hip_r"] + p["hip_l"])[:, 2], 0.40, 0.86),
    "uneven_bar": (6.0, lambda p: p["bar_end_l"][:, 1] - p["bar_end_r"][:, 1], 0.0, 0.30),
    "lumbar_rounding": (
        40.0,
        lambda p: np.degrees(line_angle(p["l5"], p["c7"]) - line_angle(p["pelvis"], p["l5"])),
        0.55,
        1.0,
    ),
}
"""Faults that come between two shares of the knee's way down [teaching-value]: of which size,
what shows them, and from when on until when they come."""


@pytest.mark.parametrize("fault", COMES)
def test_a_fault_comes_between_its_shares_of_the_knees_way(fault):
    size, shown, first, last = COMES[fault]
    rep = synthesise(LIFTER, BAR, STANCE, injections=Injection(fault, size))
    share, there = np.asarray(rep.shares.knee), np.abs(shown(rep.points))
    whole = there.max()
    assert there[share <= first] == pytest.approx(0.0, abs=1e-9)
    assert (there[share > first + 0.1 * (last - first)] > 1e-4 * whole).all()
    assert there[share >= last - 1e-9] == pytest.approx(whole, rel=1e-6)
    assert (there[share < last - 0.1 * (last - first)] < (1 - 1e-4) * whole).all()
    # Half way between it is half there: it comes as smoothly as it can, and so evenly.
    half = np.argmin(np.abs(share - (first + last) / 2))
    assert there[half] == pytest.approx(0.5 * whole, rel=0.05)
