"""A pinhole camera, against a projection by an independent library and by hand."""

from __future__ import annotations

from dataclasses import FrozenInstanceError, replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from squatlab.motion.camera import FAR_SIDE, Camera, film
from squatlab.tracks import Tracks
from tests import stick_figure

PIXEL = 1.0


def figure():
    """Return the stick figure's points by name, and its times."""
    times, positions = stick_figure.figure(120)
    return dict(zip(stick_figure.NAMES, np.moveaxis(positions, 1, 0), strict=True)), times


@pytest.mark.parametrize(
    ("camera", "point", "seen"),
    [
        # On a calculator: 1500 px / 4 m = 375 px/m at mid-depth; picture's middle is (960, 540).
        (Camera.side(), (0.2, 1.4, 0.0), (960 + 75, 540 + 150)),
        # 0.25 m nearer: 1500 / 3.75 = 400 px/m.
        (Camera.side(), (0.2, 1.4, 0.25), (960 + 80, 540 + 160)),
        # From the front the lifter's left (z < 0) is at the picture's right.
        (Camera.front(), (0.0, 0.5, -0.4), (960 + 150, 540 - 187.5)),
        (Camera.front(), (0.25, 0.5, -0.4), (960 + 160, 540 - 200)),
        # At 45° a step forward of 0.4 m goes 0.2828 m to the right and as much nearer.
        (Camera.oblique(), (0.4, 1.0, 0.0), (960 + 1500 * 0.28284 / 3.71716, 540)),
        # Standing 30° too far back: 0.5 m forward shows 0.5 cos 30° at 4 + 0.5 sin 30° m.
        (Camera.side(yaw_deg=30), (0.5, 1.0, 0.0), (960 + 1500 * 0.43301 / 4.25, 540)),
    ],
)
def test_worked_examples(camera, point, seen):
    assert camera.project(point) == pytest.approx(seen, abs=0.01 * PIXEL)


@given(
    view=st.sampled_from(["side", "front", "oblique"]),
    distance=st.floats(2, 8),
    height=st.floats(0.2, 2),
    yaw=st.floats(-30, 30),
    point=st.tuples(st.floats(-0.6, 0.6), st.floats(0, 1.8), st.floats(-0.6, 0.6)),
)
def test_projection_agrees_with_rotation_matrices(view, distance, height, yaw, point):
    """K R (X − C) with the usual axes (right, down, ahead), R turned by SciPy's Rotation."""
    azimuth = {"front": 0, "oblique": 45, "side": 90}[view] + yaw
    # In front of the lifter the camera's right, down, ahead are −z, −y, −x; then it walks round.
    in_front = Rotation.from_matrix([[0, 0, -1], [0, -1, 0], [-1, 0, 0]])
    walk = Rotation.from_euler("y", -azimuth, degrees=True)
    centre = walk.apply([distance, 0, 0]) + [0, height, 0]
    inner = np.array([[1500, 0, 960], [0, 1500, 540], [0, 0, 1]])
    right, down, one = inner @ (in_front * walk.inv()).apply(np.array(point) - centre)
    expected = np.array([right / one, 1080 - down / one])
    camera = Camera(view, distance, height, yaw)
    inside = ((expected >= 0) & (expected <= (1920, 1080))).all()
    seen = camera.project(point)
    assert seen == pytest.approx(expected, abs=1e-6) if inside else np.isnan(seen).all()


def test_presets_are_a_phone_four_metres_away():
    side, front, oblique = Camera.side(), Camera.front(), Camera.oblique()
    assert [c.view for c in (side, front, oblique)] == ["side", "front", "oblique"]
    for camera in (side, front, oblique):
        assert camera.px_per_m == 375
        assert (camera.rate, camera.noise_px, camera.height_m) == (60, 3, 1)
    assert side.hidden == FAR_SIDE and front.hidden == ()
    assert Camera.side(hidden=(), rate=30) == replace(side, hidden=(), rate=30)
    with pytest.raises(FrozenInstanceError):
        side.rate = 30


@pytest.mark.parametrize("view", ["side", "front", "oblique"])
def test_an_exact_film_is_the_projection_in_the_axes_of_the_view(view):
    points, times = figure()
    camera = getattr(Camera, view)(hidden=("toe_l",))
    tracks = film(points, times, camera)
    assert (tracks.view, tracks.units, tracks.scale_px_per_m, tracks.rate) == (view, "px", None, 60)
    assert "toe_l" not in tracks and len(tracks.names) == len(points) - 1
    even = slice(0, None, 2)  # 120 Hz filmed at 60: every other time
    for name in tracks.names:
        assert tracks[name] == pytest.approx(camera.project(points[name][even]))
    step = film({"a": [[0, 1, 0.2]] * 2, "b": [[0, 1, -0.2]] * 2}, [0, 1], camera)
    assert (step["b"][0, 0] > step["a"][0, 0]) == (view != "side"), "left is right from the front"


def test_frames_fall_between_the_given_times():
    """A point at constant speed is met exactly, whatever the rates."""
    time = np.arange(121) / 120
    camera = Camera.side(rate=50)
    tracks = film({"a": np.stack([0.5 * time, 1 + 0 * time, 0 * time], axis=1)}, time, camera)
    assert tracks.times == pytest.approx(np.arange(51) / 50)
    assert tracks["a"][:, 0] == pytest.approx(960 + 375 * 0.5 * tracks.times)


def test_what_is_not_seen_is_missing():
    path = np.array([[0, 1, 0], [0, 1, 0], [3, 1, 0], [0, 1, 5], [np.nan] * 3, [0, 1, 0]], float)
    seen = film({"a": path}, np.arange(6) / 60, Camera.side(rate=60))["a"]
    assert np.isnan(seen[:, 0]).tolist() == [False, False, True, True, True, False]


def test_noise_dropped_frames_and_swaps_are_as_large_as_said():
    time = np.arange(40_000) / 60
    points = {f"knee_{s}": np.tile([0, 1, z], (time.size, 1)) for s, z in (("r", 0.2), ("l", -0.2))}
    camera = Camera.front(noise_px=3, dropped=0.1, swapped=0.05)
    exact = film(points, time, camera)
    tracks = film(points, time, camera, np.random.default_rng(3))
    assert 1 - tracks.times.size / time.size == pytest.approx(0.1, abs=0.005)
    off = tracks["knee_r"][:, 0] - exact["knee_r"][0, 0]
    swapped = off > 75  # the knees are 150 px apart
    assert swapped.mean() == pytest.approx(0.05, abs=0.004)
    assert off[~swapped].std() == pytest.approx(3, abs=0.05)
    assert abs(off[~swapped].mean()) < 0.1
    twice = film(points, time, camera, np.random.default_rng(3))
    assert np.array_equal(twice.positions, tracks.positions), "the seed decides"
    still = film(points, time, replace(camera, noise_px=0), np.random.default_rng(3))
    assert np.isin(still["knee_l"], exact.positions).all()


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Camera("back"), "the view is 'back'; a camera stands at front, oblique, side"),
        (lambda: Camera.side(distance_m=0.2), "distance_m is 0.2; it must lie between 1 and 30 m"),
        (lambda: Camera.side(noise_px=-1), "noise_px is -1; it must lie between 0 and 50 px"),
        (lambda: Camera.front(dropped=0.9), "dropped is 0.9; it must lie .* share of the frames"),
        (lambda: film({}, [0, 1], Camera.side()), "there are 0 points and 2 times to film"),
        (lambda: film({"hip_l": [[0, 0, 0]]}, [0], Camera.side()), "one point that is not hidden"),
        (lambda: film({"a": [[0, 0, 0]] * 2}, [0, 0.01], Camera.side()), "less than two frames"),
    ],
)
def test_impossible_cameras_are_refused_in_words(make, words):
    with pytest.raises(ValueError, match=words):
        make()


def test_a_film_is_tracks_and_the_plate_gives_its_scale():
    """The disc's diameter is 0.450 m (IWF), hung 0.9 m nearer: 375 × 4 / 3.1 px/m there."""
    points, times = figure()
    still = np.ones((times.size, 1))
    plate = {"plate_top": still * [0, 1.625, 0.9], "plate_bottom": still * [0, 1.175, 0.9]}
    tracks = film(points | plate, times, Camera.side())
    assert isinstance(tracks, Tracks)
    scaled = tracks.scaled_by(nearer_m=0.9, distance_m=4.0)
    assert scaled.scale_px_per_m == pytest.approx(375)
