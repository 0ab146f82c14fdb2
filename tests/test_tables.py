"""The tables: complete, sourced, unique, and what they refuse."""

from __future__ import annotations

import csv
import re
from collections import Counter
from pathlib import Path

import pytest

from squatlab import tables

NAMES = sorted(path.stem for path in tables.folder("data").glob("*.csv") if path.stem != "sources")
KEYS = {  # the columns that together name a row
    "segments": ("table", "segment"),
    "lengths": ("table", "quantity"),
    "population": ("population", "quantity", "other", "statistic"),
    "bar_positions": ("name", "quantity"),
    "limits": ("name", "quantity"),
    "norms": ("quantity", "group"),
    "habits": ("quantity", "who"),
}
# A norm may be a published mean alone; a habit need not be one that becomes a fault.
MAY_BE_EMPTY = {"note", "other", "lower", "upper", "repetitions", "fault"}


@pytest.fixture
def data(tmp_path, monkeypatch):
    """Give a data folder of its own, read afresh, and put the real one back."""
    (tmp_path / "sources.csv").write_text(
        "key,citation,kind,note\nbook2001,A Book (2001),publication,\n", encoding="utf-8"
    )
    monkeypatch.setattr(tables, "folder", lambda name: tmp_path)
    cached = (tables.read, tables.sources, tables.value)
    for function in cached:
        function.cache_clear()
    yield tmp_path
    for function in cached:
        function.cache_clear()


def write(folder: Path, name: str, *lines: str) -> None:
    (folder / f"{name}.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")


@pytest.mark.parametrize("name", NAMES)
def test_every_table_names_a_source_in_every_row(name):
    rows = tables.read(name)
    assert rows
    assert all(row["source"] in tables.sources() for row in rows)


@pytest.mark.parametrize("name", KEYS)
def test_a_row_is_named_once(name):
    ids = Counter(tuple(row[key] for key in KEYS[name]) for row in tables.read(name))
    assert [key for key, count in ids.items() if count > 1] == []


@pytest.mark.parametrize("name", KEYS)
def test_rows_are_complete(name):
    empty = [
        (row, column)
        for row in tables.read(name)
        for column, cell in row.items()
        if not cell and column not in MAY_BE_EMPTY
    ]
    if name == "segments":  # Winter (2009) table 4.1 has a dash there
        ((row, column),) = empty
        assert (row["table"], row["segment"], column) == ("winter2009", "pelvis", "gyration")
    else:
        assert empty == []


@pytest.mark.parametrize("name", ["bar_positions", "lengths", "limits", "population"])
def test_values_are_numbers_with_a_unit(name):
    for row in tables.read(name):
        assert abs(float(row["value"])) < 1e4
        assert row["unit"]


def test_sources_have_citation_and_kind():
    path = tables.folder("data") / "sources.csv"
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["key"] for row in rows] == list(tables.sources())
    for row in rows:
        key = r"[a-z]+(\d{4}[a-z]?|\d{1,2})?|common-practice|teaching-value"
        assert re.fullmatch(key, row["key"])
        assert row["kind"] in tables.KINDS
        if row["kind"] == "publication":
            assert re.search(r"\(\d{4}[a-z]?\)", row["citation"]), row["key"]


def test_every_key_cited_in_the_code_exists():
    package = Path(tables.__file__).parent
    cited = {
        key
        for path in package.rglob("*.py")
        for key in re.findall(
            r"\[([a-z]+\d{2,4}[a-z]?|ansur2|ipf|iwf|[a-z]+-(?:practice|value))\]",
            path.read_text(encoding="utf-8"),
        )
    }
    assert "winter2009" in cited
    assert cited <= set(tables.sources())


def test_folders_are_found():
    assert (tables.folder("data") / "sources.csv").is_file()
    with pytest.raises(ValueError, match='no folder "tests"; ask for "data" or "notebooks"'):
        tables.folder("tests")


def test_a_missing_folder_says_what_to_do(tmp_path, monkeypatch):
    monkeypatch.setattr(tables, "__file__", str(tmp_path / "squatlab" / "tables.py"))
    with pytest.raises(FileNotFoundError, match="install squatlab again"):
        tables.folder("data")


def test_value_finds_the_one_row():
    # International rules: the largest discs are 450 mm across.
    assert tables.value("limits", name="plate", quantity="diameter") == 0.45


def test_low_bar_lies_two_to_three_inches_lower():
    # A rule of the trade: 2 to 3 in below the high bar.
    high, low = (tables.value("bar_positions", name=n, quantity="drop") for n in ("high", "low"))
    assert 2 * 0.0254 <= low - high <= 3 * 0.0254


@pytest.mark.parametrize(
    ("where", "words"),
    [
        ({"name": "plate", "quantity": "colour"}, '0 rows of limits.csv have name "plate", quanti'),
        ({"name": "knee"}, None),
        ({"name": "back_extensors"}, "2 rows of limits.csv"),
        ({"nme": "knee"}, "no such column"),
    ],
)
def test_value_refuses_none_and_many(where, words):
    if words is None:
        assert tables.value("limits", **where) > 90
    else:
        with pytest.raises(ValueError, match=words):
            tables.value("limits", **where)


def test_an_unknown_table_names_the_nearest():
    with pytest.raises(ValueError, match=r'no table "segment"; did you mean "segments"\? .*limits'):
        tables.read("segment")


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        (("name,value,source", "a,1,book2001", "b,2,"), "line 3: no source; every row names a key"),
        (("name,value", "a,1"), "line 2: no source"),
        (
            ("name,value,source", "a,1,book2002"),
            r'line 2: the source "book2002" is not in sources.csv; add it there; did you mean "b',
        ),
        (("name,value,source", "a,1,book2001,more, text"), "line 2: not 3 cells"),
        (("name,value,source", "a,1"), "line 2: not 3 cells, .* quotation marks"),
    ],
)
def test_a_bad_row_is_refused_by_file_and_line(data, lines, words):
    write(data, "plates", *lines)
    with pytest.raises(ValueError, match=f"plates.csv, {words}"):
        tables.read("plates")


def test_a_good_row_is_read(data):
    write(data, "plates", "name,value,source", 'a,1,"book2001"')
    assert tables.read("plates") == ({"name": "a", "value": "1", "source": "book2001"},)


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("book2001,Again (2001),publication,", '"book2001" is there already; keep one row'),
        ("web2020,,publication,", "give both a key and a citation"),
        (",Nameless (2001),publication,", "give both a key and a citation"),
        ("web2020,A page (2020),website,", 'the kind "website" is not one of publication, stand'),
    ],
)
def test_a_bad_source_is_refused(data, row, words):
    with (data / "sources.csv").open("a", encoding="utf-8") as file:
        file.write(row + "\n")
    with pytest.raises(ValueError, match=f"sources.csv, line 3: {words}"):
        tables.sources()
