"""The controls of an explorer, in the browser they were written for."""

from __future__ import annotations

from tests.browser import lab

CELLS = ("from squatlab.show.explorers import stance", "stance()")

FOCUSABLE = "input, button, select, textarea, [tabindex], [contenteditable]"
PLACES = """box => [...box.querySelectorAll('label, input, output, button, canvas')]
  .filter(e => e.checkVisibility()).map(e => { const r = e.getBoundingClientRect();
    return [r.left, r.top, r.width, r.height].map(Math.round).join(); })"""


def cells(page) -> int:
    return page.evaluate("window.jupyterapp.shell.currentWidget.content.widgets.length")


def test_controls_speak_keep_their_keys_and_their_places(opened, folder):
    lab.write_notebook(folder / "stance.ipynb", CELLS)
    page = opened("stance.ipynb")
    explorer = lab.explorer_with(page, "Turnout")
    turnout = explorer.get_by_role("slider", name="Turnout", exact=True)
    knees = explorer.get_by_role("slider", name="Knees inward", exact=True)

    # Spoken values carry the unit, the direction and a word for zero.
    assert turnout.get_attribute("aria-valuetext") == "12° out"
    assert knees.get_attribute("aria-valuetext") == "over the feet"
    places = explorer.evaluate(PLACES)
    knees.press("ArrowLeft")
    page.wait_for_function(
        "e => e.getAttribute('aria-valuetext') === '1° outward'", arg=knees.element_handle()
    )

    # In a notebook "b" inserts a cell, "d d" deletes it: not from inside a control.
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
    assert [b.get_attribute("aria-pressed") for b in view.locator("button").all()] == [
        "false",
        "true",
        "false",
    ]

    # The map has words of its own, and the live region outlasts its sentence.
    names = explorer.locator("canvas").evaluate_all(
        "all => all.filter(e => e.checkVisibility()).map(e => e.getAttribute('aria-labelledby')"
        ".split(' ').map(id => document.getElementById(id).textContent).join(' '))"
    )
    assert names[0].startswith("Front view Lean") and "can be held" in names[1]
    sentence = explorer.locator("p[role=status]")
    lasting, said = sentence.element_handle(), sentence.inner_text()
    depth = explorer.get_by_role("slider", name="Depth", exact=True)
    for _ in range(4):
        depth.press("PageUp")
    page.wait_for_function(
        "([e, said]) => e.isConnected && e.innerText !== said", arg=[lasting, said]
    )
    assert sentence.get_attribute("aria-live") == "polite"
    # Whatever is shown, nothing has moved.
    explorer.get_by_role("button", name="Too wide", exact=True).press("Enter")
    page.wait_for_function("([e]) => e.innerText.startsWith('Cannot be held')", arg=[lasting])
    assert explorer.evaluate(PLACES) == places
    assert page.complaints == []


LINKED = (
    "from ipywidgets import FloatSlider, link\nfrom squatlab.show.explorers import lever_arms",
    'shown, stock = lever_arms(), FloatSlider(min=0, max=200, description="My load")\n'
    'link((shown, "load"), (stock, "value"))\nshown',
)


def test_the_kernel_hears_a_slider_at_rest_and_the_browser_what_python_sets(opened, folder):
    lab.write_notebook(folder / "linked.ipynb", LINKED)
    page = opened("linked.ipynb")
    explorer = lab.explorer_with(page, "Load")
    load = explorer.get_by_role("slider", name="Load", exact=True)
    for _ in range(4):
        load.press("ArrowRight")
    run = """code => new Promise(resolve => {
      const kernel = window.jupyterapp.shell.currentWidget.sessionContext.session.kernel;
      const asked = kernel.requestExecute({code}); let out = '';
      asked.onIOPub = m => { if (m.content.text) out += m.content.text; };
      asked.done.then(() => resolve(out)); })"""
    page.wait_for_timeout(400)  # more than the time after which a slider is at rest
    assert page.evaluate(run, "print(shown.load, stock.value, shown.posture.bar.mass_kg)") == (
        "120.0 120.0 120.0\n"
    )
    page.evaluate(run, "stock.value = 45")
    page.wait_for_function(
        "e => e.getAttribute('aria-valuetext') === '45 kg'", arg=load.element_handle()
    )
    told = page.evaluate(run, "print(shown.sentence)").strip()
    explorer.get_by_role("status").filter(has_text=told).wait_for()
    assert page.complaints == []
