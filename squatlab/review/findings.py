"""From views to findings: for every fault whether it is there, how large, when, why not."""

from __future__ import annotations

import math
import textwrap
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from squatlab import faults
from squatlab.faults import Fault
from squatlab.lifter import Lifter
from squatlab.review.errors import CannotTell, ReviewError
from squatlab.review.measurers import MEASURERS, Reading
from squatlab.review.perspective import FAR_M
from squatlab.review.quantities import Quantities
from squatlab.review.view import LEG, View, views_of
from squatlab.signals import LEAST_TRAVEL_M
from squatlab.tracks import Tracks

WIDTH = 100

TRACE = 1e-9
"""A severity this near a limit is on it, whatever its last bit."""

SEEN_FROM = {"side": "the side", "front": "the front", "oblique": "an angle"}


@dataclass(frozen=True)
class Seen:
    """Hold one repetition of a view: frames and, in s, when they were.

    ``knee_flexion_deg`` is how far the near knee bent at most, at
    ``deepest_s``; nan where not seen.
    """

    view: str
    start: int
    bottom: int
    end: int
    start_s: float
    bottom_s: float
    end_s: float
    knee_flexion_deg: float = math.nan
    deepest_s: float = math.nan


@dataclass(frozen=True)
class Finding:
    """Hold what was found of one fault.

    ``value`` is in the fault's `unit`, nan if it cannot be told, and of
    the ``repetition`` (from 1) that is the median of ``each``. ``present``
    is "yes", "no" or "cannot tell". ``first``, ``worst`` and ``last`` number
    frames of the view at even times; ``onset_s`` is how long after the
    start of the repetition it shows. ``reason`` says what was measured,
    or why it cannot be told.
    """

    fault: str
    value: float = math.nan
    present: str = "cannot tell"
    size: str = ""
    severity: float = math.nan
    view: str = ""
    repetition: int | None = None
    first: int | None = None
    worst: int | None = None
    last: int | None = None
    onset_s: float | None = None
    reason: str = ""
    each: tuple[float, ...] = ()

    @property
    def name(self) -> str:
        """Return the fault in a coach's words."""
        return faults.fault(self.fault).name

    @property
    def unit(self) -> str:
        """Return the unit of the value."""
        return faults.fault(self.fault).unit

    @property
    def answer(self) -> str:
        """Return size, or "no", or "cannot tell"."""
        return self.size if self.present == "yes" else self.present

    @property
    def amount(self) -> str:
        """Return the value with its unit in words, or ''."""
        if math.isnan(self.value):
            return ""
        digits, gap = {"ms": 0, "s": 2}.get(self.unit, 1), "" if self.unit == "°" else " "
        rounded = round(self.value, digits) + 0.0  # never −0.0
        return f"{rounded:.{digits}f}{gap}{self.unit}".replace("-", "−")


@dataclass(frozen=True, eq=False)
class Place:
    """Hold one place of a ranking, counted from 1, with its reason.

    The first says why it comes before the second, every other why it
    comes after the one above it.
    """

    fault: str
    rank: int
    reason: str
    finding: Finding


@dataclass(frozen=True, eq=False, repr=False)
class Findings:
    """Hold a finding for every fault of the catalogue, in its order.

    Iterates over them; ``findings["knee_valgus"]`` is one. ``repetitions``
    are those seen, view by view; ``notes`` say what was assumed. Printing
    it shows a table.
    """

    all: tuple[Finding, ...]
    repetitions: tuple[Seen, ...]
    notes: tuple[str, ...] = ()

    def __iter__(self) -> Iterator[Finding]:
        return iter(self.all)

    def __len__(self) -> int:
        return len(self.all)

    def __getitem__(self, name: str) -> Finding:
        wanted = faults.fault(name).id
        return next(finding for finding in self.all if finding.fault == wanted)

    def present(self) -> tuple[Finding, ...]:
        """Return the findings that are there, slight ones too."""
        return tuple(finding for finding in self.all if finding.present == "yes")

    def as_dict(self) -> dict[str, Any]:
        """Return everything as lists, dicts, numbers and text, nan as None."""
        return {
            "repetitions": [_plain(asdict(seen)) for seen in self.repetitions],
            "findings": [
                _plain({"name": finding.name, "unit": finding.unit} | asdict(finding))
                for finding in self.all
            ],
            "notes": list(self.notes),
        }

    def __repr__(self) -> str:
        rows = [("fault", "found", "value", "shows from", "measured, or why it cannot be told")]
        for f in self.all:
            rows.append((f.name, f.answer, f.amount, self._shows_from(f), f.reason))
        widths = [max(len(row[column]) for row in rows) for column in range(4)]
        lines = [self._heading(), ""]
        for row in rows:
            cells = [cell.ljust(width) for cell, width in zip(row, widths, strict=False)]
            cells[2] = row[2].rjust(widths[2])
            head = "  ".join(cells) + "  "
            lines += textwrap.wrap(
                row[4] or " ", max(WIDTH, len(head) + 30), initial_indent=head,
                subsequent_indent=" " * len(head), drop_whitespace=bool(row[4]),
            )  # fmt: skip
        return "\n".join([*(line.rstrip() for line in lines), *self.notes])

    def _shows_from(self, finding: Finding) -> str:
        """Return from when on a fault shows, in its view's film, or ''."""
        starts = [seen.start_s for seen in self.repetitions if seen.view == finding.view]
        if finding.onset_s is None or finding.repetition is None or not starts:
            return ""
        return f"{starts[finding.repetition - 1] + finding.onset_s:.2f} s".replace("-", "−")

    def _heading(self) -> str:
        counts = Counter(seen.view for seen in self.repetitions)
        views = ", ".join(f"{view} {count}" for view, count in counts.items())
        several = "; values are of the median repetition" * (max(counts.values(), default=0) > 1)
        return f"Repetitions seen: {views}{several}. Times are of the film."


def _plain(given: dict[str, Any]) -> dict[str, Any]:
    def value(item: Any) -> Any:
        if isinstance(item, float) and not math.isfinite(item):
            return None
        return [value(one) for one in item] if isinstance(item, tuple) else item

    return {name: value(item) for name, item in given.items()}


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
    views = views_of(*tracks, lifter=lifter, bar_kg=bar_kg, camera=camera)
    if not any(view.repetitions for view in views):
        raise ReviewError(_nothing(views))
    looks = [[Quantities(view, repetition) for repetition in view.repetitions] for view in views]
    found = tuple(_finding(fault, views, looks) for fault in faults.catalogue().values())
    seen = tuple(_seen(quantities) for each in looks for quantities in each)
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


def _finding(fault: Fault, views: Sequence[View], looks: Sequence[Sequence[Quantities]]) -> Finding:
    """Return what the best view tells of a fault, or why none does."""
    tried = []
    for view, each in zip(views, looks, strict=True):
        if view.kind == "3d" or fault.view in ("any", view.kind):
            finding = _over_repetitions(fault, view, each)
            if finding.present != "cannot tell":
                return finding
            tried.append(finding)
    if tried:
        return tried[0]
    kinds = " and ".join(SEEN_FROM[view.kind] for view in views)
    return Finding(fault.id, reason=f"seen from {kinds} only; film from the {fault.view}")


def _over_repetitions(fault: Fault, view: View, looks: Sequence[Quantities]) -> Finding:
    """Return the finding of the median repetition, the worse of the middle two."""
    readings: dict[int, Reading] = {}
    reasons = [f"no repetition is seen in the {view.kind} view"] if not looks else []
    for number, quantities in enumerate(looks):
        try:
            reading = MEASURERS[fault.id](quantities, view.repetitions[number])
            if np.isnan(reading.value):
                raise CannotTell("a point it rests on is not seen when it counts")
            readings[number] = reading
        except CannotTell as reason:
            reasons.append(str(reason))
    each = tuple(
        float(readings[number].value) if number in readings else math.nan
        for number in range(len(looks))
    )
    if not readings:
        return Finding(fault.id, view=view.kind, reason=reasons[0], each=each)
    order = sorted(readings, key=lambda k: readings[k].value, reverse=fault.smaller_is_worse)
    number = order[len(order) // 2]
    return _judged(fault, view, number, readings[number], each)


def _judged(
    fault: Fault, view: View, number: int, reading: Reading, each: tuple[float, ...]
) -> Finding:
    """Return the finding that a reading makes, with the frames in which it shows."""
    value = float(reading.value)
    words, severity = reading.words(value), float(fault.severity(value))
    common = {"view": view.kind, "repetition": number + 1, "each": each}
    if severity >= 1 and value < reading.certain_from:
        return Finding(fault.id, reason=f"{reading.doubt} ({words})", **common)
    severity = min(severity, reading.most)
    common["reason"] = words
    if severity < 1 - TRACE:
        return Finding(fault.id, value, "no", "", severity, **common)
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
        fault.id, value, "yes", size, severity,
        first=first, worst=worst, last=last, onset_s=onset, **common,
    )  # fmt: skip


def _seen(quantities: Quantities) -> Seen:
    """Return when a repetition was, and how far the knee bent in it."""
    view, repetition = quantities.view, quantities.repetition
    times, frames = view.times, (repetition.start, repetition.bottom, repetition.end)
    flexion, deepest = math.nan, math.nan
    if view.kind in ("side", "3d") and all(joint in view for joint in LEG[:3]):
        bent = quantities.knee_flexion.series[view.frames_of(repetition)]
        if not np.isnan(bent).all():
            at = int(np.nanargmax(bent))
            flexion, deepest = float(bent[at]), float(times[repetition.start + at])
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
        camera = view.placed.standpoint
        if not camera.declared:
            where = (
                f"{camera.distance_m:g} m away and {camera.height_m:g} m high"
                if camera.distance_m < FAR_M
                else "far away"
            )
            notes.append(f"The camera of the {view.kind} view counts as {where}: not declared.")
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
