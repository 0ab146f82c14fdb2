"""A process of its own for each run of tests, forked where libraries are imported already."""

from __future__ import annotations

import gc
import importlib
import multiprocessing
import os
import resource
import signal
import sys
from collections.abc import Callable

import pytest

FAILED = 70
"""The exit code of a child that ran for too long or fell."""


LIBRARIES = (
    "anyio hypothesis jupyter_client matplotlib.pyplot mujoco nbformat pandas"
    " scipy.optimize scipy.signal scipy.stats sqlalchemy.orm sympy"
).split()
"""What takes seconds to import and is never changed: every child has it from its birth."""


def import_libraries() -> None:
    """Import the libraries, and nothing of what is to be changed."""
    for name in LIBRARIES:
        importlib.import_module(name)
    gc.freeze()  # no child looks for garbage among them
    loaded = [name for name in sys.modules if name.split(".")[0] == "squatlab"]
    if loaded:
        raise RuntimeError(f"{loaded[0]} is imported before it can be changed")


def wait_for(work: Callable[..., int], *given: object, limit_s: float) -> int:
    """Return what a function returns in a child of its own; FAILED after some CPU seconds.

    A child that waits and does not count, for a lock or a socket, has ten
    times as long by the clock.
    """
    child = multiprocessing.get_context("fork").Process(target=_live, args=(work, given, limit_s))
    child.start()
    child.join(60 + 10 * limit_s)
    try:
        os.killpg(child.pid, signal.SIGKILL)  # servers that its tests started, too
    except ProcessLookupError:
        pass
    child.join()
    return child.exitcode if child.exitcode >= 0 else FAILED


def _live(work: Callable[..., int], given: tuple[object, ...], limit_s: float) -> None:
    """Do a child's work and end at once: nothing of its parent is cleared away."""
    os.setsid()
    seconds = int(limit_s) + 1
    resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds))
    quiet = os.open(os.devnull, os.O_RDWR)
    for stream in (0, 1, 2):
        os.dup2(quiet, stream)
    try:
        os._exit(work(*given))
    except BaseException:
        os._exit(FAILED)


def run_pytest(files: list[str], plugin: object) -> int:
    """Run files of tests in this process until one fails; return pytest's exit code."""
    return pytest.main(
        [
            *("-x", "-q", "-p", "no:cacheprovider"),
            # In this process alone: a worker would import what was not changed.
            *("-n", "0"),
            # The same code speaks to every database; a server takes its time.
            *("-k", "not postgresql"),
            # Libraries are imported before pytest, which would rewrite some.
            *("-W", "ignore:Module already imported:pytest.PytestAssertRewriteWarning"),
            *files,
        ],
        plugins=[plugin],
    )
