"""One course and one browser for all browser tests; a picture when one fails."""

from __future__ import annotations

import os
from contextlib import ExitStack, contextmanager

import pytest

from squatlab import course
from tests.browser import lab

playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")

REQUIRED = os.environ.get("SQUATLAB_REQUIRE_BROWSER") == "1"


@pytest.fixture(scope="session")
def cannot():
    """Skip with a reason; where a browser is required, fail instead."""
    return pytest.fail if REQUIRED else pytest.skip


@pytest.fixture(scope="session")
def folder(tmp_path_factory):
    """A working copy of the course."""
    place = tmp_path_factory.mktemp("course") / "notebooks"  # 00 says where it is
    return course.working_copy(place, instructor=True).folder


@pytest.fixture(scope="session")
def address(folder, tmp_path_factory, cannot):
    """Where squatlab open serves the working copy."""
    if lab.CHROMIUM is None:
        cannot("no Chromium here: install it (on Debian: apt install chromium)")
    with lab.server(folder, tmp_path_factory.mktemp("lab")) as served:
        yield served


@pytest.fixture(scope="session")
def screenshots(tmp_path_factory):
    """Where the pictures of failures are put."""
    return tmp_path_factory.mktemp("screenshots")


@pytest.fixture(scope="module")
def browser(address, screenshots):
    """Not for the session: its event loop would be in the way of the notebooks' own tests."""
    with playwright.sync_playwright() as driver:
        running = driver.chromium.launch(executable_path=lab.CHROMIUM, args=lab.FLAGS)
        yield running
        running.close()


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item):
    """Name in the message of a failure the picture of every page that was open."""
    report = yield
    browser = getattr(item, "funcargs", {}).get("browser")
    if report.failed and browser and hasattr(report.longrepr, "addsection"):
        pages = [page for context in browser.contexts for page in context.pages]
        for number, page in enumerate(pages):
            picture = item.funcargs["screenshots"] / f"{item.name.replace('/', '-')}-{number}.png"
            try:
                page.screenshot(path=picture, timeout=10_000)
                told = str(picture)
            except playwright.Error as error:
                told = f"no picture could be taken: {error}"
            report.longrepr.addsection("what the page showed", told)
    return report


@pytest.fixture(scope="module")
def opening(folder, address, browser, cannot):
    """Open a notebook and run it, if wanted, for as long as a ``with`` block lasts."""

    @contextmanager
    def opened_notebook(name: str, run: bool = True):
        if not (folder / name).is_file():
            cannot(f"{name} is not in the course yet")
        page = browser.new_page(viewport={"width": 1280, "height": 900})
        page.complaints = []
        page.on("pageerror", lambda error: page.complaints.append(str(error)))
        page.on("console", lambda said: said.type == "error" and page.complaints.append(said.text))
        try:
            lab.open_notebook(page, address, name)
            if run:
                lab.run_all(page)
            yield page
        finally:
            lab.close(page)

    return opened_notebook


@pytest.fixture
def opened(opening):
    """Open a notebook, run it, and return its page; ``complaints`` gathers console errors."""
    with ExitStack() as pages:
        yield lambda name: pages.enter_context(opening(name))
