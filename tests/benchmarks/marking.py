"""How long it takes to mark a class and a nation: ``python -m tests.benchmarks.marking [largest]``.

A 40-item form: 30 lifts to rank first, 4 to spot, 2 cues, 2 numbers, 2 orders. Prints the seconds
to mark 1,000, 10,000 and 100,000 sheets on one process, and through an executor of two, with
statistics and the most memory the marking process held. The sheets come one by one, as from the
records; the time in which they are made is counted apart.
"""

from __future__ import annotations

import resource
import sys
import time
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from typing import NamedTuple

from squatlab.exam.answers import Sheet
from squatlab.exam.marking import mark
from squatlab.exam.statistics import analyse
from tests.exam import invented_class


class Seconds(NamedTuple):
    """Hold what making the sheets took, marking them, and the statistics."""

    making: float
    marking: float
    statistics: float


def seconds(people: int, executor: Executor | None) -> Seconds:
    """Return the seconds for so many sheets."""
    form, key = invented_class.form_and_key()
    making = 0.0

    def sheets() -> Iterator[Sheet]:
        """Yield the sheets, and count the time in which they are made."""
        nonlocal making
        made = invented_class.sheets(form, key, people)
        while True:
            begun = time.perf_counter()
            sheet = next(made, None)
            making += time.perf_counter() - begun
            if sheet is None:
                return
            yield sheet

    begin = time.perf_counter()
    marks = mark(form, key, sheets(), executor=executor)
    parts = marks.feedback, marks.dprime, marks.by_cell(), marks.first.faults(), marks.spot
    marked = time.perf_counter()
    result = analyse(marks.cases, form.cut)
    end = time.perf_counter()
    assert len(marks.candidates) == result.people == people and parts
    return Seconds(making, marked - begin - making, end - marked)


def main() -> None:
    """Print seconds for three sizes, alone and through the executor."""
    largest = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    with ProcessPoolExecutor(2) as two:
        two.submit(sum, ()).result()  # the workers start before anything is timed
        for name, executor in (("one process", None), ("executor of two", two)):
            for people in (largest // 100, largest // 10, largest):
                took = seconds(people, executor)
                megabytes = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000
                print(
                    f"{name}, {people:>6} sheets × 40 items: marked in {took.marking:.2f} s, "
                    f"statistics {took.statistics:.2f} s (making the sheets {took.making:.1f} s); "
                    f"{megabytes:.0f} MB at most",
                    flush=True,
                )


if __name__ == "__main__":
    main()
