"""From views to findings: read each fault, weigh how sure it is, and judge."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from squatlab import faults, units
from squatlab.faults import TRACE, Fault
from squatlab.lifter import Lifter
from squatlab.mechanics.trunk import HEAVIEST_KG
from squatlab.review.chances import WIDE, Normal, chances_of, sure_size, weighed
from squatlab.review.disturbances import ErrorModel
from squatlab.review.errors import CannotTell, ReviewError
from squatlab.review.findings import Finding, Findings
from squatlab.review.frame_rate import suspicion
from squatlab.review.measurers import BOUNDS, MEASURERS, Bound, Measurer, Reading
from squatlab.review.perspective import FAR_M
from squatlab.review.reading import RepetitionValue, ViewReader, read_view, value_of
from squatlab.review.uncertainty import Estimate, estimate
from squatlab.review.view import View, views_of
from squatlab.signals import LEAST_TRAVEL_M
from squatlab.tracks import Tracks

SAMPLES = 400
"""So many times what the squat may have been is drawn, for the order."""

SEEN_FROM = {"side": "the side", "front": "the front", "oblique": "an angle"}


def measure(
    *tracks: Tracks,
    lifter: Lifter | None = None,
    bar_kg: float | None = None,
    camera: Any = None,
    errors: ErrorModel | None = None,
) -> Findings:
    """Return a finding for every fault, from any views of the same squats.

    What is declared helps: ``lifter`` (lengths, mass), ``bar_kg`` on the
    bar, and ``camera`` with ``distance_m`` and ``height_m``, or a dict of
    such by view. ``errors`` says how wrong the recording may be; left out,
    that is estimated from it. Raises ReviewError if there is nothing to
    measure, TracksError for tracks that cannot be read.
    """
    _check(tracks, lifter, bar_kg)
    views = views_of(*tracks, lifter=lifter, bar_kg=bar_kg, camera=camera)
    if not any(view.repetitions for view in views):
        raise ReviewError(_nothing(views))
    model = ErrorModel() if errors is None else errors
    look = _Look(views, None if model.is_exact else estimate(views, model))
    judged = [_finding(fault, look) for fault in faults.catalogue().values()]
    found = tuple(one.finding for one in judged)
    seen = tuple(seen for read in look.read for seen in read.seen)
    samples = None if look.estimate is None else _samples(judged, look.estimate)
    return Findings(found, seen, tuple(_notes(views)), samples)


class _Look:
    """Hold the views as they count, the estimate, and what is read of each view."""

    def __init__(self, views: Sequence[View], estimate: Estimate | None) -> None:
        self.estimate = estimate
        self.views = tuple(views) if estimate is None else estimate.views
        self.readers = [
            ViewReader(view, number, estimate) for number, view in enumerate(self.views)
        ]
        self.read = [read_view(reader) for reader in self.readers]


class _Spread(NamedTuple):
    """Hold how a value would change with each disturbance, and with jitter (SD).

    ``excess`` is what it is too large by where it is the largest of several.
    """

    slope: NDArray[np.float64]
    jitter_sd: float
    excess: float

    def sd(self, estimate: Estimate) -> float:
        """Return the value's standard deviation."""
        variance = self.slope @ estimate.covariance @ self.slope
        return math.sqrt(max(variance, 0.0) + self.jitter_sd**2)


class _Median(NamedTuple):
    """Hold the median repetition (from 0), its reading, all values and how sure its own is."""

    repetition: int
    reading: Reading
    each: tuple[float, ...]
    spread: _Spread | None

    @property
    def value(self) -> float:
        """Return the value of the median repetition."""
        return self.each[self.repetition]


class _Judged(NamedTuple):
    """Hold a finding with the value and the spread behind it."""

    finding: Finding
    value: float = math.nan
    spread: _Spread | None = None


def _check(tracks: Sequence[Tracks], lifter: Lifter | None, bar_kg: float | None) -> None:
    if not tracks or not all(isinstance(given, Tracks) for given in tracks):
        raise ReviewError(
            "give one or more Tracks, for example measure(Tracks.read('side.csv'), "
            "Tracks.read('front.csv'))"
        )
    twice = {t.view for t in tracks if [u.view for u in tracks].count(t.view) > 1}
    if twice:
        raise ReviewError(
            f"there are two recordings of the {', '.join(sorted(twice))} view; measure each by "
            "itself"
        )
    if lifter is not None and lifter.shape:
        raise ReviewError(f"the lifter declared is {int(np.prod(lifter.shape))} lifters; give one")
    if bar_kg is not None and not 0 <= bar_kg <= HEAVIEST_KG:
        raise ReviewError(
            f"bar_kg is {bar_kg:g}; it must lie between 0 and {HEAVIEST_KG:g} kg on the bar"
        )


def _finding(fault: Fault, look: _Look) -> _Judged:
    """Return what the best view tells of a fault, or why none does."""
    tried = []
    for number, view in enumerate(look.views):
        if view.kind == "3d" or fault.view in ("any", view.kind):
            judged = _over_repetitions(fault, look, number)
            if judged.finding.present != "cannot tell":
                return judged
            tried.append(judged)
    if tried:
        return tried[0]
    kinds = " and ".join(SEEN_FROM[view.kind] for view in look.views)
    reason = f"seen from {kinds} only; film from the {fault.view}"
    return _Judged(Finding(fault.id, reason=reason))


def _over_repetitions(fault: Fault, look: _Look, number: int) -> _Judged:
    """Return the finding of the median repetition, or that a limit of it makes.

    Where the fault itself cannot be told, what is seen may still show that
    it is not there.
    """
    reader, view = look.readers[number], look.views[number]
    if not view.repetitions:
        reason = f"no repetition is seen in the {view.kind} view"
        return _Judged(Finding(fault.id, view=view.kind, reason=reason))
    judged = _of_median(fault, look, reader, look.read[number].faults[fault.id])
    if judged.finding.present != "cannot tell" or fault.id not in BOUNDS:
        return judged
    bound = BOUNDS[fault.id]
    each = [
        value_of(bound.measure, reader.quantities(repetition))
        for repetition in range(len(view.repetitions))
    ]
    limit = _of_median(fault, look, reader, each, bound)
    return limit if limit.finding.present == "no" else judged


def _of_median(
    fault: Fault,
    look: _Look,
    reader: ViewReader,
    read: Sequence[RepetitionValue],
    bound: Bound | None = None,
) -> _Judged:
    """Return the finding of the median repetition, the worse of the middle two."""
    view, each = reader.view, tuple(one.value for one in read)
    known = np.flatnonzero(~np.isnan(each))
    if not known.size:
        return _Judged(Finding(fault.id, view=view.kind, reason=read[0].reason, each=each))
    order = sorted(known, key=each.__getitem__, reverse=fault.smaller_is_worse)
    chosen = int(order[len(order) // 2])
    measurer = MEASURERS[fault.id] if bound is None else bound.measure
    quantities = reader.quantities(chosen)
    reading, spread = measurer(quantities, quantities.repetition), None
    if look.estimate is not None:
        spread = _spread(measurer, reader, chosen, reading, known.size, bound)
        if spread is None:
            reason = "how sure it is cannot be told: a point is hardly seen when it counts"
            return _Judged(Finding(fault.id, view=view.kind, reason=reason, each=each))
        # The errors are the same in all repetitions, so about as much is too much in each.
        each = tuple(value - spread.excess for value in each)
    median = _Median(chosen, reading, each, spread)
    return _Judged(_judged(fault, look, reader, median, bound), median.value, spread)


def _spread(
    measurer: Measurer,
    reader: ViewReader,
    chosen: int,
    reading: Reading,
    count: int,
    bound: Bound | None,
) -> _Spread | None:
    """Return how sure a reading is, from the disturbed pictures; None if that is not known.

    It is the median of a ``count`` of repetitions.
    """
    estimate, (stack, quantities) = reader.estimate, reader.stacked(chosen)
    try:
        disturbed = measurer(quantities, quantities.repetition)
    except CannotTell:
        return None
    values = np.asarray(disturbed.value)
    if values.ndim == 0 or np.isnan(values[0]):
        return None
    # Jitter differs from repetition to repetition, so a median of many is surer; what stays
    # (where a joint is marked, how the camera stands) is the same in all.
    jitter = float(estimate.jitter_sd(stack, values)) / math.sqrt(max(1.0, count / 1.57))
    slope = estimate.derivative(stack, values)
    if bound is not None:
        # Nobody stands lower than seen at the ends of a trimmed clip, and higher only makes
        # the limit safer.
        slope = np.where([one.kind == "standing" for one in estimate.disturbances], 0.0, slope)
    return _Spread(slope, jitter, estimate.excess(reading, stack, disturbed))


def _judged(
    fault: Fault, look: _Look, reader: ViewReader, median: _Median, bound: Bound | None
) -> Finding:
    """Return the finding that a repetition makes, with the frames in which it shows."""
    reading, spread, value = median.reading, median.spread, median.value
    words, severity = reading.words(value), float(fault.severity(value))
    excess = 0.0 if spread is None else spread.excess
    if units.of_table(excess, fault.unit) != units.of_table(0.0, fault.unit):
        read = units.of_table(value + excess, fault.unit)
        words += f"; read as {read}, less what chance adds to a largest reading"
    common: dict[str, Any] = {
        "view": reader.view.kind,
        "repetition": median.repetition + 1,
        "each": median.each,
        "bound": "" if bound is None else bound.words,
        "excess": excess,
    }
    size = ("", *faults.SIZES)[min(int(severity + TRACE), 3)]
    if spread is not None:
        measured = Normal(value, spread.sd(look.estimate))
        chances = chances_of(fault, measured)
        common |= {"plus_minus": WIDE * measured.sd, "chances": chances}
        sure = sure_size(fault, measured, chances)
        if sure is None:
            doubt = _doubt(fault, measured, look.estimate, spread)
            return Finding(fault.id, reason=f"{doubt} ({words})", **common)
        size = sure
        # Within the size that is sure: slight that reads clear stays below clear.
        level = ("", *faults.SIZES).index(size)
        severity = float(np.clip(severity, level, level + 1 - 2 * TRACE if level < 3 else None))
    common["reason"] = words
    if not size:
        return Finding(fault.id, value, "no", "", severity, **common)
    frames = _frames(fault.severity(reading.series - excess), reader, median)
    return Finding(fault.id, value, "yes", size, severity, **common, **frames)


def _frames(
    severity: NDArray[np.float64], reader: ViewReader, median: _Median
) -> dict[str, int | float]:
    """Return in which frames of the whole view a fault shows first, most and last.

    ``severity`` (time,) is that of every frame of the reading, nan where it
    is not seen. Also ``onset_s``, from the repetition's start to the first.
    """
    quantities = reader.quantities(median.repetition)
    worst = int(np.argmax(np.nan_to_num(severity, nan=-1.0)))
    shows = np.flatnonzero(severity >= 1)
    # It may count as a fault by its chances, or rounded, though no frame by itself is slight.
    if not shows.size:
        shows = np.array([worst])
    begin = median.reading.begin
    numbers = reader.frames(median.repetition)
    times, start = quantities.view.times, quantities.repetition.start
    return {
        "first": int(numbers[begin + shows[0]]),
        "worst": int(numbers[begin + worst]),
        "last": int(numbers[begin + shows[-1]]),
        "onset_s": float(times[begin + shows[0]] - times[start]),
    }


COSTS = {
    "placement": ("where the points are marked", "mark the joints on tight clothing"),
    "standing": ("the lifter does not stand still", "film half a second more at both ends"),
    "turned": ("where the hip is marked turns with it", "mark the hip on tight shorts"),
    "skin": ("points on the back move over the spine", "mark the low back on bare skin"),
    "slide": ("the hip point may slide as the hip bends", "mark the hip on tight shorts"),
    "roll": ("the camera may be rolled", "level the phone"),
    "yaw": ("the camera may stand off square", "stand the phone square to the lifter"),
    "scale": ("how large things are", "track plate_top and plate_bottom"),
    "nearness": ("where the camera stood", "tape its distance and height, and declare them"),
    "height": ("where the camera stood", "tape its distance and height, and declare them"),
    "outward": ("how far out the knee is", "film from the front as well"),
    "body": ("the body's mass", "weigh the lifter"),
    "load": ("the bar's load", "count the plates"),
    "jitter": ("the points jitter", "film closer, in better light, several repetitions"),
}
"""What may cost the most, and what to do about it."""


def _doubt(fault: Fault, measured: Normal, estimate: Estimate, spread: _Spread) -> str:
    """Return between what a value lies, what costs most, and what to do about it."""
    costs = dict.fromkeys(COSTS, 0.0)
    costs["jitter"] = spread.jitter_sd**2
    for kind in costs:
        own = np.array([one.kind == kind for one in estimate.disturbances], dtype=bool)
        slope = np.where(own, spread.slope, 0.0)
        costs[kind] += float(slope @ estimate.covariance @ slope)
    why, remedy = COSTS[max(costs, key=costs.__getitem__)]
    low, high = (
        units.of_table(measured.mean + side * WIDE * measured.sd, fault.unit) for side in (-1, 1)
    )
    return f"between {low} and {high}: {why}; {remedy}"


def _samples(judged: Sequence[_Judged], estimate: Estimate) -> NDArray[np.float64]:
    """Return severities that the recording leaves open, (sample, fault); nan untold.

    One draw of the disturbances moves all values together. Each value lies
    about what it probably is, with the chances that its finding has.
    """
    rng = np.random.default_rng(21)  # the same for every recording: a review repeats itself
    known = [column for column, one in enumerate(judged) if one.spread is not None]
    samples = np.full((SAMPLES, len(judged)), np.nan)
    if not known:
        return samples
    spreads = [judged[column].spread for column in known]
    slopes = np.stack([spread.slope for spread in spreads])
    jitters = np.array([spread.jitter_sd for spread in spreads])
    covariance = slopes @ estimate.covariance @ slopes.T + np.diag(jitters**2)
    # Draws of this covariance: its root times independent ones of SD 1.
    variances, vectors = np.linalg.eigh(covariance)
    root = vectors * np.sqrt(np.maximum(variances, 0.0))
    away = rng.normal(size=(SAMPLES, len(known))) @ root.T
    for column, errors in zip(known, away.T, strict=True):
        one = judged[column]
        fault = faults.fault(one.finding.fault)
        measured = Normal(one.value, one.spread.sd(estimate))
        probable = weighed(fault, measured)
        share = probable.sd / measured.sd if measured.sd > 0 else 1.0
        samples[:, column] = fault.severity(probable.mean + share * errors)
    return samples


def _notes(views: Sequence[View]) -> list[str]:
    notes = []
    for view in views:
        if not view.scale.known:
            notes.append(f"The {view.kind} view has no scale: only angles and times are told.")
        elif view.scale.words:
            notes.append(
                f"The scale of the {view.kind} view, {view.scale.px_per_m:.0f} px/m, comes from "
                f"{view.scale.words}."
            )
        camera = view.standpoint
        if not camera.declared:
            where = (
                f"{units.DISTANCE.words(camera.distance_m)} away and "
                f"{units.DISTANCE.words(camera.height_m)} high"
                if camera.distance_m < FAR_M
                else "far away"
            )
            notes.append(
                f"The camera of the {view.kind} view counts as {where}: it is not declared, so "
                "values are less sure."
            )
        if doubt := suspicion(view):
            notes.append(doubt)
    return notes


def _nothing(views: Sequence[View]) -> str:
    for view in views:
        if np.isnan(view.hips).all():
            continue
        travel = float(np.nanmax(view.hips) - np.nanmin(view.hips))
        return (
            f"there is no repetition: the hips travel {travel:.2f} m in {view.times[-1]:.1f} s and "
            f"never go down and up again by {LEAST_TRAVEL_M:g} m. Give a recording from standing "
            "to standing, and check that hip_r or hip_l is tracked"
        )
    return "there is no repetition: no hip is seen. Track hip_r or hip_l through the whole movement"
