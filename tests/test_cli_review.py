"""Two commands: a synthetic repetition into files, and the review of any footage."""

from __future__ import annotations

import errno
import io
import json
import os
import re
import shlex
import shutil
import subprocess
import sys
import time
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from PIL import Image

from squatlab import faults, tables
from squatlab.__main__ import main
from squatlab.adapters.key_points import KEYPOINTS
from squatlab.commands import options, rep_command, terminal_progress
from squatlab.commands.option_words import as_option
from squatlab.motion import Camera, film
from squatlab.tracks import Tracks
from squatlab.tracks.points import Argument
from tests.demo_footage import LABORATORY

DECLARED = ["--load", "60", "--stature", "1.75", "--mass", "75", "--distance", "4", "--height", "1"]


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """Give a folder with a clean set, one with faults in it, and both of them in space."""
    folder = tmp_path_factory.mktemp("made")
    faulty = ["--fault", "knee_valgus=9", "--fault", "short_depth=18"]
    for name, more in (("clean", []), ("faulty", faulty)):
        assert main(["rep", "-o", str(folder / f"{name}.csv"), *more]) == 0
        assert main(["rep", "-o", str(folder / f"{name}-3d.csv"), "--view", "3d", *more]) == 0
    return folder


def views(folder, name):
    return [str(folder / f"{name}-{view}.csv") for view in ("side", "front")]


def reviewed(capsys, *arguments):
    """Return the exit code and the object that a review prints."""
    code = main(["review", *map(str, arguments), "--json"])
    said = capsys.readouterr()
    assert said.err == ""
    return code, json.loads(said.out, parse_constant=pytest.fail)


def refused(capsys, *arguments):
    """Return what is said of wrong use: one line, exit code 2, nothing on stdout."""
    try:
        code = main(list(map(str, arguments)))
    except SystemExit as end:
        code = end.code
    said = capsys.readouterr()
    assert code == 2 and said.out == "" and "Traceback" not in said.err
    return said.err


# squatlab rep


def test_the_files_hold_no_word_of_the_faults(made):
    for view in ("side", "front"):
        clean, faulty = (
            (made / f"{name}-{view}.schema.json").read_bytes() for name in ("clean", "faulty")
        )
        assert clean == faulty
    for path in made.iterdir():
        words = path.read_text(encoding="utf-8")
        assert not any(name in words for name in (*faults.catalogue(), "inject", "truth"))


def test_the_line_that_rep_prints_finds_what_was_put_in(tmp_path, capsys):
    assert main(["rep", "-o", str(tmp_path / "my squat.csv"), "--fault", "heel_lift=3.5"]) == 0
    said = capsys.readouterr().out
    assert "In the movement, but not in the files: heels lift (heel_lift 3.5 cm)." in said
    assert "the bar goes forward with it,\nand a review will read that too." in said
    line = next(line for line in said.splitlines() if "squatlab review" in line)
    code, told = reviewed(capsys, *shlex.split(line)[2:])
    assert code == 1
    assert "heel_lift" in [place["fault"] for place in told["ranking"]]


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("--load 900", "--load is 900; it must lie between 0 and 500 kg on the bar"),
        ("--mass 900", "--mass is 900"),
        ("--noise -3", "--noise is -3"),
        ("--descent 0", "--descent is 0"),
        ("--fault head_up=20 --fault head_up=30", "--fault head_up is given twice"),
        ("-o .", "-o is ., a folder; name a .csv file in it"),
    ],
)
def test_what_rep_cannot_do_is_said_of_the_option(capsys, tmp_path, monkeypatch, typed, words):
    monkeypatch.chdir(tmp_path)
    assert words in refused(capsys, "rep", *typed.split())


def test_a_load_that_no_review_takes_is_said_of_the_option(capsys, made):
    said = refused(capsys, "review", *views(made, "clean"), "--load", "550")
    assert "--load is 550; it must lie between 0 and 500 kg" in said


def test_a_command_to_copy_is_quoted_as_the_terminal_takes_it(monkeypatch):
    words = ["squatlab", "review", "my squat.csv"]
    assert options.as_typed(words) == "squatlab review 'my squat.csv'"
    monkeypatch.setattr(options, "os", SimpleNamespace(name="nt"))
    assert options.as_typed(words) == 'squatlab review "my squat.csv"'
    assert options.as_typed(["lifts\\a.csv"]) == "lifts\\a.csv"


def test_only_heels_that_are_up_push_the_bar_forward(tmp_path, capsys):
    assert main(["rep", "-o", str(tmp_path / "a.csv"), "--fault", "knee_valgus=9"]) == 0
    assert "the bar goes forward" not in capsys.readouterr().out


def test_rep_lists_every_fault_with_unit_and_sizes(capsys):
    assert main(["rep", "--list"]) == 0
    lines = capsys.readouterr().out.splitlines()[1:]
    assert [line.split()[0] for line in lines] == list(faults.catalogue())
    assert all(
        fault.unit in line for line, fault in zip(lines, faults.catalogue().values(), strict=True)
    )
    assert "0.8" in lines[-1]


def test_a_seed_makes_the_same_files_again(tmp_path):
    def files(seed):
        main(["rep", "-o", str(tmp_path / "a.csv"), "--seed", seed, "--replace"])
        return [(tmp_path / f"a-{view}.csv").read_bytes() for view in ("side", "front")]

    assert files("3") == files("3") != files("4")


def test_rep_obeys_its_options(tmp_path):
    path = tmp_path / "a.csv"
    again = ["rep", "--replace", "-o", str(path), "--view"]
    main([*again, "side", "--fps", "30", "--repetitions", "3"])
    three = Tracks.read(path)
    assert (three.view, three.units, three.rate) == ("side", "px", 30)
    main([*again, "front", "--descent", "3"])
    slow = Tracks.read(path)
    assert slow.view == "front" and "hip_l" in slow
    main([*again, "3d", "--stature", "1.9", "--bar", "low"])
    assert Tracks.read(path).units == "m"
    main([*again, "front", "--noise", "0"])
    exact = Tracks.read(path)
    assert slow.times[-1] - exact.times[-1] == pytest.approx(1.2, abs=0.3)  # 3 s down, not 1.8
    jitter = [np.diff(one["heel_r"][:, 1]).std() for one in (slow, exact)]
    assert jitter[0] > 3 > 0.1 > jitter[1]


@pytest.mark.parametrize("there", ["a-front.csv", "a-front.schema.json"])
def test_rep_writes_over_nothing_unless_told(tmp_path, capsys, there):
    mine = tmp_path / there
    mine.write_text("mine")
    arguments = ["rep", "-o", str(tmp_path / "a.csv")]
    assert refused(capsys, *arguments).endswith(
        f"there already: {mine}; choose another name with -o, or add --replace to write over what "
        "is there\n"
    )
    assert mine.read_text() == "mine" and list(tmp_path.iterdir()) == [mine], "all or none"
    assert main([*arguments, "--replace"]) == 0 and mine.read_text() != "mine"
    capsys.readouterr()
    assert "a-side.csv, " in (words := refused(capsys, *arguments))
    assert "a-front.schema.json; choose another name" in words


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--fault", "knee_valgas=10"], 'did you mean "knee_valgus"'),
        (["--fault", "knee_valgus"], "write FAULT=SIZE, such as knee_valgus=10"),
        (["--fault", "knee_valgus=ten"], "'ten' is no size"),
        (["--fault", "knee_valgus=99"], "knee_valgus is 99; it must lie between"),
        (["--stature", "175"], "it must lie between 1.2 and 2.3 m (divide centimetres by 100)"),
        (["--view", "behind"], "invalid choice: 'behind'"),
        (["-o", "nowhere/a.csv"], "there is no folder nowhere"),
        (["-o", "a.txt"], "tracks are written to a .csv file"),
        (["--fault", "fast_descent=0.55"], "cannot do that: the bar would leave the back"),
    ],
)
def test_rep_explains_what_cannot_be(capsys, monkeypatch, tmp_path, arguments, words):
    monkeypatch.chdir(tmp_path)
    assert words in refused(capsys, "rep", *arguments)


# squatlab review


def test_a_clean_set_has_nothing_to_fix(made, capsys):
    code, told = reviewed(capsys, *views(made, "clean"), *DECLARED)
    assert [f["fault"] for f in told["findings"] if f["size"] in ("clear", "gross")] == []
    assert code == (1 if told["first"] else 0)
    assert main(["review", str(made / "clean-3d.csv"), *DECLARED[:6]]) == 0
    assert "Nothing to fix: none of the" in capsys.readouterr().out


def test_what_is_wrong_is_found_and_put_in_order(made, capsys):
    for files in (views(made, "faulty"), [made / "faulty-3d.csv"]):
        code, told = reviewed(capsys, *files, *DECLARED[: None if len(files) > 1 else 6])
        assert code == 1 and told["first"] == "knee_valgus"
        places = [place["fault"] for place in told["ranking"]]
        assert places[:2] == ["knee_valgus", "short_depth"]
        assert told["advice"]["cue"] == faults.advice("knee_valgus").cue
        assert told["margin"] > 0 and told["stop"] is False
        values = {f["fault"]: f["value"] for f in told["findings"]}
        assert values["short_depth"] == pytest.approx(18, abs=4)
        assert values["knee_valgus"] == pytest.approx(9, abs=2)


def test_the_object_has_the_keys_that_help_names(made, capsys):
    _, told = reviewed(capsys, *views(made, "faulty"), *DECLARED)
    with pytest.raises(SystemExit):
        main(["review", "--help"])
    named = " ".join(capsys.readouterr().out.split())
    assert all(key in named for key in told)
    assert [f["fault"] for f in told["findings"]] == list(faults.catalogue())
    assert told["declared"]["load"] == 60 and told["declared"]["scale"] is None
    assert [one["view"] for one in told["files"]] == ["side", "front"]
    assert "licensed professional" in told["caution"]


def test_one_view_says_what_it_cannot_tell(made, capsys):
    code, told = reviewed(capsys, views(made, "faulty")[1])
    assert code == 1 and told["first"] == "knee_valgus"
    assert "short_depth" in told["cannot_tell"]
    assert "lumbar_rounding" in told["would_come_first_if_large"]
    depth = next(f for f in told["findings"] if f["fault"] == "short_depth")
    assert depth["value"] is None and depth["severity"] is None and depth["reason"]


def test_people_read_notes_table_and_ranking(made, capsys):
    assert main(["review", *views(made, "faulty"), *DECLARED]) == 1
    said = capsys.readouterr().out
    assert f"{views(made, 'faulty')[0]}: Tracks: side" in said
    assert "this is a picture, the side view alone" in said.lower()
    assert "FIX FIRST  knees fall in" in said
    assert said.index("not deep enough") < said.index("FIX FIRST")
    assert "Stop on pain" in said


def test_a_policy_can_be_chosen(made, capsys):
    _, told = reviewed(capsys, *views(made, "faulty"), "--policy", "largest-first")
    severities = {f["fault"]: f["severity"] or 0 for f in told["findings"]}
    order = [severities[place["fault"]] for place in told["ranking"]]
    assert order == sorted(order, reverse=True) and told["policy"] == "largest-first"


def test_gross_rounding_stops_the_set_unless_there_is_no_load(tmp_path, capsys):
    path = tmp_path / "round.csv"
    main(["rep", "-o", str(path), "--view", "3d", "--fault", "lumbar_rounding=60"])
    capsys.readouterr()
    assert reviewed(capsys, path)[1]["stop"] is True
    assert reviewed(capsys, path, "--load", "0")[1]["stop"] is False
    main(["review", str(path)])
    assert "STOP THE SET AND UNLOAD" in capsys.readouterr().out


# Other kinds of files


def test_a_bare_csv_needs_its_view_and_unit(made, tmp_path, capsys):
    bare = tmp_path / "bare.csv"
    bare.write_bytes((made / "faulty-side.csv").read_bytes())
    words = refused(capsys, "review", bare)
    assert "Give it when reading: --view side, front or oblique and --units px or m" in words
    code, told = reviewed(capsys, bare, "--view", "side", "--units", "px")
    assert code == 1 and told["first"] == "short_depth"


def test_key_points_as_json_are_reviewed(made, tmp_path, capsys):
    tracks = Tracks.read(made / "faulty-side.csv")
    our = {"left": "l", "right": "r"}
    people = []
    for frame in range(tracks.times.size):
        points = np.zeros((17, 3))
        for number, name in enumerate(KEYPOINTS):
            side, _, part = name.partition("_")
            point = f"{part}_{our.get(side)}"
            if point in tracks:
                points[number] = *tracks[point][frame] * (1, -1) + (0, 1080), 0.9
        people.append({"image_id": frame, "keypoints": points.ravel().tolist()})
    path = tmp_path / "points.json"
    path.write_text(json.dumps(people))
    words = refused(capsys, "review", path, "--view", "side")
    assert "give both, such as --view side and --fps 60" in words
    code, told = reviewed(capsys, path, "--view", "side", "--fps", "60", *DECLARED)
    assert code == 1 and told["first"] == "short_depth"
    assert "heel_lift" in told["cannot_tell"]  # these points have no heel
    unnamed = path.rename(tmp_path / "points")
    assert reviewed(capsys, unnamed, "--view", "side", "--fps", "60", *DECLARED)[1]["first"]


def test_motion_capture_is_reviewed(made, tmp_path, capsys):
    ezc3d = pytest.importorskip("ezc3d", reason="ezc3d is not installed: C3D files cannot be read")
    tracks = Tracks.read(made / "faulty-3d.csv")
    names = [
        f"{joint}_{side}" for joint in ("hip", "knee", "ankle", "heel", "toe") for side in "rl"
    ]
    labels = {name.upper(): name for name in names}
    file = ezc3d.c3d()
    file["parameters"]["POINT"]["RATE"]["value"] = [tracks.rate]
    file["parameters"]["POINT"]["LABELS"]["value"] = list(labels)
    file["parameters"]["POINT"]["UNITS"]["value"] = ["mm"]
    places = np.ones((4, len(labels), tracks.times.size))
    places[:3] = 1000 * np.stack([tracks[name] for name in labels.values()]).transpose(2, 0, 1)
    file["data"]["points"] = places
    path = tmp_path / "lab.c3d"
    file.write(str(path))
    code, told = reviewed(capsys, path, *DECLARED[:6])
    assert code == 1 and told["first"] == "knee_valgus"
    assert "a C3D file takes no view, which is always 3d" in refused(
        capsys, "review", path, "--view", "side"
    )


FOOTAGE = tables.folder("data") / "demo" / "footage"
FOOTAGE_NOTEBOOK = tables.folder("notebooks") / "instructor" / "I4_own_footage.ipynb"


def test_labels_are_listed_and_said_one_by_one_or_in_a_table(capsys, tmp_path):
    pytest.importorskip("ezc3d", reason="ezc3d is not installed: C3D files cannot be read")
    lab = FOOTAGE / "laurel.c3d"
    assert main(["review", str(lab), str(FOOTAGE / "laurel-front.json"), "--points"]) == 0
    said = capsys.readouterr().out
    assert "laurel.c3d: C3D, 283 frames at 60 Hz, mm" in said
    assert "  RightHip    100 %  perhaps hip_r\n" in said and "  L5S1        100 %  –\n" in said
    assert "laurel-front.json: key points in px, 142 pictures with up to 2 people" in said
    words = refused(capsys, "review", lab)
    assert "Say which do; perhaps --point hip_r=RightHip --point knee_r=RightKnee" in words
    table = tmp_path / "mine.csv"
    table.write_text((FOOTAGE / "laurel-points.csv").read_text())
    code, told = reviewed(capsys, lab, "--point", table, *DECLARED[:6])
    assert code == 1 and told["first"] == "hips_rise_first"
    leg = [f"--point={point}={label}" for label, point in LABORATORY.items() if point != "l5"]
    assert reviewed(capsys, lab, *leg)[1]["first"] == "hips_rise_first"
    for given, words in (
        ("hip_r=RightHipp", 'there is no label RightHipp; did you mean "RightHip"? The labels: Ri'),
        ("hipr=RightHip", 'RightHip is said to be hipr, which is none of ours; did you mean "hi'),
        ("RightHip", "--point is RightHip; write OURS=THEIRS, such as --point hip_r=RightHip, or"),
        ("absent.csv", "squatlab: absent.csv: No such file"),
    ):
        assert words in refused(capsys, "review", lab, "--point", given)
    table.write_text("ours,theirs\nhip_r,RightHip\n")
    assert "the column “ours” is not known" in refused(capsys, "review", lab, "--point", table)


def test_two_kinds_of_files_are_two_views_of_one_squat(capsys, tmp_path):
    """The rate belongs to each file, and so does a name that only one of them has."""
    side = tmp_path / "side.csv"
    side.write_text((FOOTAGE / "laurel-side.csv").read_text().replace("knee_r", "patella"))
    files = [side, FOOTAGE / "laurel-front.json", "--view", "side", "--view", "front"]
    files += ["--units", "px", "--fps", "60", "--fps", "30", *DECLARED]
    assert "required points are missing: knee_r" in refused(capsys, "review", *files)
    _, told = reviewed(capsys, *files, "--point", "knee_r=patella")
    # Which of the two comes first is not sure: both are named.
    assert {place["fault"] for place in told["ranking"]} == {"hips_rise_first", "knee_valgus"}
    assert {*told["named"]} == {"hips_rise_first", "knee_valgus"} and told["sureness"] < 0.8
    assert [one["rate_hz"] for one in told["files"]] == [60, 30]
    assert "there is no label patela" in refused(
        capsys, "review", *files, "--point", "knee_r=patela"
    )
    assert "--fps is given 3 times for 2 files" in refused(capsys, "review", *files, "--fps", "9")
    assert "person is 4; a picture shows 1 " in refused(
        capsys, "review", *files[:10], "--point", "knee_r=patella", "--person", "4"
    )


def test_every_command_line_of_the_notebook_on_footage_runs(capsys, tmp_path, monkeypatch):
    pytest.importorskip("ezc3d", reason="ezc3d is not installed: C3D files cannot be read")
    shutil.copytree(FOOTAGE, tmp_path, dirs_exist_ok=True)
    monkeypatch.chdir(tmp_path)
    cells = json.loads(FOOTAGE_NOTEBOOK.read_text(encoding="utf-8"))["cells"]
    prose = "".join("".join(cell["source"]) for cell in cells if cell["cell_type"] == "markdown")
    lines = re.findall(r"^squatlab .*$", prose.replace("\\\n", " "), re.MULTILINE)
    assert len(lines) == 4
    for line in lines:
        assert main(shlex.split(line)[1:]) in (0, 1, 5), line
        assert capsys.readouterr().err == ""
    assert all((tmp_path / name).exists() for name in ("review.pdf", "both-views.pdf"))


def test_a_leg_alone_is_enough_for_the_knees_show_the_way(capsys):
    """Where forward is shows in the squat: no foot and no axes need be named."""
    pytest.importorskip("ezc3d", reason="ezc3d is not installed: C3D files cannot be read")
    leg = [FOOTAGE / "laurel.c3d"]
    for name, label in (
        ("hip_r", "RightHip"),
        ("knee_r", "RightKnee"),
        ("ankle_r", "RightAnkle"),
        ("c7", "C7"),
    ):
        leg += ["--point", f"{name}={label}"]
    for axes in ([], ["--axes", "x right, y forward, z up"]):
        _, told = reviewed(capsys, *leg, *axes)
        assert told["first"] == "hips_rise_first"


def test_errors_name_options_and_not_arguments(capsys, tmp_path):
    bad = tmp_path / "bad.csv"
    bad.write_text((FOOTAGE / "laurel-bad.csv").read_text().replace("lost", ""))
    side = ["review", bad, "--view", "side", "--units", "px"]
    assert "no hip is among the points, so nothing can be measured" in refused(capsys, *side)
    assert "read the file with --units m;" in refused(capsys, *side, "--point", "hip_r=seat")
    renamed = Argument("points", ({"R Hip": "hip_r", "RKnee": "knee_r"},))
    assert str(renamed) == 'points={"R Hip": "hip_r", "RKnee": "knee_r"}'
    assert as_option(renamed) == '--point "hip_r=R Hip" --point knee_r=RKnee'
    small = refused(capsys, *side, "--mass", "75", "--stature", "17")
    assert small.startswith("squatlab: --stature is 17; it must lie between 1.2 and 2.3 m")


def test_a_bare_file_is_asked_about_once(capsys, tmp_path):
    heading, *rows = (FOOTAGE / "laurel-side.csv").read_text().splitlines()
    numbered = [f"{n},{row.partition(',')[2]}" for n, row in enumerate(rows)]
    bare = tmp_path / "bare.csv"
    bare.write_text("\n".join([f"frame,{heading.partition(',')[2]}", *numbered]))
    asked = refused(capsys, "review", bare)
    assert asked.endswith("All together, for example: --fps 60 --view side --units px\n")
    more = ["--fps", "60", "--view", "side", "--units", "px"]
    assert reviewed(capsys, bare, *more)[0] in (0, 1, 5)


def test_a_side_view_called_front_is_asked_about(capsys):
    bare = [FOOTAGE / "laurel-side.csv", "--units", "px", "--view"]
    assert main(["review", *map(str, bare), "front"]) == 5
    said = capsys.readouterr().out
    assert "Most points of a front view are missing: is this a side view?" in said
    assert "NOT ENOUGH SEEN: the one fault that could be told, of 14, is not there." in said
    assert "is this a side view" not in str(reviewed(capsys, *bare, "side")[1]["files"])
    real = [FOOTAGE / "laurel-front.json", "--view", "front", "--fps", "30"]
    assert "is this a side view" not in str(reviewed(capsys, *real)[1]["files"])


def test_a_side_view_with_both_legs_called_front_is_asked_about(made, capsys, tmp_path):
    space = Tracks.read(made / "clean-3d.csv")
    points = {name: space[name] for name in space.names}
    for view, camera in (("side", Camera.side(hidden=())), ("front", Camera.front())):
        filmed = film(points, space.times, camera, np.random.default_rng(1))
        replace(filmed, view="front").write(tmp_path / f"{view}.csv")
    assert main(["review", str(tmp_path / "side.csv")]) == 2, "hips on one spot are no front view's"
    assert "hip_r and hip_l are 1 cm apart" in (said := capsys.readouterr().err)
    assert "Is this a side view?" in said
    assert main(["review", str(tmp_path / "front.csv")]) == 5
    assert "is this a side view" not in capsys.readouterr().out


def test_headings_of_other_programs_are_listed_and_read(capsys, tmp_path):
    ours = (FOOTAGE / "laurel-side.csv").read_text()
    head, _, rows = ours.partition("\n")
    theirs = re.sub("_([xy])", lambda axis: f" {axis[1].upper()}", head).replace("hip_r", "RHip")
    file = tmp_path / "theirs.csv"
    declared = ["--view", "side", "--units", "px"]
    (tmp_path / "ours.csv").write_text(ours)
    wanted = reviewed(capsys, tmp_path / "ours.csv", *declared)[1]["findings"]
    in_px = re.sub("( [XY])", r"\1 (px)", theirs)
    for clock, columns in (("Time (s)", theirs), ("time", theirs), ("Time [sec]", in_px)):
        file.write_text(columns.replace("time_s", clock) + "\n" + rows)
        assert reviewed(capsys, file, *declared)[1]["findings"] == wanted
    assert main(["review", str(file), "--points"]) == 0
    assert "  RHip          100 %  hip_r\n" in capsys.readouterr().out
    for heading, words in (
        (f"Laurel, set 2\n\n{theirs}", "line 3 looks like the heading (time_s, RHip X, "),
        (
            theirs.replace("time_s", "Time (min)"),
            "if it is one of these, rename it to time_s: Time",
        ),
        (theirs.replace("time_s", "Time,Set"), 'column 2 is called "set"; a column is <po'),
    ):
        file.write_text(heading + "\n" + rows)
        assert words in refused(capsys, "review", file, *declared)
        assert main(["review", str(file), "--points"]) == 0
        said = capsys.readouterr().out
        assert "cannot be read yet: " in said and words in said and "\n  RHip" in said
    file.write_text("a letter to the coach\n")
    assert "the first line has 1 column" in refused(capsys, "review", file, "--points")


def test_a_hip_without_a_side_is_asked_for(capsys, tmp_path):
    file = tmp_path / "one.csv"
    file.write_text((FOOTAGE / "laurel-side.csv").read_text().replace("hip_r", "Hip"))
    assert main(["review", str(file), "--points"]) == 0
    assert "  Hip           100 %  perhaps pelvis\n" in capsys.readouterr().out
    declared = [file, "--view", "side", "--units", "px"]
    assert "perhaps --point hip_r=Hip" in refused(capsys, "review", *declared)
    assert reviewed(capsys, *declared, "--point", "hip_r=hip")[1]["first"] == "hips_rise_first"


def test_the_sheet_is_a_page_of_pdf_as_well(made, tmp_path, capsys):
    pdf = tmp_path / "sheet.PDF"
    main(["review", *views(made, "faulty"), "--figure", str(pdf)])
    assert pdf.read_bytes().startswith(b"%PDF") and "Drawn: " in capsys.readouterr().out


# What goes wrong


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["nowhere.csv"], "nowhere.csv: there is no such file in"),
        (["nowhere.c3d"], "there is no such file in"),
        (["nowhere.json", "--view", "side", "--fps", "60"], "cannot be opened: No such file"),
        (["folder"], "folder: this is a folder; give the CSV file in it"),
        (["empty.csv"], "empty.csv: the file is empty; export the tracks again"),
        (["words.csv"], "the first line has 1 column; it must name time_s"),
        (["side.csv", "--view", "front"], "view is declared as 'front', but the file says 'side'"),
        (["side.csv", "--view", "behind"], "invalid choice: 'behind'"),
        (["side.csv", "side.csv"], "a file is given twice"),
        (["side.csv", "--mass", "75"], "--mass is given without --stature; give both or neither"),
        (["side.csv", "--height", "1"], "--height is given without --distance"),
        (["side.csv", "--load", "-5"], "--load is -5; it must lie between 0 and 500 kg"),
        (["side.csv", "--distance", "400", "--height", "1"], "--distance is 400; it must lie"),
        (["side.csv", "--policy", "tier-frist"], 'did you mean "tier-first"'),
        (["side.csv", "--policy", "foo"], "there is no policy 'foo'. The policies: tier-first"),
        (["side.csv", "--stature", "175", "--mass", "75"], "squatlab: --stature is 175; it must"),
        (["side.csv", "--figure", "sheet.jpg"], "it is drawn to a .png or .pdf file"),
        (["side.csv", "--figure", "nowhere/a.png"], "there is no folder nowhere"),
        (["side.csv", "--scale", "9", "--scale", "9"], "--scale is given 2 times for 1 files"),
        (["side.csv", "--fps", "25"], "rate is declared as 25.0, but the file says 60.0"),
    ],
)
def test_review_explains_what_cannot_be(made, tmp_path, monkeypatch, capsys, arguments, words):
    monkeypatch.chdir(tmp_path)
    for suffix in (".csv", ".schema.json"):
        side = (made / f"clean-side{suffix}").read_bytes()
        (tmp_path / f"side{suffix}").write_bytes(side)
    (tmp_path / "folder").mkdir()
    (tmp_path / "empty.csv").write_text("")
    (tmp_path / "words.csv").write_text("a letter to the coach\n")
    assert words in refused(capsys, "review", *arguments)


def test_standing_still_is_no_repetition(made, tmp_path, capsys):
    tracks = Tracks.read(made / "clean-3d.csv")
    still = Tracks(tracks.times[:70], tracks.positions[:70], tracks.names, "3d")
    path = still.write(tmp_path / "still.csv")
    assert "there is no repetition: the hips travel 0.00 m" in refused(capsys, "review", path)


def test_where_nothing_can_be_told_the_exit_code_says_so(made, tmp_path, capsys):
    """From between side and front only times can be told, and here the start is hidden."""
    tracks = Tracks.read(made / "faulty-side.csv")
    positions = tracks.positions.copy()
    positions[25:100, [tracks.names.index(name) for name in ("hip_r", "pelvis")]] = np.nan
    path = tmp_path / "oblique.csv"
    Tracks(tracks.times, positions, tracks.names, "oblique", "px").write(path)
    code, told = reviewed(capsys, path)
    assert code == 3 and told["first"] is None and told["ranking"] == []
    assert told["cannot_tell"] == list(faults.catalogue()) and told["margin"] is None
    figure = tmp_path / "a.png"
    assert main(["review", str(path), "--figure", str(figure)]) == 3
    assert "Nothing could be told" in capsys.readouterr().out
    figure.write_text("mine")
    again = ["review", str(path), "--figure", str(figure)]
    assert "a.png; choose another name with --figure" in refused(capsys, *again)
    assert figure.read_text() == "mine"
    assert main([*again, "--replace"]) == 3 and figure.read_bytes().startswith(b"\x89PNG")


# The sheet, progress, a process of its own


def test_the_sheet_is_a_picture_that_carries_its_words(made, tmp_path, capsys):
    path = tmp_path / "sheet.png"
    assert main(["review", *views(made, "faulty"), *DECLARED, "--figure", str(path)]) == 1
    assert f"Drawn: {path}" in capsys.readouterr().out
    with Image.open(path) as picture:
        assert picture.size == (1480, 1046)
        assert "FIX FIRST  knees fall in" in picture.info["Description"]
        dark = (np.asarray(picture.convert("L")) < 128).mean()
    assert 0.01 < dark < 0.2


class Terminal(io.StringIO):
    def isatty(self):
        return True


def test_long_work_is_told_on_a_terminal_only(monkeypatch, capsys):
    monkeypatch.setattr(sys, "stderr", Terminal())
    with terminal_progress.progress_line("reading", after_s=0.0, every_s=0.02):
        time.sleep(0.1)
    assert sys.stderr.getvalue().count("\rreading: 0 s") >= 2
    assert sys.stderr.getvalue().endswith("\n")
    monkeypatch.setattr(sys, "stderr", Terminal())
    with terminal_progress.progress_line("reading", after_s=30):
        pass
    assert sys.stderr.getvalue() == ""
    monkeypatch.undo()
    with terminal_progress.progress_line("reading", after_s=0.0):
        time.sleep(0.02)
    assert capsys.readouterr().err == ""


def test_it_runs_as_a_process_of_its_own(made):
    run = subprocess.run(
        [sys.executable, "-m", "squatlab", "review", *views(made, "faulty"), *DECLARED, "--json"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 1 and run.stderr == ""
    assert json.loads(run.stdout)["first"] == "knee_valgus"


@pytest.mark.parametrize("buffered", ["", "1"], ids=["at the end", "at once"])
@pytest.mark.parametrize("words", ["rep --list", "review SIDE", "review SIDE --json", "--help"])
def test_it_ends_without_a_word_where_nobody_reads_on(made, words, buffered):
    """As after ``| head``, https://docs.python.org/3/library/signal.html#note-on-sigpipe."""
    ours, theirs = os.pipe()
    os.close(ours)  # before it starts: nothing hangs on who is faster
    given = words.replace("SIDE", views(made, "faulty")[0]).split()
    run = subprocess.run(
        [sys.executable, "-m", "squatlab", *given],
        stdout=theirs,
        stderr=subprocess.PIPE,
        env=os.environ | {"PYTHONUNBUFFERED": buffered},
    )
    os.close(theirs)
    assert run.stderr == b""
    assert run.returncode == 141


class LeftOnWindows(io.StringIO):
    """A pipe that Windows has closed: it says EINVAL, not EPIPE."""

    def __init__(self, file):
        super().__init__()
        self.fileno = file.fileno

    def write(self, text):
        raise OSError(errno.EINVAL, "Invalid argument")


def test_a_pipe_that_windows_closed_is_told_from_other_wrong_arguments(
    monkeypatch, capsys, tmp_path
):
    with (tmp_path / "stdout").open("w") as file:
        monkeypatch.setattr(sys, "stdout", LeftOnWindows(file))
        assert main(["rep", "--list"]) == 141
        os.write(file.fileno(), b"the rest")
    monkeypatch.undo()
    assert (tmp_path / "stdout").read_text() == "" and capsys.readouterr().err == ""

    def wrong(options):
        raise OSError(errno.EINVAL, "no such name can be")

    monkeypatch.setattr(rep_command, "_synthesised", wrong)
    assert main(["rep"]) == 2 and "no such name can be" in capsys.readouterr().err


def test_a_console_without_degree_signs_still_gets_an_answer(made):
    run = subprocess.run(
        [sys.executable, "-m", "squatlab", "review", str(made / "faulty-3d.csv")],
        capture_output=True,
        check=False,
        env=os.environ | {"PYTHONIOENCODING": "ascii"},
    )
    assert run.returncode == 1 and run.stderr == b""
    assert b"FIX FIRST  knees fall in" in run.stdout
