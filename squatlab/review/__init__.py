"""From tracks to findings to the one thing to fix first; knows no truth."""

from __future__ import annotations

from squatlab.review.causes import Cause
from squatlab.review.disturbances import ErrorModel
from squatlab.review.errors import ReviewError
from squatlab.review.findings import Finding, Findings
from squatlab.review.judging import measure
from squatlab.review.priority import Place, Ranking, policies, prioritise

__all__ = [
    "Cause",
    "ErrorModel",
    "Finding",
    "Findings",
    "Place",
    "Ranking",
    "ReviewError",
    "measure",
    "policies",
    "prioritise",
]
