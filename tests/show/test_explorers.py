"""Explorers without a browser: move a control, look at picture and sentence."""

from __future__ import annotations

import re

import ipywidgets
import numpy as np
import pytest
import traitlets

from squatlab import Bar, Lifter, Stance, balance, joint_moments, pose
from squatlab.show import explorers, rack_picture
from squatlab.show.controls import Slider
from squatlab.show.explorer import Explorer
from squatlab.show.picture import svg
from tests.kept import all_drawn

MAKERS = [
    explorers.lever_arms,
    explorers.proportions,
    explorers.stance,
    explorers.balance_rules,
    rack_picture.rack_height,
]
AVERAGE = Lifter.from_stature(1.75, 80)


@pytest.fixture(params=MAKERS, ids=lambda make: make.__name__)
def explorer(request) -> Explorer:
    return request.param()


def bar(drop_cm: float, load: float) -> Bar:
    return Bar(load, drop_cm / 100, Bar.high(0).behind_m)


def lean(text: str) -> float:
    return float(re.search(r"Lean (−?[\d.]+)°", text)[1].replace("−", "-"))


def test_moving_the_bar_and_the_load_gives_the_packages_numbers():
    shown = explorers.lever_arms()
    shown.bar_position = 8
    shown.load = 140
    posture = balance(AVERAGE, bar(8, 140), Stance(), 0, 30)
    assert f"Lean {posture.trunk_deg:.1f}°" in shown.sentence
    assert f"hip {joint_moments(posture).hip:.0f}," in shown.sentence
    assert f"Lean {posture.trunk_deg:.1f}°" in svg(shown.scene())


def test_the_way_a_browser_sends_a_value_works_too():
    shown = explorers.lever_arms()
    shown.set_state({"depth": 20.0})
    assert lean(shown.sentence) == pytest.approx(
        balance(AVERAGE, bar(3, 100), Stance(), -20, 30).trunk_deg, abs=0.051
    )


def test_a_held_trunk_and_a_lower_bar_shift_the_centre_of_mass_back():
    shown = explorers.lever_arms()
    held = balance(AVERAGE, bar(3, 100), Stance(), 0, 30).trunk_deg
    shown.hold = "trunk"
    assert "centre of mass over mid-foot" in shown.sentence
    shown.bar_position = 9.5
    shift = 100 * pose(AVERAGE, bar(9.5, 100), Stance(), held, 0, 30).com_shift
    assert shift < 0
    assert f"centre of mass {-shift:.1f} cm behind mid-foot" in shown.sentence
    shown.hold = "balance"
    assert "centre of mass over mid-foot" in shown.sentence


def test_the_second_rule_is_on_offer():
    shown = explorers.balance_rules()
    shown.over = "bar"
    expected = balance(AVERAGE, bar(3, 60), Stance(), 0, 28, over="bar")
    assert lean(shown.sentence) == pytest.approx(expected.trunk_deg, abs=0.051)
    assert "ahead of mid-foot" in shown.sentence or "behind mid-foot" in shown.sentence


def test_the_three_sliders_of_the_fifth_notebook_come_first():
    labels = [c.label for c in explorers.balance_rules().controls.values()]
    assert labels[:3] == ["Bar position", "Thigh length", "Stance width"]


def test_stature_hides_what_proportions_do():
    shown = explorers.proportions()
    start = lean(shown.sentence)
    shown.stature = 195
    tall = lean(shown.sentence)
    shown.reset()
    shown.thigh = 110
    long = lean(shown.sentence)
    assert abs(tall - start) < 2 < 4 < long - start


def test_stiff_ankles_are_told_in_the_figures_place_and_raised_heels_help():
    shown = explorers.stance()
    shown.press("Stiff ankles")
    assert "limit is 22°" in shown.sentence
    assert "limit is 22°" in re.sub(r"<[^>]+>", " ", svg(shown.scene()))
    for preset in ("Stiff ankles, heels up", "Stiff ankles, on a wedge"):
        shown.press(preset)
        assert shown.posture.feasible


def test_a_stance_out_of_reach_has_its_reason_instead_of_a_body():
    shown = explorers.stance()
    shown.press("Too wide")
    assert "out of reach" in shown.sentence and shown.error is None


def sliders(explorer: Explorer) -> dict[str, Slider]:
    return {name: c for name, c in explorer.controls.items() if isinstance(c, Slider)}


def free(explorer: Explorer) -> dict[str, Slider]:
    """Return the sliders that can be moved now."""
    return {n: c for n, c in sliders(explorer).items() if c.enabled(explorer.values())}


def test_reset_brings_back_the_very_same_picture(explorer):
    before = svg(explorer.scene())
    for name, control in free(explorer).items():
        setattr(explorer, name, control.low + 0.6 * (control.high - control.low))
    assert svg(explorer.scene()) != before
    explorer.reset()
    assert svg(explorer.scene()) == before


def test_every_preset_shows_something_or_says_why_not(explorer):
    for name in explorer.presets:
        explorer.press(name)
        assert explorer.error is None, name
        assert explorer.sentence.startswith(("Lean", "Cannot be held", "Hooks in hole")), name


@pytest.mark.parametrize("part", [0.0, 0.25, 0.5, 0.75, 1.0])
def test_no_corner_of_any_slider_breaks_an_explorer(explorer, part):
    for name, control in sliders(explorer).items():
        setattr(explorer, name, control.low + part * (control.high - control.low))
        assert explorer.error is None, explorer.sentence


def test_the_posture_before_a_gesture_stays_as_an_outline():
    shown = explorers.lever_arms()
    start = shown.posture
    for load in (110, 120, 130):
        shown.load = load
        assert shown._before is start
    before = shown.posture
    shown.depth = 10
    assert shown._before is before


def test_an_unexpected_error_is_shown_and_kept():
    def broken(values):
        raise RuntimeError("the wheel came off")

    shown = explorers.lever_arms()
    shown.subject.build = broken
    shown.load = 50
    assert shown.sentence == "Cannot be drawn: the wheel came off"
    assert isinstance(shown.error, RuntimeError)
    assert "wheel came off" in svg(shown.scene())


def test_values_stay_within_a_slider_and_among_the_options():
    shown = explorers.lever_arms()
    shown.load = 9999
    assert shown.load == 200
    with pytest.raises(ValueError, match="Hold is 'breath'; choose from balance, trunk"):
        shown.hold = "breath"


def test_values_alone_fix_the_posture():
    """The trunk's lean is one of them once it is held: no history counts."""
    moved = explorers.lever_arms()
    moved.depth, moved.hold, moved.load, moved.bar_position = 10, "trunk", 60, 9.5
    assert moved.lean == round(float(balance(AVERAGE, bar(3, 100), Stance(), -10, 30).trunk_deg), 1)
    told = explorers.lever_arms()
    told.set(moved.values())
    assert told.sentence == moved.sentence and "behind mid-foot" in told.sentence
    moved.press("High bar")
    assert (moved.hold, moved.lean, moved.load) == ("trunk", told.lean, 100)


def test_an_explorer_is_a_widget_like_any_other():
    shown, stock = explorers.lever_arms(), ipywidgets.FloatSlider(min=0, max=200)
    heard = []
    shown.observe(lambda change: heard.append(change["new"]), "load")
    traitlets.link((stock, "value"), (shown, "load"))
    stock.value = 60
    assert shown.load == 60 and heard[-1] == 60
    assert f"Lean {balance(AVERAGE, bar(3, 60), Stance(), 0, 30).trunk_deg:.1f}°" in shown.sentence
    shown.press("Empty bar")
    assert stock.value == 20
    assert ipywidgets.VBox([stock, shown]).children[1] is shown


def test_an_explorer_leaves_a_picture_for_readers_without_a_kernel(explorer):
    bundle = explorer._repr_mimebundle_()
    data = bundle[0] if isinstance(bundle, tuple) else bundle
    # Side by side where there is room: the first has the words for all.
    scene, pictures = explorer.scene(), all_drawn(data["text/html"])
    panes = scene.panes or (scene,)
    assert len(pictures) == len(panes)
    for picture, pane in zip(pictures, panes, strict=True):
        assert picture.split("<rect")[1:] == svg(pane).split("<rect")[1:]
    assert explorer.sentence in scene.alt and f'alt="{scene.alt}"' in data["text/html"]
    assert data["text/plain"] == f"Explorer: {explorer.sentence}"
    assert "application/vnd.jupyter.widget-view+json" in data


def test_every_value_of_every_slider_has_words_of_its_own(explorer):
    explorer.set({"hold": "trunk"} if "hold" in explorer.controls else {})
    for name, control in sliders(explorer).items():
        words = [control.words(value, explorer.values()) for value in control.positions.tolist()]
        assert len(set(words)) == len(words) > 5 and all(words), name


def test_an_unknown_size_is_explained():
    with pytest.raises(ValueError, match='choose "page" or "projector"'):
        explorers.lever_arms(size="huge")
    page, large = explorers.lever_arms(), explorers.lever_arms(size="projector")
    assert large.spec["scale"] > page.spec["scale"] and large.spec["size"] == "projector"


def test_a_chart_follows_where_there_is_one():
    shown = explorers.proportions()
    shown.thigh = 110
    ratio = shown.posture.lifter.thigh_m / shown.posture.lifter.trunk_m
    chart = shown._sweeps[-1]
    assert f"trunk length {ratio:.2f}, lean {shown.posture.trunk_deg:.1f}°." in chart.alt[0]


class Listener:
    """Hear what an explorer sends, as a browser would."""

    def __init__(self, explorer: Explorer, monkeypatch) -> None:
        self.explorer, self.heard, self.count = explorer, [], 0
        monkeypatch.setattr(
            explorer, "send", lambda content, buffers=None: self.heard.append(content)
        )

    def ask(self, name: str, want: list[int]) -> list[dict]:
        """Return the pieces of one answer."""
        self.explorer._received(None, {"kind": "ask", "name": name, "want": want}, [])
        pieces, self.heard = self.heard, []
        assert [piece["more"] for piece in pieces] == [True] * (len(pieces) - 1) + [False]
        return pieces

    def rest(self, **values) -> None:
        self.count += 1
        message = {"kind": "set", "values": values, "count": self.count}
        self.explorer._received(None, message, [])


def test_the_nearest_positions_come_first_and_all_come_in_the_end(monkeypatch):
    shown = explorers.stance()
    browser = Listener(shown, monkeypatch)
    positions = shown.controls["stance_width"].positions
    want = np.argsort(np.abs(positions - shown.stance_width), kind="stable").tolist()
    got, pieces = [], 0
    while len(got) < len(positions):
        for piece in browser.ask("stance_width", want[len(got) :]):
            got += piece["index"]
            pieces += 1
    assert got == want and pieces > 1


def test_an_answer_that_takes_long_is_broken_off_and_asked_for_again(monkeypatch):
    shown = explorers.stance()
    browser = Listener(shown, monkeypatch)
    monkeypatch.setattr("squatlab.show.explorer.ANSWER_S", 0.0)
    want = list(range(40))
    (first,) = browser.ask("stance_width", want)
    assert 0 < len(first["index"]) < 40 and first["index"] == want[: len(first["index"])]


def test_what_is_known_of_a_slider_holds_until_anything_else_moves(monkeypatch):
    shown = explorers.lever_arms()
    browser = Listener(shown, monkeypatch)
    first = browser.ask("depth", [0, 1])[0]["version"]
    browser.rest(depth=20.0)
    assert shown.depth == 20 and shown.picture["count"] == 1
    assert browser.ask("depth", [2])[0]["version"] == first == shown.picture["version"]
    shown.load = 60
    assert browser.ask("depth", [2])[0]["version"] != first
    assert shown.picture["values"] == shown.values()


def test_a_position_that_cannot_be_drawn_says_so_and_the_others_are(monkeypatch):
    shown = explorers.lever_arms()
    build = shown.subject.build

    def fragile(values):
        if np.any(np.asarray(values["load"]) == 50):
            raise RuntimeError("the wheel came off")
        return build(values)

    shown.subject.build = fragile
    browser = Listener(shown, monkeypatch)
    at = shown.controls["load"].positions.tolist()
    (answer,) = browser.ask("load", [at.index(50), at.index(60)])
    assert answer["sentences"] == ["Cannot be drawn: the wheel came off"]
    assert browser.ask("load", [at.index(60)])[0]["sentences"][0].startswith("Lean")


def test_the_rack_follows_stature_and_says_the_set_ups_numbers():
    from squatlab.gym import Rack, set_up

    shown = rack_picture.rack_height()
    shown.stature = 190
    lifter = Lifter.from_stature(1.90, 90)
    plan = set_up(Rack.of("50 mm"), lifter, Bar.high(20))
    assert shown.sentence == " ".join(str(plan).splitlines())
    assert f"hooks in hole {plan.hole}" in svg(shown.scene())
    assert f"safety bars in hole {plan.safety}" in svg(shown.scene())


def test_a_lifter_taller_than_the_rack_is_explained_not_crashed():
    shown = rack_picture.rack_height()
    shown.place = "low"
    shown.spacing = "2 in"
    for stature in range(150, 206, 5):
        shown.stature = stature
        assert shown.sentence.startswith(("Hooks in hole", "Cannot be drawn: "))
