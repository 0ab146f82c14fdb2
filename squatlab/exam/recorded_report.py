"""The report of a form with all that its records know."""

from __future__ import annotations

from squatlab.exam.forms import Form, FormKey
from squatlab.exam.marking import mark
from squatlab.exam.records import (
    Records,
    absent,
    credited,
    hand_ins,
    opinions,
    sheets,
    standings,
)
from squatlab.exam.report import Report


def recorded_report(records: Records, form: Form, key: FormKey) -> Report:
    """Mark what is on record of a form again; return its report.

    Raises ValueError where nobody has an attempt on record, RecordsError
    for records of another seal.
    """
    given = sheets(records, form)
    if not given:
        raise ValueError(f"nobody has an attempt at form {form.id} on record yet")
    decided = {
        standing.candidate: standing.decision.score
        for standing in standings(records, form.id)
        if standing.decision
    }
    refused = tuple(
        f"{hand_in.candidate or hand_in.file}: {hand_in.why}"
        for hand_in in hand_ins(records, form.id)
        if not hand_in.stands
    )
    marks = mark(form, key, given, credited(records, form.id))
    return Report(marks, decided, opinions(records, form.id), absent(records, form.id), refused)
