"""The pages of a served exam in a real browser: the screen of notebook 11, from this server."""

from __future__ import annotations

import re

import pytest

from squatlab.exam.package import Package
from squatlab.exam.records import Records, hand_ins
from tests.browser import everybody, lab

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


SAVED_AT = re.compile(r"^Saved \d\d:\d\d")
"""What is said once an answer is on the disk; the page's rules have the word too."""


def test_a_sitting_with_the_keyboard_and_a_second_device(chromium, tmp_path):
    """Enter, begin, watch, answer, reload; move to another device; hand in there."""
    packed = pack(tmp_path)
    records = Records(tmp_path / "records.sqlite", CERTIFIER)
    slips = opened(records, packed, ("R01",))
    with hall(Package.read(packed.package), packed.key, records) as (_, _, port):

        def device():
            page = chromium.new_context(viewport={"width": 390, "height": 800}).new_page()
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
        one.get_by_text(SAVED_AT).first.wait_for()
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


CONTROLS = """() => [...document.querySelectorAll('button, input')].filter(e => e.checkVisibility())
  .map(e => e.getBoundingClientRect()).filter(box => Math.min(box.width, box.height) < 12).length"""
"""How many controls are too small to be hit (a radio button has 13 px, its label more)."""


ASKED_AGAIN_MS = 12_000
"""After this long a page has asked again: a candidate's does every ten seconds, the desk's four."""

WIDTHS = {"light": (390, 1024, 1920), "dark": (390, 1920)}
"""At which widths the pages are judged: dark has other colours in the same places."""

JUDGED = {"light": (390, 1920), "dark": (390,)}
"""At which of them axe-core judges: at 1024 everything lies as on the widest."""


@pytest.mark.parametrize("scheme", WIDTHS)
def test_both_pages_are_for_everybody(chromium, tmp_path, scheme):
    """axe-core finds nothing grave in any state; names and states are there for a reader."""
    packed = pack(tmp_path)
    records = Records(tmp_path / "records.sqlite", CERTIFIER)
    slips = opened(records, packed, ("R01", "R02"))
    with hall(Package.read(packed.package), packed.key, records) as (_, door, port):
        context = chromium.new_context(viewport={"width": 390, "height": 844}, color_scheme=scheme)
        page, desk = context.new_page(), context.new_page()
        for one in (page, desk):
            one.set_default_timeout(15_000)
            one.on("pageerror", lambda error: pytest.fail(str(error)))
            one.clock.install()  # so that nobody waits until a page asks again what is new

        def fine(one, state: str) -> None:
            for width in WIDTHS[scheme]:
                one.set_viewport_size({"width": width, "height": 844})
                assert one.evaluate("document.documentElement.scrollWidth") <= width, state
                if width in JUDGED[scheme]:
                    assert everybody.grave(one, "body") == [], (state, width)
                assert one.evaluate(CONTROLS) == 0, (state, width)

        page.goto(f"http://127.0.0.1:{port}/")
        page.get_by_label("Candidate").fill("R01")
        fine(page, "entering")
        page.get_by_label("Code").fill("2222-2222-2222")
        page.keyboard.press("Enter")
        page.get_by_role("status").get_by_text("do not belong together").wait_for()
        page.get_by_label("Code").fill(slips["R01"].code)
        page.keyboard.press("Enter")
        page.get_by_role("heading", name="Before you begin").wait_for()
        fine(page, "before")
        page.get_by_role("button", name="Begin").press("Enter")
        page.get_by_role("group", name="Your answer").get_by_role("radio").first.press("Space")
        page.get_by_role("status").get_by_text(SAVED_AT).wait_for()
        assert page.get_by_role("img").get_attribute("aria-labelledby")
        fine(page, "a lift")
        page.get_by_role("button", name="Next").press("Enter")
        page.get_by_role("textbox").wait_for()
        assert page.evaluate("document.activeElement.textContent") == "Question 2 of 4"
        fine(page, "a number")
        page.get_by_role("textbox").press_sequentially("12")  # not saved yet

        desk.goto(f"http://127.0.0.1:{port}/desk?key={door.desk_key}")
        row = desk.get_by_role("row", name="R01")
        row.get_by_role("cell", name="1 of 4").wait_for()
        assert "key=" not in desk.url
        desk.get_by_role("rowheader", name="R02").wait_for()
        fine(desk, "desk")
        desk.get_by_role("button", name="Extend R01").press("Enter")
        dialog = desk.get_by_role("dialog", name="More time for R01")
        dialog.get_by_label("Minutes more").fill("7")
        fine(desk, "more time")
        dialog.get_by_label("Reason").fill("a lamp failed")
        desk.keyboard.press("Enter")
        row.get_by_text("extended 7 min: a lamp failed").wait_for()
        fine(desk, "noted")
        page.bring_to_front()  # behind another, a page has one frame a second, and a click waits
        page.clock.run_for(ASKED_AGAIN_MS)
        page.get_by_role("status").get_by_text(re.compile("^Your time now ends at")).wait_for()
        assert page.get_by_text("(27 minutes)").count() == 2  # above the questions and as news
        assert page.evaluate("document.activeElement.value") == "12"  # still being typed
        page.get_by_role("button", name="Hand in …").click()
        assert page.evaluate("document.activeElement.textContent") == "Go on answering"
        page.get_by_role("button", name="Hand in now").click()
        page.get_by_role("heading", name="Handed in").wait_for()
        fine(page, "after")
        desk.bring_to_front()
        desk.clock.run_for(ASKED_AGAIN_MS)
        row.get_by_role("cell", name=re.compile("^ended")).wait_for()
        desk.get_by_role("button", name="Results").click()
        desk.get_by_role("heading", name="Results").wait_for()
        fine(desk, "results")
    records.close()
