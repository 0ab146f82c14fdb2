"""What cells showed in the browser, against what their notebook keeps, as nbval compares it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import nbformat
import pytest
from nbval.plugin import IPyNbFile, coalesce_streams, get_sanitize_patterns

from tests.browser import lab

SANITIZE = Path(__file__).parents[1] / "nbval_sanitize.cfg"
SHOWN = f"() => {lab.CODE_CELLS}.map(cell => cell.model.outputs.toJSON())"


def differences(session: pytest.Session, path: Path, shown: list[list[dict[str, Any]]]) -> str:
    """Return where ``shown``, the outputs of each cell with code, are not those of a notebook."""
    notebook = IPyNbFile.from_parent(session, path=path)
    notebook.sanitize_patterns.update(get_sanitize_patterns(SANITIZE.read_text("utf-8")))
    cells = [cell for cell in notebook.collect() if cell.cell.source.strip()]
    found = []
    for cell, outputs in zip(cells, shown, strict=True):
        seen = coalesce_streams([nbformat.from_dict(output) for output in outputs])
        if not cell.compare_outputs(seen, coalesce_streams(cell.cell.outputs)):
            found += [f"cell {cell.cell_num}:", *cell.comparison_traceback]
    return "\n".join(found)
