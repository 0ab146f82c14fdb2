"""What candidates opened, handed in and reached."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any, NamedTuple

from sqlalchemy import Connection, Row, Table, insert, select

from squatlab.exam.answers import Refusal, Sheet
from squatlab.exam.forms import Form
from squatlab.exam.marking import Marks, Result
from squatlab.exam.records import chain, tables
from squatlab.exam.records.book import Records, RecordsError
from squatlab.exam.records.retakes import RetakeRule
from squatlab.questions import files

STEP = 20
"""Attempts written at once: the disk is waited for once a step [teaching-value]."""


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


def open_form(
    records: Records, form: Form, candidate: str, rule: RetakeRule | None = None
) -> tuple[str, ...]:
    """Record that a candidate is given a form, if the rule lets them.

    Returns what the rule allows and the examiner should know all the same.
    Raises RecordsError in words that say what may be done. An exception is
    another ``rule``; the one that was used is recorded.
    """
    files.identifier("candidate", candidate)
    rule = rule or RetakeRule.read()
    with records.writing() as connection:
        enrol(connection, records, form, candidate)
        for table, what, when in (
            (tables.attempts, "handed in", "handed_in"), (tables.openings, "opened", "at"),
        ):  # fmt: skip
            if seen := _row(connection, table, candidate=candidate, form=form.id):
                raise RecordsError(
                    f"candidate {candidate}, form {form.id}: {what} on {seen[when][:10]}, so its "
                    "lifts are known; give another form (after a crash the candidate carries on "
                    "in the same folder)"
                )
        _allow(connection, form, candidate, records.now, rule)
        notes = tuple(_notes(connection, candidate))
        row = {"candidate": candidate, "form": form.id, "rule": str(rule), "at": records.now}
        chain.append(connection, tables.openings, **row)
    return notes


def _notes(connection: Connection, candidate: str) -> Iterator[str]:
    """Yield which forms a candidate still has, and which they have passed."""
    opened, sat = tables.openings, tables.attempts
    mine = select(sat.c.form, sat.c.number).where(sat.c.candidate == candidate)
    attempts = {form: number for form, number in connection.execute(mine.order_by(sat.c.number))}
    given = select(opened.c.form, opened.c.at).where(opened.c.candidate == candidate)
    for form, at in connection.execute(given.order_by(opened.c.number)):
        if form not in attempts:
            yield f"{candidate} was given form {form} on {at[:10]} and has not handed it in"
    for form, number in attempts.items():
        if (decision := latest(connection, number)) and decision.passed:
            yield f"{candidate} has passed already, with form {form} (attempt {number})"


def record(
    records: Records, form: Form, sheet: Sheet, result: Result, rule: RetakeRule | None = None
) -> Attempt:
    """Record an attempt: what was handed in and how it was marked.

    The same answers again change nothing and give the same attempt, so a
    run that was killed may simply be repeated. Raises RecordsError for
    other answers to a form already handed in, and against the rule.
    """
    with records.writing() as connection:
        return _record(connection, records, form, sheet, result, rule or RetakeRule.read())


def record_all(
    records: Records, marks: Marks, sheets: Iterable[Sheet], rule: RetakeRule | None = None
) -> tuple[tuple[Attempt, ...], tuple[Refusal, ...]]:
    """Record a whole sitting; return the attempts and who was refused.

    Some twenty attempts are one step: after a crash, run it again.
    """
    by_candidate = {sheet.candidate: sheet for sheet in sheets}
    rule, results = rule or RetakeRule.read(), list(marks.results())
    done, refused = [], []
    for start in range(0, len(results), STEP):
        with records.writing() as connection:
            for result in results[start : start + STEP]:
                sheet = by_candidate[result.candidate]
                try:
                    done.append(_record(connection, records, marks.form, sheet, result, rule))
                except RecordsError as problem:
                    refused.append(Refusal("", result.candidate, str(problem)))
    return tuple(done), tuple(refused)


def _record(
    connection: Connection, records: Records, form: Form, sheet: Sheet, result: Result,
    rule: RetakeRule,
) -> Attempt:  # fmt: skip
    enrol(connection, records, form, sheet.candidate)
    found = _row(connection, tables.attempts, candidate=sheet.candidate, form=form.id)
    if found and found["answers"] != sheet.digest:
        raise RecordsError(
            f"candidate {sheet.candidate}, form {form.id}: other answers were handed in on "
            f"{found['handed_in'][:10]} and stand; if those were marked wrongly, appeal"
        )
    if found:
        return Attempt(*(found[name] for name in Attempt._fields))
    _allow(connection, form, sheet.candidate, sheet.handed_in, rule)
    answers = [
        (item, files.canonical(sheet.answers.get(item)), result.marks[item]) for item in form.items
    ]
    row = {
        "candidate": sheet.candidate, "form": form.id, "answers": sheet.digest,
        "responses": chain.of_responses(answers), "handed_in": sheet.handed_in,
        "score": result.score, "cases": result.cases, "rule": str(rule), "at": records.now,
    }  # fmt: skip
    row["number"] = chain.append(connection, tables.attempts, **row)
    names = ("attempt", "item", "answer", "mark")
    rows = [dict(zip(names, (row["number"], *one), strict=True)) for one in answers]
    connection.execute(insert(tables.responses), rows)
    return Attempt(*(row[name] for name in Attempt._fields))


def settle(
    connection: Connection, records: Records, attempt: Mapping, score: float, by: str, why: str
) -> Decision:
    """Write a decision on a score, in a step that is already open."""
    cut = _row(connection, tables.forms, id=attempt["form"])["cut"]
    row = {
        "attempt": attempt["number"], "score": score, "passed": score >= cut, "by": by, "why": why
    }  # fmt: skip
    number = chain.append(connection, tables.decisions, **row, at=records.now)
    return Decision(number, **row)


def stored(connection: Connection, attempt: int) -> Mapping[str, Any]:
    """Return an attempt's row; RecordsError if missing or altered."""
    row = _row(connection, tables.attempts, number=attempt)
    if row is None:
        raise RecordsError(f"there is no attempt {attempt}")
    if not chain.intact(connection, tables.attempts, row):
        raise RecordsError(f"attempt {attempt} was altered: restore the records from a copy")
    return row


def answered(connection: Connection, attempt: Mapping[str, Any]) -> list[Row]:
    """Return an attempt's responses; RecordsError if they were altered."""
    mine = select(tables.responses).where(tables.responses.c.attempt == attempt["number"])
    given = list(connection.execute(mine))
    if (
        chain.of_responses([(one.item, one.answer, one.mark) for one in given])
        != (attempt["responses"])
    ):
        raise RecordsError(
            f"the answers of attempt {attempt['number']} were altered: restore a copy"
        )
    return given


def latest(connection: Connection, attempt: int) -> Decision | None:
    """Return the decision that stands for an attempt, None before the first."""
    row = _row(connection, tables.decisions, attempt=attempt)
    if row and not chain.intact(connection, tables.decisions, row):
        raise RecordsError(f"the decision on attempt {attempt} was altered: restore a copy")
    return row and Decision(*(row[name] for name in Decision._fields))


def _row(connection: Connection, table: Table, **where: Any) -> Mapping[str, Any] | None:
    """Return the last row that fits."""
    fits = select(table).filter_by(**where).order_by(table.c.number.desc()).limit(1)
    return connection.execute(fits).mappings().first()


def enrol(connection: Connection, records: Records, form: Form, candidate: str = "") -> None:
    """Enter a candidate, if one is given, and a form that are new to the records.

    Raises RecordsError if the form is on record with another seal or cut.
    """
    row = {"seal": form.seal, "cut": float(form.cut)}
    both = (tables.candidates, candidate, {}), (tables.forms, form.id, row)
    for table, name, more in both if candidate else both[1:]:
        found = _row(connection, table, id=name)
        if found is None:
            chain.append(connection, table, id=name, **more, at=records.now)
        elif any(found[column] != value for column, value in more.items()):
            raise RecordsError(
                f"form {name} is on record with another seal or cut; give a new form a new id"
            )


def _allow(connection: Connection, form: Form, candidate: str, when: str, rule: RetakeRule) -> None:
    table = tables.attempts
    others = (table.c.candidate == candidate) & (table.c.form != form.id)
    past = connection.execute(select(table.c.handed_in).where(others)).scalars()
    if why := rule.objection(when, past):
        raise RecordsError(f"candidate {candidate}, form {form.id}: {why}")
