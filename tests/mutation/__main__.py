"""``python -m tests.mutation``: change the code a little and see whether a test notices.

Each change lives in a process of its own, which compiles one module with
it; no file is touched. Only tests that run the changed line are asked,
the quickest first. What no test notices survives and is printed: it lacks
a test, or a reason in reasons.csv why the code is as good either way.
"""

from __future__ import annotations

import argparse
import csv
import importlib.abc
import importlib.util
import os
import random
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from tests.mutation.changes import ROOT, Mutant, mutants, mutated
from tests.mutation.child import import_libraries, run_pytest, wait_for
from tests.mutation.recording import Recording, recordings, tests_reaching

TESTS = {
    "mechanics": ("mechanics/test_*.py", "test_lifter.py", "motion/test_rep.py"),
    "motion": ("motion/test_*.py", "test_filming.py", "review/test_measure.py"),
    "review": ("review/test_*.py", "test_fault_checks.py"),
    "tracks": ("test_track*.py", "test_adapters.py", "test_impossible.py"),
    "exam": (
        *("exam/test_*.py", "exam_serving/test_served_exam.py"),
        *("attack/test_dishonest_records.py", "test_cli_exam.py"),
    ),
}
"""Where each room's tests are."""

LEFT_OUT = {
    *("demo.py", "benchmark.py", "symbolic.py"),  # nobody relies on them for a number
    *("test_hard_times.py", "test_accuracy.py"),  # kill processes, film for a minute
    "test_dask.py",  # other processes do the work, with nothing changed
}
"""Modules that are not changed, and tests that take too long to be asked."""

ASKED_S = 40.0
"""Of a change the quickest tests are asked that together take so much CPU time."""


class Changed(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Find and compile one module with its change; all others are found as ever."""

    def __init__(self, mutant: Mutant) -> None:
        parts = mutant.path.relative_to(ROOT).with_suffix("").parts
        self.package = parts[-1] == "__init__"
        self.name = ".".join(parts[:-1] if self.package else parts)
        self.mutant = mutant

    def find_spec(self, name: str, path: Any = None, target: Any = None) -> Any:
        """Return the spec of the changed module, None for others."""
        if name != self.name:
            return None
        return importlib.util.spec_from_file_location(
            name,
            self.mutant.path,
            loader=self,
            submodule_search_locations=[str(self.mutant.path.parent)] if self.package else None,
        )

    def create_module(self, spec: Any) -> None:
        """Leave the making of the module to Python."""

    def exec_module(self, module: ModuleType) -> None:
        """Run the changed module."""
        exec(compile(mutated(self.mutant), str(self.mutant.path), "exec"), module.__dict__)


class Chosen:
    """A plugin of pytest that runs some tests only, in the order given."""

    def __init__(self, names: list[str]) -> None:
        self.rank = {name: rank for rank, name in enumerate(names)}
        # A changed number may stand in a test's own name, between brackets.
        self.functions = {name.split("[")[0] for name in names}

    @pytest.hookimpl(trylast=True)
    def pytest_collection_modifyitems(self, items):
        """Leave the others out."""
        items[:] = [item for item in items if item.nodeid.split("[")[0] in self.functions]
        known = any(item.nodeid in self.rank for item in items)
        if known:
            items[:] = [item for item in items if item.nodeid in self.rank]
        items.sort(key=lambda item: self.rank.get(item.nodeid, 0))


def try_one(mutant: Mutant | None, names: list[str]) -> int:
    """Run tests with one change, or none, until one fails; the life of a child."""
    if mutant:
        sys.meta_path.insert(0, Changed(mutant))
    files = dict.fromkeys(str(ROOT / name.split("::")[0]) for name in names)
    return run_pytest(list(files), plugin=Chosen(names))


def survives(mutant: Mutant | None, known: list[Recording]) -> bool:
    """Return whether no test notices a change; a run that takes too long is noticed.

    Of no change three times as many are asked: none may notice it.
    """
    seconds = tests_reaching(mutant, known, ASKED_S if mutant else 3 * ASKED_S)
    if not seconds:
        return True
    limit_s = 20 + 3 * sum(seconds.values())
    return wait_for(try_one, mutant, list(seconds), limit_s=limit_s) == pytest.ExitCode.OK


def reasons() -> dict[tuple[str, str, str], str]:
    """Return why some changes need no test, by module, text of the line and change."""
    path = Path(__file__).parent / "reasons.csv"
    with open(path, newline="", encoding="utf-8") as lines:
        return {
            (row["module"], row["line"], row["change"]): row["reason"]
            for row in csv.DictReader(lines)
        }


def main() -> int:
    """Change, run, count; 1 if more than a tenth survives without a reason."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__)
    parser.add_argument("rooms", nargs="*", metavar="ROOM", help=f"of {', '.join(TESTS)}; or all")
    parser.add_argument("--count", type=int, default=300, help="mutants in all; default: 300")
    parser.add_argument("--seed", type=int, default=1, help="which ones; default: 1")
    parser.add_argument("--only", nargs="+", default=[], metavar="FILE:LINE", help="these lines'")
    parser.add_argument("--list", action="store_true", help="print the mutants, run nothing")
    options = parser.parse_args()
    rooms = options.rooms or list(TESTS)
    if unknown := set(rooms) - set(TESTS):
        parser.error(f"no room {', '.join(unknown)}; there are {', '.join(TESTS)}")

    os.nice(10)
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    import_libraries()
    explained = reasons()
    noticed = equivalent = done = 0
    for room in rooms:
        every = room_mutants(room)
        chosen = draw(every, f"{options.seed} {room}", max(1, options.count // len(rooms)))
        if options.only:
            chosen = [one for one in every if f"{one.path.name}:{one.line}" in options.only]
        if options.list:
            print(*chosen, sep="\n")
            continue
        if not chosen:
            continue
        files = [path for pattern in TESTS[room] for path in sorted((ROOT / "tests").glob(pattern))]
        known = recordings([path for path in files if path.name not in LEFT_OUT])
        if not survives(None, known):
            parser.error(f"{room}: a test fails with nothing changed, where others ran before it")
        alive = without_reason = 0
        for mutant in chosen:
            if survives(mutant, known):
                alive += 1
                if mutant.key not in explained:
                    without_reason += 1
                    print(f"SURVIVES {mutant}", flush=True)
        done += len(chosen)
        noticed += len(chosen) - alive
        equivalent += alive - without_reason
        print(
            f"{room}: {len(chosen) - alive} of {len(chosen)} noticed,"
            f" {alive - without_reason} more have a reason",
            flush=True,
        )
    if not done:
        return 0
    print(f"{noticed} of {done} noticed ({noticed / done:.0%}), {equivalent} more have a reason")
    return int(noticed + equivalent < 0.9 * done)


def room_mutants(room: str) -> list[Mutant]:
    """Return every change that a room's modules allow."""
    files = sorted((ROOT / "squatlab" / room).rglob("*.py"))
    return [mutant for path in files if path.name not in LEFT_OUT for mutant in mutants(path)]


def draw(every: list[Mutant], seed: str, count: int) -> list[Mutant]:
    """Draw some mutants, the same ones for the same seed."""
    return random.Random(seed).sample(every, min(len(every), count))


if __name__ == "__main__":
    sys.exit(main())
