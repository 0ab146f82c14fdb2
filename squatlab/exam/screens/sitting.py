"""The candidate's screen: one question at a time, every answer on the disk before it counts."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict
from datetime import datetime, timedelta
from html import escape
from pathlib import Path
from threading import RLock
from typing import Any

import anywidget
import traitlets

from squatlab.exam.forms import TIME_FACTORS
from squatlab.exam.journal import Journal
from squatlab.exam.notices import notices
from squatlab.exam.package import Package, shown
from squatlab.questions import files
from squatlab.show.picture import STILL
from squatlab.show.scripts import PLAYING, script


class Sitting(anywidget.AnyWidget):
    """Put a form's questions and keep the answers; make one by `sit`.

    ``journal`` has what is on the disk, and nothing else is ever shown as
    saved. ``handed_in`` turns True when the file is written. ``page`` and
    ``answers`` are what the page shows, and ``message`` is the last one:
    they go to the page by message alone, so no saved notebook holds a
    question or an answer. `begin`, `answer` and `hand_in` do what the
    screen does, say what happened and never raise for a wrong answer or a
    full disk. The page has no question before or after.
    """

    _esm = script(*PLAYING, Path(__file__).with_name("sitting.js"))
    _css = Path(__file__).with_name("sitting.css")
    at = traitlets.Unicode("").tag(sync=True)
    handed_in = traitlets.Bool(False)

    def __init__(
        self,
        package: Package,
        journal: Journal,
        hand_in: Path,
        time_factor: float,
        clock: Callable[[], datetime],
    ) -> None:
        self.package, self.journal = package, journal
        self._hand_in, self._clock, self._lock = hand_in, clock, RLock()
        self._minutes, self._receipt = package.minutes * time_factor, ""
        self.page, self.answers = self._page(), dict(journal.answers)
        self.message = self._welcome()
        super().__init__(at=self._next())
        self.on_msg(self._asked)
        if journal.handed_in:
            self.hand_in()

    def _page(self) -> dict[str, Any]:
        """Return what the page is told: a notice before and after, the questions between."""
        journal = self.journal
        page = (
            self._closing()
            if journal.handed_in
            else self._asking()
            if journal.begun
            else self._first()
        )
        return page | {"form": self.package.form.id, "candidate": journal.candidate}

    def _first(self) -> dict[str, Any]:
        """Return the notice before the sitting."""
        journal = self.journal
        questions, times = self.package.questions.values(), self._minutes / self.package.minutes
        lifts = sum(question.clip is not None for question in questions)
        agreed = f": {times:g} times the usual, as agreed" if times != 1 else ""
        facts = (
            ("Questions", f"{len(questions)}, of which {lifts} show a lift"),
            ("Time", f"{self._minutes:.0f} minutes from Begin{agreed}"),
            (
                "Your code",
                "given" if journal.has_code else "none: what you hand in counts for a trial alone",
            ),
        )
        return {
            "title": "Before you begin",
            "facts": facts,
            "notes": notices("before"),
            "button": ("Begin", "begin"),
        }

    def _asking(self) -> dict[str, Any]:
        """Return the questions, and when the time is up."""
        begun = self.journal.begun
        ends = datetime.fromisoformat(begun) + timedelta(minutes=self._minutes)
        questions = [
            {
                "item": question.id,
                "control": question.how.control,
                "prompt": question.text,
                "unit": question.unit,
                "options": [[option, shown(option)] for option in question.options],
                "lift": question.clip is not None,
            }
            for question in self.package.questions.values()
        ]
        return {
            "questions": questions,
            "minutes": round(self._minutes),
            "until": ends.timestamp(),
            "begun": _hour(begun, "%H:%M"),
            "ends": f"{ends.astimezone():%H:%M}",
        }

    def _closing(self) -> dict[str, Any]:
        """Return the notice after handing in."""
        total, left = len(self.package.form.items), self.unanswered
        numbers = "; without an answer: " + ", ".join(map(str, left)) if left else ""
        facts = (
            ("Handed in", _hour(self.journal.handed_in, "%Y-%m-%d %H:%M:%S")),
            ("Answered", f"{total - len(left)} of {total}{numbers}"),
            ("File", str(self._hand_in) if self._receipt else "not written yet"),
            ("Receipt", self._receipt or "none yet"),
        )
        return {
            "title": "Handed in",
            "facts": facts,
            "notes": notices("after"),
            "button": () if self._receipt else ("Write the file", "hand in"),
        }

    @property
    def unanswered(self) -> tuple[int, ...]:
        """Return the numbers, from 1, of the questions without an answer."""
        answers = self.journal.answers
        return tuple(
            n for n, item in enumerate(self.package.form.items, 1) if answers.get(item) is None
        )

    def begin(self) -> bool:
        """Start the clock, if it does not run; return whether it runs."""
        return self._safely(self._start, "NOT STARTED")

    def answer(self, item: str, given: Any) -> bool:
        """Save an answer, None to take it back; return whether it is saved."""
        return self._safely(lambda: self._save(item, given))

    def hand_in(self) -> bool:
        """Write the hand-in file; return whether it is written."""
        return self._safely(self._finish)

    def _start(self) -> None:
        """Start the clock, and show the first question."""
        self.journal.begin()
        self.at, self.message = self._next(), self._welcome()
        if self.journal.handed_in:  # in another window
            self._finish()

    def _save(self, item: str, given: Any) -> None:
        """Put an answer on the disk, as its kind of question reads it."""
        question = self.package.questions[item]
        self.journal.put(item, None if given is None else question.how.check(question, given))
        self.message = f"Saved {self._clock().astimezone():%H:%M:%S}"

    def _finish(self) -> None:
        """Write the hand-in file, and show its receipt."""
        sheet = self.journal.hand_in(self._hand_in)
        self._receipt, self.handed_in = sheet.receipt, True
        self.message = (
            f"Handed in {_hour(sheet.handed_in)}: {self._hand_in}, receipt {sheet.receipt}. Note "
            "the receipt down and give the file to your instructor."
        )

    def _safely(self, work: Callable[[], None], failed: str = "NOT SAVED") -> bool:
        """Do it, or say why not: errors of a callback go to a log that nobody reads."""
        with self._lock, self.hold_sync():
            try:
                work()
            except Exception as problem:
                self.message = f"{failed}: {problem}"
                return False
            finally:
                before = self.page
                self.answers, self.page = dict(self.journal.answers), self._page()
                if self.page != before:  # another page, in every window
                    self._send_page()
            return True

    def _asked(self, _: Any, asked: dict[str, Any], __: Any) -> None:
        """Do what the page asks, and tell it that it was done: it waits for that."""
        if asked["do"] == "page":
            self._send_page()
            return
        if asked["do"] == "clip":
            self._send_clip(asked["item"])
            return
        do = {"begin": self.begin, "hand in": self.hand_in}.get(asked["do"])
        done = do() if do else self.answer(asked["item"], asked["answer"])
        reply = {"number": asked["number"], "done": done, "message": self.message}
        self.send(reply | {"answers": self.answers})

    def _send_page(self) -> None:
        """Tell the page what it shows."""
        self.send({"page": self.page, "answers": self.answers, "message": self.message})

    def _send_clip(self, item: str) -> None:
        """Send the page one lift, while the clock runs: its pictures, and its words."""
        if "questions" not in self.page:
            return
        try:
            clip, text = self.package.clip(item), self.package.questions[item].account
        except (ValueError, OSError) as problem:
            self.send({"item": item, "problem": str(problem)})
            return
        panel = asdict(clip) | {"sheets": len(clip.sheets)}
        self.send({"item": item, "clip": panel, "text": text and asdict(text)}, list(clip.sheets))

    def _next(self) -> str:
        """Return the first question without an answer, else the first."""
        items = self.package.form.items
        left = self.unanswered
        return items[left[0] - 1] if left else items[0]

    def _welcome(self) -> str:
        """Return what is said when the page opens."""
        count, begun = len(self.package.form.items) - len(self.unanswered), self.journal.begun
        if aside := self.journal.set_aside:
            return (
                f"The file of your answers was damaged and is kept as {aside.name}; {count} "
                "answers were taken over. Look at them, and tell your instructor."
            )
        if lost := len(self.journal.damaged):
            return (
                f"{lost} saved lines were changed by another program and are not used: look at "
                "your answers, and tell your instructor."
            )
        if not begun:
            return "Not started: the clock starts when you press Begin."
        back = f"{count} answers were brought back" if count else "Nothing is answered yet"
        return f"{back}. The clock has run since {_hour(begun)}."

    def __repr__(self) -> str:
        form = self.package.form
        return (
            f"Sitting of form {form.id} by candidate {self.journal.candidate}: {len(form.items)} "
            f"questions in {round(self._minutes)} minutes. Run this cell to sit it, or to go on."
        )

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        """Add words for readers without a kernel, and no question: notebooks are passed on."""
        bundle, *more = super()._repr_mimebundle_(**kwargs)
        rows = "".join(
            f"<dt>{escape(notice.head)}</dt><dd>{escape(notice.words)}</dd>"
            for notice in notices("before")
        )
        bundle["text/html"] = (
            f'<div class="{STILL}"><p>{escape(repr(self))}</p><dl>{rows}</dl></div>'
        )
        return bundle, *more


def sit(
    form: str | Path,
    candidate: str,
    folder: str | Path = "exam",
    time_factor: float = 1.0,
    clock: Callable[[], datetime] = files.now,
    code: str = "",
) -> Sitting:
    """Open a form for a candidate, or carry on after a crash.

    ``form`` is the instructor's file, ``folder`` where answers are kept
    and handed in, ``time_factor`` 1 unless another was agreed, ``code``
    the one on the candidate's slip: it proves the hand-in theirs, and
    without it only a trial counts. Raises ValueError for a damaged file,
    an id or a code that cannot be, or another's work.
    """
    if why := TIME_FACTORS.objection(time_factor):
        raise ValueError(f"{why}, as your instructor agreed with you")
    package, folder = Package.read(form), Path(folder)
    name = f"{package.form.id}-{files.identifier('candidate', candidate)}"
    journal = Journal(folder / f"{name}.journal", package.form, candidate, clock, code)
    return Sitting(package, journal, folder / f"{name}.json", time_factor, clock)


def _hour(moment: str, form: str = "%H:%M:%S") -> str:
    """Return a time of the files as this machine's clock shows it."""
    return f"{datetime.fromisoformat(moment).astimezone():{form}}"
