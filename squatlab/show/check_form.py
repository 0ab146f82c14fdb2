"""A check of a notebook to click: two tries, a hint, then the answer and a new question."""

from __future__ import annotations

from html import escape
from pathlib import Path
from typing import Any

import anywidget
import traitlets

from squatlab import lessons
from squatlab.lessons.standing import FILE, FOLDER
from squatlab.questions.asking import Feedback
from squatlab.questions.check_marks import CheckMark, CheckMarks
from squatlab.questions.question import Question
from squatlab.show.run_page import to_run
from squatlab.show.scripts import script

RUN_TO_ANSWER = to_run("To answer")
"""What stands below a question that is only kept, not asked."""


class CheckForm(anywidget.AnyWidget):
    """Ask one check; make one by `check`.

    ``asking`` is the question with its key and the answers so far,
    ``said`` what was last said to one, ``marks`` where the end is kept.
    """

    _esm = script("elements.js", "asking.js", "check_form.js")
    _css = script("asking.css", "terms.css", "notebook.css")
    spec = traitlets.Dict().tag(sync=True)
    said = traitlets.Dict().tag(sync=True)

    def __init__(self, name: str, seed: int, marks: CheckMarks) -> None:
        super().__init__()
        self.marks, self._name = marks, name
        self._ask(seed)
        self.on_msg(self._received)

    def _ask(self, seed: int) -> None:
        self._seed, self.asking = seed, lessons.asking(self._name, seed)
        self.said = self._spoken(Feedback(None, ""), None)
        self.spec = spec(self.asking.question, self.asking.key.hint)

    def answer(self, given: int | str) -> None:
        """Mark an option by its place, or what was typed."""
        if self.asking.done:
            return
        self._end(self.asking.answer(self.asking.question.sent(given)), given)

    def give_up(self) -> None:
        """Show the answer."""
        if not self.asking.done:
            self._end(self.asking.give_up(), None)

    def another(self) -> None:
        """Ask for the same with other numbers."""
        text, seed = self.asking.question.text, self._seed + 1
        while lessons.made(self._name, seed).question.text == text:
            seed += 1
        self._ask(seed)

    def _end(self, feedback: Feedback, given: int | str | None) -> None:
        """Say what is said to an answer, and keep the mark of a question that is done."""
        kept = ""
        if self.asking.done:
            right, tries = feedback.right is True, len(self.asking.given)
            try:
                moment = self.marks.put(CheckMark(self._name, self._seed, right, tries))
                kept = f"Saved {moment.astimezone():%H:%M:%S}."
            except (OSError, ValueError) as problem:  # the answer counts, with or without a disk
                kept = str(problem)
        self.said = self._spoken(feedback, given, kept)

    def _spoken(self, feedback: Feedback, given: int | str | None, kept: str = "") -> dict:
        """Return what the browser shows of what was said."""
        question, key = self.asking.question, self.asking.key
        right = key.how.accepted(key) if self.asking.done and question.options else ()
        kinds = {None: "", True: "right", False: "wrong"}
        return {
            "words": feedback.text,
            "kind": kinds[feedback.right],
            "done": self.asking.done,
            "given": given,
            "right": [question.options.index(option) for option in right],
            "kept": kept,
            "count": self.said.get("count", 0) + 1,  # the same words twice are said twice
        }

    def _received(self, _: Any, message: dict[str, Any], __: Any) -> None:
        """Do what the browser asks; kernels log errors where nobody looks, so they are shown."""
        try:
            if message["kind"] == "answer":
                self.answer(message["given"])
            elif message["kind"] == "give up":
                self.give_up()
            else:
                self.another()
        except Exception as error:
            self.said = self._spoken(Feedback(None, str(error)), None)

    def __repr__(self) -> str:
        return f"Check: {self.asking.question!r}"

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        """Show the question to readers without a kernel."""
        bundle, *more = super()._repr_mimebundle_(**kwargs)
        return {**bundle, "text/plain": repr(self), "text/html": still(self.asking.question)}, *more


def check(name: str, seed: int = 1, folder: str | Path = FOLDER) -> CheckForm:
    """Return a check to answer by click; the same seed makes the same question.

    Marks are kept in ``folder``. Raises ValueError for an unknown name,
    listing the known ones.
    """
    return CheckForm(name, seed, CheckMarks(Path(folder) / FILE))


def spec(question: Question, hint: str = "") -> dict[str, Any]:
    """Return what the browser shows of a question; nothing of what is right is in it.

    ``control`` is its kind's. Options that are ids have these beside their
    words, others a letter.
    """
    sent: dict[str, Any] = {
        "id": question.id,
        "text": question.text,
        "hint": hint,
        "control": question.how.control,
    }
    if question.words:
        named = zip(question.options, question.words, strict=True)
        return sent | {"options": [{"id": option, "words": words} for option, words in named]}
    if question.options:
        letters = zip(question.letters, question.options, strict=True)
        return sent | {"options": [{"letter": letter, "words": words} for letter, words in letters]}
    if question.unit == "holes":  # which one, not how many
        return sent | {"unit": "(number of the hole)"}
    return sent | {"unit": f"{question.unit} (± {question.tolerance:g})"}


def still(question: Question) -> str:
    """Return a question as a reader sees it whose page runs nothing."""
    options = "".join(f"<li>{escape(option)}</li>" for option in question.options)
    listed = f'<ol type="a">{options}</ol>' if options else f"<p>{escape(question.asks_for)}</p>"
    return (
        f'<div class="squatlab-asked"><p><b>{escape(question.text)}</b></p>{listed}'
        f"{RUN_TO_ANSWER}</div>"
    )
