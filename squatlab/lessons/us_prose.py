"""A notebook's prose for readers of US units: metric figures, with US ones in brackets.

What a notebook computes follows the units chosen once it runs; its prose has
figures of somebody's own that no program should rewrite.
"""

from __future__ import annotations

import json
import re

from squatlab.units import FOOT, INCH, POUND, POUND_FORCE, Written

SIZES = {
    "mm": (0.001, Written("in", INCH, 2)),
    "cm": (0.01, Written("in", INCH, 1)),
    "m": (1.0, Written("ft", FOOT, 1)),
    "kg": (1.0, Written("lb", POUND, 0)),
    "kN": (1000.0, Written("lbf", POUND_FORCE, 0)),
    "N·m": (1.0, Written("lbf·ft", POUND_FORCE * FOOT, 0)),
}
"""What a metric unit is in SI, and how US readers write the same."""

NUMBER = r"[−-]?\d+(?:[.,]\d+)?"
METRIC = re.compile(
    rf"(?<![\w.,])(?P<first>{NUMBER})"
    rf"(?P<more>(?:\s?(?:–|to|and|or|from)\s?{NUMBER})*)"
    r"\s?(?P<unit>mm|cm|kg|kN|N·m|m)(?![\w/·²³])"
)
"""A figure with a metric unit, or several that share one: "30.8 to 35.4 cm"."""

KEPT_AS_IT_IS = re.compile(r"```.*?```|`[^`]*`|\$\$.*?\$\$|\$[^$\n]*\$|\]\([^)]*\)", re.DOTALL)
"""Code, formulas and addresses."""

IN_BRACKETS = re.compile(r"(?:in|ft|lb)\*{0,2} ?\($")
"""What stands before a metric figure that has its US one beside it already."""


def with_us(text: str) -> str:
    """Return prose with US units in brackets behind every metric figure."""
    parts, at = [], 0
    for untouched in KEPT_AS_IT_IS.finditer(text):
        parts += [_bracketed(text[at : untouched.start()]), untouched[0]]
        at = untouched.end()
    return "".join([*parts, _bracketed(text[at:])])


def notebook_with_us(content: bytes) -> bytes:
    """Return a notebook's file with US units in brackets in its prose.

    Code and outputs stay.

    Raises ValueError for what is no notebook.
    """
    notebook = json.loads(content)
    for cell in notebook["cells"]:
        if cell["cell_type"] == "markdown":
            cell["source"] = with_us("".join(cell["source"])).splitlines(keepends=True)
    return (json.dumps(notebook, indent=1, ensure_ascii=False) + "\n").encode()


BETWEEN_TAGS = re.compile(r"(?<=>)[^<>]+(?=<)")


def with_us_in_html(html: str) -> str:
    """Return HTML whose words have US units in brackets; pictures and tags stay."""
    return BETWEEN_TAGS.sub(lambda words: with_us(words[0]), html)


def _bracketed(text: str) -> str:
    def both(match: re.Match[str]) -> str:
        before = text[: match.start()]
        if IN_BRACKETS.search(before):
            return match[0]
        size, written = SIZES[match["unit"]]
        if match["unit"] == "m" and float(match["first"].replace("−", "-")) < 1:
            written = SIZES["cm"][1]

        def converted(number: re.Match[str]) -> str:
            value = float(number[0].replace("−", "-").replace(",", "."))
            return _figure(value * size / written.size, written, number[0])

        figures = re.sub(NUMBER, converted, match["first"] + match["more"])
        if before.count("(") > before.count(")"):  # no brackets within brackets
            return f"{match[0]}, {figures} {written.unit}"
        return f"{match[0]} ({figures} {written.unit})"

    return METRIC.sub(both, text)


def _figure(value: float, written: Written, metric: str) -> str:
    """Return a figure as finely as the trade writes it, or as the metric one where that is 0."""
    figure = written.figure(value)
    if not float(figure.replace("−", "-")) and value:
        digits = len(metric.partition(".")[2]) or 1
        return Written(written.unit, written.size, digits).figure(value)
    return figure
