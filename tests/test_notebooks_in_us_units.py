"""A notebook in US units: what its cells print and show has nothing metric left."""

from __future__ import annotations

import ast
import json
import re
from base64 import b64decode
from html import unescape

import pytest

from squatlab import tables, units
from squatlab.units import US

METRIC_WORD = re.compile(
    r"(?<![\w/.])(mm|cm|kg|kN|N·m|N|m|kilo(?:gram)?s?|(?:centi|milli)?met(?:er|re)s?)(?![\w/·²³])"
)
"""A metric unit as a word. Speeds (m/s, m/s²) are those of the papers they are compared with."""

FOR_BOTH = {
    # The trade's own way to say how much lower a low bar lies, on every page of the course.
    "2–3 in (5–8 cm)",
    # The meaning of the word "moment": the name of its metric unit belongs to it.
    "newton metres (N·m)",
}
"""What is shown in either system, and why."""

IN_CODE = {
    # Names of racks: holes every 50 mm are such holes to a US reader as well, who gets "2 in".
    "01": {"50 mm"},
    # Compared digit by digit with a published result, which is in N·m.
    "06": {" N·m"},
    # The unit of a file, and readings that somebody else's table gives in metres.
    "I4": {"m"},
}
"""The strings of code that have a metric unit, by notebook, and why."""

NOTEBOOKS = {path.stem[:2]: path for path in sorted(tables.folder("notebooks").rglob("*.ipynb"))}

QUICK = ("00", "01", "02", "03", "04", "05")
"""Notebooks that run within a second or two. The code of the others is looked at, and what it
calls has tests of its own (test_units_shown.py, test_units_in_book.py)."""


def code_of(name: str) -> list[str]:
    """Return the code cells of a notebook, by the start of its file's name."""
    cells = json.loads(NOTEBOOKS[name].read_text(encoding="utf-8"))["cells"]
    return ["".join(cell["source"]) for cell in cells if cell["cell_type"] == "code"]


@pytest.mark.parametrize("name", NOTEBOOKS)
def test_no_unit_is_written_into_the_code_of_a_notebook(name):
    strings = {
        node.value
        for cell in code_of(name)
        for node in ast.walk(ast.parse(cell))
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    }
    assert {text for text in strings if METRIC_WORD.search(text)} == IN_CODE.get(name, set())


@pytest.mark.parametrize("name", QUICK)
def test_what_a_notebook_prints_and_shows_in_us_units_is_not_metric(
    name, tmp_path, monkeypatch, capsys
):
    monkeypatch.chdir(tmp_path)  # answers, if any, are kept beside the work
    shown = []
    variables = {"display": lambda *values: shown.extend(map(words_of, values))}
    with units.written_in(US):
        for cell in code_of(name):
            shown.append(words_of(run(cell, variables)))
            shown.append(capsys.readouterr().out)
    text = "\n".join(shown)
    for kept in FOR_BOTH:
        text = text.replace(kept, "")
    leaks = [text[max(0, at.start() - 50) : at.end() + 10] for at in METRIC_WORD.finditer(text)]
    assert "lb" in text and " in " in text, "it is in US units at all"
    assert leaks == []


def run(cell: str, variables: dict) -> object:
    """Run a cell as a notebook does; return the value of its last line, if that is one."""
    tree = ast.parse(cell)
    last = tree.body.pop() if isinstance(tree.body[-1], ast.Expr) else None
    exec(compile(tree, "cell", "exec"), variables)
    return last and eval(compile(ast.Expression(last.value), "cell", "eval"), variables)


def words_of(value: object) -> str:
    """Return every word a page shows of a value: its text, its pictures' texts and their alts."""
    if value is None:
        return ""
    html = getattr(value, "_repr_html_", lambda: None)() or getattr(value, "data", "")
    bundle = getattr(value, "_repr_mimebundle_", lambda: None)()
    if bundle:
        html = (bundle[0] if isinstance(bundle, tuple) else bundle).get("text/html", "")
    pictures = (b64decode(data).decode() for data in re.findall(r"svg\+xml;base64,([^\"]*)", html))
    drawn = " ".join([re.sub(r"<(style|script).*?</\1>", "", html, flags=re.DOTALL), *pictures])
    said = re.findall(r'(?:aria-label|alt|title)="([^"]*)"', drawn)
    return unescape(" ".join([repr(value), re.sub(r"<[^>]*>", " ", drawn), *said]))
