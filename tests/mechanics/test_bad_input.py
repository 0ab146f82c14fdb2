"""What a user may get wrong, and the words that answer."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from squatlab import Bar, Lifter, Stance, balance, pose
from squatlab.mechanics.posture import OBSTACLES, problems

LIFTER, STANCE = Lifter.from_stature(1.75, 80), Stance()


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Bar.high(-20), "mass_kg is -20; it must lie between 0 and 500 kg on the bar"),
        (lambda: Bar.low(float("nan")), "mass_kg is nan; it must lie between 0 and 500 kg"),
        (lambda: Bar(100, 0.9, 0), "drop_m is 0.9; it must lie between -0.05 and 0.3 m down"),
        (lambda: Stance(-0.1), "heel_width_m is -0.1; it must lie between 0 and 1.5 m"),
        (lambda: Stance(0.3, 90), "turnout_deg is 90; it must lie between -10 and 60"),
        (lambda: balance(LIFTER, Bar.high(100), STANCE, shank_deg=120), "shank_deg is 120"),
        (lambda: balance(LIFTER, Bar.high(100), STANCE, thigh_deg=-95), "thigh_deg is -95"),
        (lambda: balance(LIFTER, Bar.high(100), STANCE, thigh_deg=np.nan), "thigh_deg is nan"),
        (lambda: balance(LIFTER, Bar.high([20, 30, -1]), STANCE), r"-1 \(value 2 of 3\)"),
        (lambda: balance(LIFTER, Bar.high(9), STANCE, over="heels"), '"system" or "bar"'),
        (lambda: pose(LIFTER, Bar.high(100), STANCE, trunk_deg=130), "trunk_deg is 130"),
    ],
)
def test_impossible_numbers_are_refused_in_words(make, words):
    with pytest.raises(ValueError, match=words):
        make()


@pytest.mark.parametrize(
    ("posture", "words"),
    [
        (lambda: balance(LIFTER, Bar.high(100), Stance(1.4, 0), 0, 30), "stance is out of reach"),
        (lambda: balance(LIFTER, Bar.high(0), STANCE, 0, -30), "no trunk lean balances this"),
        (
            lambda: balance(replace(LIFTER, dorsiflexion_deg=20), Bar.high(60), STANCE, 0, 32),
            r"ankles would have to bend 32° and this lifter's limit is 20°",
        ),
        (
            lambda: balance(
                replace(LIFTER, dorsiflexion_deg=60).scaled(thigh=1.2),
                Bar.high(60),
                STANCE,
                -55,
                60,
            ),
            "knees would have to bend",
        ),
        (lambda: pose(LIFTER, Bar.high(100), STANCE, 10), r"tips backward: .* cm behind"),
        (
            lambda: pose(LIFTER, Bar.high(100), STANCE, 85, 30),
            r"tips forward: .* cm ahead of the toes",
        ),
        (lambda: pose(LIFTER, Bar.high(40), STANCE, 88, -30, 20), "hips would have to bend"),
    ],
)
def test_a_posture_that_cannot_be_is_a_result_with_a_reason(posture, words):
    import re

    found = posture()
    assert found.feasible is False
    assert re.search(words, found.reason), found.reason
    assert "not feasible" in repr(found)


def test_many_postures_carry_many_reasons():
    postures = balance(LIFTER, Bar.high(60), STANCE, 0, [25, 30, 65])
    assert postures.feasible.tolist() == [True, True, False]
    assert postures.reason[0] == "" and "ankles" in postures.reason[2]
    assert repr(postures) == "3 postures, 2 feasible"


def test_raised_heels_bear_no_weight():
    stiff = replace(LIFTER, dorsiflexion_deg=25)
    raised = Stance(0.3, 12, heel_rise_deg=12)
    lifted = balance(stiff, Bar.high(60), raised, 0, 35)
    assert lifted.feasible and lifted.com[0] == pytest.approx(lifted.points["ball_r"][0])
    back = balance(stiff, Bar.high(60), raised, 0, 35, target_x_m=0.0)
    assert not back.feasible and "part of the foot that bears weight" in back.reason


def test_values_are_copied_and_cannot_be_changed_later():
    loads = np.array([20.0, 40.0])
    bar = Bar.high(loads)
    loads[0] = -1
    assert bar.mass_kg.tolist() == [20, 40]
    with pytest.raises(ValueError, match="read-only"):
        bar.mass_kg[0] = 3


def test_the_short_names_stand_in_the_order_of_the_checks():
    found = problems(balance(LIFTER, Bar.high(60), STANCE))
    spoken = ("stance is out of reach", "no trunk lean", "ankles", "knees", "hips", "backward",
              "forward")  # fmt: skip
    for name, problem, word in zip(OBSTACLES, found, spoken, strict=True):
        assert word in problem.words(*(float(value) for value in problem.values))
        assert name.split()[0] in word or word in name or name.split()[1] in word, name
