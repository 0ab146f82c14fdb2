"""What candidates handed in: one file each, whole, refused by name if it must be."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path

from squatlab.exam.forms import Form
from squatlab.exam.package import Question
from squatlab.questions import files

Given = str | float | list[str] | None
"""One answer as it is written: an option, a number, several options, or none."""


def possible(item: str, given: Given) -> None:
    """Raise ValueError for what is no answer to any item."""
    if given is None or type(given) in (str, int, float):
        return
    if type(given) is not list or any(type(one) is not str for one in given):
        raise ValueError(f"the answer to {item} is {given!r}: no option, number or list of options")


NUMBER = re.compile(r"([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+))\s*((?![.,+-])\D*)")
"""A number with a decimal point or comma, then what may be its unit."""

DEGREE = {"deg": "°", "degree": "°", "degrees": "°", "º": "°"}
"""What is typed for a degree."""


def in_unit(given: object, unit: str) -> float:
    """Return a number that was typed, or stored, without its unit.

    Decimal comma and point are the same. ``unit`` may stand after it, its
    product dots left out or typed otherwise ("Nm"); "deg" or "degrees" for
    "°". Raises ValueError that names what is no number or another unit.
    """
    if type(given) in (int, float) and math.isfinite(given):
        return given
    own = f" {unit}".replace(" °", "°").rstrip()
    found = NUMBER.fullmatch(str(given).strip().replace("\N{MINUS SIGN}", "-"))
    value = float(found[1].replace(",", ".")) if found else math.nan
    if not math.isfinite(value):
        raise ValueError(f"“{given}” is no number; write one, such as 12.5{own} or 12,5{own}")
    if found[2] and _plain(found[2]) != _plain(unit):
        raise ValueError(
            f"“{given}” is in “{found[2]}” and this question asks for "
            f"{unit or 'a number without a unit'}: write that, such as 12.5{own}"
        )
    return value


def _plain(unit: str) -> str:
    bare = re.sub(r"[\s.*·⋅∙•×]", "", unit).casefold()
    return DEGREE.get(bare, bare)


@dataclass(frozen=True)
class Sheet:
    """Hold what one candidate handed in for one form.

    ``answers`` by item id; an item left out is not answered.
    ``handed_in`` is a time in UTC as text. Raises ValueError for an id
    or an answer that cannot be.
    """

    form: str
    seal: str
    candidate: str
    answers: Mapping[str, Given]
    handed_in: str

    def __post_init__(self) -> None:
        files.identifier("candidate", self.candidate)
        if not isinstance(self.answers, dict):
            raise ValueError("answers map an item to what was answered")
        for item, given in self.answers.items():
            possible(item, given)
        try:
            moment = files.stamp(datetime.fromisoformat(self.handed_in))
        except (TypeError, ValueError):
            raise ValueError(f"{self.handed_in!r} is no time of handing in, in UTC") from None
        object.__setattr__(self, "handed_in", moment)

    @property
    def digest(self) -> str:
        """Return the fingerprint of form, candidate and answers, not the time."""
        return files.fingerprint(
            {"form": self.form, "candidate": self.candidate, "answers": self.answers}
        )

    @property
    def receipt(self) -> str:
        """Return eight letters and digits that the candidate may note down."""
        return self.digest[:8]

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
            raise ValueError(f"{Path(path).name} is damaged: {problem}") from None


@dataclass(frozen=True)
class Refusal:
    """Name a hand-in that is not marked; ``reason`` says what to do too."""

    file: str
    candidate: str
    reason: str

    def __str__(self) -> str:
        return self.reason


@dataclass(frozen=True)
class HandIns:
    """Hold the sheets to mark, one a candidate, and what was refused."""

    sheets: tuple[Sheet, ...]
    refused: tuple[Refusal, ...]


def collect(
    folder: str | Path,
    form: Form,
    closes: datetime | None = None,
    extra: Mapping[str, timedelta] | None = None,
    candidates: Iterable[str] | None = None,
    questions: Mapping[str, Question] | None = None,
) -> HandIns:
    """Read every hand-in file (*.json) of a folder; refuse by name, never stop.

    ``closes`` is the end of the sitting, ``extra`` the longer time some
    have, {"R04": timedelta(minutes=20)}, ``candidates`` the ids that sat
    (left out: any), ``questions`` the form's, for numbers with their unit
    (`in_unit`). Of two hand-ins by one candidate the earlier stands.
    """
    read, refused = [], []
    for path in sorted(Path(folder).glob("*.json")):
        try:
            read.append((Sheet.read(path), path.name))
        except (ValueError, OSError) as problem:
            refused.append(Refusal(path.name, "", str(problem)))
    sheets: dict[str, tuple[Sheet, str]] = {}
    allowed = None if candidates is None else set(candidates)
    items = set(form.items)
    for sheet, name in sorted(read, key=lambda pair: (pair[0].handed_in, pair[1])):
        end = closes and closes + (extra or {}).get(sheet.candidate, timedelta(0))
        why = _foreign(sheet, form, items, allowed) or _late(sheet, end)
        if questions and not why:
            sheet, why = _numbers(sheet, questions)
        if not why and sheet.candidate in sheets:
            first, where = sheets[sheet.candidate]
            what = "the same answers again" if first.digest == sheet.digest else "a second hand-in"
            why = f"{what}, after {where} at {first.handed_in}, which stands; nothing to do"
        if why:
            words = f"{name} of candidate {sheet.candidate}: {why}"
            refused.append(Refusal(name, sheet.candidate, words))
        else:
            sheets[sheet.candidate] = sheet, name
    return HandIns(tuple(sheet for sheet, _ in sheets.values()), tuple(refused))


def _foreign(sheet: Sheet, form: Form, items: set[str], allowed: set[str] | None) -> str:
    if sheet.form != form.id:
        return f"answers to form {sheet.form}, not {form.id}; put it in that form's folder"
    if sheet.seal != form.seal:
        return (
            f"a form {form.id} with another seal was answered; ask which file the candidate opened"
        )
    if allowed is not None and sheet.candidate not in allowed:
        return "this candidate is not on the list; correct the list or ask who handed it in"
    if not sheet.answers.keys() <= items:
        odd = ", ".join(sorted(sheet.answers.keys() - items))
        return f"it answers what the form does not ask: {odd}; ask for the file again"
    return ""


def _numbers(sheet: Sheet, questions: Mapping[str, Question]) -> tuple[Sheet, str]:
    """Return the sheet with its numbers freed of their units, or why that cannot be."""
    answers = dict(sheet.answers)
    for item, given in answers.items():
        if questions[item].kind == "number" and given is not None:
            try:
                answers[item] = in_unit(given, questions[item].unit)
            except ValueError as problem:
                return sheet, f"the answer to {item}: {problem}; ask for the file again"
    return replace(sheet, answers=answers), ""


def _late(sheet: Sheet, closes: datetime | None) -> str:
    if closes is None or sheet.handed_in <= files.stamp(closes):
        return ""
    return (
        f"late: handed in at {sheet.handed_in}, closed at {files.stamp(closes)}; to accept it all "
        f"the same, say --extra {sheet.candidate}=MIN, the minutes this candidate has more"
    )
