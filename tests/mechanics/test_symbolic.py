"""The derivation in symbols against the numeric routines, on random lifters."""

from __future__ import annotations

import numpy as np
import pytest
import sympy as sp

from squatlab import Bar, Lifter, Stance, balance, joint_moments, tables
from squatlab.mechanics.symbolic import PlanarSquat

SQUAT = PlanarSquat()
SYMBOLS = [
    SQUAT.g,
    SQUAT.s,
    SQUAT.a,
    SQUAT.tau,
    SQUAT.x_ankle,
    SQUAT.x_feet,
    SQUAT.x_target,
    *SQUAT.lengths,
    *SQUAT.masses,
    *SQUAT.centres,
    *SQUAT.bar_spot,
]


def values(posture):
    """Return the numbers of a posture in the order of the symbols."""
    lifter, bar, leg = posture.lifter, posture.bar, posture.right
    return [
        tables.G,
        np.radians(posture.shank_deg),
        np.radians(posture.thigh_deg),
        np.radians(posture.trunk_deg),
        leg.ankle.x,
        leg.centre(lifter, "foot").x,
        posture.target_x_m,
        lifter.shank_m,
        lifter.thigh_m,
        2 * lifter.mass("foot"),
        2 * lifter.mass("shank"),
        2 * lifter.mass("thigh"),
        lifter.mass("hat"),
        bar.mass_kg,
        lifter.centre("shank"),
        lifter.centre("thigh"),
        lifter.centre("hat") * lifter.trunk_m,
        lifter.hip_to_c7_m - bar.drop_m,
        bar.behind_m,
    ]


def random_postures(count=60):
    rng = np.random.default_rng(21)
    for _ in range(count):
        lifter = Lifter.from_stature(rng.uniform(1.5, 2.0), rng.uniform(50, 130))
        bar = Bar(rng.uniform(0, 200), rng.uniform(0, 0.14), rng.uniform(0.02, 0.1))
        straight_ahead = Stance(float(lifter.hip_width_m), 0.0)
        target = rng.uniform(-0.05, 0.08)
        posture = balance(
            lifter,
            bar,
            straight_ahead,
            rng.uniform(-25, 50),
            rng.uniform(15, 38),
            target_x_m=target,
        )
        if np.isfinite(posture.sine):
            yield posture


def test_the_lean_agrees():
    lean = sp.lambdify(SYMBOLS, SQUAT.lean, "numpy")
    for posture in random_postures():
        assert np.degrees(lean(*values(posture))) == pytest.approx(posture.trunk_deg, abs=1e-9)


def test_the_moments_by_virtual_work_agree():
    moments = {name: sp.lambdify(SYMBOLS, value, "numpy") for name, value in SQUAT.moments.items()}
    for posture in random_postures():
        ours = joint_moments(posture)
        for name, moment in moments.items():
            assert moment(*values(posture)) == pytest.approx(2 * getattr(ours, name), abs=1e-7)


def test_hip_plus_knee_knows_neither_trunk_nor_bar_place():
    mentioned = SQUAT.hip_plus_knee.free_symbols
    assert not mentioned & {SQUAT.tau, SQUAT.s, *SQUAT.bar_spot}
    assert mentioned == {
        SQUAT.g,
        SQUAT.a,
        SQUAT.lengths[1],
        SQUAT.centres[1],
        *SQUAT.masses[2:],
    }
