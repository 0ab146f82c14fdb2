"""The file a candidate gets: questions, pictures, a seal; nothing that answers them."""

from __future__ import annotations

import zipfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field, replace
from io import BytesIO
from pathlib import Path
from typing import NamedTuple

from squatlab.exam.forms import Form
from squatlab.questions import files
from squatlab.questions.keys import NOTHING

WHAT, INSIDE = "exam package", "questions.json"

SAME_DAY = (1980, 1, 1, 0, 0, 0)
"""Of every file inside: when something was made says in which order."""


class Panel(NamedTuple):
    """Hold what a part of a clip's pictures shows, and where it is, px."""

    name: str
    left: int
    top: int
    width: int
    height: int


class Box(NamedTuple):
    """Hold the rectangle that the pictures of a sheet renew, px."""

    left: int
    top: int
    width: int
    height: int


@dataclass(frozen=True)
class Clip:
    """Hold a lift as pictures, and no number of where its points are.

    The first of ``sheets`` (WebP) is the whole first picture, ``width`` ×
    ``height`` px. Each other has, beside each other, up to ``on_a_sheet``
    rectangles that lie in its box of ``boxes`` upon the first picture.
    ``frames`` tells which picture each frame shows, counted over all
    sheets: a lifter who stands still needs one. ``panels`` are its views
    and closer looks. ``lowest`` is a frame, ``alt`` one sentence.
    """

    sheets: tuple[bytes, ...]
    boxes: tuple[Box, ...]
    on_a_sheet: int
    width: int
    height: int
    frames: tuple[int, ...]
    rate: float
    panels: tuple[Panel, ...]
    lowest: int
    alt: str

    def place(self, frame: int) -> tuple[int, int]:
        """Return the sheet that shows a frame, and which of its pictures does."""
        picture = self.frames[frame]
        if picture == 0:
            return 0, 0
        sheet, place = divmod(picture - 1, self.on_a_sheet)
        return sheet + 1, place


@dataclass(frozen=True)
class Text:
    """Hold the same lift in numbers over time, for who cannot watch it."""

    heading: str
    moments: tuple[str, ...]
    rows: tuple[tuple[str, tuple[str, ...]], ...]


@dataclass(frozen=True)
class Question:
    """Hold one question as it is put.

    ``options`` are what an answer may name, in the order shown; a number
    is in ``unit``. ``text`` is the lift in words, if it was packed.
    """

    item: str
    kind: str
    prompt: str
    options: tuple[str, ...]
    unit: str = ""
    clip: Clip | None = None
    text: Text | None = None


def shown(option: str) -> str:
    """Return an option as a candidate reads it."""
    return "nothing to fix" if option == NOTHING else option


class Package:
    """Hold a candidate's file: its ``form``, ``minutes`` and ``questions``.

    ``questions`` come without their pictures; `clip` reads those of one.
    Make it by `read`.
    """

    def __init__(self, path: Path, form: Form, minutes: float, told: list[dict]) -> None:
        self.path, self.form, self.minutes = path, form, minutes
        self.questions = {one["item"]: _question(one) for one in told}
        if tuple(self.questions) != form.items:
            raise ValueError("its questions are not those of its form")

    @classmethod
    def read(cls, path: str | Path) -> Package:
        """Open a package; ValueError names the file and what to do."""
        path = Path(path)
        with _opened(path) as file:
            body = files.unwrapped(file.read(INSIDE), path.name, WHAT)
        try:
            return cls(path, Form(**body["form"]), body["minutes"], body["questions"])
        except (LookupError, TypeError, ValueError) as problem:
            raise ValueError(f"{path.name} is damaged: {problem}") from None

    def clip(self, item: str) -> Clip | None:
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
    try:
        with zipfile.ZipFile(path) as file:
            yield file
    except (zipfile.BadZipFile, LookupError, EOFError) as problem:
        raise ValueError(
            f"{path.name} is no squatlab {WHAT}, or is damaged ({problem}); copy it again from "
            "where you got it"
        ) from None


def _question(told: dict) -> Question:
    clip, text = told.pop("clip"), told.pop("text")
    if clip:
        lists = {
            "panels": tuple(Panel(*panel) for panel in clip["panels"]),
            "boxes": tuple(Box(*box) for box in clip["boxes"]),
            "frames": tuple(clip["frames"]),
            "sheets": tuple(clip["sheets"]),
        }
        clip = Clip(**clip | lists)
    if text:
        rows = tuple((name, tuple(cells)) for name, cells in text["rows"])
        text = Text(text["heading"], tuple(text["moments"]), rows)
    return Question(**told | {"options": tuple(told["options"]), "clip": clip, "text": text})


@dataclass
class Packing:
    """Gather questions one by one, in the order of the form, then write."""

    form: Form
    minutes: float
    _told: list[dict] = field(default_factory=list)
    _bytes: BytesIO = field(default_factory=BytesIO)

    def __post_init__(self) -> None:
        self._file = zipfile.ZipFile(self._bytes, "w")

    def add(self, question: Question) -> None:
        """Take the next question; names of its pictures tell its place alone."""
        told = asdict(question)
        if question.clip:
            names = list(_names(len(self._told) + 1, question.clip.sheets))
            for name, sheet in zip(names, question.clip.sheets, strict=True):
                self._put(name, sheet, zipfile.ZIP_STORED)
            told["clip"]["sheets"] = names
        self._told.append(told)

    def write(self, path: str | Path) -> Path:
        """Write the package, whole or not at all."""
        body = {"form": asdict(self.form), "minutes": self.minutes, "questions": self._told}
        self._put(INSIDE, files.wrapped(WHAT, body).encode(), zipfile.ZIP_DEFLATED)
        self._file.close()
        return files.write_whole(path, self._bytes.getvalue())

    def _put(self, name: str, content: bytes, how: int) -> None:
        entry = zipfile.ZipInfo(name, SAME_DAY)
        entry.compress_type, entry.create_system = how, 3  # as from any machine
        self._file.writestr(entry, content)


def _names(place: int, sheets: Iterable[bytes]) -> Iterator[str]:
    for number, _ in enumerate(sheets, 1):
        yield f"clips/{place:02}/{number:02}.webp"
