"""What the largest of several readings is too large by, against chance drawn many times."""

from __future__ import annotations

import numpy as np
import pytest

from squatlab.review import ErrorModel, measure
from squatlab.review.largest import excess_of_larger, excess_of_peak, expected_larger
from squatlab.review.measurers import MEASURERS
from squatlab.review.quantities import Quantities
from squatlab.review.uncertainty import best_views
from tests.benchmarks.filming import CONDITIONS, filmed
from tests.review.squats import BAR_KG, LIFTER, SIDE, squat

MANY = 40_000


def drawn(means, covariance):
    """Return many draws (draw, 2) of two normal numbers."""
    return np.random.default_rng(1).multivariate_normal(means, covariance, MANY)


def test_the_larger_of_two_standard_normal_numbers_is_one_over_root_pi_on_average():
    """0.5642, as tables of order statistics have it (Teichroew 1956, from memory)."""
    assert expected_larger(0.0, 0.0, np.sqrt(2)) == pytest.approx(0.56419, abs=1e-5)


@pytest.mark.parametrize("means", [(0.0, 0.0), (1.0, 0.0), (-2.0, 3.0)])
@pytest.mark.parametrize("correlation", [-0.9, 0.0, 0.7])
def test_the_closed_form_is_what_draws_show(means, correlation):
    covariance = np.array([[1.0, 2.0 * correlation], [2.0 * correlation, 4.0]])
    larger = drawn(means, covariance).max(axis=1)
    gap_sd = np.sqrt(1.0 + 4.0 - 4.0 * correlation)
    assert expected_larger(*means, gap_sd) == pytest.approx(larger.mean(), abs=0.04)
    excess = excess_of_larger(np.array(means), covariance)
    assert excess == pytest.approx(larger.mean() - max(means), abs=0.04)


def test_it_is_less_the_further_two_readings_are_apart_and_nothing_where_they_are_exact():
    covariance = np.diag([1.0, 1.0])
    excesses = [excess_of_larger(np.array([gap, 0.0]), covariance) for gap in (0.0, 1.0, 2.0, 6.0)]
    assert excesses == sorted(excesses, reverse=True) and excesses[-1] < 1e-4
    assert excess_of_larger(np.array([3.0, 3.0]), np.zeros((2, 2))) == 0.0
    # Errors that both share make neither the larger.
    assert excess_of_larger(np.array([3.0, 3.0]), np.ones((2, 2))) == 0.0


def test_the_peak_of_a_level_series_is_lower_by_its_jitter():
    """The mean of the largest of 50 standard normal numbers is 2.249 (as above)."""
    rng = np.random.default_rng(2)
    peaks, excesses = [], []
    for _ in range(300):
        series = rng.normal(0, 1, 50)
        peaks.append(series.max())
        excesses.append(excess_of_peak(series, rng.normal(0, 1, (12, 50))))
    assert np.mean(peaks) == pytest.approx(2.249, abs=0.1)
    assert np.mean(excesses) == pytest.approx(2.249, rel=0.1)


def test_what_moves_all_frames_alike_makes_no_peak_too_large():
    series = np.sin(np.linspace(0, np.pi, 30))
    assert excess_of_peak(series, np.ones((12, 30))) == pytest.approx(0.0, abs=1e-12)


def test_a_value_and_its_excess_are_what_the_views_read():
    """Both knees' larger, and peaks over time; the head's and exact films' values have none."""
    declared = {"lifter": LIFTER, "bar_kg": BAR_KG, "camera": SIDE}
    films = filmed(squat(), CONDITIONS["gym"], np.random.default_rng(1), 30.0)
    findings = measure(*films, **declared)
    views = {view.kind: Quantities(view) for view in best_views(*films, **declared)}
    for name in ("knee_valgus", "knees_far_forward", "uneven_bar", "head_up"):
        finding = findings[name]
        quantities = views[finding.view]
        reading = MEASURERS[name](quantities, quantities.repetition)
        assert finding.excess == 0 if name == "head_up" else finding.excess > 0, name
        each = finding.each[0] + finding.excess
        assert each == pytest.approx(float(reading.value)), name
    exact = measure(*films, errors=ErrorModel.exact(), **declared)
    assert all(finding.excess == 0 for finding in exact)


def test_a_finding_is_told_without_it_and_says_so():
    """The bar's tilt, at most, of six films of one squat: nearer the truth than what they read."""
    rep = squat(("uneven_bar", 3.0))
    truth = measure(rep.tracks(), errors=ErrorModel.exact())["uneven_bar"]
    assert "chance" not in truth.reason
    declared = {"lifter": LIFTER, "bar_kg": BAR_KG, "camera": SIDE}
    told, read = [], []
    for seed in range(6):
        _, front = filmed(rep, CONDITIONS["gym"], np.random.default_rng(seed), 30.0)
        finding = measure(front, **declared)["uneven_bar"]
        told.append(finding.value)
        read.append(measure(front, errors=ErrorModel.exact(), **declared)["uneven_bar"].value)
        assert finding.each == (finding.value,)
    assert np.mean(read) - truth.value > 0.2
    assert abs(np.mean(told) - truth.value) < 0.75 * (np.mean(read) - truth.value)
