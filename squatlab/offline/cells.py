"""The cells of a notebook that show something that moves, made again.

The first step of the book: `stored` makes data of what such a cell shows.
"""

from __future__ import annotations

import ast
import json
from pathlib import Path
from typing import Any, NamedTuple

from squatlab import tables
from squatlab.offline.stored import Stored, stored_clip, stored_explorer
from squatlab.show.explorer import Explorer
from squatlab.show.fault_pages import FaultPage

FAULT_PAGE = "Fault page: "
"""How the stored words of a picture begin under which a clip plays."""

MOVES = ("Explorer: ", "Clip: ", FAULT_PAGE)
"""How the stored words of what moves begin."""

PRACTICE = "Practice: "
"""How the stored words of the practice page begin."""

OPTIONS: dict[str, dict[str, Any]] = {
    "rack_height": {"most": 12},
    "repetition": {"most": 10},
    "phone": {"most": 6},
    "stance": {"most": 10},
    "lever_arms": {"most": 16},
    "balance_rules": {"most": 6},
    "faults": {"fewer": {"severity": (0.8, 1.6, 2.4, 3.2), "descent": (1.8, 3.0)}},
}
"""How many steps the sliders of a slow or large explorer keep [teaching-value].
Others keep `squatlab.offline.stored.MOST_STEPS`."""


SHARED = {"bar_thigh_stance": "card"}
"""Explorers that are kept once, by the function that makes them."""


IN_JUPYTER = {
    "course_map": "In JupyterLab your own map of the course stands here: pages done, checks right, "
    "practice by fault. Here the index is the map.",
    "UnitsForm": "In JupyterLab the choice is made here. These pages keep the units they were "
    "written in: squatlab book --units us writes them in US units.",
    "ten_questions": "In JupyterLab ten questions stand here, before the course and after it, and "
    "show what you gained.",
}
"""What the book says in place of what keeps a person's own work, by what a cell calls last."""


class MovingCell(NamedTuple):
    """Name a cell that shows something that moves: its notebook, and its place there."""

    notebook: str
    index: int
    called: str = ""

    @property
    def name(self) -> str:
        """Return the name under which it is kept, as in "02_lever_arms-11"."""
        return SHARED.get(self.called, f"{Path(self.notebook).stem}-{self.index}")

    def stored(self) -> Stored:
        """Return all that it can show."""
        value = _shown_by(tables.folder("notebooks") / self.notebook, self.index)
        if isinstance(value, Explorer):
            return stored_explorer(value, **OPTIONS.get(self.called, {}))
        return stored_clip(value.clip if isinstance(value, FaultPage) else value)


def moving_cells(notebook: dict[str, Any], path: str) -> list[MovingCell]:
    """Return the cells of a notebook, parsed, that show an explorer or a clip."""
    return [
        MovingCell(path, index, _called_last("".join(cell["source"])))
        for index, cell in enumerate(notebook["cells"])
        if words_of(cell).startswith(MOVES)
    ]


def in_jupyter(source: str) -> str:
    """Return what the book says in place of a cell that needs JupyterLab, or ""."""
    return IN_JUPYTER.get(_called_last(source), "") if source.strip() else ""


def only_imports(source: str) -> bool:
    """Tell whether a cell does nothing but import."""
    return all(isinstance(line, ast.Import | ast.ImportFrom) for line in ast.parse(source).body)


def _called_last(source: str) -> str:
    """Return the name of the function that the last statement of a cell calls."""
    match ast.parse(source).body[-1]:
        case ast.Expr(ast.Call(ast.Name(name))) | ast.Assign(value=ast.Call(ast.Name(name))):
            return name
    return ""


def words_of(cell: dict[str, Any]) -> str:
    """Return the words that a cell's output is kept with."""
    for output in cell.get("outputs", ()):
        if words := output.get("data", {}).get("text/plain"):
            return "".join(words)
    return ""


def _shown_by(path: Path, index: int) -> Any:
    """Return what a cell shows last.

    Of the cells above only those statements run on which it depends: the
    others of a notebook take half a minute.
    """
    cells = json.loads(path.read_text("utf-8"))["cells"][: index + 1]
    lines: list[ast.stmt] = []
    for cell in cells:
        if cell["cell_type"] == "code":
            lines += ast.parse("".join(cell["source"])).body
    last = lines.pop()
    if not isinstance(last, ast.Expr):
        raise ValueError(f"cell {index} of {path.name} shows nothing: its last line is no value")
    # Backward from the last line: a line is needed if it gives a name that is used below it.
    used, needed = _names(last, ast.Load), []
    for line in reversed(lines):
        if _given(line) & used:
            needed.insert(0, line)
            used |= _names(line, ast.Load)
    space: dict[str, Any] = {}
    exec(compile(ast.Module(needed, []), path.name, "exec"), space)
    return eval(compile(ast.Expression(last.value), path.name, "eval"), space)


def _names(line: ast.AST, context: type) -> set[str]:
    """Return the names that a line uses (`ast.Load`) or sets (`ast.Store`)."""
    return {
        node.id
        for node in ast.walk(line)
        if isinstance(node, ast.Name) and isinstance(node.ctx, context)
    }


def _given(line: ast.stmt) -> set[str]:
    """Return the names that a statement gives a value."""
    if isinstance(line, ast.Import | ast.ImportFrom):
        return {alias.asname or alias.name.split(".")[0] for alias in line.names}
    if isinstance(line, ast.FunctionDef | ast.ClassDef):
        return {line.name}
    return _names(line, ast.Store)
