"""Checks and practice cases as data: every answer's reply is worded here, before.

The key travels with the question, folded: this is practice, not an exam.
"""

from __future__ import annotations

from typing import Any

from squatlab import faults, lessons
from squatlab.offline.stored import EVERY, Pieces, Stored, clip_piece, sentence_of
from squatlab.questions.asking import Asking
from squatlab.questions.blueprint import cell
from squatlab.questions.cases import case
from squatlab.questions.kinds import NOTHING
from squatlab.questions.practice_progress import difficulty
from squatlab.questions.question import VIEWS
from squatlab.questions.typed_numbers import alike
from squatlab.show.check_form import spec
from squatlab.show.clips import clip
from squatlab.show.practice import cues_in_order
from squatlab.show.practice import practice_form as practice_form_without_key

ANOTHER = 3
"""So many questions of each check a page has, one after another [teaching-value]."""

CASES = 30
"""How many practice cases a book has [teaching-value]."""

CELL = "practice"
"""The row of data/blueprint.csv that cases come from."""


def asked(name: str, seed: int) -> dict[str, Any]:
    """Return a check with the reply to every answer, at either try."""
    question, key = lessons.made(name, seed)

    def replies(given: Any) -> dict[str, Any]:
        tries = Asking(question, key)
        first = tries.answer(given)
        if first.right:
            return {"right": True, "first": first.text, "second": first.text}
        return {"right": False, "first": first.text, "second": tries.answer(given).text}

    sent = spec(Asking(question, key)) | {"solution": Asking(question, key).give_up().text}
    if question.options:
        sent["options"] = [option | replies(option["words"]) for option in sent["options"]]
        return sent
    # Between slips there is no end of wrong numbers: these are told on which side they are.
    solution = sent["solution"]
    wrong = {
        side: {
            "first": f"That is too {side}. {key.hint} Try once more.",
            "second": f"That is too {side}. {solution}",
        }
        for side in ("much", "little")
    }
    sent["number"] = {
        "unit": question.unit,
        "answer": key.answer,
        "tolerance": key.tolerance,
        "units": alike(question.unit),
        "right": replies(key.answer)["first"],
        "slips": [{"to": reply.to, **replies(reply.to)} for reply in key.replies],
        "wrong": wrong,
    }
    return sent


def asked_in_turn(name: str, seed: int) -> list[dict[str, Any]]:
    """Return the questions of a check that a page asks, no two of one text."""
    questions: dict[str, dict[str, Any]] = {}
    while len(questions) < ANOTHER:
        one = asked(name, seed)
        questions.setdefault(one["text"], one)
        seed += 1
    return list(questions.values())


def practice_form() -> Stored:
    """Return what all practice cases share: faults by tier, and the cues of each."""
    form = practice_form_without_key() | {"kind": "practice", "most": CASES}
    form["cues"] = {
        fault: [
            {"words": cue.words, "fits": cue.accepted, "why": cue.why}
            for cue in cues_in_order(fault)
        ]
        for fault in form["cues"]
    }
    return Stored(form, [])


def practice_case(seed: int) -> Stored:
    """Return one case: its clip, what is there, and what is measured."""
    shown, pieces = case(cell(CELL), seed), Pieces()
    blind = clip(shown.rep, blind=True).shown
    answer = clip(shown.rep, findings=shown.findings, lines=True)
    film = clip_piece(answer, pieces)
    first = shown.ranking.first
    worst = (first and first.finding.worst) or shown.rep.bottom
    seen = faults.fault(first.fault).view if first else ""
    head = {
        "kind": "case",
        "lifter": shown.lifter,
        "film": film,
        # The same film before the answer, without what gives it away.
        "blind": {
            "sentence": sentence_of(blind),
            "measured": False,
            "marks": [],
            "narrow": blind["narrow"],
        },
        "frame": worst // EVERY,
        "view": seen if seen in VIEWS else blind["narrow"],
        "there": list(shown.there) or [NOTHING],
        "first": shown.first,
        "stop": "The set is stopped and unloaded before any coaching."
        if shown.ranking.stop
        else "",
        "why": f"Why: {shown.why}",
        "measured": shown.readings,
        "hard": f"A case that is {difficulty(shown.margin)} to judge: a change of "
        f"{shown.margin:.1f} in severity would alter the answer.",
    }
    return pieces.stored(head)
