"""Forms of the instructor's desk: fields, steps that say what is missing, results.

A form is filled in where a cell would be edited. Its ``values`` are immutable
and go to the functions that a cell calls: `DeskPart.result` shows what such a call
returns, and again whenever a value changes. Without a kernel the page keeps
what was filled in and what came of it.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Callable, Mapping, Sequence
from html import escape
from pathlib import Path
from threading import RLock
from typing import Any

import anywidget
from ipywidgets import (
    HTML,
    Box,
    Checkbox,
    DatePicker,
    Dropdown,
    FileUpload,
    HBox,
    Layout,
    Text,
    VBox,
)
from traitlets import Unicode

from squatlab import storage, units
from squatlab.questions.typed_numbers import in_unit
from squatlab.show import paper
from squatlab.show.controls import Repair, button
from squatlab.units import QuantityKind

LABEL_PX, FIELD_PX = 150, 420
"""Width of a field's label, and of label and field together, pixels."""

NO_FILE = ""
"""Stands in a list of files for none of them."""

PAPERS = (("A4", "A4"), ("US Letter", "Letter"))


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
        if not self.low <= number <= self.high:
            raise ValueError(
                f"{self.label}: {text} is not possible; it must lie from "
                f"{self._written(self.low)} to {self._written(self.high)}"
            )
        if self.whole and number != round(number):
            raise ValueError(f"{self.label}: {text} is no whole number")
        return int(number) if self.whole else number

    def _read(self, text: str) -> float:
        if not isinstance(self.kind, QuantityKind):
            return in_unit(text, self.kind)
        written = self.kind.written
        # A bare number is in the unit that is shown; everything else says its own.
        bare = math.nan
        try:
            bare = float(text.replace(",", "."))
        except ValueError:
            return in_unit(text, written.unit) * written.size
        return bare * written.size

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


class FormStep:
    """Hold some fields that belong together, and what they give.

    ``check`` returns a sentence about what they give, or raises ValueError
    or OSError that says what is missing.
    """

    def __init__(self, title: str, fields: Mapping[str, Field], check: Callable[[], str]) -> None:
        self.title, self.fields, self._check = title, dict(fields), check
        self.complete, self.message = False, ""
        self._status = HTML()
        self._status.add_class("squatlab-sentence")
        rows = Box(
            [field.shown for field in self.fields.values()],
            layout=Layout(flex_flow="row wrap", grid_gap="2px 24px", align_items="center"),
        )
        self.box = VBox([HTML(f"<b>{escape(title)}</b>"), rows, self._status])

    def refresh(self) -> None:
        """Check again, and say what the fields give or what is missing."""
        try:
            self.message, self.complete = self._check(), True
        except (ValueError, OSError) as error:
            self.message, self.complete = str(error), False
        mark = "✓" if self.complete else "To fix:"
        words = "<br>".join(map(escape, self.message.splitlines()))
        self._status.value = f'<p role="status"><b>{mark}</b> {words}</p>'


class DeskPart(VBox):
    """Give values that may change: a form, or a result of one.

    ``values`` are immutable; reading them raises ValueError that says what
    is missing.
    """

    def __init__(self, children: Sequence[Any]) -> None:
        self._listeners: list[Callable[[], object]] = []
        self._lock = RLock()
        super().__init__([*children, Repair()])
        self.add_class("squatlab")
        self.add_class("squatlab-desk")

    @property
    def values(self) -> Any:
        """Return what is filled in, or what came of it."""
        raise NotImplementedError

    def on_change(self, changed: Callable[[], object]) -> None:
        """Call ``changed`` after every change."""
        self._listeners.append(changed)

    def _tell(self) -> None:
        for listener in self._listeners:
            listener()

    def result(self, make: Callable[[Any], Any]) -> FormResult:
        """Show what ``make`` returns for the values, and again when they change."""
        return FormResult(self, make)

    def pressed(self, label: str, make: Callable[[Any], Any]) -> PressedResult:
        """Show what ``make`` returns for the values; again when a button is pressed.

        For what takes long: a change says that the button waits.
        """
        return PressedResult(self, label, make)

    def saving(self, title: str, files: Callable[[Any], Mapping[str, str | bytes]]) -> SaveRow:
        """Return a button that saves files made of the values: content by name."""
        return SaveRow(self, title, files)

    def printing(
        self, file: str, title: str, pages: Callable[[Any, str], Sequence[Any]]
    ) -> PrintRow:
        """Return the buttons that save and print pages made of the values.

        ``pages`` gets the values and the size of paper, "A4" or "Letter".
        """
        return PrintRow(self, file, title, pages)

    def _kept_html(self) -> str:
        raise NotImplementedError

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        """Add what readers without a kernel see."""
        bundle = super()._repr_mimebundle_(**kwargs)
        if bundle is None:
            return None
        bundle["text/plain"], bundle["text/html"] = repr(self), self._kept_html()
        return bundle


class DeskForm(DeskPart):
    """Hold steps to fill in; a subclass says what their values are."""

    def __init__(self, name: str, steps: Sequence[FormStep], also: Sequence[Any] = ()) -> None:
        self.name, self.steps = name, tuple(steps)
        self._quiet = False
        super().__init__([*(step.box for step in self.steps), *also])
        for field in self.fields.values():
            field.watch(self._changed)
        self._check()

    @property
    def fields(self) -> dict[str, Field]:
        """Return every field by its name."""
        return {name: field for step in self.steps for name, field in step.fields.items()}

    @property
    def missing(self) -> tuple[str, ...]:
        """Return what each step that is not complete says."""
        return tuple(f"{step.title}: {step.message}" for step in self.steps if not step.complete)

    @property
    def values(self) -> Any:
        """Return what is filled in, immutable. Raises ValueError if anything is missing."""
        if self.missing:
            raise ValueError("\n".join(self.missing))
        return self._values()

    def _values(self) -> Any:
        raise NotImplementedError

    def fill(self, **wanted: Any) -> None:
        """Fill in several fields at once, as if by hand. Raises KeyError for an unknown one."""
        self._quiet = True
        try:
            for name, value in wanted.items():
                self.fields[name].control.value = value
        finally:
            self._quiet = False
        self._changed()

    def _check(self) -> None:
        for step in self.steps:
            step.refresh()

    def _changed(self) -> None:
        if self._quiet:
            return
        with self._lock:
            self._check()
            self._tell()

    def __repr__(self) -> str:
        lines = [self.name]
        for step in self.steps:
            lines.append(step.title)
            lines += [f"  {field.label}: {field.words}" for field in step.fields.values()]
            mark = "complete" if step.complete else "missing"
            lines += [f"  {mark}: {line}" for line in step.message.splitlines()]
        return "\n".join(lines)

    def _kept_html(self) -> str:
        parts = []
        for step in self.steps:
            rows = "".join(
                f"<dt>{escape(field.label)}</dt><dd>{escape(field.words)}</dd>"
                for field in step.fields.values()
            )
            words = "<br>".join(map(escape, step.message.splitlines()))
            mark = "✓" if step.complete else "To fix:"
            parts.append(f"<p><b>{escape(step.title)}</b></p><dl>{rows}</dl><p>{mark} {words}</p>")
        return f'<div class="squatlab-form">{"".join(parts)}</div>'


class FormResult(DeskPart):
    """Show what a form's values give; where they are incomplete, what is missing.

    ``values`` is what ``make`` returned. It is shown as a notebook would
    show it; a list or tuple item by item.
    """

    def __init__(self, source: DeskPart, make: Callable[[Any], Any]) -> None:
        self._source, self._make = source, make
        self._made: Any = None
        self.error = ""
        self._room = VBox()
        super().__init__([self._room])
        source.on_change(self._again)
        self._again()

    @property
    def values(self) -> Any:
        """Return what came of the form. Raises ValueError where nothing can."""
        if self.error:
            raise ValueError(self.error)
        return self._made

    def _again(self) -> None:
        with self._lock:
            try:
                self._made, self.error = self._make(self._source.values), ""
            except (ValueError, OSError) as problem:
                self._made, self.error = None, str(problem) or type(problem).__name__
            self._room.children = tuple(self._shown())
            self._tell()

    def _items(self) -> list[Any]:
        return list(self._made) if type(self._made) in (list, tuple) else [self._made]

    def _shown(self) -> list[Any]:
        if self.error:
            return [HTML(_notice(self.error))]
        return [item if hasattr(item, "model_id") else HTML(_html(item)) for item in self._items()]

    def __repr__(self) -> str:
        return self.error or "\n\n".join(_text(item) for item in self._items())

    def _kept_html(self) -> str:
        if self.error:
            return _notice(self.error)
        return "\n".join(_html(item) for item in self._items())


class PressedResult(FormResult):
    """Show what a form gives, made when the cell runs and when a button is pressed.

    After a change it has no values until the button is pressed.
    """

    def __init__(self, source: DeskPart, label: str, make: Callable[[Any], Any]) -> None:
        self._label = label
        self._button = button(label, self._press)
        self._button.layout.align_self = "flex-start"
        self._pressed = True  # running the cell is the first press
        super().__init__(source, make)
        self._pressed = False
        self.children = (self._button, *self.children)

    def _press(self) -> None:
        self._button.disabled, self._pressed = True, True
        self._room.children = (HTML('<p role="status">This takes a minute or two …</p>'),)
        try:
            self._again()
        finally:
            self._button.disabled, self._pressed = False, False

    def _again(self) -> None:
        if self._pressed:
            super()._again()
            return
        self._made, self.error = None, f"something above has changed: press “{self._label}”"
        self._room.children = tuple(self._shown())
        self._tell()


class SaveRow(DeskPart):
    """Save files made of the values, each under a name that nobody has."""

    def __init__(
        self, source: DeskPart, title: str, files: Callable[[Any], Mapping[str, str | bytes]]
    ) -> None:
        self._source, self._title, self._files = source, title, files
        self.save = button("Save", self._save)
        self._status = HTML()
        self._status.add_class("squatlab-sentence")
        self.message = ""
        layout = Layout(flex_flow="row wrap", align_items="center", grid_gap="0 10px")
        row = HBox([HTML(f"<b>{escape(title)}</b>"), self.save], layout=layout)
        super().__init__([row, self._status])

    def _save(self) -> None:
        with self._lock:
            try:
                files = self._files(self._source.values)
                saved = [storage.write(new_name(name), what) for name, what in files.items()]
                self.message = f"Saved {', '.join(path.name for path in saved)}."
            except (ValueError, OSError) as problem:
                self.message = str(problem)
            self._status.value = f'<p role="status">{escape(self.message)}</p>'

    def __repr__(self) -> str:
        return f"{self._title}: a button saves it"

    def _kept_html(self) -> str:
        return f"<p>{escape(repr(self))}, in JupyterLab.</p>"


def _bundle(item: Any) -> dict[str, str]:
    """Return what an object shows of itself by kind of content."""
    if hasattr(item, "_repr_mimebundle_"):
        bundle = item._repr_mimebundle_() or {}
        return bundle[0] if isinstance(bundle, tuple) else bundle
    if hasattr(item, "_repr_html_"):
        return {"text/html": item._repr_html_(), "text/plain": repr(item)}
    return {}


def _text(item: Any) -> str:
    return item if isinstance(item, str) else _bundle(item).get("text/plain") or str(item)


def _html(item: Any) -> str:
    html = "" if isinstance(item, str) else _bundle(item).get("text/html")
    return html or f'<pre class="squatlab-words">{escape(_text(item))}</pre>'


def _notice(words: str) -> str:
    lines = "<br>".join(map(escape, words.splitlines()))
    return f'<p class="squatlab-notice" role="status"><b>To fix:</b> {lines}</p>'


class PdfTab(anywidget.AnyWidget):
    """Open a PDF in a tab of the browser's own, which prints it."""

    _esm = """
    function render({ model }) {
      model.on("msg:custom", (message, buffers) => {
        const file = new Blob([buffers[0]], { type: "application/pdf" });
        window.open(URL.createObjectURL(file), "_blank");
      });
    }
    export default { render };
    """
    title = Unicode().tag(sync=True)

    def show_pdf(self, content: bytes) -> None:
        """Open a PDF."""
        self.send({"open": self.title}, [content])


class PrintRow(DeskPart):
    """Choose the paper; save pages as a PDF under a new name, or print them."""

    def __init__(
        self, source: DeskPart, file: str, title: str, pages: Callable[[Any, str], Sequence[Any]]
    ) -> None:
        self._source, self._file, self._title, self._pages = source, file, title, pages
        size = "Letter" if units.chosen() == units.US else "A4"
        self.paper = Dropdown(
            options=PAPERS,
            value=size,
            description="Paper",
            style={"description_width": "50px"},
            layout=Layout(width="170px"),
        )
        self.save = button("Save as PDF", self._save)
        self.print = button("Print", self._print)
        self._tab = PdfTab(title=title, layout=Layout(display="none"))
        self._status = HTML()
        self._status.add_class("squatlab-sentence")
        self.message = ""
        row = [HTML(f"<b>{escape(title)}</b>"), self.paper, self.save, self.print]
        layout = Layout(flex_flow="row wrap", align_items="center", grid_gap="0 10px")
        super().__init__([HBox(row, layout=layout), self._status, self._tab])

    @property
    def values(self) -> bytes:
        """Return the PDF."""
        return paper.pdf(self._pages(self._source.values, self.paper.value), self._title)

    def _save(self) -> None:
        self._say(lambda: f"Saved {storage.write(new_name(self._file), self.values).name}.")

    def _print(self) -> None:
        def opened() -> str:
            self._tab.show_pdf(self.values)
            return "Opened in a new tab: print it there. Blocked? Save it, and open the file."

        self._say(opened)

    def _say(self, do: Callable[[], str]) -> None:
        with self._lock:
            try:
                self.message = do()
            except (ValueError, OSError) as problem:
                self.message = str(problem)
            words = "<br>".join(map(escape, self.message.splitlines()))
            self._status.value = f'<p role="status">{words}</p>'

    def __repr__(self) -> str:
        return f"{self._title}: buttons save {self._file}, or print it"

    def _kept_html(self) -> str:
        return f"<p>{escape(repr(self))}, in JupyterLab.</p>"
