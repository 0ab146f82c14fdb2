"""The stored notebooks for readers of US units: run again, and their prose with both."""

from __future__ import annotations

import asyncio
import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from copy import deepcopy
from tempfile import TemporaryDirectory
from typing import Any

from nbclient import NotebookClient

from squatlab import units
from squatlab.lessons.us_prose import with_us, with_us_in_html

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
    """Return one notebook as it is in US units."""
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
