"""Checks and practice cases as data: every answer's reply is worded here, before.

The key travels with the question, folded: this is practice, not an exam.
"""

from __future__ import annotations

from typing import Any

from squatlab import faults, lessons
from squatlab.offline.stored import EVERY, Pieces, Stored, clip_piece
from squatlab.questions import item_bank
from squatlab.questions.asking import Asking
from squatlab.questions.blueprint import cell
from squatlab.questions.cases import case
from squatlab.questions.items import worded
from squatlab.questions.kinds import NOTHING
from squatlab.questions.practice_progress import difficulty
from squatlab.questions.question import Key, Question
from squatlab.questions.typed_numbers import alike
from squatlab.show.clips import clip

CASES = 30
"""How many practice cases a book has [teaching-value]."""

CELL = "practice"
"""The row of data/blueprint.csv that cases come from."""


def asked(name: str, seed: int) -> dict[str, Any]:
    """Return a check and its key with the reply to every answer, at either try.

    What `asking.js` and `folded_key.js` read.
    """
    question, key = lessons.made(name, seed)
    folded: dict[str, Any] = {
        "hint": key.hint,
        "solution": Asking(question, key).give_up().text,
    }
    if question.options:
        folded["replies"] = [_replies(question, key, option) for option in question.options]
    else:
        answers = [key.answer, *(reply.to for reply in key.replies)]
        folded["replies"] = [_replies(question, key, answer) for answer in answers]
        folded["number"] = {
            "answer": key.answer,
            "tolerance": key.tolerance,
            "units": alike(question.unit),
            "beyond": _beyond(folded),
        }
    return {
        "id": question.id,
        "text": question.text,
        "unit": question.unit,
        "options": list(question.options) or None,
        "letters": list(question.letters) if question.options else None,
        "has_hint": bool(key.hint),
        "key": folded,
    }


def _replies(question: Question, key: Key, given: Any) -> dict[str, Any]:
    """Return what is said to an answer at the first try and at the second."""
    tries = Asking(question, key)
    first = tries.answer(given)
    second = first if first.right else tries.answer(given)
    return {"to": given, "right": bool(first.right), "first": first.text, "second": second.text}


def _beyond(folded: dict[str, Any]) -> dict[str, dict[str, Any]]:
    """Return what is said to the wrong numbers that no reply was written for.

    There is no end of them: a page says only on which side they are.
    """
    return {
        side: {
            "right": False,
            "first": f"That is too {side}. {folded['hint']} Try once more.",
            "second": f"That is too {side}. {folded['solution']}",
        }
        for side in ("much", "little")
    }


def practice_form() -> Stored:
    """Return what all practice cases share: faults by tier, and the cues of each."""
    tiers = [
        {
            "words": f"{tier} {words}",
            "faults": [
                {"id": one.id, "name": one.name}
                for one in faults.catalogue().values()
                if one.tier == tier
            ],
        }
        for tier, words in faults.TIERS.items()
    ]
    # By their words, so that the place says nothing about what fits.
    cues = {
        name: [
            {"words": cue.words, "fits": cue.accepted, "why": cue.why}
            for cue in sorted(item_bank.cues(name), key=lambda cue: cue.words)
        ]
        for name in faults.catalogue()
    }
    nothing = {"id": NOTHING, "name": worded(NOTHING)}
    head = {"kind": "practice", "tiers": tiers, "nothing": nothing, "cues": cues, "cases": CASES}
    return Stored(head, [])


def practice_case(seed: int) -> Stored:
    """Return one case: its clip, what is there, and what is measured."""
    shown, pieces = case(cell(CELL), seed), Pieces()
    blind = clip(shown.rep, blind=True).shown
    answer = clip(shown.rep, findings=shown.findings, lines=True)
    film = clip_piece(answer, pieces)
    first = shown.ranking.first
    worst = (first and first.finding.worst) or shown.rep.bottom
    head = {
        "kind": "case",
        "lifter": shown.lifter,
        "film": film,
        # The same film before the answer, without what gives it away.
        "blind": {"sentence": blind["sentence"], "measured": False, "marks": []},
        "frame": worst // EVERY,
        "there": list(shown.there) or [NOTHING],
        "first": shown.first,
        "stop": "The set is stopped and unloaded before any coaching."
        if shown.ranking.stop
        else "",
        "why": f"Why: {shown.why}",
        "hard": f"A case that is {difficulty(shown.margin)} to judge: a change of "
        f"{shown.margin:.1f} in severity would alter the answer.",
    }
    return pieces.stored(head)
