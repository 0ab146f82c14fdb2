"""What is filled in on an instructor's form: numbers, words, choices, days, files.

A field has a label, a control and a value, or an error that says what is
missing or wrong. `desk` makes forms of fields and shows what comes of them.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from ipywidgets import Checkbox, DatePicker, Dropdown, FileUpload, HBox, Layout, Text

from squatlab import storage, tables
from squatlab.questions.typed_numbers import in_unit
from squatlab.units import QuantityKind

LABEL_PX, FIELD_PX = 150, 420
"""Width of a field's label, and of label and field together, pixels."""

NO_FILE = ""
"""Stands in a list of files for none of them."""

DEMO = tables.folder("data") / "demo"
"""The files of the invented rowing club, which a `FileField` offers."""


def new_name(path: str | Path) -> Path:
    """Return the path, or the next of its name that nobody has: cards-2.pdf."""
    path, number = Path(path), 2
    free = path
    while free.exists():
        free, number = path.with_name(f"{path.stem}-{number}{path.suffix}"), number + 1
    return free


class Field:
    """Hold one thing to fill in: its label, its control, and the value it gives.

    ``value`` is what is filled in, None for what may be left out; it raises
    ValueError that says what is missing or wrong. ``words`` is what a page
    without a kernel shows.
    """

    def __init__(self, label: str, control: Any, shown: Any = None) -> None:
        self.label, self.control, self.shown = label, control, shown or control

    def watch(self, changed: Callable[[], object]) -> None:
        """Call ``changed`` whenever something else is filled in."""
        self.control.observe(lambda _: changed(), "value")

    @property
    def value(self) -> Any:
        """Return what is filled in."""
        return self.control.value

    @property
    def words(self) -> str:
        """Return what is filled in, to read."""
        return str(self.control.value)


def _described(label: str, **more: Any) -> dict[str, Any]:
    """Return what makes a stock control one of a form: its label and width."""
    return {
        "description": label,
        "style": {"description_width": f"{LABEL_PX}px"},
        "layout": Layout(width=f"{FIELD_PX}px", max_width="100%"),
    } | more


class TypedNumber(Field):
    """Ask for a number with its unit: metric or US, whatever is typed.

    ``kind`` is a `QuantityKind`, whose value is SI and whose unit a bare
    number has, or a unit such as "min" of which there is only one. ``start``,
    ``low`` and ``high`` are in SI, or in that unit.
    """

    def __init__(
        self,
        label: str,
        kind: QuantityKind | str,
        start: float | None,
        low: float,
        high: float,
        needed: bool = True,
        whole: bool = False,
    ) -> None:
        self.kind, self.low, self.high = kind, low, high
        self.needed, self.whole = needed, whole
        self._start = start
        self._start_text = "" if start is None else self._written(start)
        super().__init__(
            label,
            Text(
                self._start_text,
                continuous_update=False,
                placeholder=f"such as {self._written(high / 2)}" if needed else "may be left out",
                **_described(label),
            ),
        )

    def forget_start(self) -> None:
        """Empty the field where it still says what it began with."""
        if self.control.value == self._start_text:
            self.control.value = ""

    def _written(self, value: float) -> str:
        """Return a number of the field with its unit."""
        if isinstance(self.kind, QuantityKind):
            return self.kind.words(value)
        return f"{value:g} {self.kind}".strip()

    @property
    def value(self) -> float | None:
        """Return the number in SI, or None where it may be left out."""
        text = self.control.value.strip()
        if not text and not self.needed:
            return None
        if text and text == self._start_text:
            return self._start  # exact: what is shown of it is rounded
        if not text:
            raise ValueError(f"{self.label}: is missing")
        try:
            number = self._read(text)
        except ValueError as error:
            raise ValueError(f"{self.label}: {error}") from None
        nearest = min(max(number, self.low), self.high)
        # An end is written rounded: anyone who types it as it is written means the end itself.
        if self._written(number) != self._written(nearest):
            raise ValueError(
                f"{self.label}: {text} is not possible; it must lie from "
                f"{self._written(self.low)} to {self._written(self.high)}"
            )
        if self.whole and nearest != round(nearest):
            raise ValueError(f"{self.label}: {text} is no whole number")
        return int(nearest) if self.whole else nearest

    def _read(self, text: str) -> float:
        """Return a typed number in SI, or in the only unit. Raises ValueError for none."""
        if not isinstance(self.kind, QuantityKind):
            return in_unit(text, self.kind)
        # A bare number is in the unit that is shown; everything else says its own.
        written = self.kind.written
        return in_unit(text, written.unit) * written.size

    @property
    def words(self) -> str:
        """Return what was typed."""
        return self.control.value or "left out"


class TypedText(Field):
    """Ask for words."""

    def __init__(self, label: str, start: str, needed: bool = True) -> None:
        self.needed = needed
        super().__init__(label, Text(start, continuous_update=False, **_described(label)))

    @property
    def value(self) -> str:
        """Return the words."""
        if self.needed and not self.control.value.strip():
            raise ValueError(f"{self.label}: is missing")
        return self.control.value.strip()


class Chosen(Field):
    """Ask for one of a few: (words, value)."""

    def __init__(self, label: str, options: Sequence[tuple[str, Any]], value: Any = None) -> None:
        value = options[0][1] if value is None else value
        super().__init__(label, Dropdown(options=options, value=value, **_described(label)))

    @property
    def words(self) -> str:
        """Return the words of what is chosen."""
        return str(self.control.label)


class Ticked(Field):
    """Ask for yes or no."""

    def __init__(self, label: str, on: bool = False) -> None:
        super().__init__(
            label,
            Checkbox(on, description=label, indent=False, layout=Layout(width=f"{FIELD_PX}px")),
        )

    @property
    def words(self) -> str:
        """Return yes or no."""
        return "yes" if self.control.value else "no"


class DayField(Field):
    """Ask for a date."""

    def __init__(self, label: str) -> None:
        super().__init__(label, DatePicker(**_described(label)))

    @property
    def words(self) -> str:
        """Return the date, or that there is none."""
        return str(self.control.value or "not chosen")


class FileField(Field):
    """Ask for a file: the invented club's, one beside the notebook, or one to add.

    ``demo`` are the files that travel with the course, by words. What is
    added is kept beside the notebook, under a name that nobody has.
    """

    def __init__(
        self,
        label: str,
        demo: Mapping[str, Path],
        suffixes: Sequence[str],
        folder: Path | None = None,
        needed: bool = True,
    ) -> None:
        self.demo, self.needed = dict(demo), needed
        self.suffixes, self.folder = tuple(suffixes), folder or Path()
        choice = Dropdown(**_described(label, layout=Layout(width="100%")))
        self._add = FileUpload(
            accept=",".join(suffixes), description="Add a file", layout=Layout(width="155px")
        )
        self._add.observe(lambda change: self._added(change.new), "value")
        room = Layout(width=f"{FIELD_PX + 165}px", max_width="100%")
        super().__init__(label, choice, HBox([choice, self._add], layout=room))
        self.look_again()
        choice.value = next(iter(self.demo.values()), self.control.options[-1][1])

    def look_again(self) -> None:
        """Offer what is beside the notebook now, and keep what is chosen."""
        chosen = self.control.value
        own = sorted(
            path
            for path in self.folder.iterdir()
            if path.suffix.lower() in self.suffixes and not path.name.startswith(".")
        )
        options = [(f"invented club: {words}", path) for words, path in self.demo.items()]
        options += [(path.name, path) for path in own]
        if not self.needed:
            options.append(("none", NO_FILE))
        self.control.options = options or [("add a file first", NO_FILE)]
        if chosen in [value for _, value in self.control.options]:
            self.control.value = chosen

    def add(self, name: str, content: bytes) -> Path:
        """Keep a file beside the notebook and choose it; return where it is.

        A file with the same content is not kept twice.
        """
        path = self.folder / Path(name).name
        if path.exists() and _digest(path.read_bytes()) != _digest(content):
            path = new_name(path)
        if not path.exists():
            storage.write(path, content)
        self.look_again()
        self.control.value = path
        return path

    def _added(self, files: Sequence[Mapping[str, Any]]) -> None:
        for file in files:
            self.add(file["name"], bytes(file["content"]))

    @property
    def value(self) -> Path | None:
        """Return the file, None where it may be left out."""
        if self.control.value == NO_FILE and self.needed:
            raise ValueError(f"{self.label}: add a file ({', '.join(self.suffixes)})")
        return None if self.control.value == NO_FILE else self.control.value

    @property
    def words(self) -> str:
        """Return which file is chosen."""
        return str(self.control.label)


def _digest(content: bytes) -> bytes:
    return hashlib.sha256(content).digest()
