"""How fast cases are made and verified, how many squats that takes, and with two workers.

Run: python -m tests.benchmarks.cases [--cases 1000] [--workers 2]

Limits: 1,000 cases in 60 s on one core; two workers 1.7 times as fast as one. Cases are spread over
the cells that show a lift, practice among them. Workers are started before the clock.
"""

from __future__ import annotations

import argparse
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from itertools import islice

import numpy as np

from squatlab.questions.blueprint import blueprint
from squatlab.questions.items import Item, items

CELLS = [cell for cell in blueprint().values() if cell.how.shows_lift]
LIMIT_S, FASTER = 60.0, 1.7
"""For a thousand cases on one core; with two workers."""


def made(cases: int, executor: Executor | None = None) -> Iterator[Item]:
    """Yield so many items, cell after cell."""
    each = -(-cases // len(CELLS))
    return islice((one for cell in CELLS for one in items(cell, range(each), executor)), cases)


def told(of: dict[str, list[Item]]) -> str:
    """Return what each cell took, in a table."""
    lines = [f"{'cell':20}{'cases':>6}{'squats each':>13}{'at most':>8}{'margin':>8}"]
    for name, drawn in of.items():
        squats = [len(one.case.refused) + 1 for one in drawn]
        margin = np.mean([one.margin for one in drawn])
        lines.append(f"{name:20}{len(drawn):6}{np.mean(squats):13.2f}{max(squats):8}{margin:8.2f}")
    return "\n".join(lines)


def main() -> None:
    """Run what the command line asks for and print the report."""
    parser = argparse.ArgumentParser(description="How fast cases are made.")
    parser.add_argument("--cases", type=int, default=1000)
    parser.add_argument("--workers", type=int, default=2)
    given = parser.parse_args()
    next(made(1))  # tables read, populations known
    begun, busy = time.perf_counter(), time.process_time()
    of: dict[str, list[Item]] = {}
    for one in made(given.cases):
        of.setdefault(one.cell, []).append(one)
    alone, busy = time.perf_counter() - begun, time.process_time() - busy
    all_made = [one for drawn in of.values() for one in drawn]
    refused = Counter(why for one in all_made for why in one.case.refused)
    kept = len(all_made) / (len(all_made) + refused.total())
    print(told(of))
    print(f"squats tried for a case: {1 / kept:.2f}; kept {kept:.0%}; refused because it")
    print("\n".join(f"  {n:5} {why}" for why, n in refused.most_common()))
    print(
        f"{len(all_made)} cases in {alone:.1f} s ({len(all_made) / alone:.0f} a second; {busy:.1f} "
        f"s of one core); a thousand {1000 * busy / len(all_made):.0f} s of at most {LIMIT_S:.0f}"
    )
    with ProcessPoolExecutor(given.workers) as executor:
        list(items(CELLS[0], range(4 * given.workers), executor))  # every worker is warm
        begun = time.perf_counter()
        count = sum(1 for _ in made(given.cases, executor))
        together = time.perf_counter() - begun
    print(
        f"{count} cases with {given.workers} workers in {together:.1f} s: {alone / together:.2f} "
        f"times as fast (two workers: at least {FASTER})"
    )


if __name__ == "__main__":
    main()
