"""What the review says of recordings of real lifters, which are not part of the repository.

Run: python -m tests.benchmarks.real FOLDER

FOLDER holds any of: web/ (NNNN.csv in px, y down, 30 frames per second, and index.csv with
clip, seen_from), rgbd/ (*.csv in m: x to the lifter's left, y up, z forward) and optical/
(bodyweight_five.csv: x forward, y up, z right; barbell_five.csv: x to the left, y backward, z
up). What coaches would say of them is not known: shares are printed, no right and wrong.
"""

from __future__ import annotations

import csv
import sys
from collections import Counter, defaultdict
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from squatlab import faults
from squatlab.review import Findings, ReviewError, measure, prioritise
from squatlab.review.perspective import mean
from squatlab.tracks import Tracks, TracksError, receive

WEB_HZ = 30.0
RENAMED = {"neck": "c7"}


def columns(path: Path) -> tuple[list[str], NDArray[np.float64]]:
    """Return a file's column names and its numbers, nan where a cell is empty."""
    with path.open(newline="") as file:
        rows = list(csv.reader(file))
    cells = [[float(cell) if cell else np.nan for cell in row] for row in rows[1:]]
    return rows[0], np.array(cells)


def points(path: Path, axes: str) -> tuple[NDArray, tuple[str, ...], NDArray]:
    """Return the first column, point names and positions (time, point, axis)."""
    heading, cells = columns(path)
    named = dict(zip(heading, cells.T, strict=True))
    names = list(
        dict.fromkeys(name[:-2] for name in heading[1:] if name[-2:] in ("_x", "_y", "_z"))
    )
    positions = np.stack(
        [np.stack([named[f"{name}_{axis}"] for axis in axes], axis=1) for name in names], axis=1
    )
    return cells[:, 0], tuple(RENAMED.get(name, name) for name in names), positions


def web(path: Path, seen_from: str) -> Tracks:
    """Return a web clip as tracks: y up; from the side turned so that the lifter faces +x."""
    frames, names, seen = points(path, "xy")
    seen = np.where(np.isnan(seen).any(axis=-1, keepdims=True), np.nan, seen) * (1, -1)
    if seen_from in ("left", "right"):
        knee, hip = (
            mean(np.stack([seen[:, names.index(f"{j}_{s}"), 0] for s in "rl"]), 0)
            for j in ("knee", "hip")
        )
        if np.nanmedian(knee - hip) < 0:
            seen = seen * (-1, 1)
        return Tracks(frames / WEB_HZ, seen, names, "side", "px")
    return Tracks(
        frames / WEB_HZ, seen * (1 if seen_from == "front" else -1, 1), names, "front", "px"
    )


def recordings(folder: Path) -> dict[str, list[tuple[str, Tracks]]]:
    """Return the recordings of a folder, by kind."""
    found: dict[str, list[tuple[str, Tracks]]] = defaultdict(list)
    index = folder / "web" / "index.csv"
    if index.exists():
        with index.open(newline="") as file:
            for row in csv.DictReader(file):
                tracks = web(folder / "web" / f"{row['clip']}.csv", row["seen_from"])
                found[f"web, {tracks.view}"].append((row["clip"], tracks))
    for path in sorted((folder / "rgbd").glob("*.csv")):
        times, names, seen = points(path, "xyz")
        found["depth camera"].append(
            (path.stem, Tracks(times, seen[..., [2, 1, 0]] * (1, 1, -1), names, "3d"))
        )
    for path in sorted((folder / "optical").glob("*.csv")):
        times, names, seen = points(path, "xyz")
        if path.stem.startswith("barbell"):
            seen = seen[..., [1, 2, 0]] * (-1, 1, -1)
        found[f"optical, {path.stem}"].append((path.stem, Tracks(times, seen, names, "3d")))
    return found


def review(tracks: Tracks) -> Findings | str:
    """Return what is read of a recording, received as a file is, or why it is refused."""
    try:
        return measure(
            receive(
                tracks.times, tracks.positions, tracks.names, view=tracks.view, units=tracks.units
            )
        )
    except (ReviewError, TracksError) as error:
        return str(error)


def thigh_above_level_deg(tracks: Tracks) -> float:
    """Return how far the thighs are above level where the hips are lowest, °, by hand.

    From nothing but where hip and knee are in space there, unfiltered: asin
    of the rise over the distance, the mean of both legs. Nothing of the
    review is used, to check what it says of depth.
    """
    legs = [tracks[f"hip_{side}"] - tracks[f"knee_{side}"] for side in "rl"]
    heights = np.mean([tracks[f"hip_{side}"][:, 1] for side in "rl"], axis=0)
    lowest = int(np.nanargmin(heights))
    rises = [np.arcsin(leg[lowest, 1] / np.linalg.norm(leg[lowest])) for leg in legs]
    return float(np.degrees(np.mean(rises)))


def by_hand(recorded: list[Tracks]) -> str:
    """Return what recordings in space show of depth by themselves, in words."""
    above = np.array([thigh_above_level_deg(tracks) for tracks in recorded])
    short_depth = faults.fault("short_depth")
    shares = ", ".join(
        f"{size} ({limit:g}°) or more {np.sum(above >= limit)}"
        for size, limit in zip(faults.SIZES, short_depth.thresholds, strict=True)
    )
    low, middle, high = np.quantile(above, [0.25, 0.5, 0.75])
    return (
        f"  of those, thighs above level by raw joints: {np.sum(above > 0)} of {above.size}, "
        f"{shares}; quartiles {low:.0f} {middle:.0f} {high:.0f}°, least {above.min():.0f}°"
    )


def report(kind: str, recorded: list[Tracks]) -> str:
    """Return shares of one kind of recordings in words."""
    read = [review(tracks) for tracks in recorded]
    told = [findings for findings in read if not isinstance(findings, str)]
    refused = Counter(said[:60] for said in read if isinstance(said, str))
    lines = [f"{kind}: {len(read)} recordings, refused {len(read) - len(told)} {dict(refused)}"]
    if not told:
        return "\n".join(lines)
    for name in faults.catalogue():
        answers = Counter(findings[name].answer for findings in told)
        values = [value for findings in told for value in findings[name].each if value == value]
        quartiles = ""
        if len(values) >= 4:
            low, middle, high = np.quantile(values, [0.25, 0.5, 0.75])
            quartiles = f"quartiles {low:.1f} {middle:.1f} {high:.1f} (n {len(values)})"
        if values:
            shares = " ".join(
                f"{answer} {100 * answers[answer] / len(told):.0f} %"
                for answer in ("no", *faults.SIZES, "cannot tell")
            )
            lines.append(f"  {name:21} {shares:55} {quartiles}")
    firsts = [prioritise(findings).first for findings in told]
    large = [first.fault for first in firsts if first and first.finding.size in ("clear", "gross")]
    lines.append(
        f"  clear or more, first: {100 * len(large) / len(told):.0f} % {dict(Counter(large))}"
    )
    short = [
        tracks
        for tracks, findings in zip(recorded, read, strict=True)
        if tracks.view == "3d"
        and not isinstance(findings, str)
        and (first := prioritise(findings).first)
        and first.fault == "short_depth"
        and first.finding.size in ("clear", "gross")
    ]
    if short:
        lines.append(by_hand(short))
    both = [
        f["short_depth"].answer != "cannot tell" and f["fast_descent"].answer != "cannot tell"
        for f in told
    ]
    lines.append(f"  answered on depth and tempo: {100 * sum(both) / len(read):.0f} %")
    return "\n".join(lines)


def main() -> None:
    """Print what is said of every kind of recording in a folder."""
    for kind, found in recordings(Path(sys.argv[1])).items():
        print(report(kind, [tracks for _, tracks in found]))


if __name__ == "__main__":
    main()
