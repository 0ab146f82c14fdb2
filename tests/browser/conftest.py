"""One course and one browser for all browser tests; a picture when one fails."""

from __future__ import annotations

import os

import pytest

from squatlab import course
from tests.browser import lab

playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")

VIEWPORT = {"width": 1280, "height": 900}

NO_CHROMIUM = "no Chromium here: install it (on Debian: apt install chromium)"

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
def address(folder, tmp_path_factory):
    """Where squatlab open serves the working copy."""
    with lab.server(folder, tmp_path_factory.mktemp("lab")) as served:
        yield served


@pytest.fixture(scope="session")
def screenshots(tmp_path_factory):
    """Where the pictures of failures are put."""
    return tmp_path_factory.mktemp("screenshots")


@pytest.fixture(scope="package")
def browser(screenshots, cannot):
    """One Chromium for all tests of this folder.

    Not for the session: its event loop would be in the way of the notebooks' own tests.
    """
    if lab.CHROMIUM is None:
        cannot(NO_CHROMIUM)
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


@pytest.fixture(scope="package")
def showing(folder, browser, address, cannot):
    """Show a notebook, not run, in a window of JupyterLab that the tests of this folder share.

    Gives a function of the notebook's name. To load JupyterLab takes longer than most tests: a
    window is opened anew only after a test has closed it. ``complaints`` gathers the page's
    console errors.
    """
    windows = []

    def shown(name: str):
        if not (folder / name).is_file():
            cannot(f"{name} is not in the course yet")
        if windows and not windows[-1].is_closed():
            page = windows[-1]
            page.set_viewport_size(VIEWPORT)
            lab.turn_to(page, name)
        else:
            page = browser.new_page(viewport=VIEWPORT)
            windows.append(page)
            page.complaints = []

            def complain(words: str) -> None:
                # On a slow machine JupyterLab asks for the focus of a notebook it closed before.
                if "_ensureFocus" not in words:
                    page.complaints.append(words)

            page.on("pageerror", lambda error: complain(str(error)))
            page.on("console", lambda line: line.type == "error" and complain(line.text))
            lab.open_notebook(page, address, name)
        page.complaints.clear()
        return page

    yield shown
    for page in windows:
        lab.close(page)


@pytest.fixture
def opened(showing):
    """Show a notebook, run it, and return its page."""

    def run(name: str):
        page = showing(name)
        lab.run_all(page)
        return page

    return run
