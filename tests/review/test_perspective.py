"""Where points of a picture are in space: by hand, and a camera's projection undone."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from squatlab.motion import Camera
from squatlab.review.perspective import (
    FAR_M,
    Standpoint,
    along_ray,
    as_filmed,
    from_the_side,
    in_space,
)
from squatlab.review.quantities import Quantities
from squatlab.review.view import view_of
from tests.review.squats import LIFTER, SIDE, filmed, reviewed, squat

MILLIMETRE = 1e-3
PHONE = Standpoint(4.0, 1.0, declared=True)


def test_a_knee_on_its_ray_by_hand():
    """Shank 3-4-5: ankle at the origin, knee 0.3 m ahead and 0.4 m up, seen 0.6 m below the axis
    at 3.7 m, so it seems 0.6 × 4 / 3.7 = 0.64865 m below; the other place is behind the ankle.
    """
    seen, ankle = np.array([[0.0, -0.6 * 4 / 3.7]]), np.zeros((1, 3))
    assert along_ray(seen, ankle, 0.5, True, PHONE) == pytest.approx(0.3)
    # y = 1 − 0.16216 (4 − x) and x² + y² = 0.25 meet at x = 0.3 and, by the product of the
    # roots, at x = (0.35135² − 0.25) / (1 + 0.16216²) / 0.3.
    other = (0.351351**2 - 0.25) / (1 + 0.162162**2) / 0.3
    assert along_ray(seen, ankle, 0.5, False, PHONE) == pytest.approx(other, abs=1e-5)
    # Too long a ray for the shank: the nearest place on it, not nan.
    assert np.isfinite(along_ray(seen + 1, ankle, 0.5, True, PHONE)).all()


@given(
    base=st.tuples(st.floats(-0.3, 0.3), st.floats(0, 0.9), st.floats(-0.4, 0.4)),
    slant=st.tuples(st.floats(0.1, 1.4), st.floats(-1.0, 1.0)),
    distance=st.floats(2, 10),
    height=st.floats(0.2, 1.6),
)
def test_a_projected_joint_is_found_again(base, slant, distance, height):
    """Whatever the camera: project by motion.Camera, come back by the length alone."""
    lean, aside = slant
    step = 0.43 * np.array(
        [math.sin(lean) * math.cos(aside), math.cos(lean), math.sin(lean) * math.sin(aside)]
    )
    camera = Camera.front(distance_m=distance, height_m=height, width_px=9000, height_px=9000)
    px = camera.project(np.array(base) + step)
    seen = (px - 4500) / camera.px_per_m
    stand = Standpoint(distance, height, True)
    places = [along_ray(seen[None], np.array([base]), 0.43, near, stand)[0] for near in (1, 0)]
    assert places[0] >= places[1]
    # Where the ray grazes the circle both are one, and its root loses half the digits.
    assert min(abs(place - base[0] - step[0]) for place in places) < 1e-6


def test_both_views_of_a_squat_meet_in_space():
    """The points in space are known; each view comes within what its assumptions allow."""
    rep = squat(("knee_valgus", 8), ("lateral_shift", 2))
    side, front = (view_of(film, LIFTER, 80.0, SIDE) for film in filmed(rep))
    at = {v: int(round(rep.time[rep.bottom] * v.rate)) for v in (side, front)}
    for joint in ("hip_r", "knee_r", "ankle_r", "heel_r", "toe_r"):
        truth = rep.points[joint][rep.bottom]
        assert front[joint][at[front]] == pytest.approx(truth, abs=15 * MILLIMETRE)
        if joint != "hip_r":  # the hips have slid, which a side view cannot see
            assert side[joint][at[side], :2] == pytest.approx(truth[:2], abs=15 * MILLIMETRE)
    assert np.degrees(front.placed.yaw) == pytest.approx(0, abs=0.1)
    assert len(side.repetitions) == len(front.repetitions) == 1


def test_yaw_is_found_and_turned_back():
    rep = squat()
    for yaw in (-8, 4):
        view = view_of(*filmed(rep, Camera.front(yaw_deg=yaw)), LIFTER, 80.0, SIDE)
        assert np.degrees(view.placed.yaw) == pytest.approx(-yaw, abs=0.5)
        middle = 0.5 * (view["hip_r"] + view["hip_l"])[:, 2]
        assert np.ptp(middle) < 12 * MILLIMETRE, "and 30 cm × sin 8° = 42 mm uncorrected"


def test_a_side_view_by_hand():
    """Toe and heel 0.2 m nearer on the floor, 1 m below the axis: at 4 m they seem 4 / 3.8 m."""
    names = ("heel_r", "toe_r", "c7")
    flat = np.array([[[-0.13, 0], [0.13, 0], [0.1, 1.4]]]) * 4 / 3.8 + (5.0, 3.0)
    flat[0, 2] = (
        5.1,
        3.0 + 4 / 3.8 + 0.4,
    )  # C7: in the middle plane
    depths = {"heel": 0.2, "toe": 0.2}
    found = from_the_side(names, flat, np.array([0]), "r", PHONE, None, depths).points
    assert found["toe_r"][0] == pytest.approx([0.13, 0, 0])
    assert found["heel_r"][0] == pytest.approx([-0.13, 0, 0])
    assert found["c7"][0] == pytest.approx([0.1, 1.4, 0])


def test_points_in_space_are_turned_to_the_hips():
    """A lifter turned 10° to the right, hips 0.2 m apart."""
    angle = math.radians(10)
    across = 0.1 * np.array([-math.sin(angle), 0, math.cos(angle)])
    ahead = np.array([math.cos(angle), 0, math.sin(angle)])
    solid = np.stack([across, -across, 0.3 * ahead])[np.newaxis]
    stand = Standpoint(FAR_M, 1.0, True)
    points = in_space(("hip_r", "hip_l", "knee_r"), solid, np.array([0]), stand).points
    assert points["hip_r"][0] == pytest.approx([0, 0, 0.1])
    assert points["knee_r"][0] == pytest.approx([0.3, 0, 0])


@pytest.mark.parametrize(("kind", "axis"), [("side", 0), ("front", 2)])
def test_a_picture_left_as_it_is_keeps_which_way_is_which(kind, axis):
    """From as far as a camera goes, where perspective is a fiftieth: 2 cm of what is 1 m away."""
    rep = squat(("knee_valgus", 8), ("lateral_shift", 4))
    make = {"side": Camera.side, "front": Camera.front}[kind]
    camera = make(distance_m=30.0, height_m=1.0, width_px=9000, height_px=9000)
    names = ("knee_r", "hip_r", "toe_r")
    points = np.stack([rep.points[name] for name in names], axis=-2)
    seen = (camera.project(points) - 4500) / camera.px_per_m
    placed = as_filmed(names, seen, kind)
    for column, name in enumerate(names):
        found = placed.points[name]
        assert found[:, axis] == pytest.approx(points[:, column, axis], abs=0.02)
        assert found[:, 1] + 1.0 == pytest.approx(points[:, column, 1], abs=0.02)
        assert np.all(found[:, 2 - axis] == 0.0)


def test_without_hips_a_near_knee_counts_as_far_out_as_a_bent_one():
    """By hand: 25 cm nearer at 4 m looks larger by 4 / 3.75, an ankle 19 cm by 4 / 3.81."""
    standpoint = Standpoint(4.0, 1.0, True)
    seen = np.zeros((5, 2, 2))
    seen[:, 0], seen[:, 1] = (0.3, -0.2), (0.0, -0.9)  # knee and ankle, from the camera's axis
    for leading in ((), (3,)):
        pictures = np.broadcast_to(seen, (*leading, *seen.shape))
        placed = from_the_side(
            ("knee_r", "ankle_r"), pictures, np.arange(2), "r", standpoint, None, {}
        ).points
        apart = placed["knee_r"] - placed["ankle_r"]
        assert apart.shape == (*leading, 5, 3)
        origin = seen[0, 1]  # of the ankle, which stands for the feet
        expected = (0.3 - origin[0]) * 3.75 / 4.0
        assert apart[..., 0] == pytest.approx(expected)


@pytest.mark.parametrize("above_level_deg", [0.0, 30.0])
@pytest.mark.parametrize("yaw_deg", [10.0, 0.0, -20.0, -40.0])
def test_a_thigh_is_as_far_out_of_the_picture_as_it_points_and_the_camera_is_turned(
    yaw_deg, above_level_deg
):
    """From 30 m, where nothing looks larger: the direction of the thigh in space less the turn."""
    high = [("short_depth", above_level_deg)] if above_level_deg else []
    rep = squat(*high, turnout=25.0)
    (film,) = filmed(rep, Camera.side(yaw_deg=yaw_deg, distance_m=30.0, focal_px=11_000.0))
    quantities = Quantities(view_of(film))
    low_s = quantities.view.times[quantities.view.lowest(quantities.repetition, 0.15)]
    low = np.searchsorted(rep.time, low_s)
    thigh = np.mean((rep.points["knee_r"] - rep.points["hip_r"])[low], axis=0)
    points_out_deg = np.degrees(np.arctan2(thigh[2], thigh[0]))
    assert quantities.thigh_out_deg == pytest.approx(points_out_deg - yaw_deg, abs=3.0)


def test_depth_is_not_told_of_a_side_film_from_an_angle():
    """Up to 15° off is what a camera may be; 45° is no side view. Tempo needs no square camera."""
    rep = squat(turnout=25.0)
    for yaw_deg, is_told in ((0.0, True), (-15.0, True), (-45.0, False)):
        findings = reviewed(rep, Camera.side(yaw_deg=yaw_deg))
        depth = findings["short_depth"]
        assert (depth.present != "cannot tell") == is_told
        assert is_told or "square from the side" in depth.reason
        assert findings["fast_descent"].present == "no"
