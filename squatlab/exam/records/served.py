"""A sitting that the certifier's machine serves: begun, saved and ended in the records.

Every answer is a row before the candidate is told that it is saved, and the
machine's clock begins and ends the sitting. The page is another module's;
this one keeps the time and the answers.
"""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from typing import NamedTuple

from sqlalchemy import Connection

from squatlab.exam import codes
from squatlab.exam.answers import Sheet, possible_answer
from squatlab.exam.forms import Form
from squatlab.exam.records import chain, schema
from squatlab.exam.records.chain import RecordsError
from squatlab.exam.records.hand_ins import HandIn, keep
from squatlab.exam.records.ledger import Records, Step
from squatlab.exam.records.openings import incidents_of, minutes_of, openings
from squatlab.questions import files
from squatlab.questions.kinds import Given

SERVED = "served"
"""The mode of a hand-in that the certifier's machine timed and kept."""


class ServedSitting(NamedTuple):
    """Hold where a sitting stands: times in UTC as text, "" for not yet.

    ``ends`` is when it ends or ended, "" for one without a limit;
    ``running`` if answers are taken now. ``answers`` are those saved last,
    ``receipt`` the code of what was handed in, "" before.
    """

    opening: int
    begun: str
    ends: str
    handed_in: str
    running: bool
    answers: dict[str, Given]
    receipt: str = ""


def sitting(records: Records, opening: int) -> ServedSitting:
    """Return where a sitting stands now; RecordsError for an opening that is none."""
    with records.reading() as connection:
        return _state(connection, opening, records.now)


def begin(records: Records, opening: int) -> ServedSitting:
    """Start the clock, once: where it runs already, it runs on.

    Raises RecordsError for a sitting that was closed before it began.
    """
    with records.writing(_candidate(records, opening)) as step:
        if not chain.rows(step.connection, schema.begun, opening=opening):
            _not_closed(step.connection, opening)
            step.append(schema.begun, opening=opening)
        return _state(step.connection, opening, step.at)


def save(records: Records, opening: int, form: Form, item: str, answer: Given) -> str:
    """Save an answer, None to take it back; return the time when it was saved.

    When this returns, it is in the records. Raises RecordsError before the
    sitting began and after it ended, ValueError for what is no item of the
    form or no answer.
    """
    if item not in form.items:
        raise ValueError(f"form {form.id} has no such item")
    possible_answer(item, answer)
    with records.writing(_candidate(records, opening)) as step:
        state = _state(step.connection, opening, step.at)
        if not state.begun:
            raise RecordsError("not started yet: press Begin first, which starts the clock")
        if not state.running:
            over = f"at {state.handed_in or state.ends}"
            raise RecordsError(f"the sitting ended {over}: answers can no longer be changed")
        step.append(schema.saved, opening=opening, item=item, answer=files.canonical(answer))
        return step.at


def end(records: Records, opening: int, form: Form) -> HandIn:
    """Hand in what was saved, now: by the candidate, or when it was closed.

    Ending again gives the same hand-in. Raises RecordsError for a sitting
    that never began.
    """
    with records.writing(_candidate(records, opening)) as step:
        return _end(step, opening, form, _state(step.connection, opening, step.at))


def end_if_over(records: Records, opening: int, form: Form) -> HandIn | None:
    """Hand in what was saved, if the time is over; None while it runs.

    Whether it is over is looked up in the step that hands in: an extension
    that was noted just before counts. Raises RecordsError as `end`.
    """
    with records.writing(_candidate(records, opening)) as step:
        state = _state(step.connection, opening, step.at)
        return None if state.running else _end(step, opening, form, state)


def _end(step: Step, opening: int, form: Form, state: ServedSitting) -> HandIn:
    """Write the hand-in of a sitting in an open step."""
    row = _row(step.connection, opening)
    if not state.begun:
        raise RecordsError(f"the sitting of {row['candidate']} was never started")
    ended = min(step.at, state.ends) if state.ends else step.at
    sheet = Sheet(form.id, form.seal, row["candidate"], state.answers, ended, state.begun)
    return keep(step, sheet, SERVED, "", sheet.handed_in)


def end_what_is_over(records: Records, form: Form) -> tuple[str, ...]:
    """Hand in every sitting of a form whose time is over; return who sits still."""
    running = []
    for opening in openings(records, form.id):
        state = sitting(records, opening.number)
        if not state.begun or state.handed_in:
            continue
        if state.running or end_if_over(records, opening.number, form) is None:
            running.append(opening.candidate)
    return tuple(running)


def _candidate(records: Records, opening: int) -> str:
    """Return whose opening it is: they write its rows."""
    with records.reading() as connection:
        return _row(connection, opening)["candidate"]


def _row(connection: Connection, opening: int) -> dict:
    """Return the row of an opening; RecordsError if there is none."""
    row = chain.newest(connection, schema.openings, number=opening)
    if row is None:
        raise RecordsError(f"there is no opening {opening}; see squatlab records … openings")
    return row


def _not_closed(connection: Connection, opening: int) -> None:
    """Raise RecordsError for a sitting that the certifier closed."""
    if any(incident.event == "closed" for incident in incidents_of(connection, opening)):
        raise RecordsError("this sitting was closed by the certifier; ask them")


def _state(connection: Connection, opening: int, now: str) -> ServedSitting:
    """Return where a sitting stands at a time, from its rows alone.

    So nothing is lost when the machine stops: whoever asks next, after a
    restart too, works out the same.
    """
    row = _row(connection, opening)
    begun = chain.newest(connection, schema.begun, opening=opening)
    if begun is None:
        return ServedSitting(opening, "", "", "", False, {})
    # It ends after its minutes, or earlier if it was closed: the first of these times. Times are
    # UTC text of one length, so the earliest is the least.
    ends_at = [
        incident.at for incident in incidents_of(connection, opening) if incident.event == "closed"
    ]
    minutes = minutes_of(connection, row)
    if minutes is not None:
        ends_at.append(
            files.stamp(datetime.fromisoformat(begun["at"]) + timedelta(minutes=minutes))
        )
    ends = min(ends_at, default="")
    # Later rows take the place of earlier ones; an answer taken back is saved as None.
    answers = {
        row_saved["item"]: json.loads(row_saved["answer"])
        for row_saved in chain.rows(connection, schema.saved, opening=opening)
    }
    given = {item: answer for item, answer in answers.items() if answer is not None}
    hand_in = chain.newest(
        connection, schema.hand_ins, form=row["form"], candidate=row["candidate"], mode=SERVED
    )
    if hand_in is not None:
        receipt = codes.spell(bytes.fromhex(hand_in["digest"]))
        return ServedSitting(opening, begun["at"], ends, hand_in["at"], False, given, receipt)
    return ServedSitting(opening, begun["at"], ends, "", not ends or now <= ends, given)
