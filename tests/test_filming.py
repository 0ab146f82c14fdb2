"""What cameras do to readings: against plain geometry and statistics."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from squatlab import Bar, Lifter, Stance, faults
from squatlab.lessons import filming
from squatlab.lessons.filming import (
    FilmedCase,
    by_eye,
    cast,
    errors,
    exactly,
    filmed,
    on_screen,
    score,
)
from squatlab.motion import Camera, Injection, synthesise
from squatlab.review import Finding

LIFTER = Lifter.from_stature(1.75, 80)
REP = synthesise(LIFTER, Bar.high(60), Stance())
FAR = {"distance_m": 30.0, "focal_px": 11_250.0, "height_m": 0.9}


@pytest.fixture(scope="module")
def people():
    return cast(each=2, clean=6, seed=3)


def test_a_protractor_reads_the_true_lines_where_there_is_no_perspective():
    true = by_eye(on_screen(REP))
    points = {name: place[REP.bottom] for name, place in REP.points.items()}
    trunk, thigh = points["c7"] - points["hip_r"], points["hip_r"] - points["knee_r"]
    assert true.lean_deg == pytest.approx(np.degrees(np.arctan2(trunk[0], trunk[1])))
    assert true.thigh_deg == pytest.approx(np.degrees(np.arctan2(thigh[1], -thigh[0])))
    far = by_eye(on_screen(REP, Camera.side(**FAR)))
    assert far.lean_deg == pytest.approx(true.lean_deg, abs=0.3)
    assert far.thigh_deg == pytest.approx(true.thigh_deg, abs=0.7)


@pytest.mark.parametrize("yaw", [-20, 10, 25])
def test_a_turned_camera_shortens_what_goes_forward_by_the_cosine(yaw):
    """Orthographic projection: across = forward × cos yaw, less what lies to the side × sin yaw."""
    points = {name: place[REP.bottom] for name, place in REP.points.items()}
    trunk = points["c7"] - points["hip_r"]
    across = trunk[0] * np.cos(np.radians(yaw)) + trunk[2] * np.sin(np.radians(yaw))
    seen = by_eye(on_screen(REP, Camera.side(yaw_deg=yaw, **FAR)))
    assert seen.lean_deg == pytest.approx(np.degrees(np.arctan2(across, trunk[1])), abs=0.4)


def test_a_turned_front_camera_makes_hips_that_go_back_go_aside():
    points = {name: place[REP.bottom] for name, place in REP.points.items()}
    back = points["pelvis"][0]
    seen = by_eye(on_screen(REP, Camera.front(yaw_deg=15, **FAR), "front"))
    assert abs(seen.hips_aside_cm) == pytest.approx(
        100 * abs(back) * np.sin(np.radians(15)), abs=0.3
    )
    assert by_eye(on_screen(REP, None, "front")).hips_aside_cm == pytest.approx(0, abs=1e-9)


def test_what_is_nearer_looks_larger_by_the_ratio_of_the_distances():
    z = REP.points["plate_top"][0, 2]
    for distance in (2.5, 4.0, 8.0):
        p = on_screen(REP, Camera.side(distance_m=distance))
        assert abs(p["plate_top"] - p["plate_bottom"]) == pytest.approx(
            0.45 * distance / (distance - z)
        )


def test_a_good_film_is_read_as_the_points_and_tells_only_what_its_view_shows():
    exact = exactly(REP)
    off = errors(filmed(REP, Camera.side()), exact)
    for fault in faults.catalogue().values():
        if fault.view == "front":
            assert np.isnan(off[fault.id])
        else:
            assert abs(off[fault.id]) < 0.5 * abs(fault.clear - fault.slight), fault.id
    assert np.isnan(errors(filmed(REP, Camera.front()), exact)["short_depth"])


def test_a_film_that_shows_no_hips_is_read_as_nothing():
    near = Camera.side(distance_m=1.5, height_m=2.0)
    assert filmed(REP, near) is None
    assert all(np.isnan(e) for e in errors(None, exactly(REP)).values())


def test_four_times_the_frames_halve_the_scatter_of_timing():
    """Independent errors average with the square root of their number."""
    slow, fast = (
        filming.onset_spread_ms(REP, Camera.side(rate=rate), count=80) for rate in (60, 240)
    )
    assert slow / fast == pytest.approx(2.0, rel=0.3)


def test_the_cast_has_each_fault_and_clean_lifters_of_many_builds(people):
    assert [case.fault for case in people].count("") == 6
    for fault in faults.catalogue():
        reps = [case.rep for case in people if case.fault == fault]
        assert len(reps) == 2
        for rep in reps:
            assert rep.feasible and exactly(rep)[fault].size in ("clear", "gross")
    for rep, fault in people:
        if not fault:
            assert rep.clean and not exactly(rep).present()
    ratios = [rep.lifter.thigh_m / rep.lifter.trunk_m for rep, _ in people]
    assert np.std(ratios) > 0.03


def test_scores_repeat_and_noise_and_a_turned_camera_cost(people):
    best = score(people, noise_px=0)
    assert best == score(people, noise_px=0)
    assert best.found > 90 and best.blamed == 0
    assert score(people, noise_px=15).found < best.found
    assert score(people, noise_px=0, yaw_deg=30).blamed > 50


def test_one_fault_alone_is_read_as_among_all():
    fallen = synthesise(LIFTER, Bar.high(60), Stance(), injections=[Injection("knee_valgus", 12)])
    for camera in (Camera.side(rate=30), Camera.front(noise_px=8), Camera.side(distance_m=1.5)):
        film = filmed(fallen, camera, np.random.default_rng(4))
        for name in faults.catalogue():
            alone = filming.value_read(name, fallen, camera, np.random.default_rng(4))
            among = film[name].value if film else np.nan
            assert alone == pytest.approx(among, nan_ok=True), name


@pytest.mark.parametrize(
    ("size", "severity", "share"), [("slight", 1.5, 0), ("clear", 2.5, 100), ("gross", 3.1, 100)]
)
def test_only_clear_and_gross_calls_count(monkeypatch, size, severity, share):
    called = [Finding(name, 1.0, "yes", size) for name in faults.catalogue()]
    monkeypatch.setattr(filming, "filmed", lambda *_: called)
    value = float(faults.fault("head_up").value_at(severity))
    monkeypatch.setattr(filming, "value_read", lambda *_: value)
    assert score([FilmedCase(REP, ""), FilmedCase(REP, "head_up")]) == (share, share)


@pytest.mark.parametrize(
    ("fault", "read", "words"),
    [
        ("", SimpleNamespace(present=lambda: ("slight",)), "squat with no fault at all in"),
        (
            "head_up",
            {"head_up": Finding("head_up", severity=1.9)},
            "squat with head_up in this size",
        ),
    ],
)
def test_whoever_does_not_read_as_wanted_is_not_cast(monkeypatch, fault, read, words):
    monkeypatch.setattr(filming, "TRIES", 3)
    monkeypatch.setattr(filming, "exactly", lambda rep: read)
    with pytest.raises(ValueError, match=f"none of 3 lifters drawn can {words}"):
        filming._drawn(fault, np.random.default_rng(1))


def test_a_valgus_is_seen_from_the_front_alone():
    fallen = synthesise(LIFTER, Bar.high(60), Stance(), injections=[Injection("knee_valgus", 12)])
    side, front = (filmed(fallen, make())["knee_valgus"] for make in (Camera.side, Camera.front))
    assert side.present == "cannot tell" and front.size in ("clear", "gross")
