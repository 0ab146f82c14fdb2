"""Everybody can use what we show: no mouse, another eye, a large print or a small projector.

axe-core (MPL 2.0, in the package axe-playwright-python; used by tests only) judges our parts of
the page, found by where they are: in the outputs of cells. JupyterLab's own frame is not ours.
"""

from __future__ import annotations

import json

import pytest

from squatlab import tables
from squatlab.show.picture import STILL
from tests.browser import lab
from tests.browser.keyboard import IN_SIGHT, NAME

axe = pytest.importorskip(
    "axe_playwright_python.base", reason="axe-core is not installed: pip install .[test]"
)

OUTPUTS = ".jp-Notebook .jp-OutputArea-output"
OURS = f"{OUTPUTS} :is(.squatlab, .squatlab-clip, .squatlab-sitting):not(.squatlab *)"
SIZES = {"a projector": (1024, 768), "1280 × 800 zoomed to 200 %": (640, 400)}
"""Zooming to 200 % halves the CSS pixels that a window has."""

ALL_LAID_OUT = """() => { const shown = window.jupyterapp.shell.currentWidget.content;
  shown.notebookConfig = {...shown.notebookConfig, windowingMode: 'none'}; }"""
NO_SIDEBAR = "() => window.jupyterapp.commands.execute('application:toggle-left-area')"
TURN_TO = """async name => {
  const {shell, commands} = window.jupyterapp, before = shell.currentWidget;
  if (before.context.path === name) return;
  await commands.execute('docmanager:open', {path: name});
  await before.sessionContext.shutdown();
  before.dispose(); }"""
"""Starting JupyterLab anew would cost more than all that is looked at."""

OPEN_DETAILS = "() => document.querySelectorAll('details').forEach(e => { e.open = true; })"

NAMES = """outputs => [...document.querySelectorAll(outputs)].flatMap(o =>
  [...o.querySelectorAll('img, canvas, svg:not(svg svg)')].map(e => e.getAttribute('alt')
    ?? e.getAttribute('aria-label') ?? document.getElementById(e.getAttribute('aria-labelledby'))
    ?.textContent ?? 'no name: ' + e.outerHTML.slice(0, 80)))"""

CUT = """outputs => [...document.querySelectorAll(outputs)].flatMap(o => {
  const edge = o.getBoundingClientRect(), scrolled = e => e !== o.parentElement
    && (e.scrollWidth > e.clientWidth + 1 && getComputedStyle(e).overflowX !== 'visible'
        && getComputedStyle(e).overflowX !== 'hidden' || scrolled(e.parentElement));
  return [...o.querySelectorAll(':not(svg *)')].filter(e => e.checkVisibility()).filter(e => {
      const box = e.getBoundingClientRect();
      const out = box.width && (box.right > edge.right + 1 || box.left < edge.left - 1);
      const cut = e.matches('button, label, p, td, th, .widget-label')
        && e.scrollWidth > e.clientWidth + 1 && getComputedStyle(e).display !== 'inline';
      return out && !scrolled(e.parentElement) || cut;
    }).map(e => e.outerHTML.slice(0, 110)); })"""
"""What leaves its cell's output where nothing scrolls, or is cut off in its own box."""

MEETING = """outputs => [...document.querySelectorAll(outputs)].flatMap(o => {
  const parts = [...o.querySelectorAll('button, select, label, p, canvas, img, svg, [role=slider],'
    + ' input, .widget-label, .widget-readout, .status, .times span')]
    .filter(e => e.checkVisibility() && e.getBoundingClientRect().width > 0);
  const met = [];
  parts.forEach((a, i) => parts.slice(i + 1).forEach(b => {
    if (a.contains(b) || b.contains(a)) return;
    const [p, q] = [a, b].map(e => e.getBoundingClientRect());
    const across = Math.min(p.right, q.right) - Math.max(p.left, q.left);
    const down = Math.min(p.bottom, q.bottom) - Math.max(p.top, q.top);
    if (across > 1.5 && down > 1.5) met.push([a, b].map(e => e.outerHTML.slice(0, 70)));
  }));
  return met; })"""
"""Pairs of controls, pictures and words that lie on each other."""

FOCUS = f"""box => {{ const e = document.activeElement, look = getComputedStyle(e);
  const seen = look.outlineStyle !== 'none' && parseFloat(look.outlineWidth) > 0;
  return [({IN_SIGHT})(box).indexOf(e), seen, ({NAME})(e)]; }}"""


def live(path) -> bool:
    """Tell whether a notebook has widgets."""
    return STILL in path.read_text(encoding="utf-8")


FOLDER = tables.folder("notebooks")
NOTEBOOKS = sorted(path for path in FOLDER.rglob("*.ipynb") if "checkpoint" not in str(path))


def grave(page, where: str = OUTPUTS) -> list[str]:
    """Return axe-core's serious and critical complaints about what is there."""
    if not page.evaluate("() => 'axe' in window"):
        page.evaluate(axe.AXE_SCRIPT)
    found = page.evaluate("where => axe.run(where, {resultTypes: ['violations']})", where)
    assert found["passes"], "nothing was looked at"
    return [
        f"{problem['impact']} {problem['id']}: {node['html'][:120]}"
        for problem in found["violations"]
        if problem["impact"] in ("serious", "critical")
        for node in problem["nodes"]
    ]


def without_words(names: list[str]) -> list[str]:
    """Return the names of pictures that do not tell a number."""
    return [name for name in names if len(name) < 40 or not any(map(str.isdigit, name))]


def fits(page) -> None:
    """Check at both sizes that nothing is cut off and nothing lies on anything else."""
    for what, (width, height) in SIZES.items():
        page.set_viewport_size({"width": width, "height": height})
        page.wait_for_timeout(150)
        assert page.evaluate(CUT, OUTPUTS) == [], what
        assert page.evaluate(MEETING, OUTPUTS) == [], what


def tab_through(page, box) -> None:
    """Press Tab from the first control of a box to its last; each shows that it has the focus."""
    count = box.evaluate(f"box => ({IN_SIGHT})(box).length")
    reached, dim = set(), []
    box.evaluate(f"box => ({IN_SIGHT})(box)[0].focus()")
    page.keyboard.press("Shift+Tab")
    for _ in range(count + 2):
        page.keyboard.press("Tab")
        at, seen, name = box.evaluate(FOCUS)
        if at < 0 and reached:
            break
        reached.add(at)
        if at >= 0 and not seen:
            dim.append(name)
    assert not dim, f"no visible focus on {dim}"
    names = box.evaluate(f"box => ({IN_SIGHT})(box).map({NAME})")
    missed = [n for place, n in enumerate(names) if place not in reached]
    # One Tab stop for a group of radio buttons: arrow keys go on from there.
    assert all(name.startswith("one of ") for name in missed), f"Tab does not come to {missed}"
    assert all(names), f"a control without a name among {names}"


@pytest.fixture(scope="module")
def shown(address, browser):
    """Show one notebook after the other in the same window, run and laid out."""
    page = browser.new_page()

    def turn_to(name: str):
        page.set_viewport_size({"width": 1280, "height": 900})
        if page.url == "about:blank":
            lab.open_notebook(page, address, name)
            page.evaluate(NO_SIDEBAR)
        page.evaluate(TURN_TO, name)
        page.wait_for_function(lab.CONNECTED, arg=name, timeout=lab.PATIENCE_S * 1000)
        lab.run_all(page)
        assert lab.errors(page) == []
        page.evaluate(ALL_LAID_OUT)
        page.wait_for_function(lab.DRAWN)
        return page

    yield turn_to
    lab.close(page)


@pytest.mark.parametrize("name", [
    path.relative_to(FOLDER).as_posix() for path in NOTEBOOKS if live(path)
])  # fmt: skip
def test_a_notebook_is_for_everybody(name, shown):
    page = shown(name)
    page.evaluate(OPEN_DETAILS)
    assert without_words(page.evaluate(NAMES, OUTPUTS)) == []
    for box in page.locator(OURS).all():
        tab_through(page, box)
    fits(page)
    assert grave(page) == []


def test_every_kind_of_question_is_for_everybody(shown):
    page = shown("11_exam.ipynb")
    exam = page.get_by_role("group", name="Exam", exact=True)
    numbers = exam.get_by_role("group", name="Questions").get_by_role("button")
    for number in numbers.all():
        number.click()
        page.wait_for_function("() => !document.querySelector('.squatlab-sitting .waiting')")
        page.evaluate(OPEN_DETAILS)
        fits(page)
        assert grave(page, ".squatlab-sitting") == []


def test_what_is_shown_without_a_kernel_is_for_everybody(browser):
    kept = []
    for path in NOTEBOOKS:
        for cell in json.loads(path.read_text(encoding="utf-8"))["cells"]:
            for data in (output.get("data", {}) for output in cell.get("outputs", ())):
                kept.append("".join(data.get("text/html", "")))
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    page.set_content(
        "<html lang='en'><title>Kept</title><main><h1>Kept</h1>"
        + "".join(f"<div class='kept'>{shown}</div>" for shown in kept if shown)
    )
    assert grave(page, ".kept") == []
    names = page.evaluate(NAMES, ".kept")
    assert len(names) > 50 and without_words(names) == []
    page.close()


def test_what_is_judged_would_be_found(browser):
    # A check that cannot fail is none: a picture without words, pale words, a button in the way.
    page = browser.new_page(viewport={"width": 640, "height": 400})
    page.set_content(
        "<div class='kept' style='width: 300px; overflow: hidden; background: white'>"
        "<img src='data:,' width='320'><p style='color: #999'>pale</p>"
        "<button style='position: absolute; left: 20px; top: 5px'>over it</button></div>"
    )
    told = " ".join(grave(page, ".kept"))
    assert "image-alt" in told and "color-contrast" in told
    assert without_words(page.evaluate(NAMES, ".kept")) and page.evaluate(CUT, ".kept")
    assert page.evaluate(MEETING, ".kept")
    page.close()
