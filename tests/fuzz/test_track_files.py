"""Damaged and hostile files of tracks: refused in words or read, never worse."""

from __future__ import annotations

import os

import pytest

from squatlab import tables
from tests.fuzz.ending import run, wrong
from tests.fuzz.mutate import mutated

FOOTAGE = tables.folder("data") / "demo" / "footage"


@pytest.fixture(scope="module")
def seeds(tmp_path_factory):
    """Files that can be read, small, each with what to say of it."""
    folder = tmp_path_factory.mktemp("seeds")
    assert run("rep", "--view", "3d", "--fps", "30", "-o", folder / "space.csv").code == 0
    assert run("rep", "--view", "side", "--fps", "30", "-o", folder / "side.csv").code == 0
    coco = ["--view", "front", "--fps", "30"]
    picture = ["--view", "side", "--units", "px"]
    return [
        ("csv", (folder / "space.csv").read_bytes(), []),
        ("csv", (folder / "side.csv").read_bytes(), picture),
        ("csv", (FOOTAGE / "laurel-side.csv").read_bytes()[:20_000], picture),
        ("json", (FOOTAGE / "laurel-front.json").read_bytes(), coco),
        ("schema.json", (folder / "side.schema.json").read_bytes(), []),
        ("c3d", (FOOTAGE / "laurel.c3d").read_bytes(), []),
    ], (folder / "side.csv").read_bytes()


@pytest.mark.parametrize("part", range(10))
def test_no_file_of_tracks_crashes_a_review(part, seeds, tmp_path, many, rng):
    """10,000 in the long run."""
    kinds, good = seeds
    faults = []
    for number in range(many(15, 1000)):
        # C3D files are read in a process of their own, which takes longer.
        weights = [3, 3, 3, 3, 3, 1]
        kind, whole, told = rng.choices(kinds, weights)[0]
        name = f"lift.{kind}"
        (tmp_path / name).write_bytes(mutated(whole, rng))
        if kind == "schema.json":
            (tmp_path / "lift.csv").write_bytes(good)
            name = "lift.csv"
        before = {path: path.read_bytes() for path in tmp_path.iterdir()}
        listing = ["--points"] if rng.random() < 0.4 else told
        if problem := wrong(run("review", tmp_path / name, *listing)):
            faults.append(f"{part}/{number} {kind}: {problem}")
        assert {path: path.read_bytes() for path in tmp_path.iterdir()} == before
        for path in tmp_path.iterdir():
            path.unlink()
    assert not faults, f"{len(faults)}:\n" + "\n".join(faults[:10])


@pytest.mark.skipif(os.name != "posix", reason="pipes and devices of POSIX")
@pytest.mark.parametrize("suffix", [".csv", ".json", ".c3d", ""])
def test_what_is_no_file_is_refused_at_once(suffix, tmp_path):
    pipe, circle = tmp_path / f"pipe{suffix}", tmp_path / f"circle{suffix}"
    os.mkfifo(pipe)
    circle.symlink_to(circle)
    folder = tmp_path / f"folder{suffix}"
    folder.mkdir()
    device = tmp_path / f"device{suffix}"
    device.symlink_to("/dev/zero")
    for path in (pipe, circle, folder, device, tmp_path / f"nothing{suffix}"):
        for told in (["--points"], ["--view", "side", "--fps", "30"], []):
            ending = run("review", path, *told)
            assert ending.code == 2 and not wrong(ending), (path, ending)
