"""What the screening squats say: work on what first, start with what, which bar."""

from __future__ import annotations

from dataclasses import dataclass

from squatlab import faults, tables
from squatlab.gym.roster import Person

NOT_SCREENED = "not screened: no bar before both squats"
"""Which bar for whom one of the two squats is missing [teaching-value]."""


@dataclass(frozen=True)
class Start:
    """Say what one person works on first, and with what they start.

    ``finding`` is what decided; ``later`` what else was seen and waits
    its turn; ``bar`` which bar to take, ``shoulder`` why; ``low_bar``
    is False for shoulders that must not hold one. ``source`` is the key
    of the rule that decided.
    """

    name: str
    finding: str
    work_on: str
    start_with: str
    bar: str
    later: tuple[str, ...]
    source: str
    shoulder: str = ""
    low_bar: bool = True

    def __str__(self) -> str:
        later = f" Later: {', '.join(self.later)}." if self.later else ""
        words = (
            f"{self.name}: {self.finding}. {self.work_on[0].upper()}{self.work_on[1:]} "
            f"[{self.source}]. Start: {self.start_with}; {self.bar}.{later}"
        )
        return words.replace("_", " ")


def start(person: Person) -> Start:
    """Choose the one thing this person works on first, and a start.

    Pain comes before everything and ends the lifting; then the order of
    the catalogue of faults, from data/screening.csv. A finding that is
    gone with a weight in front (goblet squat) gets another start than one
    that stays. Nothing is said of causes in the body, which is for
    a licensed professional.
    """
    first, *others = _findings(person)
    answer = {True: "yes", False: "no", None: "not asked"}[person.shoulder_restricted]
    (shoulder,) = _rules("shoulder", answer)
    if not person.lifts:
        bar = "no bar today"
    elif person.bodyweight_squat and person.goblet_squat:
        bar = shoulder["start_with"]
    else:
        bar = NOT_SCREENED
    return Start(
        name=person.name,
        finding=first["finding"],
        work_on=first["work_on"],
        start_with=first["start_with"],
        bar=bar,
        later=tuple(row["finding"] for row in others),
        source=first["source"],
        shoulder=shoulder["work_on"],
        low_bar=answer != "yes",
    )


def _findings(person: Person) -> list[dict[str, str]]:
    """Return the rule for each thing found, what comes first before the rest."""
    # With only one of the two squats screened, it cannot be known whether a weight helps: what
    # was seen in the one counts for both.
    without_weight = person.bodyweight_squat or person.goblet_squat
    with_weight = person.goblet_squat or person.bodyweight_squat
    rows = []
    for finding in ("pain", *faults.catalogue()):
        if finding in without_weight and finding in with_weight:
            rows += _rules(finding, "both")
        elif finding in without_weight:
            rows += _rules(finding, "bodyweight")
        elif finding in with_weight:
            rows += _rules(finding, "goblet")
    if rows:
        return rows
    if person.bodyweight_squat and person.goblet_squat:
        return _rules("good", person.experience)
    return _rules("not screened")


def _rules(finding: str, when: str = "any") -> list[dict[str, str]]:
    """Return the rows of screening.csv for a finding that hold then, or always."""
    return [
        row
        for row in tables.read("screening")
        if row["finding"] == finding and row["when"] in (when, "any")
    ]
