"""Recorded positions in open formats: CSV, motion capture (C3D), key points (COCO JSON)."""

from __future__ import annotations

import json
import os
import re
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from squatlab.adapters import c3d_points, contents, format_of, read
from squatlab.adapters.c3d import read_c3d
from squatlab.adapters.key_points import KEYPOINTS, ORDERS, read_coco
from squatlab.adapters.registry import FORMATS
from squatlab.signals import split_repetitions
from squatlab.tracks import Tracks, TracksError
from tests.stick_figure import NAMES, picture, space

DEGREE, SECOND = 1.0, 1.0

JUMP = {"LHJC": "hip_l", "RHJC": "hip_r", "RKJC": "knee_r", "RAJC": "ankle_r"}
"""Which labels of the file `jump` are joint centres, and of which joint."""


def flexion_deg(tracks):
    """Return how far the right knee is bent from straight, from three points."""
    thigh = tracks["hip_r"] - tracks["knee_r"]
    shank = tracks["ankle_r"] - tracks["knee_r"]
    cosine = (thigh * shank).sum(axis=1)
    cosine /= np.linalg.norm(thigh, axis=1) * np.linalg.norm(shank, axis=1)
    return 180 - np.degrees(np.arccos(cosine))


def test_knee_angle_agrees_with_the_laboratory(jump):
    """The file's own modelled knee angle (USERMO8, radians) is deepest 103.36° at 4.010 s."""
    import ezc3d

    content = ezc3d.c3d(jump)
    label = content["parameters"]["POINT"]["LABELS"]["value"].index("USERMO8")
    theirs = np.degrees(content["data"]["points"][0, label])
    tracks = read_c3d(jump, JUMP)
    ours = flexion_deg(tracks)
    assert theirs.max() == pytest.approx(103.36, abs=0.01)
    assert ours.max() == pytest.approx(103.36, abs=1 * DEGREE)
    assert tracks.times[ours.argmax()] == pytest.approx(4.010, abs=0.015 * SECOND)
    assert np.corrcoef(ours, theirs)[0, 1] > 0.999


def test_the_dip_of_the_jump_is_found(jump):
    tracks = read_c3d(jump, JUMP)
    dip = split_repetitions(tracks["hip_r"][:, 1], tracks.times)[0]
    assert tracks.times[dip.bottom] == pytest.approx(4.010, abs=0.025 * SECOND)
    assert 3.4 < tracks.times[dip.start] < 3.8
    assert 4.1 < tracks.times[dip.end] < 4.4, "the feet leave the floor"


def test_laboratory_axes_units_and_rate(jump):
    tracks = read_c3d(jump, JUMP)
    assert (tracks.view, tracks.units, tracks.rate) == ("3d", "m", 200)
    assert tracks.names == ("hip_l", "hip_r", "knee_r", "ankle_r")
    assert tracks.notes == (
        "4 of 42 points of the file were taken.",
        "The positions were in mm and were converted to m.",
        "The axes were x right, y forward, z up; they were turned to x forward, y up, z right.",
    )
    assert tracks["hip_r"][0, 1] == pytest.approx(0.944, abs=0.002)
    assert tracks["hip_r"][0, 2] > tracks["hip_l"][0, 2]
    assert tracks["knee_r"][802, 0] > tracks["hip_r"][802, 0] + 0.2, "a bent knee is in front"


def test_more_points_can_be_named_and_missing_ones_stay_missing(jump):
    named = JUMP | {"Right_TalonInf": "heel_r", "Right_Meta": "toe_r", "*22": "bar"}
    tracks = read_c3d(jump, named)
    assert tracks["toe_r"][0, 0] > tracks["heel_r"][0, 0] + 0.2
    assert np.isnan(tracks["bar"][:, 0]).sum() > 1500
    assert any("stay missing" in note for note in tracks.notes)
    declared = read_c3d(jump, named, axes="x right, y forward, z up", bridge_s=0)
    assert declared["hip_r"] == pytest.approx(tracks["hip_r"])
    with pytest.raises(TracksError, match="no label Right_Tail; did you mean .* The labels: "):
        read_c3d(jump, JUMP | {"Right_Tail": "heel_r"})


@pytest.mark.parametrize("file", ["*_CMJ_1plate.c3d", "*_COP.c3d"])
def test_files_of_force_plates_alone_hold_no_points(jump, file):
    (path,) = Path(jump).parent.glob(file)
    with pytest.raises(TracksError, match="the file holds no points"):
        read_c3d(path)


def written_c3d(path, labels, positions, rate=60.0, units="mm"):
    """Write positions (time, point, 3) as a C3D file by ezc3d."""
    ezc3d = pytest.importorskip("ezc3d", reason="ezc3d is not installed")
    content = ezc3d.c3d()
    point = content["parameters"]["POINT"]
    point["LABELS"]["value"], point["UNITS"]["value"] = list(labels), [units]
    point["RATE"]["value"] = [rate]
    content["data"]["points"] = np.concatenate(
        [positions.transpose(2, 1, 0), np.ones((1, positions.shape[1], positions.shape[0]))]
    )
    content.write(str(path))
    return path


@pytest.mark.parametrize(("units", "size"), [("mm", 1000.0), ("cm", 100.0), ("m", 1.0)])
def test_units_come_from_the_file(tmp_path, units, size):
    tracks = space(60)
    path = written_c3d(tmp_path / "lift.c3d", NAMES, tracks.positions * size, units=units)
    read = read_c3d(path)
    assert read.positions == pytest.approx(tracks.positions, abs=1e-6)
    assert read.times == pytest.approx(tracks.times)
    assert read.source == "lift.c3d"


def test_our_names_are_known_with_the_subject_before_them_and_in_capitals(tmp_path):
    labels = [f"Lifter:{name.upper()}" for name in NAMES]
    read = read_c3d(written_c3d(tmp_path / "a.c3d", labels, space().positions * 1000))
    assert read.names == NAMES


def test_axes_are_found_from_hips_or_feet(tmp_path):
    """Laboratory axes x left, y back, z up: all points, only feet, only hips, neither."""
    tracks = space()
    theirs = tracks.positions[..., [2, 0, 1]] * (-1000, -1000, 1000)
    sets = {
        "all": NAMES,
        "feet": [n for n in NAMES if n.endswith("_r")],
        "hips": [n for n in NAMES if n[:3] not in ("toe", "hee")],
    }
    for names in sets.values():
        columns = [NAMES.index(name) for name in names]
        read = read_c3d(written_c3d(tmp_path / "a.c3d", names, theirs[:, columns]))
        assert read.positions == pytest.approx(tracks.positions[:, columns], abs=1e-6)
        assert "The axes were x left, y back, z up" in read.notes[2]
    leg = ["hip_r", "knee_r", "ankle_r"]
    columns = [NAMES.index(name) for name in leg]
    # A squat shows by its knees where forward is; somebody who only stands does not.
    alone = written_c3d(tmp_path / "b.c3d", leg, theirs[:, columns])
    assert read_c3d(alone)["knee_r"] == pytest.approx(tracks["knee_r"], abs=1e-6)
    standing = written_c3d(tmp_path / "c.c3d", leg, theirs[:12, columns])
    with pytest.raises(
        TracksError, match="without both hips or a heel and toe. Say where the axes point, .*axes="
    ):
        read_c3d(standing)
    assert read_c3d(standing, axes="x left, y back, z up")["knee_r"] == pytest.approx(
        tracks["knee_r"][:12], abs=1e-6
    )


def test_a_joint_is_the_middle_of_two_markers(tmp_path):
    """The knee's centre lies midway between markers at its sides."""
    tracks = space()
    knee = NAMES.index("knee_r")
    aside = np.array([0.0, 0.0, 0.05])
    markers = [tracks["knee_r"] + aside, tracks["knee_r"] - aside]
    names = [*(name for name in NAMES if name != "knee_r"), "KneeOut", "KneeIn"]
    positions = np.concatenate(
        [np.delete(tracks.positions, knee, axis=1), np.stack(markers, axis=1)], axis=1
    )
    path = written_c3d(tmp_path / "m.c3d", names, 1000 * positions)
    read = read_c3d(path, {"KneeOut+KneeIn": "knee_r"})
    assert read["knee_r"] == pytest.approx(tracks["knee_r"], abs=1e-6)
    with pytest.raises(TracksError, match=r"no label KneeUp; did you mean .Knee(Out|In).*KneeOut"):
        read_c3d(path, {"KneeOut+KneeUp": "knee_r"})
    csv = Tracks(tracks.times, positions, names, "3d").write(tmp_path / "m.csv")
    read = Tracks.read(csv, points={"kneein + kneeout": "knee_r"})
    assert read["knee_r"] == pytest.approx(tracks["knee_r"], abs=1e-6)


def test_hips_come_from_markers_on_the_pelvis(tmp_path):
    """Harrington et al. 2007, J Biomech 40:595–602, worked by hand for 240 mm by 150 mm.

    Back 0.24 × 150 + 9.9 = 45.9, down 0.30 × 240 + 10.9 = 82.9, aside 0.33 × 240 + 7.3 = 86.5 mm.
    """
    tracks = space()
    kept = [name for name in NAMES if not name.startswith("hip")]
    middle = 0.5 * (tracks["hip_r"] + tracks["hip_l"])
    offsets = {
        "asis_r": (0.0, 0.0, 0.12), "asis_l": (0.0, 0.0, -0.12),
        "psis_r": (-0.15, 0.0, 0.04), "psis_l": (-0.15, 0.0, -0.04),
    }  # fmt: skip
    markers = [middle + np.array(offset) for offset in offsets.values()]
    positions = np.concatenate(
        [np.stack([tracks[name] for name in kept], axis=1), np.stack(markers, axis=1)], axis=1
    )
    expected = middle + np.array([-0.0459, -0.0829, 0.0865])
    for axes, turn in ((None, np.eye(3)), ("x left, y back, z up", LABORATORY_TURN)):
        path = written_c3d(tmp_path / "p.c3d", [*kept, *offsets], 1000 * positions @ turn)
        read = read_c3d(path, axes=axes)
        assert read["hip_r"] == pytest.approx(expected, abs=1e-6)
        assert read["hip_l"] == pytest.approx(expected * (1, 1, -1), abs=1e-6)
        assert any("may be 1.2 cm off" in note for note in read.notes)


LABORATORY_TURN = np.array([[0.0, -1, 0], [0, 0, 1], [-1, 0, 0]])
"""From our axes to x left, y back, z up."""


def test_c3d_files_that_are_wrong(tmp_path, monkeypatch):
    strange = written_c3d(tmp_path / "names.c3d", ["a", "b"], space().positions[:, :2])
    with pytest.raises(
        TracksError,
        match='no labels mean hip, knee .*points={"your label": "hip_r"}.*: a, b',
    ):
        read_c3d(strange)
    inches = written_c3d(tmp_path / "inch.c3d", NAMES, space().positions, units="in")
    with pytest.raises(TracksError, match='inch.c3d: the units are "in"; they must be px'):
        read_c3d(inches)
    (tmp_path / "text.c3d").write_text("no motion in here\n" * 200)
    with pytest.raises(TracksError, match="text.c3d: this is no readable C3D file"):
        read_c3d(tmp_path / "text.c3d")
    whole = inches.read_bytes()
    (tmp_path / "cut.c3d").write_bytes(whole[:-5000])
    with pytest.raises(TracksError, match="cut.c3d: it is cut off: .* promises 246 frames and 2"):
        read_c3d(tmp_path / "cut.c3d")
    (tmp_path / "cut.c3d").write_bytes(whole[:600])
    with pytest.raises(TracksError, match="cut.c3d: it is cut off: .* needed for its parameters"):
        read_c3d(tmp_path / "cut.c3d")
    os.mkfifo(tmp_path / "pipe.c3d")
    with pytest.raises(TracksError, match="is a pipe or a device"):
        read_c3d(tmp_path / "pipe.c3d")
    with pytest.raises(TracksError, match="there is no such file in"):
        read_c3d(tmp_path / "absent.c3d")
    monkeypatch.setitem(sys.modules, "ezc3d", None)
    with pytest.raises(
        TracksError, match=f'run "{re.escape(sys.executable)}" -m pip install ezc3d; elsewhere'
    ):
        read_c3d(strange)


@pytest.mark.parametrize(
    ("does", "words"),
    [
        ("os.kill(os.getpid(), 11)", "the reader broke down on it"),
        ("os._exit(1)", "the reader broke down on it"),
        ("time.sleep(600)", "it was not read within 1 s"),
        ("bytearray(4_000_000_000)", r"this is no readable C3D file \(MemoryError\)"),
    ],
)
def test_a_reader_that_breaks_down_takes_nobody_along(tmp_path, monkeypatch, does, words):
    path = written_c3d(tmp_path / "lift.c3d", NAMES, space().positions)
    # What the reading process imports as ezc3d: something that misbehaves.
    (tmp_path / "ezc3d.py").write_text(
        f"import os, time\nclass c3d:\n def __init__(self, path):\n  print('on it')\n  {does}\n"
    )
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    if "sleep" in does:
        monkeypatch.setattr(c3d_points, "SECONDS", (1.0, 0.0))
    with pytest.raises(TracksError, match=f"lift.c3d: {words}"):
        read_c3d(path)


def test_unusual_labels_are_asked_for_and_said(tmp_path):
    theirs = {
        "Right Hip": "hip_r",
        "R_Knee": "knee_r",
        "LatMal": "ankle_r",
        "Heel": "heel_r",
        "toe_r": "toe_r",
        "C7": "c7",
    }
    tracks = space()
    columns = [NAMES.index(name if name in NAMES else "shoulder_r") for name in theirs.values()]
    path = written_c3d(tmp_path / "lab.c3d", theirs, 1000 * tracks.positions[:, columns])
    held = contents(path)
    assert "C3D, 246 frames at 60 Hz, mm" in repr(held)
    assert {label: means for label, (_, means) in held.labels.items()} == {
        "Right Hip": "perhaps hip_r",
        "R_Knee": "perhaps knee_r",
        "LatMal": "–",
        "Heel": "–",
        "toe_r": "toe_r",
        "C7": "c7",
    }
    with pytest.raises(TracksError, match=r'perhaps points={"Right Hip": "hip_r", "R_Knee": "kn'):
        read_c3d(path)
    named = {label: name for label, name in theirs.items() if label not in ("toe_r", "C7")}
    read = read_c3d(path, {label.upper(): name for label, name in named.items()})
    assert set(read.names) == {*theirs.values()}
    for wrong, words in (
        ({"LatMall": "ankle_r"}, r'no label LatMall; did you mean "LatMal"\? The labels: Ri'),
        ({"zzz": "ankle_r"}, r"no label zzz\. The labels: Right Hip"),
        ({"LatMal": "ankel_r"}, "LatMal is said to be ankel_r, which is none of ours; did you mea"),
        ({"LatMal": "ankle_r", "Heel": "ankle_r"}, "Heel is said to be ankle_r, which is given tw"),
    ):
        with pytest.raises(TracksError, match=f"lab.c3d: .*{words}"):
            read_c3d(path, wrong)


def test_a_csv_file_is_listed_and_its_columns_named(tmp_path):
    tracks = space()
    path = tracks.write(tmp_path / "lift.csv")
    path.write_text(path.read_text().replace("hip_r", "Seat").replace("knee_r", "RKnee"))
    path.with_suffix(".schema.json").unlink()
    listed = repr(contents(path))
    assert "lift.csv: CSV, 246 frames at 60 Hz, unit not told, view not told" in listed
    assert "  RKnee       100 %  knee_r\n" in listed and "  Seat        100 %  –\n" in listed
    assert Tracks.read(path, points={"Seat": "hip_r"})["hip_r"] == pytest.approx(
        tracks["hip_r"], abs=1e-6
    )


# Key points


def people(tracks, names=KEYPOINTS, score=0.9, start=0):
    """Return a list of results as pose estimators write them, y down."""
    ours = {"left": "_l", "right": "_r"}
    results = []
    for number, positions in enumerate(tracks.positions):
        points = []
        for name in names:
            side, _, joint = name.partition("_")
            own = f"{'toe' if joint == 'big_toe' else joint}{ours.get(side, '')}"
            known = own in NAMES
            x, y = positions[NAMES.index(own if known else "shoulder_r")] + (not known) * 50
            points += [float(x), 1080 - float(y), score]
        results.append(
            {"image_id": start + number, "category_id": 1, "keypoints": points, "score": score}
        )
    return results


def saved(path, data):
    path.write_text(json.dumps(data), encoding="utf-8")
    return path


SIDE = picture("side", 30, scale_px_per_m=None)


def test_seventeen_points_have_no_feet(tmp_path):
    read = read_coco(saved(tmp_path / "pose.json", people(SIDE)), "side", 30)
    assert len(read.names) == 17
    assert {"hip_r", "knee_l", "ankle_r", "shoulder_l", "nose", "ear_l"} <= set(read.names)
    assert not {"heel_r", "toe_r", "heel_l", "toe_l", "head", "c7"} & set(read.names)
    assert (read.view, read.units, read.scale_px_per_m, read.rate) == ("side", "px", None, 30)
    for name in ("hip_r", "knee_l", "ankle_r"):
        offset = read[name] - SIDE[name]
        assert offset == pytest.approx(np.tile(offset[0], (len(offset), 1)), abs=1e-9)
        assert offset[0] == pytest.approx([0, -1080])
    assert "y pointed down" in " ".join(read.notes)


def test_points_go_by_name_not_by_place(tmp_path):
    names = [*KEYPOINTS[::-1], "left_big_toe", "right_big_toe", "left_heel", "right_heel"]
    whole = {
        "annotations": people(SIDE, names),
        "categories": [{"id": 1, "name": "person", "keypoints": names}],
    }
    read = read_coco(saved(tmp_path / "pose.json", whole), "side", 30)
    for name in NAMES:
        assert read[name] - read["ankle_r"] == pytest.approx(SIDE[name] - SIDE["ankle_r"])
    bare = saved(tmp_path / "bare.json", whole["annotations"])
    with pytest.raises(TracksError, match="has 21 key points but 17 names are known; name"):
        read_coco(bare, "side", 30)
    assert read_coco(bare, "side", 30, keypoints=names)["toe_r"] == pytest.approx(read["toe_r"])


def test_uncertain_points_are_not_seen(tmp_path):
    results = people(SIDE)
    hip = 3 * KEYPOINTS.index("right_hip")
    for result in results[40:60]:
        result["keypoints"][hip + 2] = 0.2
    read = read_coco(saved(tmp_path / "pose.json", results), "side", 30)
    assert np.isnan(read["hip_r"][40:60]).all()
    assert not np.isnan(read["hip_r"][[39, 60]]).any()
    assert "Key points with a score below 0.3 count as not seen." in read.notes
    surer = read_coco(tmp_path / "pose.json", "side", 30, least_score=0.1)
    assert not np.isnan(surer["hip_r"]).any()
    with pytest.raises(TracksError, match="no key point has a score of 0.95 or more"):
        read_coco(tmp_path / "pose.json", "side", 30, least_score=0.95)


def test_pictures_without_a_person_are_gaps_and_names_of_files_are_numbers(tmp_path):
    results = [r for r in people(SIDE, start=7) if not 30 <= r["image_id"] < 32]
    for result in results:
        result["image_id"] = f"lift2/frame_{result['image_id']:05d}.jpg"
    read = read_coco(saved(tmp_path / "pose.json", results[::-1]), "side", 30)
    assert read.times.size == SIDE.times.size
    assert not np.isnan(read["hip_r"]).any(), "two frames are bridged"
    assert np.abs((read["hip_r"] - SIDE["hip_r"])[:, 0]).max() < 2
    assert "2 of 123 frames were dropped; they count as missing." in read.notes


def test_the_lifter_is_followed_among_spotters(tmp_path):
    still = np.repeat(0.9 * SIDE.positions[:1] + (300, 50), SIDE.times.size, axis=0)
    spotters = people(replace(SIDE, positions=still), score=0.99)
    crowd = []
    for number, pair in enumerate(zip(people(SIDE), spotters, strict=True)):
        crowd += pair[:: 1 if number % 2 else -1]
    read = read_coco(saved(tmp_path / "pose.json", crowd), "side", 30)
    alone = read_coco(saved(tmp_path / "alone.json", people(SIDE)), "side", 30)
    assert read.positions == pytest.approx(alone.positions)
    assert "123 pictures show several people; the largest at first was followed." in read.notes


def test_another_person_can_be_followed_and_must_be_there(tmp_path):
    still = np.repeat(0.9 * SIDE.positions[:1] + (300, 50), SIDE.times.size, axis=0)
    crowd = people(SIDE) + people(replace(SIDE, positions=still))
    path = saved(tmp_path / "pose.json", crowd)
    spotter = read_coco(path, "side", 30, person=2)
    assert np.ptp(spotter["hip_r"], axis=0) == pytest.approx([0, 0], abs=1e-9)
    assert "number 2 by size at first was followed" in " ".join(spotter.notes)
    with pytest.raises(TracksError, match=r"person is 3; a picture shows 1 \(the largest\) to 2 p"):
        read_coco(path, "side", 30, person=3)


def test_where_the_lifter_is_lost_nobody_else_is_taken(tmp_path):
    """A spotter at arm's length is seen all the time, the lifter not in every frame."""
    lifter = people(SIDE)
    beside = people(replace(SIDE, positions=np.repeat(SIDE.positions[:1] + (350, 0), 123, axis=0)))
    crowd = [*lifter[:60], *lifter[63:], *beside[20:]]
    read = read_coco(saved(tmp_path / "pose.json", crowd), "side", 30)
    alone = read_coco(saved(tmp_path / "alone.json", [*lifter[:60], *lifter[63:]]), "side", 30)
    assert read.positions == pytest.approx(alone.positions)
    assert "3 of 123 frames were dropped" in " ".join(read.notes)


def test_a_lifter_of_whom_little_is_seen_at_first_is_followed(tmp_path):
    """Two points in the first pictures say nothing of how large the lifter is."""
    film = people(SIDE)
    for number, person in enumerate(film[:4]):
        for place in range(1 + number % 2, len(KEYPOINTS)):
            person["keypoints"][3 * place + 2] = 0.0
    read = read_coco(saved(tmp_path / "pose.json", film), "side", 30)
    assert read.times.size == SIDE.times.size
    assert read["hip_r"][4:, 0] == pytest.approx(SIDE["hip_r"][4:, 0])


@pytest.mark.parametrize("count", [23, 133])
def test_the_usual_orders_have_feet(tmp_path, count):
    names = [*ORDERS[count], *(f"face_{n}" for n in range(110))][:count]
    path = saved(tmp_path / "pose.json", people(SIDE, names))
    read = read_coco(path, "side", 30)
    assert (read.view, read.rate, read.times.size) == ("side", 30, SIDE.times.size)
    assert sum(name in read for name in NAMES) == 12
    for name in NAMES:
        assert read[name] - read["ankle_r"] == pytest.approx(
            SIDE[name] - SIDE["ankle_r"], abs=1e-9
        ), name
    assert list(contents(path).labels) == list(ORDERS[count])


def test_orders_are_those_of_the_data_sets():
    """By number: 17 of Lin 2014, feet of Jin 2020."""
    for order, known in (
        (ORDERS[17], {5: "left_shoulder", 11: "left_hip", 12: "right_hip", 16: "right_ankle"}),
        (ORDERS[23], {17: "left_big_toe", 19: "left_heel", 20: "right_big_toe", 22: "right_heel"}),
    ):
        assert {number: order[number] for number in known} == known
    assert [len(order) for order in ORDERS.values()] == [17, 23, 23]


def test_files_name_points_as_they_like(tmp_path):
    names = [name.title().replace("_", "") for name in KEYPOINTS]  # RightHip
    names[names.index("RightHip")] = "Crotch"
    whole = {"annotations": people(SIDE), "categories": [{"keypoints": names}]}
    path = saved(tmp_path / "pose.json", whole)
    read = read_coco(path, "side", 30, points={"crotch": "hip_r"})
    assert read["hip_r"] == pytest.approx(
        read_coco(saved(tmp_path / "usual.json", people(SIDE)), "side", 30)["hip_r"]
    )
    assert "hip_r" not in read_coco(path, "side", 30)
    with pytest.raises(TracksError, match='no label Crouch; did you mean "Crotch"'):
        read_coco(path, "side", 30, points={"Crouch": "hip_r"})


def test_a_view_filmed_from_the_left_is_mirrored(tmp_path):
    mirrored = replace(SIDE, positions=SIDE.positions * (-1, 1))
    read = read_coco(saved(tmp_path / "pose.json", people(mirrored)), "side", 30)
    assert read["knee_r"] - read["ankle_r"] == pytest.approx(SIDE["knee_r"] - SIDE["ankle_r"])
    assert any("faced left" in note for note in read.notes)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        ([], "the people have no key points"),
        ({}, 'no list of people with "image_id" and "keypoints"'),
        (3, "no list of people"),
        ([{"image_id": 1}], "no list of people"),
        ([{"image_id": "first", "keypoints": [1, 2, 3] * 17}], "'first' holds no number"),
        ([{"image_id": 1, "keypoints": [1, 2, 3, 4]}], "no list of people"),
        ([{"image_id": 1, "keypoints": ["a", 2, 3]}], "no list of people"),
        (people(SIDE)[:1], "1 frames; tracks need at least two"),
        ([{"image_id": i, "keypoints": [1, 2, 1] * (17 + i)} for i in (0, 1)], r"\[17, 18\] key"),
        ({"annotations": people(SIDE), "categories": [{"keypoints": ["a"] * 17}]}, "twice: a"),
    ],
)
def test_json_files_that_are_wrong(tmp_path, data, words):
    with pytest.raises(TracksError, match=words) as caught:
        read_coco(saved(tmp_path / "pose.json", data), "side", 30)
    assert str(caught.value).startswith("pose.json: ")


def test_json_that_is_none_and_rates_that_are_none(tmp_path):
    (tmp_path / "text.json").write_text("no pose")
    with pytest.raises(TracksError, match="export the pose estimation as COCO key points"):
        read_coco(tmp_path / "text.json", "side", 30)
    with pytest.raises(TracksError, match="absent.json: cannot be opened: No such file"):
        read_coco(tmp_path / "absent.json", "side", 30)
    with pytest.raises(TracksError, match="the rate is 0; give the pictures per second"):
        read_coco(saved(tmp_path / "pose.json", people(SIDE)), "side", 0)
    for half in ({"view": "side"}, {"rate": 30}):
        with pytest.raises(TracksError, match="neither view nor frame rate; give both"):
            read_coco(tmp_path / "pose.json", **half)
    (tmp_path / "none.json").mkdir()
    with pytest.raises(TracksError, match="none.json: this is a folder; give the one .json"):
        read_coco(tmp_path / "none.json", "side", 30)
    with pytest.raises(TracksError, match="the view is 'back'"):
        read_coco(tmp_path / "pose.json", "back", 30)


VALUES = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=3)),
    lambda inner: st.one_of(
        st.lists(inner, max_size=4),
        st.dictionaries(st.sampled_from(["image_id", "keypoints", "annotations"]), inner),
    ),
)


@given(place=st.integers(0, 40), key=st.sampled_from(["image_id", "keypoints", "x"]), value=VALUES)
def test_mangled_json_is_refused_or_read_whole(place, key, value, tmp_path_factory):
    results = people(SIDE)
    if key == "x":
        results[place]["keypoints"][place] = value
    else:
        results[place][key] = value
    path = saved(tmp_path_factory.getbasetemp() / "mangled.json", results)
    try:
        read = read_coco(path, "side", 30)
    except TracksError:
        return
    assert isinstance(read, Tracks)
    assert not np.isinf(read.positions).any()


# One way in


@pytest.fixture
def one_of_each(tmp_path):
    """One squat in every format we read, and what has to be declared for it."""
    tracks = space()
    return {
        "CSV": (tracks.write(tmp_path / "lift.csv"), {}),
        "C3D": (written_c3d(tmp_path / "lift.c3d", NAMES, tracks.positions * 1000), {}),
        "COCO key points": (
            saved(tmp_path / "lift.json", people(SIDE)),
            {"view": "side", "rate": 30},
        ),
    }


def test_the_reader_is_chosen_by_name_or_by_what_is_inside(one_of_each, tmp_path):
    assert set(one_of_each) == {known.name for known in FORMATS}
    for name, (path, declared) in one_of_each.items():
        assert format_of(path).name == name
        bare = tmp_path / f"{name} without an ending"
        bare.write_bytes(path.read_bytes())
        assert format_of(bare).name == name
        tracks = read(path, person=None, **declared)
        assert "hip_r" in tracks and tracks.source == path.name


def test_what_a_format_does_not_take_is_refused_in_words(one_of_each):
    path, declared = one_of_each["COCO key points"]
    assert read(path, units="px", **declared).units == "px"
    with pytest.raises(TracksError, match="COCO key points file takes no units, .* always px"):
        read(path, units="m", **declared)
    path, _ = one_of_each["C3D"]
    assert read(path, view="3d").view == "3d"
    for wrong in ({"view": "side"}, {"rate": 60.0}, {"person": 2}):
        with pytest.raises(TracksError, match=f"C3D file takes no {next(iter(wrong))}.*It takes a"):
            read(path, **wrong)
    with pytest.raises(TracksError, match="CSV file takes no person; leave it out"):
        read(one_of_each["CSV"][0], person=1)


def test_layouts_of_single_programs_are_refused(tmp_path):
    for whole in ({"people": [{"points": [1, 2, 3]}]}, {"frames": [{"keypoints": [1, 2, 3]}]}):
        with pytest.raises(TracksError, match="export the pose estimation as COCO key points"):
            read(saved(tmp_path / "own.json", whole), view="side", rate=30)
