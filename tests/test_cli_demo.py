"""``squatlab demo``: an invented club's exam end to end, the same again from the same seed."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from squatlab import faults
from squatlab.__main__ import main
from squatlab.exam import badge, demo, signing
from squatlab.exam.build import draw
from squatlab.exam.forms import FormKey
from squatlab.exam.marking import mark
from squatlab.exam.package import Package
from squatlab.exam.policy import shipped_policy
from squatlab.exam.records import Records, standings
from squatlab.exam.secret import of_demo
from squatlab.questions.blueprint import blueprint
from squatlab.questions.cases import case
from tests.exam import invented_class

SMALL = {
    "first_clean": 1,
    "first_head": 1,
    "first_knees": 1,
    "spot_side": 1,
    "number": 1,
    "choice_safety": 1,
}


@pytest.fixture
def small(monkeypatch):
    """A blueprint of six items, a club of ten, and a rule that certifies on three lifts."""
    case.cache_clear()  # the same again, and nothing kept
    monkeypatch.setattr(demo, "PEOPLE", 10)
    cells = {name: replace(blueprint()[name], count=count) for name, count in SMALL.items()}
    monkeypatch.setattr("squatlab.exam.build.blueprint", lambda: cells)
    policy = replace(shipped_policy(), cases_to_certify=3)
    monkeypatch.setattr("squatlab.exam.build.shipped_policy", lambda: policy)
    with invented_class.forms_less_alike():
        yield cells


def test_an_exam_is_run_end_to_end_and_again_to_the_byte(small, pages_undrawn, tmp_path, capsys):
    for name in ("one", "two"):
        assert main(["demo", "-o", str(tmp_path / name)]) == 0
    said = capsys.readouterr().out
    assert "form spring: 10 sat, " in said
    files = sorted(path.relative_to(tmp_path / "one") for path in (tmp_path / "one").rglob("*.*"))
    assert len([path for path in files if path.match("hand-ins/spring/*.json")]) == 10
    for path in files:
        one, two = (tmp_path / name / path for name in ("one", "two"))
        assert one.is_dir() or one.read_bytes() == two.read_bytes(), path
    records = Records(tmp_path / "one" / "records.sqlite")
    assert records.verify() == ()
    found = standings(records)
    records.close()
    spring = {one.candidate: one.decision.passed for one in found if one.form == "spring"}
    summer = {one.candidate for one in found if one.form == "summer"}
    assert {one.form for one in found if one.decision.passed} == {"spring", "summer"}
    assert len(spring) == 10 and summer == {who for who, passed in spring.items() if not passed}
    export = tmp_path / "one" / "export"
    assert {path.stem for path in export.glob("*.jwt")} == {
        one.candidate for one in found if one.decision.passed
    }
    club = signing.read_key(export / "club.public.json")
    assert all(
        badge.verify(path.read_text(), club, demo.BEGINS["summer"] + timedelta(days=3)).holds
        for path in export.glob("*.jwt")
    )
    packages = {path.name for path in export.glob("*.zip")}
    assert packages == {"spring-qti-with-key.zip", "summer-qti-with-key.zip"}
    form = Package.read(tmp_path / "one" / "forms" / "summer.zip").form
    form.check(FormKey.read(tmp_path / "one" / "forms" / "summer.key.json"))
    assert main(["demo", "-o", str(tmp_path / "one")]) == 2
    assert "is not empty; choose another folder" in capsys.readouterr().err


def test_the_able_do_better_and_errors_are_those_of_learners():
    cells = [replace(blueprint()[name], count=4) for name in ("first_feet", "first_clean", "cue")]
    drawn = draw(of_demo(1), "spring", cells, certify=False)
    people = {f"R{n:03}": -1.0 if n % 2 else 3.0 for n in range(200)}
    marks = mark(drawn.form, drawn.key, demo.sheets(drawn, 1, people))
    assert marks.refused == ()
    able = marks.cases[::2].mean(), marks.cases[1::2].mean()
    assert able[0] > 0.85 and able[1] < 0.5
    labels, counts = marks.first
    row = counts[labels.index("nothing")]
    likely = {labels[n] for n in (-row).argsort()[:4]}
    assert likely == {
        "nothing",
        "knees far ahead of the toes",
        "hips rise first",
        "bar drifts forward",
    }


def test_everything_that_may_be_there_is_taken_for_something_else():
    taken_for = {fault.id: fault.mistaken_for for fault in faults.catalogue().values()}
    taken_for["nothing"] = demo.TAKEN_FOR_FAULTS
    for there, mistaken in taken_for.items():
        assert mistaken and set(mistaken) <= set(faults.catalogue()) - {there}, there
    assert demo.abilities(1) == demo.abilities(1) != demo.abilities(2)
    assert len(demo.abilities(1)) == demo.PEOPLE
