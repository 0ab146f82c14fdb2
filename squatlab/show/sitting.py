"""The candidate's screen: one question at a time, every answer on the disk before it counts."""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import asdict, replace
from datetime import datetime, timedelta
from io import BytesIO
from pathlib import Path
from threading import RLock
from typing import Any

import anywidget
import traitlets
from PIL import Image

from squatlab.exam import files
from squatlab.exam.answers import Given
from squatlab.exam.blueprint import cell
from squatlab.exam.build import draw
from squatlab.exam.journal import Journal
from squatlab.exam.package import Package, Question, shown
from squatlab.exam.secret import Secret
from squatlab.show.clips import script
from squatlab.show.picture import img
from squatlab.show.stills import stills

FACTORS = 1.0, 4.0
"""Least and most a time factor may be [teaching-value]."""

TRIAL = ("first_clean", "first_feet_among", "spot_side", "cue", "rank", "number", "choice_safety")
"""The cells of the blueprint of which a form to try asks one question each."""


class Sitting(anywidget.AnyWidget):
    """Put a form's questions and keep the answers; make one by `sit`.

    ``journal`` has what is on the disk, and nothing else is ever shown as
    saved. ``said`` is the last message. `answer` and `hand_in` do what
    the screen does; both say what happened and never raise for a wrong
    answer or a full disk.
    """

    _esm = script("sitting.js")
    _css = Path(__file__).with_name("sitting.css")
    told = traitlets.Dict().tag(sync=True)
    answers = traitlets.Dict().tag(sync=True)
    at = traitlets.Unicode("").tag(sync=True)
    said = traitlets.Unicode("").tag(sync=True)
    handed_in = traitlets.Unicode("").tag(sync=True)

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
        minutes = package.minutes * time_factor
        begun = datetime.fromisoformat(journal.begun)
        ends = begun + timedelta(minutes=minutes)
        questions = [
            {"item": one.item, "kind": one.kind, "prompt": one.prompt, "unit": one.unit,
             "options": [[option, shown(option)] for option in one.options],
             "lift": one.clip is not None}
            for one in package.questions.values()
        ]  # fmt: skip
        super().__init__(
            told={
                "form": package.form.id, "candidate": journal.candidate, "questions": questions,
                "minutes": round(minutes), "begun": _hour(begun)[:5],
                "ends": _hour(ends)[:5], "until": ends.timestamp(),
            },
            answers=dict(journal.answers),
            at=self._next(),
            said=self._welcome(),
            handed_in=journal.handed_in,
        )  # fmt: skip
        self.on_msg(self._asked)
        if journal.handed_in:
            self.hand_in()

    @property
    def unanswered(self) -> tuple[int, ...]:
        """Return the numbers, from 1, of the questions without an answer."""
        kept = self.journal.answers
        return tuple(
            n for n, item in enumerate(self.package.form.items, 1) if kept.get(item) is None
        )

    def answer(self, item: str, given: Any) -> bool:
        """Save an answer, None to take it back; return whether it is saved."""
        return self._safely(lambda: self._save(item, given))

    def hand_in(self) -> bool:
        """Write the hand-in file; return whether it is written."""
        return self._safely(self._finish)

    def _save(self, item: str, given: Any) -> None:
        question = self.package.questions[item]
        self.journal.put(item, _fitting(question, given))
        self.said = f"Saved {_hour(self._clock())}"

    def _finish(self) -> None:
        sheet = self.journal.hand_in(self._hand_in)
        self.handed_in = sheet.handed_in
        self.said = (
            f"Handed in {_hour(datetime.fromisoformat(sheet.handed_in))}: {self._hand_in}, "
            f"receipt {sheet.receipt}. Note the receipt down and give the file to your instructor."
        )

    def _safely(self, work: Callable[[], None]) -> bool:
        """Do it, or say why not: errors of a callback go to a log that nobody reads."""
        with self._lock, self.hold_sync():
            try:
                work()
            except Exception as problem:
                self.said = f"NOT SAVED: {problem}"
                return False
            finally:
                self.answers = dict(self.journal.answers)
            return True

    def _asked(self, _: Any, asked: dict[str, Any], __: Any) -> None:
        """Do what the page asks, and tell it that it was done: it waits for that."""
        if asked["do"] == "clip":
            self._send_clip(asked["item"])
            return
        done = (
            self.hand_in()
            if asked["do"] == "hand in"
            else self.answer(asked["item"], asked["answer"])
        )
        reply = {"number": asked["number"], "done": done, "said": self.said}
        self.send(reply | {"answers": self.answers, "handed_in": self.handed_in})

    def _send_clip(self, item: str) -> None:
        try:
            clip, text = self.package.clip(item), self.package.questions[item].text
        except (ValueError, OSError) as problem:
            self.send({"item": item, "problem": str(problem)})
            return
        told = asdict(clip) | {"sheets": len(clip.sheets)}
        self.send({"item": item, "clip": told, "text": text and asdict(text)}, list(clip.sheets))

    def _next(self) -> str:
        items = self.package.form.items
        left = self.unanswered
        return items[left[0] - 1] if left else items[0]

    def _welcome(self) -> str:
        count = len(self.package.form.items) - len(self.unanswered)
        if lost := len(self.journal.damaged):
            return (
                f"{lost} saved lines were changed by another program and are not used: look at "
                "your answers, and tell your instructor."
            )
        return f"{count} answers were brought back." if count else "Nothing is answered yet."

    def __repr__(self) -> str:
        form = self.package.form
        return (
            f"Sitting of form {form.id} by candidate {self.journal.candidate}: "
            f"{len(form.items)} questions in {self.told['minutes']} minutes. Run this cell to "
            "answer them."
        )

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        """Add a picture of the first lift for readers without a kernel."""
        bundle, *more = super()._repr_mimebundle_(**kwargs)
        lifts = [one.item for one in self.package.questions.values() if one.clip]
        if lifts:
            bundle["text/html"] = _still(self.package, lifts[0], repr(self))
        return bundle, *more


def sit(
    form: str | Path,
    candidate: str,
    folder: str | Path = "exam",
    time_factor: float = 1.0,
    clock: Callable[[], datetime] = files.now,
) -> Sitting:
    """Open a form for a candidate, or carry on after a crash.

    ``form`` is the instructor's file, ``folder`` where answers are kept
    and handed in, ``time_factor`` 1 unless another was agreed. Raises
    ValueError for a damaged file, an id that cannot be, or another's work.
    """
    least, most = FACTORS
    if not least <= time_factor <= most:
        raise ValueError(
            f"the time factor is {time_factor:g}; it is {least:g} to {most:g}, as your instructor "
            "agreed with you"
        )
    package, folder = Package.read(form), Path(folder)
    name = f"{package.form.id}-{files.identifier('candidate', candidate)}"
    journal = Journal(folder / f"{name}.journal", package.form, candidate, clock)
    return Sitting(package, journal, folder / f"{name}.json", time_factor, clock)


def trial_form(folder: str | Path) -> Path:
    """Make a small form to try the screen with; return its file.

    Anybody can make it, and its key lies beside it: nothing in it is
    secret. It takes some ten seconds. One that is there is left alone, but
    a trial that was handed in or has run out of time begins anew.
    """
    path = Path(folder) / "trial.zip"
    if not path.exists():
        cells = [replace(cell(name), count=1) for name in TRIAL]
        draw(Secret(bytes(32)), path.stem, cells, certify=False).pack(folder, stills, texts=True)
    runs_out = time.time() - 60 * Package.read(path).minutes
    for journal in path.parent.glob("trial-*.journal"):
        handed_in = journal.with_suffix(".json")
        if handed_in.exists() or journal.stat().st_mtime < runs_out:
            journal.unlink()
            handed_in.unlink(missing_ok=True)
    return path


def _fitting(question: Question, given: Any) -> Given:
    """Return an answer as it is kept; ValueError if the question does not offer it."""
    if given is None:
        return None
    if question.kind == "number":
        text = str(given).strip().replace(",", ".").replace("\N{MINUS SIGN}", "-")
        try:
            number = float(text)
        except ValueError:
            number = math.nan
        if not math.isfinite(number):
            raise ValueError(f"“{given}” is no number; write one, such as 12.5")
        return number
    several = question.kind in ("spot", "rank")
    named = given if several else [given]
    fits = isinstance(named, list) and all(isinstance(one, str) for one in named)
    if fits and question.kind == "rank":
        fits = len(named) == len(question.options)
    if not fits or len(set(named)) != len(named) or not set(named) <= set(question.options):
        raise ValueError(f"{given!r} is no answer to this question; choose what it offers")
    return given


def _hour(moment: datetime) -> str:
    return moment.astimezone().strftime("%H:%M:%S")


def _still(package: Package, item: str, words: str) -> str:
    """Return the lowest point of a lift, cut from its sheet, as a picture for a page."""
    clip = package.clip(item)
    sheet, place = divmod(clip.frames[clip.lowest], clip.on_a_sheet)
    left, buffer = place * clip.width, BytesIO()
    with Image.open(BytesIO(clip.sheets[sheet])) as whole:
        whole.crop((left, 0, left + clip.width, clip.height)).save(buffer, "png")
    return img(buffer.getvalue(), words, clip.width, still=True)
