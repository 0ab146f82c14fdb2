"""Filters, derivatives, onsets and repetitions against answers known beforehand."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from squatlab.signals import (
    derivative,
    low_pass,
    minimum_jerk,
    onset,
    residual_analysis,
    split_repetitions,
)
from tests import stick_figure

MILLISECOND = 1e-3


def gains(frequencies, rate, cutoff):
    """Return what the filter leaves of long sines, end effects cut off."""
    time = np.arange(int(12 * rate))[:, np.newaxis] / rate
    wave = np.exp(2j * np.pi * np.array(frequencies) * time)
    middle = slice(len(time) // 3, -len(time) // 3)
    passed = low_pass(wave.real, rate, cutoff) + 1j * low_pass(wave.imag, rate, cutoff)
    return passed[middle] / wave[middle]


@pytest.mark.parametrize("rate", [25, 30, 60, 120, 240, 1000])
@pytest.mark.parametrize("cutoff", [3.0, 6.0, 10.0])
def test_minus_3_db_falls_on_the_cutoff(rate, cutoff):
    """Winter (2009), section 2.2.4.4: the whole filter leaves 1/sqrt(2) at its cut-off."""
    below, at, above = np.abs(gains([0.99 * cutoff, cutoff, 1.01 * cutoff], rate, cutoff)).T
    assert at == pytest.approx(0.5**0.5, abs=1e-4)
    assert below.min() > 0.5**0.5 > above.max()


@pytest.mark.parametrize("rate", [30, 120])
def test_response_is_that_of_two_passes_without_delay(rate):
    """SciPy's own frequency response of a second-order Butterworth, squared."""
    design = np.arctan(np.tan(np.pi * 6 / rate) / 0.8022) * rate / np.pi
    sections = signal.butter(2, design, fs=rate, output="sos")
    frequencies = [1.0, 3.0, 6.0, 9.0, 12.0]
    _, once = signal.freqz_sos(sections, frequencies, fs=rate)
    found = gains(frequencies, rate, 6.0)
    assert found.real == pytest.approx(np.tile(abs(once) ** 2, (len(found), 1)), abs=1e-4)
    assert abs(found.imag).max() < 1e-4, "a phase is a delay"


def test_filter_keeps_straight_lines_and_axes():
    lines = np.linspace(0, 1, 90)[:, np.newaxis, np.newaxis] * np.arange(1, 7).reshape(2, 3) + 5
    assert low_pass(lines, 60) == pytest.approx(lines, abs=1e-7)
    noisy = lines + np.random.default_rng(1).normal(0, 0.1, lines.shape)
    together = low_pass(noisy, 60)
    assert together[:, 1, 2] == pytest.approx(low_pass(noisy[:, 1, 2], 60), abs=1e-12)


def test_gaps_stay_gaps_and_their_sides_do_not_mix():
    values = np.random.default_rng(2).normal(size=(120, 3, 2))
    values[40:50, 1] = np.nan
    values[[0, 119], 2] = np.nan
    filtered = low_pass(values, 60)
    assert np.array_equal(np.isnan(filtered), np.isnan(values))
    assert filtered[50:, 1] == pytest.approx(low_pass(values[50:, 1], 60), abs=1e-12)
    assert filtered[:40, 1] == pytest.approx(low_pass(values[:40, 1], 60), abs=1e-12)
    lone = np.array([np.nan, 3.0, np.nan, 1.0, 2.0, np.nan])
    assert low_pass(lone, 60)[1] == 3.0
    assert np.isnan(low_pass(np.full(9, np.nan), 60)).all()


@pytest.mark.parametrize("cutoff", [0, -1, 15, 40, np.nan])
def test_impossible_cutoffs_are_refused(cutoff):
    words = "cutoff_hz is .* between 0.01 and 14.97 Hz at a frame rate of 30"
    with pytest.raises(ValueError, match=words):
        low_pass(np.zeros(90), 30, cutoff)


def test_single_numbers_are_refused():
    with pytest.raises(ValueError, match="give one for every frame"):
        low_pass(1.0, 30)


def test_minimum_jerk_constants():
    """Flash & Hogan (1985): peak speed 1.875 A/D, peak acceleration 5.7735 A/D²."""
    moved = minimum_jerk(np.linspace(-0.5, 1.5, 400_001))
    assert moved.speed.max() == pytest.approx(1.875, abs=1e-9)
    assert moved.acceleration.max() == pytest.approx(10 / 3**0.5, abs=1e-7)
    assert moved.acceleration.min() == pytest.approx(-5.7735, abs=1e-4)
    assert moved.position[[0, 200_000, -1]] == pytest.approx([0, 0.5, 1], abs=1e-12)
    assert moved.speed[[0, -1]].tolist() == moved.acceleration[[0, -1]].tolist() == [0, 0]


def test_minimum_jerk_derivatives_are_those_of_its_position():
    tau = np.linspace(0, 1, 2001)
    moved = minimum_jerk(tau)
    assert derivative(moved.position, 2000) == pytest.approx(moved.speed, abs=1e-5)
    assert derivative(moved.position, 2000, 2)[1:-1] == pytest.approx(
        moved.acceleration[1:-1], abs=1e-4
    )


def test_derivatives_are_exact_for_a_parabola():
    time = np.arange(50)[:, np.newaxis] / 30
    fall = 2 - 4.905 * time**2 + time * np.array([0.0, 3.0])
    assert derivative(fall, 30) == pytest.approx(-9.81 * time + np.array([0.0, 3.0]), abs=1e-9)
    assert derivative(fall, 30, 2) == pytest.approx(np.full((50, 2), -9.81), abs=1e-8)


def test_derivatives_refuse_what_they_cannot():
    with pytest.raises(ValueError, match=r"order is 3; it must be 1 \(speed\) or 2"):
        derivative(np.zeros(9), 30, 3)
    with pytest.raises(ValueError, match="2 frames; a derivative needs three"):
        derivative(np.zeros(2), 30)


@pytest.mark.parametrize("rate", [60, 120, 240])
def test_residual_analysis_finds_the_noise(rate):
    """Winter (2009), section 2.2.4.5: the line of the tail meets 0 Hz at the noise."""
    noise, rng = 0.008, np.random.default_rng(3)
    times, positions = stick_figure.figure(rate)
    clean = positions[:, stick_figure.NAMES.index("hip_r"), 1]
    values = clean[:, np.newaxis] + rng.normal(0, noise, (len(times), 60))
    found = residual_analysis(values, rate)
    assert found.cutoff_hz.shape == found.noise.shape == (60,)
    assert found.residuals.shape == (found.frequencies_hz.size, 60)
    assert np.median(found.noise) == pytest.approx(noise, rel=0.06)
    assert 1 < np.median(found.cutoff_hz) < 6
    # It balances what it lets through against what it rounds off: near the best there is.
    error = [
        np.sqrt(np.mean((low_pass(values, rate, f) - clean[:, np.newaxis]) ** 2))
        for f in (np.median(found.cutoff_hz), *found.frequencies_hz)
    ]
    assert error[0] < 1.25 * min(error)


def test_residual_analysis_keeps_more_of_a_faster_movement():
    rng, time = np.random.default_rng(4), np.arange(480) / 120
    slow, fast = (np.sin(2 * np.pi * f * time) + rng.normal(0, 0.02, 480) for f in (0.5, 4.0))
    cutoffs = residual_analysis(np.stack([slow, fast], axis=1), 120).cutoff_hz
    assert cutoffs[1] > 2 * cutoffs[0]
    single = residual_analysis(fast, 120)
    assert isinstance(single.cutoff_hz, float)
    assert single.cutoff_hz == pytest.approx(cutoffs[1])
    with pytest.raises(ValueError, match="take a stretch of frames without any"):
        residual_analysis(np.where(time > 1, slow, np.nan), 120)


@pytest.mark.parametrize("rate", [30, 60, 240])
def test_onset_of_a_ramp(rate):
    """A ramp from 0.5 s to 1.5 s passes 5 % of its way at 0.55 s, up or down."""
    time = np.arange(int(2 * rate)) / rate
    ramp = np.clip(time - 0.5, 0, 1)
    both = np.stack([10 + 80 * ramp, 170 - 80 * ramp, ramp * 0 + 3], axis=1)
    found = onset(both, time)
    assert found[:2] == pytest.approx([0.55, 0.55], abs=1e-9)
    assert np.isnan(found[2]), "nothing moves"
    assert onset(both[:, 0], time, 0.2) == pytest.approx(0.7, abs=1e-9)
    assert isinstance(onset(both[:, 0], time), float)


def test_onset_of_a_minimum_jerk_movement():
    """10τ³ − 15τ⁴ + 6τ⁵ is 0.05 at τ = 0.18927 (Flash & Hogan 1985's polynomial)."""
    root = min(r.real for r in np.roots([6, -15, 10, 0, 0, -0.05]) if 0 < r.real < 1 and not r.imag)
    time = np.arange(300) / 120
    angle = 4 + 96 * minimum_jerk((time - 0.6) / 1.3).position
    assert onset(angle, time) == pytest.approx(0.6 + 1.3 * root, abs=MILLISECOND)


def test_onset_is_searched_backward_so_a_twitch_does_not_count():
    time = np.arange(240) / 60
    twitch = 0.2 * np.exp(-(((time - 0.4) / 0.05) ** 2))
    values = twitch + np.clip(time - 2, 0, 1)
    assert onset(values, time) == pytest.approx(2.05, abs=1e-6)


def test_onset_is_that_of_the_way_out_not_of_the_way_back():
    time = np.arange(240) / 60
    there_and_back = np.clip(time - 0.5, 0, 1) - np.clip(time - 2, 0, 1)
    assert onset(there_and_back, time) == pytest.approx(0.55, abs=1e-9)


def test_onset_takes_a_rest_and_an_end_from_outside():
    time = np.arange(61) / 60
    ramp = 20 + 50 * time
    assert np.isnan(onset(ramp + 10, time, rest=20, end=80)), "it moved before the first frame"
    assert onset(ramp, time, rest=20, end=120) == pytest.approx(0.1)
    gap = np.where((time > 0.04) & (time < 0.12), np.nan, ramp)
    assert np.isnan(onset(gap, time, rest=20, end=120)), "hidden just then: cannot tell"
    assert np.isnan(onset(np.full(61, np.nan), time))


@pytest.mark.parametrize("count", [1, 2, 3, 6])
@pytest.mark.parametrize("rate", [25, 30, 60, 240])
def test_repetitions_are_counted_and_placed(count, rate):
    times, positions = stick_figure.figure(rate, count)
    hip = positions[:, stick_figure.NAMES.index("hip_r"), 1]
    noisy = hip + np.random.default_rng(count * rate).normal(0, 0.008, hip.size)
    for height in (hip, noisy):
        found = split_repetitions(height, times)
        assert len(found) == count
        for repetition, bottom in zip(found, stick_figure.bottoms(count), strict=True):
            assert times[repetition.bottom] == pytest.approx(bottom, abs=0.12)
            begin, end = bottom - stick_figure.DESCENT_S, bottom + stick_figure.ASCENT_S
            assert begin - 0.1 < times[repetition.start] < begin + 0.45
            assert end - 0.45 < times[repetition.end] < end + 0.1
            assert np.diff(hip[repetition.descent][[0, -1]]) < -0.3
            assert np.diff(hip[repetition.ascent][[0, -1]]) > 0.3
        for first, second in zip(found, found[1:], strict=False):
            assert first.end <= second.start


def test_the_bottom_is_exact_without_noise():
    times, positions = stick_figure.figure(240, 2)
    hip = positions[:, stick_figure.NAMES.index("hip_r"), 1]
    found = [times[r.bottom] for r in split_repetitions(hip, times)]
    assert found == pytest.approx(stick_figure.bottoms(2), abs=0.005)


def test_repetitions_without_a_pause_between_them():
    time = np.arange(600) / 60
    bounce = 0.7 + 0.25 * np.cos(2 * np.pi * time / 2)
    found = split_repetitions(bounce, time)
    assert [time[r.bottom] for r in found] == pytest.approx([1, 3, 5, 7, 9], abs=0.02)


def test_a_wobble_and_a_pause_in_the_hole_are_one_repetition():
    time = np.arange(360) / 60
    down = minimum_jerk(time - 1).position - minimum_jerk(time - 4).position
    hip = 0.95 - 0.4 * down + 0.03 * np.sin(2 * np.pi * time / 0.8) * (down > 0.99)
    assert len(split_repetitions(hip, time)) == 1


@pytest.mark.parametrize("noise", [0.0, 0.002, 0.008, 3.0])
def test_standing_and_swaying_is_no_repetition(noise):
    time = np.arange(600) / 60
    sway = 0.95 + 0.03 * np.sin(time) + np.random.default_rng(5).normal(0, noise, 600)
    assert split_repetitions(sway, time) == []


def test_small_dips_beside_deep_ones_are_none():
    times, positions = stick_figure.figure(60, 2)
    hip = positions[:, stick_figure.NAMES.index("hip_r"), 1].copy()
    hip -= 0.17 * np.exp(-(((times - 3.7) / 0.2) ** 2))
    assert len(split_repetitions(hip, times)) == 2


def test_gaps_do_not_matter_and_emptiness_is_no_repetition():
    times, positions = stick_figure.figure(60, 3)
    hip = positions[:, stick_figure.NAMES.index("hip_r"), 1].copy()
    hip[::17] = hip[200:206] = np.nan
    assert len(split_repetitions(hip, times)) == 3
    assert split_repetitions(np.full(50, np.nan), np.arange(50) / 30) == []
    with pytest.raises(ValueError, match="give the height of one point"):
        split_repetitions(positions, times)


def test_a_recording_that_begins_on_the_way_down_starts_there():
    height = np.concatenate([np.linspace(0.0, -0.4, 8), np.linspace(-0.4, 0.0, 40)[1:]])
    (part,) = split_repetitions(height, np.arange(height.size) / 30, smooth=height)
    assert (part.start, part.bottom) == (0, 7) and part.end > 40


def test_half_a_repetition_is_none():
    times, positions = stick_figure.figure(60)
    hip = positions[:, stick_figure.NAMES.index("hip_r"), 1]
    for part in (times <= stick_figure.bottoms()[0], times >= stick_figure.bottoms()[0]):
        assert split_repetitions(hip[part], times[part]) == []
