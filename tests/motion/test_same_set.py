"""Laws of a set: slower, larger, heavier, filmed faster or once more, it is the same set."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest

from squatlab import Bar, Lifter, Stance
from squatlab.motion import Camera, Injection, Tempo, film, synthesise

LIFTER = Lifter.from_stature(1.75, 80)
MICROMETRE = 1e-6
TEMPO = {"descent_s": 1.5, "pause_s": 0.3, "ascent_s": 1.4, "standing_s": 0.6, "hip_lead_s": 0.1}
ARMS = ("elbow", "wrist", "bar_end", "plate")
"""The grip, the bar and its plates have sizes of their own."""

FAULTY = {
    "injections": [
        Injection("lumbar_rounding", 50),
        Injection("knee_valgus", 9),
        Injection("lateral_shift", 3),
        Injection("uneven_bar", 4),
        Injection("hips_rise_first", 4),
    ]
}


def moved(size=1.0, heavy=1.0, slow=1.0, rate=60.0, repetitions=1, **asked):
    """Return a set in which lengths, masses and times are larger by factors."""
    lengths = {
        f.name: size * getattr(LIFTER, f.name) for f in fields(LIFTER) if f.name[-2:] == "_m"
    }
    tempo = Tempo(repetitions=repetitions, **{name: slow * s for name, s in TEMPO.items()})
    return synthesise(
        replace(LIFTER, mass_kg=80 * heavy, **lengths),
        Bar(70 * heavy, 0.05 * size, 0.05 * size),
        Stance(0.34 * size, 14),
        tempo,
        rate=rate,
        **{"rise_deg": -1.0} | asked,
    )


def same(one, other, factor=1.0, but=()):
    """Compare all points, at every time."""
    for name, place in one.points.items():
        if not name.startswith(but):
            assert other.points[name] == pytest.approx(factor * place, abs=MICROMETRE), name


def test_slower_by_half_it_goes_the_same_way():
    one, other = moved(**FAULTY), moved(slow=1.5, rate=40.0, **FAULTY)
    assert other.time == pytest.approx(1.5 * one.time)
    same(one, other)
    assert [1.5 * s for s in one.events.values()] == pytest.approx([*other.events.values()])


def test_a_larger_lifter_goes_the_same_way_enlarged():
    same(moved(), moved(size=1.08), 1.08, but=ARMS)
    same(moved(straightness=0.6), moved(size=1.08, straightness=0.6), 1.08, but=ARMS)


@pytest.mark.parametrize("kg", [70.0, 130.0])
def test_with_all_masses_doubled_nothing_moves_otherwise(kg):
    """The ascent as fast as the load makes it: of a best that grows as the body does."""
    one, other = (
        synthesise(
            replace(LIFTER, mass_kg=60 * k), Bar.high(0.5 * kg * k), Stance(), straightness=0.4
        )
        for k in (1.0, 2.0)
    )
    assert one.time == pytest.approx(other.time)
    same(one, other)
    assert np.array(other.moments) == pytest.approx(2 * np.array(one.moments))


def test_filmed_twice_as_fast_every_second_picture_is_the_same():
    one, other = moved(rate=60, **FAULTY), moved(rate=120, **FAULTY)
    for name, place in one.points.items():
        assert other.points[name][::2] == pytest.approx(place, abs=MICROMETRE), name
    assert one.events == pytest.approx(other.events, abs=0.002)


def test_a_set_is_one_repetition_after_another():
    alone, whole = moved(**FAULTY), moved(repetitions=3, **FAULTY)
    period = sum(TEMPO[name] for name in ("descent_s", "pause_s", "ascent_s", "standing_s"))
    frames = round(period * 60)
    assert period * 60 == pytest.approx(frames)
    for number in range(3):
        part = slice(number * frames, number * frames + alone.time.size)
        for name, place in alone.points.items():
            assert whole.points[name][part] == pytest.approx(place, abs=MICROMETRE), name
        for name, when in alone.events.items():
            assert whole.each[number][name] == pytest.approx(when + number * period, abs=1e-6)
    assert whole.time[-1] == pytest.approx(3 * period + TEMPO["standing_s"])


def test_before_and_after_a_set_stands_still_and_alike():
    rep = moved(**FAULTY)
    standing = (rep.time <= rep.events["start"]) | (rep.time >= rep.events["end"] - 1e-9)
    assert standing.sum() == pytest.approx(2 * 0.6 * 60, abs=2)
    for name, place in rep.points.items():
        assert np.ptp(place[standing], axis=0) == pytest.approx(np.zeros(3), abs=MICROMETRE), name


def test_points_without_a_side_stay_in_the_middle_of_a_lifter_who_is_even():
    rep = moved()
    for name, place in rep.points.items():
        if name[-2:] not in ("_r", "_l") and not name.startswith("plate"):
            assert np.abs(place[:, 2]).max() == 0.0, name


# The camera.

POINTS = np.random.default_rng(2).uniform((-0.5, 0.1, -0.5), (0.5, 1.7, 0.5), (30, 3))


@pytest.mark.parametrize("view", ["side", "front", "oblique"])
def test_a_room_twice_as_large_looks_the_same_and_twice_the_pixels_are_twice_the_picture(view):
    camera = getattr(Camera, view)(yaw_deg=11.0, height_m=0.8)
    seen = camera.project(POINTS)
    assert np.isfinite(seen).all()
    far = replace(camera, distance_m=2 * camera.distance_m, height_m=1.6)
    assert far.project(2 * POINTS) == pytest.approx(seen)
    fine = replace(camera, focal_px=3000, width_px=3840, height_px=2160)
    assert fine.project(POINTS) == pytest.approx(2 * seen)
    assert fine.px_per_m == 2 * camera.px_per_m == 4 * far.px_per_m


def test_a_lifter_in_a_mirror_is_seen_in_a_mirror_by_a_camera_on_the_other_side():
    for yaw in (0.0, 20.0):
        one = Camera.front(yaw_deg=yaw).project(POINTS)
        other = Camera.front(yaw_deg=-yaw).project(POINTS * (1, 1, -1))
        assert other[:, 0] == pytest.approx(1920 - one[:, 0])
        assert other[:, 1] == pytest.approx(one[:, 1])


def test_a_picture_is_cut_at_its_edges_and_behind_the_lens():
    camera = Camera.side(noise_px=0)
    half_m = 0.5 * np.array([1920, 1080]) / camera.px_per_m
    for inside in (0.999, 1.001):
        for way in (-1, 1):
            points = [
                (way * inside * half_m[0], 1.0, 0.0),
                (0.0, 1 + way * inside * half_m[1], 0.0),
            ]
            assert np.isfinite(camera.project(points)).all() == (inside < 1)
    near = camera.distance_m - 0.1
    assert np.isnan(camera.project((0.0, 1.0, near + 0.001))).all()
    assert np.isfinite(camera.project((0.0, 1.0, near - 0.001))).all()


@pytest.mark.parametrize("share", [0.1, 0.4])
def test_so_many_frames_are_dropped_and_exchanged_as_is_said(share):
    time = np.linspace(0, 40, 401)
    points = {
        name: np.tile(place, (401, 1))
        for name, place in zip(("hip_r", "hip_l", "l5"), POINTS[:3], strict=True)
    }
    camera = Camera.front(noise_px=2.0, rate=50.0)
    rng = np.random.default_rng(4)
    tracks = film(points, time, replace(camera, dropped=share), rng)
    assert tracks.times.size / 2001 == pytest.approx(1 - share, abs=0.03)
    assert tracks.times[[0, -1]] == pytest.approx([0, 40])
    tracks = film(points, time, replace(camera, swapped=share), rng)
    right, left = (camera.project(points[name][:1])[0] for name in ("hip_r", "hip_l"))
    swapped = np.linalg.norm(tracks["hip_r"] - left, axis=1) < 12
    assert swapped.mean() == pytest.approx(share, abs=0.03)
    assert np.linalg.norm(tracks["hip_r"][~swapped] - right, axis=1).max() < 12
    assert np.std(tracks["l5"], axis=0) == pytest.approx([2.0, 2.0], rel=0.06)
    assert np.mean(tracks["l5"], axis=0) == pytest.approx(camera.project(POINTS[2]), abs=0.2)


@pytest.mark.parametrize("seen", range(6))
def test_a_picture_taken_at_a_given_time_shows_what_was_there_whatever_is_not_seen_before_or_after(
    seen,
):
    time = np.arange(6) / 50.0
    point = np.full((6, 3), np.nan)
    point[seen] = (0.1, 1.2, 0.0)
    tracks = film(
        {"hip_r": point, "l5": np.zeros((6, 3)) + (0, 1, 0)}, time, Camera.side(rate=50.0)
    )
    assert np.isfinite(tracks["hip_r"]).all(axis=1).tolist() == [n == seen for n in range(6)]
    assert tracks["hip_r"][seen] == pytest.approx(Camera.side().project((0.1, 1.2, 0.0)))


def test_a_film_may_begin_at_any_time_and_last_a_day_and_no_longer():
    points = {"hip_r": np.zeros((3, 3)) + (0, 1, 0)}
    late = film(points, 99_999.0 + np.arange(3.0), Camera.side(rate=5.0))
    assert late.times[[0, -1]] == pytest.approx([99_999.0, 100_001.0])
    for lasts_s in (100_001.0, -1.0):
        with pytest.raises(ValueError, match="must rise and last at most 100000 s"):
            film(points, np.linspace(0, lasts_s, 3), Camera.side(rate=5.0))
