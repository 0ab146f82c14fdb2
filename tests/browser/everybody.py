"""What everybody needs of a page: words for pictures, contrast, room, nothing in the way.

axe-core (MPL 2.0, in the package axe-playwright-python; used by tests only) judges our parts of
the page, found by where they are: in the outputs of cells. JupyterLab's own frame is not ours.
"""

from __future__ import annotations

import pytest

from tests.browser import keyboard, lab

axe = pytest.importorskip(
    "axe_playwright_python.base", reason="axe-core is not installed: pip install .[test]"
)

OUTPUTS = ".jp-Notebook .jp-OutputArea-output"
SIZES = {"a projector": (1024, 768), "1280 × 800 zoomed to 200 %": (640, 400)}
"""Zooming to 200 % halves the CSS pixels that a window has."""

THREE_FRAMES = """async () => { for (let frame = 0; frame < 3; frame += 1)
  await new Promise(requestAnimationFrame); }"""
"""Wait until what follows the window's size has followed it: canvases do in the next frame."""

OPEN_DETAILS = "() => document.querySelectorAll('details').forEach(e => { e.open = true; })"

NAMES = """outputs => [...document.querySelectorAll(outputs)].flatMap(o =>
  [...o.querySelectorAll('img, canvas, svg:not(svg svg)')].map(e => e.getAttribute('alt')
    ?? e.getAttribute('aria-label') ?? (e.getAttribute('aria-labelledby') || '').split(' ')
    .map(id => document.getElementById(id)?.textContent).filter(Boolean).join(' ')))"""

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
    + ' input, output, .widget-label, .status, .times span')]
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
        page.evaluate(THREE_FRAMES)
        assert (cut := page.evaluate(CUT, OUTPUTS)) == [], f"{what}: {cut}"
        assert (meeting := page.evaluate(MEETING, OUTPUTS)) == [], f"{what}: {meeting}"


def serves(page) -> None:
    """Check that everything on a page has its words, its room and no grave complaint."""
    page.evaluate(OPEN_DETAILS)
    assert without_words(page.evaluate(NAMES, OUTPUTS)) == []
    fits(page)
    assert (complaints := grave(page)) == [], complaints


def may_sit(page, exam) -> None:
    """Check every page of an exam in the same way: before it is begun, each question, the last."""
    judged(page)
    lab.begin_exam(page)
    keyboard.tab_through(page, exam)
    numbers = exam.get_by_role("group", name="Questions").get_by_role("button").all()
    assert numbers
    for number in numbers:
        number.click()
        page.wait_for_function("() => !document.querySelector('.squatlab-sitting .waiting')")
        page.evaluate(OPEN_DETAILS)
        judged(page)
    for button in ("Hand in …", "Hand in now"):
        exam.get_by_role("button", name=button, exact=True).click()
    exam.get_by_role("heading", name="Handed in").wait_for()
    judged(page)


def judged(page) -> None:
    """Check that what an exam shows now fits and has no grave complaint."""
    fits(page)
    assert grave(page, ".squatlab-sitting") == []
