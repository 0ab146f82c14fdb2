"""Findings from tracks: what is injected is found, what is not seen is not told."""

from __future__ import annotations

import json
import math
import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from squatlab import Lifter, faults
from squatlab.motion import Camera, Tempo
from squatlab.review import ErrorModel, ReviewError, perspective
from squatlab.review import measure as weighed
from squatlab.review.measurers import MEASURERS
from squatlab.review.quantities import Quantities
from squatlab.review.view import view_of
from squatlab.tracks import Tracks, TracksError
from squatlab.units import US, written_in
from tests import stick_figure
from tests.review.squats import (
    BAR_KG,
    DECLARED,
    FRONT,
    LIFTER,
    OBLIQUE,
    SIDE,
    filmed,
    hiding,
    renamed,
    reviewed,
    squat,
    without,
)

CATALOGUE = faults.catalogue()


def measure(*tracks, **declared):
    """Measure points that count as exact: what reads them is tried here, not how sure it is."""
    return weighed(*tracks, **({"errors": ErrorModel.exact()} | declared))


SIDE_FAULTS = {name for name, fault in CATALOGUE.items() if fault.view == "side"}
FRONT_FAULTS = {name for name, fault in CATALOGUE.items() if fault.view == "front"}

EXACT, FILMED = 0.03, 0.08
"""How far noise-free values may be off: of the fault's way from slight to gross."""

SIZES = {
    "knees_first": 140,
    "hips_rise_first": 9,
    "lumbar_rounding": 50,
    "lumbar_overarching": 19,
    "short_depth": 15,
    "knee_valgus": 8.5,
    "knees_far_forward": 12.5,
    "heel_lift": 3,
    "bar_forward": 6,
    "lateral_shift": 4.5,
    "turnout_out_of_range": 13,
    "uneven_bar": 5,
    "head_up": 30,
    "fast_descent": 0.9,
}


def told(findings):
    return {finding.fault for finding in findings if finding.present != "cannot tell"}


def test_every_fault_of_the_catalogue_is_measured():
    assert list(MEASURERS) == list(CATALOGUE)
    findings = reviewed(squat())
    assert [finding.fault for finding in findings] == list(CATALOGUE)
    assert told(findings) == set(CATALOGUE), "both views together answer everything"


@pytest.mark.parametrize("name", CATALOGUE)
def test_what_is_injected_is_read_without_noise(name):
    """The synthesised size, from exact points and from exact pictures of both cameras."""
    fault, rep = CATALOGUE[name], squat((name, SIZES[name]))
    assert rep.feasible, rep.reason
    span = abs(fault.gross - fault.slight)
    exact = measure(rep.tracks(), lifter=LIFTER, bar_kg=BAR_KG)[name]
    assert exact.value == pytest.approx(SIZES[name], abs=EXACT * span)
    seen = reviewed(rep)[name]
    assert seen.value == pytest.approx(SIZES[name], abs=FILMED * span)
    assert (seen.present, seen.size) == ("yes", str(fault.size(SIZES[name])))
    assert seen.severity == pytest.approx(fault.severity(seen.value))
    assert seen.unit == fault.unit and seen.name == fault.name
    assert seen.first <= seen.worst <= seen.last


def test_a_clean_squat_reads_below_slight_everywhere():
    rep = squat(turnout=12.0)
    for findings in (reviewed(rep), measure(rep.tracks()), reviewed(rep, lifter=None)):
        assert findings.present() == ()
        assert all(f.severity < 1 for f in findings if f.present == "no")
        assert all((f.first, f.last, f.onset_s) == (None,) * 3 for f in findings)


def test_angles_of_the_stick_figure_are_those_it_was_made_of():
    """Sines and cosines: thigh 5° below level, lean 32° at the knee, toe at x = 0.13 m."""
    for tracks in (stick_figure.space(), stick_figure.picture()):
        findings = measure(tracks)
        assert findings["short_depth"].value == pytest.approx(-5, abs=0.3)
        ahead = -0.065 + 0.43 * math.sin(math.radians(32)) - 0.13
        assert findings["knees_far_forward"].value == pytest.approx(100 * ahead, abs=0.2)
        assert findings["heel_lift"].value == pytest.approx(0, abs=1e-6)
        # Lean and height follow one schedule down and up: as far at the same height.
        assert findings["hips_rise_first"].value == pytest.approx(0, abs=0.1)
        (seen,) = findings.repetitions
        assert seen.bottom_s == pytest.approx(stick_figure.bottoms()[0], abs=0.03)
    # A foot straight ahead is 5° short of a usual turnout.
    assert measure(stick_figure.space())["turnout_out_of_range"].value == pytest.approx(5)
    flexion = measure(stick_figure.picture()).repetitions[0].knee_flexion_deg
    assert flexion == pytest.approx(95 + 32, abs=0.6), "thigh 95° from straight up, shank 32°"


# Which view tells what


def test_one_view_alone_tells_its_own_faults():
    side, front = filmed(squat())
    assert told(measure(side, **DECLARED)) == SIDE_FAULTS | {"fast_descent"}
    assert told(measure(front, **DECLARED)) == FRONT_FAULTS | {"fast_descent"}
    alone = measure(front, **DECLARED)["lumbar_rounding"]
    assert (alone.present, alone.size, alone.view) == ("cannot tell", "", "")
    assert math.isnan(alone.value) and math.isnan(alone.severity)
    assert alone.reason == "seen from the front only; film from the side"


def test_an_oblique_view_tells_the_tempo_and_no_more():
    findings = measure(*filmed(squat(), OBLIQUE), **DECLARED)
    assert told(findings) == {"fast_descent"}
    assert findings["knee_valgus"].reason == "seen from an angle only; film from the front"


@pytest.mark.parametrize(
    ("view", "gone", "name"),
    [
        ("side", "l5", "lumbar_rounding"),
        ("side", "c7", "lumbar_overarching"),
        ("side", "head", "head_up"),
        ("side", "bar", "bar_forward"),
        ("side", "toe_r", "knees_far_forward"),
        ("side", "heel_r", "heel_lift"),
        ("front", "bar_end_l", "uneven_bar"),
        ("front", "hip_l", "lateral_shift"),
        ("front", "knee_l", "knee_valgus"),
        ("front", "heel_r", "turnout_out_of_range"),
    ],
)
def test_a_missing_point_is_named(view, gone, name):
    films = dict(zip(("side", "front"), filmed(squat((name, SIZES[name]))), strict=True))
    films[view] = without(films[view], gone)
    found = measure(*films.values(), **DECLARED)[name]
    assert found.present == "cannot tell"
    assert found.reason == f"{gone} is not among the points of the {view} view"


def test_a_gap_where_it_counts_is_named_and_one_elsewhere_does_not_matter():
    rep = squat(("lumbar_rounding", 50))
    side, bottom = filmed(rep)[0], rep.time[rep.bottom]
    found = measure(hiding(side, "l5", bottom - 0.3, bottom + 0.3), **DECLARED)["lumbar_rounding"]
    assert (found.present, found.reason) == ("cannot tell", "l5: not seen at the bottom")
    found = measure(hiding(side, "l5", bottom + 0.8, bottom + 1.2), **DECLARED)["lumbar_rounding"]
    assert found.value == pytest.approx(50, abs=0.5)
    standing = hiding(side, "l5", 0, 0.7)
    standing = hiding(standing, "l5", rep.time[-1] - 1, rep.time[-1])
    found = measure(standing, **DECLARED)["lumbar_rounding"]
    assert found.reason == "l5: not seen while standing"


def test_without_c7_the_shoulder_ends_the_trunk():
    side = without(filmed(squat(("knees_first", 140)))[0], "c7")
    findings = measure(side, **DECLARED)
    assert findings["knees_first"].value == pytest.approx(140, abs=15)
    assert findings["lumbar_rounding"].present == "cannot tell"


def test_the_left_leg_counts_where_the_right_is_hidden():
    rep = squat(("heel_lift", 3), ("short_depth", 8))
    right = filmed(rep, SIDE)[0]
    found, other = (measure(t, **DECLARED) for t in (right, renamed(right, "_r", "_l")))
    for finding, same in zip(found, other, strict=True):
        assert same.value == pytest.approx(finding.value, abs=1e-9, nan_ok=True)
    both = measure(*filmed(rep, Camera.side(hidden=())), **DECLARED)
    assert both["heel_lift"].value == pytest.approx(found["heel_lift"].value)


# What is declared


def test_the_bar_needs_the_masses():
    rep = squat(("bar_forward", 6))
    side = filmed(rep, SIDE)[0]
    for less in ({"lifter": None}, {"bar_kg": None}, {"bar_kg": 0}):
        found = measure(side, **(DECLARED | less))["bar_forward"]
        assert found.present == "cannot tell"
        assert found.reason == "the mass of lifter and bar is not declared"


@pytest.mark.parametrize("height_m", [0.4, 0.9, 1.3])
@pytest.mark.parametrize("distance_m", [3.5, 6.0])
def test_a_declared_camera_is_corrected_for(height_m, distance_m):
    """A level camera at knee height sees the near knee 3 cm higher against the hip."""
    rep = squat(("short_depth", 8), ("knee_valgus", 8))
    where = {"height_m": height_m, "distance_m": distance_m, "focal_px": 1200}
    cameras = Camera.side(**where), Camera.front(**where)
    found = reviewed(rep, *cameras, camera=cameras[0])
    assert found["short_depth"].value == pytest.approx(8, abs=0.8)
    assert found["knee_valgus"].value == pytest.approx(8, abs=0.8)
    alone = reviewed(squat(("short_depth", 8)), cameras[0], camera={"side": cameras[0]})
    assert alone["short_depth"].value == pytest.approx(8, abs=1.0)
    if height_m == 0.4 and distance_m == 3.5:
        wrong = reviewed(rep, cameras[0], camera=None)["short_depth"]
        assert wrong.value < 6, "not declared it counts as 4 m away and 1 m high"


def test_turnout_is_told_beyond_and_within_the_usual_range():
    for turnout, beyond in ((21.0, 1), (30.0, 10), (15.0, -5)):
        found = reviewed(squat(turnout=turnout), FRONT)["turnout_out_of_range"]
        assert found.value == pytest.approx(beyond, abs=1.0)


def test_the_scale_comes_from_plate_lifter_or_nothing():
    film = filmed(squat(("heel_lift", 3)), SIDE)[0]
    bare = without(film, "plate_top", "plate_bottom")
    by_plate, by_lifter = measure(film, **DECLARED), measure(bare, **DECLARED)
    assert "375 px/m, comes from the plate" in by_plate.notes[0]
    assert "comes from the declared thigh" in by_lifter.notes[0]
    assert by_lifter["heel_lift"].value == pytest.approx(3, abs=0.1)
    camera_note = measure(film).notes[1]
    assert "counts as 4 m away and 1 m high" in camera_note
    with written_in(US):
        assert "counts as 13.1 ft away and 3.3 ft high" in measure(film).notes[1]
    unscaled = measure(bare)
    assert unscaled.notes[0] == "The side view has no scale: only angles and times are told."
    assert unscaled["heel_lift"].reason.startswith("there is no scale: track plate_top")
    assert unscaled["lumbar_rounding"].value == pytest.approx(26, abs=0.5)
    own = measure(film.scaled_by(nearer_m=0.69, distance_m=4.0), **DECLARED)
    assert own["heel_lift"].value == pytest.approx(by_plate["heel_lift"].value, abs=0.01)


# Rules of single faults


def test_a_shift_is_freed_of_a_camera_that_stands_off():
    """A 6° yaw alone makes hips that go back 30 cm slide by 3 cm; the feet show it."""
    for yaw in (6, 2):
        off = Camera.front(yaw_deg=yaw)
        for size in (3, 5.5):
            found = reviewed(squat(("lateral_shift", size)), off)["lateral_shift"]
            assert found.value == pytest.approx(size, abs=0.8)


def test_hips_that_rise_first_are_not_told_after_knees_first():
    found = reviewed(squat(("hips_rise_first", 9), ("knees_first", 150)))["hips_rise_first"]
    assert found.present == "cannot tell"
    assert found.reason.startswith("the knees go first on the way down")


def test_upright_shanks_are_told_too():
    """The angle across the foot's plane is small for an upright shank, not undefined."""
    found = reviewed(squat(shank_deg=11.0, thigh_deg=20.0))["knee_valgus"]
    assert (found.present, found.value) == ("no", pytest.approx(0, abs=0.7))


@pytest.mark.parametrize("yaw", [-6.0, 6.0])
def test_a_level_bar_is_level_from_a_camera_that_stands_off_square(yaw, monkeypatch):
    """One end is nearer: at 6° a bar that goes from above the camera to below it seems to tilt."""
    front = Camera.front(yaw_deg=yaw)
    assert reviewed(squat(), front)["uneven_bar"].value < 0.15
    tilted = reviewed(squat(("uneven_bar", 5.0)), front)["uneven_bar"]
    assert tilted.value == pytest.approx(5.0, abs=0.3)
    monkeypatch.setattr(perspective, "_place_bar", lambda *_: None)
    assert reviewed(squat(), front)["uneven_bar"].value > 0.4


@pytest.mark.parametrize(("size", "moved"), [(None, "out"), (5.0, "out"), (12.0, "in")])
def test_how_far_a_knee_moved_inward_is_told_beside(size, moved):
    """A straight leg's shank leans inward by 5 to 8°; a clean squat takes the knee out of there."""
    rep = squat(*([("knee_valgus", size)] if size else []))
    found = reviewed(rep)["knee_valgus"]
    words = re.search(r"(\d+)° further (in|out) than standing", found.reason)
    hip, knee, ankle, toe, heel = (
        rep.points[f"{joint}_l"][0] for joint in ("hip", "knee", "ankle", "toe", "heel")
    )
    # From the points while standing: the shank against the upright plane through the foot.
    foot = (toe - heel)[[0, 2]] / np.linalg.norm((toe - heel)[[0, 2]])
    shank = knee - ankle
    inward = shank[[0, 2]] @ np.array([-foot[1], foot[0]])
    standing = np.degrees(np.arcsin(inward / np.linalg.norm(shank)))
    by = found.value - standing
    assert words[2] == moved == ("in" if by > 0 else "out")
    assert float(words[1]) == pytest.approx(abs(by), abs=1.0)


def test_a_light_bar_moves_and_the_weight_does_not():
    """The bar of a clean squat may wander by 3 cm; balance is what counts."""
    found = measure(squat().tracks(), lifter=LIFTER, bar_kg=BAR_KG)["bar_forward"]
    assert found.value == pytest.approx(0, abs=0.05)


def test_knees_of_a_clean_turned_out_stance_do_not_fall_in():
    """Where the usual frontal-plane angle is useless, turned-out feet read 0."""
    for turnout in (7, 13, 19):
        value = reviewed(squat(turnout=float(turnout)))["knee_valgus"].value
        assert value == pytest.approx(0, abs=0.7)


# Several repetitions, frames, times


def test_several_repetitions_give_each_and_the_median():
    rep = squat(("heel_lift", 3, 2), repetitions=3)
    found = reviewed(rep)["heel_lift"]
    assert found.each == pytest.approx((0, 3, 3), abs=0.1)
    assert (found.repetition in (2, 3), found.size) == (True, "clear")
    assert len(reviewed(rep).repetitions) == 6, "three in each of two views"
    last = reviewed(squat(("heel_lift", 3, 3), repetitions=3))["heel_lift"]
    assert (last.present, last.each[2]) == ("no", pytest.approx(3, abs=0.1))
    two = reviewed(squat(("heel_lift", 3, 2), repetitions=2))["heel_lift"]
    assert (two.repetition, two.present) == (2, "yes"), "of two the worse"


def test_frames_and_onset_say_when():
    rep = squat(("heel_lift", 3), ("short_depth", 8), ("knees_first", 150))
    findings, times = reviewed(rep), filmed(rep, SIDE)[0].times
    seen = next(s for s in findings.repetitions if s.view == "side")
    assert seen.bottom_s == pytest.approx(rep.events["bottom"], abs=0.25)
    heel = findings["heel_lift"]
    assert seen.start < heel.first < seen.bottom < heel.last < seen.end
    assert heel.onset_s == pytest.approx(times[heel.first] - seen.start_s)
    assert findings["short_depth"].worst == seen.bottom
    knees = findings["knees_first"]
    assert times[knees.first] == pytest.approx(rep.events["knee_onset"], abs=0.04)
    assert times[knees.last] == pytest.approx(rep.events["hip_onset"], abs=0.04)


def test_dropped_frames_and_short_gaps_change_little():
    rep = squat(("short_depth", 8), ("heel_lift", 3))
    cameras = [Camera.side(dropped=0.05, noise_px=0), Camera.front(dropped=0.05, noise_px=0)]
    whole, holed = reviewed(rep), reviewed(rep, *cameras, rng=np.random.default_rng(2))
    for finding in whole:
        fault = CATALOGUE[finding.fault]
        near = 0.1 * abs(fault.gross - fault.slight)
        assert holed[finding.fault].value == pytest.approx(finding.value, abs=near)


# Printed and handed on


def test_findings_print_as_a_table():
    text = repr(reviewed(squat(("heel_lift", 3))))
    lines = text.splitlines()
    assert lines[0] == "Repetitions seen: front 1, side 1. Times are of the film."
    assert max(map(len, lines)) <= 100
    row = next(line for line in lines if line.startswith("heels lift"))
    assert row.split()[:4] == ["heels", "lift", "clear", "3.0"]
    alone = " ".join(repr(measure(filmed(squat())[1], **DECLARED)).split())
    assert "cannot tell seen from the front only; film from the side" in alone
    assert "−0.0" not in text and "nan" not in alone


def test_findings_go_into_json():
    findings = measure(filmed(squat(("knee_valgus", 8.5)))[1], **DECLARED)
    data = json.loads(json.dumps(findings.as_dict(), allow_nan=False))
    assert [row["fault"] for row in data["findings"]] == list(CATALOGUE)
    row = next(row for row in data["findings"] if row["fault"] == "knee_valgus")
    assert (row["present"], row["size"], row["unit"]) == ("yes", "clear", "°")
    assert row["value"] == pytest.approx(8.5, abs=0.5)
    untold = data["findings"][0]
    assert (untold["present"], untold["value"]) == ("cannot tell", None)
    assert data["repetitions"][0]["view"] == "front"
    assert data["repetitions"][0]["knee_flexion_deg"] is None


def test_a_finding_is_looked_up_by_its_name():
    findings = reviewed(squat())
    assert findings["heel_lift"].fault == "heel_lift" and len(findings) == 14
    with pytest.raises(ValueError, match='no fault .heel.*did you mean "heel_lift"'):
        findings["heel_lif"]


# What goes wrong


def still():
    times = np.arange(180) / 60
    return Tracks(times, np.ones((180, 2, 2)), ("hip_r", "knee_r"), "side")


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: measure(), r"give one or more Tracks, for example measure\(Tracks.read"),
        (lambda: measure("side.csv"), "give one or more Tracks"),
        (lambda: measure(*filmed(squat(), SIDE, SIDE)), "two recordings of the side view"),
        (lambda: measure(still()), "the hips travel 0.00 m in 3.0 s and never go down and up"),
        (lambda: measure(without(still(), "hip_r")), "no hip is seen. Track hip_r or hip_l"),
        (lambda: measure(*filmed(squat()), bar_kg=900), "bar_kg is 900; it must lie between 0 and"),
        (
            lambda: measure(*filmed(squat()), camera=Tempo()),
            "the camera's distance_m is None; declare it in m, between 1 and 1000",
        ),
        (
            lambda: measure(*filmed(squat()), lifter=Lifter.from_stature([1.7, 1.8], 80)),
            "the lifter declared is 2 lifters; give one",
        ),
    ],
)
def test_what_cannot_be_reviewed_is_refused_in_words(call, words):
    with pytest.raises(ReviewError, match=words):
        call()


def test_a_repetition_in_one_view_only_is_enough_for_that_view():
    side, front = filmed(squat())
    findings = measure(side, replace(front, positions=front.positions * 0 + 500.0), **DECLARED)
    assert told(findings) == SIDE_FAULTS | {"fast_descent"}
    assert findings["knee_valgus"].reason == "no repetition is seen in the front view"


def mangled(tracks, rng):
    """Return tracks made worse in some ways that happen."""
    positions, names, times = tracks.positions.copy(), list(tracks.names), tracks.times
    for way in rng.choice(9, rng.integers(1, 5)):
        point, frames = rng.integers(len(names)), len(positions)
        if way == 0:
            positions[:, point] = np.nan
        elif way == 1:
            positions[:, point] = positions[0, point]
        elif way == 2:
            begin, end = sorted(rng.integers(0, frames + 1, 2))
            positions[begin:end, rng.random(len(names)) < 0.5] = np.nan
        elif way == 3:
            length = rng.integers(2, min(frames, 60) + 1)
            begin = rng.integers(0, frames - length + 1)
            positions, times = positions[begin:][:length], times[begin:][:length]
        elif way == 4:
            positions = np.zeros_like(positions)
        elif way == 5:
            kept = rng.permutation(len(names))[: rng.integers(1, len(names) + 1)]
            positions, names = positions[:, kept], [names[i] for i in kept]
        elif way == 6:
            positions[rng.random(positions.shape[:2]) < 0.3] = np.nan
        elif way == 7:
            times = np.cumsum(rng.uniform(0.001, 0.5, frames))
        else:
            positions = positions * rng.choice([1e-3, -1.0, 1e3])
    positions = np.clip(positions, -9e5, 9e5)
    return Tracks(times, positions, names, tracks.view, tracks.units)


@given(seed=st.integers(0, 2**32 - 1))
@example(21865)  # hips that are hidden before a repetition begins
def test_mangled_tracks_are_told_or_refused(seed):
    rng, rep = np.random.default_rng(seed), squat()
    films = [*filmed(rep, Camera.side(rate=30), Camera.front(rate=30), OBLIQUE), rep.tracks()]
    chosen = [films[i] for i in rng.permutation(4)[: rng.integers(1, 3)]]
    try:
        declared = DECLARED if seed % 2 else {}
        tracks = [mangled(one, rng) for one in chosen]
        findings = weighed(*tracks, **(declared | {"errors": None}))
    except (ReviewError, TracksError):
        return
    assert len(repr(findings)) > 100 and findings.as_dict()
    for finding in findings:
        assert (finding.present == "cannot tell") == math.isnan(finding.value)
        assert finding.reason


@pytest.mark.parametrize("name", CATALOGUE)
def test_the_series_behind_a_value_has_it_in_it_and_says_from_when_it_shows(name):
    """A value is a mean, or the most, of its series; the table says when that first is slight."""
    rep, fault = squat((name, SIZES[name])), CATALOGUE[name]
    findings = reviewed(rep)
    finding = findings[name]
    (film,) = filmed(rep, FRONT if fault.view == "front" else SIDE)
    view = view_of(film, LIFTER, BAR_KG)
    repetition = view.repetitions[0]
    reading = MEASURERS[name](Quantities(view, repetition), repetition)
    series, value = np.ravel(reading.series), float(np.ravel(reading.value)[0])
    assert reading.begin + series.size - 1 <= repetition.end
    slack = 0.15 * abs(fault.gross - fault.slight)
    assert np.nanmin(series) - slack <= value <= np.nanmax(series) + slack
    if finding.onset_s is None:
        return
    seen = [one for one in findings.repetitions if one.view == finding.view]
    start_s = seen[finding.repetition - 1].start_s
    assert findings._shows_from(finding) == f"{start_s + finding.onset_s:.2f} s".replace("-", "−")
    assert findings._shows_from(replace(finding, onset_s=None)) == ""
    assert findings._shows_from(replace(finding, view="from above")) == ""
