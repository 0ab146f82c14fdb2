"""``python -m tests.mutation``: change the code a little and see whether a test notices.

Each mutant lives in a process of its own, which compiles one module with
one change; no file is touched. A mutant that no test notices survives and
is printed with its line: it lacks a test, or a reason why it is as good.
"""

from __future__ import annotations

import argparse
import importlib.abc
import importlib.util
import multiprocessing
import os
import random
import sys
import time
from pathlib import Path
from types import ModuleType
from typing import Any

from tests.mutation.changes import Mutant, mutants, mutated

ROOT = Path(__file__).parents[2]

TESTS = {
    "mechanics": ("tests/mechanics", "tests/test_lifter.py", "tests/motion/test_rep.py"),
    "motion": ("tests/motion", "tests/test_filming.py", "tests/review/test_measure.py"),
    "review": (
        "tests/review",
        "tests/test_fault_checks.py",
        "--deselect=tests/review/test_wall.py",
    ),
    "tracks": (
        "tests/test_tracks.py",
        "tests/test_track_files.py",
        "tests/test_track_names.py",
        "tests/test_track_orientation.py",
        "tests/test_adapters.py",
    ),
    "exam": ("tests/exam", "--ignore=tests/exam/test_hard_times.py", "tests/test_cli_exam.py"),
}
"""Where each room's tests are; slow ones that look at processes and not at numbers are left out."""

LEFT_OUT = {"demo.py", "benchmark.py", "symbolic.py"}
"""Modules that compute nothing anybody relies on: an invented class, a derivation in words."""

NOT_SURVIVED, SURVIVED = 1, 0


class OneChanged(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Find and compile one module with its change; all others are found as ever."""

    def __init__(self, mutant: Mutant) -> None:
        parts = mutant.path.relative_to(ROOT).with_suffix("").parts
        self.name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
        self.package = parts[-1] == "__init__"
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


def live(mutant: Mutant | None, tests: tuple[str, ...]) -> None:
    """Run a room's tests with one change, or none, until one fails; the life of a child."""
    import pytest

    sys.stdout = sys.stderr = open(os.devnull, "w", encoding="utf-8")
    if mutant:
        sys.meta_path.insert(0, OneChanged(mutant))
    # In this process alone: a worker would import what was not changed.
    code = pytest.main(["-x", "-q", "-p", "no:cacheprovider", "-n", "0", *tests])
    os._exit(SURVIVED if code == pytest.ExitCode.OK else NOT_SURVIVED)


def survives(mutant: Mutant | None, tests: tuple[str, ...], patience_s: float) -> bool:
    """Return whether no test notices; one that runs for too long counts as noticed."""
    child = multiprocessing.get_context("fork").Process(target=live, args=(mutant, tests))
    child.start()
    child.join(patience_s)
    if child.is_alive():
        child.kill()
        child.join()
    return child.exitcode == SURVIVED


def main() -> int:
    """Change, run, count; 1 if more than a tenth survives."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__)
    parser.add_argument("rooms", nargs="*", metavar="ROOM", help=f"of {', '.join(TESTS)}; or all")
    parser.add_argument("--count", type=int, default=300, help="mutants in all; default: 300")
    parser.add_argument("--seed", type=int, default=1, help="which ones; default: 1")
    parser.add_argument("--only", default="", metavar="FILE:LINE", help="those of one line")
    parser.add_argument("--list", action="store_true", help="print the mutants, run nothing")
    options = parser.parse_args()
    rooms = options.rooms or list(TESTS)
    if unknown := set(rooms) - set(TESTS):
        parser.error(f"no room {', '.join(unknown)}; there are {', '.join(TESTS)}")
    import numpy  # noqa: F401  Imported here, every child has them already.
    import scipy.signal  # noqa: F401

    survivors, done = [], 0
    for room in rooms:
        files = sorted((ROOT / "squatlab" / room).rglob("*.py"))
        every = [one for path in files if path.name not in LEFT_OUT for one in mutants(path)]
        chance = random.Random(f"{options.seed} {room}")
        chosen = chance.sample(every, min(len(every), max(1, options.count // len(rooms))))
        if options.only:
            name, _, line = options.only.rpartition(":")
            chosen = [m for m in every if m.path.name == name and m.line == int(line)]
        if options.list:
            print(*(told(one) for one in chosen), sep="\n")
            continue
        begun = time.monotonic()
        if chosen and not survives(None, TESTS[room], 3600):
            print(f"{room}: its tests fail unchanged; fix them first")
            return 2
        patience_s = 10 + 3 * (time.monotonic() - begun)
        alive = []
        for one in chosen:
            if survives(one, TESTS[room], patience_s):
                alive.append(one)
                print(f"SURVIVES {told(one)}", flush=True)
        survivors, done = survivors + alive, done + len(chosen)
        print(f"{room}: {len(chosen) - len(alive)} of {len(chosen)} noticed", flush=True)
    if not done:
        return 0
    print(f"{done - len(survivors)} of {done} noticed, {1 - len(survivors) / done:.0%}")
    return int(len(survivors) > done / 10)


def told(mutant: Mutant) -> str:
    """Return a mutant in words."""
    return f"{mutant.path.relative_to(ROOT)}:{mutant.line}: {mutant.words}"


if __name__ == "__main__":
    sys.exit(main())
