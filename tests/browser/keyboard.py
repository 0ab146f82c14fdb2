"""Use what a notebook shows as somebody without a mouse does.

Everything is found in the page, so that a new explorer or clip is driven
without a new test.
"""

from __future__ import annotations

from collections import Counter

from tests.browser import lab

STOPS = ":is(button, input, select, textarea):enabled, summary, [tabindex='0'], [contenteditable]"
IN_SIGHT = f"""box => [...box.querySelectorAll("{STOPS}")].filter(e => e.checkVisibility())"""
NAME = """e => e.type === 'radio' ? 'one of ' + e.name :
  e.getAttribute('aria-label') || e.labels?.[0]?.textContent.trim() || e.textContent.trim()"""
NAMES = f"box => ({IN_SIGHT})(box).map({NAME})"
FOCUSED = f"""box => {{ const focused = document.activeElement;
  if (!box.contains(focused) || !focused.matches("{STOPS}")) return null;
  const look = getComputedStyle(focused);
  const dim = look.outlineStyle === 'none' || !(parseFloat(look.outlineWidth) > 0);
  return {{name: ({NAME})(focused), dim}}; }}"""
"""The name of the control that has the focus, and whether nobody sees that it has."""

CUT = """box => [...box.querySelectorAll('.widget-checkbox, label, output, button, p')]
  .filter(e => e.scrollWidth > e.clientWidth + 1).map(e => e.innerText)"""
LOOK = """async (box, [was, wanted, patience, looks]) => {
  // Of its pixels: to make each frame a PNG took most of the time of these tests.
  const hash = canvas => { const {width, height} = canvas; let sum = width;
    if (!width || !height) return sum;
    const pixels = canvas.getContext('2d').getImageData(0, 0, width, height).data;
    const words = new Uint32Array(pixels.buffer);
    for (let i = 0; i < words.length; i += 1) sum = Math.imul(sum, 31) + words[i] | 0;
    return sum; };
  const frame = () => new Promise(requestAnimationFrame);
  function look() {
    const drawn = [...box.querySelectorAll('canvas')].filter(e => e.checkVisibility());
    const said = [...box.querySelectorAll('p[role=status]')].map(e => e.textContent);
    return [drawn.map(hash).join(), said.join(' ')];
  }
  const there = {
    any: () => true, same: now => String(now) === String(was), picture: now => now[0] !== was[0],
    both: now => now[0] !== was[0] && now[1] !== was[1], said: now => now[1] === was[1],
  }[wanted];
  const kernel = window.jupyterapp.shell.currentWidget.sessionContext.session?.kernel;
  const started = performance.now();
  let now = look(), still = 0;
  const done = () => kernel.status === 'idle' && (still > 1 && there(now) || still > looks);
  while (!done() && performance.now() - started < patience) {
    await frame();
    await frame();
    const next = look();
    still = String(next) === String(now) ? still + 1 : 0;
    now = next;
  }
  return now;
}"""
"""Picture and sentence, once they stand still and are what is wanted, or time is out.

Every second frame is looked at. What need not come is waited for as many ``looks`` as nothing
moves in.
"""

MAKE = f"box => ({IN_SIGHT})(box).map(e => `${{e.localName}} ${{e.type}}`).join()"
"""The kinds of a box's controls in their order."""

PATIENCE_MS = 20_000
GLANCES, FOR_EVER = 15, 1_000_000
"""For how many still pictures to wait for what need not come, and for what must. Looks, not
milliseconds: a slow machine has longer ones."""


def cells(page) -> list[str]:
    """Return the kind of every cell: a notebook's own keys add, delete and turn them."""
    return page.evaluate(
        "() => window.jupyterapp.shell.currentWidget.content.widgets.map(cell => cell.model.type)"
    )


def named(page, box) -> None:
    """Wait until every control of a box has a name."""
    page.wait_for_function(f"box => ({NAMES})(box).every(Boolean)", arg=box.element_handle())


def tab_through(page, box) -> None:
    """Press Tab from the first control to the last and out; the notebook takes no key.

    There is nothing to do where a box has no control.
    """
    box.scroll_into_view_if_needed()
    named(page, box)
    before, names = cells(page), box.evaluate(NAMES)
    if not names:  # words alone, such as the marks of a trial that is not handed in yet
        return
    box.evaluate(f"box => ({IN_SIGHT})(box)[0].focus()")
    # By keys: after a script or a mouse a browser need not show where the focus is.
    page.keyboard.press("Tab")
    for _ in range(12):  # out of the box with one stop, a cell's own buttons lie on the way back
        page.keyboard.press("Shift+Tab")
        if box.evaluate(FOCUSED) is not None:
            break
    reached = []
    while (focused := box.evaluate(FOCUSED)) is not None:
        assert len(reached) < len(names), f"Tab does not leave: {reached[-8:]}"
        name = focused["name"]
        reached.append(name)
        assert not focused["dim"], f"no visible focus on {name}"
        if not name.endswith("type a number"):
            page.keyboard.press("b")  # in a notebook it inserts a cell
        page.keyboard.press("Tab")
    missed = [name for name in names if name not in reached]
    assert not missed, f"Tab does not come to {missed}, it comes to {reached}"
    assert cells(page) == before, "the notebook took a key that was meant for a control"


class Explored:
    """One explorer, used by keyboard alone; every failure says what was done last."""

    def __init__(self, page, box) -> None:
        self.page, self.box = page, box
        self.start = self.look("any")

    def look(self, wanted: str, was: object = None, looks: int = FOR_EVER) -> list:
        """Return picture and sentence when they are as wanted, or as they are in the end."""
        now = self.box.evaluate(LOOK, [was, wanted, PATIENCE_MS, looks])
        assert not now[1].startswith("Cannot be drawn"), now[1]
        return now

    def both_change(self, what: str, since: list | None = None) -> list:
        """Check that picture and sentence are others than they were."""
        since = since or self.start
        now = self.look("both", since)
        assert now[1] != since[1], f"{what}: the sentence is as before: {now[1]}"
        assert now[0] != since[0], f"{what}: the picture is as before"
        return now

    def press(self, control, *keys: str) -> None:
        """Focus a control and press keys; it keeps the focus."""
        control.focus()
        for key in keys:
            self.page.keyboard.press(key)
        assert control.evaluate("e => e === document.activeElement"), f"{keys} lost the focus"

    def reset(self, what: str, to_the_pixel: bool = True) -> None:
        """Press Reset and check that all is as it was at first.

        Not ``to_the_pixel`` after another film was shown: the first one is
        sent again, and its points are rounded from another origin.
        """
        self.press(self.box.get_by_role("button", name="Reset", exact=True), "Enter")
        now = self.look("same" if to_the_pixel else "said", self.start)
        assert now[1] == self.start[1], f"Reset after {what}: the sentence is now {now[1]}"
        if to_the_pixel:
            assert now[0] == self.start[0], f"Reset after {what}: the picture is not the first one"

    def own(self, selector: str) -> list:
        """Return the elements of the explorer that are not those of a clip in it."""
        found = self.box.locator(f":is({selector}):not(.squatlab-clip *)")
        return [(one, one.evaluate(NAME)) for one in found.all()]

    def sliders(self) -> None:
        """Move every slider by a step and to its further end.

        What every position shows is checked without a browser, in tests/show/test_sweep.py.
        """
        for slider, name in self.own("input[type=range]:enabled"):
            high, now = (float(slider.evaluate(f"e => e.{what}")) for what in ("max", "value"))
            step, end = ("ArrowLeft", "Home") if high - now < now else ("ArrowRight", "End")
            # What a step shows is not looked at: it may be too small for rounded words, and of
            # no account, as is an ankle that could bend further; the way to the end is not.
            self.press(slider, step, end)
            self.both_change(f"{name}, {end}")
            self.reset(name)

    def lists(self) -> None:
        """Choose the next entry of every list."""
        for chosen, name in self.own("select"):
            self.press(chosen, "ArrowDown")
            self.both_change(name)
            self.reset(name, to_the_pixel=False)
            self.start = self.look("any")

    def presets(self) -> dict[str, list]:
        """Press every preset, the first last as it may be the start; return what each shows.

        Reset in between if a preset chose something, such as what is held:
        the next keeps it, and would not show what it does alone.
        """
        shown, now = {}, self.start
        chosen = self.chosen()
        for preset, name in reversed(self.own("button.preset")):
            if name != "Reset":
                self.press(preset, "Enter")
                now = shown[name] = self.both_change(name, now)
                if self.chosen() != chosen:
                    self.reset(name)
                    now = self.start
        self.reset("all presets")
        return shown

    def chosen(self) -> list[str]:
        """Return the names of the buttons that are pressed."""
        return [name for button, name in self.own("[aria-pressed=true]")]

    def choices(self, presets: dict[str, list]) -> None:
        """Press every button of every row that is not pressed yet.

        What a choice means may not show before something else is moved, as
        with what is held: then it must make a difference to a preset.
        """
        for group, label in self.own(".choice[role=group]"):
            for button in group.locator("button").all():
                if button.get_attribute("aria-pressed") == "true":
                    continue
                what = f"{label}: {button.text_content()}"
                self.press(button, "Space")
                assert button.evaluate("e => e.getAttribute('aria-pressed')") == "true"
                if label == "View":
                    assert self.look("picture", self.start)[0] != self.start[0], what
                elif self.look("both", self.start, GLANCES)[1] == self.start[1]:
                    assert any(self.differs(*preset) for preset in presets.items()), what
                self.reset(what)
            assert group.locator("[aria-pressed=true]").count() == 1, label

    def differs(self, preset: str, alone: list) -> bool:
        """Tell whether a preset shows something else than it did alone."""
        self.press(self.box.get_by_role("button", name=preset, exact=True), "Enter")
        now = self.look("both", alone, GLANCES)
        return now[0] != alone[0] and now[1] != alone[1]


def explore(page, box) -> None:
    """Move every control of an explorer; picture and sentence follow, and come back."""
    explored = Explored(page, box)
    explored.sliders()
    explored.lists()
    explored.choices(explored.presets())


def two_of_a_make(boxes: list, driven: Counter[str]) -> list:
    """Return the boxes without those that have controls of the same kinds as two before them.

    Notebook 08 has fifteen clips: what one does, and a second one beside it, the others do.
    ``driven`` counts them, over the whole course.
    """
    chosen = []
    for box in boxes:
        make = box.evaluate(MAKE)
        driven[make] += 1
        if driven[make] <= 2:
            chosen.append(box)
    return chosen


def press(clip, name: str) -> int:
    """Press a button of a clip without a mouse; return the frame that it shows then."""
    clip.get_by_role("button", name=name, exact=True).press("Enter")
    return int(clip.get_by_role("slider", name="Frame").input_value())


GLANCE = """async clip => {
  const named = name => [...clip.querySelectorAll('button')]
    .find(e => (e.getAttribute('aria-label') ?? e.textContent).trim() === name);
  const looks = [];
  for (const name of ['Start', 'Lowest point']) {
    named(name).click();
    await new Promise(requestAnimationFrame);
    const canvas = clip.querySelector('canvas'), {width, height} = canvas;
    const {data} = canvas.getContext('2d').getImageData(0, 0, width, height);
    looks.push([Number(clip.querySelector('input[type=range]').value), data]);
  }
  const [[start, before], [lowest, then]] = looks;
  return [start, lowest, before.some((shade, i) => shade !== then[i])]; }"""
"""The frame at the start and the one at the lowest point, and whether their pictures differ."""


def glance(clip) -> None:
    """Check that a clip shows another picture at its lowest point than at its start."""
    start, lowest, is_another = clip.evaluate(GLANCE)
    assert start == 0 < lowest and is_another


def watch(page, clip) -> None:
    """Jump, step, slow, play and pause a clip with its buttons, without a mouse."""
    frame, low = clip.get_by_role("slider", name="Frame"), press(clip, "Lowest point")
    assert press(clip, "One frame forward") == low + 1 and press(clip, "One frame back") == low
    press(clip, "1/2")
    assert clip.get_by_role("button", name="1/2", pressed=True).count() == 1
    assert press(clip, "Start") == 0
    press(clip, "Play")
    page.wait_for_function("e => Number(e.value) > 3", arg=frame.element_handle())
    paused = press(clip, "Pause")
    page.wait_for_timeout(100)
    assert 3 < paused == int(frame.input_value()) < int(frame.get_attribute("max"))
    press(clip, "Start")
    press(clip, "1×")


def widgets(page) -> dict[str, list]:
    """Draw the whole notebook; return its explorers, clips and other boxes.

    Raises AssertionError for something that no test drives.
    """
    lab.draw_all(page)
    for _ in range(PATIENCE_MS // 100):
        if page.evaluate(lab.DRAWN):
            break
        page.wait_for_timeout(100)
    else:
        raise AssertionError("the notebook shows a widget that no test drives")
    return {
        "explorers": page.locator(".squatlab-explorer").all(),
        "practice": page.locator(".squatlab-judged").all(),
        "clips": page.locator(".squatlab-clip").all(),
        "checks": page.locator(".squatlab-check").all(),
        "exams": page.locator(".squatlab-sitting").all(),
    }
