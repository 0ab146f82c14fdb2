"""Which frames count as standing, how fast hips go, and what a far leg lends: by hand."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from squatlab.review.frame_rate import pace_of
from squatlab.review.measurers import _filled, value_at_height
from squatlab.review.quantities import Quantities
from squatlab.review.view import _ends, _helped_by_far_leg, _standing, view_of
from squatlab.signals import Repetition
from tests.review.squats import FRONT, SIDE, filmed, hiding, squat

RATE = 100.0


def spans(stands):
    """Return the first and last frame of each standing, all of them one piece."""
    for frames in stands:
        assert np.array_equal(frames, np.arange(frames[0], frames[-1] + 1))
    return [(int(frames[0]), int(frames[-1])) for frames in stands]


def test_the_last_second_of_standing_counts_but_for_half_a_second():
    """Down from frame 200, up again at 500: seconds .5 to 1.5, and 5.3 to 6.3."""
    stands = _standing((Repetition(200, 350, 500),), RATE, 1000)
    assert spans(stands) == [(50, 149), (530, 629)]
    short = _standing((Repetition(90, 200, 300),), RATE, 360)
    assert spans(short) == [(0, 39), (330, 359)]


@pytest.mark.parametrize(("pause", "own"), [(105, True), (104, False)])
def test_a_quarter_of_a_second_between_repetitions_is_a_standing_of_its_own(pause, own):
    """Of the pause .8 s go: half a second before the second, .3 s after the first."""
    second = Repetition(500 + pause, 700, 900)
    stands = _standing((Repetition(200, 350, 500), second), RATE, 1200)
    before, between, after = stands
    if own:
        assert spans([between]) == [(530, 554)]
    else:
        assert np.array_equal(between, np.concatenate([before, np.arange(530, 554), after]))


def test_of_much_standing_the_nearest_quarter_of_a_minute_counts():
    """Two repetitions without a pause between them, in a film of 25 with a pause each."""
    starts = np.arange(25) * 400 + 200
    repetitions = [Repetition(int(s), int(s) + 100, int(s) + 200) for s in starts]
    repetitions.insert(13, Repetition(5410, 5500, 5580))
    repetitions.sort()
    stands = _standing(repetitions, RATE, int(starts[-1]) + 600)
    (chosen,) = [frames for frames in stands if frames.size > 100]
    assert chosen.size == 1500
    before, after = (chosen < 5410).sum(), (chosen >= 5410).sum()
    assert before == after == 750


def test_the_ends_of_a_trimmed_clip_are_seven_hundredths_of_a_second():
    height = np.r_[np.full(30, 1.0), np.full(40, 0.5), np.full(30, 1.0)]
    assert _ends(height, RATE).tolist() == [*range(7), *range(93, 100)]
    for low, kept in ((np.s_[:30], range(93, 100)), (np.s_[70:], range(7))):
        begun = height.copy()
        begun[low] = 0.94  # lower by more than a tenth of half a metre
        assert _ends(begun, RATE).tolist() == list(kept)
        begun[low] = 0.96
        assert _ends(begun, RATE).size == 14
    height[:5] = np.nan
    assert _ends(height, RATE).tolist() == [*range(5, 12), *range(93, 100)]
    assert _ends(np.ones(50), 10.0).size == 4, "two frames at least"


@pytest.mark.parametrize("turn", [4.0, 9.81])
def test_hips_that_move_as_a_thrown_ball_are_turned_round_by_its_acceleration(turn):
    """h = a t² / 2: a quarter of the way is done at half the time, and so on, by roots."""
    way, rate = 0.5, 240.0
    whole_s = np.sqrt(2 * way / turn)
    count = round(whole_s * rate)
    since = np.arange(-count, count + 1) / rate
    hips = 0.4 + 0.5 * turn * since**2
    view = SimpleNamespace(
        hips=hips,
        times=since - since[0],
        rate=rate,
        repetitions=(Repetition(0, count, 2 * count),),
    )
    pace = pace_of(view)
    whole_s = np.sqrt(2 * (hips[0] - 0.4) / turn)
    assert pace.turn == pytest.approx(turn, rel=0.002)
    assert pace.quick_s == pytest.approx(whole_s * (np.sqrt(0.75) - np.sqrt(0.25)), rel=0.002)
    assert pace.low_s == pytest.approx(2 * whole_s * np.sqrt(0.9), rel=0.002)
    unseen = view.hips * np.nan
    assert np.isnan(pace_of(SimpleNamespace(**vars(view) | {"hips": unseen}))).all()


@pytest.mark.parametrize(
    ("hidden", "since"),
    [
        ((), None),
        ((9, 10, 11), 9),  # the lowest itself: .2 is the lowest seen, within a tenth of the way
        ((12, 13), 12),  # after the lowest tenth, 9 to 11
        ((6, 7, 8), 6),  # before it
        ((13, 14), None),  # from .3 on nothing goes lower unseen
        ((6, 7), None),
        ((0, 1, 2), None),
        ((18, 19, 20), None),
        ((2, 12), 12),
    ],
)
def test_hips_may_go_lower_where_they_hide_next_to_the_lowest_tenth(hidden, since):
    """Down from 1 m to 0 in ten frames and up again; frame 5 of the view is the first."""
    hips = np.abs(np.arange(-10, 11)) / 10
    hips[list(hidden)] = np.nan
    view = SimpleNamespace(hips=np.r_[np.ones(5), hips, np.ones(5)])
    found = Quantities(view, Repetition(5, 15, 25)).hidden_from
    assert found == (None if since is None else since + 5)


def test_short_gaps_are_filled_along_straight_lines_and_longer_ones_stay():
    """Two frames apart is a gap of one frame; what is not seen at an end has no other side."""
    nan = np.nan
    series = np.array([nan, 1.0, nan, 3.0, nan, nan, 9.0, nan])
    assert _filled(series, 2) == pytest.approx([nan, 1, 2, 3, nan, nan, 9, nan], nan_ok=True)
    assert _filled(series, 3) == pytest.approx([nan, 1, 2, 3, 5, 7, 9, nan], nan_ok=True)
    assert np.array_equal(_filled(np.stack([series, series + 1.0]), 3)[1, 1:7], [2, 3, 4, 6, 8, 10])
    assert np.isnan(series[2]), "what was given is left as it was"


def test_a_level_is_passed_between_frames_and_only_upward():
    """From 1 to 3 it passes 2.5 after three quarters; what begins above it never rises past."""
    height = np.array([2.0, 1.0, 3.0, 0.0, 4.0])
    when = np.array([0.0, 10.0, 20.0, 30.0, 40.0])
    assert value_at_height(np.array(2.5), height, when) == pytest.approx(17.5)
    assert value_at_height(np.array(3.5), height, when) == pytest.approx(38.75)
    for never in (1.5, 5.0):
        assert np.isnan(value_at_height(np.array(never), height, when)), never
    levels, heights = np.array([2.5, 3.5]), np.stack([height, height])
    assert value_at_height(levels, heights, np.stack([when, when])) == pytest.approx([17.5, 38.75])


def test_a_near_leg_is_filled_in_from_the_far_one_by_how_far_they_are_apart():
    """From the side both legs do the same; what is hidden for a while comes back in its place."""
    tracks = squat().tracks()
    flat = replace(tracks, positions=tracks.positions[..., :2], view="side")
    moved = flat.positions.copy()
    moved[:, flat.names.index("knee_l")] += (0.03, 0.01)
    moved[5, flat.names.index("knee_l")] = np.nan
    flat = replace(flat, positions=moved)
    hidden = hiding(flat, "knee_r", 0.0, 1.0)
    found = _helped_by_far_leg(hidden, "r")
    assert found["knee_r"][6:] == pytest.approx(flat["knee_r"][6:], abs=1e-9)
    assert np.isnan(found["knee_r"][5]).all(), "hidden with the far one"
    assert np.array_equal(found["knee_l"], flat["knee_l"], equal_nan=True)
    kept = [n for n, name in enumerate(flat.names) if name != "ankle_r"]
    left = replace(
        flat, names=tuple(flat.names[n] for n in kept), positions=flat.positions[:, kept]
    )
    assert _helped_by_far_leg(left, "r")["ankle_r"] == pytest.approx(flat["ankle_l"])


def test_each_kind_of_view_measures_its_own_points():
    side, front = (view_of(film) for film in filmed(squat(), SIDE, FRONT))
    assert {"knee_r", "shoulder_r", "c7", "bar"} >= set(side.names) - {
        *("hip_r", "ankle_r", "heel_r", "toe_r", "l5", "head")
    }
    assert not any(name.endswith("_l") for name in side.names)
    assert {"hip_l", "knee_l", "bar_end_r", "bar_end_l"} < set(front.names)
    assert not {"c7", "bar", "l5", "head", "shoulder_r"} & set(front.names)
