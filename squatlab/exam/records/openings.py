"""Who may sit which form: the code they get, the time agreed, when they sit again.

An opening is a row: a candidate was given a form. Without it nothing that
is handed in stands, and a served exam lets nobody in.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import asdict
from datetime import datetime, timedelta
from typing import Any, NamedTuple

from sqlalchemy import Connection, func, select

from squatlab.exam import codes
from squatlab.exam.forms import MOST_MINUTES, TIME_FACTORS, Form, FormKey
from squatlab.exam.policy import ExamPolicy
from squatlab.exam.records import chain, schema
from squatlab.exam.records.chain import RecordsError
from squatlab.exam.records.ledger import Records, Step
from squatlab.questions import files


class RetakeRule(NamedTuple):
    """Hold the days between attempts, and how many in how many days.

    A form that was seen is never given again, whatever the numbers.
    """

    waiting_days: float
    attempts: int
    window_days: float

    @classmethod
    def of(cls, policy: ExamPolicy) -> RetakeRule:
        """Return the rule of a policy."""
        return cls(policy.waiting_days, policy.attempts, policy.window_days)

    def objection(self, when: str, past: Iterable[str]) -> str:
        """Return why not to sit at ``when`` after ``past`` attempts, or "".

        Times in UTC as text. The order of recording does not matter:
        attempts before and after count the same.
        """
        sat = datetime.fromisoformat(when)
        others = sorted(datetime.fromisoformat(moment) for moment in past)
        wait, window = timedelta(days=self.waiting_days), timedelta(days=self.window_days)
        # Both ways in time: a hand-in of last week may be recorded after one of today.
        for other in others:
            if abs(sat - other) < wait:
                return (
                    f"{self.waiting_days:g} days lie between two attempts, and one was on "
                    f"{other:%Y-%m-%d}; sit from {_minute(other + wait)} on"
                )
        recent = [other for other in others if abs(sat - other) < window]
        if len(recent) >= self.attempts:
            return (
                f"{self.attempts} attempts in {self.window_days:g} days are allowed, and "
                f"{len(recent)} were made; sit from {_minute(recent[-self.attempts] + window)} on"
            )
        return ""

    def __str__(self) -> str:
        return (
            f"{self.waiting_days:g} days apart, {self.attempts} in {self.window_days:g} days, "
            "no form twice"
        )


def _minute(moment: datetime) -> str:
    """Return the first whole minute from a time on; on that day it may be too early yet."""
    whole = moment.replace(second=0, microsecond=0)
    whole += timedelta(minutes=whole < moment)
    return f"{whole:%Y-%m-%d %H:%M} UTC"


class Slip(NamedTuple):
    """Hold what a candidate is given: their code, and the time agreed.

    ``opening`` is its row in the records, ``minutes`` what they have with
    their time factor, None without a limit. ``notes`` are for the
    certifier, not for the candidate.
    """

    opening: int
    candidate: str
    form: str
    code: str
    time_factor: float
    minutes: float | None
    notes: tuple[str, ...] = ()


class Opening(NamedTuple):
    """Hold who was given which form, when, and when it came back; None: not yet."""

    number: int
    candidate: str
    form: str
    time_factor: float
    minutes: float | None
    opened: str
    handed_in: str | None


class Incident(NamedTuple):
    """Hold what happened to one candidate's sitting, by whom it was noted and why.

    ``event`` is "extended" (by ``minutes``), "closed" or "note".
    """

    number: int
    event: str
    minutes: float | None
    why: str
    by: str
    at: str


def open_form(
    records: Records,
    form: Form,
    key: FormKey,
    candidate: str,
    time_factor: float = 1.0,
    rule: RetakeRule | None = None,
) -> Slip:
    """Record that a candidate is given a form; return their code.

    ``time_factor`` is what was agreed with them. The slip's notes say what
    the rule allows and the certifier should know all the same. Raises
    RecordsError in words that say what may be done. An exception is
    another ``rule``; the one that was used is recorded.
    """
    files.identifier("candidate", candidate)
    form.check(key)
    if why := TIME_FACTORS.objection(time_factor):
        raise RecordsError(why)
    rule = rule or RetakeRule.of(form.policy)
    # Drawn for this opening alone: the code follows from it and the key's salt, so that neither
    # who has the records nor who has the key can work it out alone.
    nonce = records.draw(16).hex()
    code = codes.candidates_code(key.salt, form.id, candidate, nonce)
    with records.writing() as step:
        _may_sit(step.connection, form, candidate)
        enrol(step, form, candidate)
        if seen := _when_seen(step.connection, form.id, candidate):
            raise RecordsError(
                f"candidate {candidate}, form {form.id}: {seen}, so its lifts are known; give "
                "another form (after a crash the candidate carries on where they were; to print "
                "the code again: squatlab records … slips)"
            )
        allow(step.connection, form.id, candidate, step.at, rule)
        notes = tuple(_notes(step.connection, candidate))
        number = step.append(
            schema.openings,
            candidate=candidate,
            form=form.id,
            time_factor=float(time_factor),
            nonce=nonce,
            code=codes.fingerprint(code, form.id, candidate),
            rule=str(rule),
        )
    return Slip(number, candidate, form.id, code, time_factor, _minutes(form, time_factor), notes)


def _minutes(form: Form, time_factor: float) -> float | None:
    """Return the minutes that a time factor gives, None without a limit."""
    return None if form.minutes is None else form.minutes * time_factor


def _when_seen(connection: Connection, form: str, candidate: str) -> str:
    """Return when a candidate was shown a form, in words; "" for never."""
    of_candidate = {"candidate": candidate, "form": form}
    if attempt := chain.newest(connection, schema.attempts, **of_candidate):
        return f"handed in on {attempt['handed_in'][:10]}"
    if opening := chain.newest(connection, schema.openings, **of_candidate):
        return f"opened on {opening['at'][:10]}"
    return ""


def slips(records: Records, form: Form, key: FormKey) -> tuple[Slip, ...]:
    """Return the codes of everybody who was given a form, to print again."""
    form.check(key)
    slips_again = []
    with records.reading() as connection:
        for row in chain.rows(connection, schema.openings, form=form.id):
            code = codes.candidates_code(key.salt, form.id, row["candidate"], row["nonce"])
            factor = row["time_factor"]
            minutes = _minutes(form, factor)
            slips_again.append(
                Slip(row["number"], row["candidate"], form.id, code, factor, minutes)
            )
    return tuple(slips_again)


def known_by(records: Records, form: str, candidate: str, code: str) -> Opening | None:
    """Return the opening that a candidate's code proves, None if it proves none.

    Takes the same time for a wrong code as for a right one, and for a
    candidate who is not there.
    """
    candidate = candidate if isinstance(candidate, str) else ""
    # A page may send half a character, which cannot be hashed.
    candidate, code = (text.encode("utf-8", "ignore").decode() for text in (candidate, code))
    # First the slow part, whoever asks: a candidate who is not there would otherwise be answered
    # sooner, and ids could be found out by the time.
    given = codes.fingerprint(code, form, candidate)
    with records.reading() as connection:
        row = chain.newest(connection, schema.openings, candidate=candidate, form=form)
        if row is None or not codes.same(given, row["code"]):
            return None
        return _opening(connection, row)


def openings(records: Records, form: str = "") -> tuple[Opening, ...]:
    """Return every form that was given, in order; RecordsError if one was altered."""
    wanted = {"form": form} if form else {}
    with records.reading() as connection:
        rows = chain.rows(connection, schema.openings, **wanted)
        return tuple(_opening(connection, row) for row in rows)


def _opening(connection: Connection, row: dict[str, Any]) -> Opening:
    """Return an opening with its minutes, and when its form came back."""
    attempt = chain.newest(
        connection, schema.attempts, candidate=row["candidate"], form=row["form"]
    )
    return Opening(
        number=row["number"],
        candidate=row["candidate"],
        form=row["form"],
        time_factor=row["time_factor"],
        minutes=minutes_of(connection, row),
        opened=row["at"],
        handed_in=attempt["handed_in"] if attempt else None,
    )


def minutes_of(connection: Connection, opening: dict[str, Any]) -> float | None:
    """Return the minutes that a candidate has: form, time factor, extensions."""
    form = chain.newest(connection, schema.forms, id=opening["form"])
    if form is None or form["minutes"] is None:
        return None
    more = sum(incident.minutes or 0.0 for incident in incidents_of(connection, opening["number"]))
    return form["minutes"] * opening["time_factor"] + more


def note_incident(
    records: Records, opening: int, event: str, why: str, minutes: float | None = None, by: str = ""
) -> Incident:
    """Note what happened to a sitting: "extended" by minutes, "closed", or a "note".

    Raises RecordsError without a reason, for another event, for an opening
    that is not there, and for minutes that are not more than 0.
    """
    if event not in ("extended", "closed", "note") or not why.strip():
        raise RecordsError("give extended, closed or note, and the reason (why)")
    has_minutes = minutes is not None and 0 < minutes <= MOST_MINUTES
    if (event == "extended") is not has_minutes:
        raise RecordsError("only an extension has minutes: more than 0, and less than a day")
    with records.writing(by) as step:
        if not chain.rows(step.connection, schema.openings, number=opening):
            raise RecordsError(f"there is no opening {opening}; see squatlab records … openings")
        row = {"event": event, "minutes": minutes, "why": why}
        number = step.append(schema.incidents, opening=opening, **row)
        return Incident(number, event, minutes, why, step.by, step.at)


def incidents(records: Records, opening: int) -> tuple[Incident, ...]:
    """Return what happened to one sitting, in order."""
    with records.reading() as connection:
        return incidents_of(connection, opening)


def incidents_of(connection: Connection, opening: int) -> tuple[Incident, ...]:
    """Return the same within a step that is already open."""
    rows = chain.rows(connection, schema.incidents, opening=opening)
    return tuple(Incident(**{name: row[name] for name in Incident._fields}) for row in rows)


def enrol(step: Step, form: Form, candidate: str = "") -> None:
    """Enter a candidate, if one is given, and a form that are new to the records.

    Raises RecordsError if the form is on record with another seal or cut,
    and for an id that differs from another's in capitals alone.
    """
    if candidate and not chain.rows(step.connection, schema.candidates, id=candidate):
        # Two ids that differ in capitals alone are one person misspelt, and one file on disks that
        # do not tell them apart.
        ids = schema.candidates.c.id
        alike = select(ids).where(func.lower(ids) == candidate.lower())
        if known := step.connection.execute(alike).scalar():
            raise RecordsError(
                f"candidate {candidate}: there is {known} on record; write the same id, or give "
                "another person an id that differs in more than capitals"
            )
        step.append(schema.candidates, id=candidate)
    known = chain.newest(step.connection, schema.forms, id=form.id)
    if known is None:
        step.append(
            schema.forms,
            id=form.id,
            seal=form.seal,
            cut=float(form.cut),
            minutes=form.minutes,
            policy=files.canonical(asdict(form.policy)),
        )
    elif (known["seal"], known["cut"]) != (form.seal, form.cut):
        raise RecordsError(
            f"form {form.id} is on record with another seal or cut; give a new form a new id"
        )


def policy_of(connection: Connection, form: str) -> ExamPolicy:
    """Return the policy that a form on record was drawn by."""
    row = chain.newest(connection, schema.forms, id=form)
    return ExamPolicy.of(json.loads(row["policy"]))


def allow(connection: Connection, form: str, candidate: str, when: str, rule: RetakeRule) -> None:
    """Raise RecordsError if the retake rule keeps a candidate from sitting at a time."""
    past = chain.rows(connection, schema.attempts, candidate=candidate)
    others = [row["handed_in"] for row in past if row["form"] != form]
    if why := rule.objection(when, others):
        raise RecordsError(f"candidate {candidate}, form {form}: {why}")


def _may_sit(connection: Connection, form: Form, candidate: str) -> None:
    """Raise RecordsError for a forgotten id, and for a coach who reviewed the form's key."""
    if chain.rows(connection, schema.forgotten, candidate=candidate):
        raise RecordsError(
            f"candidate {candidate} was forgotten: the id stands for nobody any more; give a new id"
        )
    if chain.rows(connection, schema.reviews, coach=candidate, form=form.id):
        raise RecordsError(
            f"candidate {candidate} reviewed the key of form {form.id}, so its lifts are known; "
            "give another form"
        )


def _notes(connection: Connection, candidate: str) -> Iterable[str]:
    """Yield which forms a candidate still has, and which they have passed."""
    attempts = chain.rows(connection, schema.attempts, candidate=candidate)
    sat = {row["form"] for row in attempts}
    for row in chain.rows(connection, schema.openings, candidate=candidate):
        if row["form"] not in sat:
            when = row["at"][:10]
            yield f"{candidate} was given form {row['form']} on {when} and has not handed it in"
    for row in attempts:
        decision = chain.newest(connection, schema.decisions, attempt=row["number"])
        if decision and decision["passed"]:
            which = f"form {row['form']} (attempt {row['number']})"
            yield f"{candidate} has passed already, with {which}"
