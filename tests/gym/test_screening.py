"""Screening advice: what comes first, and what a weight in front tells."""

from __future__ import annotations

from dataclasses import replace

import pytest

from squatlab import tables
from squatlab.gym.roster import EXPERIENCE, FINDINGS, Person
from squatlab.gym.screening import start


def person(alone: str = "good", weighted: str = "good", **more: object) -> Person:
    more = {"shoulder_restricted": False} | more
    return Person(
        "Ash",
        1.75,
        bodyweight_squat=tuple(alone.split()),
        goblet_squat=tuple(weighted.split()),
        **more,
    )


def test_the_table_has_one_rule_for_every_case() -> None:
    rules = [(row["finding"], row["when"]) for row in tables.read("screening")]
    assert len(rules) == len(set(rules))
    expected = {("shoulder", answer) for answer in ("yes", "no", "not asked")}
    expected |= {("good", experience) for experience in EXPERIENCE} | {("pain", "any")}
    for finding in set(FINDINGS) - {"good", "pain"}:
        expected |= {(finding, when) for when in ("both", "bodyweight", "goblet")}
    assert expected <= set(rules)
    for row in tables.read("screening"):
        assert row["work_on"]
        assert row["start_with"]


def test_pain_comes_first_and_ends_the_lifting() -> None:
    for alone, weighted in (("pain", ""), ("lumbar_rounding pain", "good"), ("good", "pain")):
        hurt = person(alone, weighted, shoulder_restricted=True)
        assert not hurt.lifts
        advice = start(hurt)
        assert (advice.finding, advice.bar) == ("pain", "no bar today")
        assert "licensed professional" in advice.work_on
        assert advice.start_with.startswith("no lifting")
    assert person("lumbar_rounding", "good").lifts


def test_hips_and_spine_then_knees_then_feet() -> None:
    """The tiers of common practice: spine, knees, depth, feet, side to side."""
    order = ["lumbar_rounding", "knee_valgus", "short_depth", "heel_lift", "lateral_shift"]
    for i in range(len(order)):
        seen = " ".join(reversed(order[i:]))
        advice = start(person(seen, seen))
        assert advice.finding == order[i]
        assert list(advice.later) == order[i + 1 :]


@pytest.mark.parametrize("finding", sorted(set(FINDINGS) - {"good", "pain"}))
def test_a_weight_in_front_changes_the_advice(finding: str) -> None:
    stays, goes, comes = (
        start(person(*seen)) for seen in ((finding, finding), (finding, "good"), ("good", finding))
    )
    assert len({stays.work_on, goes.work_on, comes.work_on}) == 3
    assert goes.start_with.startswith("goblet squat"), "with the weight it is gone"
    assert comes.start_with.startswith("bodyweight squat"), "without the weight it is gone"
    for one in (start(person(finding, "")), start(person("", finding))):
        assert replace(one, bar=stays.bar) == stays, "only one squat seen: as if it stayed"
        assert one.bar == "not screened: no bar before both squats"


def test_good_squats_start_by_experience() -> None:
    starts = [start(person(experience=experience)).start_with for experience in EXPERIENCE]
    assert starts == ["goblet squat and then the empty bar", "empty bar", "light bar"]


def test_an_incomplete_screening_is_completed_first() -> None:
    for alone, weighted in (("", ""), ("good", ""), ("", "good")):
        advice = start(person(alone, weighted))
        assert advice.finding == "not screened"
        assert "no bar before both squats" in str(advice)
    assert "not screened" not in str(start(person()))


def test_the_shoulder_decides_the_bar() -> None:
    restricted, free, unasked = (
        start(person(shoulder_restricted=answer)) for answer in (True, False, None)
    )
    wanted = "high bar (strap-held or padded) or goblet in both blocks; no low bar"
    assert restricted.bar == wanted
    assert "about 80 % of the usual load" in restricted.shoulder
    assert [restricted.low_bar, free.low_bar, unasked.low_bar] == [False, True, True]
    assert free.bar == "usual grip"
    assert unasked.bar == "ask about the shoulders first"
    assert "ask whether the shoulders allow the grip" in unasked.shoulder


def test_advice_in_words_names_its_source() -> None:
    words = str(start(person("heel_lift knee_valgus", "good")))
    assert words == (
        "Ash: knee valgus. Knees follow the toes; the elbows inside the knees show the way "
        "[teaching-value]. Start: goblet squat; usual grip. Later: heel lift."
    )
