"""A policy and a blueprint of one's own: read, refused in words, carried by the form."""

from __future__ import annotations

import json
from dataclasses import asdict, fields, replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from squatlab import tables
from squatlab.exam.answers import Sheet
from squatlab.exam.forms import Form, FormKey
from squatlab.exam.policy import ExamPolicy, shipped_policy
from squatlab.exam.records import Records, chain, decide, grounds, issue, open_form, schema
from squatlab.exam.records.openings import policy_of
from squatlab.questions import files
from squatlab.questions.blueprint import blueprint, read_blueprint
from squatlab.questions.numbers import NUMBERS
from tests.exam import invented_class


def table(folder: Path, *rows: str, heading: str = "name,value") -> Path:
    path = folder / "ours.csv"
    path.write_text("\n".join([heading, *rows]) + "\n")
    return path


def test_the_policy_that_ships_has_every_number_of_its_table() -> None:
    names = [row["name"] for row in tables.read("exam_policy")]
    assert sorted(names) == sorted(field.name for field in fields(ExamPolicy))
    assert (shipped_policy().cut, shipped_policy().cases_to_certify) == (0.75, 30)


def test_a_policy_of_ones_own_changes_what_it_names(tmp_path: Path) -> None:
    policy = ExamPolicy.read(table(tmp_path, "cut,0.8", "attempts,2"))
    assert policy == replace(shipped_policy(), cut=0.8, attempts=2)
    assert policy.fingerprint != shipped_policy().fingerprint
    assert ExamPolicy.of(json.loads(json.dumps(asdict(policy)))) == policy


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("cutt,0.8", 'ours.csv, row 2: no policy has “cutt”; did you mean "cut"?'),
        ("cut,80 %", "ours.csv, row 2: cut is “80 %”; write a number"),
        ("cut,80", "ours.csv: cut is 80; it must lie between 0 and 1"),
        ("cut,nan", "ours.csv: cut is nan; it must lie"),
        ("attempts,2.5", "ours.csv: attempts is 2.5; give a whole number between 1 and 1000"),
        ("cut,0.8\ncut,0.9", "ours.csv, row 3: cut stands above as well; keep one row"),
        ("", "ours.csv has no row"),
    ],
)
def test_a_wrong_policy_is_named(tmp_path: Path, row: str, words: str) -> None:
    with pytest.raises(ValueError) as caught:
        ExamPolicy.read(table(tmp_path, row))
    assert words in str(caught.value)


def test_a_form_carries_its_policy_under_its_seal(tmp_path: Path) -> None:
    form, key = invented_class.form_and_key(40)
    ours = replace(shipped_policy(), waiting_days=3.0)
    sealed = replace(key, policy=ours)
    assert sealed.seal != key.seal
    given = replace(form, policy=ours, seal=sealed.seal)
    given.check(sealed)
    assert Form.read(given.write(tmp_path / "form.json")).policy == ours
    assert FormKey.read(sealed.write(tmp_path / "key.json")).policy == ours
    with pytest.raises(ValueError, match="its policy was changed since it was sealed"):
        replace(given, policy=shipped_policy()).check(sealed)
    for wrong in ({"cut": 0.8}, asdict(ours) | {"cut": 7}, asdict(ours) | {"cut": "most"}):
        file = files.save(tmp_path / "odd.json", "exam form", asdict(given) | {"policy": wrong})
        with pytest.raises(ValueError, match="odd.json is damaged"):
            Form.read(file)


def test_records_follow_the_policy_of_the_form(tmp_path: Path) -> None:
    form, key = invented_class.form_and_key(40)
    key = replace(key, policy=replace(shipped_policy(), waiting_days=3.0))
    form = replace(form, policy=key.policy, seal=key.seal)
    records = Records(tmp_path / "records.sqlite", "A. Certifier")
    open_form(records, form, key, "C1")
    with records.reading() as connection:
        (opening,) = chain.rows(connection, schema.openings)
        assert opening["rule"] == "3 days apart, 3 in 365 days, no form twice"
        assert policy_of(connection, form.id) == key.policy
    records.close()


def test_a_blueprint_of_ones_own(tmp_path: Path) -> None:
    ours = tmp_path / "ours.csv"
    ours.write_bytes((tables.folder("data") / "blueprint.csv").read_bytes())
    assert read_blueprint(ours) == blueprint()
    heading, first, *others = ours.read_text().splitlines()
    number = next(row for row in others if row.startswith("number,"))
    for row, words in (
        (first.replace(",first,0,", ",first,two,"), "row 2: count is “two”; write a whole number"),
        (first.replace(",first,", ",fist,"), "row 2: cell practice of the blueprint: the kind is"),
        (f"{first}\n{first}", "row 3: the cell “practice” stands above as well; keep one"),
        (first, "ours.csv asks no question; give at least one row a count above 0"),
        (first.replace("any,any,0-2", "heel_lfit,any,0-2"), "draws has “heel_lfit”, which is"),
        (first.replace("any,any,0-2", "any,heel_lfit,0-2"), 'did you mean "heel_lift"?'),
        (first.replace("gross", "grosss"), "sizes has “grosss”"),
        (first.replace("gross,any", "gross,girls"), "There may be any, women, men"),
        (first.replace("0-2", "2-0"), "from the least to the most"),
        (first.replace(",0.2,,", ",0.2,nan,"), "margin is more than 0"),
        (number.replace("hip_arm ", "hip_armm "), 'did you mean "hip_arm"?'),
        (number.replace(" ".join(NUMBERS), ""), "draws says what it asks about"),
    ):
        ours.write_text(f"{heading}\n{row}\n")
        with pytest.raises(ValueError) as caught:
            read_blueprint(ours)
        assert words in str(caught.value)


def test_a_certificate_follows_the_policy_of_its_form(tmp_path: Path) -> None:
    lenient = replace(
        shipped_policy(), cases_to_certify=20, least_reliability=0, certificate_days=10
    )
    form, key = invented_class.form_and_key(20)
    records = Records(tmp_path / "records.sqlite", "A. Certifier")
    answers = {item: invented_class.answer(entry, True) for item, entry in key.entries.items()}
    objections = {}
    for name, policy in (("strict", shipped_policy()), ("lenient", lenient)):
        own_key = replace(key, form=name, policy=policy)
        own_form = replace(form, id=name, policy=policy, seal=own_key.seal)
        sheet = Sheet(name, own_form.seal, f"C-{name}", answers, "2026-05-01T10:00:00Z")
        ((attempt,), _) = invented_class.record_all(records, own_form, own_key, [sheet])
        decide(records, attempt.number, "B. Judge")
        objections[name] = grounds(records, attempt.number).objections
    assert [words[:15] for words in objections["strict"]] == [
        "it was on 20 li",
        "the reliability",
        "it was handed i",
    ]
    assert [words[:15] for words in objections["lenient"]] == ["it was handed i"]
    given = issue(records, attempt.number, override="a trial")
    lasts = datetime.fromisoformat(given.until) - datetime.fromisoformat(given.since)
    assert lasts == timedelta(days=10)
    records.close()
