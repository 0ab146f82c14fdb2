"""The tables of the records: who sat what, what was decided, who may show what.

Every row of a `KEPT` table has its link in `chain`, by number: the link says
who wrote the row and when. Nothing there is ever changed or deleted: a later
row says what became of it.
"""

from __future__ import annotations

from typing import Any

import sqlalchemy as sql

VERSION = 1
"""Of these tables. A later version may add tables, and columns that may be empty."""

TABLES = sql.MetaData()
ID = sql.String(64)
TIME = sql.String(24)  # UTC as text: sorts, and hashes, the same in every database


def _column(name: str, kind: Any, *more: Any, **how: Any) -> sql.Column:
    """Return a column that is never empty."""
    return sql.Column(name, kind, *more, nullable=False, **how)


def _number(target: str, name: str) -> sql.Column:
    """Return a column with the number of a row elsewhere."""
    return _column(name, sql.Integer, sql.ForeignKey(target), index=True)


def _kept(name: str, *columns: Any) -> sql.Table:
    """Return a table whose rows have their links in the chain, by number."""
    number = sql.Column(
        "number",
        sql.Integer,
        sql.ForeignKey("chain.number"),
        primary_key=True,
        autoincrement=False,
    )
    return sql.Table(name, TABLES, number, *columns)


def _candidate() -> sql.Column:
    """Return the column that says which candidate a row is about."""
    return _column("candidate", ID, sql.ForeignKey("candidates.id"))


def _form() -> sql.Column:
    """Return the column that says which form a row is about."""
    return _column("form", ID, sql.ForeignKey("forms.id"))


about = sql.Table(
    "about", TABLES, _column("name", ID, primary_key=True), _column("value", sql.Text)
)
chain = sql.Table(
    "chain",
    TABLES,
    _column("number", sql.Integer, primary_key=True, autoincrement=False),
    _column("kind", ID),
    _column("by", sql.Text),
    _column("at", TIME),
    _column("previous", ID, unique=True),
    _column("hash", ID),
)
signatures = sql.Table(
    "signatures",
    TABLES,
    _column("number", sql.Integer, sql.ForeignKey("chain.number"), primary_key=True),
    _column("key", ID, primary_key=True),
    _column("by", sql.Text),
    _column("at", TIME),
    _column("signature", sql.Text),
)

candidates = _kept("candidates", _column("id", ID, unique=True))
coaches = _kept("coaches", _column("id", ID, unique=True))
forms = _kept(
    "forms",
    _column("id", ID, unique=True),
    _column("seal", ID),
    _column("cut", sql.Float),
    sql.Column("minutes", sql.Float),
    _column("policy", sql.Text),  # as canonical JSON
)
openings = _kept(
    "openings",
    _candidate(),
    _form(),
    _column("time_factor", sql.Float),
    _column("nonce", ID),
    _column("code", ID),  # of the code its fingerprint alone
    _column("rule", sql.Text),
    sql.UniqueConstraint("candidate", "form"),
)
begun = _kept("begun", _number("openings.number", "opening"), sql.UniqueConstraint("opening"))
saved = _kept(
    "saved",
    _number("openings.number", "opening"),
    _column("item", ID),
    _column("answer", sql.Text),  # as canonical JSON
)
incidents = _kept(
    "incidents",
    _number("openings.number", "opening"),
    _column("event", ID),
    sql.Column("minutes", sql.Float),
    _column("why", sql.Text),
)
hand_ins = _kept(
    "hand_ins",
    _column("form", ID),
    _column("candidate", ID),
    _column("mode", ID),
    _column("file", sql.Text),
    _column("digest", ID),
    _column("answers", sql.Text),
    # Declared by the candidate's machine: began and ended. What decides: handed_in.
    _column("began", TIME),
    _column("ended", TIME),
    _column("handed_in", TIME),
    _column("refused", sql.Text),
    sql.Index("hand_ins_of", "candidate", "form"),
)
standings = _kept(
    "standings",
    _number("hand_ins.number", "hand_in"),
    _column("stands", sql.Boolean),
    _column("why", sql.Text),
)
attempts = _kept(
    "attempts",
    _candidate(),
    _form(),
    _number("hand_ins.number", "hand_in"),
    _column("answers", ID),
    _column("responses", ID),
    _column("handed_in", TIME),
    _column("score", sql.Float),
    _column("cases", sql.Integer),
    _column("rule", sql.Text),
    sql.UniqueConstraint("candidate", "form"),
)
appeals = _kept(
    "appeals",
    _number("attempts.number", "attempt"),
    _column("why", sql.Text),
    _column("before", sql.Float),
    _column("after", sql.Float),
)
accepted = _kept(
    "accepted",
    _number("appeals.number", "appeal"),
    _column("item", ID),
    _column("option", sql.Text),
)
rulings = _kept(
    "rulings",
    _form(),
    _column("item", ID),
    _column("certifies", sql.Boolean),
    _column("why", sql.Text),
    sql.UniqueConstraint("form", "item"),
)
decisions = _kept(
    "decisions",
    _number("attempts.number", "attempt"),
    _column("score", sql.Float),
    _column("passed", sql.Boolean),
    _column("why", sql.Text),
)
certificates = _kept(
    "certificates",
    _column("code", ID),
    _column("event", ID),
    _number("attempts.number", "attempt"),
    _column("until", TIME),
    _column("why", sql.Text),
    _column("frozen", sql.Text),  # what was known at issue, as canonical JSON; "" later
)
names = _kept(
    "names", _column("code", ID), _column("issuer", sql.Text), _column("course", sql.Text)
)
reviews = _kept(
    "reviews",
    _form(),
    _column("coach", ID, sql.ForeignKey("coaches.id")),
    _column("opinions", sql.Text),
    _column("agreement", sql.Text),  # both as canonical JSON
)
outputs = _kept(
    "outputs",
    _column("what", ID),
    _column("of", ID),
    _column("fingerprint", ID),
    _column("details", sql.Text),
)
forgotten = _kept("forgotten", _candidate(), _column("why", sql.Text))
responses = sql.Table(
    "responses",
    TABLES,
    _column("attempt", sql.Integer, sql.ForeignKey("attempts.number"), primary_key=True),
    _column("item", ID, primary_key=True),
    _column("answer", sql.Text),  # as canonical JSON
    _column("mark", sql.Float),
    _column("certifies", sql.Boolean),
)

LOOSE = (about, chain, signatures, responses)
"""The tables whose rows have no link of their own; an attempt's row holds its responses."""

KEPT = {name: table for name, table in TABLES.tables.items() if table not in LOOSE}
