"""The one writer of files: what it writes is old or new, never half; and one reader.

A file is written beside the old one, flushed to the disk and renamed over
it, which every system does at once. Several files that belong together are
all written beside before the first is renamed; if a rename fails, those
done are taken back. Only when the power goes between two renames can new
stand beside old; each file is whole even then.
"""

from __future__ import annotations

import contextlib
import errno
import os
import re
import secrets
import stat
import time
from collections.abc import Mapping
from pathlib import Path

LARGEST = 500_000_000
"""No file that people give is longer, in bytes: an hour of positions in
space has a fifth of that [teaching-value]."""

OWNER_ONLY = 0o600
"""Who may read keys, secrets and records of people."""

FileContent = str | bytes


def write(path: str | Path, content: FileContent, mode: int | None = None) -> Path:
    """Write a file so that it is old or new after any crash, never half.

    Text is written as UTF-8. ``mode`` is who may read it, by default whoever
    could before. Raises OSError that says what is still there if the disk
    is full, the folder or file cannot be written or the name belongs to
    something that is no file.
    """
    path = Path(path)
    write_together({path: content}, mode)
    return path


def write_together(
    contents: Mapping[Path, FileContent], mode: int | Mapping[Path, int] | None = None
) -> None:
    """Write several files that belong together: all of them or none.

    Folders are made as needed. ``mode`` is that of `write`, for all or for
    each by its path. Raises OSError as `write`; then every file is as it
    was before.
    """
    for path in contents:
        refuse_what_is_no_file(path)
    staged: dict[Path, Path] = {}
    try:
        for path, content in contents.items():
            path.parent.mkdir(parents=True, exist_ok=True)
            place = Path(os.path.realpath(path))  # through a link the file itself is written
            staged[place] = spare = _beside(place)
            asked = mode[path] if isinstance(mode, Mapping) else mode
            _write_and_flush(spare, content, _mode_for(place, asked))
        _rename(staged)
    except OSError as problem:
        raise OSError(
            problem.errno,
            f"{path} was not written ({problem.strerror or problem}); what stood there before is "
            "unchanged. Make room on the disk or choose another folder, then save again",
        ) from problem
    finally:
        for spare in staged.values():
            with contextlib.suppress(OSError):
                spare.unlink()


def check_can_write_into(folder: Path) -> None:
    """Raise OSError if nothing can be written in a folder, before the work.

    Of one that is not there yet, the nearest folder above it counts.
    """
    nearest = next(place for place in (folder, *folder.absolute().parents) if place.exists())
    if not nearest.is_dir():
        raise NotADirectoryError(f"{nearest} is a file, so nothing can be written in it")
    if not os.access(nearest, os.W_OK | os.X_OK):
        raise PermissionError(
            f"nothing can be written in {nearest}: choose another folder, or ask whoever keeps it"
        )


def _mode_for(path: Path, mode: int | None) -> int:
    """Return who may read a new file. Raises PermissionError for a locked old one."""
    if not path.exists():
        return 0o644 if mode is None else mode
    if not os.access(path, os.W_OK):
        raise PermissionError(errno.EACCES, "it is locked against writing", str(path))
    return stat.S_IMODE(path.stat().st_mode) if mode is None else mode


def copy_aside(path: Path) -> Path:
    """Keep a damaged file under a new name beside it and return that name.

    Nothing is written over: ``x.txt`` is kept as ``x.damaged-1.txt``, or the
    next number that is free. Raises OSError if it cannot be kept.
    """
    content, number = read(path), 1
    while True:
        aside = path.with_name(f"{path.stem}.damaged-{number}{path.suffix}")
        try:
            _write_and_flush(aside, content, OWNER_ONLY)
        except FileExistsError:
            number += 1
            continue
        _flush_folder(path.parent)
        return aside


def read(path: str | Path, at_most: int = LARGEST) -> bytes:
    """Return what is in a file.

    Raises OSError for what is no file or cannot be read, ValueError for
    one that is longer than ``at_most`` bytes.
    """
    path = Path(path)
    check_readable(path, at_most)
    with path.open("rb") as file:
        return file.read(at_most)


def check_readable(path: Path, at_most: int = LARGEST) -> None:
    """Refuse what would block or never end: pipes, devices, huge files.

    Raises OSError or ValueError as `read`.
    """
    refuse_what_is_no_file(path)
    size = path.stat().st_size
    if size > at_most:
        raise ValueError(
            f"{path.name} is longer than {at_most / 1e6:g} MB, which no such file is; choose the "
            "right one"
        )


def refuse_what_is_no_file(path: Path) -> None:
    """Raise OSError for a folder, pipe, device or circle of links by that name.

    A name that nothing has yet is fine.
    """
    try:
        kind = path.stat().st_mode
    except FileNotFoundError:
        return
    if stat.S_ISDIR(kind):
        raise IsADirectoryError(f"{path} is a folder; name a file in it")
    if not stat.S_ISREG(kind):
        raise OSError(f"{path} is a pipe or a device; save what it holds as a file, and name that")


LEFTOVER = re.compile(r"\.squatlab-[0-9a-f]{16}\.tmp")


def is_leftover(path: Path) -> bool:
    """Return whether a file is what a write left that was killed."""
    return LEFTOVER.fullmatch(path.name) is not None


def _beside(path: Path) -> Path:
    """Return a name beside a file that nobody has, hidden and ours."""
    return path.with_name(f".squatlab-{secrets.token_hex(8)}.tmp")


def _clear_leftovers(folder: Path) -> None:
    """Delete what writes that were killed left behind, a day ago or longer."""
    for path in filter(is_leftover, folder.glob(".squatlab-*.tmp")):
        with contextlib.suppress(OSError):
            if time.time() - path.stat().st_mtime > 86_400:
                path.unlink()


def _write_and_flush(path: Path, content: FileContent, mode: int) -> None:
    """Write a new file through to the disk. Raises OSError."""
    content = content.encode() if isinstance(content, str) else content
    descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | _BINARY, mode)
    with os.fdopen(descriptor, "wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())


def _rename(staged: Mapping[Path, Path]) -> None:
    """Put staged files in their places, or leave every place as it was."""
    earlier: dict[Path, Path | None] = {}
    try:
        for path, spare in staged.items():
            if len(staged) > 1:
                earlier[path] = _kept(path)
            os.replace(spare, path)
        for folder in {path.parent for path in staged}:
            _flush_folder(folder)
            _clear_leftovers(folder)
    except BaseException:
        for path, old in earlier.items():
            with contextlib.suppress(OSError):
                os.replace(old, path) if old else path.unlink()
        raise
    finally:
        for old in filter(None, earlier.values()):
            with contextlib.suppress(OSError):
                old.unlink()


def _kept(path: Path) -> Path | None:
    """Return a second name for the old file, None where there is none."""
    if not path.exists():
        return None
    spare = _beside(path)
    try:
        os.link(path, spare)
    except OSError:  # some disks know no second names
        _write_and_flush(spare, path.read_bytes(), OWNER_ONLY)
    return spare


def _flush_folder(folder: Path) -> None:
    """Make the folder's new entries last; only POSIX systems have a way."""
    if os.name == "posix":
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


_BINARY = getattr(os, "O_BINARY", 0)
"""Windows would write other line ends without it."""
