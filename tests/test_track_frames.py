"""Times, rates, beats and scales of a recording: by hand, at their ends."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from squatlab.tracks import TracksError, possible
from squatlab.tracks.frames import LATEST_S, at_rate, fault_in, on_the_beat, rate_of
from squatlab.tracks.orientation import _lowest
from squatlab.tracks.scale import full_length, measured_scale, plausible
from tests import stick_figure

RATE = 50.0


def beats(*numbers):
    """Return the times of these beats at 50 frames per second, s."""
    return np.array(numbers, float) / RATE


def test_times_rise_are_known_and_are_two_at_least():
    assert fault_in(np.array([0.0, 1.0])) == ""
    assert "1 frames" in fault_in(np.array([0.0]))
    assert "2 frames" not in fault_in(np.array([0.0, 1e9]))
    assert fault_in(np.array([-2e9, 2e9])) == "", "a clock's seconds"
    assert "1 frames have no time (frame 2 " in fault_in(np.array([0.0, 2 * LATEST_S]))
    assert "(frame 1, 3, 4 " in fault_in(np.array([np.nan, 1.0, np.inf, np.nan, np.nan]))
    assert "in 1 places" in fault_in(np.array([0.0, 1.0, 1.0, 2.0]))
    assert "frame 3 at 0.5 s after frame 2 at 1 s" in fault_in(np.array([0.0, 1.0, 0.5, 2.0]))


def test_a_rate_counts_the_beats_that_passed():
    assert rate_of(beats(0, 1, 2, 3)) == pytest.approx(RATE)
    assert rate_of(beats(0, 1, 2, 5, 6, 7)) == pytest.approx(RATE), "two dropped"
    late = beats(0, 1, 2.4, 3, 4, 5, 6)
    assert rate_of(late) == pytest.approx(RATE), "late by less than half a beat is not dropped"


@pytest.mark.parametrize(("factor", "stays"), [(1.019, True), (0.981, True), (1.021, False)])
def test_a_declared_rate_agrees_within_a_fiftieth(factor, stays):
    times = 3.0 + beats(*range(20))
    found, notes = at_rate(times, factor * RATE)
    assert (found is times) is stays is (notes == [])
    assert found[0] == 3.0 and rate_of(found) == pytest.approx(RATE if stays else factor * RATE)


def test_slow_motion_takes_as_much_less_time_as_it_was_slowed():
    """Played at 50, taken at 200: a quarter of the time."""
    found, notes = at_rate(3.0 + beats(*range(20)), 4 * RATE)
    assert np.ptp(found) == pytest.approx(19 / RATE / 4) and "50 frames" in notes[0]
    assert at_rate(beats(0), 4 * RATE)[1] == at_rate(beats(0, 1), 0)[1] == []


def test_each_beat_without_a_frame_is_missing_and_no_other():
    values = np.arange(10.0)[:, np.newaxis]
    kept = [0, 1, 2, 4, 5, 8, 9]
    even = on_the_beat(beats(*kept), values[kept], RATE)
    assert even.missing == 3
    gone = np.isnan(even.values[:, 0])
    assert np.flatnonzero(gone).tolist() == [3, 6, 7]
    assert even.values[~gone] == pytest.approx(values[~gone])
    assert even.times == pytest.approx(beats(*range(10)))
    whole = on_the_beat(beats(*range(10)), values, RATE)
    assert (whole.missing, whole.moved) == (0, False) and whole.values is values


@pytest.mark.parametrize(("off", "moved"), [(0.04, False), (0.06, True)])
def test_a_frame_off_the_beat_by_a_twentieth_is_rounding(off, moved):
    values = np.arange(10.0)
    times = beats(*range(10))
    times[4] += off / RATE
    even = on_the_beat(times, values, RATE)
    assert even.moved is moved and even.missing == 0
    # What moves evenly is, a little after beat 4, a little beyond it.
    expected = 4.0 if not moved else 3 + 1 / (1 + off)
    assert even.values[4] == pytest.approx(expected)


def test_more_than_half_of_the_frames_must_be_there():
    count = 11
    half = beats(*range(0, 2 * count, 2))[:count]  # of 21 beats 11
    assert on_the_beat(half, np.ones(count), RATE).missing == 10
    fewer = np.append(beats(*range(5)), beats(10))  # of 11 beats 6
    assert on_the_beat(fewer, np.ones(6), RATE).missing == 5
    with pytest.raises(ValueError, match="only 6 frames of 13 are there"):
        on_the_beat(np.append(beats(*range(5)), beats(12)), np.ones(6), RATE)


def test_a_length_seen_at_a_slant_is_that_of_the_tenth_in_which_it_is_longest():
    """By hand: of 0 to 10 nine tenths are below 9; unseen frames do not count."""
    lengths = np.append(np.arange(11.0), np.nan)
    line = lengths[:, np.newaxis] * (0.6, 0.8)
    assert full_length(line) == pytest.approx(9.0)
    assert np.isnan(full_length(line[-1:]))


@pytest.mark.parametrize(
    ("length_m", "believed"), [(0.199, False), (0.201, True), (0.699, True), (0.701, False)]
)
@pytest.mark.parametrize("upper", ["hip", "knee"])
def test_thigh_and_shank_are_two_to_seven_tenths_of_a_metre(upper, length_m, believed):
    tracks = stick_figure.space()
    lower = {"hip": "knee", "knee": "ankle"}[upper]
    positions = tracks.positions.copy()
    for side in "rl":
        one, other = (tracks.names.index(f"{joint}_{side}") for joint in (upper, lower))
        positions[:, one] = positions[:, other] + (0.0, length_m, 0.0)
        if upper == "knee":  # the thigh as long as it was
            hip = tracks.names.index(f"hip_{side}")
            positions[:, hip] = positions[:, one] + (0.0, 0.4, 0.0)
    changed = replace(tracks, positions=positions)
    if believed:
        assert plausible(changed) is changed
    else:
        with pytest.raises(TracksError, match=f"{upper} and {lower} are {length_m:.3g} m apart"):
            plausible(changed)


@pytest.mark.parametrize(("unit", "per_m"), [("cm", 100.0), ("mm", 1000.0)])
def test_lengths_in_another_unit_are_recognised_by_a_thigh(unit, per_m):
    tracks = stick_figure.space()
    with pytest.raises(TracksError, match=f'These look like {unit}: read .* units="{unit}"'):
        plausible(replace(tracks, positions=tracks.positions * per_m))
    odd = replace(tracks, positions=tracks.positions * 7)
    with pytest.raises(TracksError, match="Check the unit"):
        plausible(odd)


@pytest.mark.parametrize(("thigh_px", "read"), [(9.9, False), (10.1, True)])
def test_ten_pixels_of_a_thigh_can_be_read(thigh_px, read):
    scale = thigh_px / stick_figure.THIGH
    tracks = stick_figure.picture("side", scale_px_per_m=None)
    small = replace(tracks, positions=tracks.positions * scale / stick_figure.PX_PER_M)
    if read:
        assert plausible(small) is small
    else:
        with pytest.raises(TracksError, match="px apart, too little to read"):
            plausible(small)


@pytest.mark.parametrize(("length_m", "taken"), [(0.05, True), (3.0, True), (0.049, False)])
def test_a_length_that_scales_is_five_centimetres_to_three_metres(length_m, taken):
    tracks = stick_figure.picture("side", scale_px_per_m=None)
    thigh_px = stick_figure.PX_PER_M * stick_figure.THIGH
    stretched = replace(tracks, positions=tracks.positions * length_m / stick_figure.THIGH)
    if taken:
        scale = measured_scale(stretched, "hip_r", "knee_r", length_m)
        assert scale == pytest.approx(thigh_px / stick_figure.THIGH)
    else:
        with pytest.raises(TracksError, match=r"length_m is 0\.049; .* between 0\.05 and 3 m"):
            tracks.scaled_by("hip_r", "knee_r", length_m)


@pytest.mark.parametrize(("spread", "taken"), [(0.098, True), (0.102, False)])
def test_a_plate_may_change_its_size_by_a_tenth(spread, taken):
    """Two fifths of the frames show it smaller by half of that, two fifths larger."""
    tracks = stick_figure.picture("side", scale_px_per_m=None)
    size = 168.75 * (1 + spread * np.resize([-0.5, -0.5, 0, 0.5, 0.5], tracks.times.size))
    plates = np.stack(
        [np.stack([0 * size, size / 2], -1), np.stack([0 * size, -size / 2], -1)], axis=1
    )
    seen = replace(
        tracks,
        positions=np.concatenate([tracks.positions, plates + 500.0], axis=1),
        names=(*tracks.names, "plate_top", "plate_bottom"),
    )
    if taken:
        assert seen.scaled_by().scale_px_per_m == pytest.approx(375.0)
    else:
        with pytest.raises(TracksError, match="the edge of a plate should not change its size"):
            seen.scaled_by()


def test_the_lowest_tenth_of_the_frames_is_where_a_squat_is_low():
    """Of heights 0 to 100 those up to 10, whichever way is up."""
    heights = np.random.default_rng(3).permutation(101).astype(float)
    hip = np.stack([np.zeros(101), heights], axis=-1)
    assert sorted(heights[_lowest(hip)]) == list(range(11))
    assert sorted(heights[_lowest(hip[:, ::-1], np.array([1.0, 0.0]))]) == list(range(11))
    hip[heights < 50] = np.nan
    assert sorted(heights[_lowest(hip)]) == list(range(50, 56))
    assert not _lowest(hip * np.nan).any()


@pytest.mark.parametrize("unseen", range(12))
def test_a_frame_without_a_value_spreads_to_no_beat_of_another(unseen):
    """One frame was dropped, and in another a point is not seen: these two beats alone are nan."""
    values = np.arange(12.0)[:, np.newaxis] ** 2
    values[unseen] = np.nan
    kept = np.delete(np.arange(12), 8)
    even = on_the_beat(beats(*kept), values[kept], RATE)
    missing = np.isnan(even.values[:, 0])
    assert np.flatnonzero(missing).tolist() == sorted({unseen, 8})
    assert even.values[~missing] == pytest.approx(values[~missing])


@pytest.mark.parametrize("half", [1, 3])
def test_means_and_extremes_are_over_so_many_frames_each_way(half):
    """Of nothing but where all of them are there."""
    rng = np.random.default_rng(2)
    values = rng.normal(size=20)
    windows = [values[n - half : n + half + 1] for n in range(half, 20 - half)]
    mean = possible._moving_mean(values[:, np.newaxis], half)[:, 0]
    assert mean == pytest.approx([window.mean() for window in windows])
    lowest = possible._running(np.fmin, values, half)
    assert lowest[half:-half] == pytest.approx([window.min() for window in windows])
    assert np.isnan(lowest[:half]).all() and np.isnan(lowest[-half:]).all()


def test_a_median_is_the_lower_of_two_and_of_what_is_seen():
    values = np.array([[4.0, np.nan], [1.0, np.nan], [3.0, 2.0], [2.0, 7.0]])
    assert possible._median(values) == pytest.approx([2.0, 2.0])
    assert possible._median(values, axis=1) == pytest.approx([4.0, 1.0, 2.0, 2.0])
    assert np.isnan(possible._median(np.full((3, 1), np.nan))).all()
    assert np.isnan(possible._median(np.zeros((0, 2)))).tolist() == [True, True]
    assert possible._mean(values) == pytest.approx([2.5, 4.5])
