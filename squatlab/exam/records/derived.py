"""What follows from answers, rulings and appeals: worked out anew, never believed.

A decision is not evidence of itself. Its score is the number of certifying
lifts that the answers had right, plus those an appeal accepted, plus those
a ruling credits and the candidate did not have; it passes at the form's cut.
"""

from __future__ import annotations

import json
import math
from collections import defaultdict
from collections.abc import Callable, Collection, Iterator, Mapping
from typing import Any, NamedTuple

from sqlalchemy import Connection, select

from squatlab.exam.records import chain, schema
from squatlab.exam.records.chain import Response
from squatlab.questions import files


def score(connection: Connection, attempt: int, accepting: Collection[str] | None = None) -> float:
    """Return the score that an attempt has now.

    ``accepting`` names the items that an appeal about to be heard accepts;
    left out, those of the last one count.
    """
    return float(
        len(_right(connection, attempt, accepting))
        + len(credits_due(connection, attempt, accepting))
    )


def credits_due(
    connection: Connection, attempt: int, accepting: Collection[str] | None = None
) -> list[dict[str, Any]]:
    """Return the rulings that give an attempt a mark beside what it had right."""
    form = _row(connection, schema.attempts, attempt)["form"]
    had = _right(connection, attempt, accepting)
    ruled = chain.rows(connection, schema.rulings, form=form)
    return [row for row in ruled if row["certifies"] and row["item"] not in had]


def _right(connection: Connection, attempt: int, accepting: Collection[str] | None) -> set[str]:
    """Return the certifying items that an attempt has right, by key or appeal."""
    if accepting is None:
        appeal = chain.newest(connection, schema.appeals, attempt=attempt)
        rows = chain.rows(connection, schema.accepted, appeal=appeal["number"]) if appeal else []
        accepting = [row["item"] for row in rows]
    by_key = {
        response.item
        for response in responses(connection, attempt)
        if response.certifies and response.mark == 1
    }
    return by_key | {*accepting}


def responses(connection: Connection, attempt: int) -> list[Response]:
    """Return an attempt's answers as they are stored, unchecked."""
    table = schema.responses
    columns = (table.c[name] for name in Response._fields)
    of_attempt = select(*columns).where(table.c.attempt == attempt)
    return [Response(*row) for row in connection.execute(of_attempt)]


def _row(connection: Connection, table: Any, number: int) -> Mapping[str, Any]:
    """Return the row of a table with a number, unchecked."""
    return connection.execute(select(table).where(table.c.number == number)).mappings().one()


def verify(connection: Connection) -> tuple[str, ...]:
    """Return which scores and decisions do not follow from what is stored, in words."""
    stored = _Kept(connection)
    words = [line for attempt in stored.attempts for line in _verify_attempt(stored, attempt)]
    known = {row["number"] for row in stored.attempts}
    words += [
        f"decisions, row {row['number']}: there is no attempt {row['attempt']}"
        for row in stored.decisions
        if row["attempt"] not in known
    ]
    return (*words, *_verify_served(stored), *_verify_certificates(stored))


class _Kept:
    """Hold all that decisions rest on, read once: rows in the order of the chain."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self.attempts = self._all(schema.attempts)
        self.hand_ins = self._all(schema.hand_ins)
        self.decisions = self._all(schema.decisions)
        self.certificates = self._all(schema.certificates)
        self.openings = self._all(schema.openings)
        self.cuts = {row["id"]: row["cut"] for row in self._all(schema.forms)}
        self.hand_in = {row["number"]: row for row in self.hand_ins}
        self.rulings = _grouped(self._all(schema.rulings), "form")
        self.appeals = _grouped(self._all(schema.appeals), "attempt")
        self.decided = _grouped(self.decisions, "attempt")
        self.accepted = _grouped(self._all(schema.accepted), "appeal")
        self.saved = _grouped(self._all(schema.saved), "opening")
        columns = (schema.responses.c[name] for name in ("attempt", *Response._fields))
        self.responses: dict[int, list[Response]] = defaultdict(list)
        for attempt, *row in connection.execute(select(*columns)):
            self.responses[attempt].append(Response(*row))

    def _all(self, table: Any) -> list[Mapping[str, Any]]:
        """Return all rows of a table in the order of the chain."""
        return list(self._connection.execute(select(table).order_by(table.c.number)).mappings())

    def became(self, attempt: Mapping[str, Any]) -> list[_Event]:
        """Return what happened to an attempt, in the order of the chain."""
        number = attempt["number"]
        events = [
            *(_Event(_Walk.ruling, row) for row in self.rulings[attempt["form"]]),
            *(_Event(_Walk.appeal, row) for row in self.appeals[number]),
            *(_Event(_Walk.decision, row) for row in self.decided[number]),
        ]
        return sorted(events, key=lambda event: event.row["number"])


class _Event(NamedTuple):
    """Hold a row that changes what an attempt is worth, and how a walk takes it."""

    step: Callable[[_Walk, Mapping[str, Any]], Iterator[str]]
    row: Mapping[str, Any]


def _grouped(rows: list[Mapping[str, Any]], column: str) -> dict[Any, list[Mapping[str, Any]]]:
    """Return rows by the value of a column."""
    groups: dict[Any, list[Mapping[str, Any]]] = defaultdict(list)
    for row in rows:
        groups[row[column]].append(row)
    return groups


def _verify_attempt(stored: _Kept, attempt: Mapping[str, Any]) -> Iterator[str]:
    """Yield what does not follow from an attempt's answers and from what became of it."""
    name = chain.name_of("attempts", attempt)
    responses = stored.responses[attempt["number"]]
    walk = _Walk(stored, attempt, responses)
    lifts = sum(response.certifies for response in responses)
    if (attempt["score"], attempt["cases"]) != (len(walk.right), lifts):
        recorded = f"{attempt['score']:g} of {attempt['cases']}"
        yield f"{name}: its answers give {len(walk.right)} of {lifts}, not {recorded}"
    handed_in = stored.hand_in.get(attempt["hand_in"])
    if handed_in is None or not _same_answers(walk.answers, _read(handed_in["answers"])):
        yield f"{name}: its answers are not those that were handed in"
    for event in stored.became(attempt):
        yield from event.step(walk, event.row)


class _Walk:
    """Walk through what became of an attempt; each step yields what does not follow.

    ``right`` has the certifying items answered as the key says, ``accepted``
    those that the last appeal accepted, ``credited`` those of all rulings so
    far. ``is_due`` if something since the last decision led to another: the
    marking, an appeal, a ruling.
    """

    def __init__(
        self, stored: _Kept, attempt: Mapping[str, Any], responses: list[Response]
    ) -> None:
        self.stored, self.attempt = stored, attempt
        self.answers = {response.item: response.answer for response in responses}
        self.right = {r.item for r in responses if r.certifies and r.mark == 1}
        self.accepted: set[str] = set()
        self.credited: set[str] = set()
        self.is_due = True

    @property
    def score(self) -> int:
        """Return what the attempt is worth now; no item counts twice."""
        return len(self.right | self.accepted | self.credited)

    def ruling(self, row: Mapping[str, Any]) -> Iterator[str]:
        """Take a ruling: it credits an item to everyone who sat the form."""
        if row["certifies"]:
            self.credited.add(row["item"])
        self.is_due = True
        yield from ()

    def appeal(self, row: Mapping[str, Any]) -> Iterator[str]:
        """Take an appeal: what it accepts takes the place of what an earlier one did."""
        accepted = self.stored.accepted[row["number"]]
        for option in accepted:
            if self.answers.get(option["item"]) != files.canonical(option["option"]):
                name = f"accepted, row {option['number']} ({option['item']})"
                yield f"{name}: this was not answered"
        self.accepted = {option["item"] for option in accepted}
        self.is_due = True
        if row["after"] != self.score:
            name = f"appeals, row {row['number']}"
            yield f"{name}: what it accepts gives {self.score}, not {row['after']:g}"

    def decision(self, row: Mapping[str, Any]) -> Iterator[str]:
        """Take a decision: it needs a cause, and follows from the score and the cut."""
        name = f"decisions, row {row['number']}"
        if not self.is_due:
            yield f"{name}: nothing that is on record led to it"
        self.is_due = False
        cut = self.stored.cuts.get(self.attempt["form"], math.nan)
        if row["score"] != self.score or row["passed"] != (self.score >= cut):
            result = "passed" if row["passed"] else "not passed"
            yield (
                f"{name}: the answers of attempt {self.attempt['number']} give {self.score} at a "
                f"cut of {cut:g}, not {row['score']:g}, {result}"
            )


def _same_answers(responses: Mapping[str, str], handed_in: Mapping[str, Any]) -> bool:
    """Tell whether responses are a hand-in's answers; what was left out is None."""
    same = all(files.canonical(handed_in.get(item)) == answer for item, answer in responses.items())
    return same and handed_in.keys() <= responses.keys()


def _read(text: str) -> Any:
    """Return what canonical JSON says; {} for what was altered into none."""
    try:
        return json.loads(text)
    except ValueError:
        return {}


def _verify_served(stored: _Kept) -> Iterator[str]:
    """Compare what served sittings handed in with what they had saved."""
    opened = {(row["candidate"], row["form"]): row["number"] for row in stored.openings}
    for row in stored.hand_ins:
        if row["mode"] != "served":
            continue
        answers = {}
        for saved_answer in stored.saved[opened.get((row["candidate"], row["form"]))]:
            if saved_answer["number"] < row["number"]:
                answers[saved_answer["item"]] = _read(saved_answer["answer"])
        saved = {item: answer for item, answer in answers.items() if answer is not None}
        if saved != _read(row["answers"]):
            yield f"{chain.name_of('hand_ins', row)}: it is not what was saved in the sitting"


def _verify_certificates(stored: _Kept) -> Iterator[str]:
    """Say which certificates were issued without a pass that stood then."""
    for row in stored.certificates:
        before = [
            decision
            for decision in stored.decided[row["attempt"]]
            if decision["number"] < row["number"]
        ]
        if row["event"] == "issued" and not (before and before[-1]["passed"]):
            where = f"certificates, row {row['number']} ({row['code']})"
            yield f"{where}: no pass stood when it was issued"
