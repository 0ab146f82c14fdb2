"""``squatlab progress``: one page of a class from everybody's working copies."""

from __future__ import annotations

import argparse
from pathlib import Path

from squatlab import storage
from squatlab.commands.options import REPLACE, add_examples, must_be_new
from squatlab.lessons.class_standing import RULE, ClassStanding
from squatlab.lessons.standing import FOLDER, CourseStanding
from squatlab.show.class_page import class_page, gain_words


def add_progress(progress: argparse.ArgumentParser) -> None:
    """Give ``progress`` its options."""
    progress.description = (
        "Read trainees' working copies and write one page: which checks and faults the class "
        "misses, by how many people, and what to teach again. It names nobody."
    )
    progress.epilog = (
        f"{RULE} A folder is a trainee's working copy, or a copy of the folder “{FOLDER}” in it "
        "put into a folder of its own. Nothing in it is changed."
    )
    add_examples(progress, "squatlab progress copies/anna copies/ben -o class.html")
    progress.add_argument(
        "folders", type=Path, nargs="+", metavar="FOLDER", help="a trainee's working copy"
    )
    progress.add_argument(
        "-o",
        "--output",
        type=Path,
        default=Path("class.html"),
        metavar="FILE.html",
        help="default: class.html",
    )
    progress.add_argument("--replace", **REPLACE)
    progress.set_defaults(run=_progress)


def _progress(options: argparse.Namespace) -> int:
    """Read the folders, write the page and print what to teach again."""
    must_be_new(options, options.output, other="file with -o")
    for folder in options.folders:
        if not (folder / FOLDER).is_dir():
            raise FileNotFoundError(
                f"{folder} has no folder “{FOLDER}”: nothing was answered there yet, or it is not "
                "a working copy; name those that squatlab open made, or copies of them"
            )
    standing = ClassStanding([CourseStanding(folder) for folder in options.folders])
    storage.write(options.output, class_page(standing))
    print(RULE)
    for lesson in standing.teach_again:
        print(f"  {lesson.words}: missed by {lesson.missed} of {lesson.met}")
    print(gain_words(standing.gains), *standing.damaged, sep="\n")
    print(f"Written: {options.output}")
    return 0
