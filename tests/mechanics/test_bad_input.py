"""What a user may get wrong, and the words that answer."""

from __future__ import annotations

import copy
import pickle
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest

from squatlab import Bar, Lifter, Population, Stance, balance, faults, joint_moments, pose
from squatlab.mechanics.balance import balance_on
from squatlab.mechanics.legs import leg_from_angles
from squatlab.mechanics.posture import OBSTACLES, problems
from squatlab.motion import Camera, Injection, Tempo
from squatlab.tracks import Tracks

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


@pytest.mark.parametrize("bent", ["r", "l"])
def test_one_ankle_bent_too_far_is_enough_whichever_it_is(bent):
    """Mirror symmetry: what a lifter can hold does not depend on which leg bends more."""
    shank = {side: np.radians(50 if side == bent else 30) for side in "rl"}
    right, left = (leg_from_angles(LIFTER, STANCE, 0.0, shank[side], side) for side in "rl")
    posture = balance_on(LIFTER, Bar.high(60), STANCE, right, left)
    assert LIFTER.dorsiflexion_deg == 40  # between the two
    assert posture.feasible is False and "ankles" in posture.reason


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
    spoken = (
        "stance is out of reach",
        "no trunk lean",
        "ankles",
        "knees",
        "hips",
        "backward",
        "forward",
    )
    named = ("stance", "balance", "ankles", "knees", "hips", "backward", "forward")
    for name, short, problem, word in zip(OBSTACLES, named, found, spoken, strict=True):
        assert word in problem.words(*(float(value) for value in problem.values))
        assert short in name


@pytest.mark.parametrize(
    "value", ["100", True, None, 1 + 2j, [1, "2"], np.ma.array([1.0, 2.0], mask=[0, 1]), [True]]
)
def test_what_is_no_number_is_refused(value):
    with pytest.raises(ValueError, match="mass_kg is .*; give a number, or an array of numbers"):
        Bar.high(value)


def test_any_real_number_is_taken():
    given = (100, np.float32(100), np.int8(100), Fraction(100), Decimal(100), np.array(100.0))
    assert {Bar.high(mass).mass_kg for mass in given} == {100.0}


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: balance(LIFTER, Bar.high(60), STANCE, target_x_m=5), "target_x_m is 5; it must"),
        (lambda: balance(LIFTER, Bar.high(60), STANCE, target_x_m=np.nan), "target_x_m is nan"),
        (lambda: balance(LIFTER, Bar.high(60), STANCE, target_x_m="0"), "target_x_m is '0'"),
        (lambda: Bar([20, 30], [0.1, 0.1, 0.1], 0), r"mass_kg \(2,\), drop_m \(3,\)"),
        (lambda: Stance([0.3, 0.4], [1, 2, 3]), r"heel_width_m \(2,\), turnout_deg \(3,\)"),
        (
            lambda: balance(LIFTER, Bar.high([20, 30]), STANCE, [0, 1, 2]),
            r"a posture do not fit each other: bar \(2,\), thigh_deg \(3,\)",
        ),
        (lambda: pose(LIFTER, Bar.high(60), Stance([0.3, 0.4]), [40, 41, 42]), r"stance \(2,\)"),
        (lambda: Camera.side(distance_m=[3, 4]), r"distance_m is an array of shape \(2,\)"),
        (lambda: Tempo(descent_s=[1, 2]), r"descent_s is an array of shape \(2,\)"),
        (lambda: Tempo(repetitions=[1, 2]), r"repetitions is an array of shape \(2,\)"),
        (lambda: Injection("short_depth", [10, 20]), r"short_depth is an array of shape \(2,\)"),
        (lambda: Injection("short_depth", 10, onset="2"), "onset is 2; give the repetition"),
        (lambda: Injection(["short_depth"], 10), "there is no fault"),
    ],
)
def test_arrays_and_numbers_that_do_not_fit_are_refused_in_words(make, words):
    with pytest.raises(ValueError, match=words):
        make()


def test_a_batch_whose_arrays_sit_in_any_field_prints_its_size():
    batches = (
        pose(LIFTER, Bar.high(60), STANCE, 40, [0, 10]),
        pose(LIFTER, Bar.high([20, 60]), STANCE, 40),
        pose(LIFTER, Bar.high(60), Stance([0.2, 0.3]), 40),
        pose(Lifter.from_stature(1.75, [70, 80]), Bar.high(60), STANCE, 40),
        pose(LIFTER, Bar.high(60), STANCE, 40, lumbar_deg=[0, 10]),
    )
    for batch in batches:
        assert batch.shape == (2,) and repr(batch).startswith("2 postures, ")
        assert repr(joint_moments(batch)) == "JointMoments of 2 postures"
    nobody = Lifter.from_stature([], [])
    assert repr(nobody).startswith("0 lifters") and repr(balance(nobody, Bar.high(60), STANCE))


def arrays_of(noun):
    """Yield every array that a noun holds, however deep."""
    for value in vars(noun).values() if hasattr(noun, "__dict__") else ():
        yield from (value,) if isinstance(value, np.ndarray) else arrays_of(value)
    for name in getattr(type(noun), "__slots__", ()):
        value = getattr(noun, name)
        yield from (value,) if isinstance(value, np.ndarray) else arrays_of(value)
    if isinstance(noun, dict):
        yield from (value for value in noun.values() if isinstance(value, np.ndarray))


@pytest.mark.parametrize(
    "copied", [lambda noun: noun, copy.deepcopy, lambda noun: pickle.loads(pickle.dumps(noun))]
)
def test_arrays_cannot_be_changed_not_even_in_a_copy(copied):
    lifter, bar = Lifter.from_stature([1.7, 1.8], 80), Bar.high([60, 80])
    posture = balance(lifter, bar, Stance([0.3, 0.4]), [0, -5], target_x_m=[0.0, 0.01])
    assert posture.feasible.any() and posture.com.any() and posture.points and len(posture.reason)
    assert posture.trunk_deg.any() and posture.thigh_deg.any() and posture.hip_flexion_deg.any()
    population = Population.ansur2("women")
    tracks = Tracks([0.0, 0.1, 0.2], np.zeros((3, 1, 2)), ("hip_r",), "side")
    for noun in (lifter, bar, posture, population, tracks):
        held = list(arrays_of(copied(noun)))
        assert held and not any(array.flags.writeable for array in held), noun
    assert np.array_equal(copied(posture).com, posture.com)


def test_the_catalogue_is_a_copy():
    faults.catalogue().clear()
    assert len(faults.catalogue()) == 14


def _balanced(name, value):
    return balance(LIFTER, Bar.high(60), STANCE, **{name: value})


def _held(name, value):
    return pose(LIFTER, Bar.high(60), STANCE, **({"trunk_deg": 40.0} | {name: value}))


def _bar(name, value):
    return Bar(**({"mass_kg": 60, "drop_m": 0.0, "behind_m": 0.0} | {name: value}))


@pytest.mark.parametrize(
    ("make", "name", "least", "most"),
    [
        (_balanced, "thigh_deg", -60, 89),
        (_balanced, "shank_deg", -30, 70),
        (_balanced, "lumbar_deg", -45, 80),
        (_balanced, "target_x_m", -0.5, 0.5),
        (_held, "trunk_deg", -30, 90),
        (_bar, "mass_kg", 0, 500),
        (_bar, "drop_m", -0.05, 0.3),
        (_bar, "behind_m", -0.1, 0.2),
        (lambda name, value: Stance(**{name: value}), "heel_width_m", 0, 1.5),
        (lambda name, value: Stance(**{name: value}), "turnout_deg", -10, 60),
        (lambda name, value: Stance(**{name: value}), "valgus_deg", -30, 45),
        (lambda name, value: Stance(**{name: value}), "heel_rise_deg", 0, 45),
        (lambda name, value: Stance(**{name: value}), "wedge_m", 0, 0.1),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_a_range_is_taken_to_its_ends_and_no_further(make, name, least, most):
    for value in (least, most):
        make(name, value)
    for value in (least - 1e-6, most + 1e-6):
        with pytest.raises(ValueError, match=name):
            make(name, value)
