"""Everybody can use what is shown without a kernel, and what could not be used would be found."""

from __future__ import annotations

import json

from squatlab import tables
from tests.browser import everybody


def test_what_is_shown_without_a_kernel_is_for_everybody(browser):
    kept = []
    for path in tables.folder("notebooks").rglob("*.ipynb"):
        for cell in json.loads(path.read_text(encoding="utf-8"))["cells"]:
            for data in (output.get("data", {}) for output in cell.get("outputs", ())):
                kept.append("".join(data.get("text/html", "")))
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    page.set_content(
        "<html lang='en'><title>Kept</title><main><h1>Kept</h1>"
        + "".join(f"<div class='kept'>{shown}</div>" for shown in kept if shown)
    )
    assert everybody.grave(page, ".kept") == []
    names = page.evaluate(everybody.NAMES, ".kept")
    assert len(names) > 50 and everybody.without_words(names) == []
    page.close()


def test_what_is_judged_would_be_found(browser):
    # A check that cannot fail is none: a picture without words, pale words, a button in the way.
    page = browser.new_page(viewport={"width": 640, "height": 400})
    page.set_content(
        "<div class='kept' style='width: 300px; overflow: hidden; background: white'>"
        "<img src='data:,' width='320'><p style='color: #999'>pale</p>"
        "<button style='position: absolute; left: 20px; top: 5px'>over it</button></div>"
    )
    told = " ".join(everybody.grave(page, ".kept"))
    assert "image-alt" in told and "color-contrast" in told
    assert everybody.without_words(page.evaluate(everybody.NAMES, ".kept"))
    assert page.evaluate(everybody.CUT, ".kept")
    assert page.evaluate(everybody.MEETING, ".kept")
    page.close()
