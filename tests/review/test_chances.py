"""A reading is weighed with how people read: against numerical integration and the norms."""

from types import SimpleNamespace

import numpy as np
import pytest
from scipy import stats

from squatlab import faults
from squatlab.norms import norms_of
from squatlab.review import judging
from squatlab.review.chances import Normal, chances_of, expected_of, sure_size, weighed
from squatlab.review.findings import Finding

WITH_NORM = [fault for fault in faults.catalogue().values() if expected_of(fault)]
WITHOUT = [fault for fault in faults.catalogue().values() if not expected_of(fault)]


def test_nothing_is_expected_without_an_open_norm():
    assert {fault.id for fault in WITH_NORM} == {
        fault.id for fault in faults.catalogue().values() if norms_of(fault.id)
    }
    reading = Normal(3.0, 5.0)
    assert WITHOUT and all(weighed(fault, reading) == reading for fault in WITHOUT)


@pytest.mark.parametrize("fault", WITH_NORM, ids=lambda fault: fault.id)
def test_one_person_of_fourteen_is_gross_and_people_spread_no_wider(fault):
    expected = expected_of(fault)
    middle_out = abs(fault.gross - expected.mean) / expected.sd
    assert stats.norm.sf(middle_out) == pytest.approx(1 / 14)
    for norm in norms_of(fault.id):
        if norm.has_spread:
            # Half of a normal distribution lies within 0.674 SD. The quartiles are rounded to
            # a tenth, hence the hundredth part.
            assert 1.01 * expected.sd >= (norm.upper - norm.lower) / (2 * 0.6745)


@pytest.mark.parametrize("sd", [0.1, 1.0, 3.0], ids="{:g} of the spread".format)
def test_weighing_is_the_product_of_both_densities(sd):
    fault = faults.fault("lumbar_rounding")
    expected = expected_of(fault)
    reading = Normal(fault.clear, sd * expected.sd)
    values = np.linspace(-200, 200, 400_001)
    density = stats.norm.pdf(values, *expected) * stats.norm.pdf(reading.mean, values, reading.sd)
    density /= density.sum()
    mean = density @ values
    assert weighed(fault, reading) == pytest.approx(
        (mean, np.sqrt(density @ (values - mean) ** 2)), rel=1e-6
    )
    beyond = [density[values > limit].sum() for limit in fault.thresholds]
    assert chances_of(fault, reading) == pytest.approx(beyond, abs=2e-4)


@pytest.mark.parametrize("fault", WITH_NORM, ids=lambda fault: fault.id)
def test_a_sure_reading_stays_and_an_unsure_one_is_no_pass(fault):
    sure = Normal(fault.clear, 1e-3 * abs(fault.gross - fault.slight))
    assert weighed(fault, sure) == pytest.approx(sure, rel=1e-4)
    # Read as clear, so unsurely that people as they are make the fault doubtful.
    worse = 1 if fault.gross > fault.slight else -1
    unsure = Normal(fault.clear + worse * 1e-9, 3 * expected_of(fault).sd)
    chances = chances_of(fault, unsure)
    assert chances[0] < 0.9 and sure_size(fault, unsure, chances) is None


@pytest.mark.parametrize("fault", faults.catalogue().values(), ids=lambda fault: fault.id)
@pytest.mark.parametrize("sd_of_span", [0.2, 0.6])
def test_not_there_is_sure_up_to_where_the_interval_reaches_clear(fault, sd_of_span):
    """1.96 SD from clear, on the good side of it, and not surely there: a hair either way."""
    sd = sd_of_span * abs(fault.gross - fault.clear)
    better = 1.0 if fault.smaller_is_worse else -1.0
    for hair, told in ((0.01, ""), (-0.01, None)):
        reading = Normal(fault.clear + better * (1.96 + hair) * sd, sd)
        assert sure_size(fault, reading, (0.5, 0.2, 0.0)) == told
    # What is there with nine chances in ten is there, of the largest size with seven in ten.
    reading = Normal(fault.clear, sd)
    assert sure_size(fault, reading, (0.89, 0.89, 0.89)) is None
    for chances, size in (
        ((0.9, 0.69, 0.1), "slight"),
        ((0.95, 0.7, 0.69), "clear"),
        ((1.0, 1.0, 0.7), "gross"),
    ):
        assert sure_size(fault, reading, chances) == size


@pytest.mark.parametrize("fault", WITH_NORM, ids=lambda fault: fault.id)
def test_samples_of_a_reading_lie_about_what_it_probably_is(fault):
    """A reading as unsure as people differ: by Bayes its SD is √½ of either."""
    sd = expected_of(fault).sd
    worse = 1.0 if fault.gross > fault.slight else -1.0
    # Weighed half and half with the mean of people it is 1.5 of its SDs beyond slight.
    value = 2 * (fault.slight + worse * 1.5 * sd * np.sqrt(0.5)) - expected_of(fault).mean
    judged = judging._Judged(Finding(fault.id), value, judging._Spread(np.zeros(1), sd, 0.0))
    nothing_else = SimpleNamespace(covariance=np.zeros((1, 1)))
    severity = judging._samples([judged], nothing_else)[:, 0]
    share = np.mean(severity >= 1.0)
    assert share == pytest.approx(stats.norm.cdf(1.5), abs=0.035)
    assert chances_of(fault, Normal(value, sd))[0] == pytest.approx(stats.norm.cdf(1.5), abs=1e-6)
