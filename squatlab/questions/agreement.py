"""Who agrees with whom: raters, trainees and the key, an order and its ideal."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtri

from squatlab.questions.figure import Figure, matrix, none


def cohen_kappa(table: ArrayLike, weights: str | ArrayLike | None = None) -> Figure:
    """Return how far two raters agree beyond chance.

    ``table`` counts (rater 1 × rater 2). ``weights`` says how bad each
    disagreement is: None alike, "linear", "quadratic", or an array of the
    table's shape with 0 on the diagonal. nan with its reason if both always
    name the same one category [cohen1960] [cohen1968].
    """
    counts = matrix("the table", table, "counts, rater 1 × rater 2", 0, 1e12)
    places = np.arange(len(counts))
    apart = abs(places[:, None] - places).astype(float)
    named_weights = {"None": np.sign(apart), "linear": apart, "quadratic": apart**2}
    if weights is None or isinstance(weights, str):
        badness = named_weights.get(str(weights), np.empty(0))
    else:
        badness = np.asarray(weights, dtype=float)
    if counts.shape != badness.shape or np.diagonal(badness).any():
        raise ValueError(
            f"the table is {counts.shape}, the weights {weights!r}: both raters have the same "
            'categories; weights are "linear", "quadratic", None or a table with 0 on the diagonal'
        )
    if not counts.sum():
        return none("nothing was rated")
    # Two raters who only keep to their own totals would meet in each cell by chance:
    # row total × column total / n. κ = 1 − observed / expected disagreement, both weighted.
    by_chance = np.outer(counts.sum(axis=1), counts.sum(axis=0)) / counts.sum()
    expected = (badness * by_chance).sum()
    if not expected:
        return none("both raters named the same one category every time")
    return Figure(1 - (badness * counts).sum() / expected)


def fleiss_kappa(counts: ArrayLike) -> Figure:
    """Return how far many raters agree beyond chance.

    ``counts`` (cases × categories): how many raters chose each. nan with
    its reason if all named the same one category. ValueError if cases have
    not the same number of raters [fleiss1971].
    """
    table = matrix("counts", counts, "cases × categories", 0, 1e12)
    raters = table[0].sum()
    if raters < 2 or (table.sum(axis=1) != raters).any():
        raise ValueError("every case needs the same number of raters, two at least")
    # Of a case's pairs of raters, the share that agree: Σ n (n − 1) / (r (r − 1)). By chance two
    # agree with the sum of the squared shares of the categories. κ = (P − Pe) / (1 − Pe).
    agreeing = ((table**2).sum(axis=1) - raters) / (raters * (raters - 1))
    chance = ((table.sum(axis=0) / table.sum()) ** 2).sum()
    if chance == 1:
        return none("all raters named the same one category every time")
    return Figure((agreeing.mean() - chance) / (1 - chance))


def dprime(
    hits: ArrayLike,
    misses: ArrayLike,
    false_alarms: ArrayLike,
    correct_rejections: ArrayLike,
    correction: str | None = "loglinear",
) -> Figure | NDArray[np.float64]:
    """Return d′, the sensitivity index.

    It says how well lifts with a fault are told from lifts without it,
    however readily the fault is called. Counts (…). The log-linear
    correction adds ½ to hits and false alarms and 1 to their trials, so
    that a rate of 0 or 1 stays finite. Without it (None) such a rate is
    nan; without trials everything is. Raises ValueError for negative
    counts [hautus1995].
    """
    if correction not in ("loglinear", None):
        raise ValueError(f'the correction is "{correction}"; give "loglinear" or None')
    counts = [np.asarray(n, float) for n in (hits, misses, false_alarms, correct_rejections)]
    if not all((n >= 0).all() for n in counts):
        raise ValueError("hits, misses, false alarms and correct rejections are counts, 0 or more")
    hit, miss, alarm, rejection = counts
    added = 0.5 if correction else 0.0
    with np.errstate(invalid="ignore", divide="ignore"):
        hit_rate = (hit + added) / (hit + miss + 2 * added)
        alarm_rate = (alarm + added) / (alarm + rejection + 2 * added)
        # d′ = z(hit rate) − z(false alarm rate), z the inverse of the normal distribution.
        value = ndtri(hit_rate) - ndtri(alarm_rate)
    trials = (hit + miss > 0) & (alarm + rejection > 0)
    value = np.where(trials & np.isfinite(value), value, np.nan)
    if value.ndim:
        return value
    if not trials:
        return none("there must be lifts with the fault and lifts without it")
    extreme = 'a rate of 0 or 1 has no finite d′: use correction="loglinear"'
    return Figure(value, extreme if np.isnan(value) else "")


def ndcg(gains: ArrayLike, ideal: ArrayLike | None = None) -> Figure:
    """Return how near an order comes to the best one: 1 is best.

    ``gains`` in the order given, discounted by log₂(place + 1). ``ideal``
    holds every gain there was, if not all of them were placed. nan with
    its reason where nothing can be gained [jarvelin2002].
    """
    given = np.asarray(gains, dtype=float).ravel()
    best = np.sort(given if ideal is None else np.asarray(ideal, dtype=float).ravel())[::-1]
    if not (best >= 0).all() or not (given >= 0).all() or given.size > best.size:
        raise ValueError("gains are 0 or more, and no more of them are placed than there are")
    # Places count from 1, so that the first one's gain is divided by log₂ 2 = 1.
    discount = 1 / np.log2(np.arange(best.size) + 2)
    if not best.any():
        return none("there is nothing to put in order: every gain is 0")
    return Figure((given @ discount[: given.size]) / (best @ discount))


class FaultAgreement(NamedTuple):
    """Hold how trainees call one fault: counts against the key.

    The first two where the key has the fault, the others where it has not.
    """

    fault: str
    hits: int
    misses: int
    false_alarms: int
    correct_rejections: int

    @property
    def missed(self) -> float:
        """Return the share of its lifts on which it was not named."""
        there = self.hits + self.misses
        return self.misses / there if there else np.nan

    @property
    def over_called(self) -> float:
        """Return the share of other lifts on which it was named."""
        absent = self.false_alarms + self.correct_rejections
        return self.false_alarms / absent if absent else np.nan

    @property
    def kappa(self) -> Figure:
        """Return Cohen's kappa of the trainees with the key."""
        return cohen_kappa(np.reshape(self[1:], (2, 2)))


class ConfusionMap(NamedTuple):
    """Hold how often trainees named (columns) what the key names (rows).

    ``counts`` (labels, labels); its kappa is ``cohen_kappa(map.counts)``.
    """

    labels: tuple[str, ...]
    counts: NDArray[np.int64]

    def faults(self) -> tuple[FaultAgreement, ...]:
        """Return each label against all the rest."""
        hits = np.diagonal(self.counts)
        keyed, named = self.counts.sum(axis=1), self.counts.sum(axis=0)
        # Neither keyed nor named: all, less both; hits were taken away twice.
        rest = self.counts.sum() - keyed - named + hits
        return tuple(
            FaultAgreement(
                fault,
                hits=int(hits[place]),
                misses=int(keyed[place] - hits[place]),
                false_alarms=int(named[place] - hits[place]),
                correct_rejections=int(rest[place]),
            )
            for place, fault in enumerate(self.labels)
        )


def confusion_map(
    keyed: Sequence[str], named: Sequence[str], labels: Sequence[str], times: ArrayLike = 1
) -> ConfusionMap:
    """Count what was named against what the key names, pair by pair.

    ``labels`` gives the order; ``times`` counts a pair more than once.
    Raises ValueError for a name that is not among them.
    """
    place = {label: index for index, label in enumerate(labels)}
    if odd := sorted({*keyed, *named} - place.keys()):
        raise ValueError(f"{', '.join(odd)}: not among the labels {', '.join(labels)}")
    counts = np.zeros((len(place), len(place)), dtype=int)
    np.add.at(counts, ([place[one] for one in keyed], [place[one] for one in named]), times)
    return ConfusionMap(tuple(labels), counts)
