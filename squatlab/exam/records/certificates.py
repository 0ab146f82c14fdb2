"""Certificates: given, suspended, revoked, and checked by their code.

A certificate is its events: issued, suspended, reinstated, revoked. What was
known when it was issued is frozen into the first, so that a later review of
the key does not change what somebody was certified on.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Mapping
from datetime import datetime, timedelta
from html import escape
from typing import Any, NamedTuple

import numpy as np
from sqlalchemy import Connection, select

from squatlab.exam import codes
from squatlab.exam.forms import UNREVIEWED
from squatlab.exam.policy import ExamPolicy
from squatlab.exam.records import chain, derived, schema
from squatlab.exam.records.chain import RecordsError
from squatlab.exam.records.coaches import key_status
from squatlab.exam.records.decisions import Decision, answered, attempt_row, latest
from squatlab.exam.records.hand_ins import FILE, stands
from squatlab.exam.records.ledger import Records, Step
from squatlab.exam.records.openings import policy_of
from squatlab.exam.reliability import (
    Interval,
    alpha_interval,
    conditional_standard_error,
    kr20,
)
from squatlab.questions import files
from squatlab.questions.figure import Figure

NEXT = {
    "suspended": ("issued", "reinstated"),
    "reinstated": ("suspended",),
    "revoked": ("issued", "reinstated", "suspended"),
}
"""What may become of a certificate, and after which event; revoked is final."""


class Certificate(NamedTuple):
    """Hold what a code stands for now.

    ``status`` is "valid", "expired", "suspended", "revoked", "altered",
    "unknown" or "mistyped"; ``words`` say it to whoever asked. ``key`` is
    how far coaches had reviewed the key of its form when it was issued.
    """

    code: str
    status: str
    words: str
    candidate: str = ""
    form: str = ""
    since: str = ""
    until: str = ""
    key: str = UNREVIEWED
    issuer: str = ""
    course: str = ""


class Grounds(NamedTuple):
    """Hold what a certificate would rest on, and what speaks against it.

    ``lifts`` still tell people apart, credited ones left out. ``near`` if
    the score is within one ``error``, the standard error of a person at
    the cut. ``objections`` are what the form's policy asks and this
    sitting does not give: only an override with its reason gets past.
    """

    score: float
    cut: float
    lifts: int
    reliability: Figure
    interval: Interval
    error: float
    near: bool
    key: str
    objections: tuple[str, ...]


def grounds(records: Records, attempt: int, by: str = "") -> Grounds:
    """Return what a certificate for an attempt would rest on, issued by ``by``."""
    with records.reading() as connection:
        row = attempt_row(connection, attempt)
        return _grounds(connection, row, _standing_pass(connection, row), by or records.by)


def issue(
    records: Records,
    attempt: int,
    by: str = "",
    override: str = "",
    issuer: str = "",
    course: str = "",
) -> Certificate:
    """Give the certificate for an attempt that passed.

    Asked again, it gives the same one. ``issuer`` and ``course`` are names
    to print on it; once recorded they stand. Raises RecordsError for others
    then, if the decision is missing or not a pass, if its hand-in no longer
    stands, or for what `grounds` objects to, unless ``override`` says, for
    the record, why it is enough.
    """
    with records.writing(by) as step:
        connection = step.connection
        row = attempt_row(connection, attempt)
        standing = _standing_pass(connection, row)
        earlier = chain.rows(connection, schema.certificates, attempt=attempt)
        code = earlier[0]["code"] if earlier else ""
        if not code:
            grounds = _grounds(connection, row, standing, step.by)
            if grounds.objections and not override.strip():
                raise RecordsError(
                    f"attempt {attempt}: {'; '.join(grounds.objections)}. Change that, or give the "
                    "reason why it is enough as override; it is recorded"
                )
            code = codes.spell(records.draw(16))
            days = timedelta(days=policy_of(connection, row["form"]).certificate_days)
            until = files.stamp(datetime.fromisoformat(step.at) + days)
            _write(step, code, "issued", attempt, until, override, _frozen(grounds))
        _name(step, code, issuer.strip(), course.strip())
        return _state(connection, code, step.at)


def _standing_pass(connection: Connection, attempt: Mapping[str, Any]) -> Decision:
    """Return the pass that stands for an attempt; RecordsError if there is none."""
    number = attempt["number"]
    answered(connection, attempt)
    decision = latest(connection, number)
    if not (decision and decision.passed):
        state = "not passed" if decision else "not decided"
        raise RecordsError(f"attempt {number} is {state}: there is nothing to certify")
    hand_in = chain.newest(connection, schema.hand_ins, number=attempt["hand_in"])
    if hand_in is None or not stands(connection, hand_in):
        raise RecordsError(
            f"attempt {number} rests on hand-in {attempt['hand_in']}, which does not stand: two "
            "contradict each other; see squatlab records RECORDS hand-ins"
        )
    return decision


def _grounds(
    connection: Connection, attempt: Mapping[str, Any], standing: Decision, by: str
) -> Grounds:
    """Return what a certificate would rest on, from the rows of its form."""
    form, policy = attempt["form"], policy_of(connection, attempt["form"])
    cut = chain.newest(connection, schema.forms, id=form)["cut"]
    rulings = chain.rows(connection, schema.rulings, form=form)
    credited = {row["item"] for row in rulings if row["certifies"]}
    lifts = attempt["cases"] - len(credited)
    marks = _class_marks(connection, form, credited)
    reliability, interval = kr20(marks), alpha_interval(marks)
    # Credited lifts are certain: the error is that of the others, at a cut so much lower.
    cut_of_others = min(lifts, max(0.0, cut - len(credited)))
    error = float(conditional_standard_error(cut_of_others, lifts))
    hand_in = chain.newest(connection, schema.hand_ins, number=attempt["hand_in"])
    return Grounds(
        score=standing.score,
        cut=cut,
        lifts=lifts,
        reliability=reliability,
        interval=interval,
        error=error,
        near=abs(standing.score - cut) < error,
        key=key_status(connection, form, attempt["cases"]),
        objections=(
            *_objections_to_the_test(policy, lifts, len(credited), reliability, interval),
            *_objections_to_the_issue(policy, hand_in["mode"], standing, by),
        ),
    )


def _objections_to_the_test(
    policy: ExamPolicy, lifts: int, credited: int, reliability: Figure, interval: Interval
) -> list[str]:
    """Return what the policy asks of a test and this one does not give."""
    objections = []
    fewest = policy.cases_to_certify
    if lifts < fewest:
        without = f" without the {credited} credited" if credited else ""
        objections.append(
            f"it was on {lifts} lifts{without}; fewer than {fewest:g} fail too many able coaches "
            "and pass too many others"
        )
    least = policy.least_reliability
    if least > 0 and not reliability >= least:  # nan is too low as well
        known = f"none ({reliability.reason})"
        if not np.isnan(reliability):
            known = f"{reliability:.2f} (95 % interval {interval.low:.2f} to {interval.high:.2f})"
        objections.append(
            f"the reliability of its form, KR-20, is {known}; certifying asks {least:.2f}"
        )
    return objections


def _objections_to_the_issue(
    policy: ExamPolicy, mode: str, standing: Decision, by: str
) -> list[str]:
    """Return what speaks against how it was sat, and who decided and issues."""
    objections = []
    if mode == FILE:
        objections.append("it was handed in as a file: this machine neither served nor timed it")
    if policy.names_to_certify >= 2 and standing.by == by:
        objections.append(f"{by} decided it as well; certifying asks for two names")
    return objections


def _class_marks(connection: Connection, form: str, credited: set[str]) -> np.ndarray:
    """Return the marks (people, lifts) of all who sat a form; credited lifts left out."""
    rows = []
    for attempt in chain.rows(connection, schema.attempts, form=form):
        responses = sorted(derived.responses(connection, attempt["number"]))  # by item
        rows.append(
            [
                response.mark
                for response in responses
                if response.certifies and response.item not in credited
            ]
        )
    return np.array(rows)


def _frozen(grounds: Grounds) -> str:
    """Return what was known at issue, as it stays."""
    return files.canonical(
        {
            "key": grounds.key,
            "score": grounds.score,
            "cut": grounds.cut,
            "lifts": grounds.lifts,
            "reliability": _rounded(grounds.reliability),
            "interval": [_rounded(grounds.interval.low), _rounded(grounds.interval.high)],
            "standard_error": _rounded(grounds.error),
            "near_the_cut": bool(grounds.near),
            "objections": grounds.objections,
        }
    )


def _rounded(value: float) -> float | None:
    """Return a figure to four decimals, None for nan, which JSON does not have."""
    return None if value != value else round(float(value), 4)


def _name(step: Step, code: str, issuer: str, course: str) -> None:
    """Record the names on a certificate, each once; RecordsError for another then."""
    named = _named(step.connection, code)
    for new, old in ((issuer, named.issuer), (course, named.course)):
        if new and old and new != old:
            words = " and ".join(f"“{name}”" for name in named if name)
            raise RecordsError(f"certificate {code} was issued with {words}, which stands")
    whole = Names(named.issuer or issuer, named.course or course)
    if whole != named:
        step.append(schema.names, code=code, issuer=whole.issuer, course=whole.course)


def certificate_of(records: Records, attempt: int) -> Certificate | None:
    """Return the certificate that was given for an attempt, None if none was."""
    with records.reading() as connection:
        events = chain.rows(connection, schema.certificates, attempt=attempt)
        return _state(connection, events[0]["code"], records.now) if events else None


def change(records: Records, code: str, event: str, why: str, by: str = "") -> Certificate:
    """Suspend, reinstate or revoke: ``event`` is the past participle.

    Raises RecordsError for another event, without a reason, for a code
    that is not there, or where the event cannot follow.
    """
    if event not in NEXT or not why.strip():
        raise RecordsError(f"give {', '.join(NEXT)}, and the reason (why)")
    code = codes.tidy(code)
    with records.writing(by) as step:
        events = chain.rows(step.connection, schema.certificates, code=code)
        if not events:
            raise RecordsError(f"there is no certificate {code}")
        last = events[-1]
        if last["event"] not in NEXT[event]:
            raise RecordsError(f"certificate {code} is {last['event']} and cannot be {event}")
        _write(step, code, event, last["attempt"], last["until"], why)
        return _state(step.connection, code, step.at)


def check(records: Records, code: str) -> Certificate:
    """Return what a code stands for, now; never raises for a wrong one."""
    code = codes.tidy(code)
    if not codes.possible(code):
        return Certificate(
            files.harmless(code), "mistyped", "No certificate can have this code: look again."
        )
    with records.reading() as connection:
        return _state(connection, code, records.now)


def public_list(records: Records, page: bool = False) -> str:
    """Return the state of every certificate, for everybody to read: CSV or a page.

    Codes, states and dates; nobody's id. A code that is not on it was not
    issued here, so host the newest one.
    """
    table = schema.certificates
    with records.reading() as connection:
        codes_given = connection.execute(select(table.c.code).distinct()).scalars()
        states = [_state(connection, code, records.now) for code in sorted(codes_given)]
        made = records.now
    rows = [(state.code, state.status, state.since[:10], state.until[:10]) for state in states]
    heading = ("code", "state", "since", "until")
    if page:
        table_rows = ""
        for row in rows:
            cells = "".join(f"<td>{escape(cell)}</td>" for cell in row)
            table_rows += f"<tr>{cells}</tr>\n"
        titles = "".join(f'<th scope="col">{title}</th>' for title in heading)
        return PAGE.format(made=made, titles=titles, cells=table_rows)
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerows([heading, *rows, ("# as of", made, "", "")])
    return text.getvalue()


PAGE = """<!doctype html>
<html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width">
<title>Certificates and their states</title>
<h1>Certificates and their states</h1>
<p>As of {made}. A code that is not here was not issued. Search this page for the code.</p>
<table><thead><tr>{titles}</tr></thead>
<tbody>
{cells}</tbody></table>
</html>
"""


def _write(
    step: Step, code: str, event: str, attempt: int, until: str, why: str, frozen: str = ""
) -> None:
    """Append an event of a certificate."""
    row = {"code": code, "event": event, "attempt": attempt, "until": until, "why": why}
    step.append(schema.certificates, **row, frozen=frozen)


class Names(NamedTuple):
    """Hold who gives a certificate and what for; "" for not recorded."""

    issuer: str
    course: str


def _named(connection: Connection, code: str) -> Names:
    """Return the names recorded for a certificate."""
    row = chain.newest(connection, schema.names, code=code)
    return Names(row["issuer"], row["course"]) if row else Names("", "")


def _state(connection: Connection, code: str, now: str) -> Certificate:
    """Return what a code stands for, from its events and the names on it."""
    try:
        events = chain.rows(connection, schema.certificates, code=code)
    except RecordsError:
        return Certificate(code, "altered", "The record of this certificate was altered.")
    if not events:
        return Certificate(code, "unknown", "No certificate with this code was issued here.")
    try:
        named = _named(connection, code)
        attempt = attempt_row(connection, events[0]["attempt"])
        answered(connection, attempt)
        if (standing := latest(connection, attempt["number"])) is None:
            raise RecordsError(f"the decision on attempt {attempt['number']} was removed")
    except RecordsError as problem:
        return Certificate(code, "altered", f"It stands on what was altered: {problem}.")
    last, until = events[-1], events[-1]["until"]
    if last["event"] in ("suspended", "revoked"):
        status = last["event"]
        words = f"{status.capitalize()} on {last['at'][:10]}."
    else:
        status = "expired" if now > until else "valid"
        words = f"{status.capitalize()}: issued {events[0]['at'][:10]}, good to {until[:10]}."
    if not standing.passed:  # what follows from it, an examiner decides
        changed = f"attempt {attempt['number']} is not passed"
        words += f" The decision it stands on has changed: {changed}."
    frozen = json.loads(events[0]["frozen"])
    return Certificate(
        code=code,
        status=status,
        words=words,
        candidate=attempt["candidate"],
        form=attempt["form"],
        since=events[0]["at"],
        until=until,
        key=frozen["key"],
        issuer=named.issuer,
        course=named.course,
    )
