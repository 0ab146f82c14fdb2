"""Ten questions before the course and ten of the same kinds after it, with the gain."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import anywidget
import traitlets

from squatlab import lessons
from squatlab.lessons.course_pages import course_pages
from squatlab.lessons.standing import AFTER, BEFORE, FILE, FOLDER
from squatlab.questions.asking import Asking
from squatlab.questions.check_marks import CheckMark, CheckMarks
from squatlab.show.check_form import RUN_TO_ANSWER, spec
from squatlab.show.scripts import script

KINDS = (
    "notation",
    "bar_place",
    "who_leans_more",
    "ankle_needed",
    "bar_or_system",
    "what_moves_first",
    "where_to_stand",
    "cannot_tell",
    "first_to_fix",
    "stop_the_set",
)
"""The checks of which each ten has one, all of options [teaching-value]."""

SEEDS = {BEFORE: 101, AFTER: 202}
"""Which question of each kind is asked: everybody's are the same."""


class TenQuestions(anywidget.AnyWidget):
    """Ask ten questions, one try each; make one by `ten_questions`.

    Nothing is said of an answer before the tenth: the first ten measure
    what somebody brings, not what the questions teach. What was answered
    is kept, and asked on from there.
    """

    _esm = script("elements.js", "asking.js", "check_form.js")
    _css = script("asking.css", "notebook.css")
    spec = traitlets.Dict().tag(sync=True)
    said = traitlets.Dict().tag(sync=True)

    def __init__(self, occasion: str, marks: CheckMarks) -> None:
        if occasion not in SEEDS:
            raise ValueError(f'the occasion is {occasion!r}; choose "{BEFORE}" or "{AFTER}"')
        super().__init__()
        self.occasion, self.marks = occasion, marks
        self._show("")
        self.on_msg(self._received)

    def answered(self, occasion: str | None = None) -> dict[str, bool]:
        """Return which kinds were answered on an occasion, and whether rightly."""
        wanted = occasion or self.occasion
        rightly: dict[str, bool] = {}
        for mark in self.marks.all():
            if mark.occasion == wanted and mark.check in KINDS:
                rightly.setdefault(mark.check, mark.right)  # the first answer counts
        return rightly

    def answer(self, place: int) -> None:
        """Keep an answer, an option by its place, and ask the next."""
        name = self._name()
        if name is None:
            return
        asking = self._asking(name)
        right = asking.answer(asking.question.sent(place)).right is True
        self.marks.put(CheckMark(name, SEEDS[self.occasion], right, 1, self.occasion))
        self._show("Kept. The result comes after the tenth.")

    def result(self) -> str:
        """Return in words how many were right, the gain, and what to read again."""
        now = self.answered()
        words = f"{sum(now.values())} of {len(KINDS)} right."
        before = self.answered(BEFORE)
        if self.occasion == AFTER and len(before) == len(KINDS):
            gain = sum(now.values()) - sum(before.values())
            words += f" Before the course: {sum(before.values())}. Gain: {gain:+d}.".replace(
                "-", "−"
            )
        missed = {name for name, right in now.items() if not right}
        pages = []
        for page in course_pages():  # the first page that asks it is where to read again
            taught = missed & {name for name, _ in page.checks}
            if taught:
                pages.append(f"{page.number} {page.title}")
                missed -= taught
        return f"{words} Missed; see {', '.join(pages)}." if pages else f"{words} None missed."

    def _name(self) -> str | None:
        """Return the kind that is asked next, None after the last."""
        answered = self.answered()
        return next((name for name in KINDS if name not in answered), None)

    def _asking(self, name: str) -> Asking:
        return lessons.asking(name, SEEDS[self.occasion])

    def _show(self, words: str) -> None:
        """Show the next question, or the result."""
        name = self._name()
        done = name is None
        shown = spec(self._asking(KINDS[-1] if done else name).question)
        number = len(self.answered()) + (not done)
        self.said = {
            "words": self.result() if done else words,
            "kind": "",
            "done": done,
            "given": None,
            "right": [],
            "count": number,
        }
        head = f"Ten questions {self.occasion} the course, {number} of {len(KINDS)}. "
        self.spec = shown | {"text": head + shown["text"], "plain": True}

    def _received(self, _: Any, message: dict[str, Any], __: Any) -> None:
        """Do what the browser asks; kernels log errors where nobody looks, so they are shown."""
        try:
            if message["kind"] == "answer":
                self.answer(message["given"])
        except Exception as error:
            self.said = self.said | {"words": str(error)}

    def __repr__(self) -> str:
        return (
            f"Ten questions {self.occasion} the course: one try each, the result after the tenth."
        )

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        bundle, *more = super()._repr_mimebundle_(**kwargs)
        words = f"<p>{self!r}</p>{RUN_TO_ANSWER}"
        return {**bundle, "text/plain": repr(self), "text/html": words}, *more


def ten_questions(occasion: str, folder: str | Path = FOLDER) -> TenQuestions:
    """Return the ten questions "before" or "after" the course.

    Answers are kept in ``folder``. Raises ValueError for another occasion.
    """
    return TenQuestions(occasion, CheckMarks(Path(folder) / FILE))
