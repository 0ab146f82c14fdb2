"""Words that a coach from a US gym read as odd, in no text that a person reads."""

from __future__ import annotations

import ast
import json
import re

import pytest

from squatlab import tables

PACKAGE = tables.folder("data").parent / "squatlab"

ODD = {
    r"licensed practice": "a licensed professional",
    r"\bFix now\b": "Fix first",
    r"^\s*for now\s*$|\bFor now\b": "Easier version",
    r"(?<!\.)\b[Bb]egun\b|\bBEGUN\b": "started",
    r"\bWhat holds\b": "Which rules apply",
    r"unreviewed key": "answer key not yet checked by coaches",
    r"\b[Ii]nstants?\b": "time, moment",
    r"\b[Aa]skew\b": "off square",
    r"\bput in (?:at )?[\d{]|, read [\d{]": "set, measured",
    r"\btold wrongly\b": "wrong",
    r"\bcalled, not there\b": "false alarm",
    r"\bnamed instead of it\b": "mistaken for",
    r"\b[Ll]eans? to what\b|\bcases lean to\b": "focus on",
    r"\b[Rr]ead wrongly\b": "measurement error",
    r"\b[Aa] 8\d? ?kg\b": "an 80 kg lifter",
    r"\bclimb\b": "say what is meant",
    r"\b1st a lifter\b": "say what is meant",
    r"\bsmall plate more\b": "add a small plate",
    r"\bwhat ails\b": "what is wrong with",
    r"\bbreathes not\b": "does not breathe",
    r"\bWhich of these are there\b": "Which of these faults do you see",
    r"\b[Nn]o lean balances\b": "cannot balance",
    r"\bfemur|\blower leg\b|\bupper leg\b": "thigh, shin",
    r"\b[Mm]end(?:s|ed|ing)?\b": "fix",
}
"""Each odd wording, and what is written in its place."""


def sentences(tree: ast.AST) -> list[str]:
    """Return the texts of a module that may be shown: its strings that are no docstrings.

    A name of a key or a parameter is one word in small letters; no person reads it.
    """
    documents = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef)
        and node.body
        and isinstance(node.body[0], ast.Expr)
    }
    lone = {
        id(node.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
    }
    return [
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant)
        and isinstance(node.value, str)
        and id(node) not in documents | lone
        and not re.fullmatch(r"[a-z_0-9]*", node.value)
    ]


def texts() -> dict[str, str]:
    """Return by the name of each file what a person may read of it."""
    found = {}
    for path in PACKAGE.rglob("*.py"):
        if "__pycache__" not in path.parts:
            tree = ast.parse(path.read_text(encoding="utf-8"))
            found[str(path.relative_to(PACKAGE.parent))] = "\n".join(sentences(tree))
    for path in PACKAGE.rglob("*.js"):
        strings = re.findall(r'"[^"\n]*"|`[^`]*`', path.read_text(encoding="utf-8"))
        found[path.name] = "\n".join(one for one in strings if " " in one)
    plain = [*PACKAGE.rglob("*.html"), *PACKAGE.rglob("*.md"), *tables.folder("data").glob("*.csv")]
    for path in (*plain, PACKAGE.parent / "README.md"):
        if path.exists() and path.name not in ("sources.csv",):
            found[path.name] = path.read_text(encoding="utf-8")
    for path in tables.folder("notebooks").rglob("*.ipynb"):
        if "checkpoint" in str(path):
            continue
        parts = []
        for cell in json.loads(path.read_text(encoding="utf-8"))["cells"]:
            if cell["cell_type"] == "markdown":
                parts.append("".join(cell["source"]))
            for output in cell.get("outputs", ()):
                parts.append("".join(output.get("text", "")))
                parts.append("".join(output.get("data", {}).get("text/plain", "")))
        found[path.name] = "\n".join(parts)
    return found


@pytest.fixture(scope="module")
def every_text():
    return texts()


@pytest.mark.parametrize("odd", ODD)
def test_no_odd_wording_comes_back(every_text, odd):
    found = {
        name: [
            text[max(0, hit.start() - 30) : hit.end() + 30] for hit in re.finditer(odd, text, re.M)
        ]
        for name, text in every_text.items()
    }
    assert not {name: hits for name, hits in found.items() if hits}, f"write: {ODD[odd]}"


def test_the_search_sees_what_a_person_reads():
    code = 'def f(instant):\n    """An instant."""\n    say("the lowest instant", key="instant")\n'
    assert sentences(ast.parse(code)) == ["the lowest instant"]


def test_modules_that_notebooks_name_are_there():
    for path in tables.folder("notebooks").rglob("*.ipynb"):
        for name in re.findall(r"squatlab/[\w/]+\.py", path.read_text(encoding="utf-8")):
            assert (PACKAGE.parent / name).exists(), f"{path.name} names {name}"
