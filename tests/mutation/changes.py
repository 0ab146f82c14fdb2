"""What may be changed in a module: an operator, a comparison, a number, a condition."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).parents[2]

OPERATORS: dict[type[ast.AST], type[ast.AST]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.Mult,
    ast.Pow: ast.Mult,
    ast.Lt: ast.GtE,
    ast.LtE: ast.Gt,
    ast.Gt: ast.LtE,
    ast.GtE: ast.Lt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
    ast.And: ast.Or,
    ast.Or: ast.And,
}
"""What each operator becomes; ``not x`` becomes ``x`` and ``-x`` becomes ``x``."""

FACTOR, STEP = 1.5, 1
"""A float becomes half as much again, a whole number one more; 0.0 becomes 1.0."""


class Mutant(NamedTuple):
    """Name one change: the module's file, which node of its tree, and what it becomes."""

    path: Path
    node: int
    line: int
    words: str

    @property
    def key(self) -> tuple[str, str, str]:
        """Module, text of the line and change: what stays when lines are put in above."""
        lines = self.path.read_text(encoding="utf-8").splitlines()
        return str(self.path.relative_to(ROOT)), lines[self.line - 1].strip(), self.words

    def __str__(self) -> str:
        """Return the change in words."""
        module, text, words = self.key
        return f"{module}:{self.line}: {words}: {text}"


def _is_left(node: ast.AST) -> bool:
    """Return whether something decides nothing: words, types and what is printed of them."""
    return isinstance(node, ast.JoinedStr | ast.AnnAssign) and not getattr(node, "value", None)


def nodes(tree: ast.Module) -> Iterator[ast.AST]:
    """Yield what could be changed, always in the same order.

    Annotations, words in errors and f-strings are left out: what they
    change is not what is computed.
    """
    waiting: list[ast.AST] = [tree]
    while waiting:
        node = waiting.pop()
        if isinstance(node, ast.Raise | ast.JoinedStr | ast.Assert) or _is_left(node):
            continue
        yield node
        for name, value in ast.iter_fields(node):
            if name in ("annotation", "returns", "decorator_list", "type_comment"):
                continue
            below = value if isinstance(value, list) else [value]
            waiting += [one for one in below if isinstance(one, ast.AST)]


def changed(node: ast.AST) -> str:
    """Change a node in place; return what was done, "" if it is not one to change."""
    if isinstance(node, ast.BinOp | ast.AugAssign | ast.BoolOp):
        # A string may be joined or repeated: "a" - "b" would be an error that anything notices.
        parts = [getattr(node, name, None) for name in ("left", "right", "value")]
        words_or_lists = ast.Constant | ast.List | ast.Tuple
        if any(isinstance(part, words_or_lists) and not _number(part) for part in parts):
            return ""
        if (new := OPERATORS.get(type(node.op))) is None:
            return ""
        words = f"{type(node.op).__name__} -> {new.__name__}"
        node.op = new()
        return words
    if isinstance(node, ast.Compare):
        old = node.ops[0]
        if (new := OPERATORS.get(type(old))) is None:
            return ""
        node.ops[0] = new()
        return f"{type(old).__name__} -> {new.__name__}"
    if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub | ast.Not):
        words = f"{type(node.op).__name__} taken away"
        if isinstance(node.op, ast.USub):
            node.op = ast.UAdd()
        else:
            node.operand = ast.UnaryOp(ast.Not(), node.operand)
        return words
    if _number(node):
        old = node.value
        node.value = old + STEP if isinstance(old, int) else (old * FACTOR or 1.0)
        return f"{old} -> {node.value}"
    return ""


def _number(node: ast.AST) -> bool:
    return (
        isinstance(node, ast.Constant)
        and isinstance(node.value, int | float)
        and not isinstance(node.value, bool)
    )


def mutants(path: Path) -> list[Mutant]:
    """Return every change that a module allows."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    found = []
    # All nodes first: a change may put a node in.
    for number, node in enumerate(list(nodes(tree))):
        line = getattr(node, "lineno", 0)
        if words := changed(node):
            found.append(Mutant(path, number, line, words))
    return found


class Reach(NamedTuple):
    """Say how a change is noticed: by running one of some lines, by file.

    What runs at import runs in no test; a test meets it elsewhere.
    """

    lines: dict[Path, set[int]]
    at_import: bool


def reach(mutant: Mutant) -> Reach:
    """Return the lines a test must run to notice a change.

    In a function that is the changed statement; for its default values,
    its body; for a constant, every line of the package that names it.
    """
    tree = ast.parse(mutant.path.read_text(encoding="utf-8"))
    around = [
        node
        for node in ast.walk(tree)
        if isinstance(node, ast.stmt) and node.lineno <= mutant.line <= node.end_lineno
    ]
    statement = min(around, key=lambda node: node.end_lineno - node.lineno)
    body = getattr(statement, "body", None)
    if isinstance(statement, ast.FunctionDef):
        lines = range(body[0].lineno, statement.end_lineno + 1)
        return Reach({mutant.path: set(lines)}, at_import=True)
    if any(isinstance(node, ast.FunctionDef) for node in around):
        # Of an if or a loop its head only: what stands below may never run.
        last = max(body[0].lineno - 1, statement.lineno) if body else statement.end_lineno
        return Reach({mutant.path: set(range(statement.lineno, last + 1))}, at_import=False)
    names = [
        node.id
        for node in ast.walk(statement)
        if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store)
    ]
    return Reach(_lines_naming(names), at_import=True)


def _lines_naming(names: list[str]) -> dict[Path, set[int]]:
    """Return the lines of the package, by file, in which one of some names stands."""
    if not names:
        return {}
    pattern = re.compile(rf"\b({'|'.join(names)})\b")
    found: dict[Path, set[int]] = {}
    for path in ROOT.glob("squatlab/**/*.py"):
        lines = path.read_text(encoding="utf-8").splitlines()
        found[path] = {n for n, text in enumerate(lines, start=1) if pattern.search(text)}
    return {path: lines for path, lines in found.items() if lines}


def mutated(mutant: Mutant) -> ast.Module:
    """Return the tree of a module with one change in it."""
    tree = ast.parse(mutant.path.read_text(encoding="utf-8"), str(mutant.path))
    if not changed(list(nodes(tree))[mutant.node]):
        raise ValueError(f"nothing to change at node {mutant.node} of {mutant.path}")
    return ast.fix_missing_locations(tree)
