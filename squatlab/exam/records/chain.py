"""The chain that makes an altered past show: every row holds on to the one before.

A link's hash is the SHA-256 of the link before, of who wrote the row and
when, and of the row's canonical JSON. So a row cannot change without its
link, nor a link without the next.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import groupby
from typing import Any, NamedTuple

from sqlalchemy import Connection, Float, Table, insert, select

from squatlab.exam.records import schema
from squatlab.questions import files


class RecordsError(ValueError):
    """Say what must not be recorded, why, and what to do next."""


class Last(NamedTuple):
    """Hold the last link: its number, hash and time; 0, "" and "" for none."""

    number: int
    hash: str
    at: str


def last(connection: Connection) -> Last:
    """Return the last link of the chain."""
    columns = schema.chain.c
    newest = select(columns.number, columns.hash, columns.at).order_by(columns.number.desc())
    row = connection.execute(newest.limit(1)).first()
    return Last(*row) if row else Last(0, "", "")


def append(connection: Connection, table: Table, by: str, at: str, **row: Any) -> int:
    """Add a row to a kept table with its link; return its number."""
    before = last(connection)
    row["number"] = before.number + 1
    for name, value in row.items():
        # 60 and 60.0 would not hash alike, and a database gives back 60.0.
        if value is not None and isinstance(table.c[name].type, Float):
            row[name] = float(value)
    link = {
        "number": row["number"],
        "kind": table.name,
        "by": by,
        "at": at,
        "previous": before.hash,
    }
    connection.execute(insert(schema.chain), link | {"hash": hash_of(link, row)})
    connection.execute(insert(table), row)
    return row["number"]


def of_responses(rows: list[tuple[str, str, float, bool]]) -> str:
    """Return the fingerprint of responses, in any order.

    A response is (item, answer, mark, certifies).
    """
    return files.fingerprint(sorted(map(list, rows)))


def rows(connection: Connection, table: Table, **where: Any) -> list[dict[str, Any]]:
    """Return the rows that fit, oldest first, with ``by`` and ``at`` of their links.

    Raises RecordsError for a row that no longer fits its link.
    """
    link = schema.chain
    columns = (*table.c, link.c.kind, link.c.by, link.c.at, link.c.previous, link.c.hash)
    joined = select(*columns).join(link, link.c.number == table.c.number, isouter=True)
    for name, value in where.items():
        joined = joined.where(table.c[name] == value)
    intact = []
    for row in connection.execute(joined.order_by(table.c.number)).mappings():
        body = {column.name: row[column.name] for column in table.c}
        if row["kind"] != table.name or hash_of(row, body) != row["hash"]:
            raise RecordsError(
                f"{name_of(table.name, body)}, was altered: restore the records from a copy"
            )
        intact.append(body | {"by": row["by"], "at": row["at"]})
    return intact


def newest(connection: Connection, table: Table, **where: Any) -> dict[str, Any] | None:
    """Return the last row that fits, None for none; RecordsError if one was altered."""
    fitting = rows(connection, table, **where)
    return fitting[-1] if fitting else None


def verify(connection: Connection, head: str = "") -> tuple[str, ...]:
    """Return what does not fit, in words, in the order of the chain."""
    links = connection.execute(select(schema.chain).order_by(schema.chain.c.number)).mappings()
    stored = {
        name: {row["number"]: row for row in connection.execute(select(table)).mappings()}
        for name, table in schema.KEPT.items()
    }
    answered = _answered(connection)
    words, previous, number, time = [], "", 0, ""
    noted, noted_hash = (*head.split(":"), "", "")[:2]
    for link in links:
        words += [f"link {n} of the chain was removed" for n in range(number + 1, link["number"])]
        number, kind = link["number"], link["kind"]
        row = stored.get(kind, {}).pop(number, None)
        responses = answered.pop(number, "")
        if row is None:
            words.append(f"{kind}, row {number}, was removed")
        elif hash_of(link, row) != link["hash"]:
            words.append(f"{name_of(kind, row)}, was altered")
        elif kind == "attempts" and responses != row["responses"]:
            words.append(f"{name_of(kind, row)}: its responses were altered")
        if link["previous"] != previous:
            words.append(f"{kind}, row {number}, no longer follows the row before it")
        if not link["by"].strip():
            words.append(f"{kind}, row {number}, says nobody who wrote it")
        if link["at"] < time:
            words.append(f"{kind}, row {number}, is earlier than the row before it")
        if str(number) == noted and link["hash"] != noted_hash:
            words.append(f"row {number} is not the one that was noted as {head}")
        previous, time = link["hash"], link["at"]
    if noted and number < int(noted):
        words.append(f"the records end at row {number}; all from there to row {noted} was cut off")
    for kind, left in stored.items():
        words += [f"{name_of(kind, row)}, was put in past the chain" for row in left.values()]
    words += [f"responses of an attempt {n}, which is none, were put in" for n in answered]
    return tuple(words)


def hash_of(link: Mapping[str, Any], row: Mapping[str, Any]) -> str:
    """Return the hash that a link has to hold for its row.

    Empty columns are no part of it: a later version of the tables may add
    columns, and the rows of before still fit.
    """
    body = {name: value for name, value in row.items() if value is not None}
    head = [link[name] for name in ("number", "kind", "by", "at", "previous")]
    return files.fingerprint([*head, body])


def name_of(kind: str, row: Mapping[str, Any]) -> str:
    """Return a row's name in words: its table, number, and whom it is about."""
    names = ("candidate", "coach", "form", "item", "id")
    if kind in ("certificates", "names"):
        names = ("code",)
    who = [str(row[name]) for name in names if name in row]
    return f"{kind}, row {row['number']}" + (f" ({', '.join(who)})" if who else "")


def _answered(connection: Connection) -> dict[int, str]:
    """Return the fingerprint of the responses of each attempt, by its number."""
    table = schema.responses
    responses = connection.execute(select(table).order_by(table.c.attempt))
    return {
        attempt: of_responses([tuple(row)[1:] for row in group])
        for attempt, group in groupby(responses, key=lambda row: row.attempt)
    }
