"""Other people's names for our points; right and left put back."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from squatlab.review import measure
from squatlab.tracks import Tracks, TracksError, receive
from squatlab.tracks.naming import POINTS, hints, likely_name, named, suggestion
from squatlab.tracks.near import near_side
from squatlab.tracks.orientation import untangled
from squatlab.tracks.points import Argument
from tests.stick_figure import NAMES, PX_PER_M, picture, space

MIRROR = {"_r": "_l", "_l": "_r"}


@pytest.mark.parametrize(
    ("theirs", "ours"),
    [
        ("right_hip", "hip_r"),
        ("RHip", "hip_r"),
        ("rhip", "hip_r"),
        ("R.Hip", "hip_r"),
        ("hip_right", "hip_r"),
        ("Right Hip", "hip_r"),
        ("hip_r", "hip_r"),
        ("LBigToe", "toe_l"),
        ("left_big_toe", "toe_l"),
        ("LSmallToe", "small_toe_l"),
        ("MidHip", "pelvis"),
        ("Hip", "pelvis"),
        ("mid_hip", "pelvis"),
        ("C7", "c7"),
        ("BarEndL", "bar_end_l"),
        ("plate_top", "plate_top"),
        ("Nose", "nose"),
        ("l5", "l5"),
        ("left_ear", "ear_l"),
        ("Sacrum", "sacrum"),
        ("", ""),
        ("HipRight", "hip_r"),
        ("R_HJC", "hip_r"),
        ("RHJC", "hip_r"),
        ("l_kjc", "knee_l"),
        ("RightAnkleJointCentre", "ankle_r"),
        ("ASIS_R", "asis_r"),
    ],
)
def test_names_that_one_meets(theirs, ours):
    assert likely_name(theirs) == ours


def test_our_names_are_found_as_they_are():
    assert named(POINTS) == list(POINTS)


def test_of_two_labels_for_one_point_the_exact_one_is_it():
    assert named(["RHip", "hip_r", "x"]) == ["RHip", "hip_r", "x"]
    assert named(["RHip", "right_hip"]) == ["hip_r", "right_hip"]
    assert named(["RHip", "right_hip"], {"right_hip": "hip_r"}) == ["RHip", "hip_r"]


def test_hints_name_labels_that_exist_and_fit():
    labels = ["LMalleolus", "RKne", "knee right lateral", "Chair", "hip_l"]
    wanted = ["hip_r", "knee_r", "ankle_r", "ankle_l"]
    found = hints(labels, wanted)
    assert found == {"RKne": "knee_r", "LMalleolus": "ankle_l"}
    assert suggestion(labels, wanted) == ("perhaps ", Argument("points", (found,)))
    (_, example) = suggestion(["Chair"], wanted)
    assert str(example) == 'points={"your label": "hip_r"}'


def test_without_any_wanted_every_label_that_is_likely_ours_is_suggested():
    assert suggestion(["RHip", "Chair"]) == ("perhaps ", Argument("points", ({"RHip": "hip_r"},)))
    assert "Chair" not in str(suggestion(["Chair"])[1])


def test_without_a_hip_it_is_said_that_nothing_can_be_measured():
    tracks = picture("side")
    kept = [name for name in NAMES if not name.startswith("hip")]
    columns = [NAMES.index(name) for name in kept]
    for names in (kept, [name.replace("toe_r", "RTrochanter") for name in kept]):
        with pytest.raises(TracksError, match="no hip is among the points, so nothing can") as told:
            receive(tracks.times, tracks.positions[:, columns], names, view="side", units="px")
        assert ('"RTrochanter": "hip_r"' in str(told.value)) == ("RTrochanter" in names)


def test_from_the_side_one_ankle_stands_for_the_other():
    tracks = picture("side")
    kept = [NAMES.index(name) for name in ("hip_r", "knee_r", "ankle_l", "knee_l")]
    names = [NAMES[column] for column in kept]
    read = receive(tracks.times, tracks.positions[:, kept], names, view="side", units="px")
    assert read["knee_r"] == pytest.approx(tracks["knee_r"])
    with pytest.raises(TracksError, match="required points are missing: ankle_r"):
        receive(tracks.times, tracks.positions[:, kept], names, view="oblique", units="px")


def test_a_film_with_numbered_pictures_needs_its_rate(tmp_path):
    tracks = picture("side")
    path = tracks.write(tmp_path / "numbered.csv")
    path.with_suffix(".schema.json").unlink()
    lines = path.read_text().splitlines()
    numbered = [",".join([str(k), *line.split(",")[1:]]) for k, line in enumerate(lines[1:])]
    heading = lines[0].replace("time_s", "Frame").replace("hip_r_", "HipRight_")
    path.write_text("\n".join([heading, *numbered]))
    with pytest.raises(TracksError, match="the frames are numbered, .*rate=60"):
        Tracks.read(path, view="side", units="px")
    read = Tracks.read(path, view="side", units="px", rate=tracks.rate)
    assert read.times == pytest.approx(tracks.times)
    assert read["hip_r"] == pytest.approx(tracks["hip_r"], abs=1e-6)


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


def _without(tracks, side, frames):
    """Return tracks in which a leg's hip and knee are not seen in some frames."""
    positions = tracks.positions.copy()
    positions[np.ix_(frames, [NAMES.index(f"hip_{side}"), NAMES.index(f"knee_{side}")])] = np.nan
    return replace(tracks, positions=positions)


def _moved(tracks, side, joints, away):
    """Return tracks with some joints of a leg moved by an offset (time, 2) or (2,), px."""
    positions = tracks.positions.copy()
    positions[:, [NAMES.index(f"{joint}_{side}") for joint in joints]] += np.expand_dims(away, -2)
    return replace(tracks, positions=positions)


@pytest.mark.parametrize(("side", "other"), [("r", "l"), ("l", "r")])
def test_the_near_leg_is_the_one_seen_better_then_steadier_then_lower(side, other):
    """Each rule alone, by mirror symmetry for either leg; without any the right is taken."""
    tracks = picture("side")  # both legs alike
    count = tracks.times.size
    assert near_side(tracks) == "r"
    # Hip and knee lost in 15 % of the frames: 0.30 together, more than 0.2; in 5 %, 0.10, no more.
    for share, near in ((0.15, other), (0.05, "r")):
        lost = np.flatnonzero(np.arange(count) % 100 < 100 * share)
        assert near_side(_without(tracks, side, lost)) == near
    # Lost at the bottom alone it counts twice: a tenth of the frames is half of the low ones.
    hips = tracks["hip_r"][:, 1]
    low = np.flatnonzero(hips <= 0.5 * (hips.min() + hips.max()))
    assert near_side(_without(tracks, side, low[: count // 10])) == other
    # A knee that goes up and down changes both lengths: by 15 % of the thigh, or by 2 %.
    sway = np.zeros((count, 2))
    sway[:, 1] = 0.42 * PX_PER_M * np.sin(np.arange(count))
    assert near_side(_moved(tracks, side, ["knee"], 0.15 * sway)) == other
    assert near_side(_moved(tracks, side, ["knee"], 0.02 * sway)) == "r"
    feet = ["ankle", "heel", "toe"]
    assert near_side(_moved(tracks, side, feet, (0.0, -4.0))) == side


def test_a_front_view_and_a_hip_alone_take_the_right():
    for view in ("front", "oblique"):
        tracks = picture(view)
        assert near_side(_without(tracks, "r", np.arange(tracks.times.size))) == "r"
    side = picture("side")
    hips = [NAMES.index("hip_r"), NAMES.index("hip_l")]
    bare = Tracks(side.times, side.positions[:, hips], ("hip_r", "hip_l"), "side", "px", PX_PER_M)
    assert near_side(bare) == "r"


def test_a_hip_without_a_side_is_the_middle_of_two_only_where_there_are_two_or_it_is_said_so():
    assert named(["hip", "knee_r"]) == ["hip", "knee_r"]
    assert named(["hip", "knee_r"], {"hip": "pelvis"}) == ["pelvis", "knee_r"]
    assert named(["Hip", "hip_l"]) == ["pelvis", "hip_l"]
    assert named(["Hip", "knee_r"], {"hip": "hip_r"}) == ["hip_r", "knee_r"]
