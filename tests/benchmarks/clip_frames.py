"""How many frames of a clip are drawn: ``python tests/benchmarks/clip_frames.py``.

Counts the drawings and the different frames in a second at every speed,
in a real JupyterLab in Chromium, side and front with measured lines. At
1× at least 95 of 100 frames that the page shows must be drawn anew.
Building a clip may take 0.1 s. Measure on a machine with nothing else to do.
"""

from __future__ import annotations

import json
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from playwright.sync_api import sync_playwright

from squatlab import Bar, Lifter, Stance
from squatlab.motion import Tempo, synthesise
from squatlab.show import raster
from squatlab.show.clips import clip
from tests.browser import lab

MAKE = """from squatlab import Bar, Lifter, Stance
from squatlab.motion import Tempo, synthesise
from squatlab.show.clips import clip
rep = synthesise(Lifter.from_stature(1.75, 80), Bar.high(100), Stance(), Tempo(), rate={rate})
clip(rep, lines=True)"""
COUNT = """async ([speed, seconds]) => {
  const root = document.querySelector('.squatlab-clip'), slider = root.querySelector('input');
  const button = name => [...root.querySelectorAll('button')].find(b => b.textContent === name);
  const prototype = CanvasRenderingContext2D.prototype, original = prototype.setTransform;
  const frames = new Set(); let drawn = 0, spent = 0, turns = 0;
  button('Start').click(); button(speed).click();
  prototype.setTransform = function (...all) { drawn++; frames.add(slider.value);
    return original.apply(this, all); };
  button('Play').click();
  const start = performance.now();
  while (performance.now() - start < seconds * 1000) {
    await new Promise(requestAnimationFrame); turns++;
  }
  const passed = (performance.now() - start) / 1000;
  prototype.setTransform = original;
  button('Pause')?.click();
  return [drawn / passed, frames.size / passed, turns / passed];
}"""
RATES, SPEEDS = (60, 120), ("1×", "1/2", "1/4", "1/8")
LEAST = 0.95


def browser_rates() -> bool:
    """Print frames a second at every speed; return whether 1× is fast enough."""
    scratch, enough = Path(tempfile.mkdtemp()), True
    folder = scratch / "notebooks"
    folder.mkdir()
    for rate in RATES:
        cell = {
            "cell_type": "code",
            "execution_count": None,
            "id": "clip",
            "metadata": {},
            "outputs": [],
            "source": MAKE.format(rate=rate),
        }
        kernel = {"display_name": "Python 3", "language": "python", "name": "python3"}
        notebook = {
            "cells": [cell],
            "metadata": {"kernelspec": kernel},
            "nbformat": 4,
            "nbformat_minor": 5,
        }
        (folder / f"clip{rate}.ipynb").write_text(json.dumps(notebook), encoding="utf-8")
    print(f"{'filmed at':10}{'speed':>7}{'drawn /s':>10}{'different /s':>14}{'page /s':>9}")
    with lab.server(folder, scratch) as address, sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=lab.CHROMIUM, args=lab.FLAGS)
        for rate in RATES:
            page = browser.new_page(viewport={"width": 1280, "height": 800})
            lab.open_notebook(page, address, f"clip{rate}.ipynb")
            lab.run_all(page)
            page.locator(".squatlab-clip").wait_for()
            for speed in SPEEDS:
                drawn, different, turns = page.evaluate(COUNT, [speed, 4])
                print(f"{rate:7} Hz{speed:>7}{drawn:10.1f}{different:14.1f}{turns:9.1f}")
                enough &= speed != "1×" or drawn >= LEAST * min(turns, rate)
            page.close()
        browser.close()
    return enough


def best_of(make: object, times: int = 7) -> float:
    """Return the shortest of several runs, ms."""
    spent = []
    for _ in range(times):
        start = time.perf_counter()
        make()
        spent.append(1000 * (time.perf_counter() - start))
    return min(spent)


def main() -> None:
    lifter = Lifter.from_stature(1.75, 80)
    rep = synthesise(lifter, Bar.high(100), Stance(), Tempo())
    film = clip(rep).film
    scene, side = film.scene(film.footage.bottoms[0]), film.scene(film.footage.bottoms[0], "side")
    built = best_of(lambda: clip(rep))
    print(f"clip of {rep.time.size} frames built in {built:.0f} ms (limit 100)")
    print(
        f"one frame as pixels, both views {best_of(lambda: raster.image(scene)):.1f} ms,", end=" "
    )
    print(f"side at 400 px {best_of(lambda: raster.image(side, 400)):.1f} ms")
    if not browser_rates() or built > 100:
        sys.exit("too slow")


if __name__ == "__main__":
    main()
