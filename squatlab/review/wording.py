"""What a ranking says: the reason for a place, and the whole on a screen."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable
from typing import TYPE_CHECKING

from squatlab import faults

if TYPE_CHECKING:
    from squatlab.review.priority import Case, Place, Ranking

WIDTH = 96

CAUTION = (
    "Stop on pain. This looks at a movement and diagnoses nothing: pain, injury and medical "
    "conditions belong to licensed practice."
)


def of_place(case: Case, other: Case | None, row: dict[str, str], leads: bool) -> str:
    """Return why a case stands before (it leads) or after another.

    ``row`` is the policy's row that decided between them.
    """
    if other is None:
        return "under load it stops the set" if case.stops else "the only fault found"
    tier, other_tier = (faults.TIERS[c.fault.tier] for c in (case, other))
    # Cut, not rounded, so that 1.97 is never 2.0 and slight at once; finer where both look alike.
    for digits in (1, 2, 3):
        severity, other_severity = (
            f"{int(c.severity * 10**digits + 1e-6) / 10**digits:.{digits}f}" for c in (case, other)
        )
        if severity != other_severity:
            break
    return row["first_words" if leads else "words"].format(
        tier=tier, other_tier=other_tier, size=case.size, other_size=other.size,
        severity=severity, other_severity=other_severity, other=other.fault.name,
        place=f"also {tier}," if tier == other_tier else f"{tier},",
    )  # fmt: skip


def of_ranking(ranking: Ranking) -> str:
    """Return the one to fix first with what to do, then all the rest."""
    told, of = len(ranking.findings) - len(ranking.untold), len(ranking.findings)
    lines = []
    if ranking.stop:
        lines += ["STOP THE SET AND UNLOAD, before any coaching.", ""]
    if ranking.first is None:
        which = f"none of the {told} faults" if told > 1 else "the one fault"
        is_there = "is" if told > 1 else "is not"
        nothing = f"Nothing to fix: {which} that could be told, of {of}, {is_there} there."
        lines.append(nothing if told else "Nothing could be told, so there is no one to fix first.")
    for place in ranking.places[:1]:
        fault, advice = faults.fault(place.fault), faults.advice(place.fault)
        lines.append(f"FIX FIRST  {fault.name} ({_amount(place)})")
        lines += _hung("  why      ", place.reason)
        lines += _hung("  seen     ", fault.seen)
        lines += _hung("  say      ", f"“{advice.cue}”")
        lines += _hung("  for now  ", advice.regression)
        lines += _hung("  check    ", advice.check)
    if len(ranking) > 1:
        lines += ["", f"For later, in this order ({ranking.policy})"]
    names = [faults.fault(place.fault).name for place in ranking]
    sizes = [_amount(place) for place in ranking]
    for place, name, size in list(zip(ranking, names, sizes, strict=True))[1:]:
        columns = f"{name:{max(map(len, names))}}  {size:{max(map(len, sizes))}}"
        lines += _hung(f"  {place.rank:2}  {columns}  ", place.reason)
    if ranking.shared_causes:
        lines += ["", "May share a cause"]
        lines += [line for cause in ranking.shared_causes for line in _hung("  ", str(cause))]
    if ranking.untold:
        lines += ["", *_hung("Cannot be told here: ", f"{_names(ranking.untold)}.")]
    if told and ranking.contenders:
        lines += _hung("Would come first if large: ", f"{_names(ranking.contenders)}.")
    return "\n".join([*lines, "", *_hung("", CAUTION)])


def _amount(place: Place) -> str:
    return f"{place.finding.size}, {place.finding.amount}"


def _names(ids: Iterable[str]) -> str:
    return ", ".join(faults.fault(name).name for name in ids)


def _hung(head: str, words: str) -> list[str]:
    return textwrap.wrap(words, WIDTH, initial_indent=head, subsequent_indent=" " * len(head))
