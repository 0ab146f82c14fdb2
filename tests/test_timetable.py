"""The half-day adds up, names what exists, quotes what the notebooks compute."""

from __future__ import annotations

import json
import re
from datetime import datetime
from inspect import signature

import pytest

from squatlab import lessons, tables
from squatlab.__main__ import _parser
from squatlab.faults import advice
from squatlab.gym import Rack, plan_session, read_roster
from squatlab.gym.session import LEAST_MINUTES
from squatlab.lessons.answer_key import answer_key
from squatlab.lessons.class_figures import figures
from squatlab.lessons.timetable import floor_times, timetable
from squatlab.questions.blueprint import cell
from squatlab.questions.cases import case
from squatlab.show import explorers, fault_explorers, motion_explorers, rack_picture
from squatlab.show.desk_forms import RosterForm, SessionForm
from squatlab.units import US, written_in
from tests.test_units_in_book import METRIC_WORD

ROWS = {row["slot"]: row for row in tables.read("timetable")}
SHOWN = [row for row in ROWS.values() if row["section"]]
HOMES = (explorers, motion_explorers, fault_explorers, rack_picture)
DAY = timetable()
HELD = [slot for slot in DAY.slots if slot.kind != "before"]


def notebook(number: str) -> list[dict]:
    (path,) = tables.folder("notebooks").glob(f"{number}_*.ipynb")
    return json.loads(path.read_text(encoding="utf-8"))["cells"]


def instructors(number: str) -> list[dict]:
    (path,) = (tables.folder("notebooks") / "instructor").glob(f"{number}_*.ipynb")
    return json.loads(path.read_text(encoding="utf-8"))["cells"]


def under(number: str, section: str) -> str:
    """Return the code that stands under a heading, up to the next one."""
    here, code = None, []
    for one in notebook(number):
        text = "".join(one["source"])
        if one["cell_type"] == "markdown":
            for heading in re.findall(r"^#+ (?:\d\d · )?(.+)$", text, re.MULTILINE):
                here = heading
        elif here == section:
            code.append(text)
    assert code or section in re.findall(
        r"^#+ (.+)$", "\n".join("".join(one["source"]) for one in notebook(number)), re.MULTILINE
    ), f"{number} has no heading “{section}”"
    return "\n".join(code)


def minutes(day) -> int:
    return sum(slot.minutes for slot in day.slots if slot.kind != "before")


@pytest.mark.parametrize("total", [180, 181, 240, 277, 300])
def test_the_minutes_add_up_and_each_slot_begins_where_the_last_one_ends(total):
    day = timetable("22:30", total)
    assert minutes(day) == total
    held = [slot for slot in day.slots if slot.kind != "before"]
    starts = [datetime.strptime(slot.start, "%H:%M") for slot in held]
    assert starts[0] == datetime(1900, 1, 1, 22, 30)
    for slot, begin, following in zip(held, starts, starts[1:], strict=False):
        assert (following - begin).seconds == 60 * slot.minutes


def test_the_half_day_is_240_minutes_with_breaks_and_half_of_it_on_the_floor():
    assert minutes(DAY) == 240
    assert sum(int(row["minutes"]) for row in ROWS.values() if row["kind"] != "before") == 240
    assert sum(slot.minutes for slot in HELD if slot.safety) == 120
    since = 0
    for slot in HELD:  # nobody sits or lifts for more than two hours without a break
        since = 0 if slot.kind == "break" else since + slot.minutes
        assert since <= 120
    assert [slot.kind for slot in HELD].count("break") >= 2


def test_only_the_blocks_at_the_racks_give_way():
    long = timetable("09:00", 300)
    for slot in DAY.slots:
        assert (long[slot.name].minutes > slot.minutes) == (slot.kind == "rounds")


def test_what_is_projected_exists_and_is_short():
    assert len(SHOWN) >= 10
    for row in SHOWN:
        assert 0 < int(row["projected"]) <= min(10, int(row["minutes"]))
        code = under(row["notebook"], row["section"])
        if row["explorer"]:
            assert re.search(rf"^{row['explorer']}\(", code, re.MULTILINE), row
        if row["press"]:
            found = (getattr(home, row["explorer"], None) for home in HOMES)
            (made,) = {one for one in found if callable(one)}
            assert row["press"] in made().spec["presets"]
    for row in ROWS.values():
        assert not row["notebook"] or notebook(row["notebook"])


def test_every_question_has_an_answer_and_wrong_ones_with_replies():
    for slot in HELD:
        assert bool(slot.ask) == (slot.kind != "break")
        if slot.ask:
            assert slot.right and len(slot.wrong) >= 2, slot.name
            assert all(one and reply and one != reply for one, reply in slot.wrong)
    rows = tables.read("class_answers")
    for name in {row["slot"] for row in rows} | {slot.name for slot in HELD if slot.ask}:
        verdicts = [row["verdict"] for row in rows if row["slot"] == name]
        assert verdicts == ["right"] + ["wrong"] * (len(verdicts) - 1), name
        assert len(verdicts) - 1 == len(DAY[name].wrong)


def test_a_safety_check_stands_before_every_block_on_the_floor():
    for slot in HELD:
        assert bool(slot.safety) == (slot.kind in ("floor", "rounds"))
        if slot.safety:
            for word in ("safety bar", "collars", "spotters"):
                assert word in slot.safety.lower(), slot.name
            assert slot.do
            printed = repr(slot)
            assert printed.index("safety") < printed.index(slot.do[:30])


def test_a_number_with_a_unit_is_never_typed():
    texts = [row[column] for row in ROWS.values() for column in ("ask", "do", "safety")]
    texts += [row[column] for row in tables.read("class_answers") for column in ("answer", "reply")]
    for text in texts:
        assert not re.search(r"\d\s?(°|%|cm|mm|kg|N·m|ms|s\b)", re.sub(r"{.*?}", "", text)), text
        text.format_map(figures())
    quoted = set(re.findall(r"{(\w+)", " ".join(texts)))
    assert quoted == set(figures()), "quoted and computed differ"


@pytest.mark.parametrize(
    ("number", "words"),
    [
        ("01", "Base of support: {flat} flat, {on_toes} on tiptoe"),
        ("01", "dip {dip}, knees"),
        ("01", "high bar: lowest at {lowest_high}; safety bars in hole {safety_high}"),
        ("01", "low bar: lowest at {lowest_low}; safety bars in hole {safety_low}"),
        ("02", "high bar: lean {lean_high:.1f}°"),
        ("02", "low  bar: lean {lean_low:.1f}°"),
        ("02", "hip {hip_high}, knee 120, ankle 55, low back 304"),
        ("02", "hip {hip_low}, knee 120, ankle 55, low back 295"),
        ("02", "hip {hip_held} (56 %), knee 140, centre −{behind}"),
        ("02", "hip {hip_back} (69 %), knee  99"),
        ("03", "+{long:.1f}°"),
        (
            "05",
            "{light}  lean 54°, bar {light_ahead} ahead    lean 36°, centre {heels} behind",
        ),
        ("05", "{heavy}  lean 40°, bar  {heavy_ahead} ahead"),
        ("08", "side only, cannot tell: {untold}."),
        ("09", "   3  drops into the hole  gross, 0.70 s  {drop_why}"),
        ("09", "FIX FIRST  {first} (clear, 9.4°)\n  why      {first_why}"),
        ("09", "say              {cue}."),
        ("09", f"say      “{advice('knee_valgus').cue}”"),
    ],
)
def test_what_is_quoted_is_what_the_notebook_on_the_screen_prints(number, words):
    printed = "".join(
        "".join(output.get("text", output.get("data", {}).get("text/plain", [])))
        for one in notebook(number)
        if one["cell_type"] == "code"
        for output in one["outputs"]
    )
    # One unit stands behind several moments of a line there.
    quoted = {
        name: value.removesuffix(" N·m") if name.startswith("hip_") else value
        for name, value in figures().items()
    }
    assert words.format_map(quoted) in printed


def test_what_is_quoted_follows_the_units():
    with written_in(US):
        for slot in timetable().slots:
            said = " ".join([slot.ask, slot.right, slot.do, *(" ".join(one) for one in slot.wrong)])
            assert not METRIC_WORD.search(said), said
        assert figures()["heavy"] == "405 lb" and figures()["hip_high"].endswith(" lbf·ft")
    assert figures()["heavy"] == "180 kg"


def test_the_other_quoted_numbers_fit_their_notebooks():
    """03 prints the tallest less the shortest to 0.1°, 04 the fallen knee at 0 and 15°."""
    assert figures()["tall"] == pytest.approx(41.1 - 40.7, abs=0.1)
    assert figures()["fallen"] == 15
    assert figures()["fallen_lean"] == pytest.approx(37.5 - 34.7, abs=0.1)
    assert figures()["more"] == pytest.approx(44.1 - 39.7, abs=0.1)
    for name in figures()["four"].split(", "):
        assert name in DAY["first"].ask


def test_the_case_that_all_see_is_told_as_it_is():
    shown = case(cell("practice"), 11)
    assert "Case 11" in DAY["together"].do and shown.first == "lumbar_rounding"
    (leads, follows), right = shown.ranking, DAY["together"].right.lower()
    assert right.startswith(f"{leads.finding.name}: {leads.finding.size}")
    assert f"{follows.finding.name} is there too, but only {follows.finding.size}" in right


def test_the_rotation_fits_into_the_blocks():
    roster = read_roster(tables.folder("data") / "demo" / "roster.csv")
    plan = plan_session(roster, 5, block_minutes=DAY["high"].minutes, passes=2)
    assert DAY["high"].minutes == DAY["low"].minutes >= plan.round_minutes * 10
    most = max(len(station.lifters) for station in plan.stations)
    for total in (180, 240):  # also the shortest day: time for everybody, once
        assert timetable("09:00", total)["racks"].minutes / most >= LEAST_MINUTES
        plan_session(roster, 5, block_minutes=timetable("09:00", total)["low"].minutes, passes=1)


def test_minutes_for_the_floor_are_written_to_a_tenth():
    roster = read_roster(tables.folder("data") / "demo" / "roster.csv")
    plan = plan_session(roster, 5, block_minutes=DAY["high"].minutes / 1.5, passes=2)
    words = floor_times(DAY, plan)
    assert ", minute 33.3 on the card: low bar" in words  # two thirds of 50 minutes
    assert not re.search(r"\d\.\d{2}", words), words


def test_plan_command_and_notebooks_have_the_blocks_of_the_half_day():
    """One default for all: the table's minutes, and everybody lifts twice in each block."""
    meant = (DAY["high"].minutes, 2)
    defaults = signature(plan_session).parameters
    assert (defaults["block_minutes"].default, defaults["passes"].default) == meant
    options = _parser().parse_args(["session", "club.csv", "--racks", "5"])
    assert (options.minutes, options.passes) == meant
    form = SessionForm(RosterForm())
    assert (form.values.block_minutes, form.values.passes) == meant
    assert form.values.rack == Rack.of("50 mm")
    code = {n: "\n".join("".join(one["source"]) for one in instructors(n)) for n in ("I0", "I1")}
    assert 'SessionForm(people, minutes=day.values["high"].minutes)' in code["I0"]
    for text in code.values():
        assert "plan_session(people.values, *given)" in text
        assert not re.search(r"--(minutes|passes)", text)


def test_i1_runs_whole_on_any_roster(tmp_path, monkeypatch):
    """Its code on seven people whom nobody knows, one of them hurt."""
    rows = "".join(f"P{n},{158 + 5 * n},cm,{'pain' if n == 3 else 'good'}\n" for n in range(7))
    monkeypatch.chdir(tmp_path)
    names = {}
    for one in instructors("I1"):
        if one["cell_type"] == "code":
            code = "".join(one["source"])
            exec(code, names)
            if code.startswith("people = RosterForm()"):
                content = f"name,height,height_unit,bodyweight_squat\n{rows}".encode()
                names["people"].fields["file"].add("class.csv", content)
    assert [p.name for p in names["people"].values.people] == [f"P{n}" for n in range(7)]
    assert len(names["planned"].values.stations) == 2
    assert not list(tmp_path.glob("*.pdf")), "nothing is saved unasked"


def test_what_cannot_be_is_explained():
    with pytest.raises(ValueError, match='the day starts at "9"; write it as "09:00"'):
        timetable("9")
    with pytest.raises(ValueError, match="minutes is 150; it must lie between 180 and 600"):
        timetable(minutes=150)
    with pytest.raises(KeyError, match='no "lever" in the day; there are .*levers'):
        DAY["lever"]


def test_the_key_is_that_of_every_check_in_every_notebook():
    asked = []
    for path in sorted(tables.folder("notebooks").glob("*.ipynb")):
        code = "\n".join("".join(one["source"]) for one in notebook(path.stem[:2]))
        asked += re.findall(r'^check\("(\w+)", seed=(\d+)\)$', code, re.MULTILINE)
    keys = answer_key()
    assert [re.search(r"(\w+), seed (\d+)", key).groups() for key in keys] == asked
    assert len(keys) >= 20
    for key, (name, seed) in zip(keys, asked, strict=True):
        given = key.split(": ", 1)[1].removeprefix("hole ").split(" ")[0].strip(")°")
        assert lessons.asking(name, int(seed)).answer(given).right is True, key
        assert key.endswith(lessons.made(name, int(seed)).stated_exactly)


def test_another_seed_has_another_key():
    assert answer_key(7) != answer_key(8)
    for key in answer_key(7):
        name, seed = re.search(r"(\w+), seed (\d+)", key).groups()
        assert seed == "7" and key.endswith(lessons.made(name, 7).stated_exactly)
