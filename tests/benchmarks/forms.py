"""How long a form takes: ``python tests/benchmarks/forms.py``.

Draws and packs a form of 40 items, all with clips, with two workers. It
may take 120 s on two cores and 40 MB. Measure on a machine with nothing
else to do: a busy one is told by the processors' own time.
"""

from __future__ import annotations

import hashlib
import os
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from squatlab.exam.build import draw
from squatlab.exam.screens.stills import stills
from squatlab.exam.secret import Secret
from squatlab.questions.blueprint import blueprint

LIMIT_S, LIMIT_MB = 120.0, 40.0


def main() -> None:
    cells = [cell for cell in blueprint().values() if cell.kind in ("first", "spot")]
    with ProcessPoolExecutor(2) as executor, tempfile.TemporaryDirectory() as folder:
        start = time.perf_counter()
        drawn = draw(
            Secret(hashlib.sha256(b"a form to measure").digest()),
            "measured",
            cells,
            executor=executor,
        )
        middle = time.perf_counter()
        packed = drawn.pack(folder, stills, executor)
        end = time.perf_counter()
        size = packed.package.stat().st_size / 1e6
    print(
        f"{len(drawn.items)} items with clips: drawn in {middle - start:.1f} s, packed in "
        f"{end - middle:.1f} s, {size:.1f} MB (limits {LIMIT_S:.0f} s, {LIMIT_MB:.0f} MB)"
    )
    used = os.times()
    worked = used.children_user + used.children_system
    print(f"processors worked {worked:.0f} s for it, shared by two workers")
    if end - start > LIMIT_S:
        sys.exit("too slow")
    if size > LIMIT_MB:
        sys.exit("too large")


if __name__ == "__main__":
    main()
