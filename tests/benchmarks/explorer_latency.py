"""How soon a picture follows a key: ``python tests/benchmarks/explorer_latency.py``.

For every explorer of the course, in a real JupyterLab in Chromium: from a
key to after the paint that shows it, with its sweep there and before; from
the focus until the whole sweep is there; pictures a second while a slider
is dragged for five seconds, a step a frame; how long they go on after it is
let go. A bare range input on the same page is pressed in the same run: its
times are what machine and browser take by themselves. Measure on a machine
with nothing else to do. Names of notebooks may be given.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

import numpy as np
from playwright.sync_api import sync_playwright

from squatlab import course
from tests.browser import keyboard, lab

INSTALL = """() => {
  const bench = window.bench = { drawn: 0, times: [], pressed: 0, waiting: false };
  const prototype = CanvasRenderingContext2D.prototype, original = prototype.setTransform;
  prototype.setTransform = function (...all) {
    bench.drawn++;
    bench.seen();
    return original.apply(this, all);
  };
  // After the paint: a message that is sent in the frame before it.
  const channel = new MessageChannel();
  channel.port1.onmessage = () => {
    bench.times.push(performance.now() - bench.pressed);
    bench.waiting = false;
  };
  bench.seen = () => {
    if (!bench.pressed || bench.waiting) return;
    bench.waiting = true;
    requestAnimationFrame(() => channel.port2.postMessage(0));
  };
  document.addEventListener("keydown", (event) => { bench.pressed = event.timeStamp; }, true);
  const bare = document.createElement("input");
  Object.assign(bare, { type: "range", id: "bare", max: 90, value: 45 });
  Object.assign(bare.style, { position: "fixed", top: 0, left: 0, zIndex: 9999 });
  bare.setAttribute("data-lm-suppress-shortcuts", "true");
  bare.addEventListener("keydown", (event) => event.stopPropagation());
  bare.addEventListener("input", () => bench.seen());
  document.body.append(bare);
}"""
DRAGGED = """async (slider, seconds) => {
  const frame = () => new Promise(requestAnimationFrame), high = Number(slider.max);
  let way = 1, drawn = 0, before = bench.drawn, last = 0;
  bench.pressed = 0;
  const start = performance.now();
  while (performance.now() - start < seconds * 1000) {
    const at = Number(slider.value);
    if (at + way > high || at + way < 0) way = -way;
    slider.value = at + way;
    slider.dispatchEvent(new Event("input", { bubbles: true }));
    await frame();
    if (bench.drawn !== before) { drawn++; before = bench.drawn; }
  }
  const released = performance.now();
  slider.dispatchEvent(new Event("change", { bubbles: true }));
  while (performance.now() - released < 800) {
    await frame();
    if (bench.drawn !== before) { before = bench.drawn; last = performance.now() - released; }
  }
  return [drawn / seconds, last];
}"""
MOVES, SECONDS, TURNS = 60, 5, 8
HARDER = {"06_a_repetition.ipynb": "Descent", "07_what_a_phone_sees.ipynb": "Noise"}
"""Where not the first slider asks for most."""

LIMITS = {"p95": 33, "before": 100, "ready": 150, "lag": 35}
"""Milliseconds: key with the sweep there, key before, focus to sweep, lag; all p95."""

LEAST_RATE = 50
"""Pictures a second when a slider moves a step a frame."""


def pressed(page, control, moves: int, pause_ms: int = 60) -> list[float]:
    """Return ms from each of so many keys to after the paint, to and fro."""
    control.focus()
    page.evaluate("() => { bench.times = []; }")
    for move in range(moves):
        page.keyboard.press("ArrowRight" if move // 5 % 2 else "ArrowLeft")
        page.wait_for_timeout(pause_ms)
    return page.evaluate("() => bench.times")


def ready(page, box, slider) -> float:
    """Return ms from the focus until every position is there."""
    name = slider.evaluate("e => e.id.split('-').pop()")
    start = time.perf_counter()
    slider.focus()
    page.wait_for_function(
        "([box, name]) => box.dataset.swept === name", arg=[box.element_handle(), name], polling=4
    )
    return 1000 * (time.perf_counter() - start)


def measured(page, box, name: str | None) -> tuple[str, dict[str, float]]:
    """Return a slider's name and its figures."""
    sliders = box.locator(".slider input:enabled")
    label = name or sliders.first.evaluate("e => e.labels[0].textContent")
    slider = box.get_by_role("slider", name=label, exact=True)
    slider.scroll_into_view_if_needed()
    reset = box.get_by_role("button", name="Reset", exact=True)
    readies, before = [], []
    for _ in range(TURNS):
        reset.click()  # which makes every sweep stale
        page.wait_for_timeout(300)
        readies.append(ready(page, box, slider))
        reset.click()
        page.wait_for_timeout(300)
        page.evaluate("() => { bench.times = []; }")
        slider.focus()
        page.keyboard.press("ArrowLeft")
        page.wait_for_timeout(600)
        before += page.evaluate("() => bench.times.slice(0, 1)")
    ready(page, box, slider)
    times = pressed(page, slider, MOVES)
    rate, lag = slider.evaluate(DRAGGED, SECONDS)
    bare = pressed(page, page.locator("#bare"), MOVES)
    figures = {
        "median": np.median(times),
        "p95": np.percentile(times, 95),
        "bare": np.percentile(bare, 95),
        "before": np.percentile(before, 95),
        "ready": np.percentile(readies, 95),
        "rate": rate,
        "lag": lag,
    }
    return label, {name: float(value) for name, value in figures.items()}


def main() -> None:
    scratch, slow = Path(tempfile.mkdtemp()), []
    notebooks = course.working_copy(scratch / "course").folder
    names = sys.argv[1:] or sorted(
        path.relative_to(notebooks).as_posix()
        for path in notebooks.rglob("*.ipynb")
        if "squatlab-still" in path.read_text(encoding="utf-8")
    )
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}; ms, p95 but for the median")
    heads = "median", "p95", "bare p95", "before", "ready", "drag /s", "lag", "load"
    print(f"{'explorer':24}{'slider':16}", *(f"{head:>9}" for head in heads), "  run all s", sep="")
    with lab.server(notebooks, scratch) as address, sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=lab.CHROMIUM, args=lab.FLAGS)
        for name in names:
            page = browser.new_page(viewport={"width": 1280, "height": 800})
            lab.open_notebook(page, address, name)
            start = time.perf_counter()
            lab.run_all(page)
            ran = time.perf_counter() - start
            page.evaluate(INSTALL)
            for box in keyboard.widgets(page)["explorers"][:1]:
                label, figures = measured(page, box, HARDER.get(Path(name).name))
                shown = "".join(f"{value:9.0f}" for value in figures.values())
                load = os.getloadavg()[0]
                print(f"{name[:23]:24}{label:16}{shown}{load:9.1f}{ran:11.1f}", flush=True)
                late = [kind for kind, limit in LIMITS.items() if figures[kind] > limit]
                if late or figures["rate"] < LEAST_RATE:
                    slow.append(f"{name} ({', '.join(late) or 'pictures a second'})")
            lab.close(page)
        browser.close()
    if slow:
        sys.exit(f"too slow: {'; '.join(slow)}")


if __name__ == "__main__":
    main()
