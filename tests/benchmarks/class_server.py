"""Twenty people on a class server: how soon pictures follow sliders, how much memory each takes.

Everybody logs in, has a server and a kernel started, runs notebook 02, writes a record into one
PostgreSQL database and moves a slider twice a second, all at the same time, on this machine; then
everybody goes from slider to slider, one every two seconds. The peer is one of them who does so
while the others only sit there.

Run: python -m tests.benchmarks.class_server [people]
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np
import psutil

from squatlab.exam.records import Records
from tests import class_server, postgresql
from tests.class_server import Kernel, Person
from tests.test_class_server import WRITE

MOVES, EACH_S = 30, 0.5
FOCUSES, FOCUS_S = 12, 2.0
"""How many sliders everybody goes to, and how long each stays."""

TIMES, LIMIT_MB, FOCUS_MS = 5.0, 350, 300
"""A p95 over the median of one alone; the memory that class_server.md says to plan; p95 from a
slider's focus until all its positions are there."""


def sat_down(person: Person) -> Kernel:
    """Log in, open notebook 02 and run it."""
    person.log_in()
    kernel = Kernel(person)
    kernel.run_notebook(person.get(f"api/contents/{class_server.NOTEBOOK}").json()["content"])
    return kernel


def moved(kernel: Kernel, first_s: float) -> list[float]:
    """Move the load's slider; return how long each picture took, ms."""
    took, due = [], time.perf_counter() + first_s
    for number in range(MOVES):
        time.sleep(max(0.0, due - time.perf_counter()))
        due += EACH_S
        start = time.perf_counter()
        assert "hip" in kernel.move("load", 40 + 2 * (number % 30))
        took.append(1000 * (time.perf_counter() - start))
    return took


def focused(kernel: Kernel, first_s: float) -> list[float]:
    """Go from slider to slider; return how long each took until every position was there, ms."""
    took, due = [], time.perf_counter() + first_s
    for number in range(FOCUSES):
        time.sleep(max(0.0, due - time.perf_counter()))
        due += FOCUS_S
        start = time.perf_counter()
        assert all(kernel.focus(("depth", "load", "shank", "bar_position")[number % 4]))
        took.append(1000 * (time.perf_counter() - start))
    return took


def memory_mb() -> np.ndarray:
    """Return what each person's server and kernel take, shared memory shared out."""
    servers = [
        one
        for one in psutil.Process().children(recursive=True)
        if "jupyterhub.singleuser" in one.cmdline()
    ]
    taken = [
        [part.memory_full_info().pss / 1e6 for part in (one, *one.children(recursive=True))]
        for one in servers
    ]
    return np.array([(server, sum(kernels)) for server, *kernels in taken])


def main(count: int = 20) -> int:
    """Run it and print the figures; 1 if one is beyond its limit."""
    if missing := class_server.MISSING or postgresql.MISSING:
        print(f"cannot be run: {missing}")
        return 2
    names = [f"p{number:02}" for number in range(count)]
    with (
        tempfile.TemporaryDirectory(prefix="squatlab-hub-") as folder,
        postgresql.running() as server,
        ThreadPoolExecutor(count) as everybody,
    ):
        shared = postgresql.database(server)
        # All are instructors, so that all may write: the worst that can happen to the database.
        with class_server.running(Path(folder), names, shared) as address:

            def timed(what: Callable, *given: Any) -> tuple[list, float]:
                start = time.perf_counter()
                return list(everybody.map(what, *given)), time.perf_counter() - start

            kernels, ready = timed(sat_down, [Person(address, name) for name in names])
            print(f"{count} people logged in and ran notebook 02 in {ready:.0f} s")
            write = [WRITE.replace("K1", name) for name in names]
            _, wrote = timed(Kernel.run, kernels, write)
            records = Records(shared)
            altered, head = records.verify(), records.head()
            records.close()
            # For each a coach.
            assert not altered and head.startswith(f"{count}:"), head
            print(f"{count} records written at the same time in {wrote:.1f} s, none altered")
            alone = np.median(moved(kernels[0], 0.1))
            took, _ = timed(moved, kernels, np.linspace(0.1, 0.1 + EACH_S, count))
            focus_alone = np.percentile(focused(kernels[0], 0.1), 95)
            focus, _ = timed(focused, kernels, np.linspace(0.1, 0.1 + FOCUS_S, count))
            megabytes = memory_mb()
            for kernel in kernels:
                kernel.close()
    median, p95 = np.percentile(took, [50, 95])
    print(
        f"{count * MOVES} updates, {count / EACH_S:.0f} a second: median {median:.0f} ms, "
        f"p95 {p95:.0f} ms, {p95 / alone:.1f} times one alone, {alone:.0f} ms (limit {TIMES})"
    )
    focus_median, focus_p95 = np.percentile(focus, [50, 95])
    print(
        f"{count * FOCUSES} focuses, {count / FOCUS_S:.0f} a second, until all positions are "
        f"there: median {focus_median:.0f} ms, p95 {focus_p95:.0f} ms (limit {FOCUS_MS}); "
        f"one alone p95 {focus_alone:.0f} ms"
    )
    server, kernel = megabytes.mean(axis=0)
    print(
        f"memory of one person: {server + kernel:.0f} MB (limit {LIMIT_MB}), of which the "
        f"server {server:.0f}, the notebook's kernel {kernel:.0f}"
    )
    return int(p95 > TIMES * alone or focus_p95 > FOCUS_MS or server + kernel > LIMIT_MB)


if __name__ == "__main__":
    sys.exit(main(*map(int, sys.argv[1:2])))
