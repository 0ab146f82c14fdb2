"""Records kept: copied and restored, what left them noted, people forgotten."""

from __future__ import annotations

import hashlib
from datetime import datetime, timedelta
from pathlib import Path
from typing import NamedTuple

from sqlalchemy import insert, select

from squatlab import storage
from squatlab.exam.records import chain, schema
from squatlab.exam.records.chain import RecordsError
from squatlab.exam.records.ledger import Head, Records
from squatlab.exam.records.openings import policy_of
from squatlab.questions import files
from squatlab.spreadsheet import read_rows, without_rows

STAYS = (
    "What stays, under the id that now stands for nobody: answers, marks, decisions, certificates "
    "and who decided. They prove what was decided, and the chain of the records would break "
    "without them."
)


ROWS_AT_ONCE = 500
"""Rows of a copy that are written by one statement."""


class Copy(NamedTuple):
    """Hold where a copy is, and where its chain ends: as the original's did."""

    where: str
    head: str


def note_output(
    records: Records, what: str, subject: str, content: str | bytes, details: str = ""
) -> int:
    """Record that something left: a badge, an export, a panel's cut.

    ``subject`` names what it is of; of the ``content`` the fingerprint is
    kept, by which a file can be known again.
    """
    raw = content.encode() if isinstance(content, str) else content
    with records.writing() as step:
        return step.append(
            schema.outputs,
            what=what,
            of=files.harmless(subject, 64),
            fingerprint=hashlib.sha256(raw).hexdigest(),
            details=details,
        )


def copy(records: Records, where: str | Path) -> Copy:
    """Copy the records whole to a new file or an empty database, and check the copy.

    From a copy, this restores. Nothing is copied over: records that were
    written to since would be lost. Raises RecordsError if there are rows in
    that place, if the original was altered, or if the copy is not the same.
    """
    if faults := records.verify():
        raise RecordsError(f"{records.name} was altered, so it is not copied: {faults[0]}")
    if "://" not in str(where) and Path(where).exists():
        raise RecordsError(f"{where} is there already: copy to a new file")
    target = Records(where)
    try:
        with records.reading() as source, target.alone() as into:
            if chain.last(into).number:
                raise RecordsError(f"{target.name} holds records already: copy to an empty place")
            # In an order in which what a row refers to is there before it.
            for table in schema.TABLES.sorted_tables:
                rows = [dict(row) for row in source.execute(select(table)).mappings()]
                into.execute(table.delete())  # the version, which the new place has already
                for start in range(0, len(rows), ROWS_AT_ONCE):
                    into.execute(insert(table), rows[start : start + ROWS_AT_ONCE])
            last = chain.last(source)
            head = Head(last.number, last.hash).note
        if target.head() != head or (faults := target.verify(head)):
            raise RecordsError(f"{target.name} is no good copy, do not use it: {faults}")
    finally:
        target.close()
    return Copy(target.name, head)


def forget(records: Records, candidate: str, names: str | Path, why: str, by: str = "") -> str:
    """Destroy the line that says who a candidate is; return what stays and why.

    ``names`` is the certifier's own list, CSV with the columns candidate
    and name: the one place where an id and a person meet. The records
    themselves hold no names. Raises RecordsError without a reason, or if
    the list does not have the candidate.
    """
    if not why.strip():
        raise RecordsError("to forget somebody needs the reason (why), such as: asked to be")
    path = Path(names)
    with records.writing(by) as step:
        # The list is read within the step: of two who forget somebody at once, the second reads
        # what the first has written, and brings no name back.
        rows = read_rows(path, ("candidate", "name"), ("note",))
        numbers = {number for number, row in rows if row["candidate"] == candidate}
        if not numbers:
            raise RecordsError(
                f"{path.name} has no candidate {candidate}: there is no name to destroy"
            )
        if not chain.rows(step.connection, schema.candidates, id=candidate):
            step.append(schema.candidates, id=candidate)
        step.append(schema.forgotten, candidate=candidate, why=why)
        # Last: if the list cannot be written, the step is undone, and no row says that a name is
        # gone which is still there.
        files.write_whole(path, without_rows(path, numbers), mode=storage.OWNER_ONLY)
    return STAYS


def due_to_forget(records: Records) -> tuple[str, ...]:
    """Return whose names have been kept as long as the policies of their forms say.

    Counted from every opening, hand-in and end of a certificate; the latest
    end counts.
    """
    with records.reading() as connection:
        forgotten = {row["candidate"] for row in chain.rows(connection, schema.forgotten)}
        days = {
            row["id"]: timedelta(days=policy_of(connection, row["id"]).retention_days)
            for row in chain.rows(connection, schema.forms)
        }
        attempts = {row["number"]: row for row in chain.rows(connection, schema.attempts)}
        kept_from = [
            *((row, row["at"]) for row in chain.rows(connection, schema.openings)),
            *((row, row["handed_in"]) for row in attempts.values()),
            *(
                (attempts[row["attempt"]], row["until"])
                for row in chain.rows(connection, schema.certificates)
            ),
        ]
    now = datetime.fromisoformat(records.now)
    due: dict[str, bool] = {}
    for row, moment in kept_from:
        is_over = datetime.fromisoformat(moment) + days[row["form"]] < now
        due[row["candidate"]] = due.get(row["candidate"], True) and is_over
    return tuple(sorted(who for who, is_due in due.items() if is_due and who not in forgotten))
