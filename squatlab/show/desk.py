"""Forms of the instructor's desk: steps that say what is missing, and results.

A form is filled in where a cell would be edited. Its ``values`` are immutable
and go to the functions that a cell calls: `DeskPart.result` shows what such a call
returns, and again whenever a value changes. Without a kernel the page keeps
what was filled in and what came of it. `form_fields` has what is filled in;
the forms themselves are in `desk_forms`, `footage_form`, `case_form` and
`exam.screens.exam_desk`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from html import escape
from threading import RLock
from typing import Any

import anywidget
from ipywidgets import HTML, Box, Dropdown, HBox, Layout, VBox
from traitlets import Unicode

from squatlab import storage, units
from squatlab.show import paper
from squatlab.show.controls import Repair, StatusLine, button, html_lines
from squatlab.show.form_fields import Field, new_name

PAPERS = (("A4", "A4"), ("US Letter", "Letter"))


class FormStep:
    """Hold some fields that belong together, and what they give.

    ``check`` returns a sentence about what they give, or raises ValueError
    or OSError that says what is missing.
    """

    def __init__(self, title: str, fields: Mapping[str, Field], check: Callable[[], str]) -> None:
        self.title, self.fields, self._check = title, dict(fields), check
        self.complete, self.message = False, ""
        self._status = StatusLine()
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
        self._status.say(self.message, "✓" if self.complete else "To fix:")


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
        """Say to everybody who listens that the values have changed."""
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
        """Fill in several fields at once, as if by hand.

        Raises KeyError for an unknown one.
        """
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
            mark = "✓" if step.complete else "To fix:"
            words = f"<p>{mark} {html_lines(step.message)}</p>"
            parts.append(f"<p><b>{escape(step.title)}</b></p><dl>{rows}</dl>{words}")
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
        """Make it anew of the values there are now, and show it."""
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
        """Return widgets of what was made: each item's own, or what a notebook shows of it."""
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
        self._status = StatusLine()
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
            self._status.say(self.message)

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
    """Return an object in words."""
    if isinstance(item, str):
        return item
    return _bundle(item).get("text/plain") or str(item)


def _html(item: Any) -> str:
    """Return an object as a notebook shows it, its words where it has no picture."""
    html = "" if isinstance(item, str) else _bundle(item).get("text/html")
    return html or f'<pre class="squatlab-words">{escape(_text(item))}</pre>'


def _notice(words: str) -> str:
    """Return what is to be fixed, a line each, as an element of a page."""
    return '<p class="squatlab-notice" role="status"><b>To fix:</b> ' + html_lines(words) + "</p>"


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
        self._status = StatusLine()
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
        """Do something and show the sentence it returns, or why it was not done."""
        with self._lock:
            try:
                self.message = do()
            except (ValueError, OSError) as problem:
                self.message = str(problem)
            self._status.say(self.message)

    def __repr__(self) -> str:
        return f"{self._title}: buttons save {self._file}, or print it"

    def _kept_html(self) -> str:
        return f"<p>{escape(repr(self))}, in JupyterLab.</p>"
