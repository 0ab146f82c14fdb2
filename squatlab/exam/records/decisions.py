"""What is decided: of an attempt, and of an item for everybody who sat the form.

An item found wrong after the sitting counts as right for everyone
[common-practice]. To leave it out, or to give it another key, would take a
mark from whoever had it; and the cut, which is in the form's seal, counts
all lifts. Credited, it takes nothing from anybody and needs no other cut.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

from sqlalchemy import Connection, select

from squatlab.exam.forms import Form, Key
from squatlab.exam.records import chain, tables
from squatlab.exam.records.attempts import Decision, answered, enrol, latest, settle, stored
from squatlab.exam.records.book import Records, RecordsError


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


def decide(records: Records, attempt: int, by: str, why: str = "") -> Decision:
    """Decide whether an attempt passed: its score against the form's cut.

    Items credited by a ruling count. Deciding again gives the decision
    that stands. Raises RecordsError for an attempt that is not there or
    was altered.
    """
    with records.writing() as connection:
        row = stored(connection, attempt)
        if standing := latest(connection, attempt):
            return standing
        given = due(connection, row, right(connection, row))
        words = "; ".join(filter(None, (why, *(one.words for one in given))))
        return settle(connection, records, row, row["score"] + len(given), by, words)


def rule(records: Records, form: Form, key: Key, item: str, by: str, why: str) -> Ruling:
    """Credit an item to everyone who sat the form or will, and decide anew.

    All of it is one step: whoever had the item wrong, and was decided on,
    gains a mark; who is decided on later gains it then. First results stay
    readable. Ruling again gives the ruling that stands. Raises
    RecordsError without a name and a reason, for an item that is not the
    form's, or where credit alone would reach the cut.
    """
    form.check(key)
    if not by.strip() or not why.strip():
        raise RecordsError("a ruling needs who decides it (by) and the reason (why)")
    if item not in key.entries:
        ends = f"{form.items[0]} to {form.items[-1]}"
        raise RecordsError(f"form {form.id} has no item {item!r}; its items are {ends}")
    with records.writing() as connection:
        enrol(connection, records, form)
        past = _ruled(connection, form.id)
        if standing := next((one for one in past if one.item == item), None):
            return standing
        row = {"form": form.id, "item": item, "certifies": key.entries[item].kind == "first"}
        if row["certifies"] and sum(one.certifies for one in past) + 1 >= form.cut:
            raise RecordsError(
                f"form {form.id}: with {item} as many lifts would be credited as its cut asks, "
                f"{form.cut:g}, and everybody would pass; give those who sat it another form"
            )
        row |= {"by": by, "why": why, "at": records.now}
        ruling = Ruling(chain.append(connection, tables.rulings, **row), **row)
        sat = select(tables.attempts.c.number).where(tables.attempts.c.form == form.id)
        for number in sorted(connection.execute(sat).scalars()) if ruling.certifies else ():
            attempt, standing = stored(connection, number), latest(connection, number)
            wrong = item not in right(connection, attempt)
            if standing and wrong and standing.score < attempt["cases"]:
                settle(connection, records, attempt, standing.score + 1, by, ruling.words)
        return ruling


def changes(records: Records, ruling: Ruling) -> tuple[Changed, ...]:
    """Return what a ruling changed of the decisions that stood before it."""
    table, sat = tables.decisions, tables.attempts
    columns = sat.c.candidate, *(table.c[name] for name in Decision._fields)
    mine = select(*columns).join(sat, sat.c.number == table.c.attempt)
    mine = mine.where(sat.c.form == ruling.form).order_by(table.c.number)
    stood, found = {}, []
    with records.reading() as connection:
        for who, *row in connection.execute(mine):
            one = Decision(*row)
            if who in stood and one.number > ruling.number and one.why == ruling.words:
                found.append(Changed(who, stood[who], one))
            stood[who] = one
    return tuple(found)


def credited(records: Records, form: str) -> dict[str, str]:
    """Return which items of a form count as right for everyone, and by whom and why.

    Raises RecordsError if a ruling was altered.
    """
    with records.reading() as connection:
        return {one.item: f"{one.by}, {one.at[:10]}: {one.why}" for one in _ruled(connection, form)}


def due(connection: Connection, attempt: Mapping[str, Any], had: Iterable[str]) -> list[Ruling]:
    """Return the rulings that give an attempt a mark beside the items it had right."""
    found = _ruled(connection, attempt["form"])
    return [one for one in found if one.certifies and one.item not in had]


def right(connection: Connection, attempt: Mapping[str, Any]) -> set[str]:
    """Return the items that an attempt has right, by the key or on its last appeal.

    An appeal that an earlier squatlab heard tells no items: what it
    accepted is then credited again, which is in the candidate's favour.
    """
    table, heard = tables.accepted, tables.appeals.c
    last = select(heard.number).where(heard.attempt == attempt["number"])
    last = last.order_by(heard.number.desc()).limit(1).scalar_subquery()
    by_key = {one.item for one in answered(connection, attempt) if one.mark == 1}
    return by_key | {row["item"] for row in _intact(connection, table, table.c.appeal == last)}


def _ruled(connection: Connection, form: str) -> list[Ruling]:
    table = tables.rulings
    found = _intact(connection, table, table.c.form == form)
    return [Ruling(*(row[name] for name in Ruling._fields)) for row in found]


def _intact(connection: Connection, table: Any, wanted: Any) -> list[Mapping[str, Any]]:
    found = connection.execute(select(table).where(wanted).order_by(table.c.number))
    for row in (rows := list(found.mappings())):
        if not chain.intact(connection, table, row):
            name = f"{table.name}, row {row['number']} ({row['item']})"
            raise RecordsError(f"{name}, was altered: restore the records from a copy")
    return rows
