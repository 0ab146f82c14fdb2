"""Files of one entry a line: nobody else's is touched, and of ours nothing is lost."""

from __future__ import annotations

import os

import pytest

from squatlab.questions import line_files

HEAD = {"what": "squatlab test", "version": 1, "candidate": "C1"}
ENTRIES = [{"number": number, "at": f"12:0{number}"} for number in range(3)]


@pytest.fixture
def kept(tmp_path):
    path = tmp_path / "kept.jsonl"
    line_files.begin(path, HEAD)
    for entry in ENTRIES:
        line_files.append(path, entry)
    return path


@pytest.mark.parametrize(
    "theirs",
    [
        b"Dear diary\n",
        b"no end of line",
        b"\x00\x01\xff binary \n\n",
        b"{}\n",
        b"[]\n",
        b"\n\n",
        b"\xff\xfe[\x00",
        b'[{"what":"squatlab practice"},"0123456789abcdef"]\n',
        b"   ",
        b"1\r2\r3\r",
        b"PK\x03\x04" + bytes(50),
    ],
)
def test_another_file_is_left_as_it_is(tmp_path, theirs):
    path = tmp_path / "theirs"
    path.write_bytes(theirs)
    with pytest.raises(line_files.AnotherFile, match="theirs was started as something else"):
        line_files.begin(path, HEAD)
    assert path.read_bytes() == theirs and os.listdir(tmp_path) == ["theirs"]


def test_what_another_candidate_began_is_left_as_it_is(kept):
    before = kept.read_bytes()
    for other in ({"candidate": "C2"}, {"version": 2}, {"what": "squatlab exam"}):
        with pytest.raises(line_files.AnotherFile):
            line_files.begin(kept, HEAD | other)
    assert kept.read_bytes() == before


@pytest.mark.parametrize("end", [b"\r\n", b"\r"])
def test_line_ends_of_another_editor_do_no_harm(kept, end):
    kept.write_bytes(kept.read_bytes().replace(b"\n", end))
    assert line_files.begin(kept, HEAD) == (ENTRIES, None)
    line_files.append(kept, {"number": 3})
    assert line_files.begin(kept, HEAD) == ([*ENTRIES, {"number": 3}], None)


def test_one_changed_byte_anywhere_loses_one_line_at_most_and_never_the_file(kept):
    whole = kept.read_bytes()
    for at in range(len(whole)):
        for byte in (whole[at] ^ 1, 0, 10, 13):
            damaged = whole[:at] + bytes([byte]) + whole[at + 1 :]
            kept.write_bytes(damaged)
            try:
                entries, aside = line_files.begin(kept, HEAD)
            except line_files.AnotherFile:
                assert kept.read_bytes() == damaged  # then nothing was touched
                assert at < whole.index(b"\n") + 1
                continue
            found = [entry for entry in entries if entry is not None]
            glued = whole[at] == 10  # two lines become one
            assert len(found) >= len(ENTRIES) - 1 - glued
            assert all(entry in ENTRIES for entry in found)
            if aside:
                assert aside.read_bytes() == damaged
                assert line_files.begin(kept, HEAD) == (found, None)
                aside.unlink()


def test_a_head_that_was_damaged_costs_no_answer(kept):
    whole = kept.read_bytes()
    kept.write_bytes(whole.replace(b'"C1"', b'"C7"', 1))
    entries, aside = line_files.begin(kept, HEAD)
    assert entries == ENTRIES and aside.name == "kept.damaged-1.jsonl"
    assert line_files.begin(kept, HEAD) == (ENTRIES, None)
    kept.write_bytes(bytes(200))  # as a crash may leave a file: all NULs
    entries, second = line_files.begin(kept, HEAD)
    assert entries == [] and second.name == "kept.damaged-2.jsonl"
    assert second.read_bytes() == bytes(200) and b'"C7"' in aside.read_bytes()


def test_nuls_at_the_end_are_cut_off(kept):
    kept.write_bytes(kept.read_bytes() + bytes(64))
    assert line_files.begin(kept, HEAD) == (ENTRIES, None)
    line_files.append(kept, {"number": 3})
    assert line_files.begin(kept, HEAD).entries == [*ENTRIES, {"number": 3}]


def test_a_pipe_or_folder_is_no_file(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(OSError, match="is a pipe or a device"):
        line_files.begin(tmp_path / "pipe", HEAD)
    with pytest.raises(OSError, match="is a folder"):
        line_files.begin(tmp_path, HEAD)
