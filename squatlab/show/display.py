"""What an explorer shows: picture, chart and sentence, changed together."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import anywidget
import traitlets


class Display(anywidget.AnyWidget):
    """Show a picture, a chart beside it if wanted, and a sentence below.

    ``picture`` is SVG in a place ``width`` pixels wide, ``chart`` a JPEG
    or PNG shown ``chart_width`` wide with its words in ``alt``.
    """

    _esm = Path(__file__).with_name("display.js")
    picture = traitlets.Unicode().tag(sync=True)
    width = traitlets.Int(0).tag(sync=True)
    chart = traitlets.Bytes().tag(sync=True)
    chart_width = traitlets.Int(0).tag(sync=True)
    alt = traitlets.Unicode().tag(sync=True)
    sentence = traitlets.Unicode().tag(sync=True)

    def show(self, **changed: Any) -> None:
        """Change any of these in one message, so that they are seen at one moment.

        A message for each would have the browser paint as many times.
        """
        with self.hold_sync():
            for name, value in changed.items():
                setattr(self, name, value)
