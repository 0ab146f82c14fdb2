"""The invented lifter's footage: rebuilt to the byte, small, and without the truth."""

from __future__ import annotations

import pytest

from squatlab import faults
from squatlab.adapters.c3d import read_c3d
from squatlab.adapters.key_points import read_coco
from squatlab.review import measure
from squatlab.spreadsheet import read_rows
from squatlab.tracks import Tracks
from tests.demo_footage import FOLDER, LABORATORY, build


def test_the_files_are_rebuilt_to_the_byte(tmp_path):
    built = build(tmp_path)
    assert {path.name for path in built} == {path.name for path in FOLDER.iterdir()}
    for path in built:
        assert path.read_bytes() == (FOLDER / path.name).read_bytes(), path.name
    assert build(tmp_path, seed=1)[0].read_bytes() != (FOLDER / built[0].name).read_bytes()


def test_they_are_small_and_tell_no_truth():
    assert sum(path.stat().st_size for path in FOLDER.iterdir()) < 160_000
    for path in FOLDER.iterdir():
        words = path.read_bytes().decode("latin-1").lower()
        assert not any(name in words for name in (*faults.catalogue(), "inject", "synthetic"))


def test_every_file_shows_the_same_lift():
    """Put in were hips that rise first by 9° and knees that fall in by 9°."""
    pytest.importorskip("ezc3d", reason="ezc3d is not installed: C3D files cannot be read")
    points = {
        row["label"]: row["point"]
        for _, row in read_rows(FOLDER / "laurel-points.csv", ("point", "label"))
    }
    assert points == LABORATORY
    side = Tracks.read(FOLDER / "laurel-side.csv", view="side", units="px")
    front = read_coco(FOLDER / "laurel-front.json", "front", 30)
    for shots in ((side, front), (read_c3d(FOLDER / "laurel.c3d", points),)):
        found = measure(*shots)
        assert {one.fault for one in found.present()} == {"hips_rise_first", "knee_valgus"}
        assert found["hips_rise_first"].value == pytest.approx(9.2, abs=1.2)
        assert found["knee_valgus"].value == pytest.approx(9, abs=1.5)
