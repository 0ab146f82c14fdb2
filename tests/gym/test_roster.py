"""Rosters: what is read, and what is said about mistakes."""

from __future__ import annotations

from pathlib import Path

import pytest

from squatlab import tables
from squatlab.gym.roster import RosterRowsError, read_roster

HEADING = (
    "name,height,height_unit,mass,mass_unit,sternum_height,thigh_length,length_unit,"
    "experience,shoulder_restricted,bodyweight_squat,goblet_squat"
)


def roster(folder: Path, *rows: str, heading: str = HEADING, encoding: str = "utf-8") -> Path:
    path = folder / "class.csv"
    path.write_text("\n".join([heading, *rows]) + "\n", encoding=encoding)
    return path


def test_metric_and_imperial_rows_side_by_side(tmp_path: Path) -> None:
    path = roster(
        tmp_path,
        "Ash,180,cm,80,kg,139,,cm,some,n,good,good",
        "Bay,5'11\",ft,176,lb,54.5,,in,new,Y,Heel lift; knee_valgus,good",
        "Cob,70.5,in,,,,,,,,,",
    )
    ash, bay, cob = read_roster(path).people
    assert (ash.stature_m, ash.mass_kg, ash.sternum_m) == pytest.approx((1.80, 80, 1.39))
    assert bay.stature_m == pytest.approx(71 * 0.0254)
    assert bay.mass_kg == pytest.approx(176 * 0.45359237)
    assert bay.sternum_m == pytest.approx(54.5 * 0.0254)
    assert bay.bodyweight_squat == ("heel_lift", "knee_valgus")
    assert (bay.experience, bay.shoulder_restricted) == ("new", True)
    assert ash.shoulder_restricted is False
    assert cob.stature_m == pytest.approx(1.7907)
    assert (cob.experience, cob.shoulder_restricted, cob.goblet_squat) == ("new", None, ())
    assert [person.row for person in (ash, bay, cob)] == [2, 3, 4]


def test_a_sheet_as_offices_save_it(tmp_path: Path) -> None:
    """A byte-order mark, semicolons, spaces and capitals in the heading, an empty row."""
    path = roster(
        tmp_path, ";;", "Ash;1,80;m", heading="Name;Height;Height unit", encoding="utf-8-sig"
    )
    (ash,) = read_roster(path).people
    assert (ash.name, ash.stature_m, ash.row) == ("Ash", 1.80, 3)


def test_a_cell_may_bring_its_unit(tmp_path: Path) -> None:
    """As a US gym's sheet has it: one column each for height and weight, units in the cells."""
    rows = "Ash,5'9\",165 lb", "Bay,5ft 11in,", "Cob,69 in,80 kg", "Dee,1.62 m,120 lbs"
    path = roster(tmp_path, *rows, heading="Name,Height,Weight")
    ash, bay, cob, dee = read_roster(path).people
    heights = [person.stature_m for person in (ash, bay, cob, dee)]
    assert heights == pytest.approx([69 * 0.0254, 71 * 0.0254, 69 * 0.0254, 1.62])
    assert ash.mass_kg == pytest.approx(165 * 0.45359237) and bay.mass_kg is None
    for row, words in (
        ("Ash,64,", "row 2, column height_unit: is empty; choose one of m, cm, mm, ft, in, or"),
        ("Ash,5-10,", "row 2, column height: “5-10” is not a length such as 178 cm"),
        ("Ash,6 in,", "row 2, column height: “6 in” is 0.1524 m; 1.2 to 2.3 m is possible\n"),
        (
            "Ash,5'9\",165",
            "row 2, column mass_unit: is empty; choose one of kg, lb, or write a mass",
        ),
    ):
        with pytest.raises(ValueError) as caught:
            read_roster(roster(tmp_path, row, heading="Name,Height,Weight"))
        assert words in str(caught.value)


def test_the_heading_may_say_the_unit(tmp_path: Path) -> None:
    rows = "Ash,66 1/2,150", "Bay,5'10,80 kg", "Cob,,"
    path = roster(tmp_path, *rows, heading="Student,Height (in),Body weight [lb]")
    with pytest.raises(RosterRowsError, match="^class.csv: row 4, column height: is empty"):
        read_roster(path)
    ash, bay = read_roster(path, leave_out=True).people
    assert (bay.stature_m, bay.mass_kg) == (pytest.approx(70 * 0.0254), 80.0)
    assert ash.stature_m == pytest.approx(66.5 * 0.0254)
    assert ash.mass_kg == pytest.approx(150 * 0.45359237)
    for heading, row, words in (
        ("Name,Height (spans)", "Ash,9", "the unit “spans” is not one of m, cm, mm, ft, in"),
        ("Name (nickname),Height", "Ash,170 cm", "the column “name_(nickname)” is not known"),
        ("Name,Height (ft),Height (in)", "Ash,5,6", "has the column “height” twice"),
    ):
        with pytest.raises(ValueError) as caught:
            read_roster(roster(tmp_path, row, heading=heading))
        assert words in str(caught.value)


def test_words_of_the_observation_sheet_and_a_column_called_weight(tmp_path: Path) -> None:
    path = roster(
        tmp_path,
        "Ash,5'11\",ft,185,lb,knees fall in; Heels lift",
        heading="Name,Height,Height unit,Weight,Weight unit,Bodyweight squat",
    )
    (ash,) = read_roster(path).people
    assert ash.bodyweight_squat == ("knee_valgus", "heel_lift")
    assert ash.mass_kg == pytest.approx(185 * 0.45359237)
    with pytest.raises(ValueError, match="“knees cave in” is not one of good, pain, low back"):
        read_roster(
            roster(
                tmp_path, "Ash,180,cm,knees cave in", heading="name,height,height_unit,goblet_squat"
            )
        )


def test_measured_lengths_reach_the_lifter(tmp_path: Path) -> None:
    path = roster(tmp_path, "Ash,180,cm,,,,47,cm,,,,", "Bay,180,cm,70,kg,,,,,,,")
    ash, bay = (person.lifter() for person in read_roster(path).people)
    assert ash.thigh_m == pytest.approx(0.47)
    assert ash.mass_kg == pytest.approx(24 * 1.8**2), "unknown mass: 24 kg/m²"
    assert bay.thigh_m == pytest.approx(0.245 * 1.8), "Winter 2009: thigh .245 of stature"
    assert bay.mass_kg == 70


@pytest.mark.parametrize(
    ("row", "words"),
    [
        (",180,cm,,,,,,,,,", "row 3, column name: is empty; give a name or an alias"),
        ("Bay,,cm,,,,,,,,,", "row 3, column height: is empty; measure it, or leave the person out"),
        ("Bay,180,,,,,,,,,,", "row 3, column height_unit: is empty; choose one of m, cm, mm"),
        (
            "Bay,70,cm,,,,,,,,,",
            "row 3, column height: “70” cm is 0.7 m; 1.2 to 2.3 m is possible; "
            "should height_unit be in?",
        ),
        ("Bay,1.78,cm,,,,,,,,,", "should height_unit be m?"),
        ("Bay,-178,cm,,,,,,,,,", "row 3, column height: “-178” is not a length"),
        ("Bay,5'11\",cm,,,,,,,,,", "does not agree with the unit “cm” stated for it"),
        ("Bay,5.11,ft,,,,,,,,,", "write whole feet and then inches, such as 5'11\""),
        ("Bay,400,cm,,,,,,,,,", "“400” cm is 4 m; 1.2 to 2.3 m is possible\n"),
        ("Bay,180,cm,165,kg,,,,,,,", ""),
        ("Bay,180,cm,12,stone,,,,,,,", "the unit “stone” is not one of kg, lb"),
        ("Bay,180,cm,700,kg,,,,,,,", "“700” kg is 700 kg; 30 to 250 kg is possible"),
        ("Bay,180,cm,80,,,,,,,,", "row 3, column mass_unit: is empty; choose one of kg, lb"),
        (
            "Bay,180,cm,,,165,,cm,,,,",
            "row 3, column sternum_height: is 0.92 of the height; 0.7 to "
            "0.84 is possible: measure both again",
        ),
        ("Bay,140,cm,,,,62,cm,,,,", "row 3, column thigh, shank or trunk_length: "),
        ("Bay,180,cm,,,,,,expert,,,", "row 3, column experience: “expert” is not one of new, some"),
        ("Bay,180,cm,,,,,,,maybe,,", "row 3, column shoulder_restricted: “maybe” is not one"),
        ("Bay,180,cm,,,,,,,,wobbles,", "row 3, column bodyweight_squat: “wobbles” is not one"),
        ("Bay,180,cm,,,,,,,,,good; pain", "column goblet_squat: says good and names a finding"),
        ("ash,175,cm,,,,,,,,,", "row 3, column name: “ash” is already in row 2; give one of them"),
        ("Bay,180,cm,,,,,,,,,,extra", "row 3, column after the last: more cells than columns"),
    ],
)
def test_a_mistake_is_named_by_row_and_column_and_the_rest_is_read(
    tmp_path: Path, row: str, words: str
) -> None:
    path = roster(tmp_path, "Ash,180,cm,,,,,,,,,", row, "Cob,171,cm,,,,,,,,,")
    if not words:  # heavy, but possible
        assert len(read_roster(path).people) == 3
        return
    with pytest.raises(ValueError) as caught:
        read_roster(path)
    assert words in str(caught.value) + "\n"
    rest = read_roster(path, leave_out=True)
    assert [person.name for person in rest.people] == ["Ash", "Cob"]
    assert words.strip() in "\n".join(rest.problems)
    assert str(rest).startswith("2 people\nrow 3")


def test_all_mistakes_are_listed_at_once(tmp_path: Path) -> None:
    path = roster(tmp_path, "Ash,18,cm,,,,,,expert,,,", ",170,cm,,,,,,,,,")
    with pytest.raises(ValueError) as caught:
        read_roster(path, leave_out=True)
    words = str(caught.value)
    assert words.startswith("class.csv: row 2, column height")
    for part in ("row 2, column experience", "row 3, column name", "no row can be used"):
        assert part in words


@pytest.mark.parametrize(
    ("heading", "words"),
    [
        ("", "class.csv has no heading; the first row names the columns"),
        ("name,hieght,height_unit", '“hieght” is not known; did you mean "height"?'),
        ("name,height_unit", "class.csv has no column “height”; needed are name, height"),
        ("name,name,height,height_unit", "class.csv has the column “name” twice; delete one"),
    ],
)
def test_a_heading_that_cannot_be_used(tmp_path: Path, heading: str, words: str) -> None:
    with pytest.raises(ValueError) as caught:
        read_roster(roster(tmp_path, "Ash,180,cm", heading=heading))
    assert words in str(caught.value)


def test_other_encodings_and_an_empty_roster(tmp_path: Path) -> None:
    path = roster(tmp_path, "Zoë,180,cm", heading="name,height,height_unit", encoding="latin-1")
    with pytest.raises(ValueError, match="not UTF-8 text; save the sheet as “CSV UTF-8”"):
        read_roster(path)
    with pytest.raises(ValueError, match="no row can be used; a roster needs at least one person"):
        read_roster(roster(tmp_path))


def test_the_demo_roster_is_complete() -> None:
    people = read_roster(tables.folder("data") / "demo" / "roster.csv").people
    assert len(people) == len({person.name for person in people}) == 24
    assert {person.experience for person in people} == {"new", "some", "experienced"}
    assert {person.shoulder_restricted for person in people} == {True, False, None}
