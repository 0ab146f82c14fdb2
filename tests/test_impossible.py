"""What no body does is refused: the file, or the point in the frames in question."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from squatlab.tracks import TracksError, recorded
from tests.benchmarks.filming import GYM, filmed
from tests.impossible import KINDS, believed, impossible, in_our_axes, moments_of, received, spoilt
from tests.review.squats import squat
from tests.stick_figure import picture

SQUATS = (
    squat(),
    squat(("knee_valgus", 12.0)),
    squat(("heel_lift", 3.0)),
    squat(("lumbar_rounding", 20.0)),
)
NAMING = {
    "point_flies_off": "",
    "knees_nailed": "knee_r stays on one spot",
    "knees_bend_backward": "knee_",
    "stretched_16_to_9": "the picture seems stretched",
    "hip_and_shoulder_exchanged": "hip and knee are",
    "walks_three_metres": "ankle_r moves",
    "shaken": "from every frame to the next",
    "giant": "long",
}
"""What the words must name, for some kinds, in a recording from the side."""


@pytest.fixture(scope="module")
def clips():
    """Return side, front and space recordings of some squats as from a gym, in metres."""
    rng, clips = np.random.default_rng(11), []
    for rep in SQUATS:
        clips += [in_our_axes(one) for one in filmed(rep, GYM, rng)] + [rep.tracks()]
    return [(clip, moments_of(clip)) for clip in clips]


def test_no_impossible_recording_is_believed(clips):
    recordings = list(impossible(clips, seed=12))
    assert len(KINDS) >= 20 and len(recordings) >= 200
    assert Counter(filter(None, map(believed, recordings))) == {}


def test_without_the_checks_many_would_be(clips, monkeypatch):
    monkeypatch.setattr(recorded, "possible", lambda tracks: tracks)
    recordings = list(impossible(clips[:3], seed=12))
    assert sum(bool(believed(one)) for one in recordings) > 0.4 * len(recordings)


def test_clips_as_from_a_gym_are_received(clips):
    for clip, _ in clips:
        assert not any("not seen there" in note for note in received(clip).notes)


@pytest.mark.parametrize("kind", NAMING)
def test_the_words_name_what_is_wrong(clips, kind):
    clip, moments = clips[0]
    recording = spoilt(clip, kind, moments, np.random.default_rng(2))
    try:
        words = " ".join(received(recording.tracks).notes)
    except TracksError as error:
        words = str(error)
    assert NAMING[kind] in words
    assert recording.point in words


def test_how_far_a_picture_is_stretched_is_told():
    """Segments in the plane of a picture of 16 to 9 keep their lengths by 9/16."""
    tracks = picture("side", scale_px_per_m=None)
    stretched = tracks.positions * (16 / 9, 1.0)
    with pytest.raises(TracksError) as told:
        recorded.receive(tracks.times, stretched, tracks.names, view="side", units="px")
    (factor,) = re.findall(r"x must be (\d\.\d+) times", str(told.value))
    assert float(factor) == pytest.approx(9 / 16, abs=0.005)  # two decimals


@pytest.mark.parametrize(("below_m", "refused"), [(0.0, False), (0.5, True)])
def test_a_head_below_the_neck_is_refused(clips, below_m, refused):
    """Standing, nobody's head is half a metre below the neck."""
    space = clips[2][0]
    assert space.view == "3d"
    positions = space.positions.copy()
    positions[:, space.names.index("head"), 1] = space["c7"][:, 1] - below_m
    try:
        received(replace(space, positions=positions))
        words = ""
    except TracksError as error:
        words = str(error)
    assert ("the head is" in words) == refused


def test_frames_of_a_point_that_flies_off_are_named_and_not_seen(clips):
    clip, moments = clips[0]
    positions = clip.positions.copy()
    frames = slice(moments.bottom, moments.bottom + 6)
    positions[frames, clip.names.index("ankle_r"), 0] += 2.0
    read = recorded.receive(clip.times, positions, clip.names, view="side", units="m")
    (note,) = [note for note in read.notes if note.startswith("ankle_r")]
    assert f"frames {frames.start + 1}–{frames.stop}" in note and "2 m" in note
    assert np.isnan(read["ankle_r"][frames]).all()


@pytest.mark.parametrize("rate", [120, 240, 1000, 2000])
def test_a_squat_in_a_blink_is_refused_in_words(rate):
    """Thirty pictures of a whole squat, said to be of a fast camera."""
    tracks = picture("side", scale_px_per_m=None)
    positions = tracks.positions[:: tracks.times.size // 30]
    times = np.arange(len(positions)) / rate
    with pytest.raises(TracksError, match="the hips jump at .* are frames missing"):
        recorded.receive(times, positions, tracks.names, view="side", units="px")
