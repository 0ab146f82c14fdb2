"""Files of one entry a line, each on the disk before it counts, none ever changed."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

from squatlab.questions import files

Entry = dict[str, Any]


def begin(path: str | Path, head: Entry) -> list[Entry | None]:
    """Return the entries after the head of a file, which is begun if need be.

    Half a line at the end, left by a crash, is cut off; an entry that was
    changed since is None. Raises ValueError if the file has another head.
    """
    path = Path(path)
    kept = path.read_bytes() if path.exists() else b""
    whole = kept[: kept.rfind(b"\n") + 1]
    if not whole:
        path.parent.mkdir(parents=True, exist_ok=True)
        files.write_whole(path, _line(head), mode=0o600)
        return []
    if len(whole) < len(kept):
        # Otherwise the next entry would be glued to the torn one, and lost with it.
        os.truncate(path, len(whole))
    first, *rest = [_entry(line) for line in whole.splitlines()]
    if first != head:
        raise ValueError(f"{path.name} was begun as something else")
    return rest


def append(path: str | Path, entry: Entry) -> None:
    """Add an entry; when this returns, it is on the disk.

    Raises OSError if it could not be saved: then the file is as before.
    """
    descriptor = os.open(path, os.O_WRONLY | os.O_APPEND)
    before = os.fstat(descriptor).st_size
    try:
        line = _line(entry).encode()
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
    return files.canonical([entry, files.fingerprint(entry)[:16]]) + "\n"


def _entry(line: bytes) -> Entry | None:
    """Return a line's entry, or None if the line was changed."""
    try:
        entry, check = json.loads(line)
        return entry if files.fingerprint(entry)[:16] == check else None
    except (ValueError, TypeError, RecursionError):
        return None
