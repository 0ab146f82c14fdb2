"""The chain that makes an altered past show: every row holds on to the one before.

A link's hash is the SHA-256 of the link before and of the row's canonical
JSON, so a row cannot change without its link, nor a link without the next.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import groupby
from typing import Any

from sqlalchemy import Connection, Table, insert, select

from squatlab.exam.records import tables
from squatlab.questions import files


def last(connection: Connection) -> tuple[int, str]:
    """Return number and hash of the last link; 0 and "" before the first."""
    links = select(tables.chain.c.number, tables.chain.c.hash)
    found = connection.execute(links.order_by(tables.chain.c.number.desc()).limit(1)).first()
    return tuple(found) if found else (0, "")


def append(connection: Connection, table: Table, **row: Any) -> int:
    """Add a row to a kept table with its link; return its number."""
    before, previous = last(connection)
    row["number"] = before + 1
    link = {"number": before + 1, "kind": table.name, "previous": previous}
    connection.execute(insert(tables.chain), link | {"hash": _hash(link, row)})
    connection.execute(insert(table), row)
    return before + 1


def of_responses(rows: list[tuple[str, str, float]]) -> str:
    """Return the fingerprint of responses (item, answer, mark), in any order."""
    return files.fingerprint(sorted(map(list, rows)))


def intact(connection: Connection, table: Table, row: Mapping[str, Any]) -> bool:
    """Return whether one row still fits its own link in the chain."""
    link = select(tables.chain).where(tables.chain.c.number == row["number"])
    found = connection.execute(link).mappings().first()
    return bool(found) and found["kind"] == table.name and _hash(found, row) == found["hash"]


def verify(connection: Connection, head: str) -> tuple[str, ...]:
    """Return what does not fit, in words, in the order of the chain."""
    links = connection.execute(select(tables.chain).order_by(tables.chain.c.number)).mappings()
    rows = {
        name: {row["number"]: row for row in connection.execute(select(table)).mappings()}
        for name, table in tables.KEPT.items()
    }
    answered = _answered(connection)
    words, previous, number = [], "", 0
    noted, _, noted_hash = head.partition(":")
    for link in links:
        words += [f"link {n} of the chain was removed" for n in range(number + 1, link["number"])]
        number, kind = link["number"], link["kind"]
        row = rows.get(kind, {}).pop(number, None)
        if row is None:
            words.append(f"{kind}, row {number}, was removed")
        elif _hash(link, row) != link["hash"]:
            words.append(f"{_name(kind, row)}, was altered")
        elif kind == "attempts" and answered.get(number) != row["responses"]:
            words.append(f"{_name(kind, row)}: its responses were altered")
        if link["previous"] != previous:
            words.append(f"{kind}, row {number}, no longer follows the row before it")
        if str(number) == noted and link["hash"] != noted_hash:
            words.append(f"row {number} is not the one that was noted as {head}")
        previous = link["hash"]
    if noted and number < int(noted):
        words.append(f"the records end at row {number}; all from there to row {noted} was cut off")
    for kind, left in rows.items():
        words += [f"{_name(kind, row)}, was put in past the chain" for row in left.values()]
    return tuple(words)


def _hash(link: Mapping[str, Any], row: Mapping[str, Any]) -> str:
    return files.fingerprint([link["number"], link["kind"], link["previous"], dict(row)])


def _name(kind: str, row: Mapping[str, Any]) -> str:
    names = ("candidate", "coach", "form", "item", "id", "code")
    who = [str(row[name]) for name in names if name in row]
    return f"{kind}, row {row['number']}" + (f" ({', '.join(who)})" if who else "")


def _answered(connection: Connection) -> dict[int, str]:
    table = tables.responses
    rows = connection.execute(select(table).order_by(table.c.attempt))
    return {
        attempt: of_responses([tuple(row)[1:] for row in group])
        for attempt, group in groupby(rows, key=lambda row: row.attempt)
    }
