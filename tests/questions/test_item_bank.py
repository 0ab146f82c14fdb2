"""The bank of items: complete, balanced, one right answer, and its numbers recomputed.

Every answer that is a number of our model is worked out again here, and the item's words are
made from it: MODEL holds (numbers that the prompt must state, the right option). Answers that
only say more or less, ahead or behind, have a test each. Rules of the catalogue are read from
the catalogue.
"""

from __future__ import annotations

import difflib
import re
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from squatlab import Bar, Lifter, Stance, balance, faults, joint_moments, pose, tables
from squatlab.gym import PlateSet, Rack, highest_flat_m, lowest_bar_m, mid_sternum_m, strap_held
from squatlab.gym.plates import STRAP_HELD
from squatlab.mechanics.legs import leg_from_angles
from squatlab.mechanics.support import BALL
from squatlab.questions import item_bank

ITEMS = tuple(item_bank.items().values())
FAULTS = tuple(faults.catalogue())
LIGHTER, HEAVIER = Lifter.from_stature(1.75, 75), Lifter.from_stature(1.75, 80)
NUMBER = re.compile(r"\d[\d,]*(?:\.\d+)?")
ids = {"ids": lambda one: one.id}


def options(one):
    return (one.right, *one.wrong)


def moved(**change):
    """Return one lifter's lean with a length changed, all else equal."""
    return balance(HEAVIER.scaled(**change), Bar.high(80), Stance()).trunk_deg


# What is there


def test_enough_items_balanced_over_the_cells():
    counts = [len(drawn) for drawn in item_bank.cells().values()]
    assert tuple(item_bank.cells()) == item_bank.CELLS and sum(counts) == len(ITEMS) >= 72
    assert min(counts) >= 6 and max(counts) - min(counts) <= 1


def test_every_fault_has_an_item_and_none_has_many():
    counts = {fault: sum(one.fault == fault for one in ITEMS) for fault in FAULTS}
    assert min(counts.values()) >= 1 and max(counts.values()) <= 5


def test_sources_are_known_and_ids_give_nothing_away():
    assert all(one.source in tables.sources() and one.version >= 1 for one in ITEMS)
    assert all(re.fullmatch(r"k\d{3}", one.id) for one in ITEMS)


def test_no_prompt_is_asked_twice():
    for a, b in combinations(ITEMS, 2):
        alike = difflib.SequenceMatcher(None, a.prompt.lower(), b.prompt.lower(), False).ratio()
        assert alike < 0.8, (a.id, b.id)


# How it is asked


@pytest.mark.parametrize("one", ITEMS, **ids)
def test_a_question_is_plain(one):
    assert one.prompt.endswith("?") and len(one.prompt.split()) <= 36
    assert max(len(part.split()) for part in re.split(r"(?<=[.?:])\s", one.prompt)) <= 26
    assert 12 <= len(one.why.split()) <= 48
    asked = " ".join((one.prompt, *options(one))).lower()
    assert not re.search(r"\bexcept\b|which of these|of the above|\bis not (a|an|the)\b", asked)


@pytest.mark.parametrize("one", ITEMS, **ids)
def test_options_differ_and_are_of_similar_length(one):
    texts = [re.sub(r"\W+", " ", option.lower()).strip() for option in options(one)]
    assert len(set(texts)) == 4
    lengths = [len(option) for option in options(one)]
    assert max(lengths) - min(lengths) <= 13


def test_the_length_of_an_option_tells_nothing():
    """Ranked by length, 1 shortest to 4 longest, the right one is in the middle: 2.5 ± 0.2."""
    ranks, longest = [], 0
    for one in ITEMS:
        right, others = len(one.right), [len(text) for text in one.wrong]
        ranks.append(1 + sum(o < right for o in others) + sum(o == right for o in others) / 2)
        longest += right > max(others)
    assert np.mean(ranks) == pytest.approx(2.5, abs=0.2)
    assert longest <= len(ITEMS) / 4


def test_numbers_stand_at_every_place_of_their_order():
    """Whoever always takes the least number, or any other place, is right at most half the time."""
    places = []
    for one in ITEMS:
        first = [NUMBER.search(option) for option in options(one)]
        if all(first):
            values = [float(found[0].replace(",", "")) for found in first]
            if len(set(values)) == 4:
                places.append(sorted(values).index(values[0]))
    assert len(places) >= 8 and max(np.bincount(places)) <= len(places) / 2


def test_sweeping_words_do_not_give_the_wrong_ones_away():
    sweeping = re.compile(r"\b(always|never|all|every|whatever|whoever|must)\b")
    wrong = sum(bool(sweeping.search(text)) for one in ITEMS for text in one.wrong)
    right = sum(bool(sweeping.search(one.right)) for one in ITEMS)
    assert wrong <= 0.1 * 3 * len(ITEMS) and right >= 3


def test_only_the_generator_decides_the_order():
    one = item_bank.item("k001")
    first, again = (one.asked(np.random.default_rng(7)) for _ in range(2))
    assert first == again and first.prompt == one.prompt
    rng, keys = np.random.default_rng(1), []
    for _ in range(400):
        asked = one.asked(rng)
        assert sorted(asked.options) == sorted(options(one))
        assert asked.options["abcd".index(asked.key)] == one.right
        keys.append(asked.key)
    # Binomial with n 400 and p 1/4: 100 ± 3.5 standard deviations of 8.7.
    assert all(70 <= keys.count(letter) <= 130 for letter in "abcd")


# Numbers of the model


def tiptoe():
    quarters = round(4 * (1 - BALL))
    return (), f"about {('nothing', 'a quarter', 'a half')[quarters]} of its length"


def breastbone():
    return ("1.75",), f"about {mid_sternum_m(1.75):.2f} m"


def plates_of_a_side():
    plates = PlateSet.of("kg", collar=0.0)
    return (f"{plates.empty:g}", "82.5"), f"{sum(plates.load(82.5).side):g} kg"


def low_bar_lean():
    high, low = (balance(HEAVIER, bar, Stance(), 0, 30) for bar in (Bar.high(100), Bar.low(100)))
    return ("30", "100"), f"about {low.trunk_deg - high.trunk_deg:.0f}° more lean"


def centre_with_trunk_held():
    lean = balance(HEAVIER, Bar.high(100), Stance()).trunk_deg
    back = -100 * pose(HEAVIER, Bar.low(100), Stance(), lean).com_shift
    return ("80", "100"), f"about {back:.0f} cm toward the heels"


def straps():
    loading = strap_held(PlateSet.of("kg"), 60)
    return ("60",), f"{loading.total:g} kg, about {100 * STRAP_HELD:.0f} % of it"


def neck_at_the_wall():
    squat = balance(LIGHTER, Bar.high(60), Stance())
    x, y, _ = squat.points["head"]
    down = np.degrees(np.arctan2(y, 10 - x))
    return (f"{squat.trunk_deg:.0f}", "10"), f"about {squat.trunk_deg - down:.0f}°"


def bar_alone():
    """Second route: moments are a sum, so what the bar adds is a difference of two postures."""
    loaded = balance(LIGHTER, Bar.high(100), Stance())
    bare = pose(LIGHTER, Bar.high(0), Stance(), loaded.trunk_deg)
    added = joint_moments(loaded).hip - joint_moments(bare).hip
    arm = 100 * loaded.moment_arms().hip_bar
    return ("100", f"{arm:.0f}"), f"about {round(added, -1):.0f} N·m"


def knee_from_the_sum():
    ahead = Stance(float(LIGHTER.hip_width_m), 0.0)
    before, after = (
        joint_moments(balance(LIGHTER, Bar.high(100), ahead, 0, shank)) for shank in (30, 33)
    )
    stated = (f"{moment:.0f}" for moment in (before.hip, before.knee, after.hip))
    return tuple(stated), f"{after.knee:.0f} N·m"


def line_of_the_bar():
    arms = balance(LIGHTER, Bar.high(100), Stance(), 0, 30).moment_arms()
    hip, knee = 100 * arms.hip_bar, -100 * arms.knee_bar
    return ("75", "100", "30"), f"{hip:.0f} cm ahead of the hip, {knee:.0f} cm behind the knee"


def empty_bar():
    ahead = 100 * balance(HEAVIER, Bar.high(20), Stance(), 0, 28).points["bar"][0]
    return ("80", "20", "28"), f"about {ahead:.0f} cm ahead of mid-foot"


def longer_thighs():
    return ("8",), f"about {moved(thigh=1.08) - moved():.0f}° more"


MODEL = {
    "k003": tiptoe,
    "k004": breastbone,
    "k005": plates_of_a_side,
    "k013": low_bar_lean,
    "k014": centre_with_trunk_held,
    "k021": straps,
    "k027": neck_at_the_wall,
    "k045": bar_alone,
    "k046": knee_from_the_sum,
    "k047": line_of_the_bar,
    "k049": empty_bar,
    "k050": longer_thighs,
}


@pytest.mark.parametrize("name", MODEL)
def test_a_number_of_the_model_is_what_the_model_gives(name):
    one, (stated, right) = item_bank.item(name), MODEL[name]()
    assert one.right == right
    assert set(stated) <= set(NUMBER.findall(one.prompt))
    value = [float(number.replace(",", "")) for number in NUMBER.findall(right)]
    for wrong in one.wrong:
        if NUMBER.sub("#", wrong) == NUMBER.sub("#", right):
            other = [float(number.replace(",", "")) for number in NUMBER.findall(wrong)]
            assert abs(other[0] - value[0]) >= 0.1 * value[0], "too near to tell from rounding"


# What the model says in words


def test_the_lower_of_two_holes_is_taken():
    rack = Rack.of("50 mm")
    assert rack.height(rack.nearest(rack.height(20) + 0.025)) == rack.height(20)
    assert item_bank.item("k002").right.startswith("the lower one")


def test_a_low_bar_is_two_to_three_inches_lower():
    high, low = (tables.value("bar_positions", name=n, quantity="drop") for n in ("high", "low"))
    inches = [int(number) for number in re.findall(r"\d+", item_bank.item("k010").right)][2:]
    assert inches[0] * 0.0254 <= low - high <= inches[1] * 0.0254
    centimetres = " to ".join(f"{2.54 * inch:.0f}" for inch in inches)
    assert item_bank.item("k010").right == f"{centimetres} cm ({inches[0]} to {inches[1]} in)"


def test_the_bars_place_changes_the_lean_and_not_the_legs():
    """van den Tillaar 2020 and Larsen 2024: matched comparisons agree."""
    high, low = (balance(HEAVIER, bar, Stance()) for bar in (Bar.high(100), Bar.low(100)))
    assert low.trunk_deg > high.trunk_deg
    assert joint_moments(low)[:3] == pytest.approx(joint_moments(high)[:3])
    assert item_bank.item("k011").right == "the lean grows; hips and knees work as before"


def test_sitting_back_works_the_hips_harder():
    usual, back = (joint_moments(balance(HEAVIER, Bar.low(100), Stance(), 0, s)) for s in (30, 26))
    assert back.hip > usual.hip and back.knee < usual.knee
    assert "shins more upright" in item_bank.item("k012").right


def test_a_low_bar_wants_lower_hooks_and_safety_bars():
    high, low = Bar.high(60), Bar.low(60)
    assert highest_flat_m(LIGHTER, low) < highest_flat_m(LIGHTER, high)
    assert lowest_bar_m(LIGHTER, low, Stance()) < lowest_bar_m(LIGHTER, high, Stance())
    assert item_bank.item("k015").right == "check both: each may have to go lower"


def test_a_wider_stance_shortens_the_thigh_seen_from_the_side():
    narrow, wide = (balance(HEAVIER, Bar.high(60), s) for s in (Stance(0.3, 12), Stance(0.55, 25)))
    seen = [squat.knee.x - squat.hip.x for squat in (narrow, wide)]
    assert wide.trunk_deg < narrow.trunk_deg and seen[1] < seen[0]
    assert item_bank.item("k039").right == "it leans less: from the side the thigh is shorter"


def test_an_ankle_that_stops_lifts_the_heels_or_holds_the_shins():
    stiff = replace(HEAVIER, dorsiflexion_deg=22)
    reason = balance(stiff, Bar.high(60), Stance(), shank_deg=30).reason
    assert "keep the shins more upright" in reason
    assert balance(stiff, Bar.high(60), Stance(), shank_deg=22).feasible
    assert item_bank.item("k041").right == "the heels rise, or the shins stay more upright"


def test_a_wide_squat_above_level_looks_higher_as_escamilla_2001():
    """Escamilla et al. 2001, Med Sci Sports Exerc 33:984-998: 3 to 13° from one side view."""
    leg = leg_from_angles(HEAVIER, Stance(0.63, 12), np.radians(20), np.radians(20))
    thigh = leg.hip - leg.knee
    assert np.degrees(np.arctan2(thigh.y, -thigh.x)) > 23
    assert item_bank.item("k051").right == "steeper than it is, so the squat looks higher"


def test_thigh_against_trunk_is_what_leans():
    leans = {part: moved(**{part: 1.08}) - moved() for part in ("thigh", "shank", "trunk")}
    tall = balance(Lifter.from_stature(1.95, 80), Bar.high(80), Stance()).trunk_deg - moved()
    assert leans["thigh"] > 5 and leans["shank"] < 0 and leans["trunk"] < 0 and abs(tall) < 0.5
    assert item_bank.item("k052").right == "long thighs for the length of the trunk"


# What the catalogue says


def test_priorities_follow_the_catalogue():
    assert item_bank.item("k059").right == ", ".join(faults.TIERS.values())
    assert (
        item_bank.item("k060").fault == "lumbar_rounding" and faults.fault("lumbar_rounding").stop
    )
    assert "stop the set and unload" in item_bank.item("k060").right
    tier = {name: fault.tier for name, fault in faults.catalogue().items()}
    assert tier["knees_first"] < tier["heel_lift"]  # k061: and still the clear one goes first
    assert tier["hips_rise_first"] < tier["fast_descent"]  # k063
    assert tier["knee_valgus"] == tier["knees_far_forward"]  # k064


def test_a_study_s_knees_are_no_fault():
    # McKean, Dunn & Burkett 2010, J Strength Cond Res 24:1671: 64 mm (men), 93 to 97 mm (women).
    assert "knees 6 cm ahead" in item_bank.item("k065").prompt and item_bank.item(
        "k065"
    ).right.startswith("nothing")
    assert all(faults.fault("knees_far_forward").size(ahead) == "" for ahead in (6.4, 9.7))


def test_turnout_and_gaze_are_the_catalogue_s():
    assert item_bank.item("k037").right in faults.fault("turnout_out_of_range").look_for
    note = faults.fault("head_up").note
    for name, distance in (("k023", "3 to 6 ft"), ("k024", "3 to 6 in")):
        assert (
            distance in note and distance in item_bank.item(name).right + item_bank.item(name).why
        )


# Cues


@pytest.mark.parametrize("fault", FAULTS)
def test_every_fault_has_cues_and_distractors(fault):
    cues = item_bank.cues(fault)
    accepted = [cue.words for cue in cues if cue.accepted]
    assert len(accepted) >= 2 and len(cues) - len(accepted) >= 3
    assert faults.advice(fault).cue in accepted
    assert all(cue.fault == fault and len(cue.words.split()) <= 18 for cue in cues)
    assert all(cue.why.endswith(".") and cue.source in tables.sources() for cue in cues)


def test_the_length_of_a_cue_tells_nothing():
    every = [item_bank.cues(fault) for fault in FAULTS]
    yes, no = (
        [len(c.words) for cues in every for c in cues if c.accepted is a] for a in (True, False)
    )
    assert np.mean(yes) == pytest.approx(np.mean(no), rel=0.15)
    longest = [max(cues, key=lambda cue: len(cue.words)).accepted for cues in every]
    assert 3 <= sum(longest) <= 8


def test_advice_for_one_fault_is_a_distractor_elsewhere_and_never_its_own():
    own = {faults.advice(fault).cue: fault for fault in FAULTS}
    borrowed = [c for f in FAULTS for c in item_bank.cues(f) if not c.accepted and c.words in own]
    assert len(borrowed) >= 4 and all(own[cue.words] != cue.fault for cue in borrowed)


# What is refused


ROW = {
    "id": "x1",
    "version": "1",
    "kind": "choice",
    "cell": "grip",
    "fault": "",
    "prompt": "Which?",
    "right": "this",
    "wrong_1": "that",
    "wrong_2": "those",
    "wrong_3": "these",
    "why": "So.",
    "source": "common-practice",
    "author": "course authors",
}
CUE = {"fault": "heel_lift", "words": "Down.", "accepted": "yes", "why": "So.", "source": "ipf"}


@pytest.fixture
def given(monkeypatch):
    """Let the bank read these rows, and forget them afterwards."""

    def rows(*given):
        item_bank.items.cache_clear(), item_bank.all_cues.cache_clear()
        read = tables.read
        monkeypatch.setattr(
            tables, "read", lambda name: given if name in ("items", "cues") else read(name)
        )

    yield rows
    item_bank.items.cache_clear(), item_bank.all_cues.cache_clear()


def test_a_good_row_is_read(given):
    given(ROW)
    assert (
        item_bank.item("x1").wrong == ("that", "those", "these")
        and item_bank.item("x1").version == 1
    )
    assert item_bank.cells()["grip"] == (item_bank.item("x1"),) and item_bank.cells()["gaze"] == ()


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"why": " "}, "nothing in why; only fault may be empty"),
        ({"id": ""}, "nothing in id"),
        ({"version": "0"}, 'the version is "0"; give a whole number from 1'),
        ({"version": "1a"}, 'the version is "1a"'),
        ({"kind": "spot"}, 'the kind is "spot"; this table holds "choice"'),
        ({"cell": "grp"}, 'no cell "grp"; did you mean "grip". There are: set_up, bar_position'),
        ({"fault": "heel_lft"}, 'no fault "heel_lft"; did you mean "heel_lift"'),
        ({"wrong_2": "This"}, "two of its four options say the same"),
    ],
)
def test_a_bad_item_is_refused_by_name(given, change, words):
    row = ROW | change
    given(row)
    with pytest.raises(ValueError, match=f'items.csv, item "{row["id"]}" .Which.*{words}'):
        item_bank.items()


def test_an_id_stands_once(given):
    given(ROW, ROW | {"prompt": "And which?"})
    with pytest.raises(ValueError, match='item "x1" .And which.*its id is there twice'):
        item_bank.items()


@pytest.mark.parametrize(
    "rows",
    [
        (CUE | {"accepted": "maybe"},),
        (CUE | {"fault": "heel"},),
        (CUE | {"fault": ""},),
        (CUE | {"why": ""},),
        (CUE | {"words": "down."}, CUE),
        (CUE | {"words": ""},),
    ],
)
def test_a_bad_cue_is_refused_by_its_words(given, rows):
    given(*rows)
    bad = rows[-1]
    with pytest.raises(ValueError, match=f'cues.csv, "{bad["words"]}" for "{bad["fault"]}": give'):
        item_bank.cues("heel_lift")


def test_unknown_names_are_told_the_nearest():
    with pytest.raises(ValueError, match=r"no item 'k0001' in items.csv; did you mean \"k0"):
        item_bank.item("k0001")
    with pytest.raises(ValueError, match='did you mean "heel_lift"'):
        item_bank.cues("heel_lif")
