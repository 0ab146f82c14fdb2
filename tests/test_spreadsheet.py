"""Typed files: every way a spreadsheet saves them, and what is wrong by row."""

from __future__ import annotations

from pathlib import Path

import pytest

from squatlab.spreadsheet import REST, read_rows


def typed(folder: Path, text: str, encoding: str = "utf-8") -> Path:
    path = folder / "typed.csv"
    path.write_bytes(text.encode(encoding))
    return path


@pytest.mark.parametrize("mark", [",", ";", "\t"])
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_separators_and_line_ends_of_every_office(tmp_path, mark, end):
    text = end.join(["Name ,My Note", "Ash, tall ", "", "Bay"]).replace(",", mark) + end
    rows = read_rows(typed(tmp_path, text, "utf-8-sig"), ["name"], ["my_note"])
    assert rows == [(2, {"name": "Ash", "my_note": "tall"}), (4, {"name": "Bay", "my_note": ""})]


def test_quoted_cells_and_what_stands_beyond_the_heading(tmp_path):
    path = typed(tmp_path, 'name,note\nAsh,"a, b\nc"\nBay,d,e,f\n')
    rows = read_rows(path, ["name"], ["note"])
    assert rows[0] == (2, {"name": "Ash", "note": "a, b\nc"})
    assert rows[1] == (3, {"name": "Bay", "note": "d", REST: "e,f"})


def test_empty_columns_after_the_last_are_nothing(tmp_path):
    """A spreadsheet writes them where something was deleted."""
    path = typed(tmp_path, "name;note;;\nAsh;tall;;\n;;;\nBay;;;;\n;;;;x\n")
    assert read_rows(path, ["name"], ["note"]) == [
        (2, {"name": "Ash", "note": "tall"}),
        (4, {"name": "Bay", "note": ""}),
        (5, {"name": "", "note": "", REST: ";;x"}),
    ]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "typed.csv has no heading; the first row names the columns"),
        ("nmae,note", 'the column “nmae” is not known; did you mean "name"? There may be name,'),
        ("note", "typed.csv has no column “name”; needed are name"),
        ("name,Name", "typed.csv has the column “name” twice; delete one"),
    ],
)
def test_a_heading_that_cannot_be_used(tmp_path, text, words):
    with pytest.raises(ValueError) as caught:
        read_rows(typed(tmp_path, text), ["name"], ["note"])
    assert words in str(caught.value)


def test_another_encoding_is_named(tmp_path):
    with pytest.raises(ValueError, match="not UTF-8 text; save the sheet as “CSV UTF-8”"):
        read_rows(typed(tmp_path, "name\nZoë", "latin-1"), ["name"])
