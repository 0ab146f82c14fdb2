"""The button that runs a whole page, and where it is where only a picture is kept so far.

JupyterLab itself does what a button of a notebook's text names in two
attributes, so nothing has to be installed for it. Where it does nothing,
its hint says what to choose in the menu.
"""

from __future__ import annotations

import json
from html import escape

TO_THE_TOP = ["notebook:extend-marked-cells-top", "notebook:deselect-all"]
"""JupyterLab's commands that make the first cell the active one."""

COMMANDS = {
    # The page is all that stands under its first heading. "Run All Cells" would leave the reader at
    # the end of the page; this command does not wait for what it runs, so that one is back at once.
    "commands": [*TO_THE_TOP, "toc:run-cells", *TO_THE_TOP]
}
"""What the button does, for JupyterLab's command that does several in turn."""

BUTTON = (
    '<button class="jp-mod-styled jp-mod-accept" title="Or in the menu at the top: Run → Run All '
    'Cells" data-commandlinker-command="apputils:run-all-enabled" '
    f'data-commandlinker-args="{escape(json.dumps(COMMANDS))}">Run this page</button>'
)

# Pressed while the kernel is still starting, right after the page came, the button does nothing.
FIRST = (
    f"<p>{BUTTON} Sliders, questions and forms work once it has run. If nothing happens, press "
    "again.</p>"
)
"""Stands at the top of every notebook; a book, where no cell runs, leaves it out."""


def to_run(purpose: str) -> str:
    """Return a line that says what for a page is to be run: "For sliders"."""
    return (
        f'<p class="squatlab-run"><i>{escape(purpose)}: “Run this page”, the button at its top '
        "(or Run → Run All Cells, in the menu).</i></p>"
    )
