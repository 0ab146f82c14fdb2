"""The book in a browser without a network: everything shows, nothing is missed, nothing is cut."""

from __future__ import annotations

import re

import pypdfium2
import pytest

from squatlab import tables
from squatlab.__main__ import main
from tests.browser import lab

playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")

HIDDEN = """() => [...document.querySelectorAll('main img, main svg')]
  .filter(e => !e.parentElement.closest('svg')).filter(e => {
    const box = e.getBoundingClientRect();
    return box.width < 100 || box.height < 40 || (e.tagName === 'IMG' && !e.naturalWidth)
      || !e.checkVisibility({visibilityProperty: true, opacityProperty: true});
  }).map(e => e.outerHTML.slice(0, 120))"""

CUT = """() => [...document.querySelectorAll('main *')]
  .filter(e => !e.parentElement.closest('svg') && e.getBoundingClientRect().right > innerWidth + 1
            || e.tagName === 'PRE' && e.scrollWidth > e.clientWidth + 1)
  .map(e => e.outerHTML.slice(0, 120))"""


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    folder = tmp_path_factory.mktemp("book")
    assert main(["book", "-o", str(folder), "--instructor"]) == 0
    return folder


@pytest.fixture(scope="module")
def offline(cannot):
    """A window of a small projector, without a network."""
    if lab.CHROMIUM is None:
        cannot("no Chromium here: install it (on Debian: apt install chromium)")
    with playwright.sync_playwright() as driver:
        running = driver.chromium.launch(executable_path=lab.CHROMIUM, args=lab.FLAGS)
        context = running.new_context(offline=True, viewport={"width": 1024, "height": 768})
        page = context.new_page()
        page.complaints = []
        page.on("console", lambda said: page.complaints.append(said.text))
        page.on("pageerror", lambda error: page.complaints.append(str(error)))
        page.on("requestfailed", lambda asked: page.complaints.append(asked.url))
        page.on(
            "request",
            lambda asked: asked.url.startswith("http") and page.complaints.append(asked.url),
        )
        yield page
        running.close()


def test_every_page_shows_all_its_figures_and_asks_for_nothing(written, offline):
    files = sorted(written.rglob("*.html"))
    assert len(files) > 12
    figures = 0
    for file in files:
        offline.goto(file.as_uri())
        assert offline.evaluate(HIDDEN) == [], file.name
        assert offline.evaluate(CUT) == [], file.name
        figures += offline.locator("main img, main svg[role=img]").count()
        assert offline.complaints == [], file.name
    assert figures > 60


def test_one_walks_from_the_index_through_the_course_and_back(written, offline):
    offline.goto((written / "index.html").as_uri())
    titles = offline.locator("dt").all_inner_texts()
    for title in titles:
        offline.locator("nav").first.get_by_role("link", name="Next").click()
        assert offline.locator("h1").inner_text() == title
    offline.locator("nav").last.get_by_role("link", name="Index").click()
    assert offline.url == (written / "index.html").as_uri()
    offline.get_by_role("link", name=titles[-1], exact=True).click()
    assert offline.locator("h1").inner_text() == titles[-1]


def test_it_prints(written, offline, tmp_path):
    stored = (tables.folder("notebooks") / "10_practice.ipynb").read_text(encoding="utf-8")
    last_time = re.search(r"time, s[^\n]* (\d+\.\d\d)", stored)[1]
    for name, words in (("index", "Stop on pain"), ("10_practice", "bar lower at the right end")):
        offline.goto((written / f"{name}.html").as_uri())
        offline.emulate_media(media="print")
        offline.pdf(path=tmp_path / f"{name}.pdf", prefer_css_page_size=True, format="A4")
        printed = pypdfium2.PdfDocument(tmp_path / f"{name}.pdf")
        text = "\n".join(page.get_textpage().get_text_range() for page in printed)
        assert words in text and "squatlab open" not in text
        if name == "10_practice":  # the widest table of the course keeps its last column
            assert re.search(rf"time, s[^\r\n]*{re.escape(last_time)}", text)
        for page in printed:
            found = page.get_textpage()
            right = max(found.get_rect(i)[2] for i in range(found.count_rects()))
            assert right < page.get_width() - 28  # points: inside the margin, so nothing is cut
