"""The exam's statistics against published figures, other libraries, and what must always hold."""

from __future__ import annotations

import csv
import pickle
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy import stats
from sklearn.metrics import cohen_kappa_score, ndcg_score
from statsmodels.stats import inter_rater

from squatlab.exam import statistics as exam
from squatlab.questions.agreement import ConfusionMap

AUTHORITIES = Path(__file__).parents[1] / "authorities"
ROUNDING = 1e-12
"""Two exact formulas may differ in the last bits."""


def table(name: str) -> np.ndarray:
    return np.loadtxt(AUTHORITIES / f"{name}.csv", delimiter=",", skiprows=1)


def cells(text: str) -> np.ndarray:
    return np.array([row.split() for row in text.split("/")], dtype=float)


def published() -> list[dict[str, str]]:
    with (AUTHORITIES / "exam_statistics.csv").open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


OF = {row["statistic"]: row["of"] for row in published()}
QUIZ = table("ecu_quiz")
DIAGNOSES = table("fleiss1971_diagnoses")
COHEN = cells(OF["cohen_kappa"])
PANEL = cells(OF["angoff"])
JUDGED = cells(OF["icc"])
COMPUTED = {
    "difficulty": lambda: exam.difficulty(QUIZ),
    "variance": lambda: QUIZ.sum(axis=1).var(),
    "item_rest": lambda: exam.item_rest(QUIZ),
    "kr20": lambda: exam.kr20(QUIZ),
    "kr21": lambda: exam.kr21(QUIZ),
    "standard_error": lambda: exam.standard_error(QUIZ),
    "decision_consistency": lambda: exam.decision_consistency(QUIZ, 6),
    "conditional_standard_error": lambda: exam.conditional_standard_error([28, 36], 40),
    "cohen_kappa": lambda: exam.cohen_kappa(COHEN),
    "weighted_kappa": lambda: exam.cohen_kappa(COHEN, [[0, 1, 3], [1, 0, 6], [3, 6, 0]]),
    "fleiss_kappa": lambda: exam.fleiss_kappa(DIAGNOSES),
    "dprime": lambda: exam.dprime([70, 50, 85], [30, 50, 15], [10, 40, 5], [90, 60, 95], None),
    # Gain and best gain, from the shares of two orders in one ideal.
    "ndcg": lambda: [
        exam.ndcg([3, 2, 3, 0, 1], [3, 2, 3, 0, 1]) * gain([3, 3, 2, 1, 0]),
        gain([3, 3, 2, 1]),
    ],
    "angoff": lambda: exam.angoff(PANEL)[:1] + exam.angoff(PANEL)[2:],
    "icc": lambda: exam.angoff(JUDGED.T / 10).icc,
    "ebel": lambda: [ebel().cut, ebel().whole],
}


def gain(relevance: list[float]) -> float:
    return sum(r / np.log2(n) for n, r in enumerate(relevance, 2))


def ebel():
    shares, counts = (cells(part) for part in OF["ebel"].split(";"))
    return exam.ebel(shares, counts)


@pytest.mark.parametrize("row", published(), ids=lambda row: row["statistic"])
def test_published_figures(row):
    expected = [float(number) for number in row["published"].split()]
    found = np.atleast_1d(COMPUTED[row["statistic"]]())
    assert found == pytest.approx(expected, rel=0, abs=float(row["within"])), row["citation"]


def test_every_figure_is_computed_here():
    assert [row["statistic"] for row in published()] == list(COMPUTED)


# Second opinions: other people's programs on random data.

MARKS = arrays(int, st.tuples(st.integers(3, 12), st.integers(2, 9)), elements=st.integers(0, 1))
COUNTS = st.integers(2, 5).flatmap(lambda n: arrays(int, (n, n), elements=st.integers(0, 30)))


@given(COUNTS, st.sampled_from([None, "linear", "quadratic"]))
def test_kappa_as_scikit_learn_has_it(counts, weights):
    one, two = np.indices(counts.shape)
    ours = exam.cohen_kappa(counts, weights)
    if np.isnan(ours):
        assert ours.reason
        return
    theirs = cohen_kappa_score(
        np.repeat(one, counts.ravel()),
        np.repeat(two, counts.ravel()),
        weights=weights,
        labels=np.arange(len(counts)),
    )
    assert ours == pytest.approx(theirs, abs=1e-9)


def test_kappas_as_statsmodels_has_them():
    for ours, theirs in ((None, None), ("linear", "linear"), ("quadratic", "quadratic")):
        second = inter_rater.cohens_kappa(COHEN, wt=theirs, return_results=False)
        assert exam.cohen_kappa(COHEN, ours) == pytest.approx(second, abs=ROUNDING)
    assert exam.fleiss_kappa(DIAGNOSES) == pytest.approx(
        inter_rater.fleiss_kappa(DIAGNOSES), abs=ROUNDING
    )


@given(arrays(float, st.integers(2, 9), elements=st.integers(0, 5)), st.randoms())
def test_ndcg_as_scikit_learn_has_it(gains, random):
    order = list(range(len(gains)))
    random.shuffle(order)
    ours = exam.ndcg(gains[order])
    if not gains.any():
        assert np.isnan(ours) and "nothing to put in order" in ours.reason
        return
    scores = np.empty(len(gains))
    scores[order] = np.arange(len(gains))[::-1]
    assert ours == pytest.approx(ndcg_score([gains], [scores]), abs=1e-9)


@given(MARKS)
def test_item_rest_as_scipy_has_it(marks):
    for item, ours in enumerate(exam.item_rest(marks)):
        rest = marks.sum(axis=1) - marks[:, item]
        if np.ptp(marks[:, item]) and np.ptp(rest):
            theirs = stats.pointbiserialr(marks[:, item], rest).statistic
            assert ours == pytest.approx(theirs, abs=1e-9)
        else:
            assert np.isnan(ours)


@given(MARKS)
def test_alpha_by_way_of_the_covariances(marks):
    """Cronbach (1951): the mean covariance of two items against the variance of the total."""
    ours = exam.kr20(marks)
    if np.isnan(ours):
        assert ours.reason
        return
    covariance, items = np.cov(marks.T), marks.shape[1]
    between = covariance.sum() - np.trace(covariance)
    assert ours == pytest.approx(items / (items - 1) * between / covariance.sum(), abs=1e-9)
    assert exam.kr21(marks) <= ours + 1e-9


def test_decisions_by_scipys_beta_binomial():
    """The second form, given a true share, is binomial: sum over shares instead of the formula."""
    rng = np.random.default_rng(3)
    marks = (rng.random((300, 12)) < rng.beta(4, 2, (300, 1))).astype(int)
    found = exam.decision_consistency(marks, 8)
    mean, trust = marks.sum(axis=1).mean(), exam.kr21(marks)
    a, b = (1 / trust - 1) * mean, (1 / trust - 1) * (12 - mean)
    shares, weights = np.polynomial.legendre.leggauss(400)
    shares, weights = (shares + 1) / 2, weights / 2
    passing = stats.binom.sf(7, 12, shares)
    density = weights * stats.beta.pdf(shares, a, b)
    alike = (density * (passing**2 + (1 - passing) ** 2)).sum()
    once = stats.betabinom.sf(7, 12, a, b)
    luck = once**2 + (1 - once) ** 2
    assert found.agreement == pytest.approx(alike, abs=1e-6)
    assert found.kappa == pytest.approx((alike - luck) / (1 - luck), abs=1e-6)
    assert not found.agreement.reason


def test_a_second_form_decides_as_estimated():
    """Two forms of the same 4,000 people, really answered."""
    rng = np.random.default_rng(4)
    true = rng.beta(6, 2, (4000, 1))
    first, second = (rng.random((4000, 30)) < true for _ in range(2))
    alike = ((first.sum(axis=1) >= 22) == (second.sum(axis=1) >= 22)).mean()
    # The share of 4,000 has a standard error of 0.006 at most.
    assert exam.decision_consistency(first, 22).agreement == pytest.approx(alike, abs=0.025)


# What must always hold.


@given(MARKS, st.randoms())
def test_neither_order_of_people_nor_of_items_matters(marks, random):
    people, items = list(range(marks.shape[0])), list(range(marks.shape[1]))
    random.shuffle(people)
    random.shuffle(items)
    other = marks[people][:, items]
    for statistic in (exam.item_rest, exam.upper_lower, exam.difficulty):
        assert statistic(other) == pytest.approx(statistic(marks)[items], abs=1e-9, nan_ok=True)
    for statistic in (exam.kr20, exam.kr21, exam.standard_error):
        assert statistic(other) == pytest.approx(statistic(marks), abs=1e-9, nan_ok=True)


@given(MARKS)
def test_statistics_stay_in_their_ranges(marks):
    with_rest, apart = exam.item_rest(marks), exam.upper_lower(marks)
    assert (abs(np.append(with_rest, apart)) <= 1 + 1e-9)[
        ~np.isnan(np.append(with_rest, apart))
    ].all()
    consistency = exam.decision_consistency(marks, marks.shape[1] // 2)
    if not np.isnan(consistency.agreement):
        assert 0 <= consistency.agreement <= 1 + 1e-9


def test_upper_and_lower_group_by_hand():
    """Ten people: 27 % are three places; behind a total of 5 three fours share the other two."""
    totals = [5, 4, 4, 4, 3, 3, 2, 1, 1, 0]
    marks = np.array([[1] * t + [0] * (5 - t) for t in totals])
    # Best: the five, and two thirds of each four. Weakest: 0, 1, 1.
    best = np.array([3, 3, 3, 3, 1]) / 3
    weakest = np.array([2, 0, 0, 0, 0]) / 3
    assert exam.upper_lower(marks) == pytest.approx(best - weakest)


@given(COUNTS)
def test_kappa_does_not_mind_who_is_rater_one(counts):
    both = exam.cohen_kappa(counts), exam.cohen_kappa(counts.T)
    assert both[0] == pytest.approx(both[1], abs=1e-9, nan_ok=True)
    assert np.isnan(both[0]) or -1 - 1e-9 <= both[0] <= 1 + 1e-9


@settings(max_examples=50)
@given(st.integers(0, 50), st.integers(0, 50), st.integers(0, 50), st.integers(0, 50))
def test_dprime_is_turned_round_with_the_answers(hits, misses, alarms, rejections):
    ours = exam.dprime(hits, misses, alarms, rejections)
    if not (hits + misses and alarms + rejections):
        assert np.isnan(ours) and "with the fault and lifts without" in ours.reason
        return
    assert exam.dprime(misses, hits, rejections, alarms) == pytest.approx(-ours, abs=1e-9)
    # Hautus (1995), formula: half a hit more in one trial more, on both sides.
    rate = [(hits + 0.5) / (hits + misses + 1), (alarms + 0.5) / (alarms + rejections + 1)]
    assert ours == pytest.approx(stats.norm.ppf(rate[0]) - stats.norm.ppf(rate[1]), abs=1e-9)


def test_confusion_map_counts_pairs_and_sums_over_the_rest():
    labels = ("a", "b", "nothing")
    found = exam.confusion_map(list("aabb"), ["a", "b", "b", "nothing"], labels)
    assert found.counts.tolist() == [[1, 1, 0], [0, 1, 1], [0, 0, 0]]
    a, b, nothing = found.faults()
    assert a[1:] == (1, 1, 0, 2) and (a.missed, a.over_called) == (0.5, 0.0)
    assert b[1:] == (1, 1, 1, 1) and b.kappa == pytest.approx(0.0)
    assert np.isnan(nothing.missed) and nothing.over_called == 0.25
    with pytest.raises(ValueError, match="c: not among the labels a, b, nothing"):
        exam.confusion_map(["a"], ["c"], labels)


@given(COUNTS)
def test_each_fault_against_the_rest_counts_everything_once(counts):
    for fault in ConfusionMap(tuple("abcde"[: len(counts)]), counts).faults():
        assert sum(fault[1:]) == counts.sum() and min(fault[1:]) >= 0


# When a number means nothing.

SAME = np.ones((40, 4))


@pytest.mark.parametrize(
    ("figure", "words"),
    [
        (lambda: exam.kr20(QUIZ[:2]), "2 people are too few to compare: three at least"),
        (lambda: exam.alpha(QUIZ[:, :1]), "one item cannot be compared with others"),
        (lambda: exam.kr21(SAME), "everybody has the same total"),
        (lambda: exam.standard_error(SAME), "everybody has the same total"),
        (lambda: exam.standard_error(QUIZ, np.nan), "the reliability is not a number"),
        (lambda: exam.decision_consistency(SAME, 2).kappa, "everybody has the same total"),
        (lambda: exam.decision_consistency(np.eye(3, 4), 2).agreement, "everybody has the same"),
        (
            lambda: exam.decision_consistency([[1, 0], [0, 1], [1, 1], [0, 1]], 1).agreement,
            "KR-21 is -.*, not above 0",
        ),
        (
            lambda: exam.decision_consistency([[1, 1], [0, 0], [1, 1]], 1).agreement,
            "everybody has all or nothing right",
        ),
        (lambda: exam.decision_consistency(QUIZ, 0).kappa, "passes everybody or nobody"),
        (lambda: exam.conditional_standard_error(1, 1), "one item has no error of its own"),
        (lambda: exam.cohen_kappa([[5, 0], [0, 0]]), "the same one category every time"),
        (lambda: exam.cohen_kappa([[0, 0], [0, 0]]), "nothing was rated"),
        (lambda: exam.fleiss_kappa([[3, 0], [3, 0]]), "the same one category every time"),
        (lambda: exam.dprime(5, 0, 1, 4, None), 'use correction="loglinear"'),
        (lambda: exam.ndcg([0, 0]), "every gain is 0"),
        (lambda: exam.angoff([[0.5, 0.7]]).icc, "one judge has nobody to differ from"),
        (lambda: exam.angoff([[0.5], [0.7]]).icc, "one item cannot show agreement"),
        (lambda: exam.angoff([[0.5, 0.5], [0.7, 0.7]]).icc, "told no item from another"),
        (lambda: exam.angoff([[0.0, 1.0], [1.0, 0.1]]).icc, "judges contradict each other"),
        (lambda: ebel().standard_error, "agreed on one table"),
    ],
)
def test_nan_says_why(figure, words):
    import re

    found = figure()
    assert np.isnan(found) and re.search(words, found.reason)
    assert repr(found) == f"nan ({found.reason})"


def test_a_figure_of_few_people_is_a_number_with_a_caution():
    few, many = exam.kr20(QUIZ), exam.kr20(np.tile(QUIZ, (3, 1)))
    assert few.reason == "only 10 people: expect another group to differ" and not many.reason
    assert few == pytest.approx(many) and type(few * 2) is float
    assert repr(few) == "0.6963 (only 10 people: expect another group to differ)"
    assert f"{few:.2f}" == "0.70" and pickle.loads(pickle.dumps(few)).reason == few.reason


def test_part_marks_that_all_sum_alike_have_no_reliability():
    """0.1 + 0.2 + 0.3 is not 0.3 + 0.2 + 0.1 in the last bit: that is no spread."""
    marks = [[0.1, 0.2, 0.3], [0.3, 0.2, 0.1], [0.2, 0.1, 0.3]]
    assert np.isnan(exam.alpha(marks)) and np.isnan(exam.upper_lower(marks)).all()


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: exam.kr20([1, 0, 1]), r"marks has the shape \(3,\); give a table of people × i"),
        (lambda: exam.kr20([[1, 2]]), "marks is 2 in row 0, column 1 .from 0.; it must lie betw"),
        (lambda: exam.kr20([[1, 0.5]]), "holds 0.5; this needs 0 .wrong. and 1 .right. alone"),
        (lambda: exam.alpha([[1, np.nan]]), "marks is nan in row 0, column 1.* answered counts 0"),
        (lambda: exam.standard_error(QUIZ, 1.2), "the reliability is 1.2; it is 1 at most"),
        (lambda: exam.conditional_standard_error(41, 40), "out of 40 items it is 0 to 40"),
        (lambda: exam.decision_consistency(QUIZ, 11), "the cut is 11; out of 10 items"),
        (lambda: exam.upper_lower(QUIZ, 0.6), "the share is 0.6; give more than 0 and at most"),
        (lambda: exam.cohen_kappa([[1, 2, 3]]), "both raters have the same categories"),
        (lambda: exam.cohen_kappa(COHEN, "square"), "'square': both raters"),
        (lambda: exam.cohen_kappa(COHEN, np.ones((3, 3))), "0 on the diagonal"),
        (lambda: exam.cohen_kappa([[-1, 2], [3, 4]]), "the table is -1 in row 0, column 0"),
        (lambda: exam.fleiss_kappa([[3, 1], [3, 0]]), "the same number of raters, two at least"),
        (lambda: exam.dprime(-1, 0, 0, 0), "are counts, 0 or more"),
        (lambda: exam.dprime(1, 1, 1, 1, "none"), 'is "none"; give "loglinear" or None'),
        (lambda: exam.ndcg([1, 2], [1]), "no more of them are placed than there are"),
        (lambda: exam.angoff([[70, 80]]), "ratings is 70 in row 0, column 0 .*between 0 and 1"),
        (lambda: exam.ebel([[0.9]], [[1, 2]]), "both have the same cells"),
        (lambda: exam.ebel([[90]], [[1]]), "shares is 90 in row 0, column 0"),
    ],
)
def test_bad_input_is_told_what_to_give(call, words):
    with pytest.raises(ValueError, match=words):
        call()


def test_a_negative_item_within_chance_does_not_accuse_the_key():
    """φ of 5, 8, 7 and 4 people is −.25, within two errors of .218; of a hundred times more not."""
    rest = np.repeat([0, 1], 12)[:, None]
    item = np.array([1] * 8 + [0] * 4 + [1] * 5 + [0] * 7)[:, None]
    marks = np.hstack([item, rest, rest])
    assert exam.item_rest(marks)[0] == pytest.approx((5 * 4 - 8 * 7) / np.sqrt(13 * 11 * 12 * 12))
    flags = [exam.analyse(some, 2).items[0].flag for some in (marks, np.tile(marks, (100, 1)))]
    assert flags == [
        "negative, but may be chance: see clip and key",
        "the better candidates get it wrong: check the key",
    ]


def test_an_analysis_flags_what_to_look_at():
    people = np.arange(40)
    columns = {
        "half": people >= 20,
        "most": people >= 12,
        "few": people >= 28,
        "easy": people >= 1,
        "wrong key": people < 20,
        "hard": people >= 38,
        "luck": people % 2,
        "all": people >= 0,
    }
    marks = np.column_stack(list(columns.values())).astype(int)
    found = exam.analyse(marks, 4, list(columns))
    assert {item.item: item.flag for item in found.items} == {
        "half": "",
        "most": "",
        "few": "",
        "easy": "very easy",
        "wrong key": "the better candidates get it wrong: check the key",
        "hard": "very hard",
        "luck": "hardly tells the better from the weaker",
        "all": "everybody is right: it tells nobody apart",
    }
    assert (found.people, found.passed) == (40, int((marks.sum(axis=1) >= 4).sum()))
    assert found.kr20 == exam.kr20(marks)
    assert found.error_at_cut == exam.conditional_standard_error(4, 8)
    # Fisher (1921): z of nothing has the error 1/√(40 − 3) = .164, 1/√(24 − 3) = .218.
    assert exam.item_rest_error(40) == pytest.approx(0.1644, abs=1e-4)
    assert exam.item_rest_error(24) == pytest.approx(0.2182, abs=1e-4)
    assert np.isnan(exam.item_rest_error(3))
    alone = exam.analyse(np.column_stack([columns["half"], SAME]).astype(int), 4).items[0]
    assert alone.flag == "on the other items everybody has the same mark"
    few = exam.analyse(QUIZ[:2], 6)
    assert np.isnan(few.kr20) and {i.flag for i in few.items} == {"2 people are too few to tell"}
    assert [item.item for item in few.items] == [str(n) for n in range(1, 11)]


def test_the_interval_of_a_reliability_covers_it_as_often_as_it_says():
    """Feldt 1965, by simulation: parallel parts with a known reliability, 4,000 classes.

    k parts of one true score and errors of equal spread s have the reliability
    k / (k + s²) (Spearman and Brown); its interval has to hold it in 95 % of classes.
    """
    rng = np.random.default_rng(20)
    people, parts, spread, classes = 24, 12, 2.0, 4000
    truth = parts / (parts + spread**2)
    true = rng.normal(size=(classes, people, 1))
    marks = true + spread * rng.normal(size=(classes, people, parts))
    for level in (0.8, 0.95):
        ends = np.array([exam.alpha_interval(one, level) for one in marks])
        held = (ends[:, 0] <= truth) & (truth <= ends[:, 1])
        # Four standard errors of a share of 4,000.
        assert abs(held.mean() - level) < 4 * np.sqrt(level * (1 - level) / classes)
    by_hand = 1 - (1 - exam.kr20(QUIZ)) * stats.f.isf(0.025, 9, 81)
    assert exam.alpha_interval(QUIZ).low == pytest.approx(by_hand, abs=1e-12)
    assert np.isnan(exam.alpha_interval(np.ones((5, 4)))).all()
    with pytest.raises(ValueError, match="the level is 95"):
        exam.alpha_interval(QUIZ, 95)


def test_the_interval_of_a_share_is_statsmodels():
    proportion = pytest.importorskip("statsmodels.stats.proportion")
    for part, whole in ((0, 10), (3, 10), (10, 10), (17, 24), (500, 1000)):
        ends = proportion.proportion_confint(part, whole, alpha=0.05, method="wilson")
        assert exam.share_interval(part, whole) == pytest.approx(ends, abs=1e-12)
    assert np.isnan(exam.share_interval(0, 0)).all()
    with pytest.raises(ValueError, match="no part of a whole"):
        exam.share_interval(5, 4)
