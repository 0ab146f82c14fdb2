"""Which one first: findings put in order, with the reason for every place.

The order is data: ``data/policies.csv`` lists for each policy what is
compared, first to last, and the words that say so. What a finding is
compared by is an array over faults, so that thousands of readings of one
squat are put in order in one call.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import cache, cached_property

import numpy as np
from numpy.typing import NDArray

from squatlab import faults, tables
from squatlab.faults import TRACE
from squatlab.review import wording
from squatlab.review.causes import Cause, consequences, shared
from squatlab.review.findings import Finding, Findings, Place

NAMED_ALONE = 0.8
"""The first is named alone if it comes first in this share of what the
recording may have been [teaching-value]; else the next likely beside it."""

NONE = -1
"""Stands for no fault where faults are numbered."""


@dataclass(frozen=True, eq=False)
class Severities:
    """Hold how bad each fault of the catalogue is, (…, fault).

    nan is not told. ``onset_s`` (fault,) says when each shows, ``loaded``
    whether there is a load.
    """

    severity: NDArray[np.float64]
    onset_s: NDArray[np.float64]
    loaded: bool

    @cached_property
    def size(self) -> NDArray[np.intp]:
        """Return 0 where a fault is not there, else 1 slight, 2 clear, 3 gross."""
        return np.clip(np.nan_to_num(self.severity, nan=0.0) + TRACE, 0, 3).astype(int)

    @cached_property
    def stops(self) -> NDArray[np.bool_]:
        """Return where a fault stops a set: as large as the catalogue says."""
        return (self.size >= _stop_sizes()) & self.loaded


@cache
def _stop_sizes() -> NDArray[np.intp]:
    """Return from which size on each fault stops a set, 9 for never."""
    stops = [fault.stop for fault in faults.catalogue().values()]
    return np.array([1 + faults.SIZES.index(stop) if stop else 9 for stop in stops])


CRITERIA: dict[str, Callable[[Severities], NDArray]] = {
    "stop": lambda given: ~given.stops,
    "slight": lambda given: given.size == 1,
    "tier": lambda given: np.array([fault.tier for fault in faults.catalogue().values()]),
    "severity": lambda given: -np.nan_to_num(given.severity, nan=0.0),
    "onset": lambda given: given.onset_s,
    "listed": lambda given: np.arange(len(faults.catalogue())),
}
"""What a policy can compare, (…, fault); the smaller comes first."""

CAUSE = "cause"
"""The criterion that puts a cause just before what it brings."""


@dataclass(frozen=True, eq=False, repr=False)
class Ranking:
    """Hold the faults that are there, the one to fix first at the head.

    Iterates over its places. ``findings`` are all, in the catalogue's
    order; ``stop`` says to stop the set and unload before any coaching.
    ``sureness`` is the share of what the recording may have been in which
    the first comes first, ``rival`` the fault that does so next often, or
    "". Printing it says what to do.
    """

    policy: str
    places: tuple[Place, ...]
    findings: tuple[Finding, ...]
    loaded: bool
    stop: bool
    sureness: float
    rival: str

    def __iter__(self) -> Iterator[Place]:
        return iter(self.places)

    def __len__(self) -> int:
        return len(self.places)

    def __getitem__(self, index: int) -> Place:
        return self.places[index]

    @property
    def first(self) -> Place | None:
        """Return the one to fix first, or None: nothing to fix."""
        return self.places[0] if self.places else None

    @property
    def advice(self) -> faults.Advice | None:
        """Return cue, regression and check for the first, or None."""
        return faults.advice(self.first.fault) if self.first else None

    @property
    def shared_causes(self) -> tuple[Cause, ...]:
        """Return what faults that are there may have in common."""
        return shared([place.fault for place in self.places])

    @property
    def untold(self) -> tuple[str, ...]:
        """Return the faults of which nothing could be told."""
        return tuple(f.fault for f in self.findings if f.present == "cannot tell")

    @property
    def contenders(self) -> tuple[str, ...]:
        """Return those of the untold that would come first if they were large."""
        names, given = list(faults.catalogue()), _severities(self.findings, self.loaded)
        large = []
        for name in self.untold:
            severity, onset_s = given.severity.copy(), given.onset_s.copy()
            severity[names.index(name)], onset_s[names.index(name)] = VERY_LARGE, 0.0
            tried = Severities(severity, onset_s, self.loaded)
            if leaders(tried, self.policy) == names.index(name):
                large.append(name)
        return tuple(large)

    @property
    def enough_seen(self) -> bool:
        """Tell whether nothing that would come first went untold, or a first is there."""
        return self.first is not None or not self.contenders

    @property
    def named(self) -> tuple[str, ...]:
        """Return the faults to name as first: one, or two where one is not sure."""
        if self.first is None:
            return ()
        alone = self.sureness >= NAMED_ALONE or not self.rival
        return (self.first.fault,) if alone else (self.first.fault, self.rival)

    @cached_property
    def margin(self) -> float:
        """Return how far the first place is from being another's.

        The least d such that the severity of one finding, moved up or
        down by d or by a trace more while all others stay, puts another
        fault first, or none. A finding moved to severity 1 or more is
        there, below 1 it is not; what cannot be told stays so. inf if
        nothing could be told.
        """
        given = _severities(self.findings, self.loaded)
        told = np.flatnonzero(np.isfinite(given.severity))
        if not told.size:
            return math.inf
        # The order can change only where a severity meets a size or another finding's.
        limits = np.unique(np.concatenate([[1.0, 2.0, 3.0], given.severity[told]]))
        moved, limit, trace = (
            grid.ravel() for grid in np.meshgrid(told, limits, (0.0, -2 * TRACE, 2 * TRACE))
        )
        tried = np.repeat(given.severity[np.newaxis], moved.size, axis=0)
        tried[np.arange(moved.size), moved] = limit + trace
        first = leaders(given, self.policy)
        others = leaders(Severities(tried, given.onset_s, self.loaded), self.policy) != first
        away = np.abs(limit - given.severity[moved])[others]
        return float(away.min()) if away.size else math.inf

    def __repr__(self) -> str:
        return wording.of_ranking(
            self.policy,
            self.places,
            self.findings,
            stop=self.stop,
            causes=self.shared_causes,
            untold=self.untold,
            contenders=self.contenders,
            named=self.named,
            sureness=self.sureness,
        )


def policies() -> tuple[str, ...]:
    """Return the names of the policies there are, the usual one first."""
    return tuple(dict.fromkeys(row["policy"] for row in tables.read("policies")))


def prioritise(
    findings: Iterable[Finding], policy: str = "tier-first", *, loaded: bool = True
) -> Ranking:
    """Return the faults that are there in order, the one to fix first.

    ``policy`` is one of `policies`. ``loaded`` is False for a squat
    without any load: then nothing stops the set. Raises ValueError for
    an unknown policy, or two findings of one fault.
    """
    rows, names = _rows(policy), list(faults.catalogue())
    given = tuple(sorted(findings, key=lambda f: names.index(faults.fault(f.fault).id)))
    by_fault = {finding.fault: finding for finding in given}
    if len(by_fault) < len(given):
        raise ValueError(
            f"{len(given)} findings of {len(by_fault)} faults; give one for each fault"
        )
    severities = _severities(given, loaded)
    order = _order(severities, policy)
    sureness, rival = 1.0, ""
    if isinstance(findings, Findings) and findings.samples is not None:
        order, sureness, rival = _likelier(order, findings, severities, policy)
    weighed = [_weighed(number, severities) for number in order]
    places = []
    for index, (number, case) in enumerate(zip(order, weighed, strict=True)):
        beside = index - 1 if index else 1
        other, row = None, {}
        if beside < len(order):
            other, row = weighed[beside], _deciding(number, order[beside], severities, rows)
        reason = wording.of_place(case, other, row, leads=not index)
        places.append(Place(names[number], index + 1, reason, by_fault[names[number]]))
    stop = bool(severities.stops[order].any()) if order else False
    return Ranking(policy, tuple(places), given, loaded, stop, sureness, rival)


VERY_LARGE = 99.0
"""A severity above all others."""


def leaders(given: Severities, policy: str) -> NDArray[np.intp]:
    """Return the number of the fault that comes first, (…,), or `NONE`."""
    criteria = [row["criterion"] for row in _rows(policy)]
    is_there = given.size > 0
    left = is_there.copy()
    for criterion in criteria:
        if criterion == CAUSE:
            continue
        # Of those left, keep those that are smallest by this criterion.
        value = np.where(left, CRITERIA[criterion](given), np.inf)
        left &= value == value.min(axis=-1, keepdims=True)
    first = np.where(is_there.any(axis=-1), left.argmax(axis=-1), NONE)
    if CAUSE in criteria:
        names = list(faults.catalogue())
        for cause, consequence in consequences():
            at, then = names.index(cause), names.index(consequence)
            brings = _brings(given, at, then)
            first = np.where((first == then) & brings, at, first)
    return first


def _brings(given: Severities, cause: int, consequence: int) -> NDArray[np.bool_]:
    """Tell where a cause goes before what it brings: unless it alone is slight."""
    size = given.size
    alike = (size[..., cause] > 1) | (size[..., consequence] == 1)
    return (size[..., cause] > 0) & (size[..., consequence] > 0) & alike


def _order(given: Severities, policy: str) -> list[int]:
    """Return the numbers of the faults that are there, first to last."""
    severity, order = given.severity.copy(), []
    while (first := int(leaders(Severities(severity, given.onset_s, given.loaded), policy))) >= 0:
        order.append(first)
        severity[first] = np.nan
    return order


def _likelier(
    order: list[int], findings: Findings, given: Severities, policy: str
) -> tuple[list[int], float, str]:
    """Return the order with the likeliest first, how sure it is, and the next likely.

    Each sample is what the squat may have been, by what the recording's
    errors leave open. Only what is there can be first.
    """
    names = list(faults.catalogue())
    numbers = leaders(Severities(findings.samples, given.onset_s, given.loaded), policy)
    shares = np.bincount(numbers + 1, minlength=len(names) + 1) / numbers.size
    nothing, shares = float(shares[0]), shares[1:]
    if not order:
        return order, nothing, ""
    first = max(order, key=lambda number: (shares[number], -order.index(number)))
    others = shares.copy()
    others[first] = 0.0
    rival = names[int(others.argmax())] if others.max() > 0 else ""
    order = [first, *(number for number in order if number != first)]
    return order, float(shares[first]), rival


def _rows(policy: str) -> list[dict[str, str]]:
    """Return a policy's rows in their order; the last makes the order total."""
    rows = [row for row in tables.read("policies") if row["policy"] == policy]
    if not rows:
        raise ValueError(
            f"there is no policy {policy!r}{tables.closest(str(policy), policies()) or '.'} "
            f"The policies: {', '.join(policies())}"
        )
    rows.sort(key=lambda row: int(row["position"]))
    named = [row["criterion"] for row in rows]
    if named[-1] != "listed" or not set(named) <= {CAUSE, *CRITERIA}:
        raise ValueError(
            f"policies.csv, {policy}: it compares {', '.join(named)}; what can be compared: "
            f"{', '.join((*CRITERIA, CAUSE))}, and listed must come last"
        )
    return rows


def _deciding(
    number: int, other: int, given: Severities, rows: list[dict[str, str]]
) -> dict[str, str]:
    """Return the row that decides between two faults, by their numbers."""
    names = list(faults.catalogue())
    for row in rows:
        if row["criterion"] == CAUSE:
            pairs = [(names.index(a), names.index(b)) for a, b in consequences()]
            for cause, consequence in pairs:
                if {cause, consequence} == {number, other} and _brings(given, cause, consequence):
                    return row
            continue
        value = CRITERIA[row["criterion"]](given)
        if value[number] != value[other]:
            return row
    raise AssertionError("the catalogue's order tells any two faults apart")


def _weighed(number: int, given: Severities) -> wording.InWords:
    """Return what a sentence about the place of a fault says of it."""
    fault = list(faults.catalogue().values())[number]
    size = ("", *faults.SIZES)[given.size[number]]
    return wording.InWords(
        fault.name,
        faults.TIERS[fault.tier],
        size,
        float(given.severity[number]),
        bool(given.stops[number]),
    )


def _severities(findings: Iterable[Finding], loaded: bool) -> Severities:
    """Return how bad each fault is; nan for what cannot be told or is not given."""
    names = list(faults.catalogue())
    severity, onset_s = np.full(len(names), np.nan), np.full(len(names), np.inf)
    for finding in findings:
        if finding.present == "cannot tell":
            continue
        number = names.index(faults.fault(finding.fault).id)
        severity[number] = finding.severity
        if finding.onset_s is not None and not math.isnan(finding.onset_s):
            onset_s[number] = finding.onset_s
    return Severities(severity, onset_s, loaded)
