"""A set in time: balanced at every instant, of constant lengths, on the floor."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from squatlab import Bar, Lifter, Stance, balance, joint_moments, pose
from squatlab.mechanics.legs import leg_from_angles, leg_from_hip, roll_of, roll_toward
from squatlab.motion import Injection, Tempo, synthesise
from squatlab.motion.injection import INJECTORS
from squatlab.tracks import Tracks
from tests.motion.crowd import TABLES, crowd
from tests.motion.definitions import Seen

NANOMETRE = 1e-9
LIFTER = Lifter.from_stature(1.75, 80)
BAR, STANCE = Bar.high(80), Stance()

lifters = st.builds(
    lambda stature, mass, table, thigh, shank, trunk: Lifter.from_stature(
        stature, mass, table=table
    ).scaled(thigh=thigh, shank=shank, trunk=trunk),
    st.floats(1.5, 2.0),
    st.floats(50, 130),
    st.sampled_from([table for _, table in TABLES]),
    st.floats(0.94, 1.06),
    st.floats(0.94, 1.06),
    st.floats(0.94, 1.06),
)
stances = st.builds(Stance, st.floats(0.2, 0.45), st.floats(0, 25))


@st.composite
def injected(draw):
    names = draw(st.lists(st.sampled_from(sorted(INJECTORS)), max_size=4, unique=True))
    return [
        Injection(name, draw(st.floats(INJECTORS[name].least, INJECTORS[name].most)))
        for name in names
    ]


def lengths(points):
    """Return every distance that a body and its bar keep, (frame, …) m."""
    pairs = [
        ("pelvis", "l5"),
        ("l5", "c7"),
        ("c7", "head"),
        ("hip_r", "hip_l"),
        ("plate_top", "plate_bottom"),
        ("bar", "plate_top"),
        ("bar_end_r", "bar_end_l"),
        ("wrist_r", "wrist_l"),
        ("shoulder_r", "shoulder_l"),
    ]
    for side in "rl":
        chain = ["shoulder", "elbow", "wrist"], ["hip", "knee", "ankle", "heel", "ball", "toe"]
        for part in chain:
            names = [f"{name}_{side}" for name in part]
            pairs += zip(names, names[1:], strict=False)
    return np.stack(
        [np.linalg.norm(points[one] - points[other], axis=1) for one, other in pairs], axis=1
    )


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    lifters, st.floats(10, 150), st.booleans(), stances, injected(), st.none() | st.integers(0, 999)
)
def test_whatever_is_asked_bodies_keep_their_lengths_and_feet_the_floor(
    lifter, kg, high, stance, faults, seed
):
    bar = Bar.high(kg) if high else Bar.low(kg)
    rng = None if seed is None else np.random.default_rng(seed)
    rep = synthesise(lifter, bar, stance, Tempo(repetitions=2), faults, rng, rate=30)
    assert rep.feasible == (rep.reason == "") and (rep.feasible or not rep.clean)
    points = rep.points
    seen = np.all([np.isfinite(place).all(axis=1) for place in points.values()], axis=0)
    assert seen.all() or not rep.feasible
    if seen.any():
        assert np.ptp(lengths(points)[seen], axis=0) == pytest.approx(0, abs=NANOMETRE)
    for side in "rl":
        for name in ("toe", "ball"):
            place = points[f"{name}_{side}"]
            assert place[:, 1] == pytest.approx(0, abs=NANOMETRE)
            assert np.ptp(place, axis=0) == pytest.approx(0, abs=NANOMETRE)
        assert points[f"heel_{side}"][:, 1].min() > -NANOMETRE
    balanced = rep.posture.com_shift[np.isfinite(rep.posture.sine)]
    assert balanced == pytest.approx(0, abs=1e-7)


def test_most_lifters_do_it_cleanly_and_then_all_is_within_limits():
    flaws = Counter()
    for number, (lifter, bar, stance) in enumerate(crowd(60, 5)):
        rng = np.random.default_rng(number)
        rep = synthesise(lifter, bar, stance, Tempo(repetitions=2), rng=rng, rate=60)
        flaws[rep.flaw[:30]] += 1
        if not rep.clean:
            continue
        assert np.abs(rep.posture.com[:, 0]).max() < NANOMETRE
        bent = np.degrees([rep.posture.right.dorsiflexion(), rep.posture.left.dorsiflexion()])
        assert bent.max() <= lifter.dorsiflexion_deg
        lean = rep.posture.trunk_deg
        for when in rep.each:
            inside = (rep.time >= when["start"]) & (rep.time <= when["end"])
            low = np.interp(when["bottom"], rep.time, lean)
            assert lean[inside].max() - low <= 6.0 + 0.01
    # About one in ten leans more on the way than at the bottom; light bars and long thighs.
    assert flaws[""] >= 0.85 * 60


@pytest.mark.parametrize("lean", [2.0, 4.0, 7.0])
@pytest.mark.parametrize("stance", [STANCE, Stance(0.6, 30.0)])
def test_standing_is_solved_for_the_wished_lean(lean, stance):
    # A wide stance has no solution with level thighs' angles near 90°, but here it has.
    rep = synthesise(LIFTER, BAR, stance, standing_lean_deg=lean)
    assert rep.posture.trunk_deg[0] == pytest.approx(lean, abs=0.02)
    assert np.degrees(rep.posture.right.knee_flexion())[0] == pytest.approx(4.0, abs=1e-6)


@pytest.mark.parametrize("stance", [STANCE, Stance(0.22, 5.0), Stance(0.45, 25.0, valgus_deg=8.0)])
def test_forward_and_inverse_meet_at_the_bottom(stance):
    rep = synthesise(LIFTER, BAR, stance, thigh_deg=-3, shank_deg=30)
    low = balance(LIFTER, BAR, stance, -3, 30, lumbar_deg=26)
    for name, place in low.points.items():
        assert rep.points[name][rep.bottom] == pytest.approx(place, abs=NANOMETRE), name


def test_the_roll_that_points_the_knee_is_the_forward_legs():
    stance = Stance(0.4, 20.0, valgus_deg=np.linspace(-5, 15, 9))
    for side in "rl":
        leg = leg_from_angles(LIFTER, stance, 0.1, 0.5, side)
        roll = roll_toward(LIFTER, stance, leg.hip, side)
        assert roll == pytest.approx(roll_of(LIFTER, stance, leg, side), abs=1e-9)
        again = leg_from_hip(LIFTER, stance, leg.hip, roll, side)
        assert (again.knee - leg.knee).length() == pytest.approx(0, abs=NANOMETRE)


def test_a_hip_stretched_back_bends_by_less_than_nothing():
    # Knees that go first push the hips forward: the trunk is then behind the thigh's line.
    trunk = np.array([-30.0, 0.0, 30.0])
    standing = pose(LIFTER, BAR, Stance(0.18, 0.0), trunk, thigh_deg=75, shank_deg=5)
    assert standing.hip_flexion_deg == pytest.approx(trunk + 15, abs=0.5)


def test_low_backs_bend_as_mens_do_and_no_rounding_is_seen():
    # McKean, Dunn & Burkett 2010, J Strength Cond Res 24:2731: 25.4 to 26.3 degrees in men.
    rep = synthesise(LIFTER, BAR, STANCE)
    assert 25.4 < Seen(rep.points, rep.time).lumbar_rounding() < 26.3


def test_a_shift_to_the_left_mirrors_one_to_the_right():
    both = [
        synthesise(
            LIFTER,
            BAR,
            STANCE,
            asymmetry_deg=sign * 4,
            injections=[Injection("lateral_shift", sign * 5), Injection("uneven_bar", sign * 4)],
        ).points
        for sign in (1, -1)
    ]
    for name, place in both[0].items():
        if name.startswith("plate"):
            continue
        twin = name[:-2] + {"_r": "_l", "_l": "_r"}.get(name[-2:], name[-2:])
        assert both[1][twin] * [1, 1, -1] == pytest.approx(place, abs=NANOMETRE), name


def test_one_foot_may_be_turned_out_more_and_its_knee_goes_with_it():
    rep = synthesise(LIFTER, BAR, Stance(0.3, 12), asymmetry_deg=6)
    for side, turnout in (("r", 15.0), ("l", 9.0)):
        foot = rep.points[f"toe_{side}"][0] - rep.points[f"heel_{side}"][0]
        assert np.degrees(np.arctan2(abs(foot[2]), foot[0])) == pytest.approx(turnout)
        assert Seen(rep.points, rep.time).knee_valgus(side) == pytest.approx(0, abs=0.5)


def test_nobody_does_it_twice_alike_but_the_same_seed_does():
    tempo = Tempo(repetitions=3)
    one, again, other = (
        synthesise(LIFTER, BAR, STANCE, tempo, rng=np.random.default_rng(seed))
        for seed in (1, 1, 2)
    )
    assert np.array_equal(one.points["bar"], again.points["bar"])
    assert one.time.size != other.time.size or not np.allclose(
        one.points["bar"], other.points["bar"]
    )
    depths = [Seen(one.points, one.time, k).short_depth() for k in range(3)]
    assert np.ptp(depths) > 0.05
    exact = synthesise(LIFTER, BAR, STANCE, tempo)
    depths = [Seen(exact.points, exact.time, k).short_depth() for k in range(3)]
    assert depths == pytest.approx([-6.0] * 3, abs=0.01)


def test_tracks_hold_the_points_and_no_truth():
    rep = synthesise(LIFTER, BAR, STANCE, injections=[Injection("knee_valgus", 12)])
    tracks = rep.tracks()
    assert isinstance(tracks, Tracks) and (tracks.view, tracks.units) == ("3d", "m")
    assert tracks.source == "synthetic" and tracks.notes == () and tracks.rate == pytest.approx(120)
    assert set(tracks.names) == set(rep.points) >= {"head", "plate_top", "plate_bottom", "toe_l"}
    assert np.array_equal(tracks["knee_r"], rep.points["knee_r"])
    assert "valgus" not in str(vars(tracks)).lower()


def test_the_plate_is_a_large_disc_outside_the_right_collar():
    # IWF: discs of 450 mm. IPF: 1.31 to 1.32 m between the collars.
    points = synthesise(LIFTER, BAR, STANCE).points
    assert points["plate_top"] - points["plate_bottom"] == pytest.approx(
        np.broadcast_to([0, 0.45, 0], points["bar"].shape)
    )
    assert (points["plate_top"][:, 2] > 0.66).all()


def test_moments_are_there_for_every_frame():
    rep = synthesise(LIFTER, BAR, STANCE, thigh_deg=-2, shank_deg=31)
    low = joint_moments(balance(LIFTER, BAR, STANCE, -2, 31, lumbar_deg=26))
    for name in low._fields:
        through = getattr(rep.moments, name)
        assert through.shape == rep.time.shape
        assert through[rep.bottom] == pytest.approx(getattr(low, name), abs=1e-6), name


def test_what_cannot_be_done_is_told_in_words():
    stiff = replace(LIFTER, dorsiflexion_deg=15.0)
    rep = synthesise(stiff, BAR, STANCE)
    assert not rep.feasible and "s into the set the ankles would have to bend" in rep.reason
    assert not rep.clean and rep.flaw == rep.reason and "not feasible" in repr(rep)
    apart = synthesise(LIFTER, BAR, Stance(1.3, 0.0))
    assert not apart.feasible and "out of reach" in apart.reason
    falls = synthesise(LIFTER, BAR, STANCE, Tempo(descent_s=0.5, hip_lead_s=0.0))
    assert "the bar would leave the back" in falls.reason
    tall = LIFTER.scaled(thigh=1.1)
    assert "leans" in synthesise(tall, Bar.high(20), STANCE, thigh_deg=-15).flaw


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"standing_lean_deg": 9}, "between 2 and 7 ° of lean"),
        ({"thigh_deg": 80}, "thigh_deg is 80; it must lie between -40 and 60"),
        ({"rate": 2}, "frames per second"),
    ],
)
def test_numbers_out_of_range_are_refused(wrong, words):
    with pytest.raises(ValueError, match=words):
        synthesise(LIFTER, BAR, STANCE, **wrong)


def test_many_at_once_and_no_generator_are_refused():
    many = Lifter.from_stature(np.array([1.7, 1.8]), 80)
    for who, stance in ((many, STANCE), (LIFTER, Stance(turnout_deg=[5, 10]))):
        with pytest.raises(ValueError, match="one lifter with one bar in one stance, and here a"):
            synthesise(who, BAR, stance)
    with pytest.raises(TypeError, match=r"rng is 3; give numpy\.random\.default_rng"):
        synthesise(LIFTER, BAR, STANCE, rng=3)
