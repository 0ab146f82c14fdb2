"""An invented rowing club sits the exam: who answers what, what judges and coaches say.

Nobody here exists. What they confuse is what learners of this course may
confuse [teaching-value]: neighbours in place or time, and clean lifts in
which something must surely be wrong.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import UTC, datetime, timedelta

import numpy as np

from squatlab import faults
from squatlab.exam.answers import Sheet
from squatlab.exam.build import Drawn
from squatlab.exam.forms import Form, FormKey
from squatlab.exam.records import Records, open_form
from squatlab.questions import files
from squatlab.questions.kinds import Given, Habits
from squatlab.questions.question import Key

CLUB = "the invented rowing club"
PEOPLE, JUDGES, COACHES = 24, 5, ("K1", "K2")
FORMS = ("spring", "summer")
BEGINS = {"spring": datetime(2026, 4, 18, 9, 0, tzinfo=UTC),
          "summer": datetime(2026, 6, 13, 9, 0, tzinfo=UTC)}  # fmt: skip
"""Two Saturdays, further apart than the retake rule asks."""

TAKEN_FOR_FAULTS = ("knees_far_forward", "hips_rise_first", "bar_forward")
"""What people see who must find a fault in a clean lift, most often first."""


class Clock:
    """The certifier's clock on the invented days: it stands until it is set."""

    def __init__(self, time: datetime) -> None:
        self.time = time

    def __call__(self) -> datetime:
        """Return the time."""
        return self.time


def sit(
    records: Records, clock: Clock, form: Form, key: FormKey, answered: Iterable[Sheet]
) -> tuple[Sheet, ...]:
    """Open a form for the club; return what they hand in, proven by their codes.

    The clock of the records is set to an hour before the sitting, then to
    its end.
    """
    begins = BEGINS[form.id]
    clock.time = begins - timedelta(hours=1)
    proven = []
    for sheet in answered:
        slip = open_form(records, form, key, sheet.candidate)
        proven.append(sheet.proven(slip.code))
    clock.time = begins + timedelta(minutes=form.minutes)
    return tuple(proven)


def sheets(
    drawn: Drawn, seed: int, people: Mapping[str, float] | None = None, form: Form | None = None
) -> tuple[Sheet, ...]:
    """Return what the club answers to a form, before it is handed in.

    ``people`` maps ids to abilities, from about −1 to 3, all `abilities`
    unless given. Large margins are easier, and some are better at some
    kinds of question. ``form`` is the sealed one, if it was packed.
    """
    form, answer_sheets = form or drawn.form, []
    for place, (who, ability) in enumerate((people or abilities(seed)).items()):
        rng = np.random.default_rng([seed, place, *form.id.encode()])
        answers = {item: _answer(drawn, item, ability, rng) for item in form.items}
        minutes = float(rng.uniform(0.6, 0.99)) * drawn.minutes
        when = files.stamp(BEGINS[form.id] + timedelta(minutes=minutes))
        began = files.stamp(BEGINS[form.id])
        answer_sheets.append(Sheet(form.id, form.seal, who, answers, when, began))
    return tuple(answer_sheets)


def abilities(seed: int) -> dict[str, float]:
    """Return the club's people by pseudonym, and how able each is."""
    drawn = np.random.default_rng([seed, PEOPLE]).normal(1.2, 0.9, PEOPLE)
    return {f"R{n:02}": float(ability) for n, ability in enumerate(drawn, 1)}


def ratings(drawn: Drawn, seed: int) -> str:
    """Return a panel's ratings as CSV: judges expect more of clear lifts."""
    lifts = {name: entry.margin for name, entry in drawn.items.items() if entry.how.certifies}
    rows = [",".join(["judge", *lifts])]
    for judge in range(1, JUDGES + 1):
        rng = np.random.default_rng([seed, judge, JUDGES])
        strict = rng.normal(0.0, 0.25)
        shares = [_chance(1.0 + strict + rng.normal(0.0, 0.3), margin) for margin in lifts.values()]
        rows.append(",".join([f"judge {judge}", *(f"{5 * round(20 * s)}" for s in shares)]))
    return "\n".join(rows) + "\n"


def blind(drawn: Drawn, seed: int) -> dict[str, dict[str, Given]]:
    """Return what two able coaches answer blind, by coach and item.

    On the lift that is hardest to judge both see what it is taken for, and
    not what the key says: a review shows such an item.
    """
    lifts = [name for name, entry in drawn.items.items() if entry.how.certifies]
    hardest = min(lifts, key=lambda name: drawn.items[name].margin)
    seen = _likely(drawn.key.entries[hardest])[0]
    answers = {}
    for place, coach in enumerate(COACHES):
        rng = np.random.default_rng([seed, place, len(COACHES), *drawn.form.id.encode()])
        answers[coach] = {item: _answer(drawn, item, 4.0, rng) for item in drawn.form.items}
        answers[coach][hardest] = seen
    return answers


def _chance(ability: float, margin: float) -> float:
    """Return the chance that somebody of an ability knows a lift of a margin (logistic)."""
    hard = 0.0 if margin != margin else 0.9 * (1.1 - margin)
    return float(1 / (1 + np.exp(hard - ability)))


def _answer(drawn: Drawn, item: str, ability: float, rng: np.random.Generator) -> Given:
    """Return what somebody invented answers to an item."""
    key = drawn.key.entries[item]
    habits = Habits(
        knows=rng.random() < _chance(ability, drawn.items[item].margin),
        sees=_chance(ability, 0.9),
        imagines=0.12 / (1 + np.exp(ability - 1)),
        likely=tuple(_likely(key)) if key.how.certifies else (),
    )
    return key.how.invented(key, habits, rng)


def _likely(key: Key) -> list[str]:
    """Return the names of the faults that the right one is most often mistaken for."""
    ids = {known_fault.name: known_fault.id for known_fault in faults.catalogue().values()}
    mistaken = TAKEN_FOR_FAULTS
    if key.answer in ids:
        mistaken = faults.fault(ids[key.answer]).mistaken_for
    return [faults.fault(name).name for name in mistaken]
