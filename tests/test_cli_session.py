"""``squatlab session``: what it writes, prints, refuses and plans all the same."""

from __future__ import annotations

import csv
from pathlib import Path

import pypdfium2
import pytest

from squatlab import tables
from squatlab.__main__ import main

DEMO = tables.folder("data") / "demo" / "roster.csv"
GOOD = ("Ash,180,cm", "Bay,5'11\",ft", "Cob,66.5,in", "Dot,1.63,m")


@pytest.fixture
def run(tmp_path, capsys, pages_undrawn):
    """Return what runs the command on typed rows: exit code, printed, complained, folder."""

    def run(*rows: str, racks: int = 1, more: tuple[str, ...] = (), draw: bool = False):
        roster, folder = tmp_path / "class.csv", tmp_path / "out"
        roster.write_text("\n".join(["name,height,height_unit", *rows]), encoding="utf-8")
        if draw:
            pages_undrawn.undo()
        code = main(["session", str(roster), "--racks", str(racks), "-o", str(folder), *more])
        told = capsys.readouterr()
        return code, told.out, told.err, folder

    return run


def plan(folder: Path) -> list[dict[str, str]]:
    with (folder / "plan.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_the_demo_class_is_planned_printed_and_written(tmp_path, capsys):
    folder = tmp_path / "made" / "here"
    assert main(["session", str(DEMO), "--racks", "5", "-o", str(folder), "--paper", "Letter"]) == 0
    said = capsys.readouterr().out
    assert said.startswith(
        "Rack 1: Ginger, Nettle, Birch, Dill, Sage; 20 rounds of 5 min, moves: hooks 4, "
    )
    assert "reported pain, do not lift: Olive" in said
    assert "Birch: heel lift. Balance over the whole foot" in said
    assert "Alder, Iris, Poppy: good. Consistency" in said, "one line for people who are alike"
    assert "Hole 1 is taken to hold the bar 40 cm above the floor, one hole every 50 mm" in said
    rows = plan(folder)
    assert len(rows) == 2 * 2 * 23, "everybody but Olive lifts twice with each bar"
    elm = [row for row in rows if row["lifter"] == "Elm"]
    assert {row["bar"] for row in elm} == {"high bar or goblet"}
    assert len({row["safety_hole"] for row in elm}) == 1
    for rack in "12345":
        here = [row for row in rows if row["rack"] == rack]
        for one, then in zip(here, here[1:], strict=False):
            for what in ("hooks", "safety"):
                moved = one[f"{what}_hole"] != then[f"{what}_hole"]
                assert then[f"move_{what}"] == ("yes" if moved else "no")
    assert rows[0] == {
        "rack": "1",
        "start_min": "0",
        "bar": "high bar",
        "lifter": "Ginger",
        "hooks_hole": "17",
        "hooks_cm": "120.0",
        "move_hooks": "no",
        "move_safety": "no",
        "safety_hole": "6",
        "safety_cm": "65.0",
        "coach": "Nettle",
        "spotters": "Birch; Dill",
        "recorder": "Sage",
        "watching": "",
        "start_with": "goblet squat and then the empty bar",
        "which_bar": "usual grip",
    }
    for name, width in (("cards", 215.9), ("observation", 279.4)):
        document = pypdfium2.PdfDocument(folder / f"{name}.pdf")
        assert len(document) == 5
        assert document[0].get_width() == pytest.approx(width / 25.4 * 72, abs=0.01)


def test_metric_and_imperial_side_by_side(run):
    code, said, _, folder = run(*GOOD)
    assert code == 0
    assert {row["lifter"] for row in plan(folder)} == {"Ash", "Bay", "Cob", "Dot"}
    heights = {row["lifter"]: float(row["hooks_cm"]) for row in plan(folder)}
    assert heights["Ash"] == heights["Bay"] > heights["Cob"] >= heights["Dot"], "1.80 m is 5'11\""
    assert "not asked about their shoulders" in said


def test_own_holes_plates_and_load(run):
    more = ("--holes", "25 mm", "--first-hole", "42.5", "--plates", "lb", "--load", "135")
    code, said, _, folder = run(*GOOD, more=more, draw=True)
    assert code == 0
    assert "Hole 1 holds the bar 42.5 cm above the floor, one hole every 25 mm" in said
    row = plan(folder)[0]
    assert float(row["hooks_cm"]) == pytest.approx(42.5 + 2.5 * (int(row["hooks_hole"]) - 1))
    card = pypdfium2.PdfDocument(folder / "cards.pdf")[0].get_textpage().get_text_bounded()
    assert "5 × 135 lb" in card


def test_a_us_gym_gets_inches_pounds_and_letter_paper(run):
    more = ("--units", "us", "--first-hole", "14 in")
    code, said, _, folder = run(*GOOD, more=more, draw=True)
    assert code == 0
    assert "14.0 in above the floor, one hole every 2 in" in said
    row = plan(folder)[0]
    assert float(row["hooks_in"]) == pytest.approx(14 + 2 * (int(row["hooks_hole"]) - 1))
    card = pypdfium2.PdfDocument(folder / "cards.pdf")[0]
    assert card.get_width() == pytest.approx(8.5 * 72, abs=0.01)
    assert "5 × 95 lb" in card.get_textpage().get_text_bounded()
    code, _, complained, _ = run(*GOOD, more=("--units", "us", "--first-hole", "90", "--replace"))
    assert code == 2 and "it must lie from 2.0 in to 78.7 in" in complained


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("Eve,170,", "class.csv: row 4, column height_unit: is empty; choose one of m, cm"),
        ("Eve,17,cm", "row 4, column height: “17” cm is 0.17 m; 1.2 to 2.3 m is possible"),
        ("Eve,,cm", "row 4, column height: is empty; measure it, or leave the person out"),
        ("ash,170,cm", "row 4, column name: “ash” is already in row 2; give one of them another"),
    ],
)
def test_a_wrong_row_is_named_and_the_rest_is_planned_if_asked(run, row, words):
    rows = (*GOOD[:2], row, *GOOD[2:])
    code, _, complained, folder = run(*rows)
    assert code == 2
    assert words in complained
    assert "Correct these rows, or add --anyway to plan the rest." in complained
    assert not folder.exists(), "nothing is half written"
    code, said, _, folder = run(*rows, more=("--anyway",))
    assert code == 1
    assert words.removeprefix("class.csv: ") in said
    assert {row["lifter"] for row in plan(folder)} == {"Ash", "Bay", "Cob", "Dot"}


def test_whom_the_rack_does_not_suit_is_named_and_left_out_if_asked(run):
    more = ("--first-hole", "30")
    code, _, complained, _ = run(*GOOD, "Tall,2.25,m", more=more)
    assert code == 2
    assert complained.startswith("squatlab: row 6, Tall: a bar height of 1.7")
    assert complained.endswith("add --anyway to plan the rest.\n")
    code, said, _, folder = run(*GOOD, "Tall,2.25,m", more=(*more, "--anyway"))
    assert code == 1
    assert "row 6, Tall: a bar height" in said
    assert "Tall" not in {row["lifter"] for row in plan(folder)}


def test_more_racks_than_people(run):
    code, _, complained, folder = run(*GOOD, racks=6)
    assert code == 2
    assert "6 racks are more than 4 people; use 4 at most, better one for every four" in complained
    assert "--anyway" not in complained
    assert not folder.exists()


def test_one_person(run):
    code, said, _, folder = run(GOOD[0])
    assert code == 0
    assert "nobody can spot where one person is alone: the instructor stays there" in said
    assert {row["spotters"] for row in plan(folder)} == {"instructor"}


def test_an_earlier_plan_is_not_lost_by_accident(run):
    run(*GOOD)
    code, _, complained, folder = run(*GOOD[:3])
    assert code == 2
    assert "observation.pdf; choose another folder with -o, or add --replace" in complained
    assert len(plan(folder)) == 4 * 4
    assert run(*GOOD[:3], more=("--replace",))[0] == 0
    assert len(plan(folder)) == 4 * 3


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (
            ("--minutes", "8", "--passes", "1"),
            "4 rounds in 8 minutes leave 2.0 minutes for each, and 3 are needed",
        ),
        (("--passes", "0"), "0 passes: everybody lifts at least once in each block"),
        (
            ("--load", "41"),
            "41 kg cannot be loaded with these plates; the nearest loads are 40 and",
        ),
        (
            ("--holes", "2 mm"),
            "squatlab: --holes: the spacing is 0.002; it must lie between 0.01 and 0.3 m; common",
        ),
        (("--first-hole", "4000"), "--first-hole: 4000; it must lie from 5.0 cm to 200.0 cm"),
        (
            ("--first-hole", "92"),
            "squatlab: 92 cm is too high for everybody: measure the lowest hole (--first-hole)\n",
        ),
    ],
)
def test_plans_that_cannot_be_are_refused(run, more, words):
    code, _, complained, folder = run(*GOOD, more=more)
    assert code == 2
    assert words in complained
    assert "Rack(" not in complained and "_m " not in complained, "no words of the program's"
    assert complained.count("\n") == 1
    assert not folder.exists()


def test_spellings_of_paper_and_holes(run):
    more = ("--paper", "a4", "--holes", '2"')
    code, said, _, folder = run(*GOOD, more=more)
    assert code == 0
    assert "one hole every 2 in" in said
    unscreened = [line for line in said.splitlines() if "no bar before both squats" in line]
    assert len(unscreened) == 1 and unscreened[0].startswith("Ash, Bay, Cob, Dot: not screened")
    assert {row["which_bar"] for row in plan(folder)} == {"not screened: no bar before both squats"}


def test_a_roster_that_is_not_there(tmp_path, capsys):
    assert main(["session", str(tmp_path / "no.csv"), "--racks", "1", "-o", str(tmp_path)]) == 2
    assert "no.csv" in capsys.readouterr().err
