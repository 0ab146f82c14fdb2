"""Files as a vandal hands them in: thousands of mutations, and nothing stops the others.

A mutated hand-in, package or key is refused by name in one printable line, or it
still says what it said. Nothing else may happen: no other error, no other mark.
"""

from __future__ import annotations

import json
import random
import zipfile
from dataclasses import replace
from datetime import timedelta

import pytest

from squatlab.exam.answers import Sheet
from squatlab.exam.forms import FormKey
from squatlab.exam.package import Package
from squatlab.exam.records import hand_ins
from squatlab.questions import files
from squatlab.questions.kinds import NOTHING
from tests.exam.test_hand_ins import OPENED

HOSTILE = (
    10**400,
    -(10**400),
    1e308,
    True,
    None,
    [],
    {},
    "",
    "\x1b[31mred",
    "a\nb",
    "\u202e",
    "x" * 5000,
    "0001-01-01T00:00:00+14:00",
    "9999-12-31T23:59:59-12:00",
    "2026-05-01T09:10:00",
    "../../etc",
    [None],
    ["a", 1],
    {"a": {"b": {}}},
    -0.0,
    2**63,
    "\ud800",
)
"""Values that a program may choke on."""


def in_json(whole: dict, draw: random.Random) -> dict:
    """Return a body with one value anywhere in it replaced by a hostile one."""
    whole = json.loads(json.dumps(whole))
    place, steps = whole, 0
    while True:
        keys = list(place) if isinstance(place, dict) else list(range(len(place)))
        if not keys:
            return whole
        key = draw.choice(keys)
        deeper = place[key]
        steps += 1
        if isinstance(deeper, dict | list) and deeper and draw.random() < 0.7:
            place = deeper
            continue
        place[key] = draw.choice(HOSTILE)
        return whole


def in_bytes(raw: bytes, draw: random.Random) -> bytes:
    """Return the bytes cut, doubled, flipped or filled somewhere."""
    at, to = sorted(draw.randrange(len(raw) + 1) for _ in range(2))
    kind = draw.randrange(5)
    if kind == 0:
        return raw[:at]
    if kind == 1:
        return raw[:at] + raw[to:]
    if kind == 2:
        return raw[:to] + raw[at:]
    if kind == 3:
        return raw[:at] + bytes(draw.randrange(256) for _ in range(8)) + raw[at + 8 :]
    flipped = bytearray(raw)
    for _ in range(draw.randrange(1, 9)):
        flipped[draw.randrange(len(raw))] ^= 1 << draw.randrange(8)
    return bytes(flipped)


def sealed_again(what: str, body: dict) -> bytes:
    """Return a file with a checksum that fits: the checksum is no secret."""
    whole = {"what": f"squatlab {what}", "version": files.VERSION, **body}
    try:
        text = files.canonical(whole | {"checksum": files.fingerprint(whole)})
        return text.encode()
    except (ValueError, UnicodeEncodeError):  # what no checksum can be made of
        return json.dumps(whole).encode()


def attempted(work):
    """Return what it gives and "", or None and the words of its refusal; no other error."""
    try:
        return work(), ""
    except (ValueError, OSError) as problem:
        return None, str(problem)


def checked(path, key: FormKey) -> Package:
    """Read a package whole, and hold it against its key."""
    package = Package.read(path)
    for item in package.questions:
        package.clip(item)
    package.check(key)
    return package


def fitting(path, package: Package) -> FormKey:
    """Read a key, and hold a package against it."""
    key = FormKey.read(path)
    package.check(key)
    return key


def refused_by_name(words: str, name: str) -> bool:
    """Tell whether a refusal is one printable line of bounded length that names the file."""
    return name in words and words.isprintable() and len(words) < 700


def test_mutated_hand_ins_are_refused_and_the_others_marked(room, mutations):
    draw = random.Random(1)
    code = {who: room.open(who) for who in ("C1", "C2")}
    good, victim = (room.sheet(who, code[who]) for who in ("C1", "C2"))
    room.hand_in(good)
    raw = room.hand_in(victim, "base.json").read_bytes()
    (room.folder / "in" / "base.json").unlink()
    body = {
        key: value
        for key, value in json.loads(raw).items()
        if key not in ("what", "version", "checksum")
    }
    refused, unchanged = 0, 0
    path = room.folder / "m.json"
    for _ in range(mutations):
        if draw.random() < 0.5:
            path.write_bytes(in_bytes(raw, draw))
        else:
            path.write_bytes(sealed_again("exam answers", in_json(body, draw)))
        sheet, words = attempted(lambda: Sheet.read(path))
        if words:
            assert refused_by_name(words, "m.json"), repr(words)[:300]
            refused += 1
            continue
        # It reads: then it is what the code made, or the code does not prove it.
        same = sheet == victim
        assert sheet.proves(code["C2"]) == same, path.read_bytes()[:300]
        unchanged += same
    assert refused > 0.5 * mutations and unchanged < 0.5 * mutations
    # A folder of hostile files beside a good one: the good one is marked, each other refused.
    for n in range(60):
        bad = in_bytes(raw, draw) if n % 2 else sealed_again("exam answers", in_json(body, draw))
        (room.folder / "in" / f"hostile-{n}.json").write_bytes(bad)
    stand, refusals = room.receive()
    assert stand["C1"].answers == good.answers and set(stand) <= {"C1", "C2"}
    assert len(refusals) >= 50
    assert all(refused_by_name(words, name) for name, words in refusals.items())
    assert room.records.verify() == () and len(hand_ins(room.records)) >= 51


def test_mutated_packages_are_refused_or_unchanged(room, mutations):
    draw = random.Random(2)
    raw = (room.folder / "spring.zip").read_bytes()
    path, refused = room.folder / "m.zip", 0
    with zipfile.ZipFile(room.folder / "spring.zip") as file:
        told = file.read("questions.json")
    body = {
        key: value
        for key, value in json.loads(told).items()
        if key not in ("what", "version", "checksum")
    }
    for n in range(mutations):
        if n % 2:
            path.write_bytes(in_bytes(raw, draw))
        else:
            with zipfile.ZipFile(path, "w") as file:
                changed = sealed_again("exam package", in_json(body, draw))
                file.writestr("questions.json", changed)
        package, words = attempted(lambda: checked(path, room.key))
        if words:
            assert words.isprintable() and len(words) < 700, repr(words)[:300]
            assert "m.zip" in words or "form spring" in words or "this is the key of" in words
            refused += 1
            continue
        original = room.package.questions
        assert package.form == room.form and package.questions == original
    assert refused > 0.6 * mutations


def test_mutated_keys_are_refused_or_unchanged(room, mutations):
    draw = random.Random(3)
    path = room.folder / "m.key.json"
    raw = room.key.write(path).read_bytes()
    body = {
        key: value
        for key, value in json.loads(raw).items()
        if key not in ("what", "version", "checksum")
    }
    for n in range(mutations):
        path.unlink()
        changed = in_bytes(raw, draw) if n % 2 else sealed_again("exam key", in_json(body, draw))
        path.write_bytes(changed)
        key, words = attempted(lambda: fitting(path, room.package))
        assert words.isprintable() and len(words) < 700, repr(words)[:300]
        assert words or key == room.key


# One by one, what has stopped a marking before.


@pytest.mark.parametrize("value", [10**400, -(10**400), 1e300, 2**63])
def test_a_number_that_no_answer_is_stops_nobody(room, value):
    code = room.open("C1")
    room.hand_in(room.sheet("C1", code))
    body = {
        "form": "spring",
        "seal": room.form.seal,
        "candidate": "C9",
        "began": "",
        "proof": "",
        "answers": {"number-0": value},
        "handed_in": "2026-05-01T10:00:00Z",
    }
    (room.folder / "in" / "big.json").write_bytes(sealed_again("exam answers", body))
    stand, refused = room.receive()
    assert list(stand) == ["C1"] and "big.json" in refused["big.json"]


@pytest.mark.parametrize("year", ["0001", "1969", "2200", "9999"])
def test_a_year_that_no_clock_shows_stops_nobody(room, year):
    code = room.open("C1")
    room.hand_in(room.sheet("C1", code))
    body = {
        "form": "spring",
        "seal": room.form.seal,
        "candidate": "C9",
        "answers": {},
        "handed_in": f"{year}-01-01T00:00:00Z",
        "began": "",
        "proof": "",
    }
    (room.folder / "in" / "odd.json").write_bytes(sealed_again("exam answers", body))
    stand, refused = room.receive(OPENED + timedelta(minutes=75))
    assert list(stand) == ["C1"] and "is no time of handing in" in refused["odd.json"]


def test_a_bomb_an_encrypted_file_and_a_way_out_are_refused(room):
    """A zip of 40 MB of nothing, one with a password's bit, one that names other folders."""

    def made(name: str, content: bytes, filename: str = "questions.json", encrypted: bool = False):
        path = room.folder / name
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as file:
            file.writestr(filename, content)
        if encrypted:
            raw = bytearray(path.read_bytes())
            for sign, at in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
                raw[raw.index(sign) + at] |= 1
            path.write_bytes(bytes(raw))
        return path

    bomb = made("bomb.zip", b"0" * 40_000_000)
    assert bomb.stat().st_size < 100_000
    words = {
        "bomb.zip": "would grow to 40000000 bytes",
        "locked.zip": "it is encrypted",
        "out.zip": "has no place in it",
        "slip.zip": "has no place in it",
    }
    made("locked.zip", b"{}", encrypted=True)
    made("out.zip", b"", "../../out.png")
    made("slip.zip", b"", "clips/../../01.png")
    for name, told in words.items():
        with pytest.raises(ValueError, match=rf"{name} is no squatlab exam package.*{told}"):
            Package.read(room.folder / name)
    # A picture that says it is small and grows: the size in the directory is what is read.
    lying = made("lying.zip", b"0" * 5_000_000, "clips/01/01.png")
    raw = bytearray(lying.read_bytes())
    at = raw.index(b"PK\x01\x02")
    raw[at + 24 : at + 28] = (10).to_bytes(4, "little")
    lying.write_bytes(bytes(raw))
    with pytest.raises(ValueError, match="lying.zip is no squatlab exam package"):
        Package.read(lying)


def test_a_pipe_and_a_link_to_nowhere_are_no_hand_ins(room):
    """What blocks a reader for ever is not read."""
    import os

    code = room.open("C1")
    room.hand_in(room.sheet("C1", code))
    os.mkfifo(room.folder / "in" / "pipe.json")
    (room.folder / "in" / "lost.json").symlink_to(room.folder / "nowhere")
    stand, refused = room.receive()
    assert list(stand) == ["C1"] and set(refused) == {"pipe.json", "lost.json"}


def test_what_is_refused_echoes_no_hostile_sign(room):
    code = room.open("C1")
    hostile = "\x1b]0;owned\x07\n\u202e" + "A" * 3000
    good = room.sheet("C1", code)
    for n, change in enumerate(
        (
            {"answers": {hostile: NOTHING}},
            {"answers": {"number-0": hostile}},
            {"answers": {"first-00": [hostile]}},
            {"seal": hostile},
        )
    ):
        room.hand_in(replace(good, **change).proven(code), f"{n}.json")
    for n, body in enumerate(({"candidate": hostile}, {"form": hostile}, {hostile: 1})):
        whole = {
            "form": "spring",
            "seal": "",
            "candidate": "C1",
            "answers": {},
            "handed_in": "2026-05-01T10:00:00Z",
        } | body
        (room.folder / "in" / f"w{n}.json").write_bytes(sealed_again("exam answers", whole))
    _, refused = room.receive()
    assert len(refused) >= 6
    for name, words in refused.items():
        assert refused_by_name(words, name), words[:200]
    assert all((one.why + one.file).isprintable() for one in hand_ins(room.records))
