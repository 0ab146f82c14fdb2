"""Checks and practice cases as data: every answer's reply is worded here, before.

The key travels with the question, folded: this is practice, not an exam.
"""

from __future__ import annotations

from typing import Any

from squatlab import faults, lessons
from squatlab.offline.stored import EVERY, Pieces, Stored, clip_piece, sentences_of
from squatlab.questions import practice_checks
from squatlab.questions.asking import TRIES, Asking
from squatlab.questions.blueprint import cell
from squatlab.questions.cases import case
from squatlab.questions.kinds import CALLS
from squatlab.questions.question import VIEWS, Check
from squatlab.questions.typed_numbers import alike
from squatlab.show.check_form import spec
from squatlab.show.clips import clip
from squatlab.show.practice import WATCH
from squatlab.show.practice import practice_form as practice_form_without_key

ANOTHER = 3
"""So many questions of each check a page has, one after another [teaching-value]."""

CASES = 30
"""How many practice cases a book has [teaching-value]."""

CELL = "practice"
"""The row of data/blueprint.csv that cases come from."""


def asked(name: str, seed: int) -> dict[str, Any]:
    """Return a check with the reply to every answer, at either try."""
    return with_replies(lessons.made(name, seed), TRIES)


def with_replies(check: Check, tries: int) -> dict[str, Any]:
    """Return a question with the reply to every answer, at every try.

    Marks and words are those of its kind, as a notebook gives them.
    """
    question, key = check
    sent = spec(question, key.hint) | {"solution": Asking(question, key).give_up().text}
    return sent | REPLIES[question.how.control](check, tries)


def _replies(check: Check, given: Any, tries: int) -> dict[str, Any]:
    """Return whether an answer is right, and what is said to it at each try."""
    asking = Asking(*check, tries=tries)
    first = asking.answer(given)
    if first.right:
        # A right answer is told the same whenever it comes.
        return {"right": True, "tries": [first.text] * tries}
    later = [asking.answer(given) for _ in range(1, tries)]
    return {"right": False, "tries": [feedback.text for feedback in (first, *later)]}


def _to_each_option(check: Check, tries: int) -> dict[str, Any]:
    """Return the options of which one is right, each with its replies."""
    question = check.question
    options = zip(spec(question)["options"], question.options, strict=True)
    return {"options": [sent | _replies(check, option, tries) for sent, option in options]}


def _to_every_call(check: Check, tries: int) -> dict[str, Any]:
    """Return what calling each option comes to: sets of them are too many to be worded."""
    if tries != 1:
        raise ValueError(f"the book asks for several options in one try; {tries} are asked for")
    question, key = check
    options = []
    for sent, option in zip(spec(question)["options"], question.options, strict=True):
        replies = {
            "name": question.called(option),
            "called": key.how.call(key, option, True)._asdict(),
            "left": key.how.call(key, option, False)._asdict(),
        }
        options.append(sent | replies)
    return {
        "options": options,
        "calls": [call.words for call in CALLS if call.words],
        "refused": key.how.refused(question, key, []),
        "why": key.why,
    }


def _to_numbers(check: Check, tries: int) -> dict[str, Any]:
    """Return the replies to the right number and to usual slips.

    Between slips there is no end of wrong numbers: these are told on which
    side they are.
    """
    question, key = check
    solution = Asking(question, key).give_up().text
    again = f"{key.hint} Try once more."
    wrong = {}
    for side in ("much", "little"):
        which = f"That is too {side}."
        wrong[side] = [f"{which} {again}"] * (tries - 1) + [f"{which} {solution}"]
    number = {
        "unit": question.unit,
        "answer": key.answer,
        "tolerance": key.tolerance,
        "units": alike(question.unit),
        "right": _replies(check, key.answer, tries)["tries"],
        "slips": [{"to": slip.to, **_replies(check, slip.to, tries)} for slip in key.replies],
        "wrong": wrong,
    }
    return {"number": number}


REPLIES = {"one": _to_each_option, "several": _to_every_call, "number": _to_numbers}
"""How the replies to a question are kept, by its control."""


def asked_in_turn(name: str, seed: int) -> list[dict[str, Any]]:
    """Return the questions of a check that a page asks, no two of one text."""
    by_text: dict[str, dict[str, Any]] = {}
    while len(by_text) < ANOTHER:
        question = asked(name, seed)
        by_text.setdefault(question["text"], question)
        seed += 1
    return list(by_text.values())


def practice_form() -> Stored:
    """Return what all practice cases share, with the replies to every cue."""
    form = practice_form_without_key() | {"kind": "practice", "most": CASES, "watch": WATCH}
    form["cues"] = {
        fault: with_replies(practice_checks.cue_check(fault), practice_checks.TRIES)
        for fault in form["cues"]
    }
    return Stored(form, [])


def practice_case(seed: int) -> Stored:
    """Return one case: its clip, and the replies to every answer."""
    shown, pieces = case(cell(CELL), seed), Pieces()
    blind = clip(shown.rep, blind=True).shown
    answer = clip(shown.rep, findings=shown.findings, lines=True)
    film = clip_piece(answer, pieces)
    # After the answer the clip stands where the first fault shows most, in its view; without
    # a fault at the lowest point.
    first = shown.ranking.first
    frame, view = shown.rep.bottom, blind["narrow"]
    if first:
        frame = first.finding.worst or frame
        fault_view = faults.fault(first.fault).view
        view = fault_view if fault_view in VIEWS else view
    head = {
        "kind": "case",
        "lifter": shown.lifter,
        "film": film,
        # The same film before the answer, without what gives it away.
        "blind": {
            "sentences": sentences_of(blind),
            "measured": False,
            "marks": [],
            "narrow": blind["narrow"],
        },
        "frame": frame // EVERY,
        "view": view,
        "spot": with_replies(practice_checks.spot_check(shown), practice_checks.TRIES),
        "first": with_replies(practice_checks.first_check(shown), practice_checks.TRIES),
        "stop": practice_checks.stop_rule(shown),
        "reasons": practice_checks.reasons(shown),
    }
    return pieces.stored(head)
