"""The stored notebooks for readers of US units: run again, and their prose with both.

What a notebook computes follows the units chosen once it runs; its prose has
figures of somebody's own that no program should rewrite. Those get US units
in brackets.
"""

from __future__ import annotations

import asyncio
import os
import re
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from copy import deepcopy
from tempfile import TemporaryDirectory
from typing import Any

from nbclient import NotebookClient

from squatlab import units
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


BETWEEN_TAGS = re.compile(r"(?<=>)[^<>]+(?=<)")


def with_us_in_html(html: str) -> str:
    """Return HTML whose words have US units in brackets; pictures and tags stay."""
    return BETWEEN_TAGS.sub(lambda words: with_us(words[0]), html)


def _bracketed(text: str) -> str:
    def both(match: re.Match[str]) -> str:
        if IN_BRACKETS.search(text[: match.start()]):
            return match[0]
        size, written = SIZES[match["unit"]]
        if match["unit"] == "m" and float(match["first"].replace("−", "-")) < 1:
            written = SIZES["cm"][1]

        def converted(number: re.Match[str]) -> str:
            value = float(number[0].replace("−", "-").replace(",", "."))
            return _figure(value * size / written.size, written, number[0])

        figures = re.sub(NUMBER, converted, match["first"] + match["more"])
        return f"{match[0]} ({figures} {written.unit})"

    return METRIC.sub(both, text)


def _figure(value: float, written: Written, metric: str) -> str:
    """Return a figure as finely as the trade writes it, or as the metric one where that is 0."""
    figure = written.figure(value)
    if not float(figure.replace("−", "-")) and value:
        digits = len(metric.partition(".")[2]) or 1
        return Written(written.unit, written.size, digits).figure(value)
    return figure


TURNED = {"text/plain": with_us, "text/markdown": with_us, "text/html": with_us_in_html}
"""How each kind of output gets US units."""


def run_again(notebooks: Sequence[Any], tell: Callable[[int, int], None]) -> list[Any]:
    """Return notebooks as they are in US units; ``tell`` hears how many are done.

    Cells run in kernels of their own, in an empty folder each. Raises
    nbclient's CellExecutionError for one that fails.
    """
    done = 0

    def run(notebook: Any) -> Any:
        nonlocal done
        made = _run(notebook)
        done += 1
        tell(done, len(notebooks))
        return made

    with ThreadPoolExecutor(os.cpu_count()) as pool:
        return list(pool.map(run, notebooks))


def _run(notebook: Any) -> Any:
    notebook = deepcopy(notebook)
    with TemporaryDirectory() as folder:
        client = NotebookClient(
            notebook,
            timeout=600,
            resources={"metadata": {"path": folder}},
            extra_arguments=["--log-level=ERROR"],  # a kernel of this computer alone
        )
        # A loop of its own, closed at the end: client.execute leaves its loop open in this thread.
        asyncio.run(client.async_execute(env=os.environ | {units.VARIABLE: units.US}))
    for cell in notebook.cells:
        if cell.cell_type == "markdown":
            cell.source = with_us(cell.source)
        for output in cell.get("outputs", ()):
            if output.output_type == "stream":
                output.text = with_us(output.text)
            data = output.get("data", {})
            data.pop("application/vnd.jupyter.widget-view+json", None)
            for kind, turned in TURNED.items():
                if kind in data:
                    data[kind] = turned(data[kind])
    notebook.metadata.pop("widgets", None)
    return notebook
