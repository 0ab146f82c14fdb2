"""The house: who may import whom, and what is public."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest

import squatlab

PACKAGE = Path(squatlab.__file__).parent
MODULES = sorted(PACKAGE.rglob("*.py"))

STOREYS = {
    "mechanics": (
        "tables ranges frozen units storage spreadsheet faults segments lifter population norms "
        "signals mechanics motion tracks adapters review"
    ),
    "course": "gym questions lessons show offline",
    "exam": "exam",
    "door": "commands course installation notebook_trust server jupyter __main__",
}
"""The rooms of each storey, the lowest first: one imports from its own and those below."""

LIBRARIES = {
    "mechanics": {"numpy", "scipy", "pandas", "sympy", "ezc3d"},
    "course": {
        "matplotlib",
        "ipywidgets",
        "anywidget",
        "traitlets",
        "PIL",
        "segno",
        "latex2mathml",
    },
    "exam": {"sqlalchemy", "tornado", "cryptography"},
    "door": {
        "jupyter_client",
        "jupyter_core",
        "jupyter_server",
        "jupyterlab",
        "nbclient",
        "nbconvert",
        "nbformat",
        "packaging",
        "pygments",
    },
}
"""What each storey may import from elsewhere, besides what those below it may."""

DRAWING = {"matplotlib", "ipywidgets", "anywidget", "traitlets", "IPython"}


def name_of(path: Path) -> str:
    """Return the dotted name of a module's file."""
    parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


PATHS = {name_of(path): path for path in MODULES}


@cache
def tree(path: Path) -> ast.Module:
    """Return a module's syntax tree."""
    return ast.parse(path.read_text(encoding="utf-8"))


@cache
def imports(path: Path) -> set[str]:
    """Return every module named in an import, inside functions and TYPE_CHECKING too,
    or in the place of what is loaded by name."""
    found = set()
    for node in ast.walk(tree(path)):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            if named := re.fullmatch(r"(squatlab[.\w]+):\w+", node.value):  # for loading.load
                found.add(named[1])
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path.name}: import by full name"
            for alias in node.names:
                whole = f"{node.module}.{alias.name}"
                found.add(whole if whole in PATHS else node.module)
    return found


def storey(module: str) -> int:
    """Return the number of a module's storey, the lowest 0."""
    room = module.split(".")[1]
    rooms = [names.split() for names in STOREYS.values()]
    return next(number for number, names in enumerate(rooms) if room in names)


INSIDE = sorted(name for name in PATHS if name != "squatlab")


@pytest.mark.parametrize("module", INSIDE)
def test_a_module_imports_nothing_from_a_higher_storey(module):
    for other in imports(PATHS[module]) & set(INSIDE):
        assert storey(other) <= storey(module), f"{module} imports {other}"


@pytest.mark.parametrize("module", INSIDE)
def test_each_storey_has_its_libraries(module):
    allowed = set().union(*list(LIBRARIES.values())[: storey(module) + 1])
    used = {name.split(".")[0] for name in imports(PATHS[module])}
    foreign = used - set(sys.stdlib_module_names) - {"squatlab"}
    assert foreign <= allowed, f"{module} imports {foreign - allowed}"
    if foreign & DRAWING:
        assert module.startswith(("squatlab.show.", "squatlab.exam.screens.")), module


def circles(graph: dict[str, set[str]]) -> list[set[str]]:
    """Return the groups of modules that need each other, by walking back where one leads."""

    def reach(start: str) -> set[str]:
        found, waiting = set(), [start]
        while waiting:
            for other in graph[waiting.pop()] - found:
                found.add(other)
                waiting.append(other)
        return found

    leads = {module: reach(module) for module in graph}
    inside = {module for module, reached in leads.items() if module in reached}
    groups = {frozenset(m for m in leads[one] if one in leads[m]) for one in inside}
    return [set(group) for group in groups]


def test_no_circles_not_even_inside_functions():
    assert circles({"a": {"b"}, "b": {"c"}, "c": {"b"}, "d": {"d"}}) in (
        [{"b", "c"}, {"d"}],
        [{"d"}, {"b", "c"}],
    )
    graph = {module: imports(PATHS[module]) & set(PATHS) for module in PATHS}
    assert circles(graph) == []


ALONE = """
import doctest, sys

class Upstairs:
    CLOSED = ("matplotlib", "ipywidgets", "anywidget", "traitlets", "IPython", "jupyter", "PIL",
              "sqlalchemy", "tornado", "cryptography", "squatlab.gym", "squatlab.questions",
              "squatlab.lessons", "squatlab.show", "squatlab.exam", "squatlab.commands")

    def find_spec(self, name, path=None, target=None):
        if any(name == one or name.startswith((one + ".", one + "_")) for one in self.CLOSED):
            raise ImportError(f"{name} is upstairs")

sys.meta_path.insert(0, Upstairs())
import squatlab
from squatlab import adapters, mechanics, population, review, spreadsheet
from squatlab.mechanics import dynamics, symbolic
results = doctest.testmod(squatlab)
findings = review.measure(adapters.read(sys.argv[1], view="side", units="px"))
print(results.attempted, results.failed, len(findings.repetitions), len(findings.present()))
"""


def test_the_mechanics_storey_runs_where_nothing_else_can_be_imported():
    file = PACKAGE.parent / "data" / "demo" / "footage" / "laurel-side.csv"
    run = subprocess.run(
        [sys.executable, "-W", "error", "-c", ALONE, str(file)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 0, run.stderr
    attempted, failed, repetitions, _ = map(int, run.stdout.split())
    assert (attempted, failed, repetitions) == (7, 0, 1), run.stdout


def test_the_derivation_stands_alone():
    symbolic = PACKAGE / "mechanics" / "symbolic.py"
    assert not imports(symbolic) & set(PATHS)
    for path in MODULES:
        assert "squatlab.mechanics.symbolic" not in imports(path)


def several(names: list[str]) -> set[str]:
    """Return the names that stand there more than once."""
    return {name for name in names if names.count(name) > 1}


def public_classes(path: Path) -> list[str]:
    """Return the names of a module's classes that others may use."""
    module = tree(path)
    classes = (node.name for node in module.body if isinstance(node, ast.ClassDef))
    return [name for name in classes if not name.startswith("_")]


def named_types(path: Path) -> list[str]:
    """Return the names that a module gives to types: Name = dict[str, int]."""
    module = tree(path)
    names = []
    for node in module.body:
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
            name = node.targets[0].id
            is_variable = "TypeVar" in ast.unparse(node.value)  # of its own module alone
            if name[0].isupper() and not name.isupper() and not is_variable:
                names.append(name)
    return names


def test_one_name_is_one_module_and_one_class():
    assert several(["a", "b", "a"]) == {"a"}
    modules = [name.split(".")[-1] for name in PATHS]
    assert several(modules) == set()
    types = [name for path in MODULES for name in (*public_classes(path), *named_types(path))]
    assert "FileContent" in types
    assert several(types) == set()


LOADED_LATE = {"kernel", "_parts_by_programming", "_pandas", "points_of", "_read"}
"""Functions that import inside, and say why."""


def test_a_module_imports_what_it_needs_at_its_top():
    late = set()
    for path in MODULES:
        for node in ast.walk(tree(path)):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                if any(isinstance(n, ast.Import | ast.ImportFrom) for n in ast.walk(node)):
                    late.add(node.name)
    assert late == LOADED_LATE, "import at the top, or see commands/loading.load"


def test_the_help_and_wrong_use_load_no_command():
    code = (
        "import sys, squatlab.__main__ as door; door._parser().format_help(); "
        "print(*sorted(name for name in sys.modules if name.endswith('_command')), "
        "*sorted({'scipy', 'pandas', 'matplotlib', 'sqlalchemy', 'jupyterlab'} & set(sys.modules)))"
    )
    printed = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    assert printed.stdout.strip() == ""


def test_no_drawers():
    drawers = {"utils", "helpers", "common", "misc", "core"}
    assert not {p.stem for p in MODULES} & drawers


def test_the_public_surface():
    assert squatlab.__all__ == [
        "Bar",
        "JointMoments",
        "Lifter",
        "Population",
        "Posture",
        "Stance",
        "back_extensor_force",
        "balance",
        "chain_moments",
        "dynamic_moments",
        "joint_moments",
        "pose",
    ]
    assert all(hasattr(squatlab, name) for name in squatlab.__all__)


def test_every_public_name_is_described_in_narrow_lines():
    for path in MODULES:
        module = tree(path)
        for node in ast.walk(module):
            if not isinstance(node, ast.FunctionDef | ast.ClassDef) or node.name.startswith("_"):
                continue
            if node not in module.body:
                continue
            words = ast.get_docstring(node)
            assert words, f"{path.name}: {node.name} has no docstring"
            assert max(map(len, words.splitlines())) <= 79, f"{path.name}: {node.name}"


def test_sources_named_in_docstrings_exist():
    from squatlab import tables

    for path in MODULES:
        for node in ast.walk(tree(path)):
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
        cwd=root,
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 0, run.stdout
