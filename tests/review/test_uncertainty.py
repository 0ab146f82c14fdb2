"""How sure a finding is: what disturbs films is found again, and said as ± and as doubt."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from scipy import signal, stats

from squatlab.review import ErrorModel, measure, prioritise
from squatlab.review.jitter import Jitter, drawn_jitter, jitter_of
from squatlab.review.uncertainty import (
    SHARE_SPREAD,
    SHARES,
    USUAL_SHARE,
    Held,
    _weighed,
    best_views,
    estimate,
)
from squatlab.review.view import views_of
from tests.benchmarks.filming import CONDITIONS, filmed
from tests.review.squats import BAR_KG, LIFTER, SIDE, squat

DECLARED = {"lifter": LIFTER, "bar_kg": BAR_KG, "camera": SIDE}
CLEAN = squat()


def films(name, rep=CLEAN, seed=1):
    """Return both films of a repetition under a condition of the benchmark."""
    return filmed(rep, CONDITIONS[name], np.random.default_rng(seed), 60.0)


def estimated(name, seed=1):
    """Return what the errors of such films are estimated to be."""
    return estimate(views_of(*films(name, seed=seed), **DECLARED), ErrorModel())


def amount(found, kind, view=None):
    """Return the estimated amount of a disturbance and its SD."""
    numbers = [
        number
        for number, one in enumerate(found.disturbances)
        if one.kind == kind and one.view == view
    ]
    (number,) = numbers
    return found.amounts[number], found.covariance[number, number] ** 0.5


def test_jitter_is_read_from_standing():
    """3 px at 375 px/m are 8 mm; 15 mm that last .2 s are found within a third."""
    for jitter in estimated("white").jitters:
        assert jitter.sd_m == pytest.approx(0.008, abs=0.001)
        assert jitter.seconds < 0.02
    for jitter in estimated("lasting").jitters:
        assert jitter.sd_m == pytest.approx(0.015, abs=0.006)
        assert 0.05 < jitter.seconds < 0.4


@pytest.mark.parametrize("lasts_s", [0.0, 0.1])
def test_jitter_that_lasts_is_not_taken_for_the_standing_itself(lasts_s):
    """Wander of a known size: what its mean over a short standing hides is put back.

    A first-order autoregression of SD 1 cm. Half a second and more of
    standing hides up to a third of the variance of what lasts 0.1 s.
    """
    view = views_of(*films("white"), **DECLARED)[0]
    decay = np.exp(-1 / (view.rate * lasts_s)) if lasts_s else 0.0
    variances, durations = [], []
    for seed in range(20):
        white = np.random.default_rng(seed).normal(0, 0.010, view.unfiltered.shape)
        white[1:] *= np.sqrt(1 - decay**2)
        found = jitter_of(
            replace(view, unfiltered=signal.lfilter([1.0], [1.0, -decay], white, axis=0)),
            grows=False,
        )
        variances.append(found.sd_m**2)
        durations.append(found.seconds)
    assert np.sqrt(np.mean(variances)) == pytest.approx(0.010, rel=0.08)
    assert np.median(durations) == pytest.approx(lasts_s, rel=0.25, abs=0.005)


def test_jitter_at_the_bottom_is_read_from_there():
    """In a clip of another make it doubles on the way down, in a usual one it stays."""
    for name, expected in (("own", 2.0), ("gym", 1.0), ("white", 1.0)):
        for jitter in estimated(name).jitters:
            assert jitter.growth == pytest.approx(expected, rel=0.25)


def test_how_far_out_a_knee_is_is_found_where_no_front_view_shows_it():
    """From the length that the thigh seems to have at the bottom."""
    for turnout in (5.0, 40.0):
        rep = squat(turnout=turnout)
        found = estimate(views_of(films("white", rep)[0], **DECLARED), ErrorModel())
        _, sd = amount(found, "outward", 0)
        knee = rep.points["knee_r"]
        true = float(knee[int(np.argmin(knee[:, 1])), 2])
        assert found.views[0].depths["knee"] == pytest.approx(true, abs=2 * sd)
        assert sd < 0.05
    both = estimate(views_of(*films("white"), **DECLARED), ErrorModel())
    assert not any(one.kind == "outward" for one in both.disturbances)


def test_a_roll_a_slide_and_a_placement_error_are_found_again():
    for seed in (1, 2, 3):
        for view in (0, 1):
            roll, sd = amount(estimated("roll", seed), "roll", view)
            assert abs(roll) == pytest.approx(np.radians(3.0), abs=3 * sd + 0.01)
        slide, sd = amount(estimated("slide", seed), "slide")
        assert slide == pytest.approx(0.03, abs=2.5 * sd)
    assert estimated("white").placement < 0.25 < 0.5 < estimated("placement").placement


def test_an_exact_recording_has_no_interval_and_a_film_has_one():
    exact = measure(CLEAN.tracks(), errors=ErrorModel.exact())
    assert exact.samples is None and all(one.plus_minus == 0 for one in exact)
    film = measure(*films("gym"), **DECLARED)
    jitter = measure(*films("white"), errors=ErrorModel.jitter_only(), **DECLARED)
    for name in ("short_depth", "knee_valgus", "hips_rise_first"):
        assert 0 < jitter[name].plus_minus < film[name].plus_minus
        assert film[name].interval.startswith("± ") or film[name].present == "cannot tell"
        slight, clear, gross = film[name].chances
        assert 1 >= slight >= clear >= gross >= 0


def test_a_size_is_said_only_where_it_is_sure():
    rep = squat(("knee_valgus", 7.3))
    exactly = measure(rep.tracks(), errors=ErrorModel.exact())["knee_valgus"]
    assert exactly.size == "clear"
    found = measure(*films("gym", rep), **DECLARED)["knee_valgus"]
    assert found.size != "gross"
    if found.present == "yes":
        assert found.chances[0] >= 0.9 and (found.size == "slight" or found.chances[1] >= 0.7)
        assert found.severity < 2 or found.size == "clear"


def test_what_cannot_be_told_says_why_and_what_to_do():
    found = measure(*films("lasting"), **DECLARED)
    doubtful = [one for one in found if one.present == "cannot tell"]
    assert doubtful
    for one in doubtful:
        assert one.reason.startswith("between ") and ";" in one.reason


def test_the_ranking_says_how_sure_the_first_is():
    sure = prioritise(measure(*films("white", squat(("knee_valgus", 10))), **DECLARED))
    assert sure.first.fault == "knee_valgus" and sure.sureness > 0.95 and len(sure.named) == 1
    close = squat(("knee_valgus", 4.5), ("heel_lift", 1.9))
    ranking = prioritise(measure(*films("gym", close), **DECLARED))
    assert 0 <= ranking.sureness <= 1
    assert len(ranking.named) == (2 if ranking.sureness < 0.8 and ranking.rival else 1)


def test_several_repetitions_narrow_what_jitters():
    one, three = (squat(repetitions=count) for count in (1, 3))
    model = ErrorModel.jitter_only()
    spans = [
        measure(*films("white", rep), errors=model, **DECLARED)["short_depth"].plus_minus
        for rep in (one, three)
    ]
    assert spans[1] < 0.95 * spans[0]


def test_a_trimmed_clip_is_answered_less_surely():
    whole = films("white")
    first, last = int(1.0 * 60), len(whole[0].times) - int(1.0 * 60)
    cut = [
        replace(one, times=one.times[first:last], positions=one.positions[first:last])
        for one in whole
    ]
    found, before = measure(*cut, **DECLARED), measure(*whole, **DECLARED)
    assert all(view.is_trimmed for view in views_of(*cut, **DECLARED)) or found.repetitions
    for name in ("short_depth", "fast_descent"):
        assert found[name].present != "cannot tell"
        assert found[name].plus_minus >= 0.9 * before[name].plus_minus


def test_what_is_measured_is_left_as_it_was_given():
    given = films("gym")
    before = [one.positions.copy() for one in given]
    best_views(*given, **DECLARED)
    for one, positions in zip(given, before, strict=True):
        assert np.array_equal(one.positions, positions, equal_nan=True)


def held_by_chance(seed):
    """Return seven laws and four disturbances with numbers drawn at random, and their priors."""
    rng = np.random.default_rng(seed)
    held = Held(rng.normal(0, 0.02, 7), rng.uniform(0.005, 0.02, 7), rng.normal(0, 1, (7, 4)))
    return held, rng.uniform(0.005, 0.03, 4), np.array([True, True, False, False])


def test_the_update_is_that_of_least_squares_with_a_prior():
    """Information form: (D⁻¹ + Sᵀ R⁻¹ S)⁻¹ and it times Sᵀ R⁻¹ a, as in any text on estimation."""
    held, prior, is_placement = held_by_chance(3)
    amounts, covariance, share = _weighed(held, prior, is_placement, 1.0)
    weighed = held.slope.T / held.slack**2
    information = np.diag(prior**-2) + weighed @ held.slope
    assert covariance == pytest.approx(np.linalg.inv(information))
    assert amounts == pytest.approx(np.linalg.solve(information, weighed @ held.away))
    assert share == 1.0


def test_shares_of_placement_are_mixed_by_how_well_each_explains():
    """By SciPy's normal densities: of what is seen, and of the share's logarithm beforehand."""
    held, prior, is_placement = held_by_chance(4)
    densities, means, spreads = [], [], []
    for share in SHARES:
        sd = np.where(is_placement, share * prior, prior)
        total = held.slope @ np.diag(sd**2) @ held.slope.T + np.diag(held.slack**2)
        seen = stats.multivariate_normal.pdf(held.away, cov=total)
        densities.append(seen * stats.norm.pdf(np.log(share), np.log(USUAL_SHARE), SHARE_SPREAD))
        mean, spread, _ = _weighed(held, sd, np.zeros(4, dtype=bool), 1.0)
        means.append(mean)
        spreads.append(spread)
    weights = np.array(densities) / sum(densities)
    assert 0.1 < weights.max() < 0.9  # several count
    amounts, covariance, share = _weighed(held, prior, is_placement, None)
    assert share == pytest.approx(weights @ SHARES)
    assert amounts == pytest.approx(weights @ np.array(means))
    # The law of total covariance: the mean of spreads and the spread of means.
    of_means = np.cov(np.array(means).T, aweights=weights, ddof=0)
    assert covariance == pytest.approx(np.tensordot(weights, spreads, 1) + of_means)
    assert _weighed(held._replace(away=np.zeros(0)), np.zeros(0), is_placement, None)[2] == 0.0


def test_drawn_jitter_is_as_large_and_lasts_as_long_at_either_end_as_between():
    """The SD that was asked, less what the filter takes of jitter that lasts: under a tenth."""
    view = views_of(*films("white"), **DECLARED)[0]
    draws = drawn_jitter(view, Jitter(0.010, 0.5), 150)
    assert draws.shape == (150, *view.seen.shape)
    sds = draws.std(axis=(0, 2, 3))
    assert sds[len(sds) // 2] == pytest.approx(0.010, rel=0.1)
    assert sds[[0, -1]] == pytest.approx(0.010, rel=0.15)
    assert draws.mean() == pytest.approx(0.0, abs=0.001)
    # An exponential decay: after the time that it lasts 1/e is left; of white noise nothing.
    assert _alike_after(draws, round(0.5 * view.rate)) == pytest.approx(np.exp(-1), abs=0.05)
    white = drawn_jitter(view, Jitter(0.010, 0.0), 20)
    assert _alike_after(white, round(0.5 * view.rate)) == pytest.approx(0.0, abs=0.05)


def _alike_after(draws, frames):
    """Return the correlation of draws (draw, time, …) with themselves some frames later."""
    return np.corrcoef(draws[:, frames:].ravel(), draws[:, :-frames].ravel())[0, 1]


def test_what_is_certain_is_left_as_it_was_declared():
    """Only a roll may be wrong: camera, body and load are those given."""
    views = views_of(*films("white"), **DECLARED)
    found = estimate(views, replace(ErrorModel.exact(), roll_deg=2.0))
    assert {one.kind for one in found.disturbances} == {"roll"}
    for freed, view in zip(found.views, views, strict=True):
        for name in ("distance_m", "height_m"):
            given = float(getattr(view.standpoint, name))
            assert float(getattr(freed.standpoint, name)) == pytest.approx(given)
        assert float(freed.body_kg) == pytest.approx(float(view.body_kg))
        assert float(freed.bar_kg) == pytest.approx(float(view.bar_kg))


def test_of_many_repetitions_their_range_and_middle_half_are_told():
    """Quartiles of 0 to 20 by hand: 5 and 15."""
    finding = measure(CLEAN.tracks(), errors=ErrorModel.exact())["short_depth"]
    words = replace(finding, each=tuple(map(float, range(21)))).each_in_words
    assert [float(number) for number in re.findall(r"\d+(?:\.\d+)?", words)] == [21, 0, 20, 5, 15]
