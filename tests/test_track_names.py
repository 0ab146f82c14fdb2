"""Other people's names for our points; right and left put back."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from squatlab.review import measure
from squatlab.tracks import Tracks, receive
from squatlab.tracks.naming import POINTS, likely_name, named
from squatlab.tracks.orientation import untangled
from tests.stick_figure import NAMES, picture, space

MIRROR = {"_r": "_l", "_l": "_r"}


@pytest.mark.parametrize(
    ("theirs", "ours"),
    [
        ("right_hip", "hip_r"), ("RHip", "hip_r"), ("rhip", "hip_r"), ("R.Hip", "hip_r"),
        ("hip_right", "hip_r"), ("Right Hip", "hip_r"), ("hip_r", "hip_r"),
        ("LBigToe", "toe_l"), ("left_big_toe", "toe_l"), ("LSmallToe", "small_toe_l"),
        ("MidHip", "pelvis"), ("Hip", "pelvis"), ("mid_hip", "pelvis"), ("C7", "c7"),
        ("BarEndL", "bar_end_l"), ("plate_top", "plate_top"), ("Nose", "nose"), ("l5", "l5"),
        ("left_ear", "ear_l"), ("Sacrum", "sacrum"), ("", ""),
    ],
)  # fmt: skip
def test_names_that_one_meets(theirs, ours):
    assert likely_name(theirs) == ours


def test_our_names_are_found_as_they_are():
    assert named(POINTS) == list(POINTS)


def test_of_two_labels_for_one_point_the_exact_one_is_it():
    assert named(["RHip", "hip_r", "x"]) == ["RHip", "hip_r", "x"]
    assert named(["RHip", "right_hip"]) == ["hip_r", "right_hip"]
    assert named(["RHip", "right_hip"], {"right_hip": "hip_r"}) == ["RHip", "hip_r"]


def exchanged(tracks: Tracks, frames: np.ndarray) -> Tracks:
    """Return tracks with right and left exchanged in some frames."""
    order = [tracks.names.index(name[:-2] + MIRROR[name[-2:]]) for name in tracks.names]
    positions = tracks.positions.copy()
    positions[frames] = positions[frames][:, order]
    return replace(tracks, positions=positions)


@pytest.mark.parametrize("tracks", [picture("front"), space()], ids=["front", "3d"])
def test_exchanged_frames_are_put_back(tracks):
    frames = np.array([0, 50, 51, 52, 130])
    mended = untangled(exchanged(tracks, frames))
    assert np.array_equal(mended.positions, tracks.positions)
    assert mended.notes == ("Right and left were exchanged in 5 frames; they were put back.",)
    assert untangled(tracks) is tracks


def test_knees_that_touch_are_not_exchanged():
    tracks = picture("front")
    positions = tracks.positions.copy()
    knees = [NAMES.index("knee_r"), NAMES.index("knee_l")]
    middle = positions[:, knees].mean(axis=1, keepdims=True)
    positions[100:130, knees] = (middle + 0.2 * (middle - positions[:, knees]))[100:130]
    crossed = replace(tracks, positions=positions)
    assert untangled(crossed) is crossed
    side = exchanged(picture("side"), np.array([3]))
    assert untangled(side) is side, "from the side there is no order"


def test_filmed_from_the_left_the_left_leg_is_the_near_one():
    """The same squat from either side, both legs seen, gives the same depth."""
    right = picture("side", scale_px_per_m=None)
    near = np.array([name.endswith("_r") for name in NAMES])
    flat = right.positions - right["ankle_r"][:1]
    flat = flat * np.where(near, 1.06, 0.95)[:, np.newaxis]  # a near leg looks larger
    told = []
    for names, turn in ((NAMES, 1), ([n[:-2] + MIRROR[n[-2:]] for n in NAMES], -1)):
        tracks = receive(right.times, flat * (turn, 1), names, view="side", units="px")
        told.append(measure(tracks)["short_depth"].value)
        assert ("right is called left" in " ".join(tracks.notes)) == (turn < 0)
    assert told[1] == pytest.approx(told[0], abs=0.01)
