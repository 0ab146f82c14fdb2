"""The clip of the fault explorer follows its controls without being made anew."""

from __future__ import annotations

import re

from tests.browser import lab

CELLS = ("from squatlab.show.fault_explorers import faults", "faults()")
PIXELS = "canvas => canvas.toDataURL()"


def test_a_size_changes_the_clip_and_keeps_the_instant(opened, folder):
    lab.write_notebook(folder / "faults.ipynb", CELLS)
    page = opened("faults.ipynb")
    explorer = lab.explorer_with(page, "Size")
    size = explorer.get_by_role("slider", name="Size", exact=True)
    clip = explorer.get_by_role("group", name="Clip", exact=True)
    canvas = clip.locator("canvas")
    canvas.scroll_into_view_if_needed()
    instant = clip.locator(".status").text_content()
    assert re.fullmatch(r"clear, \d+\.\d°", size.get_attribute("aria-valuetext"))
    assert "lowest point" in instant

    lasting, before = canvas.element_handle(), canvas.evaluate(PIXELS)
    size.press("PageUp")
    page.wait_for_function(
        "([canvas, before]) => canvas.toDataURL() !== before", arg=[lasting, before]
    )
    assert canvas.element_handle().evaluate("(one, other) => one === other", lasting)
    # How many frames there are may change with the size: the ascent lasts as its rise takes.
    now = clip.locator(".status").text_content()
    assert re.sub(r" of \d+", "", now) == re.sub(r" of \d+", "", instant)

    # Another fault: its unit is spoken, its worst frame shown, its line named in the sentence.
    explorer.get_by_label("Fault", exact=True).select_option("3 feet and bar path: heels lift")
    page.wait_for_function(
        "e => e.getAttribute('aria-valuetext').endsWith('cm')", arg=size.element_handle()
    )
    page.wait_for_function(
        "([e, said]) => e.textContent !== said",
        arg=[clip.locator(".status").element_handle(), instant],
    )
    assert "Heels lift: " in explorer.locator("p[role=status]").inner_text()
    assert page.complaints == []
