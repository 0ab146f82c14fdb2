"""The chain that makes an altered past show: every row holds on to the one before.

A link's hash is the SHA-256 of the link before, of who wrote the row and
when, and of the row's canonical JSON. So a row cannot change without its
link, nor a link without the next.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
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


class NotedHead(NamedTuple):
    """Hold an end of the chain that somebody noted outside the records."""

    number: int
    hash: str

    @classmethod
    def read(cls, note: str) -> NotedHead:
        """Read a note as it was printed. Raises RecordsError for what is none.

        A note that is not understood must not pass: it would be compared
        with nothing, and the records would seem unaltered.
        """
        match = re.fullmatch(r"(0:)|([1-9]\d{0,9}):([0-9a-f]{64})", note.strip())
        if match is None:
            raise RecordsError(
                f"the head noted is “{files.harmless(note, 80)}”; give the number and the 64 "
                "digits as they were printed, such as 21:5f3c…"
            )
        return cls(0, "") if match[1] else cls(int(match[2]), match[3])


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


class Response(NamedTuple):
    """Hold one stored answer (canonical JSON), its mark, and whether it certifies."""

    item: str
    answer: str
    mark: float
    certifies: bool


def of_responses(responses: Iterable[Response]) -> str:
    """Return the fingerprint of an attempt's responses, in any order."""
    return files.fingerprint(sorted(responses))


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


def verify(connection: Connection, noted: NotedHead | None = None) -> tuple[str, ...]:
    """Return what does not fit, in words, in the order of the chain.

    ``noted`` is a head from outside: what was cut off behind it shows.
    """
    links = connection.execute(select(schema.chain).order_by(schema.chain.c.number)).mappings()
    rows_of = {
        name: {row["number"]: row for row in connection.execute(select(table)).mappings()}
        for name, table in schema.KEPT.items()
    }
    fingerprints = _fingerprints_of_responses(connection)
    words: list[str] = []
    before = Last(0, "", "")
    for link in links:
        number, kind = link["number"], link["kind"]
        words += [f"link {n} of the chain was removed" for n in range(before.number + 1, number)]
        # Taken out of the rows: those that are left at the end have no link.
        row = rows_of.get(kind, {}).pop(number, None)
        words += _verify_row(link, row, fingerprints.pop(number, ""))
        words += _verify_link(link, before)
        if noted and number == noted.number and link["hash"] != noted.hash:
            words.append(f"row {number} is not the one that was noted as {number}:{noted.hash}")
        before = Last(number, link["hash"], link["at"])
    if noted and before.number < noted.number:
        words.append(
            f"the records end at row {before.number}; all from there to row {noted.number} was "
            "cut off"
        )
    for kind, rows_without_link in rows_of.items():
        for row in rows_without_link.values():
            words.append(f"{name_of(kind, row)}, was put in past the chain")
    words += [f"responses of an attempt {n}, which is none, were put in" for n in fingerprints]
    return tuple(words)


def _verify_row(
    link: Mapping[str, Any], row: Mapping[str, Any] | None, responses: str
) -> Iterator[str]:
    """Yield what is wrong with the row of a link.

    ``responses`` is the fingerprint of an attempt's, as they are stored now.
    """
    kind = link["kind"]
    if row is None:
        yield f"{kind}, row {link['number']}, was removed"
    elif hash_of(link, row) != link["hash"]:
        yield f"{name_of(kind, row)}, was altered"
    elif kind == schema.attempts.name and responses != row["responses"]:
        yield f"{name_of(kind, row)}: its responses were altered"


def _verify_link(link: Mapping[str, Any], before: Last) -> Iterator[str]:
    """Yield where a link does not follow from the one before it."""
    name = f"{link['kind']}, row {link['number']}"
    if link["previous"] != before.hash:
        yield f"{name}, no longer follows the row before it"
    if not link["by"].strip():
        yield f"{name}, says nobody who wrote it"
    if link["at"] < before.at:
        yield f"{name}, is earlier than the row before it"


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


def _fingerprints_of_responses(connection: Connection) -> dict[int, str]:
    """Return the fingerprint of the responses of each attempt, by its number."""
    table = schema.responses
    responses = connection.execute(select(table).order_by(table.c.attempt))
    return {
        attempt: of_responses(
            Response(row.item, row.answer, row.mark, row.certifies) for row in rows_of_attempt
        )
        for attempt, rows_of_attempt in groupby(responses, key=lambda row: row.attempt)
    }
