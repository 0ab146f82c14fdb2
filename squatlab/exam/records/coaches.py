"""Who may review a key, and their blind answers: kept beside what candidates answered."""

from __future__ import annotations

import json
from collections.abc import Mapping

from sqlalchemy import Connection

from squatlab.exam.forms import Form, FormKey
from squatlab.exam.records import chain, schema
from squatlab.exam.records.chain import RecordsError
from squatlab.exam.records.ledger import Records
from squatlab.exam.records.openings import enrol, policy_of
from squatlab.exam.reviews import KeyReview, Opinion, key_words, reviewed
from squatlab.questions import files
from squatlab.questions.kinds import Given, kind


def enrol_coach(records: Records, coach: str, by: str = "") -> None:
    """Enter a coach, by an id that is no name: from then on they may review keys.

    Raises RecordsError for an id that is a candidate's.
    """
    files.identifier("coach", coach)
    with records.writing(by) as step:
        if chain.rows(step.connection, schema.candidates, id=coach):
            raise RecordsError(f"{coach} is a candidate's id: give the coach one of their own")
        if not chain.rows(step.connection, schema.coaches, id=coach):
            step.append(schema.coaches, id=coach)


def record_review(
    records: Records, form: Form, key: FormKey, coach: str, answers: Mapping[str, Given]
) -> tuple[Opinion, ...]:
    """Record a coach's blind answers, and their agreement with key and coaches.

    Returns what is new: the same again changes nothing, more items may
    follow. Raises RecordsError for who is no coach on record or was given
    the form as a candidate, and for another answer than the one given
    before; ValueError for one that the form does not offer.
    """
    files.identifier("coach", coach)
    judged = KeyReview(form, key).judged(coach, answers)
    with records.writing() as step:
        connection = step.connection
        _may_review(connection, form.id, coach)
        enrol(step, form)
        before = _opinions(connection, form.id)
        earlier_answers = {
            opinion.item: opinion.answer for opinion in before if opinion.coach == coach
        }
        if other := [
            opinion.item
            for opinion in judged
            if earlier_answers.get(opinion.item, opinion.answer) != opinion.answer
        ]:
            raise RecordsError(
                f"coach {coach}, form {form.id}: other answers to {', '.join(other)} are on record "
                "and stand, for they were blind; to judge again, ask one more coach"
            )
        fresh = tuple(opinion for opinion in judged if opinion.item not in earlier_answers)
        if fresh:
            likenesses = [
                [*pair, like.items, like.share, like.kappa.reason or round(like.kappa, 4)]
                for pair, like in KeyReview(form, key, before + fresh).likenesses().items()
                if coach in pair and like.items
            ]
            step.append(
                schema.reviews,
                form=form.id,
                coach=coach,
                opinions=files.canonical(fresh),
                agreement=files.canonical(likenesses),
            )
    return fresh


def _may_review(connection: Connection, form: str, coach: str) -> None:
    """Raise RecordsError for who is no coach, or a candidate of the form."""
    if not chain.rows(connection, schema.coaches, id=coach):
        raise RecordsError(
            f"{coach} is no coach on record, so this is no review; whoever runs the exam enters "
            f"coaches: squatlab records RECORDS coach {coach} --by NAME"
        )
    for table in (schema.openings, schema.hand_ins):
        if chain.rows(connection, table, candidate=coach, form=form):
            raise RecordsError(
                f"{coach} is a candidate of form {form}, and candidates do not review its key"
            )


def opinions(records: Records, form: str) -> tuple[Opinion, ...]:
    """Return what coaches answered to a form; RecordsError if it was altered."""
    with records.reading() as connection:
        return _opinions(connection, form)


def key_status(connection: Connection, form: str, lifts: int) -> str:
    """Return how many of a form's lifts have a reviewed key, in words."""
    opinions = [opinion for opinion in _opinions(connection, form) if kind(opinion.kind).certifies]
    enough = reviewed(opinions, policy_of(connection, form)) if opinions else ()
    return key_words(len(enough), lifts)


def _opinions(connection: Connection, form: str) -> tuple[Opinion, ...]:
    """Return the opinions on a form as they were recorded."""
    rows = chain.rows(connection, schema.reviews, form=form)
    return tuple(Opinion(*fields) for row in rows for fields in json.loads(row["opinions"]))
