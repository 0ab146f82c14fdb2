"""An invented rowing club sits the exam: who answers what, what judges and coaches say.

Nobody here exists. What they confuse is what learners of this course may
confuse [teaching-value]: neighbours in place or time, and clean lifts in
which something must surely be wrong.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import UTC, datetime, timedelta

import numpy as np

from squatlab import faults
from squatlab.exam.answers import Given, Sheet
from squatlab.exam.build import Drawn
from squatlab.exam.forms import Form, Key
from squatlab.exam.records import Records, open_form
from squatlab.questions import files
from squatlab.questions.keys import NOTHING, KeyEntry

CLUB = "the invented rowing club"
PEOPLE, JUDGES, COACHES = 24, 5, ("K1", "K2")
FORMS = ("spring", "summer")
BEGINS = {"spring": datetime(2026, 4, 18, 9, 0, tzinfo=UTC),
          "summer": datetime(2026, 6, 13, 9, 0, tzinfo=UTC)}  # fmt: skip
"""Two Saturdays, further apart than the retake rule asks."""

CONFUSED = {
    "knees_first": ("knees_far_forward",),
    "hips_rise_first": ("bar_forward", "lumbar_rounding"),
    "lumbar_rounding": ("short_depth", "hips_rise_first"),
    "lumbar_overarching": ("head_up",),
    "short_depth": ("fast_descent",),
    "knee_valgus": ("turnout_out_of_range",),
    "knees_far_forward": ("heel_lift", "knees_first"),
    "heel_lift": ("bar_forward", "knees_far_forward"),
    "bar_forward": ("hips_rise_first", "heel_lift"),
    "lateral_shift": ("uneven_bar",),
    "turnout_out_of_range": ("knee_valgus",),
    "uneven_bar": ("lateral_shift",),
    "head_up": ("lumbar_overarching",),
    "fast_descent": ("short_depth",),
    NOTHING: ("knees_far_forward", "hips_rise_first", "bar_forward"),
}
"""What each is taken for, in order of how often."""

TAKEN_FOR = 0.75
"""The share of errors that are one of these [teaching-value]."""


class Clock:
    """The certifier's clock on the invented days: it stands until it is set."""

    def __init__(self, time: datetime) -> None:
        self.time = time

    def __call__(self) -> datetime:
        """Return the time."""
        return self.time


def sit(
    records: Records, clock: Clock, form: Form, key: Key, answered: Iterable[Sheet]
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
    form, found = form or drawn.form, []
    for place, (who, ability) in enumerate((people or abilities(seed)).items()):
        rng = np.random.default_rng([seed, place, *form.id.encode()])
        answers = {item: _answer(drawn, item, ability, rng) for item in form.items}
        minutes = float(rng.uniform(0.6, 0.99)) * drawn.minutes
        when = files.stamp(BEGINS[form.id] + timedelta(minutes=minutes))
        began = files.stamp(BEGINS[form.id])
        found.append(Sheet(form.id, form.seal, who, answers, when, began))
    return tuple(found)


def abilities(seed: int) -> dict[str, float]:
    """Return the club's people by pseudonym, and how able each is."""
    drawn = np.random.default_rng([seed, PEOPLE]).normal(1.2, 0.9, PEOPLE)
    return {f"R{n:02}": float(one) for n, one in enumerate(drawn, 1)}


def ratings(drawn: Drawn, seed: int) -> str:
    """Return a panel's ratings as CSV: judges expect more of clear lifts."""
    lifts = {name: one.margin for name, one in drawn.items.items() if one.kind == "first"}
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
    lifts = [name for name, one in drawn.items.items() if one.kind == "first"]
    hardest = min(lifts, key=lambda name: drawn.items[name].margin)
    seen = _likely(drawn.key.entries[hardest])[0]
    found = {}
    for place, coach in enumerate(COACHES):
        rng = np.random.default_rng([seed, place, len(COACHES), *drawn.form.id.encode()])
        found[coach] = {item: _answer(drawn, item, 4.0, rng) for item in drawn.form.items}
        found[coach][hardest] = seen
    return found


def _chance(ability: float, margin: float) -> float:
    hard = 0.0 if margin != margin else 0.9 * (1.1 - margin)
    return float(1 / (1 + np.exp(hard - ability)))


def _answer(drawn: Drawn, item: str, ability: float, rng: np.random.Generator) -> Given:
    entry, knows = (
        drawn.key.entries[item],
        rng.random() < _chance(ability, drawn.items[item].margin),
    )
    if entry.kind == "first":
        return entry.answer if knows else _taken_for(entry, rng)
    if entry.kind == "spot":
        return list(_spotted(entry, ability, rng))
    if entry.kind == "number":
        slip = 1.0 if knows else float(rng.choice([0.5, 2.0, 1.1]))
        return round(entry.answer * slip, 2)
    if entry.kind == "rank":
        order = list(entry.answer)
        if not knows:
            at = int(rng.integers(len(order) - 1))
            order[at], order[at + 1] = order[at + 1], order[at]
        return order
    right = (entry.answer,) if entry.kind == "choice" else entry.answer
    wrong = [option for option in entry.options if option not in right]
    return str(rng.choice(right if knows else wrong))


def _likely(entry: KeyEntry) -> list[str]:
    ids = {one.name: one.id for one in faults.catalogue().values()}
    return [faults.fault(name).name for name in CONFUSED[ids.get(entry.answer, NOTHING)]]


def _taken_for(entry: KeyEntry, rng: np.random.Generator) -> str:
    likely = _likely(entry)
    if rng.random() < TAKEN_FOR:
        weights = 0.5 ** np.arange(len(likely))
        return str(rng.choice(likely, p=weights / weights.sum()))
    return str(rng.choice([option for option in entry.options if option != entry.answer]))


def _spotted(entry: KeyEntry, ability: float, rng: np.random.Generator) -> Iterator[str]:
    for option in entry.options:
        there = option in entry.answer
        if rng.random() < (_chance(ability, 0.9) if there else 0.12 / (1 + np.exp(ability - 1))):
            yield option
