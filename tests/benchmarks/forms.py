"""How long a form takes: ``python tests/benchmarks/forms.py``.

Draws and packs a form of 40 items, all with clips, with two workers. It
may take 60 s on two cores. Measure on a machine with nothing else to do.
"""

from __future__ import annotations

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

LIMIT_S = 60.0


def main() -> None:
    cells = [cell for cell in blueprint().values() if cell.kind in ("first", "spot")]
    with ProcessPoolExecutor(2) as executor, tempfile.TemporaryDirectory() as folder:
        start = time.perf_counter()
        drawn = draw(Secret(bytes(32)), "measured", cells, executor=executor)
        middle = time.perf_counter()
        package, *_ = drawn.pack(folder, stills, executor)
        end = time.perf_counter()
        size = package.stat().st_size / 1e6
    print(f"{len(drawn.items)} items with clips: drawn in {middle - start:.1f} s, packed in "
          f"{end - middle:.1f} s, {size:.0f} MB (limit {LIMIT_S:.0f} s)")  # fmt: skip
    if end - start > LIMIT_S:
        sys.exit("too slow")


if __name__ == "__main__":
    main()
