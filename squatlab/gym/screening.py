"""What the screening squats say: work on what first, start with what, which bar."""

from __future__ import annotations

from dataclasses import dataclass

from squatlab import tables
from squatlab.gym.roster import Person

BARS = {True: "strap-held or padded bar", False: "bar in the hands", None: "ask first"}


@dataclass(frozen=True)
class Advice:
    """Say what one person works on first, and with what they start.

    ``finding`` is what decided; ``later`` what else was seen and waits
    its turn; ``bar`` which bar to take, ``shoulder`` why. ``source`` is
    the key of the rule that decided.
    """

    name: str
    finding: str
    work_on: str
    start_with: str
    bar: str
    later: tuple[str, ...]
    source: str
    shoulder: str = ""

    def __str__(self) -> str:
        parts = [
            f"{self.name}: {self.finding.replace('_', ' ')}.",
            f"{self.work_on[0].upper()}{self.work_on[1:]} [{self.source}].",
            f"Start: {self.start_with}; {self.bar}.",
        ]
        if self.later:
            parts.append(f"Later: {', '.join(self.later).replace('_', ' ')}.")
        return " ".join(parts)


def advise(person: Person) -> Advice:
    """Choose the one thing this person works on first, and a start.

    Pain comes before everything and ends the lifting; then hips and
    spine, knees, feet [common-practice], from data/screening.csv. A
    finding that is gone with a weight in front (goblet squat) gets
    another advice than one that stays. Says nothing about causes in the
    body, which is for licensed practice.
    """
    found = sorted(_findings(person), key=lambda row: int(row["rank"]))
    first, *others = found
    shoulder = {True: "yes", False: "no", None: "not asked"}[person.shoulder_restricted]
    words = [row["work_on"] for row in _rules("shoulder", shoulder)]
    bar = "no bar today" if first["finding"] == "pain" else BARS[person.shoulder_restricted]
    return Advice(
        person.name, first["finding"], first["work_on"], first["start_with"], bar,
        tuple(row["finding"] for row in others), first["source"], "".join(words),
    )  # fmt: skip


def _findings(person: Person) -> list[dict[str, str]]:
    """Return the rule for each thing found, in no particular order."""
    alone, weighted = person.bodyweight_squat, person.goblet_squat
    rows = []
    for finding in dict.fromkeys(alone + weighted):
        if finding == "good":
            continue
        # With only one of the two squats screened, it cannot be known whether a weight helps.
        seen_in = finding in alone or not alone, finding in weighted or not weighted
        when = {(True, True): "both", (True, False): "bodyweight", (False, True): "goblet"}[seen_in]
        rows += _rules(finding, when)
    if not rows:
        screened = alone and weighted
        rows = _rules("good", person.experience) if screened else _rules("not screened", "any")
    return rows


def _rules(finding: str, when: str) -> list[dict[str, str]]:
    return [
        row
        for row in tables.read("screening")
        if row["finding"] == finding and row["when"] in (when, "any")
    ]
