"""Inverse dynamics against a benchmark with known answers and an independent engine."""

from __future__ import annotations

import numpy as np
import pytest

from squatlab import Bar, Lifter, Stance, balance, chain_moments, dynamic_moments, joint_moments
from squatlab.mechanics.benchmark import benchmark
from squatlab.mechanics.dynamics import second_derivative
from squatlab.mechanics.legs import leg_from_angles
from squatlab.mechanics.posture import Posture

BENCHMARK_AGREEMENT = 0.01  # N·m: what the benchmark's printed answers allow


def leg():
    """Van den Bogert & de Koning 1996, Proc. CSB 9:214–215; data set of the ISB."""
    points, time, instant, body, _ = benchmark()
    return points, time, instant, dict(body)


def test_the_benchmark_is_the_published_one():
    """Sample 4240 of the data set, its ground force and answers, typed from there again."""
    points, time, instant, body, truth = benchmark()
    assert time[instant] == pytest.approx(0.4240) and len(time) == 16
    assert points[instant, 0] == pytest.approx([0.2475202240, 0.8562776815])
    assert points[instant, 3] == pytest.approx([0.2344020547, -0.0161381697])
    assert body["masses"] == [6.85, 2.86, 1.00]
    assert body["inertias"] == [0.145361267, 0.042996389, 0.0200]
    assert body["com_fractions"] == [0.4323725, 0.4334975, 0.0]
    assert body["ground_force"][instant] == pytest.approx([28.40645, 1029.831])
    assert body["ground_point"][instant] == pytest.approx([0.2348472, 0.0])
    assert truth == (-41.7584, 76.3363, -139.2662)


def test_benchmark_moments_are_reached():
    points, time, instant, inputs = leg()
    moments = chain_moments(points, time=time, **inputs)[instant]
    assert moments == pytest.approx([-41.7584, 76.3363, -139.2662], abs=BENCHMARK_AGREEMENT)


def test_without_inertia_the_benchmark_hip_is_far_off():
    """The lesson on when standing still is not enough: −11 instead of −42 N·m.

    −11.3 is the ground's push alone, with segments that weigh nothing.
    """
    points, _, instant, inputs = leg()
    assert chain_moments(points, **inputs)[instant, 0] == pytest.approx(-10.8, abs=0.1)
    weightless = inputs | {"masses": [0.0, 0.0, 0.0]}
    assert chain_moments(points, **weightless)[instant, 0] == pytest.approx(-11.3, abs=0.05)


def test_a_push_that_does_not_change_is_given_once():
    points, _, _, inputs = leg()
    once = {name: inputs[name][0] for name in ("ground_force", "ground_point")}
    repeated = {name: np.tile(value, (len(points), 1)) for name, value in once.items()}
    assert np.array_equal(
        chain_moments(points, **inputs | once), chain_moments(points, **inputs | repeated)
    )


def test_the_benchmark_in_space_gives_the_same_about_z():
    points, time, instant, inputs = leg()
    lifted = np.concatenate([points, np.zeros_like(points[..., :1])], axis=-1)
    for name in ("ground_force", "ground_point"):
        array = inputs[name]
        inputs[name] = np.concatenate([array, np.zeros_like(array[..., :1])], axis=-1)
    moments = chain_moments(lifted, time=time, **inputs)[instant]
    assert moments[:, 2] == pytest.approx([-41.7584, 76.3363, -139.2662], abs=0.01)
    assert moments[:, :2] == pytest.approx(np.zeros((3, 2)), abs=1e-12)


def test_a_free_end_gives_the_same_as_the_ground_push_it_needs():
    rng = np.random.default_rng(5)
    points = np.cumsum(rng.normal(0, 0.3, (7, 5, 3)), axis=1)
    accelerations = rng.normal(0, 3, points.shape)
    body = dict(
        masses=[30.0, 16.0, 7.0, 2.0], inertias=[2.0, 0.3, 0.1, 0.0],
        com_fractions=[0.5, 0.4, 0.4, 0.5], accelerations=accelerations,
    )  # fmt: skip
    free = chain_moments(points, **body)
    # The push that leaves nothing over at the free end, placed at the last point:
    masses = np.array(body["masses"])
    fractions = np.array(body["com_fractions"])[:, None]
    a = accelerations[:, :-1] + fractions * np.diff(accelerations, axis=1)
    push = (masses[:, None] * (a + [0, 9.81, 0])).sum(axis=1)
    grounded = chain_moments(points, **body, ground_force=push, ground_point=points[:, -1])
    difference = grounded - free
    # Both differ by the same free moment at every joint: that of the ground's couple.
    assert difference == pytest.approx(np.broadcast_to(difference[:, :1], difference.shape))


def test_shapes_that_do_not_fit_are_explained():
    points, time, _, inputs = leg()
    with pytest.raises(ValueError, match="4 points make 3 segments, so give 3 numbers"):
        chain_moments(points, time=time, **inputs | {"masses": [1.0, 2.0]})
    with pytest.raises(ValueError, match="one increasing row of at least 5 times"):
        chain_moments(points, time=time[::-1], **inputs)
    with pytest.raises(ValueError, match="it must be x, y or x, y, z"):
        chain_moments(points[..., :1], time=time, **inputs)
    for flat in (points[0, 0], points[0, 0, 0], points[:, :1]):
        with pytest.raises(ValueError, match="give .time, point, 2 or 3., two points or more"):
            chain_moments(flat, **inputs)
    with pytest.raises(ValueError, match="ground_point is missing"):
        chain_moments(points, **inputs | {"ground_point": None})
    with pytest.raises(ValueError, match="the ground do not fit each other"):
        chain_moments(points, **inputs | {"ground_force": inputs["ground_force"][:3]})


def test_what_does_not_vary_may_be_a_number():
    time, thigh = np.linspace(0, 1, 30), np.linspace(60, 0, 30)
    lifter, bar, stance = Lifter.from_stature(1.75, 80), Bar.high(60), Stance()
    numbers = dynamic_moments(balance(lifter, bar, stance, thigh, 30), time)
    arrays = dynamic_moments(balance(lifter, bar, stance, thigh, np.full(30, 30.0)), time)
    for one, other in zip(numbers, arrays, strict=True):
        assert np.shape(one) == (30,) and one == pytest.approx(other)
    still = dynamic_moments(balance(lifter, bar, stance, np.zeros(30)), time)
    assert still.hip == pytest.approx(joint_moments(balance(lifter, bar, stance)).hip)


def test_many_lifters_move_as_each_alone():
    time, thigh = np.linspace(0, 1, 30), np.linspace(60, 0, 30)
    mass, stature = np.array([60.0, 80.0, 95.0]), np.array([1.6, 1.75, 1.9])
    many = dynamic_moments(
        balance(Lifter.from_stature(stature, mass), Bar.high(60), Stance(), thigh[:, None]), time
    )
    for number in range(3):
        lifter = Lifter.from_stature(stature[number], mass[number])
        alone = dynamic_moments(balance(lifter, Bar.high(60), Stance(), thigh), time)
        for whole, one in zip(many, alone, strict=True):
            assert whole[:, number] == pytest.approx(one)


def test_time_is_the_first_axis_of_a_moving_posture():
    lifter, bar = Lifter.from_stature(1.75, 80), Bar.high(60)
    for thigh in (0.0, np.linspace(60, 0, 29), np.zeros((3, 30))):
        with pytest.raises(ValueError, match="give one posture for each time, time first"):
            dynamic_moments(balance(lifter, bar, Stance(), thigh), np.linspace(0, 1, 30))


mujoco = pytest.importorskip("mujoco", reason="the independent engine is not installed")


def engine(lifter: Lifter, bar: Bar):
    """Build the sagittal lifter with the bar as a MuJoCo model, both legs as one."""
    body = (
        '<body name="{name}" pos="0 {above} 0"><joint name="{joint}" axis="0 0 1"/>'
        '<inertial pos="0 {com} 0" mass="{mass}" diaginertia="{i} {i} {i}"/>'
    )

    def segment(name, joint, above, length, mass, centre_from_top, gyration):
        return body.format(
            name=name,
            joint=joint,
            above=above,
            com=length * (1 - centre_from_top),
            mass=mass,
            i=mass * (gyration * length) ** 2,
        )

    hat, trunk_m = lifter.mass("hat"), lifter.trunk_m
    along, behind = lifter.hip_to_c7_m - bar.drop_m, bar.behind_m
    xml = (
        '<mujoco><compiler boundmass="0" boundinertia="0" angle="radian"/>'
        '<option gravity="0 -9.81 0"><flag contact="disable" constraint="disable"/></option>'
        "<worldbody>"
        + segment(
            "shank",
            "ankle",
            0,
            lifter.shank_m,
            2 * lifter.mass("shank"),
            lifter.centre("shank"),
            lifter.gyration("shank"),
        )
        + segment(
            "thigh",
            "knee",
            lifter.shank_m,
            lifter.thigh_m,
            2 * lifter.mass("thigh"),
            lifter.centre("thigh"),
            lifter.gyration("thigh"),
        )
        + segment(
            "trunk",
            "hip",
            lifter.thigh_m,
            trunk_m,
            hat,
            1 - lifter.centre("hat"),
            lifter.gyration("hat"),
        )
        + f'<body name="bar" pos="{-behind} {along} 0">'
        f'<inertial pos="0 0 0" mass="{bar.mass_kg}" diaginertia="1e-12 1e-12 1e-12"/></body>'
        "</body></body></body></worldbody></mujoco>"
    )
    return mujoco.MjModel.from_xml_string(xml)


def inverse(model, angles, speeds, accelerations):
    """Return MuJoCo's ankle, knee and hip torque for absolute segment angles."""
    data = mujoco.MjData(model)
    given = angles, speeds, accelerations
    for slot, value in zip((data.qpos, data.qvel, data.qacc), given, strict=True):
        slot[:] = np.diff(np.r_[0, value])
    mujoco.mj_inverse(model, data)
    return data.qfrc_inverse.copy()


NARROW = Stance(heel_width_m=0.20, turnout_deg=0.0)  # straight ahead: the sagittal plane


def random_states(count: int):
    rng = np.random.default_rng(8)
    for _ in range(count):
        lifter = Lifter.from_stature(rng.uniform(1.5, 2.0), rng.uniform(50, 130))
        bar = Bar(rng.uniform(1, 200), rng.uniform(0.02, 0.12), rng.uniform(0.03, 0.1))
        yield rng, lifter, bar


def sagittal(lifter: Lifter, bar: Bar, shank, thigh, trunk) -> Posture:
    """Place a lifter in the plane: knees straight ahead of ankles, hips above them."""
    stance = Stance(heel_width_m=float(lifter.hip_width_m), turnout_deg=0.0)
    right = leg_from_angles(lifter, stance, thigh, shank)
    return Posture(
        lifter, bar, stance, right, right.mirrored(), np.sin(trunk), np.cos(trunk), 0.0, 0.0
    )


def test_statics_agree_with_mujoco():
    for rng, lifter, bar in random_states(200):
        shank, thigh, trunk = np.radians(
            [rng.uniform(5, 40), rng.uniform(-30, 60), rng.uniform(0, 80)]
        )
        ours = joint_moments(sagittal(lifter, bar, shank, thigh, trunk))
        angles = [-shank, np.pi / 2 - thigh, -trunk]  # counter-clockwise from upright
        ankle, knee, hip = inverse(engine(lifter, bar), angles, [0] * 3, [0] * 3)
        theirs = [hip, -knee, ankle]
        assert 2 * np.array(ours[:3]) == pytest.approx(theirs, rel=1e-6, abs=1e-6)


def test_dynamics_agree_with_mujoco():
    """The same motions through time: θ(t) known, its derivatives given to the engine."""
    step = 2e-4
    time = np.arange(-20, 21) * step
    for rng, lifter, bar in random_states(200):
        start = np.radians([rng.uniform(5, 40), rng.uniform(-30, 60), rng.uniform(0, 80)])
        speed, acceleration = rng.uniform(-3, 3, 3), rng.uniform(-10, 10, 3)
        path = start[:, None] + speed[:, None] * time + 0.5 * acceleration[:, None] * time**2
        ours = dynamic_moments(sagittal(lifter, bar, *path), time)
        middle = time.size // 2
        sign = np.array([-1, -1, -1])
        absolute = np.array([0, np.pi / 2, 0]) + sign * start
        ankle, knee, hip = inverse(engine(lifter, bar), absolute, sign * speed, sign * acceleration)
        ours = 2 * np.array([ours.hip[middle], ours.knee[middle], ours.ankle[middle]])
        # Differences over 0.2 ms steps are good to about 1e-6 of the largest moment.
        assert ours == pytest.approx([hip, -knee, ankle], abs=2e-6 * max(abs(ours)) + 1e-4)


def test_chain_dynamics_agree_with_mujoco():
    """With accelerations given there is no difference quotient: agreement to rounding."""
    for rng, lifter, _ in random_states(200):
        angles, speeds, accelerations = (rng.uniform(-s, s, 3) for s in (1.5, 4.0, 20.0))
        model = engine(lifter, Bar(1e-9, 0.0, 0.0))
        data = mujoco.MjData(model)
        given = angles, speeds, accelerations
        for slot, v in zip((data.qpos, data.qvel, data.qacc), given, strict=True):
            slot[:] = np.diff(np.r_[0, v])
        mujoco.mj_inverse(model, data)
        theirs = data.qfrc_inverse.copy()
        lengths = np.array([lifter.shank_m, lifter.thigh_m, lifter.trunk_m])
        up = np.stack([-np.sin(angles), np.cos(angles)], axis=-1) * lengths[:, None]
        turned = np.stack([-up[:, 1], up[:, 0]], axis=-1)
        points = np.concatenate([[[0.0, 0.0]], np.cumsum(up, axis=0)])[::-1]
        bends = accelerations[:, None] * turned - speeds[:, None] ** 2 * up
        moving = np.concatenate([[[0.0, 0.0]], np.cumsum(bends, axis=0)])[::-1]
        names = ("hat", "thigh", "shank")
        both = np.array([1.0, 2.0, 2.0])
        masses = both * [lifter.mass(name) for name in names]
        fractions = [1 - lifter.centre("hat"), lifter.centre("thigh"), lifter.centre("shank")]
        radii = np.array([lifter.gyration(name) for name in names]) * lengths[::-1]
        moments = chain_moments(
            points[None], masses, masses * radii**2, fractions, accelerations=moving[None]
        )[0]
        # Ours acts on the lower segment at its top: the hip's stands at the thigh's top.
        hip, knee = -moments[1], -moments[2]
        assert [hip, knee] == pytest.approx([theirs[2], theirs[1]], rel=1e-6, abs=1e-6)


def test_at_a_crawl_dynamics_are_statics():
    lifter, bar = Lifter.from_stature(1.75, 80), Bar.high(100)
    time = np.linspace(0, 1000, 101)
    posture = balance(lifter, bar, Stance(), np.linspace(60, -10, 101), np.linspace(15, 30, 101))
    moving, still = dynamic_moments(posture, time), joint_moments(posture)
    for name in ("hip", "knee", "ankle", "l5s1"):
        assert getattr(moving, name) == pytest.approx(getattr(still, name), abs=0.05)


def test_five_instants_are_enough_for_an_acceleration_and_four_are_not():
    time = np.array([0.0, 0.1, 0.2, 0.3, 0.4])
    assert second_derivative(3.0 * time**2, time)[2] == pytest.approx(6.0)  # by hand
    with pytest.raises(ValueError, match="at least 5 times"):
        second_derivative(time[:4], time[:4])
