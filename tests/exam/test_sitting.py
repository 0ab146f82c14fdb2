"""The candidate's screen, without a browser: what it keeps, refuses, says and brings back."""

from __future__ import annotations

import errno
import json
import os
import shutil
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from squatlab.exam.account import account
from squatlab.exam.answers import Sheet
from squatlab.exam.build import draw
from squatlab.exam.forms import FormKey
from squatlab.exam.marking import mark
from squatlab.exam.package import Package
from squatlab.exam.screens.sitting import sit
from squatlab.exam.screens.stills import stills
from squatlab.exam.screens.trial import trial_form, trial_key, trial_marks
from squatlab.exam.secret import Secret
from squatlab.questions.blueprint import cell
from squatlab.questions.items import item
from tests.exam import invented_class

START = datetime(2026, 5, 1, 10, 0, tzinfo=UTC)


@pytest.fixture(scope="module")
def form(tmp_path_factory):
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("squatlab.exam.screens.trial.stills", stills_of_a_trial)
        return trial_form(tmp_path_factory.mktemp("form"))


def stills_of_a_trial(case, camera_seed, every):
    return invented_class.small_stills(case, camera_seed)


@pytest.fixture(scope="module")
def key(form):
    return FormKey.read(form.with_name("trial.key.json"))


@pytest.fixture(scope="module")
def names(key):
    """The items by their kind."""
    return {entry.kind: name for name, entry in key.entries.items() if name != "q01"}


class Clock:
    """A clock that goes on a minute whenever it is read."""

    def __init__(self) -> None:
        self.time = START

    def __call__(self) -> datetime:
        self.time += timedelta(minutes=1)
        return self.time


def hour(minute: int) -> str:
    return (START + timedelta(minutes=minute)).astimezone().strftime("%H:%M:%S")


@pytest.fixture
def opened(form, tmp_path):
    """Open the form, as the cell does, again and again."""
    clock = Clock()
    return lambda **how: sit(form, "C07", tmp_path / "exam", clock=clock, **how)


@pytest.fixture
def begin(opened):
    """Open it and press Begin, which does nothing where the clock runs."""

    def opened_and_begun(**how):
        screen = opened(**how)
        assert screen.begin()
        return screen

    return opened_and_begun


def press(screen, **asked) -> dict:
    """Ask what the page asks; return what it is sent."""
    sent = []
    screen.send = lambda content, buffers=None: sent.append((content, buffers))
    screen._handle_custom_msg(asked, [])
    (one,) = (pair for pair in sent if "page" not in pair[0] or asked["do"] == "page")
    return one


def sent_to_the_page(screen) -> str:
    """Everything a browser gets of an exam: state and output, but not the program itself."""
    page, _ = press(screen, do="page")
    state = {name: value for name, value in screen.get_state().items() if name[:1] != "_"}
    return json.dumps([state, page, screen._repr_mimebundle_()], ensure_ascii=False)


def test_what_a_notebook_saves_holds_no_question_and_no_answer(begin, key, names):
    """A saved notebook keeps the widget's state and its output: neither has them."""
    screen = begin()
    assert screen.answer(names["first"], "nothing")
    saved = json.dumps([screen.get_state(), screen._repr_mimebundle_()], ensure_ascii=False)
    assert set(screen.get_state()) >= {"at", "_esm"} and "told" not in screen.get_state()
    for question in screen.page["questions"]:
        assert question["prompt"] not in saved
    options = {option for entry in key.entries.values() for option in entry.options}
    assert not [one for one in options - {"nothing"} if one in saved]
    assert '"nothing"' not in saved.replace(screen.get_state()["_esm"], "")
    page, _ = press(screen, do="page")
    assert page["answers"] == {names["first"]: "nothing"} and page["page"] == screen.page


def test_a_form_to_try_asks_one_of_each_kind_and_is_made_once(form, key):
    assert sorted(entry.kind for entry in key.entries.values()) == [
        "choice",
        "cue",
        "first",
        "first",
        "number",
        "rank",
        "spot",
    ]
    before = form.stat().st_mtime_ns
    assert trial_form(form.parent) == form and form.stat().st_mtime_ns == before


def test_a_trial_begins_anew_when_handed_in_or_out_of_time_and_only_then(form, tmp_path):
    path = Path(shutil.copy(form, tmp_path))
    other = tmp_path / "spring-C07.journal"
    screen = sit(path, "C07", tmp_path)
    shutil.copy(journal := screen.journal.path, other)
    trial_form(tmp_path)
    assert journal.exists(), "it was still going on"
    for old in (journal, other):
        os.utime(old, (0, 0))
    trial_form(tmp_path)
    assert not journal.exists() and other.exists()
    screen = sit(path, "C07", tmp_path)
    assert screen.begin() and screen.hand_in() and screen.journal.handed_in
    trial_form(tmp_path)
    assert not sit(path, "C07", tmp_path).journal.begun


def test_a_trial_that_this_version_does_not_seal_is_made_again(form, tmp_path, monkeypatch):
    monkeypatch.setattr("squatlab.exam.screens.trial.stills", stills_of_a_trial)
    for file in form.parent.glob("trial.*"):
        shutil.copy(file, tmp_path)
    path = tmp_path / "trial.zip"
    journal = sit(path, "C07", tmp_path).journal.path
    key = tmp_path / "trial.key.json"
    own = FormKey.read(key)
    path.write_bytes(path.read_bytes()[:1000])
    replace(own, salt=Secret(bytes([1] * 32)).salt("trial")).write(key)
    with pytest.raises(ValueError):  # an instructor's, whatever it is called: nothing of it goes
        trial_form(tmp_path)
    assert path.stat().st_size == 1000
    own.write(key)
    trial_form(tmp_path)
    assert path.read_bytes() == form.read_bytes() and not journal.exists()


# Before Begin.


def test_no_question_is_sent_before_begin_or_after_handing_in(opened, names):
    screen = opened()
    words = [one.text[:40] for one in screen.package.questions.values()]
    words += [w for one in screen.package.questions.values() for w in one.options if " " in w]
    words += ["prompt", "options", "<img", "data:image"]
    there = sent_to_the_page(screen)
    assert [one for one in words if one in there] == []
    asked = []
    screen.send = lambda content, buffers=None: asked.append((content, buffers))
    screen._handle_custom_msg({"do": "clip", "item": "q01"}, [])
    assert asked == [], "a clip was to be had before the clock ran"
    assert not screen.answer("q01", "nothing")
    assert screen.message.startswith(
        "NOT SAVED: not started yet: press Begin, which starts the clock"
    )
    assert not screen.hand_in() and not list(screen.journal.path.parent.glob("*.json"))
    assert screen.begin()
    there = sent_to_the_page(screen)
    assert all(one in there for one in words[:7]) and "data:image" not in there
    assert screen.hand_in()
    there = sent_to_the_page(screen)
    assert [one for one in words if one in there] == []


def test_the_first_page_says_who_how_much_and_how_long(opened):
    told = opened(time_factor=2).page
    facts = dict(told["facts"])
    assert (told["candidate"], told["form"]) == ("C07", "trial")
    assert facts["Questions"] == "7, of which 5 show a lift"
    assert facts["Time"] == "21 minutes from Begin: 2 times the usual, as agreed"
    assert tuple(told["button"]) == ("Begin", "begin")
    notes = dict(told["notes"])
    for name, words in {
        "Clips": "L lowest point, − + speed, V view",
        "Answers": "the page says “Saved”",
        "Hand in": "nothing can be changed",
        "Clock": "nothing stops it",
        "Crash": "the clock has run on",
        "Safety": "stop on pain",
    }.items():
        assert words in notes[name]
    assert "Time" not in notes and dict(opened().page["facts"])["Time"] == "10 minutes from Begin"


def test_time_is_counted_from_begin_and_the_cell_resumes(opened, names):
    for _ in range(3):  # page and kernel closed before Begin, again and again: no time is lost
        screen = opened()
        assert screen.page["title"] == "Before you begin" and screen.journal.begun == ""
        screen._clock()
    reply, _ = press(screen, do="begin", number=1)
    begun = START + timedelta(minutes=4)  # the clock's fourth reading
    assert reply["done"] and reply["message"] == (
        f"Nothing is answered yet. The clock has run since {hour(4)}."
    )
    assert screen.page["until"] == (begun + timedelta(minutes=10.5)).timestamp()
    assert screen.answer("q01", "nothing")
    again = opened()  # as after a crash: the question at once, the same end
    assert again.page == screen.page and again.at == "q02"
    assert again.begin() and again.page == screen.page, "pressing it once more costs nothing"


def test_begun_in_another_window_is_begun(opened, names):
    one, other = opened(), opened()
    assert one.begin() and one.answer("q01", "nothing")
    assert other.begin() and other.page == one.page and other.answers == {"q01": "nothing"}
    assert one.journal.path.read_text(encoding="utf-8").count('"begun"') == 1


def test_without_room_it_does_not_begin(opened, monkeypatch):
    screen = opened()
    with monkeypatch.context() as patch:
        patch.setattr(os, "write", full)
        reply, _ = press(screen, do="begin", number=1)
    assert not reply["done"] and reply["message"].startswith("NOT STARTED: ")
    assert "Make room" in reply["message"] and screen.page["title"] == "Before you begin"
    assert opened().journal.begun == "", "no time has gone"


# The questions.


def test_nothing_is_chosen_before_the_candidate_does(begin):
    screen = begin()
    assert screen.answers == {} and screen.unanswered == (1, 2, 3, 4, 5, 6, 7)
    assert screen.message.startswith("Nothing is answered yet.") and screen.at == "q01"


def test_what_the_page_is_told_answers_nothing(begin, key):
    told = begin().page
    assert {one["item"] for one in told["questions"]} == set(key.entries)
    assert not {"answer", "cell", "gains", "tolerance"} & set().union(*told["questions"])
    of_kind = {key.entries[one["item"]].kind: one for one in told["questions"]}
    first = of_kind["first"]
    assert first["options"][-1] == ["nothing", "nothing to fix"] and first["lift"]
    assert not of_kind["choice"]["lift"]


def test_an_answer_is_on_the_disk_when_the_page_hears_so(begin, key, names):
    screen = begin()
    right = key.entries[names["first"]].answer
    reply, _ = press(screen, do="answer", item=names["first"], answer=right, number=7)
    assert reply["number"] == 7 and reply["done"] and reply["message"] == f"Saved {hour(3)}"
    assert reply["answers"] == {names["first"]: right} == screen.answers
    assert begin().journal.answers == {names["first"]: right}, "as after kill -9"


def test_every_kind_is_kept_as_marking_takes_it(begin, key, names, form):
    screen = begin()
    for kind, name in names.items():
        entry = key.entries[name]
        answer = entry.answer[0] if kind == "cue" else entry.answer
        if kind == "number":
            unit = screen.package.questions[name].unit
            answer = f" {answer:.2f} {unit}".replace(".", ",")
        assert screen.answer(name, list(answer) if isinstance(answer, tuple) else answer), kind
    assert screen.answer("q01", key.entries["q01"].answer) and screen.unanswered == ()
    screen.hand_in()
    sheet = Sheet.read(screen.journal.path.with_name("trial-C07.json"))
    marks = mark(screen.package.form, key, [sheet])
    assert marks.marks.min() == 1.0 and marks.refused == ()
    assert sheet.receipt in screen.message and "give the file to your instructor" in screen.message


@pytest.mark.parametrize(
    ("kind", "given", "words"),
    [
        ("first", "heel_lift", "'heel_lift' is no answer to this question; choose what it offers"),
        ("first", ["heels lift"], "is no answer to this question"),
        ("spot", "heels lift", "is no answer to this question"),
        ("spot", {"heels lift": 1}, "is no answer to this question"),
        ("spot", ["heels lift", "heels lift"], "is no answer to this question"),
        ("spot", ["knees fall in"], "is no answer to this question"),  # not seen from the side
        ("rank", [], "leaves some out"),
        ("number", "about ten", "“about ten” is no number; write one, such as 12.5 "),
        ("number", "inf", "“inf” is no number"),
        ("number", "12 kg", "“12 kg” is in “kg” and this question asks for "),
    ],
)
def test_what_is_no_answer_is_not_saved_and_says_why(begin, names, kind, given, words):
    screen = begin()
    reply, _ = press(screen, do="answer", item=names[kind], answer=given, number=1)
    assert (
        not reply["done"]
        and reply["message"].startswith("NOT SAVED: ")
        and words in reply["message"]
    )
    assert reply["answers"] == {} and begin().answers == {}


def test_none_of_these_is_an_answer_and_taking_it_back_is_not(begin, names):
    screen = begin()
    assert screen.answer(names["spot"], [])
    assert begin().answers == {names["spot"]: []} and len(begin().unanswered) == 6
    assert screen.answer(names["spot"], None)
    assert len(begin().unanswered) == 7


def full(*_):
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def test_a_full_disk_says_so_and_keeps_what_was_saved(begin, names, monkeypatch):
    screen = begin()
    assert screen.answer(names["first"], "heels lift")

    with monkeypatch.context() as patch:
        patch.setattr(os, "write", full)
        reply, _ = press(screen, do="answer", item=names["first"], answer="nothing", number=2)
    assert not reply["done"] and "NOT SAVED" in reply["message"] and "Make room" in reply["message"]
    assert reply["answers"] == {names["first"]: "heels lift"} == begin().answers


def test_it_goes_on_where_it_was_left(begin, names):
    screen = begin()
    screen.answer("q01", "nothing")
    again = begin()
    assert again.at == "q02"
    assert again.message == f"1 answers were brought back. The clock has run since {hour(1)}."
    # Begun at the first reading of the clock: 10 minutes for 7 questions at 1.5.
    begun = START + timedelta(minutes=1)
    for one in (screen, again):
        assert one.page["begun"] == begun.astimezone().strftime("%H:%M")
        assert one.page["minutes"] == 10


def test_a_time_factor_makes_it_longer(begin):
    told = begin(time_factor=1.5).page
    ends = START + timedelta(minutes=1 + 1.5 * 10.5)
    assert told["minutes"] == 16 and told["ends"] == ends.astimezone().strftime("%H:%M")
    for wrong in (0.5, 5):
        with pytest.raises(ValueError, match="as your instructor agreed with you"):
            begin(time_factor=wrong)


def test_handing_in_ends_it_and_survives_a_crash_after_it(begin, opened, names):
    screen = begin()
    screen.answer("q01", "nothing")
    reply, _ = press(screen, do="hand in", number=9)
    assert reply["done"] and "trial-C07.json, receipt " in reply["message"]
    assert not screen.answer("q01", "heels lift") and "can no longer be changed" in screen.message
    path = screen.journal.path.with_name("trial-C07.json")
    kept = path.read_bytes()
    path.unlink()  # as if the machine had stopped between journal and file
    again = opened()
    assert path.read_bytes() == kept and again.message == reply["message"]
    facts = dict(again.page["facts"])
    assert again.page == screen.page and again.page["title"] == "Handed in"
    assert facts["Receipt"] == Sheet.read(path).receipt and facts["File"] == str(path)
    assert facts["Answered"] == "1 of 7; without an answer: 2, 3, 4, 5, 6, 7"
    assert facts["Handed in"].endswith(hour(4)) and not again.page["button"]


def test_handed_in_without_room_for_the_file_can_be_written_later(begin, monkeypatch):
    screen = begin()
    with monkeypatch.context() as patch:
        patch.setattr(os, "replace", full)
        reply, _ = press(screen, do="hand in", number=9)
    assert not reply["done"] and "NOT SAVED" in reply["message"]
    assert tuple(screen.page["button"]) == ("Write the file", "hand in")
    assert dict(screen.page["facts"])["Receipt"] == "none yet"
    reply, _ = press(screen, do="hand in", number=10)
    assert reply["done"] and dict(screen.page["facts"])["Receipt"] in reply["message"]


def test_a_lift_comes_with_its_pictures_and_its_words(begin, form, key):
    screen = begin()
    content, buffers = press(screen, do="clip", item="q01")
    clip = screen.package.clip("q01")
    assert buffers == list(clip.sheets) and content["clip"]["sheets"] == len(buffers)
    assert content["clip"]["lowest"] == clip.lowest
    made = item(key.entries["q01"].cell, _seed(form, "q01"))
    assert content["text"]["heading"] == account(made.case).heading


def _seed(form, name: str) -> int:
    from squatlab.questions import files

    return files.load(form.with_name("trial.register.json"), "exam register")["items"][name]["seed"]


def test_a_damaged_clip_says_what_to_do(begin, monkeypatch):
    screen = begin()
    raw = screen.package.path.read_bytes()
    sheet = screen.package.clip("q01").sheets[0]
    broken = screen.journal.path.with_name("broken.zip")
    broken.write_bytes(raw.replace(sheet, sheet[:-1] + b"!", 1))
    screen.package.path = broken
    content, _ = press(screen, do="clip", item="q01")
    assert "broken.zip" in content["problem"] and "copy it again" in content["problem"]


def test_changed_lines_are_told(begin, names):
    screen = begin()
    screen.answer(names["first"], "heels lift")
    path = screen.journal.path
    path.write_text(path.read_text(encoding="utf-8").replace("heels lift", "bar tilts"), "utf-8")
    assert begin().message.startswith("1 saved lines were changed by another program")


def test_without_a_kernel_words_stay_and_no_question(opened):
    screen = opened()
    bundle, *_ = screen._repr_mimebundle_()
    assert bundle["text/plain"] == (
        "Sitting of form trial by candidate C07: 7 questions in 10 minutes. Run this cell to sit "
        "it, or to go on."
    )
    assert f'<div class="squatlab-still"><p>{bundle["text/plain"]}</p>' in bundle["text/html"]
    assert "<dt>Crash</dt>" in bundle["text/html"]
    screen.begin()
    again, *_ = screen._repr_mimebundle_()
    assert again["text/html"] == bundle["text/html"], "a notebook that is passed on shows no lift"


# The marks of a trial


@pytest.fixture
def faulty(key):
    """The lift of which the first fault is asked and that has some."""
    first = {name: entry.answer for name, entry in key.entries.items() if entry.kind == "first"}
    return next(name for name, right in first.items() if right != "nothing")


@pytest.fixture
def answered(begin, key, names, faulty):
    """A trial of which all but three questions are answered rightly."""
    screen = begin()
    for name, entry in key.entries.items():
        assert screen.answer(name, entry.how.example(entry))
    assert screen.answer(faulty, "nothing")
    order = list(key.entries[names["rank"]].answer)
    assert screen.answer(names["rank"], [order[1], order[0], *order[2:]])
    assert screen.answer(names["number"], None)
    return screen


def test_a_trial_is_marked_when_it_is_handed_in_and_not_before(answered, names, faulty):
    marks = trial_marks(answered)
    assert marks.marked == () and marks.summary["questions"] == []
    assert answered.hand_in()
    verdicts = {one.question.id: one.verdict for one in marks.marked}
    expected = {faulty: "wrong", names["rank"]: "partly right", names["number"]: "not answered"}
    assert verdicts == dict.fromkeys(verdicts, "right") | expected and len(verdicts) == 7
    assert marks.summary["words"].startswith("4 of 7 right.") and "1 of 2" in marks.summary["words"]
    assert [row["verdict"] for row in marks.summary["questions"]] == [*verdicts.values()]
    with pytest.raises(ValueError, match="there is no question 8; there are 1 to 7"):
        marks.show(8)


def test_an_opened_question_says_what_is_right_why_and_what_was_measured(
    answered, form, key, names, faulty
):
    assert answered.hand_in()
    marks = trial_marks(answered)  # run again after handing in
    number = {one.question.id: one.number for one in marks.marked}
    marks.show(number[faulty])
    lines, right = marks.opened["lines"], key.entries[faulty].answer
    assert lines[:2] == ["Your answer: nothing to fix.", f"Right: {right}."]
    lift = item(key.entries[faulty].cell, _seed(form, faulty)).case
    assert f"Why: {lift.why}" in lines
    assert [line for line in lines if line.startswith("Measured, ")] == lift.readings
    assert len(lift.readings) == len(lift.there) and all(" ± " in line for line in lift.readings)
    assert marks.opened["lift"] and marks.lines and marks.shown["measured"]
    assert marks.frame == lift.telling.worst
    marks.show(number[names["number"]])
    assert marks.opened["lines"][0] == "Your answer: nothing." and not marks.opened["lift"]
    assert f"(± {key.entries[names['number']].tolerance:g})" in marks.opened["lines"][1]


def test_a_fault_named_wrongly_is_told_with_what_was_measured(begin, form, key, names, faulty):
    screen = begin()
    lift = item(key.entries[faulty].cell, _seed(form, faulty)).case
    options = screen.package.questions[faulty].options
    absent = next(one for one in lift.findings if one.present == "no" and one.name in options)
    cue = key.entries[names["cue"]].answer[0]
    assert screen.answer(faulty, absent.name) and screen.answer(names["cue"], cue)
    assert screen.hand_in()
    marks = trial_marks(screen)
    number = {one.question.id: one.number for one in marks.marked}
    marks.show(number[faulty])
    assert absent.amount in marks.opened["lines"][1]
    marks.show(number[names["cue"]])
    assert cue.endswith(".") and marks.opened["lines"][0] == f"Your answer: {cue}"


@pytest.mark.parametrize("lost", ["", "key.json", "register.json"])
def test_a_trial_that_was_copied_without_its_key_or_lifts_is_sat_and_not_marked(
    form, tmp_path, lost
):
    for file in form.parent.glob("trial.*"):
        shutil.copy(file, tmp_path)
    if lost:
        (tmp_path / f"trial.{lost}").unlink()
    found = trial_key(Package.read(tmp_path / "trial.zip"))
    assert (found is None) is bool(lost)
    assert lost or set(found.entries) == set(found.items) and len(found.items) == 7


def test_no_other_form_is_marked_even_with_its_key_beside_it(tmp_path):
    cells = [replace(cell("choice_safety"), count=1)]
    made = draw(Secret(bytes(range(32))), "trial", cells, certify=False)
    made.pack(tmp_path, stills)
    screen = sit(tmp_path / "trial.zip", "C07", tmp_path)
    marks = trial_marks(screen)
    assert screen.begin() and screen.answer("q01", screen.package.questions["q01"].options[0])
    assert screen.hand_in()
    assert marks.marked == () and marks.summary["questions"] == []
    assert "only your instructor has its key" in marks.summary["words"]
    marks._received(None, {"open": 1}, [])
    assert "there is no question 1" in marks.opened["heading"]
