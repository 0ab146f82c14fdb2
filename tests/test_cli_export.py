"""``export`` and ``badge``: what leaves the exam for other programs, on the command line."""

from __future__ import annotations

import json
import sqlite3
import stat
import zipfile
from contextlib import closing
from pathlib import Path

import jwt
import pytest

from squatlab.__main__ import main
from squatlab.commands.export_command import LOUD
from squatlab.exam import qti
from squatlab.exam.package import Packing
from squatlab.exam.records import Records, decide, issue
from squatlab.questions.kinds import KINDS
from squatlab.questions.question import Account, Question
from tests.exam import invented_class
from tests.exam.test_records import hand_in, rows

NAMES = "the invented club", "this squat course"
TOLD = Account("A lifter.", ("standing", "lowest"), (("trunk leans forward, °", ("5.0", "44.1")),))


@pytest.fixture
def exam(tmp_path, monkeypatch):
    """A form's file with its lifts in words, one without, the key; the test runs there."""
    monkeypatch.chdir(tmp_path)
    form, key = invented_class.form_and_key()
    for name, text in (("mute", None), ("spring", TOLD)):
        packing = Packing(key, form.cut, 60)
        for item in form.items:
            kind, options = key.entries[item].kind, key.entries[item].options
            asked = Question(item, kind, "Watch the lift. Which?", options, account=text)
            packing.add(asked, TOLD)
        form, key = packing.sealed()
        Path(f"{name}.zip").write_bytes(packing.closed())
    key.write("spring.key.json")
    return form, key


@pytest.fixture
def code(exam):
    """The code of a certificate in records.sqlite."""
    records = Records("records.sqlite", "A. Judge")
    number = invented_class.record(records, *exam, *hand_in(*exam)).number
    decide(records, number)
    given = issue(records, number, "B. Judge", "a trial", *NAMES)
    records.close()
    return given.code


def run(capsys, *words: str) -> tuple[int, str, str]:
    code = main(list(words))
    told = capsys.readouterr()
    return code, told.out, told.err


def give(capsys, code: str, *more: str) -> tuple[int, str, str]:
    return run(
        capsys,
        "badge",
        "give",
        code,
        "--key",
        "club.json",
        "--by",
        "A. Judge",
        "-o",
        "badge.jwt",
        *more,
    )


def test_the_bank_is_written_and_the_key_in_it_said_loudly(capsys, exam, tmp_path):
    status, out, _ = run(capsys, "export", "-o", "bank.zip")
    wrote = "Wrote bank.zip: Knowledge of the back squat, QTI 3.0, 80 items."
    assert (status, out) == (0, f"{wrote}\n{LOUD}\n")
    assert LOUD.startswith("THIS FILE HOLDS THE KEY.")
    assert qti.from_bank().write("same.zip").read_bytes() == (tmp_path / "bank.zip").read_bytes()
    assert stat.S_IMODE((tmp_path / "bank.zip").stat().st_mode) == 0o600
    status, _, said = run(capsys, "export", "-o", "bank.zip")
    assert status == 2 and "there already: bank.zip; choose another name with -o" in said


def test_a_form_is_written_and_what_is_lost_said(capsys, exam):
    status, out, _ = run(
        capsys,
        "export",
        "spring.zip",
        "spring.key.json",
        "-o",
        "q.zip",
        "--qti",
        "2.1",
        "--by",
        "A. Judge",
    )
    assert status == 0 and out.startswith("Wrote q.zip: form spring, QTI 2.1, 40 items.")
    assert LOUD in out
    assert f"Changed on the way (spot-0, spot-1, spot-2, spot-3): {KINDS['spot'].loss}.\n" in out
    assert f"Changed on the way (number-0, number-1): {KINDS['number'].loss}.\n" in out
    with zipfile.ZipFile("q.zip") as file:
        assert len(file.namelist()) == 2 + 40
    status, out, _ = run(
        capsys, "export", "mute.zip", "spring.key.json", "-o", "m.zip", "--by", "A. Judge"
    )
    assert status == 1 and "Left out 38 (first-00, first-01" in out and qti.UNTOLD in out
    with closing(Records("records.sqlite")) as kept:
        assert [row["what"] for row in rows(kept, "outputs")] == ["QTI 2.1", "QTI 3.0"]


def test_no_key_leaves_that_the_records_cannot_note(capsys, exam, tmp_path):
    (tmp_path / "notes.txt").write_text("no records")
    given = ("spring.zip", "spring.key.json", "--by", "A. Judge", "--records", "notes.txt")
    status, _, _ = run(capsys, "export", *given, "-o", "leak.zip")
    assert status == 2 and not (tmp_path / "leak.zip").exists()


def test_wrong_use_of_export_is_said(capsys, exam):
    out = ("-o", "q.zip")
    status, _, said = run(capsys, "export", "spring.zip", *out)
    assert (status, said) == (
        2,
        "squatlab: give the form's key too: squatlab export FORM.zip KEY.json -o FILE.zip\n",
    )
    status, _, said = run(capsys, "export", "spring.zip", "spring.key.json", *out)
    assert status == 2 and "say who exports it, --by NAME" in said
    out = (*out, "--by", "A. Judge")
    status, _, said = run(capsys, "export", "spring.key.json", "spring.key.json", *out)
    assert status == 2 and "spring.key.json is no squatlab exam package" in said
    with pytest.raises(SystemExit, match="2"):
        main(["export", *out, "--qti", "1.2"])


def test_a_badge_is_given_checked_and_revoked(capsys, code, tmp_path):
    status, out, _ = give(capsys, code, "--new-key")
    assert status == 0 and "Wrote club.json: keep it to yourself, and a copy of it." in out
    assert f"Wrote badge.jwt: the badge of {code}. Valid: issued " in out
    public = json.loads((tmp_path / "club.public.json").read_text())
    token = (tmp_path / "badge.jwt").read_text().strip()
    told = jwt.decode(
        token,
        jwt.PyJWK(public, "EdDSA"),
        ["EdDSA"],
        options={"verify_exp": False, "verify_nbf": False},
    )
    assert told["issuer"]["name"] == "the invented club"
    status, _, said = give(capsys, code)
    assert status == 2 and "there already: badge.jwt; choose another name with -o, or" in said
    assert give(capsys, code, "--replace")[0] == 0
    assert (tmp_path / "badge.jwt").read_text().strip() == token

    check = ("badge", "check", "badge.jwt", "club.public.json")
    status, out, _ = run(capsys, *check, "--candidate", "C1")
    assert status == 0 and out.startswith(
        "Passed the exam of this squat course, given by the invented club\nUnaltered, and good to "
    )
    status, out, _ = run(capsys, *check, "--candidate", "C9")
    assert status == 1 and out.endswith("It was not given to C9.\n")
    with_records = (*check, "--records", "records.sqlite")
    assert run(capsys, *with_records)[0] == 0
    run(capsys, "records", "records.sqlite", "revoke", code, "--by", "A. Judge", "--why", "copied")
    status, out, _ = run(capsys, *with_records)
    assert status == 1 and "Unaltered. The records say: Revoked on " in out
    status, _, said = give(capsys, code, "--replace")
    assert status == 2 and f"certificate {code}: no badge. Revoked on " in said

    (tmp_path / "badge.jwt").write_text(token.replace(token[-9], "A" if token[-9] != "A" else "B"))
    status, out, _ = run(capsys, *check)
    assert status == 1 and out.startswith(("It is no badge", "It was altered"))


def test_a_badge_takes_the_certificate_s_names_and_needs_some(capsys, exam, tmp_path):
    records = Records("records.sqlite", "A. Judge")
    number = invented_class.record(records, *exam, *hand_in(*exam)).number
    decide(records, number)
    code = issue(records, number, "B. Judge", "a trial").code
    records.close()
    status, _, said = give(capsys, code, "--new-key")
    assert status == 2 and "does not say who gives it and what for; record both first" in said
    assert not (tmp_path / "club.json").exists()  # it would be in the way of --new-key
    names = ("--issuer", "the Oar Club", "--course", "the spring course")
    kept = ("records", "records.sqlite")
    assert run(capsys, *kept, "certify", str(number), "--by", "A. Judge", *names)[0] == 0
    assert give(capsys, code, "--new-key")[0] == 0
    check = ("badge", "check", "badge.jwt")
    status, out, _ = run(capsys, *check, "club.public.json", "--records", "records.sqlite")
    first = "Passed the exam of the spring course, given by the Oar Club\n"
    assert status == 0 and out.startswith(first) and "Note" not in out
    status, out, _ = run(capsys, *check, "club.json")
    assert status == 0 and out.startswith("Note: club.json holds the secret that signs badges.")
    status, _, said = run(capsys, "badge", "check", "none.jwt", "club.json")
    assert status == 2 and said.startswith("squatlab: there is no none.jwt: look at")


def test_no_badge_is_signed_over_altered_answers(capsys, code, tmp_path):
    with sqlite3.connect("records.sqlite") as file:
        file.execute("UPDATE responses SET answer = '\"heel_lift\"' WHERE item = 'first-00'")
    file.close()
    status, _, said = give(capsys, code, "--new-key")
    assert status == 2 and "no badge. It stands on what was altered: the answers of attempt" in said
    assert not (tmp_path / "badge.jwt").exists()


def test_wrong_use_of_badge_is_said(capsys, code, tmp_path):
    status, _, said = give(capsys, "7XKQ-M2PD-9RTB")
    assert status == 2 and "there is no key in club.json: look at its name" in said
    give(capsys, code, "--new-key")
    (tmp_path / "badge.jwt").rename("given.jwt")
    status, _, said = give(capsys, code, "--new-key")
    assert status == 2 and "club.json is there already: something may have been sig" in said
    status, _, said = give(capsys, "7XKQ-M2PD-9RTB")
    assert status == 2 and "no badge. No certificate can have this code" in said
    status, _, said = run(capsys, "badge", "check", "given.jwt", "given.jwt")
    assert status == 2 and "given.jwt is no Ed25519 key as JWK" in said
    status, _, said = run(
        capsys, "badge", "check", "given.jwt", "club.public.json", "--records", "none.sqlite"
    )
    assert status == 2 and "there are no records in none.sqlite" in said
    assert not (tmp_path / "none.sqlite").exists()
