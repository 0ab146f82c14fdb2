"""The pages of a served exam in a real browser: the screen of notebook 11, from this server."""

from __future__ import annotations

import pytest

from squatlab.exam.package import Package
from squatlab.exam.records import Records, hand_ins
from tests.browser import lab

from .rooms import CERTIFIER, hall, opened, pack

playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")


@pytest.fixture(scope="module")
def chromium():
    if lab.CHROMIUM is None:
        pytest.skip("no Chromium here: install it (on Debian: apt install chromium)")
    with playwright.sync_playwright() as driver:
        running = driver.chromium.launch(executable_path=lab.CHROMIUM, args=lab.FLAGS)
        yield running
        running.close()


@pytest.mark.parametrize("width", [390, 1024, 1920])
def test_a_sitting_with_the_keyboard_and_a_second_device(chromium, tmp_path, width):
    """Enter, begin, watch, answer, reload; move to another device; hand in there."""
    packed = pack(tmp_path)
    records = Records(tmp_path / "records.sqlite", CERTIFIER)
    slips = opened(records, packed, ("R01",))
    with hall(Package.read(packed.package), packed.key, records) as (_, _, port):

        def device():
            page = chromium.new_context(viewport={"width": width, "height": 800}).new_page()
            page.set_default_timeout(15_000)
            page.on("pageerror", lambda error: pytest.fail(str(error)))
            page.goto(f"http://127.0.0.1:{port}/")
            page.get_by_label("Candidate").fill("R01")
            page.get_by_label("Code").fill(slips["R01"].code.lower())
            page.keyboard.press("Enter")
            return page

        one = device()
        one.get_by_role("button", name="Begin").press("Enter")
        one.locator("canvas").wait_for()
        one.locator("fieldset input").first.press("Space")
        one.get_by_text("Saved ").first.wait_for()
        assert one.evaluate("document.documentElement.scrollWidth") <= width
        one.reload()
        assert one.locator("fieldset input").first.is_enabled()
        one.get_by_role("button", name="Question 1, answered").press("Enter")
        one.locator("fieldset input:checked").wait_for()
        other = device()
        other.get_by_role("button", name="Question 1, answered").wait_for()
        one.get_by_text("goes on at another device").wait_for()
        other.get_by_role("button", name="Hand in …").click()
        other.get_by_role("button", name="Hand in now").click()
        other.get_by_role("heading", name="Handed in").wait_for()
        (handed,) = hand_ins(records, "spring")
        other.get_by_text(handed.receipt).wait_for()
    records.close()
