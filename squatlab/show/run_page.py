"""The button that runs a whole page: it stands where only a picture is kept so far.

JupyterLab itself does what a button of a notebook's text or of an output
names in two attributes, so nothing has to be installed for it. Where it
does nothing, its hint says what to choose in the menu.
"""

from __future__ import annotations

import json
from html import escape

COMMANDS = {
    # All cells of the notebook, as "Run All Cells" runs them; that command also scrolls to the
    # end of the page, this pair stays where the reader is.
    "commands": ["notebook:select-all", "notebook:run-cell"]
}
"""What the button does, for JupyterLab's command that does several in turn."""

BUTTON = (
    '<button class="jp-mod-styled jp-mod-accept" title="Or in the menu at the top: Run → Run All '
    'Cells" data-commandlinker-command="apputils:run-all-enabled" '
    f'data-commandlinker-args="{escape(json.dumps(COMMANDS))}">Run this page</button>'
)

FIRST = f"<p>{BUTTON} Sliders, questions and forms work once it has run.</p>"
"""Stands at the top of every notebook; a book, where no cell runs, leaves it out."""


def to_run(purpose: str) -> str:
    """Return a line with the button, such as "For sliders: Run this page"."""
    return f'<p class="squatlab-run">{escape(purpose)}: {BUTTON}</p>'
