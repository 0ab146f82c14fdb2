"""Makes the footage in data/demo/footage: an invented rower's squat, as three programs save it.

Nobody was filmed: our own motion, seen by our own camera. The same seed gives the same bytes;
``python -m tests.demo_footage`` writes them again, and a test compares.
"""

from __future__ import annotations

import json
import struct
from pathlib import Path

import numpy as np

from squatlab import Bar, Lifter, Stance, tables
from squatlab.motion import Camera, Injection, Rep, film, synthesise
from squatlab.tracks import Tracks

SEED = 20
FOLDER = tables.folder("data") / "demo" / "footage"
HEIGHT_PX = 1080

SIDE = (
    "hip_r",
    "knee_r",
    "ankle_r",
    "heel_r",
    "toe_r",
    "shoulder_r",
    "c7",
    "head",
    "bar",
    "plate_top",
    "plate_bottom",
)
"""What somebody clicked in the side view: the low back cannot be seen through a shirt."""

FEET = ("big_toe", "heel")
JOINTS = ("eye", "ear", "shoulder", "elbow", "wrist", "hip", "knee", "ankle", *FEET)
NAMES = ("nose", *(f"{side}_{joint}" for joint in JOINTS for side in ("left", "right")))

LABORATORY = {
    "RightHip": "hip_r",
    "RightKnee": "knee_r",
    "RightAnkle": "ankle_r",
    "RightHeel": "heel_r",
    "RightToe": "toe_r",
    "LeftHip": "hip_l",
    "LeftKnee": "knee_l",
    "LeftAnkle": "ankle_l",
    "LeftHeel": "heel_l",
    "LeftToe": "toe_l",
    "L5S1": "l5",
    "C7": "c7",
    "BarMiddle": "bar",
    "BarEndR": "bar_end_r",
    "BarEndL": "bar_end_l",
}
"""What an invented laboratory calls the points."""


def build(folder: Path = FOLDER, seed: int = SEED) -> list[Path]:
    """Write all files into a folder; return them."""
    rng = np.random.default_rng(seed)
    laurel = Lifter.from_stature(1.66, 61)
    put_in = [Injection("hips_rise_first", 9.2), Injection("knee_valgus", 9)]
    rep = synthesise(laurel, Bar.high(30), Stance(), injections=put_in)
    assert rep.feasible
    files = {
        "laurel-side.csv": side_csv(rep, rng).encode(),
        "laurel-front.json": front_json(rep, rng).encode(),
        "laurel.c3d": c3d(rep, rng),
        "laurel-points.csv": points_csv().encode(),
        "laurel-bad.csv": bad_csv(rep).encode(),
    }
    for name, content in files.items():
        (folder / name).write_bytes(content)
    return [folder / name for name in files]


def side_csv(rep: Rep, rng: np.random.Generator) -> str:
    """Return clicked points, y down; two pictures lost, the ankle three times, the head long."""
    seen = film({name: rep.points[name] for name in SIDE}, rep.time, Camera.side(), rng)
    cells = np.round(seen.positions * (1, -1) + (0, HEIGHT_PX), 1)
    cells[90:93, SIDE.index("ankle_r")] = np.nan
    cells[230:265, SIDE.index("head")] = np.nan
    kept = np.delete(np.arange(len(cells)), [50, 51])
    return csv(SIDE, seen.times[kept], cells[kept], 1)


def csv(names, times, cells, digits, gap="") -> str:
    axes = "xyz"[: cells.shape[2]]
    lines = [",".join(["time_s", *(f"{name}_{axis}" for name in names for axis in axes)])]
    for time, row in zip(times, cells.reshape(len(cells), -1), strict=True):
        numbers = (gap if np.isnan(cell) else f"{cell:.{digits}f}" for cell in row)
        lines.append(",".join([f"{time:.3f}", *numbers]))
    return "\n".join(lines) + "\n"


def front_json(rep: Rep, rng: np.random.Generator) -> str:
    """Return estimated key points with feet: right and left exchanged now and then, a spotter."""
    still = {name: place[:1] + (-1.2, 0, -0.95) for name, place in rep.points.items()}
    spotter = {name: np.repeat(place, rep.time.size, axis=0) for name, place in still.items()}
    camera = Camera.front(rate=30, swapped=0.04)
    crowd = [
        estimated(film(with_face(one), rep.time, camera, rng)) for one in (rep.points, spotter)
    ]
    first, annotations = 24, []  # the front camera was started before the other
    for number in range(len(crowd[0])):
        there = crowd if 50 <= number < 80 else crowd[:1]
        for person in there[:: 1 if rng.random() < 0.5 else -1]:
            points = person[number].astype(int).tolist()
            keypoints = [n for x, y in points for n in (x, y, round(rng.uniform(0.6, 0.95), 1))]
            annotations.append({"image_id": first + number, "keypoints": keypoints})
    whole = {"categories": [{"name": "person", "keypoints": NAMES}], "annotations": annotations}
    return json.dumps(whole, separators=(",", ":")).replace('{"image', '\n{"image') + "\n"


def with_face(points: dict) -> dict:
    """Return points with the key points of a face, for the view from in front."""
    face = {"nose": (0.09, 0.0, 0.0)}
    for sign, side in ((1, "r"), (-1, "l")):
        face |= {f"eye_{side}": (0.08, 0.03, 0.03 * sign), f"ear_{side}": (0.0, 0.02, 0.07 * sign)}
    return points | {name: points["head"] + offset for name, offset in face.items()}


def estimated(tracks: Tracks) -> np.ndarray:
    """Return whole pixels (time, key point, 2), y down."""
    ours = {"left": "l", "right": "r"}
    columns = []
    for name in NAMES:
        side, _, joint = name.partition("_")
        point = f"{joint.removeprefix('big_')}_{ours[side]}" if joint else name
        columns.append(tracks[point])
    return np.rint(np.stack(columns, axis=1) * (1, -1) + (0, HEIGHT_PX))


def bad_csv(rep: Rep) -> str:
    """Return a file with three things wrong: a word in cells, a foreign name, the unit not told."""
    names = ("hip_r", "knee_r", "ankle_r", "c7")
    every = slice(0, None, 6)
    cells = np.stack([rep.points[name][every, :2] for name in names], axis=1)
    cells[40:42, 1] = np.nan
    return csv(("seat", *names[1:]), rep.time[every], cells, 3, gap="lost")


def points_csv() -> str:
    rows = (f"{ours},{label}" for label, ours in LABORATORY.items())
    return "\n".join(["point,label", *rows]) + "\n"


def c3d(rep: Rep, rng: np.random.Generator) -> bytes:
    """Return a C3D file: mm as whole tenths, x right, y forward, z up; every second frame.

    Written by the published layout of the format: a header of 256 words,
    parameters in blocks of 512 bytes, then frames of four 16-bit numbers.
    """
    every = slice(0, None, 2)
    places = np.stack([rep.points[name][every] for name in LABORATORY.values()], axis=1)
    places = 1000 * places[..., [2, 0, 1]] + rng.normal(0, 1.5, places.shape)
    scale, rate, (frames, count, _) = 0.1, 60.0, places.shape
    rows = np.zeros((frames, count, 4), dtype="<i2")
    rows[..., :3] = np.rint(places / scale)
    width = max(map(len, LABORATORY))
    labels = "".join(f"{label:{width}}" for label in LABORATORY)
    parameters = [
        group(1, "POINT"),
        parameter(1, "USED", 2, [], struct.pack("<h", count)),
        parameter(1, "FRAMES", 2, [], struct.pack("<h", frames)),
        parameter(1, "SCALE", 4, [], struct.pack("<f", scale)),
        parameter(1, "RATE", 4, [], struct.pack("<f", rate)),
        parameter(1, "UNITS", -1, [2], b"mm"),
        parameter(1, "LABELS", -1, [width, count], labels.encode()),
    ]
    blocks = 1 + (4 + sum(map(len, parameters)) + 3) // 512
    start = 2 + blocks
    parameters.insert(-1, parameter(1, "DATA_START", 2, [], struct.pack("<h", start)))
    section = struct.pack("<4B", 1, 0x50, blocks, 84) + b"".join(parameters)
    header = struct.pack("<2B5h f 2h f", 2, 0x50, count, 0, 1, frames, 10, scale, start, 0, rate)
    return header.ljust(512, b"\0") + section.ljust(512 * blocks, b"\0") + rows.tobytes()


def group(number: int, name: str) -> bytes:
    """Return a group of parameters: its own number negative, then how far to the next."""
    return struct.pack("<bb", len(name), -number) + name.encode() + struct.pack("<hB", 3, 0)


def parameter(number: int, name: str, kind: int, shape: list[int], value: bytes) -> bytes:
    """Return one parameter; ``kind`` -1 text, 2 a 16-bit number, 4 a 32-bit real one."""
    rest = struct.pack(f"<bB{len(shape)}B", kind, len(shape), *shape) + value + b"\0"
    return (
        struct.pack("<bb", len(name), number)
        + name.encode()
        + struct.pack("<h", 2 + len(rest))
        + rest
    )


if __name__ == "__main__":
    print(*build(), sep="\n")
