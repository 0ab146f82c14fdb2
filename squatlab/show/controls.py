"""What an explorer is moved by: sliders and choices in a coach's words.

Also the stock buttons of the practice page, and what makes stock controls
usable for everybody there.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import Any

import anywidget
import numpy as np
from ipywidgets import HTML, Button, Layout
from numpy.typing import NDArray

from squatlab.show.scripts import script
from squatlab.units import QuantityKind

Values = dict[str, Any]
"""The controls' values by name, in the units they show."""


@dataclass(frozen=True)
class Slider:
    """Say what a slider moves: its name, range, step and how a value is worded.

    ``words`` gets a value and all values, and returns the value with its
    unit. ``only_with`` names a choice and the option to which the slider
    belongs: with another it cannot be moved.
    """

    label: str
    value: float
    low: float
    high: float
    step: float
    words: Callable[[float, Values], str]
    only_with: tuple[str, str] | None = None

    @property
    def positions(self) -> NDArray[np.float64]:
        """Return every value that the slider can stand at."""
        count = round((self.high - self.low) / self.step) + 1
        return np.round(self.low + self.step * np.arange(count), 6)

    def enabled(self, values: Values) -> bool:
        """Return whether it can be moved now."""
        return self.only_with is None or values[self.only_with[0]] == self.only_with[1]

    def checked(self, value: float) -> float:
        """Return the value, at most as far as the slider goes."""
        return min(max(float(value), self.low), self.high)


@dataclass(frozen=True)
class Choice:
    """Say what is chosen: (words, value) options, as buttons or as a list.

    A choice of what ``turns`` the picture and changes nothing that is
    computed is made by the browser alone.
    """

    label: str
    options: tuple[tuple[str, str], ...]
    value: str
    as_list: bool = False
    turns: bool = False

    def checked(self, value: str) -> str:
        """Return the value. Raises ValueError for one that is no option."""
        known = [option for _, option in self.options]
        if value not in known:
            raise ValueError(f"{self.label} is {value!r}; choose from {', '.join(known)}")
        return value


Control = Slider | Choice


def slider(
    label: str,
    value: float,
    low: float,
    high: float,
    step: float,
    unit: str,
    negative: str = "",
    zero: str = "",
) -> Slider:
    """Return a slider whose value is shown and spoken with its unit.

    ``negative`` and ``zero`` word values below and at nought, as in
    "12° below level"; keys move it by ``step``.
    """
    digits = 0 if float(step).is_integer() else 1

    def words(number: float, _: Values) -> str:
        shown = f"{number:.{digits}f}"
        if zero and float(shown) == 0:
            return zero
        if negative and number < 0:
            return shown.removeprefix("-") + negative
        return shown.replace("-", "−") + unit

    return Slider(label, value, low, high, step, words)


def measured(
    label: str,
    kind: QuantityKind,
    ends: tuple[float, float, float, float],
    after: str = "",
    zero: str = "",
) -> Slider:
    """Return a slider of a quantity, its values in the unit that is chosen.

    ``ends`` are its value, least, greatest and step in that unit: each
    system has its own, see `units.either`. ``after`` follows the value
    and its unit, ``zero`` words nought.
    """
    written = kind.written

    def words(number: float, _: Values) -> str:
        return zero if zero and number == 0 else f"{written.with_unit(number)}{after}"

    return Slider(label, *ends, words)


def choice(label: str, options: Sequence[tuple[str, str]], value: str | None = None) -> Choice:
    """Return a row of buttons of which one is pressed: (words, value).

    The first is pressed unless ``value`` names another.
    """
    return Choice(label, tuple(options), options[0][1] if value is None else value)


def sent(controls: Mapping[str, Control], values: Values) -> list[dict[str, Any]]:
    """Return what the browser needs to show controls, their values in words."""
    return [_sent(name, control, values) for name, control in controls.items()]


def _sent(name: str, control: Control, values: Values) -> dict[str, Any]:
    """Return what the browser needs to show one control."""
    if isinstance(control, Choice):
        return {
            "name": name,
            "kind": "list" if control.as_list else "buttons",
            "label": control.label,
            "options": control.options,
            "turns": control.turns,
        }
    at = control.positions.tolist()
    return {
        "name": name,
        "kind": "slider",
        "label": control.label,
        "at": at,
        "step": control.step,
        "texts": [control.words(value, values) for value in at],
        "enabled": control.enabled(values),
    }


STYLE = script("stock.css", "notebook.css")


OPTION = re.compile(r"(?<!\S)--[\w-]+")
"""An option of a command, such as --cut."""


def html_lines(message: str) -> str:
    """Return a message for a page, each of its lines on one of its own.

    A browser would break an option of a command after its hyphens; here it
    stays whole.
    """
    whole = r'<span style="white-space:nowrap">\g<0></span>'
    return "<br>".join(OPTION.sub(whole, escape(line)) for line in message.splitlines())


class StatusLine(HTML):
    """Say what came of something, to eyes and to screen readers."""

    def __init__(self) -> None:
        super().__init__()
        self.add_class("squatlab-sentence")

    def say(self, message: str, mark: str = "") -> None:
        """Show a message, each of its lines on one of its own, behind a bold mark."""
        bold = f"<b>{escape(mark)}</b> " if mark else ""
        self.value = f'<p role="status">{bold}{html_lines(message)}</p>'


class Repair(anywidget.AnyWidget):
    """Make the stock controls of one box usable for everybody.

    Gives groups the names and states that a screen reader speaks, and
    keeps the notebook from taking keys meant for a control.
    """

    _esm = Path(__file__).with_name("repair.js")
    _css = STYLE


def button(label: str, pressed: Callable[[], object]) -> Button:
    """Return a stock button that calls ``pressed`` without arguments."""
    made = Button(description=label, layout=Layout(width="auto"))
    made.on_click(lambda _: pressed())
    return made
