"""How long it takes to read and mark a class, a nation and something in between.

A 40-item form: 30 lifts to rank first, 4 to spot, 2 cues, 2 numbers, 2 orders. Prints the seconds
for 100, 1,000 and 10,000 hand-in files read from disk, marked, and analysed.

Run: python -m tests.benchmarks.marking [largest]
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

from squatlab.exam import answers
from squatlab.exam.marking import mark
from squatlab.exam.statistics import analyse
from tests.exam import invented_class

LIMIT_S = 3.0


def seconds(people: int) -> tuple[float, float, float]:
    """Return the seconds to read, to mark, and to analyse so many sheets."""
    form, key = invented_class.form_and_key()
    with tempfile.TemporaryDirectory() as folder:
        for sheet in invented_class.sheets(form, key, people):
            sheet.write(Path(folder) / f"{sheet.candidate}.json")
        begin = time.perf_counter()
        handed_in = answers.collect(folder, form)
        read = time.perf_counter()
        marks = mark(form, key, handed_in.sheets)
        feedback = marks.feedback, marks.dprime, marks.by_cell(), marks.first.faults(), marks.spot
        marked = time.perf_counter()
        result = analyse(marks.cases, form.cut)
        end = time.perf_counter()
    assert len(marks.candidates) == result.people == people and feedback
    return read - begin, marked - read, end - marked


def main() -> None:
    """Print seconds for three sizes, and how they grow."""
    largest = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    before = None
    for people in (largest // 100, largest // 10, largest):
        parts = seconds(people)
        total = sum(parts)
        grown = f", {total / before:.1f} × for 10 × the sheets" if before else ""
        read, marked, analysed = (f"{part:.3f}" for part in parts)
        print(
            f"{people:>6} sheets × 40 items: {total:.2f} s "
            f"(read {read}, marked {marked}, statistics {analysed}){grown}"
        )
        before = total
    print(f"limit for 10,000: {LIMIT_S} s")


if __name__ == "__main__":
    main()
