"""Recordings of other programs go the same way as synthetic ones."""

from __future__ import annotations

import pytest

from squatlab.adapters.c3d import read_c3d
from squatlab.adapters.key_points import read_coco
from squatlab.review import ErrorModel, measure
from tests.test_adapters import JUMP, SIDE, people, saved

DEGREE, SECOND = 1.0, 1.0


def test_the_dip_of_a_jump_agrees_with_the_laboratory(jump):
    """The file's own modelled knee angle (USERMO8) is deepest 103.36° at 4.010 s."""
    findings = measure(read_c3d(jump, JUMP))
    dip = findings.repetitions[0]
    assert dip.knee_flexion_deg == pytest.approx(103.36, abs=1 * DEGREE)
    assert dip.deepest_s == pytest.approx(4.010, abs=0.015 * SECOND)
    assert dip.bottom_s == pytest.approx(4.010, abs=0.025 * SECOND)
    assert 3.4 < dip.start_s < 3.8 and 4.1 < dip.end_s < 4.4


def test_a_jump_without_a_bar_tells_what_its_points_can(jump):
    """Hips, right knee and ankle: depth (a dip is none) and tempo; every other reason is named."""
    findings = measure(read_c3d(jump, JUMP))
    told = {f.fault for f in findings if f.present != "cannot tell"}
    assert (
        {"short_depth", "fast_descent"}
        <= told
        <= {
            "short_depth",
            "fast_descent",
            "lateral_shift",
        }
    )
    assert findings["short_depth"].size == "gross", "the thighs stay far above level"
    assert findings["fast_descent"].size == "gross", "and the dip takes half a second"
    assert findings["knees_first"].reason == "c7 is not among the points of the 3d view"
    assert findings["uneven_bar"].reason == "bar_end_r is not among the points of the 3d view"
    named = JUMP | {"Right_TalonInf": "heel_r", "Right_Meta": "toe_r", "*22": "bar"}
    more = measure(read_c3d(jump, named))
    # Nobody stands still in a jump, so the usual jitter counts: too much for centimetres.
    assert more["heel_lift"].reason.startswith("between −1.2 cm and 3.6 cm: the points jitter")
    sure = measure(read_c3d(jump, named), errors=ErrorModel.exact())
    assert sure["heel_lift"].present != "cannot tell"
    assert sure["knees_far_forward"].present != "cannot tell"


def test_key_points_without_feet_and_plates_still_tell(tmp_path):
    """Seventeen key points, no scale, no feet: depth and timing, with what was not corrected."""
    tracks = read_coco(saved(tmp_path / "pose.json", people(SIDE)), "side", 30)
    findings = measure(tracks)
    told = {f.fault for f in findings if f.present != "cannot tell"}
    assert told == {"knees_first", "hips_rise_first", "short_depth", "fast_descent"}
    assert findings["short_depth"].value == pytest.approx(-5, abs=4)
    assert "no scale" in findings.notes[0]
