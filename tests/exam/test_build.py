"""A form from secret and blueprint: repeatable, balanced, and it gives nothing away."""

from __future__ import annotations

import errno
import hashlib
import hmac
import io
import json
import os
import re
import shutil
import stat
import struct
import zipfile
import zlib
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, replace
from functools import cache, partial

import pytest
from PIL import Image

from squatlab import faults, storage
from squatlab.exam import build, selection
from squatlab.exam.account import account
from squatlab.exam.answers import Sheet
from squatlab.exam.build import CellBalance, balance, draw
from squatlab.exam.forms import FormKey
from squatlab.exam.marking import mark
from squatlab.exam.package import Package
from squatlab.exam.policy import shipped_policy
from squatlab.exam.secret import Secret, of_demo
from squatlab.questions import files, item_bank
from squatlab.questions.blueprint import blueprint, cell
from squatlab.questions.cases import case
from squatlab.questions.item_bank import Bank
from squatlab.questions.items import item
from squatlab.questions.kinds import KINDS, NOTHING
from squatlab.questions.question import PictureBox, PicturePanel, Pictures
from tests.exam import invented_class

SECRET = Secret(bytes(range(32)))
SMALL = tuple(
    replace(cell(name), count=count)
    for name, count in (
        ("first_clean", 1),
        ("first_knees_among", 2),
        ("spot_front", 1),
        ("cue", 1),
        ("rank", 1),
        ("number", 2),
        ("choice_safety", 2),
    )
)
PICTURE = zlib.compress(b"no picture")


def no_pictures(case, camera_seed: int = 0) -> Pictures:
    """Stand in for a renderer; what it is given is a case to draw."""
    names = {"both": ("side", "front")}.get(case.cell.view, (case.cell.view,))
    panels = tuple(PicturePanel(name, 3 * n, 0, 3, 2) for n, name in enumerate(names))
    frames = (0,) * case.rep.time.size
    box = PictureBox(0, 0, 6, 2)
    return Pictures((PICTURE,), (box,), 1, 6, 2, frames, 60.0, panels, 0, "A view.")


def other_pictures(case, camera_seed: int = 0) -> Pictures:
    """Stand in for another renderer."""
    return replace(no_pictures(case), sheets=(PICTURE + b"x",))


@pytest.fixture(scope="module", autouse=True)
def less_alike():
    """Draw forms from fewer lifts."""
    with invented_class.forms_less_alike():
        yield


@pytest.fixture(scope="module")
def real_pictures():
    """Draw each lift once: that it is drawn alike again is a matter of test_stills."""
    return cache(invented_class.small_stills)


@pytest.fixture(scope="module")
def drawn(less_alike):
    return draw(SECRET, "spring", SMALL, certify=False)


@pytest.fixture(scope="module")
def real(drawn, real_pictures, tmp_path_factory):
    """A packed form with its real pictures: package, key and register."""
    return drawn.pack(tmp_path_factory.mktemp("form"), real_pictures)


def test_a_seed_is_the_hmac_of_form_cell_and_number():
    # RFC 2104 by Python's own hmac, of the canonical JSON of the words.
    told = b'["spring","cue","3"]'
    digest = hmac.new(bytes(range(32)), told, hashlib.sha256).digest()
    assert SECRET.draw("spring", "cue", 3) == int.from_bytes(digest[:16], "big")


def test_the_same_secret_and_id_give_the_same_form_and_no_other(drawn):
    case.cache_clear()  # made anew, nothing kept
    again = draw(SECRET, "spring", SMALL, certify=False)
    assert again.key == drawn.key and again.form == drawn.form and again.seeds == drawn.seeds
    few = [one for one in SMALL if one.name in ("first_clean", "number", "choice_safety")]
    for other in (
        draw(SECRET, "autumn", few, certify=False),
        draw(Secret(bytes(32)), "spring", few, certify=False),
    ):
        assert not set(other.seeds.values()) & set(drawn.seeds.values())
        assert other.form.seal != drawn.form.seal and other.key.salt != drawn.key.salt
    assert len(bytes.fromhex(drawn.key.salt)) == 32


def test_the_key_is_what_the_items_say(drawn):
    for name, one in drawn.items.items():
        entry, made = drawn.key.entries[name], item(one.cell, drawn.seeds[name])
        assert made.id == one.id and entry.cell == one.cell and entry.kind == one.kind
        if one.kind == "first" and made.right != NOTHING:
            assert faults.fault(made.right).name == entry.answer
        elif one.kind in ("spot", "rank"):
            assert tuple(faults.fault(name).name for name in made.right) == entry.answer
        else:
            assert made.right == entry.answer
    drawn.form.check(drawn.key)


def test_no_list_of_faults_says_which_comes_first(drawn):
    lists = {one.kind: one.options for one in drawn.key.entries.values()}
    catalogue = [fault.name for fault in faults.catalogue().values()]
    assert lists["first"][-1] == NOTHING and sorted(lists["first"][:-1]) == sorted(catalogue)
    assert lists["first"][:-1] != tuple(catalogue)
    kinds = [one.kind for one in drawn.items.values()]
    assert kinds == sorted(kinds, key=list(dict.fromkeys(kinds)).index), "lifts of a kind together"


def test_clean_lifts_do_not_come_first_on_every_form():
    firsts = set()
    for n in range(6):  # as likely as not each time; stop once both were seen
        firsts.add(draw(SECRET, f"form{n}", SMALL[:2], certify=False).items["q01"].cell)
        if len(firsts) == 2:
            break
    assert firsts == {"first_clean", "first_knees_among"}


def test_two_forms_agree_in_every_cell(drawn):
    other = draw(SECRET, "autumn", SMALL, certify=False)
    rows = balance(drawn, other)
    assert {row.cell: row.counts for row in rows} == {c.name: (c.count, c.count) for c in SMALL}
    assert all(row.alike for row in rows), rows
    lifts = [row.margins for row in rows if row.margins[0] == row.margins[0]]
    assert len(lifts) == 5 and any(one != other for one, other in lifts)


def test_cells_that_differ_are_told_apart(monkeypatch):
    monkeypatch.setattr(build, "ALIKE", 0.05)
    assert not CellBalance("x", (2, 2), (0.5, 0.61)).alike
    assert not CellBalance("x", (2, 3), (0.5, 0.5)).alike
    assert not CellBalance("x", (2, 2), (0.5, float("nan"))).alike
    assert CellBalance("x", (2, 2), (float("nan"), float("nan"))).alike


def test_no_knowledge_item_and_no_kind_of_number_is_asked_twice(drawn):
    ids = [one.id for one in drawn.items.values() if one.kind == "choice"]
    units = [(one.unit, one.tolerance) for one in drawn.items.values() if one.kind == "number"]
    assert len(set(ids)) == 2 and len(set(units)) == 2


def test_a_margin_out_of_reach_is_refused(monkeypatch):
    wanted = replace(cell("first_knees_among"), count=1)
    monkeypatch.setattr(selection, "ALIKE", 1e-9)
    with pytest.raises(ValueError, match=r"cell first_knees_among: 3 items give no mean margin"):
        selection.choose(wanted, [11, 12, 13])


def test_an_item_that_was_passed_over_is_taken_when_another_fits_it(monkeypatch):
    """All sets are tried: to swap single items would end with 0.3 and 1.5, and make a fifth."""
    margins, clean = [0.3, 0.5, 2.5, 1.5, 9.0], item("first_clean", 1)
    monkeypatch.setattr(
        selection, "item", lambda cell, seed, bank: replace(clean, margin=margins[seed])
    )
    wanted = replace(cell("first_clean"), count=2, margin=1.0)
    taken = selection.choose(wanted, range(5))
    assert [one.margin for _, one in taken] == [0.5, 1.5]


def test_the_margins_of_the_blueprint_are_those_of_its_lifts(request):
    """What is left empty is worked out; what is stated is what would have been."""
    every = request.config.getoption("--long-fuzz")
    for one in [one for one in blueprint().values() if one.margin is not None]:
        if every or one.name == "spot_front":
            own = selection.wanted_margin(replace(one, margin=None))
            assert one.margin == pytest.approx(own, abs=0.05), one.name
            assert selection.wanted_margin(one) == one.margin != own
    lifts = [one for one in blueprint().values() if one.count and one.how.shows_lift]
    assert all(one.margin is not None for one in lifts), "each process would work it out"


def test_a_form_like_no_other_takes_the_first_lifts_and_certifies_nobody(monkeypatch):
    monkeypatch.setattr(selection, "ALIKE", 1e-9)
    made = draw(SECRET, "spring", SMALL[:1], certify=False, alike=False)
    assert [*made.seeds.values()] == [SECRET.draw("spring", SMALL[0].name, 0)]
    with pytest.raises(ValueError, match="form spring is to certify: it must be alike"):
        draw(SECRET, "spring", SMALL[:1], override="few", alike=False)


def test_too_few_lifts_certify_nobody_unless_it_is_recorded():
    with pytest.raises(ValueError, match=r"first fault of 3 lifts; to certify, ask 30 or more"):
        draw(SECRET, "spring", SMALL)
    with pytest.raises(ValueError, match="one in three coaches"):
        draw(SECRET, "spring", SMALL, override="  ")
    made = draw(SECRET, "spring", SMALL, override="pilot of the course")
    register = made.register(made.form)
    assert (register["override"], register["certifies"]) == ("pilot of the course", True)


def test_the_cut_and_the_minutes_follow_the_policy(drawn):
    # data/exam_policy.csv: 0.75 of 3 lifts is 2.25, so 3; 1.5 minutes for each of 10 items.
    assert drawn.form.cut == 3 and drawn.minutes == 15
    given = draw(SECRET, "spring", SMALL, cut=2, minutes=20, certify=False)
    assert given.form.cut == 2 and given.minutes == 20


def test_a_share_that_is_a_whole_number_of_lifts_is_this_cut():
    """0.56 of 25 lifts is 14; in binary numbers it is a little more."""
    cells = [replace(cell("first_clean"), count=25)]
    policy = replace(shipped_policy(), cut=0.56)
    made = draw(SECRET, "spring", cells, certify=False, alike=False, policy=policy)
    assert made.form.cut == 14


def test_no_form_asks_for_more_right_lifts_than_it_has():
    cells = [replace(cell(name), count=2) for name in ("first_clean", "choice_safety")]
    with pytest.raises(ValueError, match="the cut is 3; it must lie between 0 and 2"):
        draw(SECRET, "spring", cells, cut=3, certify=False, alike=False)


def test_the_seal_covers_key_cut_minutes_questions_pictures_and_words(tmp_path):
    """Each of them changed alone is another seal, and is named when it is checked."""

    def packed(name, cut=3, minutes=15, render=no_pictures):
        made = draw(SECRET, "spring", SMALL, cut, minutes, certify=False)
        return made.pack(tmp_path / name, render)

    first = packed("a")
    assert packed("b", 3.0, 15.0).form == first.form, "3 and 3.0 are one cut"
    others = (packed("c", cut=2), packed("d", minutes=20), packed("e", render=other_pictures))
    assert len({one.form.seal for one in (first, *others)}) == 4
    package = Package.read(first.package)
    package.check(first.key)
    with pytest.raises(ValueError, match="its cut is 2 and was sealed as 3; use the form's file"):
        replace(first.form, cut=2.0).check(first.key)
    with pytest.raises(ValueError, match="its time was changed since it was sealed with 15 min"):
        replace(first.form, minutes=60.0).check(first.key)
    for other in others:
        with pytest.raises(ValueError, match="not the one the form was sealed with"):
            Package.read(other.package).check(first.key)

    def altered(content: bytes, **change) -> bytes:
        body = files.unwrapped(content, "questions.json", "exam package")
        body["questions"][0] |= change
        return files.wrapped("exam package", body).encode()

    for change in ({"text": "Another?"}, {"unit": "kg"}, {"options": ["a", "nothing"]}):
        shutil.copy(first.package, tmp_path / "x.zip")
        put(tmp_path / "x.zip", "questions.json", partial(altered, **change))
        with pytest.raises(ValueError, match="what item q01 shows was changed since it was seale"):
            Package.read(tmp_path / "x.zip").check(first.key)
    shutil.copy(first.package, tmp_path / "x.zip")
    put(tmp_path / "x.zip", "clips/01/01.webp", lambda content: content + b"x")
    with pytest.raises(ValueError, match="what item q01 shows was changed"):
        Package.read(tmp_path / "x.zip").check(first.key)
    register = json.loads(first.register.read_text(encoding="utf-8"))
    assert (register["cut"], register["minutes"], register["certifies"]) == (3, 15, False)


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (b"\1", "it has 1 bytes, and the tool draws 32"),
        (bytes(32), "its bytes are too much alike"),
        (b"ab" * 16, "its bytes are too much alike"),
        (of_demo(1).value, "it is that of a demo or a trial"),
        (of_demo(9_999).value, "it is that of a demo or a trial"),
    ],
)
def test_a_secret_that_others_may_know_certifies_nobody(tmp_path, value, words):
    assert words in Secret(value).weakness
    made = draw(Secret(value), "spring", SMALL[:1], override="a trial")
    with pytest.raises(ValueError, match=f"is to certify, and its secret is none: {words}"):
        made.pack(tmp_path, no_pictures)
    assert not list(tmp_path.iterdir())


def test_drawn_secrets_are_not_called_weak(tmp_path):
    for n in range(50):
        assert Secret.make(tmp_path / f"{n}.json").weakness == ""


def test_printing_a_form_shows_no_answer(drawn):
    assert repr(drawn) == (
        "form spring: 10 items (3 first, 1 spot, 1 cue, 2 number, 1 rank, 2 choice), 15 minutes, "
        "3 of 3 lifts to pass"
    )


def test_a_certifying_form_asks_nothing_that_everybody_has(tmp_path):
    drawn = draw(SECRET, "spring", SMALL, override="few")
    assert len(drawn.known_questions) == 3, "a cue, two of knowledge"
    open_ = replace(drawn, override="")
    with pytest.raises(ValueError, match="everybody who has squatlab has the answers to q"):
        open_.pack(tmp_path, no_pictures)
    bank = Bank.read(invented_class.own_bank(tmp_path / "own"))
    assert not build.bank_lacks(bank, blueprint().values())
    mine = replace(draw(SECRET, "spring", SMALL, override="few", bank=bank), override="")
    assert mine.known_questions == () and mine.weakness == ""
    for name, one in mine.items.items():
        options = mine.key.entries[name].options
        asks = {"choice": "answer ", "cue": "Do "}.get(one.kind)
        assert asks is None or all(option.startswith(asks) for option in options)
    made = mine.pack(tmp_path / "forms", no_pictures)
    told = files.load(made.register, "exam register")
    assert told["bank"] == {"whose": "the certifier's own", "fingerprint": bank.fingerprint}
    lifts = [name for name, one in mine.items.items() if one.how.certifies]
    assert [mine.seeds[n] for n in lifts] == [drawn.seeds[n] for n in lifts], "the same lifts"


def test_a_bank_is_refused_for_what_it_lacks_or_copies(tmp_path):
    bank = Bank.read(invented_class.own_bank(tmp_path))
    fewer = replace(bank, items=tuple(one for one in bank.items if one.cell != "safety"))
    with pytest.raises(ValueError, match="cell choice_safety: an item about safety"):
        draw(SECRET, "spring", SMALL, certify=False, bank=fewer)
    one_cue = replace(bank, cues=tuple(cue for cue in bank.cues if cue.accepted))
    with pytest.raises(ValueError, match="cell cue: a cue that fits and one that does not for"):
        draw(SECRET, "spring", SMALL, certify=False, bank=one_cue)
    copied = replace(bank, items=(*bank.items, item_bank.item("k001")))
    assert bank.known() == () and copied.known() == ("k001",)
    (tmp_path / "items.csv").write_text((tmp_path / "items.csv").read_text() + "a,1,b" + 12 * ",c")
    with pytest.raises(ValueError, match=r"items\.csv, row 24: more cells than columns"):
        Bank.read(tmp_path)
    with pytest.raises(FileNotFoundError, match="neither items.csv nor cues.csv; start them"):
        Bank.read(tmp_path / "none")


def test_a_secret_is_for_its_owner(tmp_path):
    path = tmp_path / "secret.json"
    before = os.umask(0)
    try:
        made = Secret.make(path)
    finally:
        os.umask(before)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert Secret.read(path).value == made.value and len(made.value) == 32
    assert made.value.hex() not in repr(made)
    with pytest.raises(FileExistsError, match="forms may have been made from it"):
        Secret.make(path)
    path.chmod(0o640)
    with pytest.raises(ValueError, match="can be read by others"):
        Secret.read(path)


def test_key_and_register_are_for_their_owner(real, drawn):
    key, register = real.key_file, real.register
    assert [stat.S_IMODE(path.stat().st_mode) for path in (key, register)] == [0o600, 0o600]
    assert FormKey.read(key) == real.key and real.key.entries == drawn.key.entries
    told = json.loads(register.read_text(encoding="utf-8"))
    assert told["items"]["q01"]["review"] == "answer key not yet checked by coaches"
    for name, one in told["items"].items():
        assert item(one["cell"], one["seed"]).id == one["item"], name
        assert one["why"] and one["source"] and one["author"] and one["version"]


def chunks(webp: bytes) -> dict[bytes, bytes]:
    """Return every chunk of a WebP picture (RFC 9649); pixels are pixels."""
    found, place = {}, 12
    while place < len(webp):
        kind, length = struct.unpack("<4sI", webp[place : place + 8])
        body = webp[place + 8 : place + 8 + length]
        found[kind] = b"" if kind in (b"VP8L", b"VP8 ") else body
        place += 8 + length + length % 2  # chunks begin at even places
    return found


def leaks(path, drawn) -> list[str]:
    """Return every telling thing in a package: text, names, times, metadata."""
    words = {
        *faults.catalogue(),
        "key",
        "seed",
        "answer",
        "margin",
        "severity",
        "injected",
        "gross",
        "slight",
        "review",
        drawn.key.salt,
        SECRET.value.hex(),
    }
    for name, seed in drawn.seeds.items():
        one = item(drawn.items[name].cell, seed)
        words |= {str(seed), f"{seed:x}", one.id, one.cell} - {*KINDS}
        if one.case:
            words |= {f"{severity:.3f}" for severity in one.case.injected.values()}
            words |= {f"{f.value:.3f}" for f in one.case.findings.present()}
        if one.kind == "number":
            words.add(f"{one.right:.3f}")
    found = []
    with zipfile.ZipFile(path) as file:
        found += [f"comment {file.comment}"] if file.comment else []
        for entry in file.infolist():
            content = file.read(entry)
            for name in asdict(shipped_policy()):  # the same on all forms
                content = content.replace(f'"{name}"'.encode(), b"")
            if not re.fullmatch(r"questions\.json|clips/\d\d/\d\d\.webp", entry.filename):
                found.append(f"name {entry.filename}")
            if entry.date_time != (1980, 1, 1, 0, 0, 0) or entry.comment or entry.extra:
                found.append(f"time or comment of {entry.filename}")
            parts = {b"": content}
            if entry.filename.endswith(".webp"):
                parts = chunks(content)
                found += [f"chunk {k}" for k in parts.keys() - {b"VP8L", b"VP8 "}]
            for part in parts.values():
                found += [w for w in words if re.search(rf"(?<![\w.]){w}".encode(), part, re.I)]
    return found


def test_the_package_gives_nothing_away(real, drawn):
    assert leaks(real.package, drawn) == []


@pytest.mark.parametrize("told", ["knee_valgus", "the key", "seed"])
def test_a_leak_would_be_found(real, drawn, tmp_path, told):
    picture = io.BytesIO()
    Image.new("RGB", (2, 2)).save(picture, "webp", lossless=True, xmp=told.encode())
    path = tmp_path / "leaky.zip"
    path.write_bytes(real.package.read_bytes())
    with zipfile.ZipFile(path, "a") as file:
        file.writestr(zipfile.ZipInfo("clips/99/01.webp"), picture.getvalue())
        file.writestr(zipfile.ZipInfo(f"{told}.txt"), "")
        file.comment = told.encode()
    found = leaks(path, drawn)
    assert told.split()[-1] in found and "chunk b'XMP '" in found
    assert f"name {told}.txt" in found and f"comment {told.encode()}" in found


def test_a_package_has_every_question_as_it_is_put(real, drawn, real_pictures):
    package = Package.read(real.package)
    package.check(real.key)
    assert package.form == real.form and package.minutes == drawn.minutes
    for name, question in package.questions.items():
        made = item(drawn.cells[name], drawn.seeds[name])
        assert question.text == made.prompt and question.unit == made.unit
        assert question.options == drawn.key.entries[name].options
        clip = package.clip(name)
        if made.case is None:
            assert clip is None and question.account is None
        else:
            drawn_again = real_pictures(made.case, drawn.camera_seed)
            assert clip == drawn_again, "the pictures of this very lift"
            assert question.account is None


def test_only_who_cannot_watch_gets_the_lifts_in_words_and_it_is_the_same_form(
    real, drawn, real_pictures, tmp_path
):
    with zipfile.ZipFile(real.package) as file:
        told = json.loads(file.read("questions.json"))["questions"]
    assert len(told) == 10 and [one["account"] for one in told] == [None] * 10
    again = draw(SECRET, "spring", SMALL, certify=False)
    apart = again.pack(tmp_path, real_pictures, texts=True)
    package, plain = Package.read(apart.package), Package.read(real.package)
    assert package.form == plain.form and apart.key == real.key, "one seal, with the words and not"
    package.check(real.key)
    lifts = [name for name in drawn.items if drawn.items[name].kind not in ("number", "choice")]
    for name, question in package.questions.items():
        assert (question.account is not None) == (name in lifts)
        assert replace(question, account=None, clip=None) == replace(
            plain.questions[name], clip=None
        )
    case = item(drawn.items["q01"].cell, drawn.seeds["q01"]).case
    assert package.questions["q01"].account == account(case)
    assert not re.search(r"\d", repr(account(case)))
    right = {name: invented_class.answer(one, True) for name, one in drawn.key.entries.items()}
    sheet = Sheet("spring", package.form.seal, "C1", right, "2026-05-01T10:00:00Z")
    marks = [mark(one.form, real.key, [sheet]).marks.tolist() for one in (package, plain)]
    assert marks[0] == marks[1] == [[1.0] * 10]


def test_two_workers_make_the_same_bytes_and_tell_how_far_they_are(drawn, tmp_path):
    told = []
    alone = drawn.pack(tmp_path / "one", no_pictures)
    with ProcessPoolExecutor(2) as pool:
        again = draw(SECRET, "spring", SMALL, certify=False, executor=pool)
        paths = again.pack(tmp_path / "two", no_pictures, pool, lambda n, of: told.append((n, of)))
    for one, other in zip(paths[2:], alone[2:], strict=True):
        assert one.read_bytes() == other.read_bytes()
    assert told == [(n, 10) for n in range(1, 11)]


@pytest.mark.skipif(os.name != "posix", reason="a full disk and modes of POSIX")
def test_what_a_full_disk_cuts_off_can_be_packed_again_by_its_name(drawn, tmp_path, monkeypatch):
    real, written = storage._write_and_flush, []

    def full(path, content, mode):
        written.append(oct(mode))
        if len(written) == 3:
            raise OSError(errno.ENOSPC, "No space left on device")
        real(path, content, mode)

    monkeypatch.setattr(storage, "_write_and_flush", full)
    with pytest.raises(OSError, match="register.json was not written .No space left"):
        drawn.pack(tmp_path, no_pictures)
    assert os.listdir(tmp_path) == [], "a package without its key, or a key alone, is of no use"
    drawn.pack(tmp_path, no_pictures)
    assert written[3:] == ["0o644", "0o600", "0o600"], "candidates read the package alone"


def put(path, name: str, change) -> None:
    """Change one file inside a package, as a program that knows zip files would."""
    with zipfile.ZipFile(path) as file:
        kept = {entry.filename: file.read(entry) for entry in file.infolist()}
    kept[name] = change(kept[name])
    with zipfile.ZipFile(path, "w") as file:
        for other, content in kept.items():
            file.writestr(other, content)


@pytest.mark.parametrize(
    ("hurt", "words"),
    [
        (lambda path: path.write_bytes(b"not a zip"), "is no squatlab exam package, or is damaged"),
        (lambda path: path.write_bytes(path.read_bytes()[:900]), "or is damaged"),
        (
            lambda path: path.write_bytes(path.read_bytes().replace(PICTURE, PICTURE[::-1], 1)),
            "copy it again",
        ),
        (
            lambda path: put(path, "questions.json", lambda raw: raw.replace(b":15.0,", b":99.0,")),
            "its checksum does not fit",
        ),
    ],
)
def test_a_damaged_package_is_named(drawn, tmp_path, hurt, words):
    path = drawn.pack(tmp_path, no_pictures).package
    assert Package.read(path).clip("q01").sheets == (PICTURE,)
    hurt(path)
    with pytest.raises(ValueError, match=rf"spring\.zip.*{words}"):
        Package.read(path).clip("q01")


def test_another_zip_is_no_package(tmp_path):
    with zipfile.ZipFile(tmp_path / "holiday.zip", "w") as file:
        file.writestr("questions.json", "{}")
    with pytest.raises(ValueError, match=r"questions\.json|holiday\.zip"):
        Package.read(tmp_path / "holiday.zip")
    with zipfile.ZipFile(tmp_path / "other.zip", "w") as file:
        file.writestr("readme.txt", "")
    with pytest.raises(ValueError, match=r"other\.zip is no squatlab exam package"):
        Package.read(tmp_path / "other.zip")


def test_every_file_in_a_package_says_it_was_made_on_the_first_day_a_zip_knows(tmp_path):
    """By the zip format times begin with 1980; the system is Unix, which is number 3 there."""
    form, key = invented_class.form_and_key()
    invented_class.pack(tmp_path / "spring.zip", form, key)
    with zipfile.ZipFile(tmp_path / "spring.zip") as file:
        made = {(entry.date_time, entry.create_system) for entry in file.infolist()}
    assert made == {((1980, 1, 1, 0, 0, 0), 3)}
