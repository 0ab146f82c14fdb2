"""A question as it is put, and its key apart: nothing of what is right is in the first."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape
from string import ascii_lowercase as LETTERS
from textwrap import fill
from typing import NamedTuple

from numpy.random import Generator

from squatlab.questions.kinds import Answer, Given, Kind, kind

COLUMNS = 72
"""So wide are printed questions and replies: a notebook beside its file list shows them whole."""

VIEWS = ("side", "front")
"""Panels that show a whole view; others are a closer look."""


class Reply(NamedTuple):
    """Hold what is said to one answer of its own.

    To a wrong one, why somebody would think so, and what shows otherwise.
    ``to`` is an option, or the number that a usual slip leads to.
    """

    to: str | float
    words: str


class PicturePanel(NamedTuple):
    """Hold what a part of a clip's pictures shows, and where it is, px."""

    name: str
    left: int
    top: int
    width: int
    height: int


class PictureBox(NamedTuple):
    """Hold the rectangle that the pictures of a sheet renew, px."""

    left: int
    top: int
    width: int
    height: int


@dataclass(frozen=True)
class Pictures:
    """Hold a lift as pictures, and no number of where its points are.

    The first of ``sheets`` (WebP) is the whole first picture, ``width`` ×
    ``height`` px. Each other has, beside each other, up to ``on_a_sheet``
    rectangles that lie in its box of ``boxes`` upon the first picture.
    ``frames`` tells which picture each frame shows, counted over all
    sheets: a lifter who stands still needs one. ``panels`` are its views
    and closer looks. ``lowest`` is a frame, ``alt`` one sentence.
    """

    sheets: tuple[bytes, ...]
    boxes: tuple[PictureBox, ...]
    on_a_sheet: int
    width: int
    height: int
    frames: tuple[int, ...]
    rate: float
    panels: tuple[PicturePanel, ...]
    lowest: int
    alt: str

    @property
    def views(self) -> tuple[PicturePanel, ...]:
        """Return the panels that show the whole movement."""
        return tuple(panel for panel in self.panels if panel.name in VIEWS)

    def place(self, frame: int) -> tuple[int, int]:
        """Return the sheet that shows a frame, and which of its pictures does."""
        picture = self.frames[frame]
        if picture == 0:
            return 0, 0
        sheet, place = divmod(picture - 1, self.on_a_sheet)
        return sheet + 1, place


SCROLLED = '<div style="overflow-x:auto" tabindex="0" data-lm-suppress-shortcuts="true">'
"""Around a table that may be wider than its page: scrolled in its place, by keyboard too."""


NARROW = 'style="padding: 3px clamp(1.5px, 1.2vw - 11px, 8px); font-size: 12px; text-align: left"'
"""The look of a cell: so that ten columns stand beside each other on a small screen."""


@dataclass(frozen=True, repr=False)
class Account:
    """Hold a lift in words over time, for anyone who cannot watch the clip.

    A heading, and rows of words, one for each moment. It says how things
    stand and names no fault; the reader judges. Printing it shows a table.
    """

    heading: str
    moments: tuple[str, ...]
    rows: tuple[tuple[str, tuple[str, ...]], ...]

    def __repr__(self) -> str:
        rows = [("", self.moments), *self.rows]
        table = [(words, *cells) for words, cells in rows]
        widths = [max(map(len, column)) for column in zip(*table, strict=True)]
        lines = [
            "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
            for row in table
        ]
        return "\n".join([self.heading, "", *lines])

    def _repr_html_(self) -> str:
        """Return a table whose cells wrap: the lines of text are wider than most pages."""
        head = "".join(f'<th scope="col" {NARROW}>{escape(moment)}</th>' for moment in self.moments)
        rows = "".join(
            f'<tr><th scope="row" {NARROW}>{escape(words)}</th>'
            + "".join(f"<td {NARROW}>{escape(cell)}</td>" for cell in cells)
            + "</tr>"
            for words, cells in self.rows
        )
        return (
            f"<p>{escape(self.heading)}</p>{SCROLLED}<table><thead><tr><td></td>{head}</tr></thead>"
            f"<tbody>{rows}</tbody></table></div>"
        )


@dataclass(frozen=True, repr=False)
class Question:
    """Hold a question as it is put.

    ``kind`` is a key of `squatlab.questions.kinds.KINDS`. ``options`` are
    what an answer may name, in the order shown; a number is in ``unit``,
    right within ``tolerance``, which is said. ``words`` are the options as
    people read them where these are ids; they go without letters then.
    ``clip`` and ``account`` are a lift to watch and the same in words,
    where there is one.
    """

    id: str
    kind: str
    text: str
    options: tuple[str, ...] = ()
    unit: str = ""
    clip: Pictures | None = None
    account: Account | None = None
    tolerance: float = 0.0
    words: tuple[str, ...] = ()

    @property
    def how(self) -> Kind:
        """Return what its kind does."""
        return kind(self.kind)

    @property
    def letters(self) -> str:
        """Return the letters of the options."""
        return LETTERS[: len(self.options)]

    def called(self, option: str) -> str:
        """Return how a reply calls an option: by its letter, or its words."""
        place = self.options.index(option)
        return f"“{self.words[place]}”" if self.words else self.letters[place]

    def named(self, option: str) -> str:
        """Return an option as it was put: letter and words, or its words."""
        return self.called(option) if self.words else f"{self.called(option)}) {option}"

    def sent(self, given: int | Sequence[int] | str | None) -> object:
        """Return the answer that a page sends, which names options by their places.

        What is typed, and no answer, stay as they are. Raises ValueError
        for a place that is not there.
        """
        if given is None or isinstance(given, str):
            return given
        places = [given] if isinstance(given, int) else list(given)
        if not set(places) <= set(range(len(self.options))):
            raise ValueError(
                f"there is no option {given!r}; places are 0 to {len(self.options) - 1}"
            )
        options = [self.options[place] for place in places]
        return options[0] if isinstance(given, int) else options

    @property
    def asks_for(self) -> str:
        """Return in words what to answer."""
        if self.options:
            return f"Answer with {'a letter' if self.how.control == 'one' else self.how.paper}."
        if self.unit == "holes":  # which one, not how many
            return "Answer with the number of the hole."
        unit = {"in": "inches"}.get(self.unit, self.unit)
        return f"Answer with a number in {unit} (± {self.tolerance:g})."

    def __repr__(self) -> str:
        lines = [
            f"  {letter}) {option}"
            for letter, option in zip(self.letters, self.options, strict=False)
        ]
        return "\n".join([fill(self.text, COLUMNS), *lines, self.asks_for])


@dataclass(frozen=True)
class Key:
    """Hold what is right for one question, and what to say to each answer.

    ``answer``: one option (first, choice), all that are accepted (cue),
    all that are there, maybe none (spot), the order (rank, with the gain
    of each place in ``gains``), or a number, right within ``tolerance``.
    ``cell`` is its place in the blueprint. ``hint`` is for a second try,
    ``replies`` for answers of their own, ``why`` says why the key is right.
    Raises ValueError if they do not fit together.
    """

    kind: str
    answer: Answer
    points: float = 1.0
    cell: str = ""
    options: tuple[str, ...] = ()
    tolerance: float = 0.0
    gains: tuple[float, ...] = ()
    hint: str = ""
    why: str = ""
    replies: tuple[Reply, ...] = ()

    def __post_init__(self) -> None:
        for name in ("answer", "options", "gains"):
            if isinstance(value := getattr(self, name), list):  # as JSON has it
                object.__setattr__(self, name, tuple(value))
        object.__setattr__(self, "replies", tuple(Reply(*one) for one in self.replies))
        if problem := self.how.flaw(self):
            raise ValueError(f"{problem} (kind {self.kind!r}, answer {self.answer!r})")
        if not 0 < self.points < math.inf:
            raise ValueError(f"points are {self.points}; give more than 0")
        for reply in self.replies:
            if self.how.needs_options and reply.to not in self.options:
                raise ValueError(f"there is a reply to {reply.to!r}, which is no option")

    @property
    def how(self) -> Kind:
        """Return what its kind does."""
        return kind(self.kind)

    def reply(self, given: Given) -> str:
        """Return what is said to an answer, or "" if nothing of its own."""
        if self.how.needs_options:
            return next((reply.words for reply in self.replies if reply.to == given), "")
        near = [reply for reply in self.replies if abs(reply.to - given) <= self.tolerance]
        return min(near, key=lambda reply: abs(reply.to - given)).words if near else ""


class Check(NamedTuple):
    """Hold a question with its key: what a maker of questions returns."""

    question: Question
    key: Key

    @property
    def stated_exactly(self) -> str:
        """Return the key in words, a number with its tolerance."""
        return self.key.how.stated_exactly(self.question, self.key)


def choice(
    rng: Generator,
    text: str,
    options: Mapping[str, str],
    right: str,
    why: str,
    hint: str,
) -> Check:
    """Return a question of one right option, shuffled by the generator.

    ``options`` maps each to what is said to it if it is wrong.
    """
    names = list(options)
    order = tuple(names[place] for place in rng.permutation(len(names)))
    replies = tuple(Reply(name, options[name]) for name in order if name != right)
    key = Key("choice", right, options=order, hint=hint, why=why, replies=replies)
    return Check(Question("", "choice", text, order), key)


def number(
    text: str,
    right: float,
    unit: str,
    tolerance: float,
    why: str,
    hint: str,
    slips: Mapping[float, str],
) -> Check:
    """Return a question for a number.

    ``slips`` maps the numbers that usual mistakes lead to, to what is said
    then. One too near the right answer, or one named before, to be told
    from it is left out.
    """
    replies: list[Reply] = []
    for slip, words in slips.items():
        is_distinct = all(abs(slip - reply.to) > tolerance for reply in replies)
        if abs(slip - right) > 2 * tolerance and is_distinct:
            replies.append(Reply(float(slip), words))
    key = Key(
        "number", float(right), tolerance=tolerance, hint=hint, why=why, replies=tuple(replies)
    )
    return Check(Question("", "number", text, unit=unit, tolerance=tolerance), key)
