"""``squatlab case``: a recording, the coaches and the consent on the command line."""

from __future__ import annotations

import re

import pypdfium2
import pytest

from squatlab.__main__ import main
from squatlab.faults import catalogue

CONSENT = ["--consent", "lifter", "--asked-by", "I1", "--asked-on", "2020-01-02"]
LONG = ["--delete-on", "2999-12-31"]


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """Give a folder with a synthetic squat and what two coaches said of it."""
    monkeypatch.chdir(tmp_path)
    assert main(["rep", "-o", "squat.csv", "--fault", "knee_valgus=9"]) == 0
    rows = ["coach_id,there,first", *(f"K{n},knee_valgus,knee_valgus" for n in (1, 2))]
    (tmp_path / "coaches.csv").write_text("\n".join(rows), encoding="utf-8")
    return tmp_path


def add(*more, files=("squat-side.csv", "squat-front.csv")):
    return main(["case", "real", "add", "K-01", *files, *more])


def test_a_case_is_kept_listed_and_withdrawn(folder, capsys):
    told = ["--coaches", "coaches.csv", "--load", "60", "--distance", "4", "--height", "1"]
    assert add(*CONSENT, *LONG, *told) == 0
    out = capsys.readouterr().out
    assert "2 of 2 coaches" in out and "knees fall in" in out and "±" in out
    assert main(["case", "real", "list"]) == 0
    assert "asked by I1 on 2020-01-02" in capsys.readouterr().out
    (folder / "real" / "K-02.json").write_text("{}", encoding="utf-8")
    assert main(["case", "real", "list"]) == 1 and "K-02" in capsys.readouterr().out
    assert main(["case", "real", "withdraw", "K-01", "--by", "I1"]) == 0
    assert not (folder / "real" / "K-01.json").exists()


def test_the_blind_sheet_has_every_fault_and_no_number_of_the_lift(folder, capsys):
    """The knees of this lift fall in by 9°, which no coach may read from the sheet."""
    sheet = ["case", "real", "sheet", "K-01", "squat-side.csv", "squat-front.csv", "-o", "blind"]
    assert main(sheet) == 0
    page = pypdfium2.PdfDocument(folder / "blind" / "K-01.blind.pdf")[0].get_textpage()
    words = page.get_text_bounded()
    assert all(fault.name in words for fault in catalogue().values()) and "nothing to fix" in words
    assert re.findall(r"-?\d+(?:\.\d+)?\s?(?:°|cm|ms)", words) == ["20°"], "of what to look for"
    table = folder / "blind" / "K-01.coaches.csv"
    assert table.read_text(encoding="utf-8") == "coach_id,there,first\n"
    assert not (folder / "real").exists()
    capsys.readouterr()
    assert main(sheet) == 2 and "K-01.blind.pdf" in capsys.readouterr().err
    with table.open("a", encoding="utf-8") as typed:
        typed.write("K1,knees fall in,knees fall in\nK2,Knees fall in + heels lift,knees fall in\n")
    assert add(*CONSENT, *LONG, "--coaches", str(table)) == 0


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ([], "no consent is stated"),
        ([*CONSENT, "--delete-on", "2020-02-01"], "the consent ends on 2020-02-01"),
        ([*CONSENT, *LONG], "no key: --coaches"),
        ([*CONSENT, *LONG, "--coaches", "coaches.csv", "--mass", "75"], "without --stature"),
    ],
)
def test_nothing_is_kept_without_consent_key_and_what_belongs_together(folder, capsys, given, said):
    assert add(*given) == 2
    assert said in capsys.readouterr().err and not (folder / "real").exists()


def test_a_day_is_read_as_a_day(folder, capsys):
    with pytest.raises(SystemExit) as end:
        add(*CONSENT, "--delete-on", "tomorrow")
    assert end.value.code == 2 and "write 2026-11-02" in capsys.readouterr().err


def test_what_the_review_refuses_is_refused_in_its_words(folder, capsys):
    """Nobody moves in this recording."""
    lines = (folder / "squat-side.csv").read_text(encoding="utf-8").splitlines()
    heading, *rows = lines
    times = [row.split(",", 1)[0] for row in rows]
    frozen = [f"{time},{rows[0].split(',', 1)[1]}" for time in times]
    (folder / "still.csv").write_text("\n".join([heading, *frozen]), encoding="utf-8")
    declared = ["--units", "px", "--view", "side"]
    assert main(["review", "still.csv", *declared]) == 2
    reason = capsys.readouterr().err
    assert add(*CONSENT, *LONG, "--coaches", "coaches.csv", *declared, files=["still.csv"]) == 2
    assert capsys.readouterr().err == reason and not (folder / "real").exists()
