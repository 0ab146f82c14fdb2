"""A working copy of notebooks and demo files that never loses what somebody wrote."""

from __future__ import annotations

import contextlib
import hashlib
import json
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from squatlab import storage, tables, units
from squatlab.lessons.us_prose import notebook_with_us

START = "00_start_here.ipynb"
RECORD = ".squatlab-copied.json"
"""In a working copy: the fingerprint of each file as it was copied."""

INSTRUCTOR = "instructor"
"""In a working copy: the folder of the instructor's notebooks, with the key to the checks."""

DEMO = "demo"
"""In a working copy: the folder of the invented class, to try and to copy."""


@dataclass(frozen=True)
class Copied:
    """Say what making a working copy did, by relative path.

    ``kept`` pairs each file left as its owner changed it with the one
    beside it that holds the course's own.
    """

    folder: Path
    new: tuple[str, ...]
    refreshed: tuple[str, ...]
    kept: tuple[tuple[str, str], ...]

    def __str__(self) -> str:
        words = [f"Course folder: {self.folder}"]
        for names, what in (
            (self.new, "copied"),
            (self.refreshed, "brought up to date (you had not changed them)"),
        ):
            if names:
                words.append(f"{len(names)} file{'s' * (len(names) > 1)} {what}")
        words += [
            f"{mine}: kept as you changed it; the course's new one is beside it as {beside}"
            for mine, beside in self.kept
        ]
        return "\n".join(words)


def working_copy(folder: Path, instructor: bool = False, system: str | None = None) -> Copied:
    """Copy notebooks and demo files, or bring an older copy up to date.

    With US units, chosen by ``system`` or for the folder, the notebooks'
    prose has them in brackets. The instructor's notebooks come only if
    asked for, and stay up to date where they once came: they hold the key
    to the checks.
    A file that was changed since it was copied is left alone; if the
    course's own has changed too, that is put beside it. Raises
    NotADirectoryError if the folder's name belongs to a file, and
    FileNotFoundError if the course came without its first notebook.
    """
    if folder.exists() and not folder.is_dir():
        raise NotADirectoryError(
            f"{folder} is a file; choose another folder with --dir for the course's notebooks"
        )
    system = system or units.chosen_for(folder)
    copied = _read_record(folder)
    theirs = instructor or any(name.startswith(f"{INSTRUCTOR}/") for name in copied)
    originals = _originals(theirs)
    # First, so that a copy that was broken off is known as ours, whenever it goes on.
    missing = [name for name in originals if not (folder / name).exists()]
    _write_record(
        folder,
        copied | {name: fingerprint(_content(originals[name], system)) for name in missing},
    )
    placed: list[_Placed] = []
    try:
        for name, original in originals.items():
            placed.append(_place(original, folder, name, copied, system))
    finally:  # what was brought up to date is known as ours even where the rest failed
        with contextlib.suppress(OSError):
            _write_record(folder, copied)
    return Copied(
        folder,
        new=tuple(each.name for each in placed if each.is_new),
        refreshed=tuple(each.name for each in placed if each.is_refreshed),
        kept=tuple((each.name, each.beside) for each in placed if each.beside),
    )


def fingerprint(content: bytes) -> str:
    """Return the SHA-256 of a file's bytes, in hexadecimal."""
    return hashlib.sha256(content).hexdigest()


def _content(original: Path, system: str) -> bytes:
    """Return a file of the course as readers of a system of units get it."""
    content = original.read_bytes()
    if system == units.US and original.suffix == ".ipynb":
        with contextlib.suppress(ValueError):  # a damaged page is copied: JupyterLab says so
            return notebook_with_us(content)
    return content


def _originals(instructor: bool) -> dict[str, Path]:
    """Return the course's own files by their names in a working copy."""
    notebooks, demo = tables.folder("notebooks"), tables.folder("data") / DEMO
    if not (notebooks / START).is_file():
        raise FileNotFoundError(f"{START} is missing from {notebooks}; install squatlab again")
    paths = notebooks.rglob("*.ipynb") if instructor else notebooks.glob("*.ipynb")
    originals = {path.relative_to(notebooks).as_posix(): path for path in paths}
    originals |= {f"{DEMO}/{path.relative_to(demo).as_posix()}": path for path in demo.rglob("*.*")}
    return {name: originals[name] for name in sorted(originals) if ".ipynb_checkpoints" not in name}


class _Placed(NamedTuple):
    """Say what was done with one of the course's files.

    ``beside`` is where it was put because its owner changed the one in its
    place, "" otherwise. None of the three: it is there as it should be.
    """

    name: str
    is_new: bool = False
    is_refreshed: bool = False
    beside: str = ""


def _place(original: Path, folder: Path, name: str, copied: dict[str, str], system: str) -> _Placed:
    """Put one file where nothing of its owner's is lost; say what was done.

    ``copied`` has the fingerprint of each file as it was copied last, and is
    kept up to date: a file with another one was changed by its owner.
    """
    mine, given, content = folder / name, copied.get(name), _content(original, system)
    copied[name] = fingerprint(content)
    if not mine.exists():
        storage.write(mine, content)
        return _Placed(name, is_new=True)
    fingerprint_now = fingerprint(mine.read_bytes())
    if fingerprint_now == copied[name]:
        return _Placed(name)
    if fingerprint_now == given:
        storage.write(mine, content)
        return _Placed(name, is_refreshed=True)
    # Changed by its owner. The course's own is new only if it was given in neither system:
    # another choice of units is no reason to put every page beside the owner's.
    if given in {fingerprint(_content(original, each)) for each in units.SYSTEMS}:
        return _Placed(name)
    # The one beside it may have been changed as well: it is placed by the same rule.
    beside = f"{name.removesuffix(mine.suffix)}.new{mine.suffix}"
    placed = _place(original, folder, beside, copied, system)
    return _Placed(name, beside=placed.beside or placed.name)


def _read_record(folder: Path) -> dict[str, str]:
    """Return the fingerprints of files as they were copied; {} if not known."""
    try:
        record = json.loads((folder / RECORD).read_text(encoding="utf-8"))
    except (FileNotFoundError, ValueError):
        return {}  # without a record every differing notebook counts as changed
    return record if isinstance(record, dict) else {}


def _write_record(folder: Path, copied: dict[str, str]) -> None:
    """Keep the fingerprints of files as they were copied."""
    storage.write(folder / RECORD, json.dumps(copied, indent=1) + "\n")
