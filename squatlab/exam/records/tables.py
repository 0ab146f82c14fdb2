"""The tables of the records: who sat what, what was decided, who may show what.

Every row of a `KEPT` table has its link in the chain, by number. Nothing
there is ever changed or deleted: a later row says what became of it.
"""

from __future__ import annotations

from typing import Any

import sqlalchemy as sql

TABLES = sql.MetaData()
ID = sql.String(64)
TIME = sql.String(24)  # UTC as text: sorts, and hashes, the same in every database


def _column(name: str, kind: Any, *more: Any, **how: Any) -> sql.Column:
    return sql.Column(name, kind, *more, nullable=False, **how)


def _number(target: str, name: str = "number") -> sql.Column:
    key = {"primary_key": True, "autoincrement": False} if name == "number" else {}
    return _column(name, sql.Integer, sql.ForeignKey(target), **key)


def _kept(name: str, *columns: Any) -> sql.Table:
    return sql.Table(name, TABLES, _number("chain.number"), *columns, _column("at", TIME))


def _who_and_why() -> tuple[sql.Column, sql.Column]:
    return _column("by", sql.Text), _column("why", sql.Text)


chain = sql.Table(
    "chain", TABLES,
    _column("number", sql.Integer, primary_key=True, autoincrement=False),
    _column("kind", ID), _column("previous", ID, unique=True), _column("hash", ID),
)  # fmt: skip
candidates = _kept("candidates", _column("id", ID, unique=True))
forms = _kept(
    "forms", _column("id", ID, unique=True), _column("seal", ID), _column("cut", sql.Float)
)
openings = _kept(
    "openings", _column("candidate", ID, sql.ForeignKey("candidates.id")),
    _column("form", ID, sql.ForeignKey("forms.id")), _column("rule", sql.Text),
)  # fmt: skip
attempts = _kept(
    "attempts", _column("candidate", ID, sql.ForeignKey("candidates.id")),
    _column("form", ID, sql.ForeignKey("forms.id")), _column("answers", ID),
    _column("responses", ID), _column("handed_in", TIME), _column("score", sql.Float),
    _column("cases", sql.Integer), _column("rule", sql.Text),
    sql.UniqueConstraint("candidate", "form"),
)  # fmt: skip
appeals = _kept(
    "appeals", _number("attempts.number", "attempt"), *_who_and_why(),
    _column("before", sql.Float), _column("after", sql.Float),
)  # fmt: skip
accepted = _kept("accepted", _number("appeals.number", "appeal"), _column("item", ID))
rulings = _kept(
    "rulings", _column("form", ID, sql.ForeignKey("forms.id")), _column("item", ID),
    _column("certifies", sql.Boolean), *_who_and_why(), sql.UniqueConstraint("form", "item"),
)  # fmt: skip
decisions = _kept(
    "decisions", _number("attempts.number", "attempt"), _column("score", sql.Float),
    _column("passed", sql.Boolean), *_who_and_why(),
)  # fmt: skip
certificates = _kept(
    "certificates", _column("code", ID), _column("event", ID),
    _number("attempts.number", "attempt"), _column("until", TIME), *_who_and_why(),
)  # fmt: skip
names = _kept(
    "names", _column("code", ID), _column("issuer", sql.Text), _column("course", sql.Text)
)
reviews = _kept(
    "reviews", _column("form", ID, sql.ForeignKey("forms.id")), _column("coach", ID),
    _column("opinions", sql.Text), _column("agreement", sql.Text),  # both as canonical JSON
)  # fmt: skip
responses = sql.Table(
    "responses", TABLES,
    _column("attempt", sql.Integer, sql.ForeignKey("attempts.number"), primary_key=True),
    _column("item", ID, primary_key=True),
    _column("answer", sql.Text), _column("mark", sql.Float),  # answer as canonical JSON
)  # fmt: skip

KEPT = {
    table.name: table
    for table in (candidates, forms, openings, attempts, appeals, accepted, rulings, decisions,
                  certificates, names, reviews)
}  # fmt: skip
