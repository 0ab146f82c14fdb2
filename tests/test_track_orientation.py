"""Tracks are turned upright and forward, whatever axes they came in."""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations, product

import numpy as np
import pytest

from squatlab.lifter import Lifter
from squatlab.mechanics.legs import Stance
from squatlab.mechanics.trunk import Bar
from squatlab.motion import Camera, Injection, Tempo, film, synthesise
from squatlab.tracks import Tracks, TracksError, receive
from squatlab.tracks.csv import schema_path
from squatlab.tracks.orientation import DIRECTIONS, found_axes, oriented, turned
from squatlab.tracks.points import AXES
from tests.stick_figure import NAMES, picture, space

WRITTEN = 0.51e-6
"""Six decimals are written: half of the last, and a hair."""


def reread(tmp_path, tracks, positions, **declared):
    path = replace(tracks, positions=positions).write(tmp_path / "turned.csv")
    return Tracks.read(path, **declared)


@pytest.mark.parametrize("view", ["side", "front"])
@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("y_down", [False, True])
def test_pictures_are_turned_upright_and_forward(tmp_path, view, mirrored, y_down):
    tracks = picture(view)
    read = reread(tmp_path, tracks, tracks.positions * (1 - 2 * mirrored, 1 - 2 * y_down))
    assert read.positions == pytest.approx(tracks.positions, abs=WRITTEN)
    said = " ".join(read.notes)
    assert ("y pointed down" in said) == y_down
    assert ("The lifter faced left; the" in said) == (mirrored and view == "side")
    assert ("as in a mirror or from behind" in said) == (mirrored and view == "front")


def test_without_feet_the_knees_tell_where_forward_is(tmp_path):
    tracks = picture()
    legs = [i for i, name in enumerate(NAMES) if name[:3] not in ("toe", "hee")]
    bare = replace(tracks, names=[NAMES[i] for i in legs], positions=tracks.positions[:, legs])
    read = reread(tmp_path, bare, bare.positions * (-1, 1))
    assert read.positions == pytest.approx(bare.positions, abs=WRITTEN)


def test_one_hip_cannot_tell_a_mirrored_front_view(tmp_path):
    tracks = picture("front")
    right = [i for i, name in enumerate(NAMES) if name.endswith("_r")]
    half = replace(tracks, names=[NAMES[i] for i in right], positions=tracks.positions[:, right])
    assert "could not be checked" in " ".join(reread(tmp_path, half, half.positions).notes)


def orientations():
    """Return the 24 ways to lay right-handed axes, as words, and their matrices."""
    words = list(DIRECTIONS)
    for x in words:
        for y in words:
            cross = np.cross(DIRECTIONS[x], DIRECTIONS[y])
            if cross.any():
                z = next(word for word in words if np.array_equal(DIRECTIONS[word], cross))
                yield f"x {x}, y {y}, z {z}", np.array([DIRECTIONS[w] for w in (x, y, z)])


ORIENTATIONS = list(orientations())


@pytest.mark.parametrize(("words", "matrix"), ORIENTATIONS, ids=[w for w, _ in ORIENTATIONS])
def test_space_is_turned_from_any_axes(tmp_path, words, matrix):
    tracks = space(30)
    theirs = tracks.positions @ matrix.T
    path = replace(tracks, positions=theirs).write(tmp_path / "lab.csv")
    schema_path(path).unlink()
    read = Tracks.read(path, axes=words)
    assert read.positions == pytest.approx(tracks.positions, abs=WRITTEN)
    if words == AXES["3d"]:
        assert read.notes == ()
    elif words == "x back, y up, z left":
        assert Tracks.read(path).positions == pytest.approx(tracks.positions, abs=WRITTEN)
    else:
        with pytest.raises(TracksError, match=f'It looks like axes="{words}"'):
            Tracks.read(path)


def test_left_handed_axes_can_be_declared_and_are_found_out(tmp_path):
    tracks = space(30)
    path = replace(tracks, positions=tracks.positions * (1, 1, -1)).write(tmp_path / "left.csv")
    with pytest.raises(TracksError, match="hip_r lies to the left of hip_l: either right and"):
        Tracks.read(path)
    schema_path(path).unlink()
    assert Tracks.read(path, axes="x forward, y up, z left").positions == pytest.approx(
        tracks.positions, abs=WRITTEN
    )


def test_left_handed_data_is_noticed_whatever_it_has():
    """Hips, knees and ankles tell handedness by where the knees go."""
    tracks = space()
    kept = [NAMES.index(f"{joint}_{side}") for joint in ("hip", "knee", "ankle") for side in "rl"]
    names = [NAMES[column] for column in kept]
    # x left, y up, z forward is left-handed: forward must not be taken from the hips' line.
    theirs = tracks.positions[:, kept][..., [2, 1, 0]] * (-1, 1, 1)
    with pytest.raises(TracksError, match='looks like axes="x left, y up, z forward"'):
        receive(tracks.times, theirs, names)
    read = receive(tracks.times, theirs, names, axes="x left, y up, z forward")
    assert read.positions == pytest.approx(tracks.positions[:, kept])


def test_axes_that_bend_the_knees_backward_are_refused():
    tracks = space()
    turned_round = tracks.positions * (-1, 1, -1)
    names = [
        name.replace("toe", "t").replace("heel", "toe").replace("t_", "heel_")
        if name[:3] in ("toe", "hee")
        else name
        for name in NAMES
    ]
    with pytest.raises(TracksError, match=r"knees are \d+ cm behind the hips, as no squat shows"):
        receive(tracks.times, turned_round, names)


def test_a_trunk_that_leans_backward_and_knees_unlike_each_other_get_a_note():
    tracks = space()
    positions = tracks.positions.copy()
    hip, shoulder = NAMES.index("hip_r"), NAMES.index("shoulder_r")
    positions[:, shoulder, 0] = 2 * positions[:, hip, 0] - positions[:, shoulder, 0]
    read = receive(tracks.times, positions, NAMES)
    assert any("the trunk leans" in note and "backward" in note for note in read.notes)
    positions = tracks.positions.copy()
    knee, ankle = (positions[:, NAMES.index(f"{joint}_l")] for joint in ("knee", "ankle"))
    middle = 0.5 * (positions[:, NAMES.index("hip_l")] + ankle)
    positions[:, NAMES.index("knee_l")] = middle + 0.6 * (knee - middle)
    read = receive(tracks.times, positions, NAMES)
    assert any("the right knee bends by" in note for note in read.notes)
    assert not any(
        "leans" in note or "bends" in note
        for note in receive(tracks.times, tracks.positions, NAMES).notes
    )


def test_a_film_that_begins_or_ends_in_mid_squat_says_so():
    tracks = space()
    for part, words in ((slice(90, None), "begins"), (slice(None, 120), "ends")):
        read = receive(tracks.times[part], tracks.positions[part], NAMES)
        assert any(f"The film {words} with the hips" in note for note in read.notes)
        height = tracks["hip_r"][part, 1]
        end = height[0] if words == "begins" else height[-1]
        down = (height.max() - end) / (height.max() - height.min())
        assert any(f"with the hips {100 * down:.0f} % of the way down" in n for n in read.notes)
    whole = receive(tracks.times, tracks.positions, NAMES)
    assert not any("The film" in note for note in whole.notes)


def test_axes_are_words_in_several_spellings():
    tracks = space(30)
    turned_once = turned(tracks, "x right, y forward, z up")
    for spelling in ("right forward up", "X: Right; Y: Forward; Z: Up", "z up, x right, y forward"):
        assert np.array_equal(turned(tracks, spelling).positions, turned_once.positions)
    assert turned(tracks, "forward up right") is tracks
    wrongs = ("x y z", "up up up", "x forward, y back, z up", "forward up", "x up, x back, y left")
    for wrong in wrongs:
        with pytest.raises(TracksError, match="say where x, y and z point, one of forward/back"):
            turned(tracks, wrong)


def test_a_lifter_turned_against_the_axes_gets_a_note(tmp_path):
    tracks, angle = space(30), np.radians(20)
    cosine, sine = np.cos(angle), np.sin(angle)
    turn = np.array([[cosine, 0, -sine], [0, 1, 0], [sine, 0, cosine]])
    read = reread(tmp_path, tracks, tracks.positions @ turn)
    assert "The line of the hips is turned by 20°" in read.notes[-1]


def test_which_way_half_a_body_faces_in_space_is_not_guessed(tmp_path):
    tracks = space(30)
    kept = [NAMES.index(name) for name in ("hip_r", "knee_r", "ankle_r")]
    half = replace(tracks, names=[NAMES[i] for i in kept], positions=tracks.positions[:, kept])
    standing = half.positions[:10]
    half = replace(half, times=half.times[:10], positions=standing)
    assert "could not be checked" in reread(tmp_path, half, standing).notes[0]


def test_pictures_take_no_axes_and_no_fractions(tmp_path):
    tracks = picture(scale_px_per_m=None)
    path = tracks.write(tmp_path / "p.csv")
    schema_path(path).unlink()
    with pytest.raises(TracksError, match="axes are declared for positions in space only"):
        Tracks.read(path, view="side", units="px", axes="x forward, y up, z right")
    with pytest.raises(TracksError, match="fractions of the picture, multiply x by its width"):
        reread(tmp_path, tracks, tracks.positions / 1920)
    with pytest.raises(TracksError, match='the units are "inch"; they must be px, m, cm, mm'):
        Tracks.read(path, view="side", units="inch")


ASKED = "At the lowest both knees are to one side of the hips, as no front view shows them: is this"


@pytest.fixture(scope="module")
def squats():
    """Give ten squats of other builds, stances and faults."""
    rng, made = np.random.default_rng(6), []
    for fault, size in (
        (None, 0),
        ("knee_valgus", 18),
        ("lateral_shift", 8),
        ("short_depth", 30),
        ("heel_lift", 5),
        (None, 0),
        ("turnout_out_of_range", 20),
        ("knees_far_forward", 12),
        ("uneven_bar", 9),
        ("lumbar_rounding", 40),
    ):
        lifter = Lifter.from_stature(rng.uniform(1.55, 1.95), rng.uniform(55, 100))
        stance = Stance(rng.uniform(0.25, 0.5), rng.uniform(5, 25))
        faults = [Injection(fault, size)] if fault else []
        made.append(synthesise(lifter, Bar.high(60.0), stance, Tempo(), faults, rng, rate=60.0))
    assert all(np.all(squat.feasible) for squat in made)
    return made


def test_no_front_view_is_taken_for_a_side_view(squats):
    """200 clips over all that a camera can be."""
    rng = np.random.default_rng(7)
    for number in range(200):
        squat = squats[number % len(squats)]
        camera = Camera.front(
            distance_m=rng.uniform(1, 30), height_m=rng.uniform(0, 3), yaw_deg=rng.uniform(-45, 45),
            focal_px=np.exp(rng.uniform(*np.log([100, 20_000]))), width_px=10_000,
            height_px=10_000, rate=rng.uniform(5, 120), noise_px=rng.uniform(0, 50),
            dropped=rng.uniform(0, 0.3), swapped=rng.uniform(0, 0.5),
        )  # fmt: skip
        read = oriented(film(squat.points, squat.time, camera, rng))
        assert ASKED not in " ".join(read.notes), camera


def test_a_side_view_with_both_legs_that_is_called_front_is_asked_about(squats):
    rng = np.random.default_rng(8)
    for number in range(100):
        squat = squats[number % len(squats)]
        camera = Camera.side(
            hidden=(), distance_m=rng.uniform(2.5, 10), height_m=rng.uniform(0.3, 1.6),
            height_px=2000, yaw_deg=rng.uniform(-10, 10), noise_px=rng.uniform(0, 10),
            dropped=rng.uniform(0, 0.2), swapped=rng.uniform(0, 0.3),
        )  # fmt: skip
        side = film(squat.points, squat.time, camera, rng)
        assert ASKED in " ".join(oriented(replace(side, view="front")).notes), camera
        assert ASKED not in " ".join(oriented(side).notes)


def test_a_hip_of_one_side_and_an_ankle_of_the_other_tell_where_up_is():
    tracks = space()
    kept = [n for n, name in enumerate(NAMES) if name not in ("hip_l", "ankle_r")]
    names = tuple(NAMES[n] for n in kept)
    # Wherever the origin is.
    half = replace(tracks, names=names, positions=tracks.positions[:, kept] - (0.0, 5.0, 0.0))
    assert found_axes(half).startswith("x forward, y up")
    lying = replace(half, positions=half.positions[..., [1, 0, 2]])
    assert found_axes(lying).startswith("x up, y forward")


LEFT_OUT = {
    "nothing": (),
    "feet": ("heel", "toe"),
    "the left leg's feet": ("heel_l", "toe_l"),
    "feet and shoulders": ("heel", "toe", "shoulder"),
    "feet and the left knee": ("heel", "toe", "knee_l"),
}


@pytest.mark.parametrize("left_out", LEFT_OUT)
def test_all_axes_that_point_along_or_against_ours_are_found(left_out):
    """The 48 ways to lay three axes, left-handed ones among them, from an origin anywhere."""
    tracks = space(rate=10.0)
    kept = [n for n, name in enumerate(NAMES) if not name.startswith(LEFT_OUT[left_out] or "-")]
    tracks = replace(
        tracks, names=tuple(NAMES[n] for n in kept), positions=tracks.positions[:, kept]
    )
    for order in permutations(range(3)):
        for signs in product((1.0, -1.0), repeat=3):
            axes = np.eye(3)[list(order)] * np.array(signs)[:, np.newaxis]
            moved = replace(tracks, positions=tracks.positions @ axes.T + (3.0, -4.0, 5.0))
            back = turned(moved, found_axes(moved)).positions
            assert back - back[0, 0] == pytest.approx(tracks.positions - tracks.positions[0, 0])
