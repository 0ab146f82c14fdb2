"""Records of exams: kept in a signed chain, so that an altered past shows."""

from __future__ import annotations

from squatlab.exam.records.certificates import (
    Certificate,
    change,
    check,
    grounds,
    issue,
    public_list,
)
from squatlab.exam.records.chain import RecordsError
from squatlab.exam.records.coaches import enrol_coach, opinions, record_review
from squatlab.exam.records.decisions import (
    Attempt,
    Decision,
    Ruling,
    appeal,
    changes,
    credited,
    decide,
    record,
    record_all,
    rule,
)
from squatlab.exam.records.hand_ins import (
    HandIn,
    absent,
    hand_ins,
    let_stand,
    receive,
    receive_sheets,
    standing,
)
from squatlab.exam.records.keeping import copy, due_to_forget, forget, note_output
from squatlab.exam.records.ledger import Head, Records, RecordsUnwritten, place
from squatlab.exam.records.openings import (
    Opening,
    RetakeRule,
    Slip,
    incidents,
    known_by,
    note_incident,
    open_form,
    openings,
    slips,
)
from squatlab.exam.records.readings import Standing, gradebook, sheets, standings

__all__ = [
    "Attempt",
    "Certificate",
    "Decision",
    "HandIn",
    "Head",
    "Opening",
    "Records",
    "RecordsError",
    "RecordsUnwritten",
    "RetakeRule",
    "Ruling",
    "Slip",
    "Standing",
    "absent",
    "appeal",
    "change",
    "changes",
    "check",
    "copy",
    "credited",
    "decide",
    "due_to_forget",
    "enrol_coach",
    "forget",
    "gradebook",
    "grounds",
    "hand_ins",
    "incidents",
    "issue",
    "known_by",
    "let_stand",
    "note_incident",
    "note_output",
    "open_form",
    "openings",
    "opinions",
    "place",
    "public_list",
    "receive",
    "receive_sheets",
    "record",
    "record_all",
    "record_review",
    "rule",
    "sheets",
    "slips",
    "standing",
    "standings",
]
