"""An appeal: marked again from the stored answers, with who and why."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from squatlab.exam.records import chain, tables
from squatlab.exam.records.attempts import Decision, answered, latest, settle, stored
from squatlab.exam.records.book import Records, RecordsError
from squatlab.exam.records.decisions import due


def appeal(
    records: Records, attempt: int, marker: Callable[[dict[str, Any]], float], by: str, why: str
) -> Decision:
    """Mark an attempt again and decide anew; the first result stays readable.

    ``marker`` takes the stored answers by item and returns the score;
    items that a ruling credits are added. What it accepts is recorded.
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
        answers = {one.item: json.loads(one.answer) for one in given}
        after = float(marker(answers))
        # Accepted is what the key has wrong, and without which the score would be less.
        wrong = [one.item for one in given if one.mark < 1]
        accepted = [item for item in wrong if marker(answers | {item: None}) < after]
        after += len(due(connection, row, {*answers} - {*wrong} | {*accepted}))
        number = chain.append(
            connection, tables.appeals,
            attempt=attempt, by=by, why=why, before=before, after=after, at=records.now,
        )  # fmt: skip
        for item in accepted:
            chain.append(connection, tables.accepted, appeal=number, item=item, at=records.now)
        return settle(connection, records, row, after, by, f"appeal, row {number}: {why}")
