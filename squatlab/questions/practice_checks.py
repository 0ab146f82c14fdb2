"""What practice asks of every lift: what is there, what is fixed first, what is said.

Three questions with their keys, asked and marked as every other check is. A
screen and a page of the book show them; neither marks anything itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import NamedTuple

from squatlab import faults
from squatlab.questions import item_bank
from squatlab.questions.asking import Asking, Feedback
from squatlab.questions.cases import Case
from squatlab.questions.items import worded
from squatlab.questions.kinds import NOTHING
from squatlab.questions.practice_progress import LABELS, Answered, difficulty
from squatlab.questions.question import Check, Key, Question, Reply
from squatlab.questions.real_cases import RealCase

TRIES = 1
"""How often one answers: the next case comes at once [teaching-value]."""

WITHOUT_SPOT = f"Not marked yet: tick what you see, or “{worded(NOTHING)}”."
WITHOUT_CUE = "Not marked yet: choose the one to fix first, and what you say."

WORDS = tuple(map(worded, LABELS))

SPOT = Question("practice-spot", "spot", "What do you see?", LABELS, words=WORDS)
FIRST = Question("practice-first", "first", "Fix first", LABELS, words=WORDS)
"""What is asked is the same of every lift; keys differ."""


def spot_check(case: Case | RealCase) -> Check:
    """Return the question what is there, nothing to fix among the options."""
    return Check(SPOT, Key(SPOT.kind, case.there or (NOTHING,), options=LABELS))


def first_check(case: Case | RealCase) -> Check:
    """Return the question what is fixed first, with a reply to every wrong answer."""
    replies = tuple(
        Reply(label, why_not_first(case, label)) for label in LABELS if label != case.first
    )
    return Check(FIRST, Key(FIRST.kind, case.first, options=LABELS, replies=replies))


def why_not_first(case: Case | RealCase, label: str) -> str:
    """Return what is said to a wrong label fixed first; '' for nothing to fix."""
    if label == NOTHING:
        return ""
    if label in case.there:
        return "It is there, but it is not where to start."
    finding = case.findings[label]
    if finding.present == "no":
        return f"It is not there: {finding.amount}, less than slight."
    return "It is not there."


@cache
def cue_check(fault: str) -> Check:
    """Return the question what one says about a fault; ValueError for no fault.

    Cues go by their words, so that the place says nothing about what fits.
    """
    cues = sorted(item_bank.cues(fault), key=lambda cue: cue.words)
    words = tuple(cue.words for cue in cues)
    fit = tuple(cue.words for cue in cues if cue.accepted)
    replies = tuple(Reply(cue.words, cue.why) for cue in cues)
    question = Question(f"practice-cue-{fault}", "cue", "Say", words, words=words)
    return Check(question, Key("cue", fit, options=words, replies=replies))


class Judgement(NamedTuple):
    """Hold an answer to a case: what was ticked, what is fixed first, what is said."""

    ticked: tuple[str, ...]
    first: str
    cue: str | None


def judgement(ticked: Sequence[str] | None, first: str | None, cue: str | None) -> Judgement:
    """Return an answer to a case; "nothing to fix" asks for no more.

    Raises ValueError that says what is missing, or what goes with nothing.
    """
    if not ticked:
        raise ValueError(WITHOUT_SPOT)
    in_order = tuple(label for label in LABELS if label in ticked)
    if in_order == (NOTHING,):
        return Judgement(in_order, NOTHING, None)
    if first is None or cue is None:
        raise ValueError(WITHOUT_CUE)
    if first not in ticked:
        raise ValueError("What is fixed first is one of what you ticked.")
    return Judgement(in_order, first, cue)


class Marked(NamedTuple):
    """Hold what is said to each answer; ``cue`` is None where none was asked."""

    spot: Feedback
    first: Feedback
    cue: Feedback | None


def marked(case: Case | RealCase, given: Judgement) -> Marked:
    """Mark an answer to a case; ValueError for what it does not offer."""
    return Marked(
        _once(spot_check(case), list(given.ticked)),
        _once(first_check(case), given.first),
        None if given.cue is None else _once(cue_check(given.first), given.cue),
    )


def _once(check: Check, given: str | list[str]) -> Feedback:
    """Return what is said to the one answer of a check; ValueError for what it does not offer."""
    feedback = Asking(*check, tries=TRIES).answer(given)
    if feedback.right is None:
        raise ValueError(feedback.text)
    return feedback


def answered(case: Case | RealCase, given: Judgement, marks: Marked) -> Answered:
    """Return an answer as progress keeps it."""
    return Answered(
        case.reference,
        case.first,
        given.first,
        case.there or (NOTHING,),
        given.ticked,
        marks.cue and marks.cue.right,
        case.margin,
    )


def stop_rule(case: Case | RealCase) -> str:
    """Return what comes before any coaching of a case, or ""."""
    return "The set is stopped and unloaded before any coaching." if case.ranking.stop else ""


def reasons(case: Case | RealCase) -> list[str]:
    """Return why the answer is what it is, line by line: order, readings, how hard."""
    lines = [f"Why: {case.why}", *case.readings]
    if case.margin is not None:
        lines.append(
            f"A case that is {difficulty(case.margin)} to judge: a change of "
            f"{case.margin:.1f} in severity would alter the answer."
        )
    return lines


def tiers() -> dict[str, str]:
    """Return the words under which each label is listed."""
    listed = {one.id: f"{one.tier} {faults.TIERS[one.tier]}" for one in faults.catalogue().values()}
    return listed | {NOTHING: "none of these"}
