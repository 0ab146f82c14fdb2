"""What is decided: of an attempt, and of an item for everybody who sat the form.

An item found wrong after the sitting counts as right for everyone
[common-practice]. To leave it out, or to give it another key, would take a
mark from whoever had it; and the cut, which is in the form's seal, counts
all lifts. Credited, it takes nothing from anybody and needs no other cut.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

from sqlalchemy import Connection, insert, select

from squatlab.exam.answers import Refusal, Sheet
from squatlab.exam.forms import Form, FormKey
from squatlab.exam.marking import Marks, Result
from squatlab.exam.records import chain, derived, schema
from squatlab.exam.records.chain import RecordsError
from squatlab.exam.records.hand_ins import stands
from squatlab.exam.records.ledger import Records, Step
from squatlab.exam.records.openings import RetakeRule, allow, enrol
from squatlab.questions import files
from squatlab.questions.kinds import Given

AT_ONCE = 20
"""Attempts written in one step: the disk is waited for once a step [teaching-value]."""


class Attempt(NamedTuple):
    """Hold one attempt as recorded; ``score`` counts right of ``cases``."""

    number: int
    candidate: str
    form: str
    score: float
    cases: int
    handed_in: str


class Decision(NamedTuple):
    """Hold what was decided of an attempt, by whom and why."""

    number: int
    attempt: int
    score: float
    passed: bool
    by: str
    why: str


class Ruling(NamedTuple):
    """Hold that an item counts as right for everyone, who ruled so and why.

    ``certifies`` is False for an item that no score hangs on.
    """

    number: int
    form: str
    item: str
    certifies: bool
    by: str
    why: str
    at: str

    @property
    def words(self) -> str:
        """Return it as decisions that rest on it say it."""
        return f"ruling, row {self.number}: {self.item} counts as right for everyone: {self.why}"


class Changed(NamedTuple):
    """Hold whose decision a ruling changed, what it was and what it is."""

    candidate: str
    before: Decision
    after: Decision


def record(
    records: Records, form: Form, sheet: Sheet, result: Result, rule: RetakeRule | None = None
) -> Attempt:
    """Record an attempt: what was handed in and how it was marked.

    The same answers again change nothing and give the same attempt, so a
    run that was killed may simply be repeated. Raises RecordsError for
    answers of which no hand-in stands, for other answers to a form already
    marked, and against the rule.
    """
    with records.writing() as step:
        return _record(step, form, sheet, result, rule or RetakeRule.of(form.policy))


def record_all(
    records: Records, marks: Marks, sheets: Iterable[Sheet], rule: RetakeRule | None = None
) -> tuple[tuple[Attempt, ...], tuple[Refusal, ...]]:
    """Record a whole sitting; return the attempts and who was refused.

    Some twenty attempts are one step: after a crash, run it again.
    """
    by_candidate = {sheet.candidate: sheet for sheet in sheets}
    rule = rule or RetakeRule.of(marks.form.policy)
    results = list(marks.results())
    done: list[Attempt] = []
    refused: list[Refusal] = []
    for start in range(0, len(results), AT_ONCE):
        with records.writing() as step:
            for result in results[start : start + AT_ONCE]:
                sheet = by_candidate[result.candidate]
                try:
                    done.append(_record(step, marks.form, sheet, result, rule))
                except RecordsError as problem:
                    refused.append(Refusal("", result.candidate, str(problem)))
    return tuple(done), tuple(refused)


def _record(step: Step, form: Form, sheet: Sheet, result: Result, rule: RetakeRule) -> Attempt:
    """Append an attempt with its responses, once; RecordsError says why not."""
    enrol(step, form)
    connection, who = step.connection, sheet.candidate
    known = chain.newest(connection, schema.attempts, candidate=who, form=form.id)
    if known and known["answers"] != sheet.digest:
        raise RecordsError(
            f"candidate {who}, form {form.id}: other answers were handed in on "
            f"{known['handed_in'][:10]} and stand; if those were marked wrongly, appeal"
        )
    if known:
        return _attempt(known)
    same_answers = {"candidate": who, "form": form.id, "digest": sheet.digest}
    earlier = [
        row
        for row in chain.rows(connection, schema.hand_ins, **same_answers)
        if stands(connection, row)
    ]
    if not earlier:
        raise RecordsError(
            f"candidate {who}, form {form.id}: no hand-in of these answers stands; receive it first"
        )
    allow(connection, form.id, who, earlier[0]["handed_in"], rule)
    responses = [
        chain.Response(
            item=item,
            answer=files.canonical(sheet.answers.get(item)),
            mark=result.marks[item],
            certifies=item in result.certifying,
        )
        for item in form.items
    ]
    row = {
        "candidate": who,
        "form": form.id,
        "hand_in": earlier[0]["number"],
        "answers": sheet.digest,
        # Responses have no links of their own: their fingerprint in the attempt's row holds them.
        "responses": chain.of_responses(responses),
        "handed_in": earlier[0]["handed_in"],
        "score": result.score,
        "cases": result.cases,
        "rule": str(rule),
    }
    row["number"] = step.append(schema.attempts, **row)
    connection.execute(
        insert(schema.responses),
        [response._asdict() | {"attempt": row["number"]} for response in responses],
    )
    return _attempt(row)


def _attempt(row: Mapping[str, Any]) -> Attempt:
    """Return an attempt as its row has it."""
    return Attempt(**{name: row[name] for name in Attempt._fields})


def _decision(row: Mapping[str, Any]) -> Decision:
    """Return a decision as its row has it."""
    return Decision(**{name: row[name] for name in Decision._fields})


def attempt_row(connection: Connection, attempt: int) -> dict[str, Any]:
    """Return an attempt's row; RecordsError if missing or altered."""
    row = chain.newest(connection, schema.attempts, number=attempt)
    if row is None:
        raise RecordsError(f"there is no attempt {attempt}")
    return row


def answered(connection: Connection, attempt: Mapping[str, Any]) -> list[chain.Response]:
    """Return an attempt's responses; RecordsError if they were altered."""
    given = derived.responses(connection, attempt["number"])
    if chain.of_responses(given) != attempt["responses"]:
        raise RecordsError(
            f"the answers of attempt {attempt['number']} were altered: restore a copy"
        )
    return given


def answers_of(records: Records, attempt: int) -> dict[str, Given]:
    """Return what was answered in an attempt, by item; None for nothing.

    Raises RecordsError for an attempt that is not there or was altered.
    """
    with records.reading() as connection:
        given = answered(connection, attempt_row(connection, attempt))
        return {response.item: json.loads(response.answer) for response in given}


def latest(connection: Connection, attempt: int) -> Decision | None:
    """Return the decision that stands for an attempt, None before the first."""
    row = chain.newest(connection, schema.decisions, attempt=attempt)
    return _decision(row) if row else None


def decide(records: Records, attempt: int, by: str = "", why: str = "") -> Decision:
    """Decide whether an attempt passed: its score against the form's cut.

    Items credited by a ruling count. Deciding again gives the decision
    that stands. Raises RecordsError for an attempt that is not there or
    was altered.
    """
    with records.writing(by) as step:
        row = attempt_row(step.connection, attempt)
        if standing := latest(step.connection, attempt):
            return standing
        answered(step.connection, row)
        due = derived.credits_due(step.connection, attempt)
        reasons = [why, *(ruling.words for ruling in _rulings(due))]
        return _settle(step, row, "; ".join(filter(None, reasons)))


def _settle(step: Step, attempt: Mapping[str, Any], why: str) -> Decision:
    """Write the decision that follows from what is on record, in an open step."""
    score = derived.score(step.connection, attempt["number"])
    cut = chain.newest(step.connection, schema.forms, id=attempt["form"])["cut"]
    row = {"attempt": attempt["number"], "score": score, "passed": score >= cut}
    number = step.append(schema.decisions, **row, why=why)
    return Decision(number, **row, by=step.by, why=why)


def appeal(
    records: Records, attempt: int, accept: Mapping[str, str], why: str, by: str = ""
) -> Decision:
    """Mark an attempt again from its stored answers, and decide anew.

    ``accept`` names, by item, the option that is right as well as the
    key's; it takes the place of what an earlier appeal accepted. The first
    result stays readable. Raises RecordsError without a reason, for an
    item that no score hangs on, or if what is stored was altered.
    """
    if not why.strip():
        raise RecordsError("an appeal needs the reason (why)")
    with records.writing(by) as step:
        connection = step.connection
        row = attempt_row(connection, attempt)
        given = {response.item: response for response in answered(connection, row)}
        odd = sorted(item for item in accept if item not in given or not given[item].certifies)
        if odd:
            words = "no first fault is asked there, so no score hangs on it"
            raise RecordsError(f"{', '.join(odd)}: {words}")
        standing = latest(connection, attempt)
        before = standing.score if standing else row["score"]
        # Only what was answered, and was not right before, gains a mark.
        gained = {
            item: option
            for item, option in accept.items()
            if given[item].mark < 1 and given[item].answer == files.canonical(option)
        }
        after = derived.score(connection, attempt, gained)
        number = step.append(schema.appeals, attempt=attempt, why=why, before=before, after=after)
        for item, option in gained.items():
            step.append(schema.accepted, appeal=number, item=item, option=option)
        return _settle(step, row, f"appeal, row {number}: {why}")


def rule(records: Records, form: Form, key: FormKey, item: str, why: str, by: str = "") -> Ruling:
    """Credit an item to everyone who sat the form or will, and decide anew.

    All of it is one step: whoever had the item wrong, and was decided on,
    gains a mark; who is decided on later gains it then. First results stay
    readable. Ruling again gives the ruling that stands. Raises
    RecordsError without a reason, for an item that is not the form's, or
    where credit alone would reach the cut.
    """
    form.check(key)
    if not why.strip():
        raise RecordsError("a ruling needs the reason (why)")
    if item not in key.entries:
        ends = f"{form.items[0]} to {form.items[-1]}"
        raise RecordsError(f"form {form.id} has no item {item!r}; its items are {ends}")
    with records.writing(by) as step:
        connection = step.connection
        enrol(step, form)
        past = _ruled(connection, form.id)
        for earlier in past:
            if earlier.item == item:
                return earlier
        certifies = key.entries[item].how.certifies
        # Credit alone must not pass anybody: everyone has these lifts.
        if certifies and sum(earlier.certifies for earlier in past) + 1 >= form.cut:
            raise RecordsError(
                f"form {form.id}: with {item} as many lifts would be credited as its cut asks, "
                f"{form.cut:g}, and everybody would pass; give those who sat it another form"
            )
        row = {"form": form.id, "item": item, "certifies": certifies, "why": why}
        number = step.append(schema.rulings, **row)
        ruling = Ruling(number, **row, by=step.by, at=step.at)
        sat = chain.rows(connection, schema.attempts, form=form.id) if certifies else []
        for attempt in sat:
            standing = latest(connection, attempt["number"])
            answered(connection, attempt)  # nothing is decided on answers that were altered
            if standing and derived.score(connection, attempt["number"]) != standing.score:
                _settle(step, attempt, ruling.words)
        return ruling


def changes(records: Records, ruling: Ruling) -> tuple[Changed, ...]:
    """Return what a ruling changed of the decisions that stood before it."""
    changed = []
    with records.reading() as connection:
        last_number = _end_of_step(connection, ruling)
        for attempt in chain.rows(connection, schema.attempts, form=ruling.form):
            rows = chain.rows(connection, schema.decisions, attempt=attempt["number"])
            before = [row for row in rows if row["number"] < ruling.number]
            within = [row for row in rows if ruling.number < row["number"] <= last_number]
            if before and within:
                pair = _decision(before[-1]), _decision(within[0])
                changed.append(Changed(attempt["candidate"], *pair))
    return tuple(sorted(changed, key=lambda change: change.after.number))


def _end_of_step(connection: Connection, ruling: Ruling) -> int:
    """Return the number of the last decision that was written with a ruling.

    `rule` writes the ruling, then the decisions it changes, in one step
    that no other writer can come into. So they are the decisions that
    follow it without anything between. A first decision of somebody's may
    come right behind them: it changed none.
    """
    link = schema.chain
    later = select(link.c.number, link.c.kind).where(link.c.number > ruling.number)
    number = ruling.number
    for row in connection.execute(later.order_by(link.c.number)):
        if row.kind != schema.decisions.name:
            break
        number = row.number
    return number


def credited(records: Records, form: str) -> dict[str, str]:
    """Return which items of a form count as right for everyone, and by whom and why.

    Raises RecordsError if a ruling was altered.
    """
    with records.reading() as connection:
        return {
            ruling.item: f"{ruling.by}, {ruling.at[:10]}: {ruling.why}"
            for ruling in _ruled(connection, form)
        }


def _ruled(connection: Connection, form: str) -> list[Ruling]:
    """Return the rulings on a form; RecordsError if one was altered."""
    return _rulings(chain.rows(connection, schema.rulings, form=form))


def _rulings(rows: Iterable[Mapping[str, Any]]) -> list[Ruling]:
    """Return rulings as their rows have them."""
    return [Ruling(**{name: row[name] for name in Ruling._fields}) for row in rows]
