"""Tracks: held, scaled, put on an even beat, bridged."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest

from squatlab.tracks import Tracks, TracksError
from squatlab.tracks.frames import ON_TIME, on_the_beat
from tests import stick_figure
from tests.stick_figure import NAMES, PX_PER_M, picture, space

# Holding


def test_tracks_are_frozen_and_changed_by_replacement():
    times, positions = stick_figure.figure()
    tracks = Tracks(times, positions, NAMES, "3d")
    positions[:] = 0
    assert tracks["hip_r"][0, 1] > 0.8, "an array from outside is copied"
    with pytest.raises(ValueError, match="read-only"):
        tracks.positions[0] = 0
    renamed = replace(tracks, source="other")
    assert renamed.positions is tracks.positions
    assert (tracks.source, renamed.source) == ("", "other")
    assert tracks.rate == pytest.approx(60)
    assert tracks.axes == "x forward, y up, z right"
    assert repr(tracks) == "Tracks: 3d, 12 points, 246 frames at 60 Hz, m"
    assert repr(picture()).endswith("px, 375.0 px/m")


def test_a_point_that_is_not_there_is_answered_with_those_that_are():
    tracks = space()
    assert "hip_r" in tracks
    assert "bar" not in tracks
    with pytest.raises(TracksError, match='"hip_right"; did you mean "hip_r".*toe_r, heel'):
        tracks["hip_right"]


TIMES, POSITIONS = stick_figure.figure(30)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Tracks(TIMES, POSITIONS, NAMES, "back"), "the view is 'back'; it must be one of"),
        (lambda: Tracks(TIMES, POSITIONS, NAMES, "side"), r"\(time, point, 2\), here \(123, 12, 2"),
        (lambda: Tracks(TIMES, POSITIONS[..., :2], NAMES, "3d"), r"\(time, point, 3\)"),
        (lambda: Tracks(TIMES, POSITIONS, NAMES[:-1], "3d"), "with 11 names"),
        (lambda: Tracks(TIMES, POSITIONS, NAMES[:-1] + ("toe_r",), "3d"), "twice: toe_r"),
        (lambda: Tracks(TIMES, POSITIONS, NAMES, "3d", "px"), "space cannot be in px"),
        (lambda: Tracks(TIMES, POSITIONS, NAMES, "3d", "feet"), "'feet'; they must be m or px"),
        (lambda: space(scale_px_per_m=300), "300 px per m for positions in m; a scale"),
        (lambda: picture(scale_px_per_m=-2), "-2 px per m .* between 1 and 100000"),
        (lambda: Tracks(TIMES[:1], POSITIONS[:1], NAMES, "3d"), "1 frames; tracks need at"),
        (lambda: Tracks(TIMES[::-1], POSITIONS, NAMES, "3d"), "in 122 places .*frame 2 at 4.03"),
        (lambda: Tracks(TIMES * np.nan, POSITIONS, NAMES, "3d"), r"frame 1, 2, 3 counted from 1"),
        (lambda: Tracks(TIMES, POSITIONS * np.inf, NAMES, "3d"), "leave what was not seen empty"),
        (lambda: Tracks(["a"], POSITIONS, NAMES, "3d"), "give a number, or an array of numbers"),
        (lambda: replace(space(30), rate=60), "given as 60 Hz but the times say 30"),
    ],
)
def test_impossible_tracks_are_refused_in_words(make, words):
    with pytest.raises(TracksError, match=words):
        make()


def test_pixels_become_metres_by_their_scale():
    metres = picture().in_metres()
    assert metres.units == "m"
    assert metres["hip_r"] == pytest.approx(picture()["hip_r"] / PX_PER_M)
    assert metres.in_metres() is metres
    with pytest.raises(TracksError, match=r"give one with tracks.scaled_by\(\)"):
        picture(scale_px_per_m=None).in_metres()


# Scale


def with_plate(px_per_m=PX_PER_M, noise=0.0):
    """Return a picture without a scale, a plate of 450 mm at the shoulder."""
    tracks = picture(scale_px_per_m=None)
    edges = tracks["shoulder_r"][:, np.newaxis] + 0.225 * px_per_m * np.array([[0, 1], [0, -1]])
    positions = np.concatenate([tracks.positions, edges], axis=1)
    positions += np.random.default_rng(1).normal(0, noise, positions.shape)
    return replace(tracks, positions=positions, names=(*NAMES, "plate_top", "plate_bottom"))


def test_scale_from_a_plate_of_450_mm():
    """The largest discs measure 450 mm [iwf]."""
    assert with_plate().scaled_by().scale_px_per_m == pytest.approx(PX_PER_M, rel=1e-12)
    noisy = with_plate(noise=3.0).scaled_by()
    assert noisy.scale_px_per_m == pytest.approx(PX_PER_M, rel=0.01)
    assert "The scale, 37" in noisy.notes[-1]
    assert "from plate_top and plate_bottom" in noisy.notes[-1]


def test_a_nearer_plate_looks_larger_and_is_corrected():
    """Pinhole: size goes with 1/distance; camera 4 m from the lifter, plate 0.9 m nearer."""
    near = with_plate(PX_PER_M * 4 / (4 - 0.9))
    assert near.scaled_by().scale_px_per_m == pytest.approx(PX_PER_M * 4 / 3.1)
    corrected = near.scaled_by(nearer_m=0.9, distance_m=4)
    assert corrected.scale_px_per_m == pytest.approx(PX_PER_M)
    with pytest.raises(TracksError, match="distance is None; give distance_m"):
        near.scaled_by(nearer_m=0.9)


def test_scale_from_a_segment_seen_in_full_while_standing():
    scaled = with_plate().scaled_by("hip_r", "knee_r", stick_figure.THIGH)
    assert scaled.scale_px_per_m == pytest.approx(PX_PER_M, rel=1e-9)
    shank = picture("front", scale_px_per_m=None).scaled_by("knee_l", "ankle_l", stick_figure.SHANK)
    assert shank.scale_px_per_m == pytest.approx(PX_PER_M, rel=0.01)


def test_scales_that_cannot_be_are_refused():
    with pytest.raises(TracksError, match="0.126 m apart.*does not fit this lifter"):
        with_plate(PX_PER_M / 0.3).scaled_by()
    with pytest.raises(TracksError, match="length_m is 45; .* between 0.05 and 3 m"):
        with_plate().scaled_by("hip_r", "knee_r", 45)
    with pytest.raises(TracksError, match="in metres already"):
        with_plate().scaled_by().in_metres().scaled_by()
    with pytest.raises(TracksError, match='no point "plate_top"'):
        picture().scaled_by()
    jumping = with_plate()
    slipped = np.array(jumping.positions)
    slipped[::3, -1] += 60
    with pytest.raises(TracksError, match="the edge of a plate should not change its size"):
        replace(jumping, positions=slipped).scaled_by()
    apart = np.array(jumping.positions)
    apart[::2, -1], apart[1::2, -2] = np.nan, np.nan
    with pytest.raises(TracksError, match="never seen in the same frame"):
        replace(jumping, positions=apart).scaled_by()


# Frames


def test_dropped_frames_come_back_as_missing():
    whole = space(60)
    kept = np.ones(whole.times.size, dtype=bool)
    kept[[20, 21, 100]] = False
    tracks = replace(whole, times=whole.times[kept], positions=whole.positions[kept])
    assert tracks.rate == pytest.approx(60)
    even = tracks.evenly_timed()
    assert even.times == pytest.approx(whole.times)
    assert np.isnan(even.positions[~kept]).all()
    assert np.array_equal(even.positions[kept], whole.positions[kept])
    assert even.notes == ("3 of 246 frames were dropped; they count as missing.",)
    assert even.evenly_timed() is even
    assert np.abs(even.bridged().positions - whole.positions).max() < 0.002


def test_uneven_frames_are_moved_to_the_beat():
    whole = space(60)
    jitter = np.random.default_rng(6).uniform(-0.3, 0.3, whole.times.size) / 60
    times, positions = stick_figure.figure(60)
    jitter[[0, -1]] = 0
    moved = np.empty_like(positions)
    for point in range(len(NAMES)):
        for axis in range(3):
            moved[:, point, axis] = np.interp(times + jitter, times, positions[:, point, axis])
    moved[50, 3] = np.nan
    even = Tracks(times + jitter, moved, NAMES, "3d").evenly_timed()
    assert even.times == pytest.approx(times)
    assert np.nanmax(np.abs(even.positions - positions)) < 0.001
    assert 1 <= np.isnan(even.positions[:, 3, 0]).sum() <= 2
    assert "unevenly spaced" in even.notes[0]


def test_what_moves_evenly_still_does_on_the_beat():
    """Linear interpolation keeps a straight line, but for what counts as on the beat."""
    jitter = np.random.default_rng(7).uniform(-0.3, 0.3, 30) / 60
    jitter[[0, -1]] = 0, -0.3 / 60
    times = np.arange(30) / 60 + jitter
    even = on_the_beat(times, 3.0 * times[:, np.newaxis] - 1.0, 60.0)
    beats, values = even.times, even.values
    assert even.moved and even.missing == 0
    assert beats == pytest.approx(np.arange(30) / 60)
    assert values[:-1, 0] == pytest.approx(3.0 * beats[:-1] - 1.0, abs=3.0 * ON_TIME / 60)
    # Nothing is known after the last frame, which stands for the beat just behind it.
    assert values[[0, -1], 0] == pytest.approx(3.0 * times[[0, -1]] - 1.0)


def test_a_recording_with_most_frames_missing_is_refused():
    times = np.concatenate([TIMES, TIMES + 60])
    two = Tracks(times, np.concatenate([POSITIONS, POSITIONS]), NAMES, "3d")
    with pytest.raises(TracksError, match="only 246 frames of 1923 are there; cut the recording"):
        two.evenly_timed()


def test_gaps_up_to_a_tenth_of_a_second_are_bridged():
    whole = space(60)
    positions = np.array(whole.positions)
    hip, knee, toe = (NAMES.index(name) for name in ("hip_r", "knee_l", "toe_r"))
    positions[120:126, hip] = np.nan  # 0.1 s at the bottom
    positions[60:67, knee] = np.nan  # 0.117 s
    positions[:3, toe] = positions[-2:, toe] = np.nan
    bridged = replace(whole, positions=positions).bridged()
    assert np.abs(bridged["hip_r"] - whole["hip_r"]).max() < 0.004
    assert np.array_equal(np.isnan(bridged["knee_l"][:, 0]), np.isnan(positions[:, knee, 0]))
    assert np.isnan(bridged["toe_r"][[0, 2, -1]]).all()
    assert bridged.notes == (
        "Gaps up to 0.1 s, 1 in all, were filled by straight lines.",
        "Gaps longer than 0.1 s or at an end, 3 in all, stay missing.",
    )
    untouched = ~np.isnan(positions)
    assert np.array_equal(bridged.positions[untouched], positions[untouched])
    assert whole.bridged() is whole


def test_holding_tracks_loads_nothing_heavy():
    code = "import sys, squatlab.tracks; print(*sorted({'scipy', 'pandas'} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == ""
