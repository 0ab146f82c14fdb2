"""Stock controls in coach's words, mended so that everybody can use them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import anywidget
import traitlets
from ipywidgets import Button, FloatSlider, Layout, ToggleButtons, Widget

STYLE = """
.squatlab .widget-label { font-size: 15px; }
.squatlab .widget-slider .widget-readout {
  width: 134px; min-width: 134px; max-width: 134px; text-align: left; font-size: 15px;
}
.squatlab .widget-readout[data-words]:not(:focus) { font-size: 0; }
.squatlab .widget-readout[data-words]:not(:focus)::after {
  content: attr(data-words); font-size: 14px; white-space: nowrap;
}
.squatlab.squatlab :focus-visible { outline: 3px solid #1d4ed8 !important; outline-offset: 2px; }
.squatlab .slider-container { min-width: 60px; }
.squatlab .widget-checkbox .widget-label-basic { line-height: 25px; }
.squatlab .widget-toggle-buttons {
  display: flex; flex-flow: row nowrap; align-items: center; width: auto; margin-right: 24px;
}
.squatlab .widget-toggle-buttons .widget-label { margin-right: 8px; }
.squatlab .widget-toggle-buttons .widget-toggle-button { width: auto; }
.squatlab .widget-toggle-buttons button.mod-active {
  text-decoration: underline; font-weight: 600;
}
.squatlab button { font-size: 14px; }
.squatlab-views { display: flex; flex-flow: row wrap; align-items: center; }
.squatlab-chart { max-width: 100%; }
.squatlab-picture { max-width: 100%; overflow-x: auto; contain: layout paint style; }
.squatlab.squatlab .squatlab-picture :focus-visible { outline-offset: -3px; }
.squatlab-sentence p { font-size: 15px; line-height: 1.35; margin: 2px 0; max-width: 980px; }
.squatlab-projector .widget-label, .squatlab-projector button,
.squatlab-projector .squatlab-sentence p,
.squatlab-projector .widget-readout[data-words]:not(:focus)::after { font-size: 20px; }
.squatlab-projector .squatlab-sentence p { max-width: 1400px; }
.squatlab-projector .widget-slider .widget-label { width: 148px !important; }
.squatlab-projector .widget-slider .widget-readout {
  width: 240px; min-width: 240px; max-width: 240px;
}
"""


class Repair(anywidget.AnyWidget):
    """Mend the controls of the box that holds this invisible widget.

    Gives sliders and groups the names and values that a screen reader
    speaks, and keeps the notebook from taking keys meant for a control.
    ``words`` maps a slider's label to its unit, its unit when negative,
    its word for zero, and words for single numbers.
    """

    _esm = Path(__file__).with_name("repair.js")
    _css = STYLE
    words = traitlets.Dict().tag(sync=True)


class Slider(FloatSlider):
    """Slide a number; ``words`` say how it is read out.

    Its value is not sent back to the browser that moved it: nobody there
    waits for it, and the picture comes the sooner.
    """

    value = traitlets.CFloat(0.0).tag(sync=True, echo_update=False)
    words: Sequence[Any] = ("",)


def slider(
    label: str,
    value: float,
    low: float,
    high: float,
    step: float,
    unit: str,
    negative: str = "",
    zero: str = "",
    said: Mapping[str, str] | None = None,
) -> Slider:
    """Return a slider whose value is spoken and shown with its unit.

    ``negative`` and ``zero`` word values below and at nought, as in
    "12° below level"; ``said`` words single numbers, written as they are
    read out; keys move it by ``step``.
    """
    digits = 0 if float(step).is_integer() else 1
    control = Slider(
        value=value, min=low, max=high, step=step, description=label,
        readout_format=f".{digits}f", continuous_update=True,
        style={"description_width": "108px"}, layout=Layout(width="auto"),
    )  # fmt: skip
    control.words = [unit, negative, zero, *([dict(said)] if said else [])]
    return control


def choice(label: str, options: Sequence[tuple[str, str]]) -> ToggleButtons:
    """Return a row of buttons of which one is pressed: (words, value)."""
    return ToggleButtons(
        options=options,
        description=label,
        style={"description_width": "initial", "button_width": "auto"},
        layout=Layout(width="auto"),
    )


def button(label: str, pressed: object) -> Button:
    """Return a button that calls ``pressed`` without arguments."""
    made = Button(description=label, layout=Layout(width="auto"))
    made.on_click(lambda _: pressed())
    return made


def repair_for(controls: Sequence[Widget]) -> Repair:
    """Return the invisible widget that mends these controls."""
    words = {c.description: c.words for c in controls if isinstance(c, Slider)}
    return Repair(words=words)
