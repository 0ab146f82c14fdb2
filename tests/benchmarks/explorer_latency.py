"""How soon the picture follows a key: ``python tests/benchmarks/explorer_latency.py``.

Key press to the frame in which picture, sentence and, where there is one,
the chart are new, in a real JupyterLab in Chromium; limits p95 45 ms
(picture), 75 ms (picture and chart), and 35 pictures a second while
dragging. Measure on a machine with nothing else to do.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

import numpy as np
from playwright.sync_api import sync_playwright

from squatlab import course
from tests.browser import lab

MEASURE = """async ([label, moves]) => {
  const box = [...document.querySelectorAll('.squatlab')].find(b =>
    [...b.querySelectorAll('[role=slider]')].some(s => s.getAttribute('aria-label') === label));
  const handle = [...box.querySelectorAll('[role=slider]')]
    .find(s => s.getAttribute('aria-label') === label);
  const image = box.querySelector('img.widget-image');
  const said = () => box.querySelector('[role=status]').innerText;
  const charted = () => !image ? '' : image.complete && image.naturalWidth ? image.src : null;
  const changed = ([words, chart]) => said() !== words &&
    (!image || charted() !== null && charted() !== chart);
  handle.focus();
  const times = [];
  for (let i = 0; i < moves; i++) {
    const before = [said(), charted()], start = performance.now();
    const key = i % 20 < 10 ? 'ArrowRight' : 'ArrowLeft';
    handle.dispatchEvent(new KeyboardEvent('keydown', {key, bubbles: true}));
    await new Promise(resolve => { const look = () => {
      if (changed(before) || performance.now() - start > 2000)
        requestAnimationFrame(() => resolve()); else requestAnimationFrame(look); };
      requestAnimationFrame(look); });
    times.push(performance.now() - start);
    await new Promise(resolve => setTimeout(resolve, 60));
  }
  return times;
}"""
COUNT = """async ([label, seconds]) => {
  const box = [...document.querySelectorAll('.squatlab')].find(b =>
    [...b.querySelectorAll('[role=slider]')].some(s => s.getAttribute('aria-label') === label));
  const handle = [...box.querySelectorAll('[role=slider]')]
    .find(s => s.getAttribute('aria-label') === label);
  const status = () => box.querySelector('[role=status]').innerText;
  let last = status(), drawn = 0, i = 0;
  const start = performance.now();
  while (performance.now() - start < seconds * 1000) {
    const key = i++ % 40 < 20 ? 'ArrowRight' : 'ArrowLeft';
    handle.dispatchEvent(new KeyboardEvent('keydown', {key, bubbles: true}));
    await new Promise(requestAnimationFrame);
    if (status() !== last) { drawn++; last = status(); }
  }
  const released = performance.now();
  let quiet = released, seen = status();
  while (performance.now() - quiet < 300) {
    await new Promise(requestAnimationFrame);
    if (status() !== seen) { seen = status(); quiet = performance.now(); }
  }
  return [drawn / seconds, quiet - released];
}"""
CASES = (
    ("02_lever_arms.ipynb", "Load", 45),
    ("03_proportions.ipynb", "Femur length", 75),
    ("04_stance_and_knees.ipynb", "Shank lean", 75),
    ("05_balance_and_bar_path.ipynb", "Load", 75),
)


def main() -> None:
    scratch = Path(tempfile.mkdtemp())
    notebooks = course.working_copy(scratch / "course").folder
    print(f"{'explorer':32}{'median ms':>10}{'p95 ms':>8}{'limit':>7}{'drag /s':>9}{'lag ms':>8}")
    with lab.server(notebooks, scratch) as address, sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=lab.CHROMIUM, args=lab.FLAGS)
        for name, label, limit in CASES:
            page = browser.new_page(viewport={"width": 1280, "height": 800})
            lab.open_notebook(page, address, name)
            lab.run_all(page)
            lab.explorer_with(page, label)
            page.evaluate(MEASURE, [label, 5])
            times = np.array(page.evaluate(MEASURE, [label, 60]))
            rate, lag = page.evaluate(COUNT, [label, 5])
            print(
                f"{name:32}{np.median(times):10.0f}{np.percentile(times, 95):8.0f}{limit:7}"
                f"{rate:9.0f}{lag:8.0f}"
            )
            page.close()
        browser.close()


if __name__ == "__main__":
    main()
