"""Laws of what is received: elsewhere, later, larger in pixels, in a mirror, or half of a body."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from squatlab.tracks import Tracks, TracksError, receive
from squatlab.tracks.near import near_side
from squatlab.tracks.orientation import doubted, found_axes, oriented, untangled
from squatlab.tracks.pelvis import hip_joints
from tests.impossible import KINDS, believed, moments_of, received, spoilt
from tests.review.squats import squat, without
from tests.stick_figure import NAMES, PX_PER_M, picture, space

REP = squat()
LEG = ("hip", "knee", "ankle", "heel", "toe", "ball")
LEFT = tuple(f"{joint}_l" for joint in (*LEG, "shoulder", "elbow", "wrist", "bar_end"))
RIGHT = tuple(name[:-1] + "r" for name in LEFT)
FEET = tuple(f"{joint}_{side}" for joint in ("heel", "toe", "ball") for side in "rl")
ANKLES = ("ankle_r", "ankle_l")
TRUNK = ("l5", "c7", "head", "bar", "shoulder_r", "shoulder_l", "pelvis")
HALVES = {
    "the right leg": LEFT,
    "the left leg": RIGHT,
    "no feet": FEET,
    "no ankles": (*FEET, *ANKLES),
    "no trunk": TRUNK,
    "the left leg, no trunk": (*RIGHT, *TRUNK),
    "one hip, one ankle": ("hip_l", "ankle_r"),
}
"""What is left of a body, by what is taken away."""


def of_view(view: str) -> Tracks:
    tracks = REP.tracks()
    if view == "3d":
        return tracks
    flat = tracks.positions[..., :2] if view == "side" else tracks.positions[..., [2, 1]] * (-1, 1)
    return replace(tracks, positions=flat, view=view, rate=0.0)


def half(view: str, name: str) -> Tracks:
    return without(of_view(view), *HALVES[name])


@pytest.mark.parametrize("view", ["side", "front", "3d"])
@pytest.mark.parametrize("name", HALVES)
def test_half_a_body_is_received_as_it_is(view, name):
    tracks = half(view, name)
    if view != "side" and "ankle" in name:  # of one leg at least hip, knee and ankle
        with pytest.raises(TracksError, match="required points are missing: ankle_r"):
            received(tracks)
        return
    read = received(tracks)
    assert read.names == tracks.names
    assert np.array_equal(read.positions, tracks.positions)
    asked = any("Most points of a front view are missing" in note for note in read.notes)
    assert asked == (view == "front" and "leg" in name)
    picture_alone = any(f"the {view} view alone" in note for note in read.notes)
    assert picture_alone == (view != "3d")
    again = received(read)
    assert np.array_equal(again.positions, read.positions)


SPOILT = (
    *("knees_nailed", "knees_bend_backward", "hip_and_knee_exchanged", "walks_three_metres"),
    *("lifted_as_one", "shaken", "frames_shuffled", "jumps_to_the_bottom", "leaps"),
    *("giant", "dwarf", "through_the_floor", "trunk_nailed", "knee_and_ankle_exchanged"),
)


@pytest.mark.parametrize("view", ["side", "front", "3d"])
@pytest.mark.parametrize("name", ["the right leg", "the left leg", "no feet", "no trunk"])
def test_what_no_body_does_half_a_body_does_not(view, name):
    tracks = half(view, name)
    # Every second of 120 frames per second: in half the time.
    tracks = replace(tracks, times=tracks.times[::2], positions=tracks.positions[::2], rate=0.0)
    moments = moments_of(tracks)
    for kind in SPOILT:
        views, _ = KINDS[kind]
        if view in views and not (kind == "trunk_nailed" and "trunk" in name):
            recording = spoilt(tracks, kind, moments, np.random.default_rng(5))
            assert believed(recording) == "", kind


# The same recording, but for where, when and how large.


@pytest.mark.parametrize("view", ["side", "front"])
def test_a_picture_may_begin_anywhere_at_any_time_and_be_of_any_size(view):
    one = picture(view)
    read = received(one)
    for shift, factor, later in (((300, -20), 1.0, 0.0), ((0, 0), 2.5, 0.0), ((0, 0), 1.0, 99.0)):
        other = receive(
            one.times + later,
            one.positions * factor + shift,
            one.names,
            view=view,
            units="px",
            scale_px_per_m=PX_PER_M * factor,
        )
        assert other.positions == pytest.approx(read.positions * factor + shift, nan_ok=True)
        assert other.times == pytest.approx(read.times + later) and other.notes == read.notes


def test_a_body_in_space_may_stand_anywhere():
    one = space()
    for shift in ((3.0, 0.0, -2.0), (0.0, 0.4, 0.0)):
        read = received(replace(one, positions=one.positions + shift))
        assert read.positions == pytest.approx(received(one).positions + shift)


@pytest.mark.parametrize("y_down", [False, True])
@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("view", ["side", "front"])
def test_pictures_upside_down_or_in_a_mirror_come_out_the_same(view, mirrored, y_down):
    one = picture(view)
    turn = (-1 if mirrored else 1, -1 if y_down else 1)
    names = one.names
    if mirrored and view == "side":  # seen from the other side the left leg is the near one
        other = {"_r": "_l", "_l": "_r"}
        names = tuple(name[:-2] + other[name[-2:]] for name in names)
    read = received(replace(one, positions=one.positions * turn, names=names))
    assert len(read.notes) == len(received(one).notes) + mirrored + y_down
    assert read.names == one.names
    away = read.positions - read.positions[0, 0]
    assert away == pytest.approx(one.positions - one.positions[0, 0])


@pytest.mark.parametrize("unit", ["cm", "mm"])
def test_lengths_in_other_units_are_the_same_lengths(unit):
    one = space()
    per_m = {"cm": 100, "mm": 1000}[unit]
    read = receive(one.times, one.positions * per_m, NAMES, view="3d", units=unit)
    assert read.positions == pytest.approx(one.positions) and unit in read.notes[0]


def test_what_is_seen_stays_and_gaps_of_a_tenth_of_a_second_are_straight():
    one = space(rate=100.0)
    positions = one.positions.copy()
    knee, top = NAMES.index("knee_r"), NAMES.index("shoulder_l")
    positions[150:160, knee] = np.nan  # ten frames: a tenth of a second
    positions[170:181, knee] = np.nan
    positions[:3, top] = positions[-2:, top] = np.nan
    positions[200, top, 1] = np.nan  # half of a point is none
    read = received(replace(one, positions=positions))
    seen = np.isfinite(positions).all(axis=2)
    assert read.positions[seen] == pytest.approx(one.positions[seen])
    # One of eleven steps for each frame between the last seen and the next.
    before, after = positions[149, knee], positions[160, knee]
    for n in range(1, 11):
        assert read.positions[149 + n, knee] == pytest.approx(before + n / 11 * (after - before))
    assert np.isnan(read.positions[170:181, knee]).all()
    assert np.isnan(read.positions[:3, top]).all() and np.isnan(read.positions[-2:, top]).all()
    middle = 0.5 * (positions[199, top] + positions[201, top])
    assert read.positions[200, top] == pytest.approx(middle)
    assert any("2 in all, were filled" in note for note in read.notes)
    assert any("3 in all, stay missing" in note for note in read.notes)
    assert any(note.startswith("1 positions lacked one axis") for note in read.notes)


# The near leg, the axes and the hips of a body.


@pytest.mark.parametrize("far", ["r", "l"])
def test_each_reason_for_the_near_leg_decides_where_those_before_it_do_not(far):
    near = "l" if far == "r" else "r"
    one = picture("side")
    hip, knee = (one.names.index(f"{joint}_{far}") for joint in ("hip", "knee"))

    def with_(change):
        positions = one.positions.copy()
        change(positions)
        return near_side(replace(one, positions=positions))

    def hidden(share, at=0):
        """Hide the far knee in a share of the frames, from a frame on."""

        def change(positions):
            positions[at : at + round(share * len(positions)), knee] = np.nan

        return change

    def unsteady(size):
        def change(positions):
            positions[::2, hip, 1] *= 1 + size

        return change

    def higher(px):
        def change(positions):
            for joint in ("ankle", "heel", "toe"):
                positions[:, one.names.index(f"{joint}_{far}"), 1] += px

        return change

    assert with_(higher(2.0)) == near and with_(lambda _: None) == "r"
    assert with_(unsteady(0.2)) == near
    low = int(np.argmin(one.positions[:, hip, 1])) - 40
    assert with_(hidden(0.4, low)) == near
    # Seen worse goes before unsteady, unsteady before higher.
    ways = {"seen": hidden(0.5, low), "steady": unsteady(0.3), "high": higher(3.0)}
    assert {name: with_(way) for name, way in ways.items()} == dict.fromkeys(ways, near)
    assert near_side(without(one, *(f"{joint}_{far}" for joint in ("hip", "knee")))) == near

    # Both unsteady alike, the near one a little more: the lower foot still decides.
    def both_unsteady(positions):
        positions[::2, hip, 1] *= 1.20
        positions[::2, one.names.index(f"hip_{near}"), 1] *= 1.21
        higher(3.0)(positions)

    assert with_(both_unsteady) == near


@pytest.mark.parametrize("turn", range(4))
def test_axes_are_found_of_legs_alone_whichever_way_they_face(turn):
    """A quarter turn about the vertical at a time: forward is −z, −x, z, x."""
    one = space()
    quarter = np.linalg.matrix_power(np.array([[0, 0, -1], [0, 1, 0], [1, 0, 0]]), turn)
    tracks = replace(one, positions=one.positions @ quarter)
    words = {"forward": (1, 0, 0), "up": (0, 1, 0), "right": (0, 0, 1)}
    opposite = {"forward": "back", "up": "down", "right": "left"}
    where = []
    for axis in np.eye(3):
        # Where does this axis of the file point, in ours?
        ours = axis @ quarter.T
        (name,) = (n for n, v in words.items() if abs(np.dot(v, ours)) > 0.5)
        where.append(name if np.dot(words[name], ours) > 0 else opposite[name])
    expected = ", ".join(f"{axis} {name}" for axis, name in zip("xyz", where, strict=True))
    for gone in ((), FEET):
        part = without(tracks, *gone)
        assert found_axes(part) == expected, gone


def test_hips_from_the_pelvis_are_where_the_regression_puts_them():
    """Harrington 2007, by hand: 24 cm wide, 15 cm deep, upright and facing along x."""
    markers = [
        np.array([x, 0.95, z])
        for x, z in ((0.08, 0.12), (0.08, -0.12), (-0.07, 0.04), (-0.07, -0.04))
    ]
    back, down, aside = 0.24 * 0.15 + 0.0099, 0.30 * 0.24 + 0.0109, 0.33 * 0.24 + 0.0073
    hips = hip_joints(*markers)
    assert hips["r"] == pytest.approx([0.08 - back, 0.95 - down, aside])
    assert hips["l"] == pytest.approx([0.08 - back, 0.95 - down, -aside])
    # Anywhere, turned any way: a rigid body.
    rng = np.random.default_rng(1)
    turn, _ = np.linalg.qr(rng.normal(size=(3, 3)))
    turn = turn if np.linalg.det(turn) > 0 else -turn
    moved = hip_joints(*(marker @ turn + (1, 2, 3) for marker in markers))
    for side in "rl":
        assert moved[side] == pytest.approx(hips[side] @ turn + (1, 2, 3))


def test_what_is_no_table_of_places_is_refused():
    one = space()
    for times, positions, names, words in (
        (one.times, one.positions[0], NAMES, "give .time, point, axis."),
        (one.times, one.positions, NAMES[:-1], "12 points and 11 names"),
        (one.times, np.full_like(one.positions, np.nan), NAMES, "no position is given in any"),
        (one.times[:5], one.positions[:5], NAMES, "10"),
    ):
        with pytest.raises(TracksError, match=words):
            receive(times, positions, names, view="3d", units="m")


@pytest.mark.parametrize("view", ["side", "front", "3d"])
def test_every_point_that_flies_off_is_named_and_not_seen_there(view):
    tracks = of_view(view)
    positions = tracks.positions.copy()
    way = -2.0 if view == "front" else 2.0  # away from the other side's
    off = {"knee_r": range(100, 104), "c7": range(200, 203), "ankle_r": [300]}
    for name, frames in off.items():
        positions[list(frames), tracks.names.index(name), 0] += way
    read = received(replace(tracks, positions=positions))
    said = {"knee_r": "101–104", "c7": "201–203", "ankle_r": "301"}
    for name, frames in said.items():
        (note,) = (note for note in read.notes if note.startswith(f"{name} is up to 2 m from"))
        assert f"in frames {frames}:" in note and note.endswith("not seen there.")
    # Gaps so short are filled along straight lines, near to where the points were.
    assert np.abs(read.positions - tracks.positions).max() < 0.01
    # Most of them at once is no slip of one point.
    positions = tracks.positions.copy()
    positions[100:104, : len(tracks.names) * 2 // 3, 0] += 2.0
    with pytest.raises(TracksError, match="most points are far .* in frames 101–104"):
        received(replace(tracks, positions=positions))
    # Nor is one that is off for longer than it is on.
    positions = tracks.positions.copy()
    positions[::2, tracks.names.index("c7"), 0] += 2.0
    with pytest.raises(TracksError, match="c7 "):
        received(replace(tracks, positions=positions))


# What a body shows of wrong labels: each bound of our choice is reached and not passed.


def bent(positions, name, place):
    """Put a point elsewhere, all the time."""
    positions[:, NAMES.index(name)] = place


def at_the_lowest(tracks):
    return tracks["hip_r"][:, 1] <= np.quantile(tracks["hip_r"][:, 1], 0.1)


def turned_by(value):
    """The whole body, seen from above."""
    angle = np.radians(value)
    turn = np.array(
        [[np.cos(angle), 0, -np.sin(angle)], [0, 1, 0], [np.sin(angle), 0, np.cos(angle)]]
    )
    return space().positions @ turn


def knees_behind(value):
    """Knees so far behind the hips at the lowest, whichever way the toes point."""
    tracks, low = space(), at_the_lowest(space())
    positions = tracks.positions.copy()
    for side in "rl":
        hip, knee = positions[:, NAMES.index(f"hip_{side}")], NAMES.index(f"knee_{side}")
        ahead = np.median((positions[:, knee] - hip)[low, 0])
        positions[:, knee, 0] -= ahead + value
        # So that the thigh, short as it looks, still tells where the knees go.
        positions[:, knee, 1] = hip[:, 1] - 0.4 * abs(value)
    return positions


def trunk_back(value):
    """The line from the right hip to the shoulder, so many degrees backward."""
    positions = space().positions.copy()
    angle = np.radians(value)
    way = 0.5 * np.array([-np.sin(angle), np.cos(angle), 0])
    bent(positions, "shoulder_r", positions[:, NAMES.index("hip_r")] + way)
    return positions


def knees_unlike(value):
    """The left knee bends by so much less than the right."""
    tracks = space()
    positions, low = tracks.positions.copy(), at_the_lowest(tracks)
    hip, ankle = (positions[:, NAMES.index(f"{j}_l")] for j in ("hip", "ankle"))
    bends = []
    # Toward the middle of the line from hip to ankle the leg straightens.
    knee = tracks["knee_l"]
    line = hip - ankle
    along = np.sum((knee - ankle) * line, axis=1) / np.sum(line**2, axis=1)
    foot = ankle + along[:, np.newaxis] * line
    shares = np.linspace(0, 1, 400)
    for share in shares:
        moved = foot + share * (knee - foot)
        thigh, shank = (hip - moved)[low], (moved - ankle)[low]
        cosine = np.sum(thigh * shank, axis=1)
        cosine /= np.linalg.norm(thigh, axis=1) * np.linalg.norm(shank, axis=1)
        bends.append(np.degrees(np.median(np.arccos(np.clip(cosine, -1, 1)))))
    share = np.interp(bends[-1] - value, bends, shares)
    bent(positions, "knee_l", foot + share * (knee - foot))
    return positions


def crossed(value):
    """Frames in which both ankles lie the wrong way round by a share of their usual distance."""
    positions = space().positions.copy()
    right, left = (NAMES.index(f"ankle_{side}") for side in "rl")
    apart = np.median(positions[:, right, 2] - positions[:, left, 2])
    middle = 0.5 * (positions[50:54, right, 2] + positions[50:54, left, 2])
    positions[50:54, right, 2] = middle - 0.5 * value * apart
    positions[50:54, left, 2] = middle + 0.5 * value * apart
    return positions


NOTED = {
    "turned": (turned_by, 10.0, "line of the hips is turned"),
    "backward": (trunk_back, 10.0, "the trunk leans"),
    "unlike": (knees_unlike, 25.0, "and the left by"),
    "crossed": (crossed, 0.5, "Right and left were exchanged in 4 frames"),
    "behind": (knees_behind, 0.05, "behind the hips"),
}
"""How far a squat, however it is, never goes, in °, shares and m [teaching-value]."""


@pytest.mark.parametrize("name", NOTED)
def test_a_bound_of_the_labels_is_reached_and_not_passed(name):
    made, bound, words = NOTED[name]
    one = space()
    for factor, said in ((0.99, False), (1.01, True)):
        tracks = replace(one, positions=made(factor * bound))
        try:
            read = doubted(untangled(oriented(tracks)))
            told = " ".join(read.notes)
        except TracksError as error:
            told = str(error)
        assert (words in told) == said, (factor, told)


@pytest.mark.parametrize("way", [-1.0, 1.0])
@pytest.mark.parametrize(("times", "asked"), [(1.98, False), (2.02, True)])
def test_from_the_front_knees_are_not_twice_as_far_aside_as_apart(times, asked, way):
    one = picture("front")
    knees, ankles = (
        np.median(np.abs(one[f"{joint}_r"][:, 0] - one[f"{joint}_l"][:, 0]))
        for joint in ("knee", "ankle")
    )
    positions = one.positions.copy()
    for name in ("hip_r", "hip_l", "shoulder_r", "shoulder_l"):
        positions[:, one.names.index(name), 0] += way * times * max(knees, ankles)
    told = oriented(replace(one, positions=positions)).notes
    assert any("is this a side view?" in note for note in told) == asked


@pytest.mark.parametrize("when", ["begins", "ends"])
def test_a_film_cut_where_hips_are_low_and_moving_says_so_and_by_how_much(when):
    """Low is 15 % of the way; moving is 15 % of the most that they move over four frames."""
    one = space(rate=60.0)
    height = one["hip_r"][:, 1]
    down = (height.max() - height) / np.ptp(height)
    moved = np.abs(height[4:] - height[:-4])
    moving = np.append(moved, np.zeros(4)) if when == "begins" else np.append(np.zeros(4), moved)
    lowest = int(np.argmin(height))
    seen = {True: 0, False: 0}
    frames = range(20, lowest - 8) if when == "begins" else range(lowest + 8, height.size - 20)
    for frame in frames:
        part = slice(frame, None) if when == "begins" else slice(None, frame + 1)
        told = doubted(replace(one, times=one.times[part], positions=one.positions[part], rate=0.0))
        most = moved[part].max() if when == "begins" else moved[: frame - 3].max()
        expected = down[frame] > 0.15 and moving[frame] > 0.15 * most
        assert any(f"The film {when}" in note for note in told.notes) == expected, frame
        seen[expected] += 1
    assert min(seen.values()) > 10


@pytest.mark.parametrize("view", ["side", "3d"])
def test_without_hips_it_is_said_what_would_do_in_their_place_and_where(view):
    """Four markers on the pelvis, of which none or three are there, and in space alone."""
    legs = without(of_view(view), "hip_r", "hip_l")
    some = replace(
        legs,
        names=(*legs.names, "asis_r", "asis_l", "psis_r"),
        positions=np.concatenate([legs.positions, legs.positions[:, :3]], axis=1),
    )
    for tracks in (legs, some):
        with pytest.raises(TracksError, match="no hip is among the points") as told:
            received(tracks)
        words = "In space asis_r, asis_l, psis_r, psis_l would do in its place."
        assert (words in str(told.value)) == (view == "3d")


@pytest.mark.parametrize(("view", "asked"), [("front", True), ("3d", False)])
def test_hips_on_one_spot_are_refused_and_a_front_view_is_asked_whether_it_is_one(view, asked):
    tracks = of_view(view)
    positions = tracks.positions.copy()
    across = 0 if view == "front" else 2
    left, right = (tracks.names.index(f"hip_{side}") for side in "lr")
    way = np.sign(np.median(positions[:, left, across] - positions[:, right, across]))
    positions[:, left, across] = positions[:, right, across] + way * 0.02
    with pytest.raises(TracksError, match="hip_r and hip_l are 2 cm apart") as told:
        received(replace(tracks, positions=positions))
    assert ("Is this a side view?" in str(told.value)) == asked


def test_a_front_view_too_broad_is_not_asked_whether_it_is_one_from_the_side():
    tracks = of_view("front")
    positions = tracks.positions.copy()
    positions[:, tracks.names.index("shoulder_l"), 0] += 1.5
    with pytest.raises(TracksError, match="shoulder_r and shoulder_l are") as told:
        received(replace(tracks, positions=positions))
    assert "Is this a side view?" not in str(told.value)
