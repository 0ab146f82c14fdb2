"""The house: who may import whom, what is public, what stays small."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import squatlab

PACKAGE = Path(squatlab.__file__).parent
MODULES = sorted(PACKAGE.rglob("*.py"))

FLOORS = {
    "tables": 0, "ranges": 0,
    "segments": 1, "lifter": 1, "population": 1, "tracks": 1, "adapters": 1, "signals": 1,
    "faults": 1, "spreadsheet": 1,
    "mechanics": 2,
    "motion": 3,
    "review": 4, "gym": 4,
    "exam": 5, "lessons": 5,
    "show": 6,
    "course": 7, "installation": 7, "server": 7, "commands": 7, "jupyter": 7, "__main__": 7,
}  # fmt: skip
HEAVY = {"matplotlib", "ipywidgets", "anywidget", "IPython"}


def room(path: Path) -> str:
    """Return the first part of a module's name below the package."""
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imports(path: Path) -> set[str]:
    """Return every module named in an import statement, anywhere in the file."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path.name}: import by full name"
            found.add(node.module)
            if node.module == "squatlab":
                found |= {f"squatlab.{alias.name}" for alias in node.names}
    return found


def own(path: Path) -> set[str]:
    rooms = {name.split(".")[1] for name in imports(path) if name.startswith("squatlab.")}
    return {r for r in rooms if r in FLOORS}


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_a_module_imports_from_lower_floors_only(path):
    here = room(path)
    if here == "__init__":
        return
    for other in own(path) - {here}:
        below = (
            FLOORS[other] < FLOORS[here] or FLOORS[here] in (1, 7) and FLOORS[other] == FLOORS[here]
        )
        assert below, f"{here} (floor {FLOORS[here]}) imports {other} (floor {FLOORS[other]})"


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_drawing_and_widgets_live_in_show(path):
    used = {name.split(".")[0] for name in imports(path)} & HEAVY
    assert not used or room(path) == "show", f"{path.name} imports {used}"


def test_the_derivation_stands_alone():
    symbolic = PACKAGE / "mechanics" / "symbolic.py"
    assert not own(symbolic)
    for path in MODULES:
        assert "squatlab.mechanics.symbolic" not in imports(path)


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_modules_stay_small(path):
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 300


def test_the_package_stays_small():
    assert sum(len(p.read_text(encoding="utf-8").splitlines()) for p in MODULES) <= 26500


def test_no_drawers():
    drawers = {"utils", "helpers", "common", "misc", "core"}
    assert not {p.stem for p in MODULES} & drawers


def test_the_public_surface():
    assert squatlab.__all__ == [
        "Bar", "JointMoments", "Lifter", "Population", "Posture", "Stance",
        "back_extensor_force", "balance", "chain_moments", "dynamic_moments", "joint_moments",
        "pose",
    ]  # fmt: skip
    assert all(hasattr(squatlab, name) for name in squatlab.__all__)


def test_every_public_name_is_described_in_narrow_lines():
    for path in MODULES:
        tree = ast.parse(path.read_text(encoding="utf-8"))
        for node in ast.walk(tree):
            if not isinstance(node, ast.FunctionDef | ast.ClassDef) or node.name.startswith("_"):
                continue
            if node not in tree.body:
                continue
            words = ast.get_docstring(node)
            assert words, f"{path.name}: {node.name} has no docstring"
            assert max(map(len, words.splitlines())) <= 79, f"{path.name}: {node.name}"


def test_sources_named_in_docstrings_exist():
    import re

    from squatlab import tables

    for path in MODULES:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef | ast.ClassDef | ast.Module):
                words = ast.get_docstring(node) or ""
                for key in re.findall(r"\[([a-z]+(?:\d{2,4}[a-z]?|-practice|-value))\]", words):
                    assert key in tables.sources(), f"{path.name}: [{key}]"


def test_importing_squatlab_loads_nothing_heavy():
    code = (
        "import sys, squatlab; heavy = {'scipy', 'pandas', 'sympy', 'matplotlib', 'ipywidgets'}; "
        "print(*sorted(heavy & set(sys.modules)))"
    )
    printed = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    assert printed.stdout.strip() == ""


def test_the_style_checker_is_content():
    root = PACKAGE.parent
    run = subprocess.run(
        [sys.executable, "-m", "ruff", "check", "squatlab", "tests"],
        cwd=root, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert run.returncode == 0, run.stdout
