"""A wrong frame rate: suspected in words, and put right by declaring it."""

from __future__ import annotations

import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from squatlab import Bar, Stance, tables
from squatlab.motion import Camera, Tempo, film, synthesise
from squatlab.review import frame_rate, measure
from squatlab.review.frame_rate import Pace, _pace, pace_of, suspicion
from squatlab.review.view import Repetition, view_of
from squatlab.tracks import Tracks
from tests.review.squats import BAR_KG, LIFTER

BAR, STANCE = Bar.high(BAR_KG), Stance(0.34, 14.0)


@pytest.fixture(scope="module")
def rep():
    """Give a squat of 1.5 s down and 1.2 s up."""
    return synthesise(LIFTER, BAR, STANCE, Tempo(1.5, 0.1, 1.2, standing_s=1.0, hip_lead_s=0.06))


def filmed(rep, rate, played_at):
    """Return a side film taken at one rate, with the times of another."""
    taken = film(rep.points, rep.time, Camera.side(rate=rate), np.random.default_rng(4))
    times = taken.times * (rate / played_at)
    return Tracks(times, taken.positions, taken.names, "side", "px", taken.scale_px_per_m)


def test_pace_is_that_of_the_squat(rep):
    """Of minimum jerk the middle half takes 0.23 of the time: 10 t³ − 15 t⁴ + 6 t⁵ is .25 at
    .384 and .75 at .616; way up and down are h = .5 m or so.
    """
    pace = pace_of(view_of(filmed(rep, 60, 60)))
    assert pace.quick_s == pytest.approx(0.232 * 1.2, rel=0.25)  # the ascent has its slow region
    assert 1.5 < pace.low_s < 2.8
    slow = pace_of(view_of(filmed(rep, 240, 60)))
    assert slow.low_s / pace.low_s == pytest.approx(4, rel=0.03)
    assert slow.turn / pace.turn == pytest.approx(1 / 16, rel=0.1)


@pytest.mark.parametrize(
    ("taken", "played", "suspected"),
    [(30, 30, ""), (60, 60, ""), (120, 30, "120"), (240, 30, "240"), (30, 120, "30")],
)
def test_a_wrong_rate_is_suspected_with_the_one_to_declare(rep, taken, played, suspected):
    words = suspicion(view_of(filmed(rep, taken, played)))
    assert bool(words) == bool(suspected)
    if suspected:
        assert f"(--fps {suspected})" in words
        assert any("--fps" in note for note in measure(filmed(rep, taken, played)).notes)


def test_a_slow_descent_alone_is_no_slow_motion():
    """Somebody who goes down in five seconds on purpose comes up as fast as usual."""
    tempo = Tempo(5.0, 0.1, 1.2, standing_s=1.0, hip_lead_s=0.06)
    slow = synthesise(LIFTER, BAR, STANCE, tempo)
    assert suspicion(view_of(filmed(slow, 60, 60))) == ""


def test_a_declared_rate_goes_before_the_times_of_a_file(rep, tmp_path):
    path = tmp_path / "slow.csv"
    slow = replace(filmed(rep, 240, 30), rate=0.0)
    columns = [f"{name}_{axis}" for name in slow.names for axis in "xy"]
    cells = np.column_stack([slow.times, slow.positions.reshape(slow.times.size, -1)])
    np.savetxt(path, cells, delimiter=",", header=",".join(["time_s", *columns]), comments="")
    given = {"view": "side", "units": "px"}
    played, declared = Tracks.read(path, **given), Tracks.read(path, rate=240, **given)
    assert played.rate == pytest.approx(30) and declared.rate == pytest.approx(240)
    assert declared.times[-1] - declared.times[0] == pytest.approx(rep.time[-1], abs=0.02)
    assert any(re.search(r"240 were declared", note) for note in declared.notes)
    assert suspicion(view_of(played)) and not suspicion(view_of(declared))
    assert not any("declared." in note for note in Tracks.read(path, rate=30, **given).notes)
    assert measure(declared, lifter=LIFTER, bar_kg=BAR_KG)["fast_descent"].value < 2


def test_a_throw_turns_round_with_its_own_acceleration():
    """h = ½ a t² by hand: a share s of the way is reached at √(2 s way / a) from the bottom."""
    a, rate, t = 4.0, 100.0, np.arange(-50, 51) / 100.0
    way = 0.5 * a * t[-1] ** 2
    pace = _pace(0.3 + 0.5 * a * t**2, Repetition(0, 50, 100), rate)
    times = np.sqrt(2 * np.array([0.25, 0.5, 0.75, 0.9]) * way / a)
    assert pace.turn == pytest.approx(a, rel=0.01)
    assert pace.quick_s == pytest.approx(times[2] - times[0], rel=0.01)
    assert pace.low_s == pytest.approx(2 * times[3], rel=0.01)


def limit(quantity):
    return tables.value("limits", name="pace", quantity=quantity)


def said_of(monkeypatch, **pace):
    """Return what is said of a film of 30 frames per second whose repetitions are so fast."""
    usual = Pace(quick_s=0.4, low_s=limit("low_usual"), turn=limit("turn_usual"))
    monkeypatch.setattr(frame_rate, "pace_of", lambda view: usual._replace(**pace))
    return frame_rate.suspicion(SimpleNamespace(rate=30.0, kind="side"))


@pytest.mark.parametrize("factor", [0.99, 1.01])
def test_only_what_hardly_anybody_does_is_doubted(monkeypatch, factor):
    """Each bound is reached and not passed; slow needs both, low and slow on the way."""
    quick, low = limit("middle_half_most"), limit("low_most")
    beyond = factor > 1
    slow = said_of(monkeypatch, quick_s=factor * quick, low_s=2 * low)
    assert ("slow motion" in slow) == beyond
    slow = said_of(monkeypatch, quick_s=2 * quick, low_s=factor * low)
    assert ("slow motion" in slow) == beyond
    hard = said_of(monkeypatch, turn=factor * limit("turn_most"))
    assert ("too fast" in hard) == beyond
    assert said_of(monkeypatch) == "" == said_of(monkeypatch, turn=np.nan, quick_s=np.nan)


@pytest.mark.parametrize(
    ("ratio", "factor"), [(1.2, 2), (2.8, 2), (2.9, 4), (5.6, 4), (5.7, 8), (20.0, 8)]
)
def test_the_rate_to_declare_is_by_the_nearest_factor_of_cameras(monkeypatch, ratio, factor):
    """Nearest as ratios go: between 2 and 4 that is up to √8, between 4 and 8 up to √32."""
    low = ratio * limit("low_usual")
    quick = 2 * limit("middle_half_most")
    if low > limit("low_most"):
        said = said_of(monkeypatch, quick_s=quick, low_s=low)
        assert f"--fps {30 * factor:.4g})" in said
    # Frames left out make times shorter by a factor, accelerations greater by its square.
    turn = ratio**2 * limit("turn_usual")
    if turn > limit("turn_most"):
        assert f"--fps {30 / factor:.4g})" in said_of(monkeypatch, turn=turn)
