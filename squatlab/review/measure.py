"""Tracks of one lifter → what is wrong with the squat, fault by fault."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from squatlab import faults
from squatlab.faults import Fault
from squatlab.lifter import Lifter
from squatlab.review import front_faults, side_faults, timing, weight
from squatlab.review.findings import Finding, Findings, Seen
from squatlab.review.picture import FAR_M, STRAIGHT
from squatlab.review.reading import CannotTell, Reading, ReviewError, mean
from squatlab.review.recording import look
from squatlab.review.views import LEG, LOWEST, View
from squatlab.signals import LEAST_TRAVEL_M, Repetition
from squatlab.tracks import Tracks

MEASURERS: dict[str, Callable[[View, Repetition], Reading]] = {
    function.__name__: function
    for function in (
        timing.knees_first, timing.hips_rise_first, side_faults.lumbar_rounding,
        side_faults.lumbar_overarching, side_faults.short_depth, front_faults.knee_valgus,
        side_faults.knees_far_forward, side_faults.heel_lift, weight.bar_forward,
        front_faults.lateral_shift, front_faults.turnout_out_of_range, front_faults.uneven_bar,
        side_faults.head_up, timing.fast_descent,
    )
}  # fmt: skip
"""For each fault of the catalogue what measures it in one repetition."""

TRACE = 1e-9
"""A severity this near a limit is on it, whatever its last bit."""

SEEN_FROM = {"side": "the side", "front": "the front", "oblique": "an angle"}


def measure(
    *tracks: Tracks,
    lifter: Lifter | None = None,
    bar_kg: float | None = None,
    camera: Any = None,
) -> Findings:
    """Return a finding for every fault, from any views of the same squats.

    What is declared helps: ``lifter`` (lengths, mass), ``bar_kg`` on the
    bar, and ``camera`` with ``distance_m`` and ``height_m``, or a dict of
    such by view. Raises ReviewError if there is nothing to measure,
    TracksError for tracks that cannot be read.
    """
    _check(tracks, lifter, bar_kg)
    views: list[View] = []
    # The front first: it shows how far to the side the joints are that the side view sees.
    for given in sorted(tracks, key=lambda t: t.view not in ("front", "3d")):
        views.append(look(given, lifter, bar_kg, camera, _depths(views)))
    if not any(view.repetitions for view in views):
        raise ReviewError(_nothing(views))
    found = tuple(_finding(fault, views) for fault in faults.catalogue().values())
    seen = tuple(_seen(view, rep) for view in views for rep in view.repetitions)
    return Findings(found, seen, tuple(_notes(views)))


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
    if bar_kg is not None and not 0 <= bar_kg <= 500:
        raise ReviewError(f"bar_kg is {bar_kg:g}; it must lie between 0 and 500 kg on the bar")


def _finding(fault: Fault, views: Sequence[View]) -> Finding:
    """Return what the best view tells of a fault, or why none does."""
    able = [v for v in views if v.kind == "3d" or fault.view in ("any", v.kind)]
    if not able:
        kinds = " and ".join(SEEN_FROM[view.kind] for view in views)
        return Finding(fault.id, reason=f"seen from {kinds} only; film from the {fault.view}")
    tried = []
    for view in able:
        tried.append(_over_repetitions(fault, view))
        if tried[-1].present != "cannot tell":
            return tried[-1]
    return tried[0]


def _over_repetitions(fault: Fault, view: View) -> Finding:
    """Return the finding of the median repetition, the worse of the middle two."""
    readings: dict[int, Reading] = {}
    reasons = [f"no repetition is seen in the {view.kind} view"] if not view.repetitions else []
    for number, rep in enumerate(view.repetitions):
        try:
            reading = MEASURERS[fault.id](view, rep)
            if np.isnan(reading.value):
                raise CannotTell("a point it rests on is not seen when it counts")
            readings[number] = reading
        except CannotTell as reason:
            reasons.append(str(reason))
    each = tuple(
        readings[k].value if k in readings else np.nan for k in range(len(view.repetitions))
    )
    if not readings:
        return Finding(fault.id, view=view.kind, reason=reasons[0], each=each)
    order = sorted(readings, key=lambda k: readings[k].value, reverse=fault.smaller_is_worse)
    number = order[len(order) // 2]
    return _judged(fault, view, number, readings[number], each)


def _judged(
    fault: Fault, view: View, number: int, reading: Reading, each: tuple[float, ...]
) -> Finding:
    severity = float(fault.severity(reading.value))
    told = {"view": view.kind, "repetition": number + 1, "each": each}
    if severity >= 1 and reading.value < reading.certain_from:
        return Finding(fault.id, reason=f"{reading.doubt} ({reading.words})", **told)
    severity = min(severity, reading.most)
    told["reason"] = reading.words
    if severity < 1 - TRACE:
        return Finding(fault.id, reading.value, "no", "", severity, **told)
    series = np.nan_to_num(fault.severity(reading.series), nan=-1.0)
    worst = int(np.argmax(series))
    over = np.flatnonzero(series >= 1)
    first, worst, last = (
        reading.begin + int(i)
        for i in (over[0] if over.size else worst, worst, over[-1] if over.size else worst)
    )
    size = faults.SIZES[min(int(severity + TRACE), 3) - 1]
    onset = float(view.times[first] - view.times[view.repetitions[number].start])
    return Finding(
        fault.id, reading.value, "yes", size, severity,
        first=first, worst=worst, last=last, onset_s=onset, **told,
    )  # fmt: skip


def _depths(views: Sequence[View]) -> Mapping[str, float]:
    """Return how far out the joints of a leg are, m, where a front view tells."""
    found = {}
    for view in views:
        if view.kind not in ("front", "3d") or not view.repetitions:
            continue
        try:
            low = view.lower(view.repetitions[0], LOWEST)
        except CannotTell:
            continue
        up = view.stands[0]
        for name, joint, frames in [
            ("hip", "hip", low), ("knee", "knee", low), (STRAIGHT, "knee", up),
            *((joint, joint, up) for joint in LEG[2:5]),
        ]:  # fmt: skip
            where = float(abs(mean(view[joint][frames, 2]))) if joint in view else np.nan
            found |= {name: where} if np.isfinite(where) else {}
    return found


def _seen(view: View, rep: Repetition) -> Seen:
    frames, times = (rep.start, rep.bottom, rep.end), view.times
    flexion, deepest = np.nan, np.nan
    if view.kind in ("side", "3d") and all(joint in view for joint in LEG[:3]):
        bent = view.knee_flexion[rep.start : rep.end + 1]
        if not np.isnan(bent).all():
            at = int(np.nanargmax(bent))
            flexion, deepest = float(np.degrees(bent[at])), float(times[rep.start + at])
    return Seen(view.kind, *map(int, frames), *map(float, times[list(frames)]), flexion, deepest)


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
        far, high, declared = view.places.stand
        if not declared:
            where = f"{far:g} m away and {high:g} m high" if far < FAR_M else "far away"
            notes.append(f"The camera of the {view.kind} view counts as {where}: not declared.")
    return notes


def _nothing(views: Sequence[View]) -> str:
    for view in views:
        if np.isnan(view.height).all():
            continue
        travel = float(np.nanmax(view.height) - np.nanmin(view.height))
        return (
            f"there is no repetition: the hips travel {travel:.2f} m in {view.times[-1]:.1f} s and "
            f"never go down and up again by {LEAST_TRAVEL_M:g} m. Give a recording from standing "
            "to standing, and check that hip_r or hip_l is tracked"
        )
    return "there is no repetition: no hip is seen. Track hip_r or hip_l through the whole movement"
