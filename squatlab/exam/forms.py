"""A form and its key: which items, and what is right.

The form may travel to a candidate. The key stays with the instructor.
"""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

from squatlab import storage
from squatlab.exam.policy import ExamPolicy, shipped_policy
from squatlab.questions import files
from squatlab.questions.question import Key
from squatlab.ranges import number_within

UNREVIEWED = "answer key not yet checked by coaches"
"""Until coaches have answered an item blind, its key is the program's opinion."""

MOST_MINUTES = 24 * 60
"""No form is sat for longer than a day [teaching-value]."""


class TimeFactors(NamedTuple):
    """Hold between what lies how many times the usual time a candidate may have."""

    least: float
    most: float

    def objection(self, time_factor: float) -> str:
        """Return why a time factor cannot be, or ""."""
        if self.least <= time_factor <= self.most:
            return ""
        return f"the time factor is {time_factor:g}; it is {self.least:g} to {self.most:g}"


TIME_FACTORS = TimeFactors(1.0, 4.0)
"""What may be agreed with a candidate [teaching-value]."""


def check_minutes(form: str, minutes: float) -> None:
    """Raise ValueError for a time that no form can have."""
    if not 0 < minutes <= MOST_MINUTES:
        raise ValueError(
            f"form {form}: its time is {files.harmless(minutes)} minutes; it is more than 0 and at "
            f"most {MOST_MINUTES}"
        )


def check_cut(form: str, cut: float, questions: int) -> None:
    """Raise ValueError for a cut that so many questions cannot have."""
    number_within(f"form {form}: the cut", cut, 0, questions, "right items")


class Paper(NamedTuple):
    """Hold the fingerprints of what one item shows.

    ``question`` is of its words, options and pictures, ``text`` of the
    lift in words, "" for an item without a lift: it is sealed for every
    candidate, though few get it.
    """

    question: str
    text: str


@dataclass(frozen=True)
class FormKey:
    """Hold the key of a form: its entries by item id, in any order.

    ``salt`` keeps the seal from being guessed by trying keys. ``cut``,
    ``minutes``, ``papers``, what every item shows, and the ``policy`` the
    form was drawn by are sealed as well: to change one of them is to make
    another seal.
    """

    form: str
    entries: Mapping[str, Key]
    salt: str
    cut: float | None = None
    minutes: float | None = None
    papers: Mapping[str, Paper] = field(default_factory=dict)
    policy: ExamPolicy = field(default_factory=shipped_policy)

    @classmethod
    def of(cls, form: str, entries: Mapping[str, Key]) -> FormKey:
        """Make a key with a fresh salt of 32 random bytes."""
        return cls(files.identifier("form", form), dict(entries), secrets.token_hex(32))

    @property
    def seal(self) -> str:
        """Return the SHA-256 over the whole key and its salt."""
        return files.fingerprint(self._body())

    def write(self, path: str | Path) -> Path:
        """Write the key to a file that only its owner may read."""
        return files.write_whole(path, self.text, mode=storage.OWNER_ONLY)

    @property
    def text(self) -> str:
        """Return what `write` writes."""
        return files.wrapped("exam key", self._body())

    @classmethod
    def read(cls, path: str | Path) -> FormKey:
        """Read a key; ValueError names what is wrong with the file."""
        body = files.load(path, "exam key")
        try:
            entries = {item: Key(**entry) for item, entry in body["entries"].items()}
            papers = {item: Paper(*paper) for item, paper in body["papers"].items()}
            salt = bytes.fromhex(body["salt"]).hex()
            policy = ExamPolicy.of(body["policy"])
            key = cls(body["form"], entries, salt, body["cut"], body["minutes"], papers, policy)
            files.identifier("form", key.form)
            return key
        except (LookupError, TypeError, ValueError, AttributeError) as problem:
            name, words = files.harmless(Path(path).name), files.harmless(problem, 200)
            raise ValueError(f"{name} is damaged: {words}") from None

    def _body(self) -> dict[str, Any]:
        """Return all of the key, as it is sealed and as its file has it."""
        entries = {item: asdict(entry) for item, entry in self.entries.items()}
        return {
            "form": self.form,
            "salt": self.salt,
            "entries": entries,
            "cut": self.cut,
            "minutes": self.minutes,
            "papers": {item: list(paper) for item, paper in self.papers.items()},
            "policy": asdict(self.policy),
        }


@dataclass(frozen=True)
class Form:
    """Hold a form: item ids in their order, the cut, the seal, the time.

    ``cut``: how many items of the kind ``first`` must be right to pass.
    ``minutes`` to sit it at time factor 1, None without a limit. All else
    that is decided about it follows the ``policy``. Raises ValueError for
    an item that stands there twice, or none.
    """

    id: str
    items: tuple[str, ...]
    cut: float
    seal: str
    minutes: float | None = None
    policy: ExamPolicy = field(default_factory=shipped_policy)

    def __post_init__(self) -> None:
        files.identifier("form", self.id)
        object.__setattr__(self, "items", tuple(self.items))
        object.__setattr__(self, "policy", ExamPolicy.of(self.policy))
        for item in self.items:
            files.identifier("item", item)
        if not self.items or len(set(self.items)) != len(self.items):
            raise ValueError(f"form {self.id}: give one item at least, and none twice")
        if self.minutes is not None:
            check_minutes(self.id, self.minutes)
        check_cut(self.id, self.cut, len(self.items))

    def write(self, path: str | Path) -> Path:
        """Write the form to a file that gives nothing away."""
        return files.save(path, "exam form", asdict(self))

    @classmethod
    def read(cls, path: str | Path) -> Form:
        """Read a form; ValueError names what is wrong with the file."""
        body = files.load(path, "exam form")
        try:
            return cls(**body)
        except (TypeError, ValueError) as problem:
            name, words = files.harmless(Path(path).name), files.harmless(problem, 200)
            raise ValueError(f"{name} is damaged: {words}") from None

    def check(self, key: FormKey) -> None:
        """Raise ValueError unless this is the key the form was sealed with."""
        if key.form != self.id:
            raise ValueError(f"this is the key of form {key.form}; form {self.id} needs its own")
        if key.seal != self.seal:
            raise ValueError(
                f"form {self.id}: the key is not the one the form was sealed with; use the key "
                "file written beside it, unchanged"
            )
        if key.cut not in (None, self.cut):
            raise ValueError(
                f"form {self.id}: its cut is {self.cut:g} and was sealed as {key.cut:g}; use the "
                "form's file as it was made"
            )
        if key.minutes not in (None, self.minutes):
            raise ValueError(
                f"form {self.id}: its time was changed since it was sealed with {key.minutes:g} "
                "minutes; use the form's file as it was made"
            )
        if key.policy != self.policy:
            raise ValueError(
                f"form {self.id}: its policy was changed since it was sealed; use the form's file "
                "as it was made"
            )
        if set(key.entries) != set(self.items):
            odd = ", ".join(sorted(set(key.entries) ^ set(self.items)))
            raise ValueError(f"form {self.id}: form and key have not the same items: {odd}")
