"""How fast and how large the book is: ``python tests/benchmarks/offline_book.py``.

It is built in a folder of its own: seconds, processor seconds and megabytes,
with the largest files. Then every page with an explorer is opened from that
folder in Chromium without a network: from the address to the first picture
that moves, and from a key to after the paint, with a bare range input on the
same page in the same run. Give a folder with a book to measure that one.
"""

from __future__ import annotations

import os
import resource
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

import numpy as np
from playwright.sync_api import sync_playwright

from squatlab.__main__ import main
from tests.benchmarks.explorer_latency import INSTALL, pressed
from tests.browser import lab

BUILD_S, SIZE_MB, OPEN_MS, KEY_MS = 60, 10, 1000, 17
"""What the trainee's book must keep within on a machine with nothing else to do."""

READY = "() => [...document.querySelectorAll('[data-kept]')].every((e) => e.dataset.ready)"
MOVES = 60


def processor_s() -> float:
    """Return the processor seconds of this process and of those it ran."""
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(each.ru_utime + each.ru_stime for each in used)


def build(folder: Path) -> None:
    """Build a book and print what it took."""
    start, used = time.perf_counter(), processor_s()
    assert main(["book", "-o", str(folder), "--present"]) == 0
    spent = time.perf_counter() - start
    print(
        f"build {spent:.0f} s (at most {BUILD_S}), {processor_s() - used:.0f} s of processor time, "
        f"load now {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores"
    )


def weigh(folder: Path) -> None:
    """Print how large a book is, and its largest files."""
    sizes = {path: path.stat().st_size / 1e6 for path in folder.rglob("*") if path.is_file()}
    print(f"{sum(sizes.values()):.2f} MB in {len(sizes)} files (at most {SIZE_MB})")
    for path in sorted(sizes, key=sizes.__getitem__, reverse=True)[:8]:
        print(f"  {sizes[path]:.2f} {path.relative_to(folder)}")


def press_keys(page, file: Path) -> None:
    """Open a page and print how soon it moves, and how soon its slider's picture follows."""
    start = time.perf_counter()
    page.goto(file.as_uri())
    page.wait_for_function(READY, polling=10)
    opened_ms = 1000 * (time.perf_counter() - start)
    page.evaluate(INSTALL)
    bare = pressed(page, page.locator("#bare"), MOVES)
    slider = page.locator(".squatlab-explorer .slider input:enabled").first
    slider.scroll_into_view_if_needed()
    moved = pressed(page, slider, MOVES)
    print(
        f"{file.stem[:28]:28} open {opened_ms:5.0f} ms   key→paint median {np.median(moved):4.1f} "
        f"p95 {np.percentile(moved, 95):4.1f} ms   bare {np.median(bare):4.1f} "
        f"{np.percentile(bare, 95):4.1f}"
    )


def run(folder: Path) -> None:
    """Measure the book in a folder."""
    weigh(folder)
    print(f"bounds on an idle machine: open {OPEN_MS} ms, key to paint p95 {KEY_MS} ms")
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=lab.CHROMIUM, args=lab.FLAGS)
        page = browser.new_context(offline=True, viewport={"width": 1024, "height": 768}).new_page()
        for file in sorted(folder.rglob("*.html")):
            page.goto(file.as_uri())
            page.wait_for_function(READY)
            if page.locator(".squatlab-explorer").count():
                press_keys(page, file)
        browser.close()


if __name__ == "__main__":
    if len(sys.argv) > 1:
        run(Path(sys.argv[1]))
    else:
        with tempfile.TemporaryDirectory() as name:
            build(Path(name) / "book")
            run(Path(name) / "book")
