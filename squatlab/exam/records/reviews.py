"""Blind answers of coaches to a form's items, kept beside what candidates answered."""

from __future__ import annotations

import json
from collections.abc import Mapping

from sqlalchemy import Connection, select

from squatlab.exam.answers import Given
from squatlab.exam.forms import Form, Key
from squatlab.exam.records import chain, tables
from squatlab.exam.records.attempts import enrol
from squatlab.exam.records.book import Records, RecordsError
from squatlab.exam.reviews import KeyReview, Opinion, key_words, reviewed
from squatlab.questions import files


def record_review(
    records: Records, form: Form, key: Key, coach: str, answers: Mapping[str, Given]
) -> tuple[Opinion, ...]:
    """Record a coach's blind answers, and their agreement with key and coaches.

    Returns what is new: the same again changes nothing, more items may
    follow. Raises RecordsError for another answer than the one given
    before, ValueError for one that the form does not offer.
    """
    files.identifier("coach", coach)
    judged = KeyReview(form, key).judged(coach, answers)
    with records.writing() as connection:
        enrol(connection, records, form)
        before = _opinions(connection, form.id)
        kept = {one.item: one.answer for one in before if one.coach == coach}
        if other := [one.item for one in judged if kept.get(one.item, one.answer) != one.answer]:
            raise RecordsError(
                f"coach {coach}, form {form.id}: other answers to {', '.join(other)} are on record "
                "and stand, for they were blind; to judge again, ask one more coach"
            )
        fresh = tuple(one for one in judged if one.item not in kept)
        if fresh:
            told = [
                [*pair, like.items, like.share, like.kappa.reason or round(like.kappa, 4)]
                for pair, like in KeyReview(form, key, before + fresh).likenesses().items()
                if coach in pair and like.items
            ]
            chain.append(
                connection, tables.reviews, form=form.id, coach=coach, at=records.now,
                opinions=files.canonical(fresh), agreement=files.canonical(told),
            )  # fmt: skip
    return fresh


def opinions(records: Records, form: str) -> tuple[Opinion, ...]:
    """Return what coaches answered to a form; RecordsError if it was altered."""
    with records.reading() as connection:
        return _opinions(connection, form)


def key_status(connection: Connection, form: str, lifts: int) -> str:
    """Return how many of a form's lifts have a reviewed key, in words."""
    found = [one for one in _opinions(connection, form) if one.kind == "first"]
    return key_words(len(reviewed(found)), lifts)


def _opinions(connection: Connection, form: str) -> tuple[Opinion, ...]:
    table, found = tables.reviews, []
    mine = select(table).where(table.c.form == form).order_by(table.c.number)
    for row in connection.execute(mine).mappings():
        if not chain.intact(connection, table, row):
            raise RecordsError(
                f"the review by {row['coach']}, row {row['number']}, was altered: restore the "
                "records from a copy"
            )
        found += [Opinion(*one) for one in json.loads(row["opinions"])]
    return tuple(found)
