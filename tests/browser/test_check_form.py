"""A check in the browser: clicked and by keyboard, with a screen reader's names."""

from __future__ import annotations

from squatlab import lessons
from tests.browser import everybody, lab

CELLS = (
    "from squatlab.show.check_form import check",
    'check("hip_arm", seed=1)',
    'check("bar_place", seed=1)',
)


def form_about(page, name, seed=1):
    """Return the form of a check, scrolled into view, with its question and key."""
    made = lessons.made(name, seed)
    lab.draw_all(page)
    form = page.locator(".squatlab-check").filter(has_text=made.question.text)
    form.scroll_into_view_if_needed()
    return form, *made


def replied(page, form, kind):
    """Wait for a reply of a kind, and return its words."""
    reply = form.locator(".reply")
    page.wait_for_function(
        "([e, kind]) => e.dataset.kind === kind && e.textContent",
        arg=[reply.element_handle(), kind],
    )
    return reply.inner_text()


def test_options_by_mouse_and_a_number_by_keyboard(opened, folder):
    lab.write_notebook(folder / "checks.ipynb", CELLS)
    page = opened("checks.ipynb")
    form, question, key = form_about(page, "bar_place")
    wrong = next(option for option in question.options if option != key.answer)
    answer = form.get_by_role("button", name="Answer", exact=True)
    form.get_by_role("radio", name=wrong).click()
    answer.click()
    assert key.hint in (said := replied(page, form, "wrong")) and key.why not in said
    form.get_by_role("radio", name=key.answer).click()
    page.keyboard.press("Enter")
    assert key.why in replied(page, form, "right")
    # The option that had the focus can no longer be chosen.
    page.wait_for_function("() => document.activeElement.textContent === 'New question'")
    assert form.locator(".option[data-kind=right]").inner_text().endswith(key.answer)
    assert form.get_by_role("radio", disabled=True).count() == len(question.options)

    number, _, key = form_about(page, "hip_arm")
    field = number.get_by_role("textbox")
    field.press("3")
    field.press("Enter")
    replied(page, number, "wrong")
    number.get_by_role("button", name="Show the answer").press("Enter")
    page.wait_for_function("() => document.activeElement.textContent === 'New question'")
    assert key.why in number.locator(".reply").inner_text()
    before = number.locator("legend").inner_text()
    page.keyboard.press("Enter")
    page.get_by_text(before).wait_for(state="detached")
    page.wait_for_function("() => document.activeElement.matches('.squatlab-check input')")
    assert page.complaints == []
    assert everybody.grave(page, ".squatlab-check") == []
