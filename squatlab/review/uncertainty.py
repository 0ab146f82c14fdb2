"""How sure the points are: what may be wrong with a recording, weighed with what must hold.

A recording's points are off by errors that stay (where a joint was marked, a hip
point that slides as the hip bends, a rolled camera: `disturbances`) and by `jitter`.
Each error that stays has a usual size. What must hold in any lifter (segments keep
their lengths, feet stand level, both views see one height: `laws`) says how large they
were in this recording: a linear Gaussian estimate, from derivatives of everything with
respect to every disturbance, found by disturbing the points. All disturbed pictures
stand on one leading axis and are placed and read in one call.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from squatlab.lifter import Lifter
from squatlab.review.disturbances import (
    Circumstances,
    Disturbance,
    ErrorModel,
    disturbances_of,
    effects_of,
)
from squatlab.review.jitter import Jitter, drawn_jitter, jitter_of
from squatlab.review.largest import excess_of_larger, excess_of_peak
from squatlab.review.laws import HEIGHT_SD_M, HEIGHTS, heights_of, laws_of
from squatlab.review.measurers import Reading
from squatlab.review.perspective import mean
from squatlab.review.view import Block, View, views_of
from squatlab.tracks import Tracks

DRAWS = 12
"""So many jitters like the recording's own show what jitter does to a value."""

SHARES = np.array([0.02, 0.05, 0.1, 0.2, 0.35, 0.5, 0.7, 1.0, 1.4, 2.0])
"""How large the placement error may be against the table: all are tried."""

USUAL_SHARE, SHARE_SPREAD = 0.6, 1.2
"""Median of that share over recordings, and its spread as a logarithm's SD
[teaching-value]: wide, so that the recording decides."""


class Stack(NamedTuple):
    """Hold a block of a view with its disturbed pictures on the leading axis.

    Row 0 is as recorded, then come those of ``columns`` (numbers of
    disturbances), then draws of jitter.
    """

    view: View
    columns: tuple[int, ...]
    draws: int


@dataclass(frozen=True, eq=False)
class Estimate:
    """Hold what a recording's errors were, and the views freed of them.

    ``as_given`` are the views with their errors, which are disturbed block
    by block. ``covariance`` (disturbance, disturbance) is what stays
    uncertain. ``placement`` is the share of the table's placement error.
    ``first_stacks`` are the disturbed pictures of each view's first block.
    """

    views: tuple[View, ...]
    as_given: tuple[View, ...]
    disturbances: tuple[Disturbance, ...]
    amounts: NDArray[np.float64]
    covariance: NDArray[np.float64]
    placement: float
    jitters: tuple[Jitter, ...]
    first_stacks: tuple[Stack, ...]

    def stack(self, number: int, block: Block) -> Stack:
        """Return a block of a view with its disturbed pictures."""
        view = self.as_given[number]
        if len(view.blocks) == 1:
            return self.first_stacks[number]
        view = view.cut(block)
        return _stacked(view, number, self.disturbances, self.jitters[number])

    def derivative(self, stack: Stack, values: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return derivatives (…, disturbance) of what a stack reads, (row, …)."""
        return _derivative(stack, self.disturbances, values)

    def jitter_sd(self, stack: Stack, values: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return what jitter does to what a stack reads, (row, …): its SD, (…)."""
        return _jitter_sd(stack, values)

    def excess(self, reading: Reading, stack: Stack, disturbed: Reading) -> float:
        """Return what a value that is the largest of several is too large by.

        ``disturbed`` is the reading of a stack. 0 for any other value.
        """
        if reading.sides is not None:
            slopes = self.derivative(stack, disturbed.sides)
            covariance = slopes @ self.covariance @ slopes.T
            if stack.draws:
                covariance += np.nan_to_num(np.cov(disturbed.sides[-stack.draws :], rowvar=False))
            return excess_of_larger(reading.sides, covariance)
        if reading.is_peak and stack.draws:
            jitters = disturbed.series[-stack.draws :] - disturbed.series[0]
            return excess_of_peak(reading.series, jitters)
        return 0.0


def estimate(views: Sequence[View], model: ErrorModel) -> Estimate:
    """Return what the errors of views of the same squats were.

    Each view needs a repetition to say anything; those without are left
    as they are. What must hold is looked at in the first repetition.
    """
    disturbances = disturbances_of(views, model)
    jitters = tuple(
        jitter_of(view, model.grows) if model.jitter else Jitter(0.0, 0.0) for view in views
    )
    stacks = [
        _stacked(view.cut(view.blocks[0]), number, disturbances, jitters[number])
        for number, view in enumerate(views)
    ]
    prior = np.array([one.sd for one in disturbances])
    usual = np.array([one.usual for one in disturbances])
    is_placement = np.array(
        [one.kind in ("placement", "turned", "skin") for one in disturbances], bool
    )
    held = _held(stacks, disturbances)
    # The update is about what differs from usual.
    held = held._replace(away=held.away - held.slope @ usual)
    amounts, covariance, share = _weighed(held, prior, is_placement, model.placement)
    amounts = amounts + usual
    freed = tuple(_freed(view, number, disturbances, amounts) for number, view in enumerate(views))
    return Estimate(
        freed,
        tuple(views),
        disturbances,
        amounts,
        covariance,
        share,
        jitters,
        first_stacks=tuple(stacks),
    )


def best_views(
    *tracks: Tracks,
    lifter: Lifter | None = None,
    bar_kg: float | None = None,
    camera: Any = None,
    errors: ErrorModel | None = None,
) -> tuple[View, ...]:
    """Return views of recordings with their likeliest errors taken off.

    Whatever shows a number about a recording reads these, so that all
    show the same. ``errors`` left out is estimated from the recording.
    Raises what `squatlab.review.view.views_of` does.
    """
    views = views_of(*tracks, lifter=lifter, bar_kg=bar_kg, camera=camera)
    model = ErrorModel() if errors is None else errors
    if model.is_exact or not any(view.repetitions for view in views):
        return views
    return estimate(views, model).views


# Disturbed pictures


def _stacked(view: View, number: int, disturbances: Sequence[Disturbance], jitter: Jitter) -> Stack:
    """Return a view with all its disturbed pictures and its draws of jitter."""
    if not view.repetitions:
        return Stack(view, (), 0)
    effects = dict(effects_of(view, number, disturbances))
    columns = tuple(
        index
        for index, one in enumerate(disturbances)
        if one.view == number
        or one.view is None
        and (one.kind != "slide" or np.any(effects.get(index, 0.0)))
    )
    draws = DRAWS if jitter.sd_m > 0 else 0
    rows = 1 + len(columns) + draws
    seen = np.repeat(view.seen[np.newaxis], rows, axis=0)
    circumstances = Circumstances(*(np.full(rows, one) for one in Circumstances.of(view)))
    for row, index in enumerate(columns, 1):
        one = disturbances[index]
        if index in effects:
            seen[row] += one.step * effects[index]
        else:
            getattr(circumstances, one.kind)[row] += one.step
    if draws:
        seen[1 + len(columns) :] += drawn_jitter(view, jitter, draws)
    return Stack(circumstances.changed(view, seen), columns, draws)


def _freed(
    view: View,
    number: int,
    disturbances: Sequence[Disturbance],
    amounts: NDArray[np.float64],
) -> View:
    """Return a view with the estimated disturbances taken off."""
    if not disturbances:
        return view
    effects = effects_of(view, number, disturbances)
    seen = view.seen - sum(amounts[index] * shift for index, shift in effects)
    circumstances = Circumstances.of(view)
    for amount, one in zip(amounts, disturbances, strict=True):
        if one.kind in Circumstances._fields and one.view in (None, number):
            freed = np.asarray(getattr(circumstances, one.kind) - amount)
            circumstances = circumstances._replace(**{one.kind: freed})
    return circumstances.changed(view, seen)


def _derivative(
    stack: Stack, disturbances: Sequence[Disturbance], values: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return derivatives (…, disturbance) of values (row, …) by finite differences."""
    slopes = np.zeros((*values.shape[1:], len(disturbances)))
    for row, index in enumerate(stack.columns, 1):
        slopes[..., index] = (values[row] - values[0]) / disturbances[index].step
    return np.nan_to_num(slopes)


def _jitter_sd(stack: Stack, values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return how far (…) jitter takes values (row, …), the root of its mean square.

    A largest value is too large by jitter. Jitter added to jitter shows
    only √2 − 1 of that, so what the draws are larger by on average,
    beyond chance, counts as 1 / (√2 − 1) times as much.
    """
    if not stack.draws:
        return np.zeros(values.shape[1:])
    away = values[-stack.draws :] - values[0]
    shift = mean(away, 0)
    variance = mean((away - shift) ** 2, 0)
    beyond_chance = np.maximum(shift**2 - variance / stack.draws, 0.0)
    bias = beyond_chance / (np.sqrt(2) - 1) ** 2
    return np.sqrt(np.nan_to_num(variance + bias))


# What must hold


class Held(NamedTuple):
    """Hold what must hold: how far each is from it, m, and by how much it may be.

    ``away`` (law,), ``slack`` (law,) the SD natural to it and of jitter,
    ``slope`` (law, disturbance).
    """

    away: NDArray[np.float64]
    slack: NDArray[np.float64]
    slope: NDArray[np.float64]


def _held(stacks: Sequence[Stack], disturbances: Sequence[Disturbance]) -> Held:
    """Return everything that must hold in the views and between them."""
    away, slack, slope = [], [], []
    stacks = [stack for stack in stacks if stack.view.repetitions]
    for stack in stacks:
        for law in laws_of(stack.view):
            if np.isfinite(law.value[0]):
                away.append(law.value[0] - law.expected)
                slack.append(np.hypot(law.sd, _jitter_sd(stack, law.value)))
                slope.append(_derivative(stack, disturbances, law.value))
    if len(stacks) == 2:
        # Both views see one height.
        first, second = stacks
        of_first, of_second = heights_of(first.view), heights_of(second.view)
        for name in HEIGHTS:
            if name not in of_first or name not in of_second:
                continue
            one, other = of_first[name], of_second[name]
            if not np.isfinite(one[0] - other[0]):
                continue
            away.append(one[0] - other[0])
            jitter_sd = np.hypot(_jitter_sd(first, one), _jitter_sd(second, other))
            slack.append(np.hypot(HEIGHT_SD_M, jitter_sd))
            slope.append(
                _derivative(first, disturbances, one) - _derivative(second, disturbances, other)
            )
    count = len(disturbances)
    return Held(np.array(away), np.array(slack), np.array(slope).reshape(len(away), count))


# The estimate


def _weighed(
    held: Held,
    prior: NDArray[np.float64],
    is_placement: NDArray[np.bool_],
    placement: float | None,
) -> tuple[NDArray[np.float64], NDArray[np.float64], float]:
    """Return the disturbances' amounts, their covariance, and the share of placement.

    away = slope · amounts + slack: with a prior of SD ``prior`` on the
    amounts this is a Gaussian update. How large the placement errors are
    is one more unknown: each share is weighed by how well it explains
    what is seen (its marginal likelihood), and the results are mixed.
    """
    if not prior.size:
        return np.zeros(0), np.zeros((0, 0)), 0.0
    shares = SHARES if placement is None and is_placement.any() else np.array([1.0])
    scores, means, covariances = [], [], []
    for share in shares:
        sd = np.where(is_placement, share * prior, prior)
        spread = held.slope * sd**2  # (law, disturbance): slope · D
        total = spread @ held.slope.T + np.diag(held.slack**2)
        gain = np.linalg.solve(total, spread).T if held.away.size else np.zeros((sd.size, 0))
        means.append(gain @ held.away)
        covariances.append(np.diag(sd**2) - gain @ spread)
        score = -0.5 * (np.log(share / USUAL_SHARE) / SHARE_SPREAD) ** 2
        if held.away.size:
            _, log_determinant = np.linalg.slogdet(total)
            score -= 0.5 * (log_determinant + held.away @ np.linalg.solve(total, held.away))
        scores.append(score)
    weights = np.exp(np.array(scores) - max(scores))
    weights /= weights.sum()
    amounts = sum(weight * one for weight, one in zip(weights, means, strict=True))
    covariance = sum(
        weight * (spread + np.outer(one - amounts, one - amounts))
        for weight, one, spread in zip(weights, means, covariances, strict=True)
    )
    return amounts, covariance, float(weights @ shares)
