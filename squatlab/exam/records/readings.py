"""What the records hold, read out: for reports, for a gradebook, for an appeal."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

from sqlalchemy import select

from squatlab.exam.answers import Sheet
from squatlab.exam.forms import Form
from squatlab.exam.records import chain, tables
from squatlab.exam.records.attempts import Decision, answered, latest, stored
from squatlab.exam.records.book import Records, RecordsError
from squatlab.exam.records.reviews import key_status


class Standing(NamedTuple):
    """Hold an attempt and the decision that stands, None before the first.

    ``key`` says how far coaches have reviewed the key of its form.
    """

    number: int
    candidate: str
    form: str
    handed_in: str
    cases: int
    decision: Decision | None
    key: str


class Opening(NamedTuple):
    """Hold who was given which form, when, and when it came back, or "not yet"."""

    candidate: str
    form: str
    opened: str
    handed_in: str


def openings(records: Records) -> tuple[Opening, ...]:
    """Return every form that was given, in order; RecordsError if one was altered."""
    table, sat = tables.openings, tables.attempts
    with records.reading() as connection:
        back = select(sat.c.candidate, sat.c.form, sat.c.handed_in)
        came = {(who, form): when for who, form, when in connection.execute(back)}
        found = []
        for row in connection.execute(select(table).order_by(table.c.number)).mappings():
            if not chain.intact(connection, table, row):
                raise RecordsError(f"opening {row['number']} was altered: restore a copy")
            who, form = row["candidate"], row["form"]
            found.append(Opening(who, form, row["at"], came.get((who, form), "not yet")))
    return tuple(found)


def standings(records: Records, form: str = "") -> tuple[Standing, ...]:
    """Return every attempt, or those on one form, in the order of recording.

    Raises RecordsError for one that was altered.
    """
    table = tables.attempts
    wanted = select(table.c.number).order_by(table.c.number)
    if form:
        wanted = wanted.where(table.c.form == form)
    with records.reading() as connection:
        found = []
        for number in connection.execute(wanted).scalars():
            row = stored(connection, number)
            told = [row[name] for name in Standing._fields[:-2]]
            key = key_status(connection, row["form"], row["cases"])
            found.append(Standing(*told, latest(connection, number), key))
    return tuple(found)


def sheets(records: Records, form: Form) -> tuple[Sheet, ...]:
    """Return the answers to a form as they were recorded.

    Raises RecordsError if they were altered or the form has another seal.
    """
    known = tables.forms
    found = []
    with records.reading() as connection:
        seals = (
            connection.execute(select(known.c.seal).where(known.c.id == form.id)).scalars().all()
        )
        if seals and seals != [form.seal]:
            raise RecordsError(f"form {form.id} is on record with another seal; use its own file")
        numbers = connection.execute(
            select(tables.attempts.c.number).where(tables.attempts.c.form == form.id)
        )
        for number in sorted(numbers.scalars()):
            row = stored(connection, number)
            answers = {one.item: json.loads(one.answer) for one in answered(connection, row)}
            found.append(Sheet(form.id, form.seal, row["candidate"], answers, row["handed_in"]))
    return tuple(found)


def gradebook(records: Records) -> str:
    """Return a gradebook as CSV: a row a candidate, a column a form.

    Scores are those of the decision that stands. The second row has the
    points possible; a form not sat is empty.
    """
    found = standings(records)
    forms = {one.form: one.cases for one in found}
    rows: dict[str, dict[str, Any]] = {}
    for one in found:
        score = one.decision.score if one.decision else None
        rows.setdefault(one.candidate, {})[one.form] = "" if score is None else f"{score:g}"
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(["identifier", *forms])
    writer.writerow(["points possible", *forms.values()])
    for candidate in sorted(rows):
        writer.writerow([candidate, *(rows[candidate].get(form, "") for form in forms)])
    return text.getvalue()


def accepting(
    right: Mapping[str, str], also: Mapping[str, str]
) -> Callable[[dict[str, Any]], float]:
    """Return the marker of an appeal that accepts other options as well.

    ``right`` has the key's answer for each lift that certifies, ``also``
    what is right beside it. Raises RecordsError for another item.
    """
    if odd := sorted(also.keys() - right.keys()):
        words = "no first fault is asked there, so no score hangs on it"
        raise RecordsError(f"{', '.join(odd)}: {words}")
    return lambda given: float(
        sum(given.get(item) in (answer, also.get(item, answer)) for item, answer in right.items())
    )
