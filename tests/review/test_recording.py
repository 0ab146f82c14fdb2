"""Recordings of other programs go the same way as synthetic ones."""

from __future__ import annotations

import importlib.metadata

import pytest

from squatlab.adapters import read_c3d, read_coco
from squatlab.review import measure
from tests.test_adapters import SIDE, people, saved

# A counter-movement jump in a laboratory: data file of the package biomdp 0.11.2 (MIT).
LABORATORY = "vicon_CMJ_kinem_kinet_emg.c3d"
DEGREE, SECOND = 1.0, 1.0


@pytest.fixture(scope="module")
def jump():
    """Give the laboratory's file."""
    pytest.importorskip("ezc3d", reason="ezc3d is not installed: C3D files cannot be read")
    try:
        files = importlib.metadata.files("biomdp") or ()
    except importlib.metadata.PackageNotFoundError:
        pytest.skip("the package biomdp with its C3D file is absent: pip install --no-deps biomdp")
    return next(str(file.locate()) for file in files if file.name == LABORATORY)


def test_the_dip_of_a_jump_agrees_with_the_laboratory(jump):
    """The file's own modelled knee angle (USERMO8) is deepest 103.36° at 4.010 s."""
    findings = measure(read_c3d(jump))
    dip = findings.repetitions[0]
    assert dip.knee_flexion_deg == pytest.approx(103.36, abs=1 * DEGREE)
    assert dip.deepest_s == pytest.approx(4.010, abs=0.015 * SECOND)
    assert dip.bottom_s == pytest.approx(4.010, abs=0.025 * SECOND)
    assert 3.4 < dip.start_s < 3.8 and 4.1 < dip.end_s < 4.4


def test_a_jump_without_a_bar_tells_what_its_points_can(jump):
    """Hips, right knee and ankle: depth (a dip is none) and tempo; every other reason is named."""
    findings = measure(read_c3d(jump))
    told = {f.fault for f in findings if f.present != "cannot tell"}
    assert told == {"short_depth", "fast_descent", "lateral_shift"}
    assert findings["short_depth"].size == "gross", "the thighs stay far above level"
    assert findings["fast_descent"].size == "gross", "and the dip takes half a second"
    assert findings["knees_first"].reason == "c7 is not among the points of the 3d view"
    assert findings["uneven_bar"].reason == "bar_end_r is not among the points of the 3d view"
    named = {"Right_TalonInf": "heel_r", "Right_Meta": "toe_r", "*22": "bar"}
    more = measure(read_c3d(jump, named))
    assert more["heel_lift"].present != "cannot tell"
    assert more["knees_far_forward"].present != "cannot tell"


def test_key_points_without_feet_and_plates_still_tell(tmp_path):
    """Seventeen key points, no scale, no feet: depth and timing, with what was not corrected."""
    tracks = read_coco(saved(tmp_path / "pose.json", people(SIDE)), "side", 30)
    findings = measure(tracks)
    told = {f.fault for f in findings if f.present != "cannot tell"}
    assert told == {"knees_first", "hips_rise_first", "short_depth", "fast_descent"}
    assert findings["short_depth"].value == pytest.approx(-5, abs=4)
    assert "no scale" in findings.notes[0]
