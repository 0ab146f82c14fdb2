"""Records of exams: kept in a chain, so that an altered past shows."""

from __future__ import annotations

from squatlab.exam.records.appeals import appeal
from squatlab.exam.records.attempts import Attempt, Decision, open_form, record, record_all
from squatlab.exam.records.book import Records, RecordsError, RecordsUnwritten, place
from squatlab.exam.records.certificates import Certificate, change, check, issue
from squatlab.exam.records.decisions import Ruling, changes, credited, decide, rule
from squatlab.exam.records.readings import (
    Standing,
    accepting,
    gradebook,
    openings,
    sheets,
    standings,
)
from squatlab.exam.records.retakes import RetakeRule
from squatlab.exam.records.reviews import opinions, record_review

__all__ = [
    "Attempt", "Certificate", "Decision", "Records", "RecordsError", "RecordsUnwritten",
    "RetakeRule", "Ruling", "Standing", "accepting", "appeal", "change", "changes", "check",
    "credited", "decide", "gradebook", "issue", "open_form", "openings", "opinions", "place",
    "record", "record_all", "record_review", "rule", "sheets", "standings",
]  # fmt: skip
