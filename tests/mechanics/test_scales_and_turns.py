"""Laws of size, mass and direction: what must come out when everything is made larger or turned."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from squatlab import Bar, Lifter, Stance, balance, chain_moments, joint_moments, tables
from squatlab.mechanics.dynamics import dynamic_moments
from squatlab.mechanics.legs import foot, knee_circle, roll_toward
from squatlab.mechanics.moments import back_extensor_force
from squatlab.mechanics.posture import Posture
from squatlab.mechanics.trunk import spot_of_bar, spot_of_upper_trunk
from squatlab.mechanics.vectors import Vector, angle_between, apex_along

MICROMETRE = 1e-6

vectors = st.tuples(*[st.floats(-2, 2)] * 3).map(np.array)


def enlarged(lifter: Lifter, factor: float) -> Lifter:
    """Return a lifter all of whose lengths are larger by a factor."""
    lengths = {
        f.name: factor * getattr(lifter, f.name) for f in fields(lifter) if f.name[-2:] == "_m"
    }
    return replace(lifter, **lengths)


def squat(size=1.0, heavy=1.0, **angles) -> Posture:
    """Return a squat in which every length and every mass is larger by a factor."""
    lifter = Lifter.from_stature(1.7, 75)
    return balance(
        replace(enlarged(lifter, size), mass_kg=75 * heavy),
        Bar(90 * heavy, 0.06 * size, 0.05 * size),
        Stance(0.32 * size, 17, 3, wedge_m=0.02 * size),
        **{"thigh_deg": -4, "shank_deg": 31, "lumbar_deg": 15} | angles,
    )


ARMS = ("elbow", "wrist", "bar_end")
"""The grip and the bar have sizes of their own."""


@settings(max_examples=15)
@given(st.floats(0.9, 1.12), st.floats(0.7, 1.4))
def test_a_lifter_of_another_size_squats_alike_and_bears_in_proportion(size, heavy):
    one, other = squat(), squat(size, heavy)
    for name, place in one.points.items():
        if not name.startswith(ARMS):
            assert other.points[name] == pytest.approx(size * place, abs=MICROMETRE), name
    assert other.com == pytest.approx(size * one.com, abs=MICROMETRE)
    assert np.array(other.moment_arms()) == pytest.approx(size * np.array(one.moment_arms()))
    bears = size * heavy
    assert np.array(joint_moments(other)) == pytest.approx(bears * np.array(joint_moments(one)))
    for angle in ("trunk_deg", "thigh_deg", "shank_deg", "hip_flexion_deg"):
        assert getattr(other, angle) == pytest.approx(getattr(one, angle))
    assert other.base.length == pytest.approx(size * one.base.length)


def test_what_has_no_side_is_in_the_middle_and_arms_are_alike():
    points = squat().points
    for name, place in points.items():
        twin = points.get(name[:-2] + {"_r": "_l", "_l": "_r"}.get(name[-2:], "?"))
        if twin is None:
            assert place[2] == 0.0, name
        else:
            assert place == pytest.approx(twin * (1, 1, -1)), name
            assert (place[2] > 0.05) == name.endswith("_r"), name


def test_the_centre_of_mass_by_adding_up_segment_by_segment():
    """Second route: each segment's own centre, not the masses shared out to the joints."""
    for heavy in (1.0, 1.3):
        posture = squat(heavy=heavy, lumbar_deg=30)
        lifter = posture.lifter
        bodies = [
            (lifter.mass(name), leg.centre(lifter, name).stack())
            for name in ("foot", "shank", "thigh")
            for leg in (posture.right, posture.left)
        ]
        bodies += [(lifter.mass("hat"), posture.hat.stack())]
        bodies += [(posture.bar.mass_kg, posture.points["bar"])]
        total = sum(mass for mass, _ in bodies)
        centre = sum(mass * place for mass, place in bodies) / total
        assert posture.com == pytest.approx(centre, abs=MICROMETRE)
        assert total == pytest.approx(lifter.mass_kg + posture.bar.mass_kg, rel=0.01)


@pytest.mark.parametrize("lumbar_deg", [0.0, 40.0])
def test_the_trunk_is_built_from_the_hips_up(lumbar_deg):
    """By hand: the pelvis leans less than the trunk by the lumbar flexion, all else leans alike."""
    posture = squat(lumbar_deg=lumbar_deg)
    lifter, bar, points = posture.lifter, posture.bar, posture.points
    lean = np.radians(posture.trunk_deg)
    up, back = np.array([np.sin(lean), np.cos(lean), 0]), np.array([-np.cos(lean), np.sin(lean), 0])
    tilt = lean - np.radians(lumbar_deg)
    l5 = points["pelvis"] + lifter.pelvis_m * np.array([np.sin(tilt), np.cos(tilt), 0])
    c7 = l5 + (lifter.hip_to_c7_m - lifter.pelvis_m) * up
    shoulder = l5 + (lifter.trunk_m - lifter.pelvis_m) * up
    head = c7 + lifter.head_m * up - 0.02 * lifter.stature_m * back
    rod = c7 - bar.drop_m * up + bar.behind_m * back
    for name, place in {"l5": l5, "c7": c7, "head": head, "bar": rod}.items():
        assert points[name] == pytest.approx(place, abs=MICROMETRE), name
    aside = np.array([0, 0, 0.5 * lifter.shoulder_width_m])
    assert points["shoulder_r"] == pytest.approx(shoulder + aside, abs=MICROMETRE)
    assert points["bar_end_r"] - points["bar"] == pytest.approx([0, 0, 1.1])  # IWF: 2.20 m
    # Hands hold the bar outside the shoulders, elbows hang below the line to them.
    wrist, elbow = points["wrist_r"], points["elbow_r"]
    assert wrist[:2] == pytest.approx(rod[:2]) and wrist[2] > points["shoulder_r"][2] + 0.1
    assert (elbow - 0.5 * (points["shoulder_r"] + wrist)) @ up < 0


def test_a_hair_more_than_straight_up_is_straight_up():
    """Lengths come back from points with rounding: no arc sine of more than 1."""
    lifter = Lifter.from_stature(1.7, 75)
    posture = squat()
    for way in (1.0, -1.0):
        hair = way * (1 + 1e-12)
        ankle = posture.right.ankle
        knee = ankle + Vector(0.0, hair * lifter.shank_m, 0.0)
        hip = knee + Vector(0.0, hair * lifter.thigh_m, 0.0)
        leg = replace(posture.right, knee=knee, hip=hip)
        held = replace(posture, lifter=lifter, right=leg, left=leg.mirrored())
        assert held.thigh_deg == pytest.approx(90 * way)
        assert held.shank_deg == pytest.approx(90 - 90 * way)
        along_foot = replace(leg, knee=ankle + (leg.ball - leg.heel) * hair)
        assert along_foot.dorsiflexion() == pytest.approx(way * np.pi / 2)


def test_without_a_word_of_it_the_low_back_is_neutral():
    lifter = Lifter.from_stature(1.7, 75)
    upper, rod = spot_of_upper_trunk(lifter), spot_of_bar(lifter, Bar.high(60))
    assert upper.behind == 0.0 and rod.behind == Bar.high(60).behind_m
    assert rod.along == pytest.approx(lifter.hip_to_c7_m - Bar.high(60).drop_m)
    # Of head, arms and trunk the pelvis has its share, on the line from the hips to L5/S1.
    pelvis = lifter.mass("pelvis")
    moment = (lifter.mass("hat") - pelvis) * upper.along
    moment += pelvis * lifter.centre("pelvis") * lifter.pelvis_m
    assert moment == pytest.approx(lifter.mass("hat") * lifter.centre("hat") * lifter.trunk_m)


def test_the_back_pulls_as_hard_as_its_moment_over_its_arm():
    posture = squat()
    force = back_extensor_force(posture)
    moment = joint_moments(posture).l5s1
    assert (moment / force.greatest, moment / force.least) == pytest.approx((0.05, 0.06))


def test_moments_of_a_moving_lifter_scale_as_newton_says():
    """Lengths n times and times √n times as large leave accelerations: M = m a r grows n times."""
    time = np.linspace(0, 1.0, 40)
    thigh = 55 - 50 * np.sin(2 * time) ** 2
    size = 1.1
    one, other = (
        dynamic_moments(squat(k, thigh_deg=thigh, shank_deg=20 + thigh / 8), time * np.sqrt(k))
        for k in (1.0, size)
    )
    for before, after in zip(one, other, strict=True):
        assert after == pytest.approx(size * before)
    still = joint_moments(squat(thigh_deg=thigh, shank_deg=20 + thigh / 8))
    assert np.abs(np.array(one) - np.array(still)).max() > 5, "it does move"


# A chain of segments in space: no direction but down is special.


def chain(seed=3, count=4, instants=9):
    rng = np.random.default_rng(seed)
    return {
        "points": np.cumsum(rng.normal(0, 0.3, (instants, count + 1, 3)), axis=1),
        "masses": rng.uniform(1, 20, count),
        "inertias": rng.uniform(0.01, 0.5, count),
        "com_fractions": rng.uniform(0.3, 0.6, count),
        "accelerations": rng.normal(0, 4, (instants, count + 1, 3)),
        "ground_force": rng.normal(0, 300, (instants, 3)),
        "ground_point": rng.normal(0, 0.2, (instants, 3)),
    }


SPATIAL = ("points", "accelerations", "ground_force", "ground_point")


@pytest.mark.parametrize("grounded", [True, False])
@given(st.floats(-3, 3), vectors)
@settings(max_examples=10)
def test_moments_turn_with_the_room_and_stay_where_it_is_moved(grounded, angle, away):
    given_ = chain()
    if not grounded:
        given_ = {k: v for k, v in given_.items() if not k.startswith("ground")}
    turn = Rotation.from_euler("y", angle)
    turned = {
        name: turn.apply(value.reshape(-1, 3)).reshape(value.shape) if name in SPATIAL else value
        for name, value in given_.items()
    }
    for name in ("points", "ground_point"):
        if name in turned:
            turned[name] = turned[name] + away
    before, after = chain_moments(**given_), chain_moments(**turned)
    expected = turn.apply(before.reshape(-1, 3)).reshape(before.shape)
    assert after == pytest.approx(expected, abs=1e-8)


def test_moments_by_newton_and_euler_segment_by_segment():
    """Second route: from the ground up, each segment's own balance of forces and moments."""
    given_ = chain()
    points, masses = given_["points"], given_["masses"]
    force, where = given_["ground_force"], given_["ground_point"]
    couple = np.zeros_like(force)
    for n in reversed(range(len(masses))):
        start, end = points[:, n], points[:, n + 1]
        a_start, a_end = given_["accelerations"][:, n], given_["accelerations"][:, n + 1]
        share = given_["com_fractions"][n]
        centre, a = start + share * (end - start), a_start + share * (a_end - a_start)
        line = end - start
        spin = np.cross(line, a_end - a_start) / np.sum(line**2, axis=1, keepdims=True)
        # At the proximal end acts what the segment lacks of m (a − g) and of I α.
        pull = masses[n] * (a + (0, tables.G, 0)) - force
        moment = given_["inertias"][n] * spin - couple
        moment -= np.cross(where - centre, force) + np.cross(start - centre, pull)
        assert chain_moments(**given_)[:, n] == pytest.approx(moment, abs=1e-9)
        force, where, couple = -pull, start, -moment


def test_a_chain_in_a_plane_is_that_in_space():
    flat = {k: v[..., :2] if k in SPATIAL else v for k, v in chain().items()}
    full = {
        k: np.concatenate([v, np.zeros_like(v[..., :1])], axis=-1) if k in SPATIAL else v
        for k, v in flat.items()
    }
    assert chain_moments(**flat) == pytest.approx(chain_moments(**full)[..., 2])


@given(vectors, vectors, st.floats(-2, 2))
def test_vectors_are_numpys(a, b, factor):
    one, other = Vector(*a), Vector(*b)
    assert (one + other).stack() == pytest.approx(a + b)
    assert (one - other).stack() == pytest.approx(a - b)
    assert (one * factor).stack() == pytest.approx(a * factor)
    assert one.dot(other) == pytest.approx(a @ b)
    assert one.cross(other).stack() == pytest.approx(np.cross(a, b))
    assert one.length() == pytest.approx(np.linalg.norm(a))
    assert one.toward(other, factor).stack() == pytest.approx(a + factor * (b - a))
    assert one.mirrored().stack() == pytest.approx(a * (1, 1, -1))
    lengths = np.linalg.norm(a) * np.linalg.norm(b)
    assume(lengths > 1e-3)
    assert np.cos(angle_between(one, other)) == pytest.approx(a @ b / lengths, abs=1e-9)


@given(st.floats(0.2, 2), st.floats(-0.5, 2), st.floats(0.1, 2))
def test_the_apex_of_a_triangle_is_as_far_as_its_sides_say(base, along, high):
    start, end = np.hypot(along, high), np.hypot(base - along, high)
    assert apex_along(base, start, end) == pytest.approx(along, abs=1e-9)


@pytest.mark.parametrize("side", ["r", "l"])
@pytest.mark.parametrize("aside", [0.0, 0.05])
def test_the_roll_toward_is_the_best_of_all_rolls(side, aside):
    """Second route: every roll tried, by how far the shank is off where the knee points."""
    lifter, stance = Lifter.from_stature(1.75, 80), Stance(0.36, 20, 5)
    sign = 1.0 if side == "r" else -1.0
    hip = Vector(-0.2, 0.55, sign * 0.5 * lifter.hip_width_m + aside)
    angle = np.radians(15)
    across = np.array([-sign * np.sin(angle), 0.0, np.cos(angle)])
    found = roll_toward(lifter, stance, hip, side)
    ankle = foot(lifter, stance, side)[3]
    circle = knee_circle(lifter, stance, ankle, hip, side)
    rolls = np.linspace(-np.pi / 2, np.pi / 2, 20_001)
    off = np.abs((circle.knee(rolls) - ankle).stack() @ across)
    assert found == pytest.approx(rolls[np.argmin(off)], abs=2e-4)
    knee = circle.knee(found)
    assert (knee - ankle).length() == pytest.approx(lifter.shank_m)
    assert (hip - knee).length() == pytest.approx(lifter.thigh_m)
