"""How soon a picture follows a key: ``python tests/benchmarks/explorer_latency.py``.

For every explorer of the course, in a real JupyterLab in Chromium: from a
key to the frame after the one in which picture and sentence and, where there
are such, chart and clip are new; pictures a second while a slider is dragged
for five seconds; how long they go on after it is let go. Measure on a machine
with nothing else to do. Names of notebooks may be given.
"""

from __future__ import annotations

import os
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

import numpy as np
from playwright.sync_api import sync_playwright

from squatlab import course
from tests.browser import keyboard, lab

SWEEP = """
  const handle = slider.closest('[role=slider]'), REACH = 8;
  let at = 0, way = 1, drawings = 0;
  const value = name => Number(handle.getAttribute('aria-value' + name));
  // To and fro over eight steps on either side, or to where the slider ends.
  function move() {
    if (at * way >= REACH || way > 0 && value('now') >= value('max')
        || way < 0 && value('now') <= value('min')) way = -way;
    at += way;
    const key = way > 0 ? 'ArrowRight' : 'ArrowLeft';
    handle.dispatchEvent(new KeyboardEvent('keydown', {key, bubbles: true}));
  }
  const frame = () => new Promise(requestAnimationFrame);
  const box = handle.closest('.squatlab'), image = box.querySelector('img.squatlab-chart');
  const canvas = box.querySelector('canvas'), context = canvas?.getContext('2d');
  if (context) context.setTransform = function (...all) {
    drawings++;
    return CanvasRenderingContext2D.prototype.setTransform.apply(this, all);
  };
  const picture = () => box.querySelector('.squatlab-picture svg');
  const said = () => box.querySelector('.squatlab-sentence [role=status]')?.textContent;
  const charted = () => image?.complete && image.naturalWidth ? image.src : null;
  const changed = was => now().some((one, i) => one !== was[i]);
  const now = () => [picture(), said(), charted(), drawings];
  handle.focus();
"""
PRESSED = f"""async (slider, moves) => {{ {SWEEP}
  const times = [];
  for (let i = 0; i < moves; i++) {{
    const [svg, words, chart, drawn] = now(), start = performance.now();
    const fresh = () => (picture() !== svg || said() !== words) && (!canvas || drawings > drawn)
      && (!image || charted() !== null && charted() !== chart);
    move();
    do await frame(); while (!fresh() && performance.now() - start < 2000);
    await frame();
    times.push(performance.now() - start);
    await new Promise(resolve => setTimeout(resolve, 60));
  }}
  return times;
}}"""
DRAGGED = f"""async (slider, seconds) => {{ {SWEEP}
  let last = picture(), drawn = 0;
  const start = performance.now();
  while (performance.now() - start < seconds * 1000) {{
    move();
    await frame();
    if (picture() !== last) {{ drawn++; last = picture(); }}
  }}
  const released = performance.now();
  let quiet = released, was = now();
  while (performance.now() - quiet < 400) {{
    await frame();
    if (changed(was)) {{ was = now(); quiet = performance.now(); }}
  }}
  return [drawn / seconds, quiet - released];
}}"""
MOVES, SECONDS = 60, 5
HARDER = {"06_a_repetition.ipynb": "Descent"}
"""Where not the first slider asks for most."""

PRESS_MS, WITH_MORE_MS, LAG_MS = 45, 75, 150
"""Limits: p95 of a picture, p95 with a chart or a clip beside it, lag."""


def measured(box, name: str | None) -> tuple[str, int, list[float], float, float]:
    """Return a slider's name, its limit, ms of each press, pictures a second, lag in ms."""
    named = f"[aria-label='{name}']" if name else ""
    slider = box.locator(f"[role=slider]{named}").first
    slider.scroll_into_view_if_needed()
    slider.evaluate(PRESSED, 5)
    times = slider.evaluate(PRESSED, MOVES)
    more = box.locator("img.squatlab-chart, canvas").count()
    limit = WITH_MORE_MS if more else PRESS_MS
    return slider.get_attribute("aria-label"), limit, times, *slider.evaluate(DRAGGED, SECONDS)


def main() -> None:
    scratch, slow = Path(tempfile.mkdtemp()), []
    notebooks = course.working_copy(scratch / "course").folder
    names = sys.argv[1:] or sorted(
        path.relative_to(notebooks).as_posix()
        for path in notebooks.rglob("*.ipynb")
        if "squatlab-still" in path.read_text(encoding="utf-8")
    )
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}")
    heads = "median ms", "p95 ms", "limit", "drag /s", "lag ms", "load"
    print(f"{'explorer':28}{'slider':16}", *(f"{head:>9}" for head in heads), sep="")
    with lab.server(notebooks, scratch) as address, sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=lab.CHROMIUM, args=lab.FLAGS)
        for name in names:
            page = browser.new_page(viewport={"width": 1280, "height": 800})
            lab.open_notebook(page, address, name)
            lab.run_all(page)
            for box in keyboard.widgets(page)["explorers"]:
                slider, limit, times, rate, lag = measured(box, HARDER.get(name))
                p95 = np.percentile(times, 95)
                figures = np.median(times), p95, limit, rate, lag
                shown = "".join(f"{one:9.0f}" for one in figures)
                print(f"{name[:27]:28}{slider:16}{shown}{os.getloadavg()[0]:9.1f}", flush=True)
                if p95 > limit or lag > LAG_MS:
                    slow.append(name)
            lab.close(page)
        browser.close()
    if slow:
        sys.exit(f"too slow: {', '.join(slow)}")


if __name__ == "__main__":
    main()
