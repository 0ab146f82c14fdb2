"""What a ranking says: the reason for a place, and the whole on a screen."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from squatlab import faults
from squatlab.norms import norm_in_words
from squatlab.review.causes import Cause
from squatlab.review.findings import Finding, Place

WIDTH = 96

CAUTION = (
    "Stop on pain. This looks at a movement and diagnoses nothing: pain, injury and medical "
    "conditions are for a licensed professional."
)


class InWords(NamedTuple):
    """Hold what a sentence about a place says of a fault."""

    name: str
    tier: str
    size: str
    severity: float
    stops: bool


def of_place(fault: InWords, other: InWords | None, row: Mapping[str, str], *, leads: bool) -> str:
    """Return why a fault stands before (it leads) or after another.

    ``row`` is the policy's row that decided between them.
    """
    if other is None:
        return "under load it stops the set" if fault.stops else "the only fault found"
    # Cut, not rounded, so that 1.97 is never 2.0 and slight at once; finer where both look alike.
    for digits in (1, 2, 3):
        severity, other_severity = _cut(fault.severity, digits), _cut(other.severity, digits)
        if severity != other_severity:
            break
    same_tier = fault.tier == other.tier
    return row["first_words" if leads else "words"].format(
        tier=fault.tier,
        other_tier=other.tier,
        size=fault.size,
        other_size=other.size,
        severity=severity,
        other_severity=other_severity,
        other=other.name,
        place=f"also {fault.tier}," if same_tier else f"{fault.tier},",
    )


def _cut(severity: float, digits: int) -> str:
    """Return a severity with so many decimals, never rounded up."""
    return f"{int(severity * 10**digits + 1e-6) / 10**digits:.{digits}f}"


def of_ranking(
    policy: str,
    places: Sequence[Place],
    findings: Sequence[Finding],
    *,
    stop: bool,
    causes: Sequence[Cause],
    untold: Sequence[str],
    contenders: Sequence[str],
    named: Sequence[str],
    sureness: float,
) -> str:
    """Return the one to fix first with what to do, then all the rest."""
    told, asked = len(findings) - len(untold), len(findings)
    lines = ["STOP THE SET AND UNLOAD, before any coaching.", ""] if stop else []
    if places:
        lines += _first(places[0], named, sureness)
    elif told:
        which = f"none of the {told} faults" if told > 1 else "the one fault"
        is_there = "is" if told > 1 else "is not"
        nothing = f"{which} that could be told, of {asked}, {is_there} there"
        lines.append(
            f"NOT ENOUGH SEEN: {nothing}." if contenders else f"Nothing to fix: {nothing}."
        )
    else:
        lines.append("Nothing could be told, so there is no one to fix first.")
    if len(places) > 1:
        lines += ["", f"For later, in this order ({policy})", *_rest(places[1:])]
    if causes:
        lines += ["", "May share a cause"]
        lines += [line for cause in causes for line in _hung("  ", str(cause))]
    if untold:
        lines += ["", *_hung("Cannot be told here: ", f"{_names(untold)}.")]
    if told and contenders:
        lines += _hung("Would come first if large: ", f"{_names(contenders)}.")
    return "\n".join([*lines, "", *_hung("", CAUTION)])


def how_sure(named: Sequence[str], sureness: float) -> str:
    """Return how sure the first is, and what else it may be."""
    share = f"{100 * sureness:.0f} of 100"
    if len(named) < 2:
        return share
    return f"{share}; else {faults.fault(named[1]).name}. Film again: several repetitions"


def _first(place: Place, named: Sequence[str], sureness: float) -> list[str]:
    """Return the lines about the one to fix first."""
    fault, advice = faults.fault(place.fault), faults.advice(place.fault)
    return [
        f"FIX FIRST  {fault.name} ({_amount(place)})",
        *(_hung("  sure     ", how_sure(named, sureness)) if sureness < 1 else []),
        *_hung("  why      ", place.reason),
        *_hung("  seen     ", fault.seen),
        *_hung("  others   ", norm_in_words(fault.id)),
        *_hung("  say      ", f"“{advice.cue}”"),
        *_hung("  easier   ", advice.regression),
        *_hung("  check    ", advice.check),
    ]


def _rest(places: Sequence[Place]) -> list[str]:
    """Return a line for each later place, its columns aligned."""
    names = [faults.fault(place.fault).name for place in places]
    amounts = [_amount(place) for place in places]
    name_width, amount_width = max(map(len, names)), max(map(len, amounts))
    lines = []
    for place, name, amount in zip(places, names, amounts, strict=True):
        columns = f"{name:{name_width}}  {amount:{amount_width}}"
        lines += _hung(f"  {place.rank:2}  {columns}  ", place.reason)
    return lines


def _amount(place: Place) -> str:
    finding = place.finding
    return f"{finding.size}, {finding.amount} {finding.interval}".rstrip()


def _names(ids: Iterable[str]) -> str:
    return ", ".join(faults.fault(name).name for name in ids)


def _hung(head: str, words: str) -> list[str]:
    return textwrap.wrap(words, WIDTH, initial_indent=head, subsequent_indent=" " * len(head))
