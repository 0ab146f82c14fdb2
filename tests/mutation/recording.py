"""Which lines each test runs, so that a change is shown only to the tests that reach it."""

from __future__ import annotations

import functools
import hashlib
import json
import os
import re
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import pytest

from tests.mutation.changes import ROOT, Mutant, reach
from tests.mutation.child import run_pytest, wait_for

PLACE = ROOT / ".pytest_cache" / "mutation"
"""Where recordings are kept; made again when the test file, any code or any table changes."""

RECORDING_LIMIT_S = 3600


class RecordedTest(NamedTuple):
    """Say what a test costs of its own, CPU seconds, and which fixtures it shares with others."""

    seconds: float
    shared: list[str]


class Recorder:
    """A plugin of pytest that tells coverage which test the lines belong to.

    What a fixture runs that several tests share belongs to all of them,
    and no test finds in a cache what another put there.
    """

    def __init__(self, coverage) -> None:
        self.coverage = coverage
        self.tests: dict[str, RecordedTest] = {}
        self.fixture_s: dict[str, float] = {}
        self.contexts = [""]

    def enter(self, context: str) -> None:
        """Let the lines that run from now on belong to a test or a fixture."""
        self.contexts.append(context)
        self.coverage.switch_context(context)

    def leave(self) -> None:
        """Let them belong again to what ran before."""
        self.contexts.pop()
        self.coverage.switch_context(self.contexts[-1])

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item):
        """Record a test, without the fixtures that it shares."""
        for cached in _caches():
            cached.cache_clear()
        made = sum(self.fixture_s.values())
        begun = time.process_time()
        self.enter(item.nodeid)
        result = yield
        self.leave()
        made = sum(self.fixture_s.values()) - made
        seconds = max(time.process_time() - begun - made, 0.0)
        self.tests[item.nodeid] = RecordedTest(seconds, item.fixturenames)
        return result

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef):
        """Record a shared fixture apart from the test that happens to need it first."""
        if fixturedef.scope == "function":
            return (yield)
        begun = time.process_time()
        self.enter(_fixture(fixturedef.argname))
        try:
            return (yield)
        finally:
            self.leave()
            self.fixture_s[fixturedef.argname] = time.process_time() - begun


def _fixture(name: str) -> str:
    return f"fixture {name}"


def _caches() -> Iterator[functools._lru_cache_wrapper]:
    """Yield the cached functions of the tests and of the rooms that may be changed."""
    for name, module in list(sys.modules.items()):
        if re.match(r"tests\b|squatlab\.(mechanics|motion|review|tracks|exam)\b", name):
            for value in list(vars(module).values()):
                if isinstance(value, functools._lru_cache_wrapper):
                    yield value


class Recording:
    """What one file's tests run, and how long each takes."""

    def __init__(self, place: Path) -> None:
        from coverage import CoverageData

        recorded = json.loads(place.with_suffix(".json").read_text(encoding="utf-8"))
        self.tests = {name: RecordedTest(*test) for name, test in recorded["tests"].items()}
        self.fixture_s: dict[str, float] = recorded["fixtures"]
        self.data = CoverageData(str(place))
        self.data.read()

    def needs(self, name: str) -> dict[str, float]:
        """Return the shared fixtures that a test needs, and their CPU seconds."""
        shared = self.tests[name].shared
        return {one: self.fixture_s[one] for one in shared if one in self.fixture_s}

    def reaching(self, path: Path, lines: set[int] | None) -> set[str]:
        """Return the tests that run one of some lines of a module, or any of its lines."""
        contexts = {
            context
            for line, run_by in self.data.contexts_by_lineno(str(path)).items()
            if lines is None or line in lines
            for context in run_by
        }
        return {
            name
            for name, test in self.tests.items()
            if name in contexts or any(_fixture(shared) in contexts for shared in test.shared)
        }


def recordings(files: list[Path]) -> list[Recording]:
    """Return a recording of each test file; those not recorded yet are run now.

    Raises RuntimeError where tests fail with the code as it is.
    """
    PLACE.mkdir(parents=True, exist_ok=True)
    shared = hashlib.sha256(str(ROOT).encode())  # lines are kept by absolute path
    shared.update(Path(__file__).read_bytes())
    for pattern in ("squatlab/**/*.py", "data/**/*.csv", "tests/**/*.py"):
        for path in sorted(ROOT.glob(pattern)):
            if not path.name.startswith("test_") and path.parent != Path(__file__).parent:
                shared.update(path.read_bytes())
    found = []
    for path in files:
        digest = shared.copy()
        digest.update(path.read_bytes())
        name = ".".join(path.relative_to(ROOT / "tests").with_suffix("").parts)
        place = PLACE / f"{name}-{digest.hexdigest()[:16]}.coverage"
        if not place.with_suffix(".json").exists():
            for old in PLACE.glob(f"{name}-*"):
                old.unlink()
            if wait_for(_record, path, place, limit_s=RECORDING_LIMIT_S) != 0:
                raise RuntimeError(f"{path.relative_to(ROOT)} fails unchanged: fix it first")
        found.append(Recording(place))
    return found


def _record(path: Path, place: Path) -> int:
    """Run a file's tests and keep what they run; the life of a child."""
    os.environ["COVERAGE_CORE"] = "ctrace"  # the newer sysmon knows no contexts
    from coverage import Coverage

    coverage = Coverage(data_file=str(place), source=[str(ROOT / "squatlab")], messages=False)
    recorder = Recorder(coverage)
    coverage.start()
    code = run_pytest([str(path)], plugin=recorder)
    coverage.stop()
    if code == pytest.ExitCode.OK:
        coverage.save()
        recorded = {"tests": recorder.tests, "fixtures": recorder.fixture_s}
        place.with_suffix(".json").write_text(json.dumps(recorded), encoding="utf-8")
    return code


def tests_reaching(
    mutant: Mutant | None, known: list[Recording], most_s: float
) -> dict[str, float]:
    """Return the quickest tests that a change can reach, and their seconds.

    As many as take no more than so many seconds together; a fixture that
    several share is made once. Without a change any test may be among them.
    """
    reached: list[tuple[float, str, Recording]] = []
    for recording in known:
        names = _reaching(mutant, recording) if mutant else set(recording.tests)
        for name in names:
            alone_s = recording.tests[name].seconds + sum(recording.needs(name).values())
            reached.append((alone_s, name, recording))
    chosen: dict[str, float] = {}
    made: set[tuple[str, str]] = set()
    for _, name, recording in sorted(reached, key=lambda one: one[:2]):
        file = name.split("::")[0]
        fixtures = {(file, one): s for one, s in recording.needs(name).items()}
        seconds = recording.tests[name].seconds
        seconds += sum(s for fixture, s in fixtures.items() if fixture not in made)
        if sum(chosen.values()) + seconds > most_s:
            break
        chosen[name] = seconds
        made |= set(fixtures)
    return chosen


def _reaching(mutant: Mutant, recording: Recording) -> set[str]:
    """Return the tests of one recording that a change can reach.

    Where nothing that a test runs shows a change made at import, any that
    runs something of the module may.
    """
    lines, at_import = reach(mutant)
    names = set[str]()
    for path in lines:
        names |= recording.reaching(path, lines[path])
    if not names and at_import:
        return recording.reaching(mutant.path, None)
    return names
