"""A form to try the screen with, and its marks with reasons as soon as it is handed in.

Nothing of a trial is secret: anybody can make it, and its key lies beside it. A form
from an instructor's own secret is never marked here.
"""

from __future__ import annotations

import time
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any, NamedTuple

import traitlets

from squatlab.exam.build import draw
from squatlab.exam.forms import FormKey
from squatlab.exam.package import Package, shown
from squatlab.exam.screens.sitting import Sitting
from squatlab.exam.screens.stills import stills
from squatlab.exam.secret import Secret
from squatlab.faults import fault
from squatlab.questions import files, item_bank
from squatlab.questions.blueprint import cell
from squatlab.questions.cases import Case, case
from squatlab.questions.kinds import Given
from squatlab.questions.practice_checks import why_not_first
from squatlab.questions.question import VIEWS, Key, Question
from squatlab.show.clips import Playing, clip
from squatlab.show.picture import STILL
from squatlab.show.scripts import CLIP, script

CELLS = ("first_clean", "first_feet_among", "spot_side", "cue", "rank", "number", "choice_safety")
"""The cells of the blueprint of which a trial asks one question each."""

PUBLIC = Secret(bytes(32))
"""The secret that every trial is made from: everybody has it."""

CLIP_PX = 380
"""Height of the clip with the reasons beside it, pixels."""

WAITING = (
    "Hand in the trial above. Then each answer is marked here, with the reasons and with what was "
    "measured."
)


def trial_form(folder: str | Path) -> Path:
    """Make a small form to try the screen with; return its file.

    It takes some ten seconds. One that is there is left alone, but a trial
    that was handed in or has run out of time begins anew, and one that
    another version of squatlab made is made again.
    """
    path = Path(folder) / "trial.zip"
    if not path.exists() or _made_otherwise(path):
        cells = [replace(cell(name), count=1) for name in CELLS]
        made = draw(PUBLIC, path.stem, cells, certify=False, alike=False)
        made.pack(folder, partial(stills, every=3), texts=True)  # in half the time
    runs_out = time.time() - 60 * Package.read(path).minutes
    for journal in path.parent.glob("trial-*.journal"):
        handed_in = journal.with_suffix(".json")
        if handed_in.exists() or journal.stat().st_mtime < runs_out:
            journal.unlink()
            handed_in.unlink(missing_ok=True)
    return path


def _made_otherwise(path: Path) -> bool:
    """Return whether a trial is none that this version seals; forget its answers then."""
    key = path.with_name(f"{path.stem}.key.json")
    if not key.exists() or FormKey.read(key).salt != PUBLIC.salt(path.stem):
        return False  # an instructor's form, whatever it is called
    try:
        trial_key(Package.read(path))
    except ValueError:
        for journal in path.parent.glob("trial-*.journal"):
            journal.unlink()
            journal.with_suffix(".json").unlink(missing_ok=True)
        return True
    return False


class TrialKey(NamedTuple):
    """Hold the key of a trial, and of each item by its id: cell, seed and why."""

    entries: dict[str, Key]
    items: dict[str, dict[str, Any]]

    def case(self, item: str) -> Case:
        """Return the lift that an item shows; takes about a second the first time."""
        return case(cell(self.items[item]["cell"]), self.items[item]["seed"])


def trial_key(package: Package) -> TrialKey | None:
    """Return the key of a trial, None for every other form.

    A form's seal covers a salt that follows from its secret. The salt of
    the public secret is that of a trial; an instructor's form has another,
    and its key is not even looked for in its own folder.
    """
    path = package.path.with_name(f"{package.path.stem}.key.json")
    register = package.path.with_name(f"{package.path.stem}.register.json")
    if not (path.exists() and register.exists()):
        return None
    key = FormKey.read(path)
    if key.salt != PUBLIC.salt(package.form.id):
        return None
    package.check(key)
    return TrialKey(dict(key.entries), files.load(register, "exam register")["items"])


class MarkedAnswer(NamedTuple):
    """Hold one answer of a trial beside what is right; ``mark`` is 0 to 1."""

    number: int
    question: Question
    key: Key
    given: Given

    @property
    def mark(self) -> float:
        """Return the mark, 0 for no answer."""
        return self.key.how.mark(self.key, self.given) or 0.0

    @property
    def verdict(self) -> str:
        """Return "right", "wrong", "partly right" or "not answered"."""
        if self.given is None:
            return "not answered"
        return "right" if self.mark == 1 else "partly right" if self.mark > 0 else "wrong"

    @property
    def given_in_words(self) -> str:
        """Return what was answered."""
        if self.given is None:
            return "nothing"
        return self.question.how.in_words(self.question, self.given, shown)

    @property
    def right_in_words(self) -> str:
        """Return what is right, every option that fits."""
        if not self.question.options:
            return self.key.how.stated_exactly(self.question, self.key)
        if self.key.how.control == "one":
            return " / ".join(map(shown, self.key.how.accepted(self.key)))
        return self.question.how.in_words(self.question, list(self.key.answer), shown)


class TrialMarks(Playing):
    """Show what the answers of a trial earned; make one by `trial_marks`.

    ``marked`` has the answers once the trial is handed in. ``summary`` is the
    list of questions as the page shows it, ``opened`` the one that is
    looked at.
    """

    _esm = script(*CLIP, Path(__file__).with_name("trial.js"))
    _css = script("clip.css", "judged.css")
    summary = traitlets.Dict().tag(sync=True)
    opened = traitlets.Dict().tag(sync=True)

    def __init__(self, sitting: Sitting) -> None:
        self.marked: tuple[MarkedAnswer, ...] = ()
        self._sitting, self._key = sitting, trial_key(sitting.package)
        super().__init__(lines=True, summary=self._before())
        self.on_msg(self._received)
        sitting.observe(lambda _: self._mark(), "handed_in")
        self._mark()

    def _before(self) -> dict[str, Any]:
        """Return what is shown before there are marks."""
        form = self._sitting.package.form.id
        exam = f"Form {form} is no trial: only your instructor has its key and marks it."
        return {"words": WAITING if self._key else exam, "questions": []}

    def _mark(self) -> None:
        """Mark a trial that is handed in, and nothing else."""
        if not (self._key and self._sitting.handed_in):
            return
        answers = self._sitting.journal.answers
        self.marked = tuple(
            MarkedAnswer(
                number,
                question,
                self._key.entries[name],
                answers.get(name),
            )
            for number, (name, question) in enumerate(self._sitting.package.questions.items(), 1)
        )
        right = sum(answer.mark == 1 for answer in self.marked)
        firsts = [answer for answer in self.marked if answer.key.how.certifies]
        score = sum(answer.mark == 1 for answer in firsts)
        self.summary = {
            "words": f"{right} of {len(self.marked)} right. The score of an exam would count the "
            f"first fault to fix alone: here {score} of {len(firsts)}. Only a trial is marked at "
            "once.",
            "questions": [
                {"number": answer.number, "verdict": answer.verdict, "asked": answer.question.text}
                for answer in self.marked
            ],
        }

    def show(self, number: int) -> None:
        """Show one question, by its number from 1: right answer, reasons, readings.

        Raises ValueError for a number that is not there.
        """
        if not 1 <= number <= len(self.marked):
            raise ValueError(f"there is no question {number}; there are 1 to {len(self.marked)}")
        answer = self.marked[number - 1]
        item = answer.question.id
        lift = self._key.case(item) if answer.question.clip is not None else None
        # A register has both units; a lift says why in those that were chosen.
        why = lift.why if lift else self._key.items[item]["why"]
        lines = [
            _sentence(f"Your answer: {answer.given_in_words}"),
            *_about_the_fault(answer, lift),
            _sentence(f"Right: {answer.right_in_words}"),
            *_about_the_cue(answer),
            f"Why: {why}",
            *(lift.readings if lift else ()),
        ]
        if lift:
            self._play(lift)
        self.opened = {
            "number": number,
            "heading": f"Question {number}: {answer.verdict}",
            "prompt": answer.question.text,
            "lines": lines,
            "lift": lift is not None,
        }

    def _play(self, lift: Case) -> None:
        """Show a lift with its measured lines, from where its first fault shows most."""
        answer = clip(lift.rep, findings=lift.findings, lines=True, height=CLIP_PX)
        telling = lift.telling
        if telling and self.view != "both" and fault(telling.fault).view in VIEWS:
            self.view = fault(telling.fault).view
        with self.hold_sync():
            self.film, self.shown, self.film_data = answer.film, answer.shown, answer.film_data
        # Afterwards: the page counts frames of the film that it has.
        self.frame = (telling and telling.worst) or lift.rep.bottom

    def _received(self, _: Any, message: dict[str, Any], __: Any) -> None:
        """Do what the page asks; kernels log errors where nobody looks, so they are shown."""
        try:
            self.show(message["open"])
        except Exception as problem:
            self.opened = {"heading": str(problem), "prompt": "", "lines": [], "lift": False}

    def __repr__(self) -> str:
        return f"Trial: {self.summary['words']}"

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        """Add words for readers without a kernel."""
        bundle, *more = super()._repr_mimebundle_(**kwargs)
        words = {
            "text/plain": repr(self),
            "text/html": f'<div class="{STILL}"><p>{WAITING}</p></div>',
        }
        return bundle | words, *more


def _sentence(words: str) -> str:
    """Return words with a full stop, which a cue may have already."""
    return words if words.endswith((".", "!", "?", "”")) else f"{words}."


def _about_the_fault(answer: MarkedAnswer, lift: Case | None) -> list[str]:
    """Return what is measured of a fault that was wrongly fixed first."""
    if lift is None or not answer.key.how.certifies or answer.verdict != "wrong":
        return []
    # A form names faults as they are read; "nothing to fix" is none of them.
    named = [finding.fault for finding in lift.findings if finding.name == answer.given]
    return [why_not_first(lift, fault) for fault in named]


def _about_the_cue(answer: MarkedAnswer) -> list[str]:
    """Return why the cue that was chosen fits or does not, where a cue was asked."""
    why = {cue.words: cue.why for cue in item_bank.shipped().cues}
    return (
        [f"This cue: {why[answer.given]}"]
        if isinstance(answer.given, str) and answer.given in why
        else []
    )


def trial_marks(sitting: Sitting) -> TrialMarks:
    """Return the marks of a trial: they appear when it is handed in.

    For every other form it says that the instructor marks it.
    """
    return TrialMarks(sitting)
