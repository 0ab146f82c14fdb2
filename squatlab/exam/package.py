"""The file a candidate gets: questions, pictures, a seal; nothing that answers them."""

from __future__ import annotations

import hashlib
import re
import struct
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, fields, replace
from io import BytesIO
from pathlib import Path
from typing import Any, NamedTuple

from squatlab.exam.forms import Form, FormKey, Paper
from squatlab.questions import files
from squatlab.questions.kinds import NOTHING, kind
from squatlab.questions.question import Account, PictureBox, PicturePanel, Pictures, Question

WHAT, INSIDE = "exam package", "questions.json"
"""What a package says that it is, and the file in it that has the questions."""

PICTURE = re.compile(r"clips/\d{2,4}/\d{2,4}\.webp")
"""What else may lie in a package."""

LARGEST_PICTURE = 40_000_000
"""No picture of a package is longer, in bytes [teaching-value]."""

ENCRYPTED = 0x1
"""The bit by which a zip file says that an entry is encrypted."""

UNREADABLE = (
    zipfile.BadZipFile,
    zlib.error,
    LookupError,
    EOFError,
    ValueError,
    RuntimeError,
    NotImplementedError,
    struct.error,
    MemoryError,
)
"""What reading a zip file may raise that somebody else made."""

SAME_DAY = (1980, 1, 1, 0, 0, 0)
"""When every file inside was made, as it says: the true times would tell in which
order lifts were drawn, and the same form would not be the same bytes."""

FROM_UNIX = 3
"""What a zip file says of the system that made it: the same on every machine."""


def shown(option: str) -> str:
    """Return an option as a candidate reads it."""
    return "nothing to fix" if option == NOTHING else option


class Sealed(NamedTuple):
    """Hold a form and the key that it is sealed with."""

    form: Form
    key: FormKey


class Package:
    """Hold a candidate's file: its ``form`` and its ``questions``.

    ``questions`` come without their pictures; `clip` reads those of one.
    Make it by `read`.
    """

    def __init__(self, path: Path, form: Form, questions: list[dict]) -> None:
        self.path, self.form = path, form
        self.questions = {packed["id"]: _question(packed) for packed in questions}
        if tuple(self.questions) != form.items:
            raise ValueError("its questions are not those of its form")

    @property
    def minutes(self) -> float | None:
        """Return the time to sit it at time factor 1, None without a limit."""
        return self.form.minutes

    def check(self, key: FormKey) -> None:
        """Raise ValueError unless all of it is as it was sealed.

        Compares questions, options, pictures, lifts in words, minutes and
        cut with the key; the words say which item was changed.
        """
        self.form.check(key)
        if key.papers.keys() != key.entries.keys():
            raise ValueError(
                f"form {self.form.id}: its key was sealed without its questions; make the form "
                "anew with squatlab form"
            )
        for item, question in self.questions.items():
            paper, sealed = _paper(question, self.clip(item)), key.papers[item]
            if paper.question != sealed.question or paper.text not in ("", sealed.text):
                raise ValueError(
                    f"form {self.form.id}: what item {item} shows was changed since it was sealed; "
                    "use the form's file as it was made"
                )

    @classmethod
    def read(cls, path: str | Path) -> Package:
        """Open a package; ValueError names the file and what to do."""
        path = Path(path)
        with _opened(path) as file:
            body = files.unwrapped(file.read(INSIDE), path.name, WHAT)
        try:
            return cls(path, Form(**body["form"]), body["questions"])
        except (LookupError, TypeError, ValueError, AttributeError) as problem:
            name, words = files.harmless(path.name), files.harmless(problem, 200)
            raise ValueError(f"{name} is damaged: {words}") from None

    def clip(self, item: str) -> Pictures | None:
        """Return an item's clip with its pictures; None if it has no lift.

        Raises ValueError that names the file if a picture is damaged.
        """
        question = self.questions[item]
        if question.clip is None:
            return None
        with _opened(self.path) as file:
            sheets = tuple(file.read(name) for name in question.clip.sheets)
        return replace(question.clip, sheets=sheets)


@contextmanager
def _opened(path: Path) -> Iterator[zipfile.ZipFile]:
    """Open a package to read; ValueError for what no package can be.

    Anybody may have made it. Every file inside is looked at before one is
    read: no other names (one could name a place outside), none encrypted,
    none that would grow beyond what a package holds (a few kilobytes can
    unpack to gigabytes).
    """
    try:
        with zipfile.ZipFile(path) as file:
            for entry in file.infolist():
                longest = files.LARGEST if entry.filename == INSIDE else LARGEST_PICTURE
                if entry.filename != INSIDE and not PICTURE.fullmatch(entry.filename):
                    raise ValueError(f"a file {files.harmless(entry.filename)} has no place in it")
                if entry.flag_bits & ENCRYPTED:
                    raise ValueError("it is encrypted")
                if entry.file_size > longest:
                    raise ValueError(f"{entry.filename} would grow to {entry.file_size} bytes")
            yield file
    except (OSError, *UNREADABLE) as problem:
        if isinstance(problem, OSError) and problem.filename:
            raise  # the file itself is missing or closed to us; its own words say so
        raise ValueError(
            f"{files.harmless(path.name)} is no squatlab {WHAT}, or is damaged "
            f"({files.harmless(problem, 120)}); copy it again from where you got it"
        ) from None


def _question(packed: Any) -> Question:
    """Return a question as a file tells it.

    Somebody else may have written it: TypeError or ValueError for a part
    that is not of its kind.
    """
    clip, account = packed.pop("clip"), packed.pop("account")
    lists = {name: tuple(packed[name]) for name in ("options", "words")}
    parts = {
        "clip": None if clip is None else _pictures(clip),
        "account": None if account is None else _account(account),
    }
    question = Question(**packed | lists | parts)
    _all_of(str, question.id, question.kind, question.text, question.unit)
    _all_of(str, *question.options, *question.words)
    kind(question.kind)
    return question


def _pictures(packed: Any) -> Pictures:
    """Return a lift's pictures as a file tells of them: their names stand for the sheets."""
    lists = {
        "panels": tuple(PicturePanel(*panel) for panel in packed["panels"]),
        "boxes": tuple(PictureBox(*box) for box in packed["boxes"]),
        "frames": tuple(packed["frames"]),
        "sheets": tuple(packed["sheets"]),
    }
    clip = Pictures(**packed | lists)
    _all_of(str, *clip.sheets, clip.alt)
    _all_of(int, clip.on_a_sheet, clip.width, clip.height, clip.lowest, *clip.frames)
    _all_of(int | float, clip.rate)
    return clip


def _account(packed: Any) -> Account:
    """Return a lift in words as a file tells it."""
    rows = tuple((name, tuple(cells)) for name, cells in packed["rows"])
    account = Account(packed["heading"], tuple(packed["moments"]), rows)
    _all_of(str, account.heading, *account.moments)
    for name, cells in account.rows:
        _all_of(str, name, *cells)
    return account


def _all_of(type_: Any, *values: object) -> None:
    """Raise TypeError unless every value is of a type."""
    for value in values:
        if not isinstance(value, type_) or isinstance(value, bool):
            raise TypeError(f"{files.harmless(value)} stands where it cannot")


class Packing:
    """Gather a form's questions one by one, in its order, then seal and close.

    ``key`` has what is right, and ``cut`` and ``minutes`` go into the seal
    with all that the questions show.
    """

    def __init__(self, key: FormKey, cut: float, minutes: float | None) -> None:
        self._key, self._cut, self._minutes = key, float(cut), minutes
        self._questions: list[dict] = []
        self._papers: dict[str, Paper] = {}
        self._bytes = BytesIO()
        self._file = zipfile.ZipFile(self._bytes, "w")

    def add(self, question: Question, account: Account | None = None) -> None:
        """Take the next question; names of its pictures tell its place alone.

        ``account`` is its lift in words where the question does not carry it:
        sealed all the same, so that a package with it has the same seal.
        """
        words = account or question.account
        self._papers[question.id] = _paper(replace(question, account=words), question.clip)
        packed = asdict(question)
        if question.clip:
            names = _names(len(self._questions) + 1, len(question.clip.sheets))
            for name, sheet in zip(names, question.clip.sheets, strict=True):
                self._put(name, sheet, zipfile.ZIP_STORED)
            packed["clip"]["sheets"] = names
        self._questions.append(packed)

    def sealed(self) -> Sealed:
        """Return form and key, sealed over all that was added."""
        key = replace(self._key, cut=self._cut, minutes=self._minutes, papers=dict(self._papers))
        items = tuple(self._papers)
        form = Form(key.form, items, self._cut, key.seal, self._minutes, key.policy)
        form.check(key)
        return Sealed(form, key)

    def closed(self) -> bytes:
        """Return the package's file; nothing can be added after that."""
        body = {"form": asdict(self.sealed().form), "questions": self._questions}
        self._put(INSIDE, files.wrapped(WHAT, body).encode(), zipfile.ZIP_DEFLATED)
        self._file.close()
        return self._bytes.getvalue()

    def _put(self, name: str, content: bytes, how: int) -> None:
        """Put a file into the package; ``how`` is a way of `zipfile` to pack it."""
        entry = zipfile.ZipInfo(name, SAME_DAY)
        entry.compress_type = how
        entry.create_system = FROM_UNIX
        self._file.writestr(entry, content)


def _paper(question: Question, clip: Pictures | None) -> Paper:
    """Return the fingerprints of what an item shows.

    Fields at their default are left out: one that a later version adds
    breaks no seal.
    """
    body = asdict(replace(question, clip=None, account=None))
    for field in fields(Question):
        value = body[field.name]
        if value == field.default and type(value) is type(field.default):
            del body[field.name]
    if clip:
        pictures = [hashlib.sha256(sheet).hexdigest() for sheet in clip.sheets]
        body["clip"] = asdict(clip) | {"sheets": pictures}
    account = files.fingerprint(asdict(question.account)) if question.account else ""
    return Paper(files.fingerprint(body), account)


def _names(place: int, count: int) -> list[str]:
    """Return the names of a question's sheets: they tell its place in the form alone."""
    return [f"clips/{place:02}/{number:02}.webp" for number in range(1, count + 1)]
