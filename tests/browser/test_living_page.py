"""An explorer on a page without a kernel and without a network."""

from __future__ import annotations

import pytest

from squatlab.show import explorers, pages
from tests.browser import lab

playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")


def test_it_moves_from_every_preset_with_the_kernels_words(browser, tmp_path):
    explorer = explorers.lever_arms()
    page_file = tmp_path / "page.html"
    page_file.write_text(
        f"<!doctype html><meta charset='utf-8'><title>t</title><style>{pages.STYLE}</style>"
        f"<script>{pages.SCRIPT}</script>{pages.living(explorer)}",
        encoding="utf-8",
    )
    page = browser.new_page(viewport={"width": 1024, "height": 768})
    complaints = []
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on("request", lambda asked: asked.url.startswith("http") and complaints.append(asked.url))
    page.goto(page_file.as_uri())
    box = page.locator(".squatlab-explorer")
    box.wait_for()
    sentence = box.locator("p[role=status]")
    assert sentence.inner_text() == explorer.sentence

    box.get_by_role("button", name="Low bar", exact=True).click()
    explorer.press("Low bar")
    assert sentence.inner_text() == explorer.sentence
    depth = box.get_by_role("slider", name="Depth", exact=True)
    depth.focus()
    for _ in range(5):
        page.keyboard.press("ArrowRight")
    explorer.depth = 5
    page.wait_for_function(
        "([e, said]) => e.innerText === said", arg=[sentence.element_handle(), explorer.sentence]
    )
    assert depth.get_attribute("aria-valuetext") == "5° below level"

    # Another slider goes on from the preset, and the first one is back there.
    load = box.get_by_role("slider", name="Load", exact=True)
    load.press("ArrowRight")
    explorer.press("Low bar")
    explorer.load = 105
    page.wait_for_function(
        "([e, said]) => e.innerText === said", arg=[sentence.element_handle(), explorer.sentence]
    )
    assert depth.get_attribute("aria-valuetext") == "thigh level"
    assert complaints == [] and lab.CHROMIUM
