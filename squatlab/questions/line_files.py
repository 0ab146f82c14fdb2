"""Files of one entry a line, each on the disk before it counts, none ever changed.

Nothing is written to a file before its first line, the head, is known to be
ours. A file whose head was damaged is set aside under a new name, and the
entries that are whole are taken over into a new one.
"""

from __future__ import annotations

import json
import os
import re
from pathlib import Path
from typing import Any, NamedTuple

from squatlab import storage
from squatlab.questions import files

Entry = dict[str, Any]

CHECK = 16
"""Digits of the fingerprint that stands behind each entry."""

LINE_END = re.compile(rb"\r\n|\n|\r")
"""An editor may have changed them; within an entry none of them can stand."""


class AnotherFile(ValueError):
    """Say that a file is not the one it should be: it was left as it is."""


class LineFile(NamedTuple):
    """Hold the entries after the head, None for one that was changed since,
    and under which name a damaged file was set aside, if it was.
    """

    entries: list[Entry | None]
    set_aside: Path | None = None


def begin(path: str | Path, head: Entry) -> LineFile:
    """Return what stands in a file, which is begun if need be.

    Half a line at the end, left by a crash, is cut off. Raises AnotherFile
    for one that was begun with another head or is none of ours, OSError
    if it cannot be read or written.
    """
    path, first_line = Path(path), _line(head).encode()
    if not path.exists():
        storage.write(path, first_line, mode=storage.OWNER_ONLY)
        return LineFile([])
    kept = storage.read(path)
    if not kept:
        storage.write(path, first_line, mode=storage.OWNER_ONLY)
        return LineFile([])
    *lines, tail = LINE_END.split(kept)
    whole = [*lines, tail] if _entry(tail) is not None else lines
    if not whole or _entry(whole[0]) != head:
        return _set_aside(path, kept, first_line)
    if len(whole) > len(lines):
        _append_bytes(path, b"\n")  # the last entry is whole: only its line end was lost
    elif tail:
        # Otherwise the next entry would be glued to the torn one, and lost with it.
        os.truncate(path, len(kept) - len(tail))
    return LineFile([_entry(line) for line in whole[1:]])


def _set_aside(path: Path, kept: bytes, first_line: bytes) -> LineFile:
    """Keep a damaged file of ours under another name and take its entries over.

    Raises AnotherFile for what is not known to be ours: that is left alone.
    """
    first, *rest = LINE_END.split(kept)
    if not _damaged_head(first, first_line):
        raise AnotherFile(f"{path.name} was started as something else")
    entries = [_entry(line) for line in rest if line.strip(b"\0 ")]
    lines = [first_line, *(_line(entry).encode() for entry in entries if entry is not None)]
    # First the damaged one is safe under its new name, then the new one takes its place.
    aside = storage.copy_aside(path)
    storage.write(path, b"".join(lines), mode=storage.OWNER_ONLY)
    return LineFile(entries, aside)


def _damaged_head(line: bytes, ours: bytes) -> bool:
    """Return whether a line is our head with a fault, and no other file's.

    Nothing but NULs, as a crash may leave; the beginning of our head; or a
    head of which either the entry or its fingerprint is ours.
    """
    ours = ours.rstrip(b"\n")
    if not line.strip(b"\0"):
        return bool(line)
    if _entry(line) is not None:
        return False
    if ours.startswith(line.rstrip(b"\0")):
        return True
    cut = -(CHECK + len(b',""]'))
    return line[:cut] == ours[:cut] or (line[cut:] == ours[cut:] and line[:1] == ours[:1])


def append(path: str | Path, entry: Entry) -> None:
    """Add an entry; when this returns, it is on the disk.

    Raises OSError if it could not be saved: then the file is as before.
    """
    _append_bytes(Path(path), _line(entry).encode())


def _append_bytes(path: Path, line: bytes) -> None:
    """Add bytes to a file and wait for the disk; after an OSError it is as before."""
    descriptor = os.open(path, os.O_WRONLY | os.O_APPEND | getattr(os, "O_BINARY", 0))
    before = os.fstat(descriptor).st_size
    try:
        while line:  # a full disk may take a part of it first
            line = line[os.write(descriptor, line) :]
        os.fsync(descriptor)
    except OSError as problem:
        os.ftruncate(descriptor, before)
        raise OSError(
            problem.errno,
            f"this was NOT saved ({problem.strerror}); what was saved before is safe. Make room "
            "on the disk, then do it again",
        ) from problem
    finally:
        os.close(descriptor)


def _line(entry: Entry) -> str:
    """Return an entry as its line: itself and the head of its fingerprint."""
    return files.canonical([entry, files.fingerprint(entry)[:CHECK]]) + "\n"


def _entry(line: bytes) -> Entry | None:
    """Return a line's entry, or None if the line was changed."""
    try:
        entry, check = json.loads(line)
        intact = isinstance(entry, dict) and files.fingerprint(entry)[:CHECK] == check
        return entry if intact else None
    except (ValueError, TypeError, RecursionError):
        return None
