"""Files of tracks: written, read back, and every way one can be wrong."""

from __future__ import annotations

import csv
import json
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from squatlab.tracks import Tracks, TracksError
from squatlab.tracks import csv as csv_of_tracks
from squatlab.tracks.csv import likely_heading, schema_path
from squatlab.tracks.points import AXES
from tests.stick_figure import PX_PER_M, picture, space

WRITTEN = 0.51e-6
"""Six decimals are written: half of the last, and a hair."""


def lines_of(tracks, path):
    """Return a written file as a list of lists of words, heading first."""
    with tracks.write(path).open(newline="") as file:
        return list(csv.reader(file))


def save(path, lines, separator=","):
    """Write rows as a CSV file without a side file."""
    schema_path(path).unlink(missing_ok=True)
    path.write_text("".join(separator.join(row) + "\n" for row in lines), encoding="utf-8")
    return path


@pytest.fixture
def lines(tmp_path):
    """Give the rows of a good file in space."""
    return lines_of(space(30), tmp_path / "good.csv")


# Writing and reading back

KINDS = [
    space(30, source="laboratory"),
    picture("side", 60, source="a phone"),
    picture("front", 25, scale_px_per_m=None),
    picture("side", 30).in_metres(),
    replace(picture("side", 30), view="oblique", notes=("Filmed from the corner.",)),
]


@pytest.mark.parametrize("tracks", KINDS, ids=repr)
def test_round_trip(tracks, tmp_path):
    rng = np.random.default_rng(7)
    positions = tracks.positions + rng.normal(0, 1e-3, tracks.positions.shape)
    positions[40:60, 2] = np.nan
    tracks = replace(tracks, positions=positions)
    read = Tracks.read(tracks.write(tmp_path / "lift.csv"))
    assert np.array_equal(np.isnan(read.positions), np.isnan(positions))
    assert np.nanmax(np.abs(read.positions - positions)) < WRITTEN
    assert np.abs(read.times - tracks.times).max() < WRITTEN
    same = ("names", "view", "units", "scale_px_per_m", "rate")
    assert [getattr(read, name) for name in same] == [getattr(tracks, name) for name in same]
    assert read.source == (tracks.source or "lift.csv")
    assert set(tracks.notes) < set(read.notes)
    again = Tracks.read(read.write(tmp_path / "again.csv"))
    assert again.notes == read.notes


def test_the_files_are_plain_csv_and_a_table_schema(tmp_path):
    """Table Schema 2.0: fields with name and type, in the order of the columns."""
    tracks = picture(source="a phone")
    positions = np.array(tracks.positions)
    positions[5, 0] = np.nan
    rows = lines_of(replace(tracks, positions=positions), tmp_path / "lift.csv")
    assert rows[0][:3] == ["time_s", "toe_r_x", "toe_r_y"]
    assert rows[6][1:3] == ["", ""]
    assert len(rows) == 1 + tracks.times.size
    schema = json.loads((tmp_path / "lift.schema.json").read_text(encoding="utf-8"))
    assert schema["$schema"] == "https://datapackage.org/profiles/2.0/tableschema.json"
    assert [field["name"] for field in schema["fields"]] == rows[0]
    assert {field["type"] for field in schema["fields"]} == {"number"}
    assert [field["unit"] for field in schema["fields"]] == ["s"] + ["px"] * 24
    assert schema["missingValues"] == [""]
    assert schema["squatlab"] == {
        "view": "side",
        "units": "px",
        "axes": AXES["side"],
        "rate_hz": tracks.rate,
        "scale_px_per_m": 375.0,
        "source": "a phone",
        "notes": [],
    }


def test_only_csv_is_written(tmp_path):
    with pytest.raises(TracksError, match='called "lift.xlsx"; tracks are written to a .csv file'):
        space().write(tmp_path / "lift.xlsx")


def test_space_needs_no_side_file(tmp_path, lines):
    read = Tracks.read(save(tmp_path / "bare.csv", lines))
    assert (read.view, read.units, read.source) == ("3d", "m", "bare.csv")
    assert read.notes == ()
    assert read.positions == pytest.approx(space(30).positions, abs=WRITTEN)


def test_a_picture_without_a_side_file_asks_for_what_is_missing(tmp_path):
    path = save(tmp_path / "p.csv", lines_of(picture(), tmp_path / "p.csv"))
    words = 'p.csv: positions with two axes are a picture.*view="side", "front" or "oblique" and'
    with pytest.raises(TracksError, match=words):
        Tracks.read(path)
    with pytest.raises(TracksError, match='Give it when reading: units="px" or "m"'):
        Tracks.read(path, view="side")
    read = Tracks.read(path, view="side", units="px", scale_px_per_m=PX_PER_M)
    assert read.in_metres()["hip_r"] == pytest.approx(picture().in_metres()["hip_r"], abs=1e-6)
    assert "the side view alone" in read.notes[-1]


def numbered(lines):
    """Return rows with frames numbered from 0 in place of their times."""
    heading, *body = lines
    rows = [[str(number), *row[1:]] for number, row in enumerate(body)]
    return [["frame", *heading[1:]], *rows]


def test_a_title_above_numbered_frames_is_pointed_at(tmp_path):
    path = save(tmp_path / "p.csv", numbered(lines_of(picture("side", 60), tmp_path / "p.csv")))
    path.write_text("My film\n\n" + path.read_text())
    with pytest.raises(TracksError, match=r"line 3 looks like the heading \(frame, "):
        Tracks.read(path)


def test_all_that_a_bare_picture_lacks_is_asked_for_at_once(tmp_path):
    path = save(tmp_path / "p.csv", numbered(lines_of(picture("side", 60), tmp_path / "p.csv")))
    with pytest.raises(TracksError) as caught:
        Tracks.read(path)
    assert [argument.name for argument in caught.value.arguments[:3]] == ["rate", "view", "units"]
    assert str(caught.value).endswith('for example: rate=60 view="side" units="px"')
    with pytest.raises(TracksError) as caught:
        Tracks.read(path, view="side", units="px")
    assert [argument.name for argument in caught.value.arguments] == ["rate"]
    read = Tracks.read(path, rate=60, view="side", units="px")
    assert read.rate == 60 and read.times == pytest.approx(np.arange(read.times.size) / 60)
    assert not any("milliseconds" in note for note in read.notes), "frames are no times"


def test_all_that_bare_positions_in_space_lack_is_asked_for_at_once(tmp_path, lines):
    """Rate, axes and unit: z up, forward along y, in cm, as laboratories write them."""
    heading, *body = numbered(lines)
    of_axis = {name: place for place, name in enumerate(heading)}
    points = [name.removesuffix("_x") for name in heading if name.endswith("_x")]
    # Theirs: x right (our z), y forward (our x), z up (our y).
    theirs = [of_axis[f"{point}_{axis}"] for point in points for axis in "zxy"]
    rows = [[row[0], *(str(100 * float(row[place])) for place in theirs)] for row in body]
    path = save(tmp_path / "space.csv", [heading, *rows])
    with pytest.raises(TracksError) as caught:
        Tracks.read(path)
    axes = "x right, y forward, z up"
    together = f'All together, for example: rate=60 axes="{axes}" units="cm"'
    assert str(caught.value).endswith(together)
    read = Tracks.read(path, rate=30, axes=axes, units="cm")
    assert read.positions == pytest.approx(space(30).positions, abs=1e-6)
    with pytest.raises(TracksError) as caught:
        Tracks.read(path, rate=30, units="m")
    wrong_unit_too = [argument.values for argument in caught.value.arguments]
    assert wrong_unit_too == [(axes,), ("cm",), (axes,), ("cm",)]


def test_units_may_stand_in_the_heading(tmp_path, lines):
    heading = [lines[0][0], *(f"{name}_mm" for name in lines[0][1:])]
    body = [[row[0], *(str(1000 * float(cell)) for cell in row[1:])] for row in lines[1:]]
    read = Tracks.read(save(tmp_path / "mm.csv", [heading, *body]))
    assert read.positions == pytest.approx(space(30).positions, abs=1e-6)
    assert read.notes == ("The positions were in mm and were converted to m.",)
    mixed = [heading[:-1] + [lines[0][-1]], *body]
    with pytest.raises(TracksError, match=r"different units \(mm, none\); use one throughout"):
        Tracks.read(save(tmp_path / "mixed.csv", mixed))


def test_what_is_declared_must_agree_with_the_side_file(tmp_path):
    path = picture().write(tmp_path / "p.csv")
    with pytest.raises(TracksError, match="view is declared as 'front', but the file says 'side'"):
        Tracks.read(path, view="front")
    assert Tracks.read(path, view="side").view == "side"


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda s: "{", "side file lift.schema.json is not a Table Schema"),
        (lambda s: "[1]", "not a Table Schema"),
        (lambda s: json.dumps({"fields": [1]}), "not a Table Schema"),
        (lambda s: json.dumps(s | {"fields": [*s["fields"], {"name": "bar_x"}]}), "there: bar_x"),
        (lambda s: json.dumps(s | {"squatlab": {"units": "m", "view": "side"}}), "the units m, px"),
        (lambda s: json.dumps(s | {"squatlab": {"view": 3}}), '"view": 3; that must be a str'),
        (lambda s: json.dumps(s | {"squatlab": {"units": ["m"]}}), "must be a str"),
        (lambda s: json.dumps(s | {"squatlab": {"view": "side", "notes": [1]}}), "must be a list"),
        (lambda s: json.dumps(s | {"squatlab": s["squatlab"] | {"rate_hz": 24}}), "24 Hz but"),
        (lambda s: json.dumps(s | {"fields": [s["fields"][0] | {"unit": "ms"}]}), "for time ms"),
    ],
)
def test_side_files_that_are_wrong(tmp_path, change, words):
    path = picture().write(tmp_path / "lift.csv")
    schema = json.loads(schema_path(path).read_text(encoding="utf-8"))
    schema_path(path).write_text(change(schema), encoding="utf-8")
    with pytest.raises(TracksError, match=words):
        Tracks.read(path)


# Files that are wrong


def renamed(lines, old, new):
    return [[new if name == old else name for name in lines[0]], *lines[1:]]


def cell(lines, row, column, text):
    """Return rows with one cell changed; row 1 is the heading."""
    changed = [list(line) for line in lines]
    changed[row - 1][changed[0].index(column)] = text
    return changed


def in_units(lines, factor):
    return [lines[0], *([r[0], *(str(factor * float(c)) for c in r[1:])] for r in lines[1:])]


def without(lines, *columns):
    kept = [i for i, name in enumerate(lines[0]) if name not in columns]
    return [[row[i] for i in kept] for row in lines]


WRONG = {
    "time stands still": (lambda r: [*r[:5], r[4], *r[5:]], "frame 5 at 0.1 s after frame 4 at"),
    "time goes back": (lambda r: [r[0], *r[:0:-1]], "Take out double frames and sort by time"),
    "time is missing": (lambda r: cell(r, 9, "time_s", ""), r"1 frames have no time \(frame 8"),
    "time in ms": (
        lambda r: [r[0], *([str(1000 * float(w[0])), *w[1:]] for w in r[1:])],
        "0.03 frames per second.*divide milliseconds by 1000",
    ),
    "no time": (lambda r: renamed(r, "time_s", "tims_s"), 'no column time_s; did you mean "tims_'),
    "two clocks": (
        lambda r: renamed([[*r[0], "Time (s)"], *([*w, "1"] for w in r[1:])], "time_s", "time"),
        r"rename it to time_s: time, Time \(s\)\. The first column",
    ),
    "mm": (lambda r: in_units(r, 1000), 'hip and knee are 426 m apart.*like mm: .*units="mm"'),
    "cm": (lambda r: in_units(r, 100), 'These look like cm: read the file with units="cm"'),
    "tiny": (lambda r: in_units(r, 0.01), "Check the unit, and that the points carry"),
    "missing": (
        lambda r: without(r, *(f"{p}_{a}" for p in ("knee_r", "ankle_l") for a in "xyz")),
        "required points are missing: knee_r.*at least hip, knee and ankle of one leg",
    ),
    "odd name": (
        lambda r: [[w.replace("hip_", "hipp_") for w in r[0]], *r[1:]],
        'missing: hip_r; did you mean "hipp_r"',
    ),
    "lacks an axis": (lambda r: without(r, "toe_l_y"), "columns are missing: toe_l_y; every point"),
    "twice": (lambda r: renamed(r, "toe_r_y", "toe_r_x"), "names a column twice: toe_r_x"),
    "twice with a unit": (
        lambda r: renamed([[*r[0], "toe_r_x_m"], *([*w, "1"] for w in r[1:])], "", ""),
        "two columns for toe_r_x",
    ),
    "foreign column": (lambda r: renamed(r, "toe_r_y", "comment"), 'column 3 is called "comment"'),
    "too few": (lambda r: r[:6], "only 5 frames; a movement needs at least 10"),
    "only a heading": (lambda r: r[:1], "0 frames|no position"),
    "one column": (lambda r: [[w[0]] for w in r], "the first line has 1 column; it must"),
    "text": (
        lambda r: cell(cell(r, 7, "hip_r_x", "abc"), 20, "toe_l_z", "1,2x".replace(",", ".")),
        'no number: row 7, column hip_r_x: "abc"; row 20, column toe_l_z: "1.2x".*empty',
    ),
    "a lot of text": (
        lambda r: [r[0], *([w[0], *(c + "m" for c in w[1:])] for w in r[1:])],
        'row 2, column toe_r_x: "0.130000m"; .* and more',
    ),
    "time of day": (
        lambda r: [r[0], *([f"00:00:{float(w[0]):06.3f}", *w[1:]] for w in r[1:])],
        'row 2, column time_s: "00:00:00.000".*Times are in seconds, such as 12.35',
    ),
    "long row": (lambda r: [*r[:8], [*r[8], "7"], *r[9:]], "row 9 has more cells than the heading"),
    "longer row": (lambda r: [*r[:8], [*r[8], "7", "8"], *r[9:]], "taken apart: .*line 9"),
    "long first row": (lambda r: [r[0], [*r[1], "", "8"], *r[2:]], "row 2 has 39 cells, the"),
    "nothing seen": (
        lambda r: [r[0], *([w[0], *[""] * (len(w) - 1)] for w in r[1:])],
        "no position is given in any frame",
    ),
    "infinite": (lambda r: cell(r, 3, "hip_r_x", "inf"), "1e.06 m or more from the origin"),
    "never together": (
        lambda r: [
            r[0],
            *(
                [w[0], *(c if (i // 3 + k) % 2 else "" for i, c in enumerate(w[1:]))]
                for k, w in enumerate(r[1:])
            ),
        ],
        "of one leg are seen together in 0 frames",
    ),
    "upside down": (lambda r: in_units(r, -1), "the hips are not above the ankles along y"),
}


@pytest.mark.parametrize(("change", "words"), WRONG.values(), ids=WRONG)
def test_wrong_files_are_answered_in_words(tmp_path, lines, change, words):
    with pytest.raises(TracksError, match=words) as caught:
        Tracks.read(save(tmp_path / "wrong.csv", change(lines)))
    assert str(caught.value).startswith("wrong.csv: ")


def test_files_that_are_no_table(tmp_path):
    def refused(name, content, words):
        (tmp_path / name).write_bytes(content)
        with pytest.raises(TracksError, match=words):
            Tracks.read(tmp_path / name)

    refused("empty.csv", b"", "empty.csv: the file is empty; export the tracks again")
    refused("lift.c3d", b"1", "squatlab.adapters")
    refused("latin.csv", b"time_s,h\xfcfte_x\n", "not a UTF-8 text file")
    with pytest.raises(TracksError, match='no such file in .*; did you mean "latin.csv"'):
        Tracks.read(tmp_path / "lating.csv")
    with pytest.raises(TracksError, match="this is a folder"):
        Tracks.read(tmp_path)
    with pytest.raises(TracksError, match="cannot be opened: File name too long"):
        Tracks.read(tmp_path / f"{'long' * 100}.csv")


def test_bad_cells_keep_their_row_number_in_long_files(tmp_path, lines, monkeypatch):
    monkeypatch.setattr(csv_of_tracks, "CHUNK", 16)
    good = Tracks.read(save(tmp_path / "a.csv", lines))
    assert good.positions == pytest.approx(space(30).positions, abs=WRITTEN)
    with pytest.raises(TracksError, match='row 100, column knee_l_y: "low"'):
        Tracks.read(save(tmp_path / "b.csv", cell(lines, 100, "knee_l_y", "low")))
    with pytest.raises(TracksError, match="row 90 has more cells"):
        Tracks.read(save(tmp_path / "c.csv", [*lines[:89], [*lines[89], "1"], *lines[90:]]))


def test_harmless_habits_of_other_programs(tmp_path, lines):
    """Byte order mark, quoted headings, semicolons, comma decimals, tabs, empty last lines."""
    expected = space(30).positions
    path = tmp_path / "habits.csv"
    german = [lines[0], *([cell.replace(".", ",") for cell in row] for row in lines[1:])]
    quoted = [[f'"{name.upper()}"' for name in lines[0]], *lines[1:], [""], [""]]
    for rows, separator in (
        (german, ";"),
        (german, "\t"),
        (lines, ";"),
        (lines, "\t"),
        (quoted, ","),
    ):
        save(path, rows, separator)
        path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n"))
        assert Tracks.read(path).positions == pytest.approx(expected, abs=WRITTEN)
    for empty in ([""], ["", "", ""]):
        trailing = [[*row, *empty] for row in lines]
        assert Tracks.read(save(path, trailing)).positions == pytest.approx(expected, abs=WRITTEN)
    shuffled = [row[::-1] for row in lines]
    assert Tracks.read(save(path, shuffled))["hip_r"] == pytest.approx(
        space(30)["hip_r"], abs=WRITTEN
    )


def test_decimal_commas_may_come_late(tmp_path, lines):
    """Frames are numbered, and no point is seen in the first of them."""
    rows = [["frame", *lines[0][1:]]]
    for number, row in enumerate(lines[1:]):
        cells = [""] * len(row[1:]) if number < 5 else [c.replace(".", ",") for c in row[1:]]
        rows.append([str(number), *cells])
    read = Tracks.read(save(tmp_path / "late.csv", rows, ";"), rate=30)
    assert np.isnan(read.positions[:5]).all()
    assert read.positions[5:] == pytest.approx(space(30).positions[5:], abs=WRITTEN)


def test_points_never_seen_and_half_seen(tmp_path, lines):
    rows = lines
    for axis in "xyz":
        for number in range(2, len(rows) + 1):
            rows = cell(rows, number, f"toe_l_{axis}", "") if number == 2 else rows
            rows[number - 1][rows[0].index(f"toe_l_{axis}")] = ""
    rows = cell(rows, 50, "toe_r_y", "")
    read = Tracks.read(save(tmp_path / "half.csv", rows), bridge_s=0)
    assert "toe_l" not in read
    assert np.isnan(read["toe_r"][48]).all()
    assert "Never seen and left out: toe_l." in read.notes
    assert "1 positions lacked one axis and count as missing." in read.notes


def test_points_may_be_required(tmp_path):
    path = space().write(tmp_path / "lift.csv")
    assert Tracks.read(path, required=["toe_l", "heel_l"])
    with pytest.raises(TracksError, match="required points are missing: bar, c7"):
        Tracks.read(path, required=["toe_l", "bar", "c7"])


# Files mangled at random

SAMPLES = {
    name: (
        tracks,
        "".join(
            ",".join(row) + "\n"
            for row in [
                [
                    "time_s",
                    *(f"{n}_{a}" for n in tracks.names for a in "xyz"[: tracks.positions.shape[2]]),
                ],
                *(
                    [f"{t:.4f}", *(f"{v:.4f}" for v in row.ravel())]
                    for t, row in zip(tracks.times[:40:2], tracks.positions[:40:2], strict=True)
                ),
            ]
        ).encode(),
    )
    for name, tracks in (("space", space(30)), ("picture", picture("side", 30)))
}
SCRAPS = [
    b"",
    b",",
    b"\n",
    b"\r",
    b"\r\n",
    b'"',
    b";",
    b"\t",
    b"\x00",
    b"nan",
    b"inf",
    b"-1e308",
    b"1e999",
    b"-",
    b"x",
    b"\xff",
    b"\xef\xbb\xbf",
    b"0",
    b"9" * 30,
    b"True",
    b"time_s",
    b"hip_r_x",
    b"_x",
    b"_y_mm",
    b"1,5",
    b",,,",
    b"#",
    b" ",
    "é".encode(),
]
EDITS = st.lists(
    st.tuples(
        st.sampled_from(["cut", "insert", "replace", "double", "swap", "line"]),
        st.floats(0, 1),
        st.floats(0, 1),
        st.one_of(st.sampled_from(SCRAPS), st.binary(max_size=4)),
    ),
    max_size=5,
)


def mangled(content, edits):
    for kind, at, to, scrap in edits:
        if kind == "line":
            rows = content.split(b"\n")
            rows.insert(int(at * len(rows)), rows[int(to * (len(rows) - 1))])
            content = b"\n".join(rows)
            continue
        # Half of the damage is done to the heading, where it hurts most.
        size = len(content) if to < 0.5 else min(300, len(content))
        first = int(at * size)
        last = min(first + int(at * to * 40), len(content))
        piece = content[first:last]
        middle = {
            "cut": b"",
            "insert": scrap + piece,
            "replace": scrap,
            "double": piece * 2,
            "swap": piece[::-1],
        }[kind]
        content = content[:first] + middle + content[last:]
    return content


OUTCOMES = {"read": 0, "refused": 0}


@settings(max_examples=1000)
@given(sample=st.sampled_from(sorted(SAMPLES)), edits=EDITS, helped=st.booleans())
def test_mangled_files_are_refused_or_read_whole(sample, edits, helped, tmp_path_factory):
    tracks, content = SAMPLES[sample]
    path = tmp_path_factory.getbasetemp() / "mangled.csv"
    path.write_bytes(mangled(content, edits))
    declared = {"view": tracks.view, "units": tracks.units} if helped else {}
    try:
        read = Tracks.read(path, **declared)
    except TracksError as error:
        refusal, read = str(error), None
    OUTCOMES["refused" if read is None else "read"] += 1
    if read is None:
        assert refusal.startswith("mangled.csv: ")
        assert len(refusal) > 40
        return
    assert (np.diff(read.times) > 0).all()
    assert read.positions.shape == (read.times.size, len(read.names), 3 if read.view == "3d" else 2)
    assert not np.isinf(read.positions).any()
    assert {"hip_r", "knee_r", "ankle_r"} <= set(read.names) or "hip_l" in read


def test_mangling_reached_both_outcomes():
    if not sum(OUTCOMES.values()):
        pytest.skip("the mangled files were not read in this run")
    assert min(OUTCOMES.values()) > 50, OUTCOMES


def test_a_file_of_a_pose_program_is_read_as_it_is(tmp_path):
    """Milliseconds, numbered frames beside them, scores, and a z that is a guess."""
    rep_times = np.arange(0, 3, 1 / 30)
    heights = {"hip": 900.0, "knee": 500.0, "ankle": 100.0}
    columns = ["frame", "timestamp_ms"]
    columns += [f"right_{p}_{part}" for p in heights for part in ("x", "y", "z", "visibility")]
    rows = []
    for number, time in enumerate(rep_times):
        dip = 150 * np.sin(np.pi * time / 3) ** 2
        row = [number, round(1000 * time)]
        for point, height in heights.items():
            y = 1000 - height + dip * {"hip": 2, "knee": 0.5, "ankle": 0}[point]
            x = 960 + dip * {"hip": -1, "knee": 1, "ankle": 0}[point]
            score = 0.1 if point == "knee" and number == 10 else 0.98
            row += [f"{x:.1f}", f"{y:.1f}", "0.2", score]
        rows.append(row)
    path = tmp_path / "pose.csv"
    path.write_text("\n".join(",".join(map(str, row)) for row in [columns, *rows]))
    tracks = Tracks.read(path, view="side", units="px", bridge_s=0)
    assert tracks.names == ("hip_r", "knee_r", "ankle_r")
    assert tracks.positions.shape == (90, 3, 2)
    assert tracks.rate == pytest.approx(30, rel=0.01)
    assert np.isnan(tracks["knee_r"][10]).all() and not np.isnan(tracks["knee_r"][11]).any()
    assert (
        sum("score" in note or "milliseconds" in note or "z is" in note for note in tracks.notes)
        == 3
    )


@pytest.mark.parametrize(
    ("text", "row", "cells"),
    [
        ("time,hip_r_x\n0,1\n", 1, ["time", "hip_r_x"]),
        ("made by,a program\nlifter,A\nTime,hip_r_x,\n0,1\n", 3, ["Time", "hip_r_x"]),
        ("a title\n\nx;y;;\n1;2;;\n", 3, ["x", "y"]),
        ("a title\n" * 19 + "time\thip_r_x\n", 20, ["time", "hip_r_x"]),
        ("a title\n" * 20 + "time\thip_r_x\n", 0, []),
        ("", 0, []),
    ],
)
def test_the_heading_is_the_first_of_twenty_lines_with_a_time_or_else_with_two_cells(
    tmp_path, text, row, cells
):
    (tmp_path / "a.csv").write_text(text)
    assert likely_heading(tmp_path / "a.csv") == (row, cells)


# One recording in many spellings.

CLOCKS = {
    "time_s": lambda n, time: f"{time:.6f}",
    "Time (s)": lambda n, time: f"{time:.6f}",
    "timestamp_ms": lambda n, time: f"{1000 * time:.3f}",
    "frame": lambda n, time: str(n),
}
LAYOUTS = {
    "commas": {"separator": ","},
    "semicolons and decimal commas": {"separator": ";", "comma": True},
    "semicolons and points": {"separator": ";"},
    "tabs": {"separator": "\t"},
    "a byte order mark, lines of Windows": {"start": "\ufeff", "end": "\r\n"},
    "empty lines at the end": {"tail": "\n\n\n"},
    "empty cells at the end": {"surplus": 1},
    "no line end at the end": {"cut": True},
    "columns in another order": {"order": -1},
    "capitals and blanks": {"spelling": str.upper},
    "centimetres": {"unit": "cm", "per_m": 100.0},
    "millimetres": {"unit": "mm", "per_m": 1000.0},
    "quoted": {"quote": '"'},
}


def spelt(
    tracks, clock, separator=",", comma=False, start="", end="\n", tail="", surplus=0, cut=False,
    order=1, spelling=str, unit="", per_m=1.0, quote="",
):  # fmt: skip
    """Return the text of a file of tracks in space."""
    names = [f"{name}_{axis}" for name in tracks.names for axis in "xyz"]
    names = [spelling(name) + (f" ({unit})" if unit else "") for name in names]
    rows = [[clock, *names[::order]]]
    for n, (time, places) in enumerate(zip(tracks.times, tracks.positions, strict=True)):
        cells = [f"{per_m * value:.6f}" for value in places.ravel()]
        rows.append([CLOCKS[clock](n, time), *cells[::order]])
    if comma:
        rows = [rows[0], *([cell.replace(".", ",") for cell in row] for row in rows[1:])]
    lines = [separator.join(f"{quote}{cell}{quote}" for cell in row) for row in rows]
    text = end.join(line + separator * surplus for line in lines) + end + tail
    return start + (text.rstrip() if cut else text)


SPELT = [
    *(("time_s", layout) for layout in LAYOUTS),
    *((clock, layout) for clock in list(CLOCKS)[1:] for layout in list(LAYOUTS)[:2]),
]


@pytest.mark.parametrize(("clock", "layout"), SPELT)
def test_one_recording_is_read_alike_however_its_file_is_spelt(tmp_path, clock, layout):
    tracks = space(25)
    path = tmp_path / "lift.csv"
    path.write_bytes(spelt(tracks, clock, **LAYOUTS[layout]).encode())
    read = Tracks.read(path, **({"rate": 25.0} if clock == "frame" else {}))
    assert set(read.names) == set(tracks.names)
    for name in tracks.names:
        assert read[name] == pytest.approx(tracks[name], abs=2e-6), name
    assert read.times == pytest.approx(tracks.times, abs=2e-6) and read.rate == pytest.approx(25)


@pytest.mark.parametrize(("score", "seen"), [(0.29, False), (0.31, True)])
def test_a_point_of_which_a_program_is_unsure_is_not_seen(tmp_path, score, seen):
    one = picture("side", 25)
    flat = [f"{name}_{part}" for name in one.names for part in ("x", "y", "score")]
    rows = [["time_s", *flat]]
    for n, (time, places) in enumerate(zip(one.times, one.positions, strict=True)):
        cells = [str(time)]
        for column, (x, y) in enumerate(places):
            unsure = n == 20 and one.names[column] == "knee_l"
            cells += [f"{x:.3f}", f"{y:.3f}", str(score if unsure else 0.9)]
        rows.append(cells)
    read = Tracks.read(
        save(tmp_path / "pose.csv", rows),
        view="side", units="px", bridge_s=0.0, scale_px_per_m=PX_PER_M,
    )  # fmt: skip
    assert np.isfinite(read["knee_l"][20]).all() == seen
    others = np.delete(np.arange(one.times.size), 20)
    assert read["knee_l"][others] == pytest.approx(one["knee_l"][others], abs=1e-3)
    assert read["knee_r"] == pytest.approx(one["knee_r"], abs=1e-3)
