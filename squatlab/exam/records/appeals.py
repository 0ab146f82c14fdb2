"""An appeal: marked again from the stored answers, with who and why."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from squatlab.exam.records import chain, tables
from squatlab.exam.records.attempts import Decision, answered, latest, settle, stored
from squatlab.exam.records.book import Records, RecordsError


def appeal(
    records: Records, attempt: int, marker: Callable[[dict[str, Any]], float], by: str, why: str
) -> Decision:
    """Mark an attempt again and decide anew; the first result stays readable.

    ``marker`` takes the stored answers by item and returns the score.
    Raises RecordsError without a name and a reason, or if what is stored
    was altered.
    """
    if not by.strip() or not why.strip():
        raise RecordsError("an appeal needs who decides it (by) and the reason (why)")
    with records.writing() as connection:
        row = stored(connection, attempt)
        given = answered(connection, row)
        standing = latest(connection, attempt)
        before = standing.score if standing else row["score"]
        after = float(marker({one.item: json.loads(one.answer) for one in given}))
        number = chain.append(
            connection, tables.appeals,
            attempt=attempt, by=by, why=why, before=before, after=after, at=records.now,
        )  # fmt: skip
        return settle(connection, records, row, after, by, f"appeal, row {number}: {why}")
