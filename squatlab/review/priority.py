"""Which one first: findings put in order, with the reason for every place.

The order is data: ``data/policies.csv`` lists for each policy what is
compared, first to last, and the words that say so.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

from squatlab import faults, tables
from squatlab.review import wording
from squatlab.review.causes import Cause, shared
from squatlab.review.findings import Finding, Place

TRACE = 1e-9
"""A severity this near a limit is on it, whatever its last bit."""


@dataclass(frozen=True)
class Weighed:
    """Hold what the order of a finding rests on, and nothing else."""

    fault: faults.Fault
    severity: float
    onset: float
    loaded: bool

    @property
    def size(self) -> str:
        """Return "slight", "clear", "gross", or "": not there."""
        return ("", *faults.SIZES)[min(int(self.severity + TRACE), 3)]

    @property
    def stops(self) -> bool:
        """Tell whether this stops a set: as large as the catalogue says."""
        stop = self.fault.stop
        return self.loaded and bool(stop) and self.severity + TRACE >= 1 + faults.SIZES.index(stop)

    def in_words(self) -> wording.InWords:
        """Return what a sentence about its place says of it."""
        tier = faults.TIERS[self.fault.tier]
        return wording.InWords(self.fault.name, tier, self.size, self.severity, self.stops)


CRITERIA: dict[str, Callable[[Weighed], Any]] = {
    "stop": lambda case: not case.stops,
    "slight": lambda case: case.size == "slight",
    "tier": lambda case: case.fault.tier,
    "severity": lambda case: -case.severity,
    "onset": lambda case: case.onset,
    "listed": lambda case: list(faults.catalogue()).index(case.fault.id),
}
"""What a policy can compare; the smaller comes first."""


@dataclass(frozen=True, eq=False, repr=False)
class Ranking:
    """Hold the faults that are there, the one to fix first at the head.

    Iterates over its places. ``findings`` are all, in the catalogue's
    order; ``stop`` says to stop the set and unload before any coaching.
    Printing it says what to do.
    """

    policy: str
    places: tuple[Place, ...]
    findings: tuple[Finding, ...]
    loaded: bool
    stop: bool

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
        key, cases = _key(self.policy), _cases(self.findings, self.loaded)
        large = [Weighed(faults.fault(name), 99.0, 0.0, self.loaded) for name in self.untold]
        return tuple(one.fault.id for one in large if _leader([one, *cases], key) is one)

    @cached_property
    def margin(self) -> float:
        """Return how far the first place is from being another's.

        The least d such that the severity of one finding, moved up or
        down by d or by a trace more while all others stay, puts another
        fault first, or none. A finding moved to severity 1 or more is
        there, below 1 it is not; what cannot be told stays so. inf if
        nothing could be told.
        """
        key, cases = _key(self.policy), _cases(self.findings, self.loaded)
        # The order can change only where a severity meets a size or another finding's.
        limits = {1.0, 2.0, 3.0} | {case.severity for case in cases}
        first, least = _leader(cases, key), math.inf
        for moved in cases:
            rest = _leader([case for case in cases if case is not moved], key)
            for limit in sorted(limits, key=lambda limit: abs(limit - moved.severity)):
                if (away := abs(limit - moved.severity)) >= least:
                    break
                tried = (replace(moved, severity=limit + by) for by in (0, -2 * TRACE, 2 * TRACE))
                leaders = (_leader([one, rest], key) for one in tried)
                if any((one and one.fault) != (first and first.fault) for one in leaders):
                    least = away
        return least

    def __repr__(self) -> str:
        return wording.of_ranking(
            self.policy, self.places, self.findings, stop=self.stop, causes=self.shared_causes,
            untold=self.untold, contenders=self.contenders,
        )  # fmt: skip


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
    rows, order = _rows(policy), list(faults.catalogue())
    findings = tuple(sorted(findings, key=lambda f: order.index(faults.fault(f.fault).id)))
    of = {finding.fault: finding for finding in findings}
    if len(of) < len(findings):
        raise ValueError(f"{len(findings)} findings of {len(of)} faults; give one for each fault")
    there = [case for case in _cases(findings, loaded) if case.size]
    there.sort(key=_key(policy))
    places = []
    for index, case in enumerate(there):
        other = there[index - 1] if index else next(iter(there[1:]), None)
        reason = wording.of_place(
            case.in_words(), other and other.in_words(), _deciding(case, other, rows),
            leads=not index,
        )  # fmt: skip
        places.append(Place(case.fault.id, index + 1, reason, of[case.fault.id]))
    return Ranking(policy, tuple(places), findings, loaded, any(case.stops for case in there))


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
    if named[-1] != "listed" or not set(named) <= set(CRITERIA):
        raise ValueError(
            f"policies.csv, {policy}: it compares {', '.join(named)}; what can be compared: "
            f"{', '.join(CRITERIA)}, and listed must come last"
        )
    return rows


def _key(policy: str) -> Callable[[Weighed], tuple]:
    compared = [CRITERIA[row["criterion"]] for row in _rows(policy)]
    return lambda case: tuple(compare(case) for compare in compared)


def _deciding(case: Weighed, other: Weighed | None, rows: list[dict[str, str]]) -> dict[str, str]:
    """Return the first row in which two cases differ."""
    if other is None:
        return {}
    differ = (r for r in rows if CRITERIA[r["criterion"]](case) != CRITERIA[r["criterion"]](other))
    return next(differ)


def _cases(findings: Iterable[Finding], loaded: bool) -> list[Weighed]:
    """Return a case for every finding that could be told."""
    cases = []
    for finding in findings:
        if finding.present == "cannot tell":
            continue
        onset = math.inf if finding.onset_s is None else float(finding.onset_s)
        onset = math.inf if math.isnan(onset) else onset
        cases.append(Weighed(faults.fault(finding.fault), float(finding.severity), onset, loaded))
    return cases


def _leader(cases: Iterable[Weighed | None], key: Callable[[Weighed], tuple]) -> Weighed | None:
    return min((case for case in cases if case is not None and case.size), key=key, default=None)
