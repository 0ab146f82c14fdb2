"""One course and one browser for all browser tests; a picture when one fails."""

from __future__ import annotations

import os

import pytest

from squatlab import course
from tests.browser import lab

playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")

REQUIRED = os.environ.get("SQUATLAB_REQUIRE_BROWSER") == "1"
FAILED = pytest.StashKey[bool]()


@pytest.fixture(scope="session")
def cannot():
    """Skip with a reason; where a browser is required, fail instead."""
    return pytest.fail if REQUIRED else pytest.skip


@pytest.fixture(scope="session")
def folder(tmp_path_factory):
    """A working copy of the course."""
    return course.working_copy(tmp_path_factory.mktemp("course")).folder


@pytest.fixture(scope="session")
def address(folder, tmp_path_factory, cannot):
    """Where squatlab open serves the working copy."""
    if lab.CHROMIUM is None:
        cannot("no Chromium here: install it (on Debian: apt install chromium)")
    with lab.server(folder, tmp_path_factory.mktemp("lab")) as served:
        yield served


@pytest.fixture(scope="module")
def browser(address):
    """Not for the session: its event loop would be in the way of the notebooks' own tests."""
    with playwright.sync_playwright() as driver:
        running = driver.chromium.launch(executable_path=lab.CHROMIUM, args=lab.FLAGS)
        yield running
        running.close()


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item):
    report = yield
    item.stash[FAILED] = item.stash.get(FAILED, False) or report.failed
    return report


@pytest.fixture
def opened(folder, address, browser, cannot, request, tmp_path):
    """Open a notebook, run it, and return its page; ``complaints`` gathers console errors."""
    pages = []

    def open_and_run(name: str):
        if not (folder / name).is_file():
            cannot(f"{name} is not in the course yet")
        page = browser.new_page(viewport={"width": 1280, "height": 900})
        pages.append(page)
        page.complaints = []
        page.on("pageerror", lambda error: page.complaints.append(str(error)))
        page.on("console", lambda said: said.type == "error" and page.complaints.append(said.text))
        lab.open_notebook(page, address, name)
        lab.run_all(page)
        return page

    yield open_and_run
    for number, page in enumerate(pages):
        if request.node.stash.get(FAILED, False):
            page.screenshot(path=tmp_path / f"page{number}.png")
            print(f"what the page showed: {tmp_path / f'page{number}.png'}")
        page.close()
