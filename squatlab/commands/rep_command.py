"""``squatlab rep``: a synthetic repetition in a file, with no truth inside."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from squatlab import faults, storage
from squatlab.commands.option_words import speaking_options
from squatlab.commands.options import (
    REPLACE,
    add_examples,
    as_typed,
    must_be_new,
    quantity,
    seed_number,
)
from squatlab.lifter import Lifter
from squatlab.mechanics.legs import Stance
from squatlab.mechanics.trunk import HEAVIEST_KG, Bar
from squatlab.motion import Camera, Injection, Rep, Tempo, film, synthesise
from squatlab.ranges import within
from squatlab.tracks import Tracks

DISTANCE_M, HEIGHT_M = 4.0, 1.0
"""Where the camera stands that films the repetition [teaching-value]."""


def add_rep(rep: argparse.ArgumentParser) -> None:
    """Give ``rep`` its options."""
    rep.description = (
        "Write a synthetic repetition as CSV, as a phone would record it. The files "
        "hold positions over time and nothing about the faults put in."
    )
    add_examples(
        rep,
        "squatlab rep --list",
        "squatlab rep --fault knee_valgus=10 --view front -o valgus.csv",
    )
    rep.add_argument(
        "-o",
        "--output",
        type=Path,
        default=Path("squat.csv"),
        metavar="FILE.csv",
        help="where to write (default: squat.csv; --view both puts -side and -front to the name)",
    )
    rep.add_argument(
        "--list", action="store_true", help="print the faults with units and sizes, write nothing"
    )
    rep.add_argument(
        "--fault",
        type=_injected,
        action="append",
        default=[],
        metavar="FAULT=SIZE",
        help="put a fault in, its size in the unit of --list, such as knee_valgus=10; repeatable",
    )
    rep.add_argument(
        "--view",
        choices=("side", "front", "3d", "both"),
        default="both",
        help="where the camera stands; 3d: exact, in metres (default: both)",
    )
    rep.add_argument("--bar", choices=("high", "low"), default="high", help="default: high")
    for name, value, unit, what in (
        ("--load", 60.0, "kg", "the bar with its plates"),
        ("--stature", 1.75, "m", "the lifter's height"),
        ("--mass", 75.0, "kg", "the lifter's body mass"),
        ("--descent", 1.8, "s", "seconds from standing to the lowest point"),
        ("--fps", 60.0, "Hz", "pictures per second"),
        ("--noise", 3.0, "px", "scatter of each position, SD"),
    ):
        rep.add_argument(
            name,
            type=quantity(unit),
            default=value,
            metavar=unit.upper(),
            help=f"{what} (default: {value:g})",
        )
    rep.add_argument("--repetitions", type=int, default=1, metavar="N", help="default: 1")
    rep.add_argument(
        "--seed", type=seed_number, default=0, metavar="N", help="of all chance; default: 0"
    )
    rep.add_argument("--replace", **REPLACE)
    rep.set_defaults(run=_rep)


def _injected(given: str) -> tuple[str, float]:
    """Return a typed fault and its size; argparse says what is wrong with it."""
    name, _, size = given.partition("=")
    try:
        return faults.fault(name).id, float(size)
    except ValueError as error:
        words = str(error) if name not in faults.catalogue() else f"{size!r} is no size"
        raise argparse.ArgumentTypeError(
            f"{given!r}: {words}; write FAULT=SIZE, such as knee_valgus=10 (squatlab rep --list)"
        ) from None


@speaking_options()
def _rep(options: argparse.Namespace) -> int:
    """Write the repetition's files; print what they are and what to try."""
    if options.list:
        print(*_listed(), sep="\n")
        return 0
    if options.output.is_dir():
        raise IsADirectoryError(f"-o is {options.output}, a folder; name a .csv file in it")
    if not options.output.suffix:
        options.output = options.output.with_suffix(".csv")
    rep = _synthesised(options)
    written = _written(dict(_filmed(rep, options)), options)
    put_in = [
        f"{faults.fault(name)} ({name} {_reading(name, size)})" for name, size in options.fault
    ]
    print(f"Wrote {' and '.join(map(str, written))}; a .schema.json beside each tells the columns.")
    print(f"In the movement, but not in the files: {', '.join(put_in) or 'no fault'}.")
    print(*rep.notes, sep="\n", end="\n" if rep.notes else "")
    if any(name == "heel_lift" for name, _ in options.fault):
        print(
            "Heels up put the weight on the balls of the feet: the bar goes forward with it,\n"
            "and a review will read that too."
        )
    print(f"To see what a review finds:\n  {_review_line(written, options)}")
    return 0


def _synthesised(options: argparse.Namespace) -> Rep:
    """Return the repetition; ValueError if the lifter cannot do it."""
    # Here, because the bar's mass and the lifter's have one name.
    within("--load", options.load, 0.0, HEAVIEST_KG, "kg on the bar")
    names = [name for name, _ in options.fault]
    if twice := sorted({name for name in names if names.count(name) > 1}):
        raise ValueError(f"--fault {', '.join(twice)} is given twice; give each fault one size")
    rep = synthesise(
        Lifter.from_stature(options.stature, options.mass),
        {"high": Bar.high, "low": Bar.low}[options.bar](options.load),
        Stance(),
        Tempo(descent_s=options.descent, repetitions=options.repetitions),
        [Injection(name, size) for name, size in options.fault],
        np.random.default_rng(options.seed),
    )
    if not np.all(rep.feasible):
        raise ValueError(f"this lifter cannot do that: {rep.reason}")
    return rep


def _filmed(rep: Rep, options: argparse.Namespace) -> Iterator[tuple[Path, Tracks]]:
    """Yield each file with what the camera there recorded."""
    if options.view == "3d":
        yield options.output, rep.tracks()
        return
    rng = np.random.default_rng(options.seed)
    views = ("side", "front") if options.view == "both" else (options.view,)
    for view in views:
        camera = {"side": Camera.side, "front": Camera.front}[view](
            distance_m=DISTANCE_M, height_m=HEIGHT_M, rate=options.fps, noise_px=options.noise
        )
        name = options.output
        if len(views) > 1:
            name = name.with_name(f"{name.stem}-{view}{name.suffix}")
        yield name, film(rep.points, rep.time, camera, rng)


def _written(filmed: dict[Path, Tracks], options: argparse.Namespace) -> list[Path]:
    """Write all tracks, or none where a file or what tells its columns is there."""
    contents = {
        file: text
        for path, tracks in filmed.items()
        for file, text in tracks.as_files(path).items()
    }
    must_be_new(options, *contents, other="name with -o")
    if not options.output.parent.is_dir():
        raise FileNotFoundError(
            f"there is no folder {options.output.parent}; make it, or write elsewhere"
        )
    storage.write_together(contents)
    return list(filmed)


def _review_line(written: list[Path], options: argparse.Namespace) -> str:
    """Return the command that reviews what was written."""
    line = [
        "squatlab",
        "review",
        *map(str, written),
        "--load",
        f"{options.load:g}",
        "--stature",
        f"{options.stature:g}",
        "--mass",
        f"{options.mass:g}",
    ]
    if options.view != "3d":
        line += ["--distance", f"{DISTANCE_M:g}", "--height", f"{HEIGHT_M:g}"]
    return as_typed(line)


def _listed() -> Iterator[str]:
    """Yield the faults with their sizes, as lines of a table."""
    catalogue = faults.catalogue()
    width, names = max(map(len, catalogue)), max(len(f.name) for f in catalogue.values())
    yield f"{'fault':{width}}  {'name':{names}}  {'slight':>7} {'clear':>6} {'gross':>6}"
    for fault in catalogue.values():
        sizes = [f"{size:g}" for size in fault.thresholds]
        yield (
            f"{fault.id:{width}}  {fault.name:{names}}  {sizes[0]:>7} {sizes[1]:>6} {sizes[2]:>6} "
            f"{fault.unit:2}  {fault.seen}"
        )


def _reading(name: str, size: float) -> str:
    """Return a fault's size with its unit."""
    unit = faults.fault(name).unit
    return f"{size:g}{'' if unit == '°' else ' '}{unit}"
