"""``squatlab review``: recorded positions in, the one thing to fix first out."""

from __future__ import annotations

import argparse
import json
import math
import os
from pathlib import Path
from typing import Any, NamedTuple

import squatlab
from squatlab.adapters import contents, format_of, read
from squatlab.commands.loading import load
from squatlab.commands.option_words import speaking_options
from squatlab.commands.options import REPLACE, add_examples, must_be_new, quantity
from squatlab.commands.terminal_progress import progress_line
from squatlab.faults import TIERS
from squatlab.lifter import Lifter
from squatlab.mechanics.trunk import HEAVIEST_KG
from squatlab.ranges import within
from squatlab.review import ErrorModel, Findings, Ranking, measure, prioritise
from squatlab.review.priority import policies
from squatlab.review.wording import CAUTION
from squatlab.spreadsheet import read_rows
from squatlab.tracks import Tracks
from squatlab.tracks.naming import MIDDLE

NOTHING, SOMETHING, UNTOLD, NOT_ENOUGH = 0, 1, 3, 5
"""The exit codes of a review; 2 is for wrong use and files without a repetition."""


MORE = """\
exit codes: 0 nothing to fix in what could be told, 1 something to fix,
2 wrong use or a file that cannot be read or holds no repetition,
3 there are repetitions, but no fault could be told,
5 not enough seen: what could be told is fine, but a fault that would come
first could not be told

--json prints one object: squatlab, files, declared, repetitions, findings
(one for each fault of the catalogue, in its order), notes, policy, stop,
first (a fault or null), sureness (0 to 1), named (the first, or two where
one is not sure), enough_seen, ranking, advice, shared_causes, cannot_tell,
would_come_first_if_large, margin, caution; null is not known. A value is
right to plus_minus in 95 of 100; chances are those of slight, clear, gross. Of a repetition
start_s, bottom_s, deepest_s and end_s are times of its view's film; onset_s
counts from the start_s of the finding's repetition (the table adds both)

Stop on pain. This diagnoses nothing: pain and injury are for a licensed professional.
"""
"""What stands below the help; the keys of the JSON object stay as they are."""


class DeclaredPlace(NamedTuple):
    """Say where the camera stood, as the user declares it."""

    distance_m: float
    height_m: float


def add_review(review: argparse.ArgumentParser) -> None:
    """Give ``review`` its options."""
    review.description = (
        "Review recorded positions: CSV, C3D, or COCO key points as JSON.\n"
        "Two files are two views of the same repetitions."
    )
    review.epilog = MORE
    add_examples(
        review,
        "squatlab review squat-side.csv squat-front.csv --load 60 --stature 1.75 --mass 75",
        "squatlab review film.json --points",
    )
    add_recording(review)
    review.add_argument(
        "--points",
        action="store_true",
        help="only list what the files hold, and what each label means to us",
    )
    review.add_argument(
        "--policy",
        default=policies()[0],
        metavar="NAME",
        help=f"what comes first: {' or '.join(policies())}; tiers: {', '.join(TIERS.values())}",
    )
    review.add_argument("--json", action="store_true", help="print one JSON object instead")
    review.add_argument(
        "--figure", type=Path, metavar="FILE", help="draw it on a sheet, too: .png or .pdf"
    )
    review.add_argument("--replace", **REPLACE)
    review.set_defaults(run=_review)


def add_recording(parser: argparse.ArgumentParser) -> None:
    """Give a command the options that say what a recording is."""
    parser.add_argument("files", nargs="+", type=Path, metavar="FILE", help="one for each view")
    parser.add_argument("--units", choices=("px", "m", "cm", "mm"), help="if the file does not say")
    parser.add_argument(
        "--view",
        action="append",
        choices=("side", "front", "oblique", "3d"),
        help="where the camera stood, if the file does not say; once, or once for each file",
    )
    parser.add_argument(
        "--fps",
        type=float,
        action="append",
        metavar="HZ",
        help="pictures per second that the camera took; JSON files and numbered frames need it, "
        "and it goes before the times in a CSV file; once, or once for each file",
    )
    parser.add_argument(
        "--point",
        action="append",
        default=[],
        metavar="OURS=THEIRS",
        help="what a label of the file is, such as hip_r=RightHip, or the middle of two, "
        "knee_r=Lateral+Medial; repeatable; or a .csv file with the columns point and label",
    )
    parser.add_argument(
        "--person",
        type=int,
        metavar="N",
        help="of several people in JSON files, by size at first (default: 1, the largest)",
    )
    parser.add_argument(
        "--axes",
        metavar="WORDS",
        help='where x, y and z of a file in space point, such as "x right, y forward, z up"',
    )
    parser.add_argument(
        "--scale",
        type=float,
        action="append",
        metavar="PX",
        help="pixels per metre, if no plate was tracked; once, or once for each file",
    )
    for name, unit, what in (
        ("--load", "kg", 'the bar with its plates, or such as "135 lb"; 0 for none'),
        ("--mass", "kg", 'the lifter\'s body mass, or such as "165 lb"; goes with --stature'),
        ("--stature", "m", "the lifter's height, or such as 5'9; goes with --mass"),
        ("--distance", "m", "from the camera to the lifter's middle; goes with --height"),
        ("--height", "m", "of the camera above the floor; goes with --distance"),
    ):
        parser.add_argument(name, type=quantity(unit), metavar=unit.upper(), help=what)
    parser.add_argument(
        "--placement",
        type=float,
        metavar="SHARE",
        help="how far off the points are marked, against what is usual "
        "(hip 2.2 cm, knee 1.3 cm): 0 exactly, 1 usually; left out, it is estimated",
    )


@speaking_options()
def _review(options: argparse.Namespace) -> int:
    """Read, measure, rank and print; return what the exit code says."""
    if options.points:
        print(*(repr(contents(file)) for file in options.files), sep="\n\n")
        return NOTHING
    if options.figure:
        _must_be_drawable(options.figure)
        must_be_new(options, options.figure, other="name with --figure")
    lifter, camera = declared(options)
    tracks = read_recording(options)
    with progress_line("measuring"):
        errors = ErrorModel(placement=options.placement)
        findings = measure(
            *tracks, lifter=lifter, bar_kg=options.load, camera=camera, errors=errors
        )
    ranking = prioritise(findings, options.policy, loaded=options.load != 0)
    if options.json:
        as_json = _as_json(options, tracks, findings, ranking)
        print(json.dumps(as_json, indent=1, allow_nan=False))
    else:
        for file, film in zip(options.files, tracks, strict=True):
            print(f"{file}: {film!r}", *(f"  {note}" for note in film.notes), sep="\n")
        print("", repr(findings), "", repr(ranking), sep="\n")
    if options.figure:
        sheet = load("squatlab.show.review_sheet:ReviewSheet")
        sheet(tracks, findings, ranking).save(options.figure)
        if not options.json:
            print(f"\nDrawn: {options.figure}")
    if ranking.first:
        return SOMETHING
    if len(ranking.untold) == len(ranking.findings):
        return UNTOLD
    return NOTHING if ranking.enough_seen else NOT_ENOUGH


def _must_be_drawable(figure: Path) -> None:
    """Raise ValueError for a figure that cannot be drawn where it is asked."""
    if figure.suffix.lower() not in (".png", ".pdf"):
        raise ValueError(f"--figure is {figure}; it is drawn to a .png or .pdf file")
    if not figure.parent.is_dir():
        raise ValueError(f"--figure is {figure}, but there is no folder {figure.parent}")


def declared(options: argparse.Namespace) -> tuple[Lifter | None, DeclaredPlace | None]:
    """Return the lifter and the camera the user declares, or None.

    Raises ValueError.
    """
    for one, other in (("mass", "stature"), ("distance", "height")):
        given = [name for name in (one, other) if getattr(options, name) is not None]
        if len(given) == 1:
            lacking = other if given == [one] else one
            raise ValueError(f"--{given[0]} is given without --{lacking}; give both or neither")
    if options.placement is not None:
        within("--placement", options.placement, 0, 5, "of the usual size")
    if options.load is not None:
        within("--load", options.load, 0, HEAVIEST_KG, "kg on the bar")
    lifter = camera = None
    if options.mass is not None:
        lifter = Lifter.from_stature(options.stature, options.mass)
    if options.distance is not None:
        camera = DeclaredPlace(
            within("--distance", options.distance, 1, 30, "m"),
            within("--height", options.height, 0, 3, "m"),
        )
    return lifter, camera


def read_recording(options: argparse.Namespace) -> list[Tracks]:
    """Return the tracks in the files that `add_recording` asked for.

    Raises ValueError and TracksError.
    """
    files = options.files
    by_file = {}
    for name in ("view", "scale", "fps"):
        given = getattr(options, name) or [None]
        if len(given) not in (1, len(files)):
            raise ValueError(
                f"--{name} is given {len(given)} times for {len(files)} files; give it once for "
                "all, or once for each file in the same order"
            )
        by_file[name] = given * (len(files) // len(given))
    if len({os.path.realpath(file) for file in files}) < len(files):
        raise ValueError("a file is given twice; give each view once")
    # What is given once for all files goes to those whose format asks for it; what none asks
    # for goes to all, to be refused in words.
    formats = [format_of(file) for file in files]
    shared = {"units": options.units, "axes": options.axes, "person": options.person}
    asked = {name for known in formats for name in known.takes}
    named = _points(files, options.point)
    tracks = []
    for number, (file, known) in enumerate(zip(files, formats, strict=True)):
        own = {
            name: value
            for name, value in shared.items()
            if name in known.takes or name not in asked
        }
        with progress_line(f"reading {file.name}"):
            tracks.append(
                read(
                    file,
                    view=by_file["view"][number],
                    scale_px_per_m=by_file["scale"][number],
                    rate=by_file["fps"][number],
                    points=named[file],
                    **own,
                )
            )
    return tracks


def _points(files: list[Path], given: list[str]) -> dict[Path, dict[str, str]]:
    """Return for each file our names by its labels; what no file has, for all to refuse."""
    point_of = {}
    for assignment in given:
        point, equals, label = assignment.partition("=")
        if equals:
            point_of[label] = point
        elif assignment.lower().endswith(".csv"):
            rows = read_rows(assignment, ("point", "label"))
            point_of |= {row["label"]: row["point"] for _, row in rows}
        else:
            raise ValueError(
                f"--point is {assignment}; write OURS=THEIRS, such as --point hip_r=RightHip, or "
                "name a .csv file with the columns point and label"
            )
    if len(files) == 1 or not point_of:
        return dict.fromkeys(files, point_of)
    held = {file: {label.lower() for label in contents(file).labels} for file in files}
    lost = {label for label in point_of if not any(_is_in(label, taken) for taken in held.values())}
    return {
        file: {
            label: point_of[label] for label in point_of if label in lost or _is_in(label, labels)
        }
        for file, labels in held.items()
    }


def _is_in(label: str, labels: set[str]) -> bool:
    """Return whether labels in small letters have a label, or all that it is the middle of."""
    parts = [part.strip() for part in label.lower().split(MIDDLE)]
    return label.lower() in labels or all(part in labels for part in parts)


def _as_json(
    options: argparse.Namespace, tracks: list[Tracks], findings: Findings, ranking: Ranking
) -> dict[str, Any]:
    """Return everything a review says as plain data."""
    declared = ("load", "mass", "stature", "distance", "height", "scale")
    return {
        "squatlab": squatlab.__version__,
        "files": [
            {
                "file": str(file),
                "view": film.view,
                "frames": film.times.size,
                "rate_hz": film.rate,
                "notes": film.notes,
            }
            for file, film in zip(options.files, tracks, strict=True)
        ],
        "declared": {name: getattr(options, name) for name in declared},
        **findings.as_dict(),
        "policy": ranking.policy,
        "stop": ranking.stop,
        "first": ranking.first and ranking.first.fault,
        "ranking": [{"rank": p.rank, "fault": p.fault, "reason": p.reason} for p in ranking],
        "advice": ranking.advice and ranking.advice._asdict(),
        "shared_causes": [cause._asdict() for cause in ranking.shared_causes],
        "sureness": ranking.sureness,
        "named": ranking.named,
        "enough_seen": ranking.enough_seen,
        "cannot_tell": ranking.untold,
        "would_come_first_if_large": ranking.contenders,
        "margin": ranking.margin if math.isfinite(ranking.margin) else None,
        "caution": CAUTION,
    }
