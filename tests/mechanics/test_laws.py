"""Laws that every posture must obey, on random lifters, bars and stances."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from squatlab import Bar, Lifter, Stance, balance, joint_moments, pose, tables
from squatlab.mechanics.balance import balance_on
from squatlab.mechanics.legs import knee_direction, leg_from_hip, roll_of
from squatlab.mechanics.support import BALL

NEWTON_METRE_ROUNDING = 1e-9
MICROMETRE = 1e-6

TABLES = ("winter2009", "deleva1996_men", "deleva1996_women")

lifters = st.builds(
    lambda stature, mass, table, thigh, shank, trunk: Lifter.from_stature(
        stature, mass, table=table
    ).scaled(thigh=thigh, shank=shank, trunk=trunk),
    st.floats(1.45, 2.1),
    st.floats(45, 160),
    st.sampled_from(TABLES),
    st.floats(0.9, 1.1),
    st.floats(0.9, 1.1),
    st.floats(0.9, 1.1),
)
bars = st.builds(Bar, st.floats(0, 300), st.floats(0, 0.14), st.floats(0.02, 0.1))
stances = st.builds(
    Stance, st.floats(0.15, 0.5), st.floats(0, 30), st.floats(-5, 10), wedge_m=st.floats(0, 0.06)
)
thighs, shanks = st.floats(-30, 60), st.floats(5, 40)


@st.composite
def placed(draw, **options):
    posture = balance(
        draw(lifters),
        draw(bars),
        draw(stances),
        draw(thighs),
        draw(shanks),
        lumbar_deg=draw(st.floats(-10, 40)),
        **options,
    )
    assume(np.isfinite(posture.sine) and np.isfinite(posture.hip.x))
    return posture


@given(placed())
def test_the_balanced_system_stands_over_mid_foot(posture):
    assert posture.com[0] == pytest.approx(0.0, abs=MICROMETRE)
    assert posture.com_shift == pytest.approx(0.0, abs=MICROMETRE)


@given(placed(over="bar"))
def test_the_other_rule_puts_the_bar_over_mid_foot(posture):
    assert posture.points["bar"][0] == pytest.approx(0.0, abs=MICROMETRE)


@given(placed())
def test_hip_and_knee_share_one_sum_whatever_the_trunk_does(posture):
    """Identity 1: both legs' hip plus knee moment depends on the thigh alone.

    The centre of each thigh lies at the table's fraction from the hip.
    """
    lifter, moments = posture.lifter, joint_moments(posture)
    level_thigh = posture.knee.x - posture.hip.x
    carried = (
        posture.bar.mass_kg
        + lifter.mass("hat")
        + 2 * lifter.mass("thigh") * (1 - lifter.centre("thigh"))
    )
    both_legs = 2 * (moments.hip + moments.knee)
    assert both_legs == pytest.approx(tables.G * level_thigh * carried, abs=1e-7)


@given(placed(), st.floats(0, 0.14), st.floats(0.02, 0.1))
def test_the_bars_place_changes_the_lean_and_not_the_leg_moments(posture, drop, behind):
    """Identity 2, with which the course leads."""
    elsewhere = replace(posture.bar, drop_m=drop, behind_m=behind)
    moved = balance_on(
        posture.lifter,
        elsewhere,
        posture.stance,
        posture.right,
        posture.left,
        lumbar=posture.lumbar,
    )
    assume(np.isfinite(moved.sine))
    for name in ("hip", "knee", "ankle"):
        before, after = (getattr(joint_moments(p), name) for p in (posture, moved))
        assert after == pytest.approx(before, abs=1e-7)


def test_a_lower_bar_needs_more_lean():
    lifter, stance = Lifter.from_stature(1.75, 80), Stance()
    high, low = (balance(lifter, bar, stance) for bar in (Bar.high(100), Bar.low(100)))
    assert low.trunk_deg > high.trunk_deg + 1


@given(placed())
def test_the_ankles_hold_the_weight_above_them(posture):
    """Identity 3, the centre above the ankles found from the whole and the feet."""
    lifter = posture.lifter
    legs = 2 * sum(lifter.mass(name) for name in ("thigh", "shank", "foot"))
    system = legs + lifter.mass("hat") + posture.bar.mass_kg
    feet = 2 * lifter.mass("foot")
    foot_x = posture.right.centre(lifter, "foot").x
    above = system - feet
    centre_above = (system * posture.com[0] - feet * foot_x) / above
    expected = tables.G * above * (centre_above - posture.ankle.x)
    assert 2 * joint_moments(posture).ankle == pytest.approx(expected, abs=1e-7)


@given(placed())
def test_left_mirrors_right(posture):
    points = posture.points
    for name in ("heel", "toe", "ankle", "knee", "hip", "shoulder", "elbow", "wrist", "bar_end"):
        mirrored = points[f"{name}_l"] * [1, 1, -1]
        assert points[f"{name}_r"] == pytest.approx(mirrored, abs=MICROMETRE)


@given(placed())
def test_segments_keep_their_lengths(posture):
    lifter, points = posture.lifter, posture.points
    for start, end, length in (
        ("hip_r", "knee_r", lifter.thigh_m),
        ("knee_l", "ankle_l", lifter.shank_m),
        # A foot on a wedge bends at its ball.
        ("heel_r", "ball_r", BALL * lifter.foot_m),
        ("ball_r", "toe_r", (1 - BALL) * lifter.foot_m),
        ("pelvis", "l5", lifter.pelvis_m),
        ("shoulder_r", "elbow_r", lifter.upper_arm_m),
        ("elbow_l", "wrist_l", lifter.forearm_m),
    ):
        assert np.linalg.norm(points[end] - points[start]) == pytest.approx(length, abs=1e-7)


@given(placed())
def test_doubling_every_mass_doubles_every_moment(posture):
    heavy = Lifter.from_stature(1.8, 60, table=posture.lifter.table)
    twice = replace(heavy, mass_kg=120)
    bar = Bar.low(50)
    light = joint_moments(balance(heavy, bar, posture.stance, -5, 25))
    double = joint_moments(balance(twice, Bar.low(100), posture.stance, -5, 25))
    assume(np.isfinite(light.hip))
    assert np.array(double) == pytest.approx(2 * np.array(light), rel=1e-9)


@given(placed())
def test_asked_angles_come_back_from_the_points(posture):
    again = pose(
        posture.lifter,
        posture.bar,
        posture.stance,
        trunk_deg=np.clip(posture.trunk_deg, -30, 90),
        thigh_deg=posture.thigh_deg,
        shank_deg=posture.shank_deg,
        lumbar_deg=np.degrees(posture.lumbar),
    )
    assume(-30 < posture.trunk_deg < 90)
    for name, point in posture.points.items():
        assert again.points[name] == pytest.approx(point, abs=MICROMETRE)


@given(lifters, stances, thighs, shanks, st.sampled_from("rl"))
def test_legs_come_back_from_their_hips(lifter, stance, thigh, shank, side):
    from squatlab.mechanics.legs import leg_from_angles

    leg = leg_from_angles(lifter, stance, np.radians(thigh), np.radians(shank), side)
    assume(np.isfinite(leg.hip.x))
    assume(leg.knee_flexion() > 0.02)  # a straight leg has no plane
    again = leg_from_hip(lifter, stance, leg.hip, roll_of(lifter, stance, leg, side), side)
    assert again.knee.stack() == pytest.approx(leg.knee.stack(), abs=1e-9)


def test_forward_and_inverse_differ_without_the_roll():
    """Why the roll exists: in a turned-out stance the plain inverse is centimetres off."""
    from squatlab.mechanics.legs import leg_from_angles

    lifter, stance = Lifter.from_stature(1.75, 80), Stance(0.45, 25)
    leg = leg_from_angles(lifter, stance, 0.0, np.radians(30))
    plain = leg_from_hip(lifter, stance, leg.hip)
    assert np.linalg.norm((plain.knee - leg.knee).stack()) > 0.01
    # Without a roll the knee lies in the plane of hip, ankle and where it points: no volume.
    shank, line, points = (
        vector.stack()
        for vector in (
            plain.knee - plain.ankle,
            plain.hip - plain.ankle,
            knee_direction(stance, "r"),
        )
    )
    assert np.linalg.det([shank, line, points]) == pytest.approx(0.0, abs=MICROMETRE**2)


@given(placed())
def test_arms_are_level_distances_between_the_points(posture):
    arms, points = posture.moment_arms(), posture.points
    for joint, point in (("hip", "pelvis"), ("l5s1", "l5")):
        x = points[point][0]
        assert getattr(arms, f"{joint}_bar") == pytest.approx(points["bar"][0] - x)
        assert getattr(arms, f"{joint}_system") == pytest.approx(posture.com[0] - x)
    for joint in ("knee", "ankle"):
        x = 0.5 * (points[f"{joint}_r"][0] + points[f"{joint}_l"][0])
        assert getattr(arms, f"{joint}_bar") == pytest.approx(points["bar"][0] - x)
        assert getattr(arms, f"{joint}_system") == pytest.approx(posture.com[0] - x)


def test_without_angles_the_thigh_is_level_and_the_shank_leans_by_thirty_degrees():
    lifter, bar = Lifter.from_stature(1.75, 80), Bar.high(60)
    for posture in (balance(lifter, bar, Stance()), pose(lifter, bar, Stance(), 40.0)):
        assert posture.right.hip.y == pytest.approx(posture.right.knee.y, abs=MICROMETRE)
        rise = posture.right.knee.y - posture.right.ankle.y
        assert rise == pytest.approx(lifter.shank_m * np.sqrt(0.75), abs=MICROMETRE)  # cos 30°
        assert posture.points["l5"][0] - posture.points["pelvis"][0] == pytest.approx(
            lifter.pelvis_m * posture.sine, abs=MICROMETRE
        )


@settings(max_examples=20)
@given(lifters, bars, stances, st.integers(2, 5))
def test_one_call_for_many_equals_many_calls(lifter, bar, stance, count):
    rng = np.random.default_rng(count)
    thigh, shank = rng.uniform(-20, 40, (3, count)), rng.uniform(10, 35, count)
    together = balance(lifter, bar, stance, thigh, shank)
    moments = joint_moments(together)
    for index in np.ndindex(3, count):
        alone = balance(lifter, bar, stance, thigh[index], shank[index[1]])
        assert together.trunk_deg[index] == pytest.approx(alone.trunk_deg, nan_ok=True)
        assert together.reason[index] == alone.reason
        assert together.feasible[index] == alone.feasible
        assert moments.knee[index] == pytest.approx(joint_moments(alone).knee, nan_ok=True)


@given(placed(), st.floats(5, 40))
def test_rounding_the_back_keeps_the_balance_and_the_leg_moments(posture, lumbar):
    rounded = balance_on(
        posture.lifter,
        posture.bar,
        posture.stance,
        posture.right,
        posture.left,
        lumbar=np.radians(lumbar),
    )
    assume(np.isfinite(rounded.sine))
    assert rounded.com[0] == pytest.approx(0.0, abs=MICROMETRE)
    assert joint_moments(rounded).knee == pytest.approx(joint_moments(posture).knee, abs=1e-7)


def test_the_two_rules_meet_as_the_bar_gets_heavy():
    lifter, stance = Lifter.from_stature(1.75, 80), Stance()
    loads = np.array([20.0, 100.0, 200.0, 400.0])
    apart = [
        balance(lifter, Bar.high(loads), stance, over=over).trunk_deg for over in ("bar", "system")
    ]
    gaps = np.abs(apart[0] - apart[1])
    assert np.all(np.diff(gaps) < 0) and gaps[-1] < 3


def test_a_heavier_bar_changes_the_lean_where_no_root_finder_disagrees():
    """Second route to the balance: SciPy's root finder on the centre of mass of a pose."""
    from scipy.optimize import brentq

    rng = np.random.default_rng(3)
    for _ in range(50):
        lifter = Lifter.from_stature(rng.uniform(1.5, 2.0), rng.uniform(50, 130))
        bar, stance = Bar.low(rng.uniform(0, 200)), Stance(rng.uniform(0.2, 0.5), 15)
        thigh, shank = rng.uniform(-25, 30), rng.uniform(20, 38)

        def shift(lean, lifter=lifter, bar=bar, stance=stance, thigh=thigh, shank=shank):
            return pose(lifter, bar, stance, lean, thigh, shank).com_shift

        closed = balance(lifter, bar, stance, thigh, shank).trunk_deg
        if -30 < closed < 90:
            assert closed == pytest.approx(brentq(shift, -30, 90, xtol=1e-12), abs=1e-8)
