"""What candidates handed in: one file each, whole, refused by name if it must be."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from pathlib import Path

from squatlab.exam import codes
from squatlab.exam.forms import Form
from squatlab.questions import files
from squatlab.questions.kinds import Given
from squatlab.questions.question import Question
from squatlab.questions.typed_numbers import LARGEST

YEARS = range(2000, 2200)
"""Of any clock that may be right."""


def possible_answer(item: str, given: Given) -> None:
    """Raise ValueError for what is no answer to any item.

    Exact types, since True is an int to Python; and no number so large that
    to mark it would stop the marking of everybody.
    """
    if given is None or type(given) is str:
        return
    if type(given) in (int, float) and abs(given) <= LARGEST:  # nan is not
        return
    if type(given) is list and all(type(option) is str for option in given):
        return
    raise ValueError(
        f"the answer to {files.harmless(item)} is {files.harmless(given)}: no option, number or "
        "list of options"
    )


@dataclass(frozen=True)
class Sheet:
    """Hold what one candidate handed in for one form.

    ``answers`` by item id; an item left out is not answered. ``began`` and
    ``handed_in`` are times in UTC as text, by the candidate's machine;
    ``began`` is "" where nobody says. ``proof`` is what only the
    candidate's code can have made of all the rest, "" without a code.
    Raises ValueError for an id or an answer that cannot be.
    """

    form: str
    seal: str
    candidate: str
    answers: Mapping[str, Given]
    handed_in: str
    began: str = ""
    proof: str = ""

    def __post_init__(self) -> None:
        files.identifier("candidate", self.candidate)
        files.identifier("form", self.form)
        if not isinstance(self.answers, dict):
            raise ValueError("answers map an item to what was answered")
        for item, given in self.answers.items():
            possible_answer(item, given)
        for name in ("seal", "proof"):
            if not isinstance(getattr(self, name), str):
                raise ValueError(f"its {name} is no text")
        object.__setattr__(self, "handed_in", _moment(self.handed_in, "handing in"))
        if self.began != "":
            object.__setattr__(self, "began", _moment(self.began, "beginning"))

    @property
    def digest(self) -> str:
        """Return the fingerprint of form, candidate and answers, not the time."""
        return files.fingerprint(
            {"form": self.form, "candidate": self.candidate, "answers": self.answers}
        )

    @property
    def receipt(self) -> str:
        """Return a code of twelve signs that changes with any answer, to note down."""
        return codes.spell(bytes.fromhex(self.digest))

    def proven(self, code: str) -> Sheet:
        """Return the same with the proof that a candidate's code gives it."""
        return replace(self, proof=codes.seal(code, self.form, self.candidate, self._body()))

    def proves(self, code: str) -> bool:
        """Tell whether this was made with a code, and is unaltered since."""
        return codes.same(self.proof, self.proven(code).proof)

    def write(self, path: str | Path) -> Path:
        """Write the hand-in file, whole or not at all."""
        return files.save(path, "exam answers", asdict(self))

    @classmethod
    def read(cls, path: str | Path) -> Sheet:
        """Read a hand-in file; ValueError names what is wrong with it."""
        body = files.load(path, "exam answers")
        try:
            return cls(**body)
        except (TypeError, ValueError) as problem:
            name, words = files.harmless(Path(path).name), files.harmless(problem, 200)
            raise ValueError(f"{name} is damaged: {words}") from None

    def _body(self) -> dict:
        """Return what the proof is over: all but the proof."""
        body = asdict(self)
        del body["proof"]
        return body


def _moment(given: str, what: str) -> str:
    """Return a time as files have it; ValueError for none, or one no clock can show."""
    try:
        moment = datetime.fromisoformat(given)
        if moment.year in YEARS:
            return files.stamp(moment)
    except (TypeError, ValueError, OverflowError):
        pass
    raise ValueError(f"“{files.harmless(given)}” is no time of {what}, in UTC")


@dataclass(frozen=True)
class Refusal:
    """Name a hand-in that is not marked; ``reason`` says what to do too."""

    file: str
    candidate: str
    reason: str

    def __str__(self) -> str:
        return self.reason


def hand_in_files(folder: str | Path) -> tuple[Path, ...]:
    """Return the hand-in files of a folder, *.json in small letters or capitals.

    Raises NotADirectoryError for a file, FileNotFoundError if there is no
    such folder or none is in it.
    """
    folder = Path(folder)
    if not folder.exists():
        raise FileNotFoundError(f"there is no folder {folder}: give the one that has the hand-ins")
    if not folder.is_dir():
        raise NotADirectoryError(
            f"{folder} is one file: give the folder that has the hand-ins, if only one"
        )
    paths = sorted(
        path
        for path in folder.iterdir()
        if path.suffix.lower() == ".json" and not path.name.startswith(".")
    )
    if not paths:
        raise FileNotFoundError(
            f"there is no hand-in in {folder}: hand-ins are files that end in .json; look at the "
            "folder's name"
        )
    return tuple(paths)


def misfit(sheet: Sheet, form: Form) -> str:
    """Return why a sheet does not answer a form, with what to do, or ""."""
    if sheet.form != form.id:
        other = files.harmless(sheet.form)
        return f"answers to form {other}, not {form.id}; put it in that form's folder"
    if sheet.seal != form.seal:
        return (
            f"a form {form.id} with another seal was answered; ask which file the candidate opened"
        )
    if odd := sorted(sheet.answers.keys() - {*form.items}):
        words = files.harmless(", ".join(odd))
        return f"it answers what the form does not ask: {words}; ask for the file again"
    return ""


def without_units(sheet: Sheet, questions: Mapping[str, Question]) -> Sheet:
    """Return a sheet with its numbers freed of their units (`in_unit`).

    Raises ValueError that names the item if a number is none, or has
    another unit.
    """
    answers = dict(sheet.answers)
    for item, given in answers.items():
        if not questions[item].how.needs_options and given is not None:
            try:
                answers[item] = questions[item].how.check(questions[item], given)
            except ValueError as problem:
                raise ValueError(
                    f"the answer to {item}: {problem}; ask for the file again"
                ) from None
    return replace(sheet, answers=answers)
