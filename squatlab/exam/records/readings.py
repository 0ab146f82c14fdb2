"""What the records hold, read out: for reports, for a gradebook."""

from __future__ import annotations

import csv
import io
import json
from typing import Any, NamedTuple

from squatlab.exam import codes
from squatlab.exam.answers import Sheet
from squatlab.exam.forms import Form
from squatlab.exam.records import chain, schema
from squatlab.exam.records.chain import RecordsError
from squatlab.exam.records.coaches import key_status
from squatlab.exam.records.decisions import Decision, answered, attempt_row, latest
from squatlab.exam.records.ledger import Records


class Standing(NamedTuple):
    """Hold an attempt and the decision that stands, None before the first.

    ``receipt`` is that of the answers, ``mode`` how they came, ``key`` how
    far coaches have reviewed the key of its form by now.
    """

    number: int
    candidate: str
    form: str
    handed_in: str
    cases: int
    decision: Decision | None
    receipt: str
    mode: str
    key: str


def standings(records: Records, form: str = "") -> tuple[Standing, ...]:
    """Return every attempt, or those on one form, in the order of recording.

    Raises RecordsError for one that was altered.
    """
    wanted = {"form": form} if form else {}
    with records.reading() as connection:
        standings_read = []
        key_of_form: dict[str, str] = {}
        for row in chain.rows(connection, schema.attempts, **wanted):
            name, number = row["form"], row["number"]
            if name not in key_of_form:
                key_of_form[name] = key_status(connection, name, row["cases"])
            hand_in = chain.newest(connection, schema.hand_ins, number=row["hand_in"])
            standings_read.append(
                Standing(
                    number=number,
                    candidate=row["candidate"],
                    form=name,
                    handed_in=row["handed_in"],
                    cases=row["cases"],
                    decision=latest(connection, number),
                    receipt=codes.spell(bytes.fromhex(row["answers"])),
                    mode=hand_in["mode"],
                    key=key_of_form[name],
                )
            )
    return tuple(standings_read)


def sheets(records: Records, form: Form) -> tuple[Sheet, ...]:
    """Return the answers to a form as they were recorded.

    Raises RecordsError if they were altered or the form has another seal.
    """
    recorded = []
    with records.reading() as connection:
        known = chain.newest(connection, schema.forms, id=form.id)
        if known and known["seal"] != form.seal:
            raise RecordsError(f"form {form.id} is on record with another seal; use its own file")
        for attempt in chain.rows(connection, schema.attempts, form=form.id):
            row = attempt_row(connection, attempt["number"])
            answers = {
                response.item: json.loads(response.answer) for response in answered(connection, row)
            }
            recorded.append(Sheet(form.id, form.seal, row["candidate"], answers, row["handed_in"]))
    return tuple(recorded)


def gradebook(records: Records) -> str:
    """Return a gradebook as CSV: a row a candidate, a column a form.

    Scores are those of the decision that stands. The second row says out
    of how many; a form not sat is empty.
    """
    results = standings(records)
    forms = {result.form: result.cases for result in results}
    rows: dict[str, dict[str, Any]] = {}
    for one in results:
        score = one.decision.score if one.decision else None
        rows.setdefault(one.candidate, {})[one.form] = "" if score is None else f"{score:g}"
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(["candidate", *forms])
    writer.writerow(["out of", *forms.values()])
    for candidate in sorted(rows):
        writer.writerow([candidate, *(rows[candidate].get(form, "") for form in forms)])
    return text.getvalue()
