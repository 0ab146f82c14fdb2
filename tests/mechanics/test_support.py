"""What bears weight: heels in the air bear nothing, heels on a wedge do."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from squatlab import Bar, Lifter, Stance, balance, pose
from squatlab.mechanics.legs import foot
from squatlab.mechanics.support import BALL, Support, turn_that_lifts
from squatlab.motion import Injection, Tempo, synthesise

LIFTER = Lifter.from_stature(1.75, 80)
BAR = Bar.high(60)
STIFF = replace(LIFTER, dorsiflexion_deg=22)
ROUNDING_M = 1e-12
ROUNDING_DEG = 1e-9

wedges = st.floats(0.005, 0.08)
statures = st.floats(1.45, 2.1)


@given(statures, wedges, st.floats(0, 30))
def test_a_wedge_lifts_the_heel_by_its_height_and_leaves_ball_and_toe_alone(
    stature, wedge, turnout
):
    lifter = Lifter.from_stature(stature, 70)
    flat = foot(lifter, Stance(turnout_deg=turnout), "r")
    raised = foot(lifter, Stance(turnout_deg=turnout, wedge_m=wedge), "r")
    assert raised[0].y == pytest.approx(wedge, abs=ROUNDING_M)
    for point, before in zip(raised[1:3], flat[1:3], strict=True):
        assert np.abs((point - before).stack()).max() < ROUNDING_M


@given(statures, wedges)
def test_on_a_wedge_the_whole_foot_bears(stature, wedge):
    lifter = Lifter.from_stature(stature, 70)
    squat = balance(lifter, BAR, Stance(wedge_m=wedge), shank_deg=35)
    assert squat.target_x_m == 0
    assert squat.base.rear_x == squat.right.heel.x
    assert squat.base.front_x == squat.right.toe.x
    # The foot's length seen from above: behind the ball it is pitched by the wedge.
    pitch = np.arcsin(wedge / (BALL * lifter.foot_m))
    along = lifter.foot_m * (BALL * np.cos(pitch) + 1 - BALL) * np.cos(np.radians(12))
    assert squat.base.length == pytest.approx(along, abs=ROUNDING_M)


@given(statures, wedges, st.floats(10, 45))
def test_the_ankle_bends_less_by_just_the_angle_of_the_wedge(stature, wedge, shank):
    lifter = Lifter.from_stature(stature, 70)
    flat, raised = (
        balance(lifter, BAR, Stance(turnout_deg=0, wedge_m=height), shank_deg=shank)
        for height in (0.0, wedge)
    )
    saved = np.degrees(flat.right.dorsiflexion() - raised.right.dorsiflexion())
    assert saved == pytest.approx(
        np.degrees(np.arcsin(wedge / (BALL * lifter.foot_m))), abs=ROUNDING_DEG
    )


def test_a_stiff_ankle_is_allowed_the_wedges_angle_more_and_no_more():
    wedge = 0.03
    gained = np.degrees(turn_that_lifts(STIFF, wedge))
    stance = Stance(turnout_deg=0, wedge_m=wedge)
    assert balance(STIFF, BAR, stance, shank_deg=22 + gained - 0.01).feasible
    beyond = balance(STIFF, BAR, stance, shank_deg=22 + gained + 0.01)
    assert not beyond.feasible and "ankles would have to bend" in beyond.reason


def test_heels_that_leave_a_wedge_bear_nothing():
    risen = balance(LIFTER, BAR, Stance(heel_rise_deg=3, wedge_m=0.03), shank_deg=35)
    assert risen.base.rear_x == risen.right.ball.x == risen.target_x_m
    behind_the_ball = pose(
        LIFTER, BAR, Stance(heel_rise_deg=3), balance(LIFTER, BAR, Stance(), shank_deg=35).trunk_deg
    )
    assert "tips backward" in behind_the_ball.reason


def test_the_rule_holds_element_by_element():
    support = Support(np.array([0.0, 0.0, 5.0]), np.array([0.0, 0.03, 0.03]))
    assert support.heels_bear.tolist() == [True, True, False]
    assert support.base_length(LIFTER) == pytest.approx(
        np.array([1.0, 1.0, 1 - BALL]) * LIFTER.foot_m
    )
    mixed = balance(LIFTER, BAR, Stance(heel_rise_deg=[0.0, 5.0], wedge_m=0.03), shank_deg=35)
    assert mixed.target_x_m.tolist() == [0.0, mixed.right.ball.x]


def test_a_wedge_changes_nothing_but_the_place_of_the_ankle():
    """The legs above the ankle keep their angles, so lean follows the ankle alone."""
    flat, raised = (
        balance(LIFTER, BAR, Stance(turnout_deg=0, wedge_m=height), shank_deg=32)
        for height in (0.0, 0.03)
    )
    moved = (raised.right.ankle - flat.right.ankle).stack()
    for joint in ("knee", "hip"):
        shifted = getattr(raised.right, joint) - getattr(flat.right, joint)
        assert np.abs(shifted.stack() - moved).max() < ROUNDING_M
    assert raised.trunk_deg < flat.trunk_deg


def test_a_wedge_of_a_decimetre_is_the_highest():
    with pytest.raises(ValueError, match="wedge_m is 0.2.*between 0 and 0.1 m of wedge"):
        Stance(wedge_m=0.2)


def test_a_repetition_on_a_wedge_keeps_its_heels_and_its_balance():
    rep = synthesise(STIFF, BAR, Stance(wedge_m=0.03), Tempo(), shank_deg=27)
    assert rep.feasible, rep.reason
    assert np.ptp(rep.points["heel_r"][:, 1]) < ROUNDING_M
    assert np.abs(rep.posture.system_centre.x).max() < 1e-6
    assert not synthesise(STIFF, BAR, Stance(), Tempo(), shank_deg=27).feasible


def test_knees_far_forward_need_a_smaller_rise_on_a_wedge():
    """The wedge gives part of the pitch that the heels must otherwise rise by."""
    wish = Injection("knees_far_forward", 13)
    flat, raised = (
        synthesise(STIFF, BAR, Stance(turnout_deg=0, wedge_m=height), injections=wish)
        for height in (0.0, 0.02)
    )
    pitches = [np.max(rep.posture.stance.support.pitch(STIFF)) for rep in (flat, raised)]
    assert pitches[0] == pytest.approx(pitches[1], abs=1e-9)
    assert np.max(raised.plan.heel_rise_deg) < np.max(flat.plan.heel_rise_deg)


@pytest.mark.parametrize(("part", "rises"), [(0.9, True), (1.1, False)])
def test_a_wedge_as_high_as_the_heels_would_rise_keeps_them_down_and_no_note_says_they_rise(
    part, rises
):
    wish = Injection("knees_far_forward", 10)
    flat = synthesise(STIFF, BAR, Stance(turnout_deg=0), injections=wish)
    assert len(flat.notes) == 1
    lifted_m = flat.points["heel_r"][:, 1].max()
    wedged = synthesise(STIFF, BAR, Stance(turnout_deg=0, wedge_m=part * lifted_m), injections=wish)
    assert bool(wedged.notes) == rises
    assert (np.ptp(wedged.points["heel_r"][:, 1]) > 1e-6) == rises
