"""Formulas of a page that runs nothing: LaTeX becomes MathML, which browsers draw themselves."""

from __future__ import annotations

import re
from typing import Any

from latex2mathml.converter import convert

MATH = re.compile(
    r"(?P<code>```.*?```|`[^`]*`)"  # stays as it is
    r"|\$\$(?P<displayed>.+?)\$\$"
    r"|(?<![\\$])\$(?P<inline>[^$\n]+)\$",
    re.DOTALL,
)
"""What stands between dollar signs in Markdown, but not in code."""

NAME_SPACE = ' xmlns="http://www.w3.org/1998/Math/MathML"'


def with_mathml(markdown: str) -> str:
    """Return Markdown whose LaTeX between dollar signs is MathML."""

    def typeset(match: re.Match[str]) -> str:
        if match["code"]:
            return match["code"]
        if match["displayed"]:
            made = convert(match["displayed"], display="block")
        else:
            made = convert(match["inline"])
        # In a page of HTML a formula needs no name space; nothing else there names an address.
        return made.replace(NAME_SPACE, "", 1)

    return MATH.sub(typeset, markdown)


def typeset(notebook: Any) -> None:
    """Make MathML of the formulas in a notebook's texts and Markdown outputs."""
    for cell in notebook.cells:
        if cell.cell_type == "markdown":
            cell.source = with_mathml(cell.source)
        for output in cell.get("outputs", ()):
            if "text/markdown" in output.get("data", {}):
                output.data["text/markdown"] = with_mathml(output.data["text/markdown"])
