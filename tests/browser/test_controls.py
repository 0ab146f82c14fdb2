"""What the repair widget mends, seen in the browser it was written for."""

from __future__ import annotations

from tests.browser import lab

NOTEBOOK = "04_stance_and_knees.ipynb"

FOCUSABLE = "input, button, select, textarea, [tabindex], [contenteditable]"


def cells(page) -> int:
    return page.evaluate("window.jupyterapp.shell.currentWidget.content.widgets.length")


def test_controls_speak_and_keep_their_keys(opened):
    page = opened(NOTEBOOK)
    explorer = lab.explorer_with(page, "Turnout")
    turnout = explorer.get_by_role("slider", name="Turnout", exact=True)
    knees = explorer.get_by_role("slider", name="Knees inward", exact=True)

    # Spoken values carry the unit, the direction and a word for zero.
    assert turnout.get_attribute("aria-valuetext") == "12° out"
    assert knees.get_attribute("aria-valuetext") == "over the feet"
    knees.press("ArrowLeft")
    page.wait_for_function("e => e.getAttribute('aria-valuetext') === '1° outward'",
                           arg=knees.element_handle())  # fmt: skip

    # In a notebook "b" inserts a cell, "d d" deletes one: not from inside a control.
    before = cells(page)
    for key in "badd":
        turnout.press(key)
    for name in ("Stiff ankles", "front"):
        for key in "bdd":
            explorer.get_by_role("button", name=name, exact=True).press(key)
    assert cells(page) == before
    for element in explorer.locator(FOCUSABLE).all():
        assert element.get_attribute("data-lm-suppress-shortcuts") == "true"

    # A row of buttons says what it chooses and which one is pressed.
    view = explorer.get_by_role("group", name="View")
    front = view.get_by_role("button", name="front", exact=True)
    front.click()
    page.wait_for_function("e => e.getAttribute('aria-pressed') === 'true'",
                           arg=front.element_handle())  # fmt: skip
    pressed = [b.get_attribute("aria-pressed") for b in view.locator("button").all()]
    assert pressed.count("true") == 1

    # Both pictures have words, and the live region outlasts its sentence.
    explorer.locator("svg[role=img][aria-label^='Front view']").wait_for()
    assert "can be held" in explorer.locator("img.squatlab-chart").get_attribute("alt")
    sentence = explorer.locator(".squatlab-sentence p")
    lasting = sentence.element_handle()
    said = sentence.inner_text()
    explorer.get_by_role("slider", name="Depth", exact=True).press("PageUp")
    page.wait_for_function("([e, said]) => e.isConnected && e.innerText !== said",
                           arg=[lasting, said])  # fmt: skip
    assert sentence.get_attribute("aria-live") == "polite"
    assert page.complaints == []
