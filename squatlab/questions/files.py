"""Files that are whole or not there, and fingerprints of what they hold."""

from __future__ import annotations

import hashlib
import json
import re
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from squatlab import storage

VERSION = 1
"""Of every file the exam writes; a higher one is refused, never guessed at."""

LARGEST = 4_000_000
"""No file of the exam is longer, in bytes [teaching-value]."""


def now() -> datetime:
    """Return the time in UTC; the default of every clock that can be given."""
    return datetime.now(UTC)


def stamp(moment: datetime) -> str:
    """Return a time as text that sorts, in UTC to the millisecond.

    Raises ValueError for a time that does not say its zone.
    """
    if moment.tzinfo is None:
        raise ValueError(f"{moment} has no time zone; give one, as datetime.now(UTC) does")
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def harmless(given: object, longest: int = 60) -> str:
    """Return what somebody else wrote so that it can be printed.

    On one line, without signs that steer a terminal, and not longer than
    ``longest``.
    """
    text = str(given)[: longest + 1]
    text = "".join(sign if sign.isprintable() else "�" for sign in text)
    return text if len(text) <= longest else f"{text[:longest]}…"


def identifier(what: str, given: str) -> str:
    """Return an id that may stand in a file name, or raise ValueError."""
    if not isinstance(given, str) or not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9_-]{0,63}", given):
        raise ValueError(
            f"the {what} is “{harmless(given)}”; use 1 to 64 letters, digits, - and _, a letter or "
            "digit first, and no names of persons"
        )
    return given


def canonical(value: Any) -> str:
    """Return the one JSON text of a value: equal values, equal text."""
    return json.dumps(
        value, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False
    )


def fingerprint(value: Any) -> str:
    """Return the SHA-256 of a value's canonical JSON, 64 hex digits."""
    return hashlib.sha256(canonical(value).encode()).hexdigest()


def write_whole(path: str | Path, content: str | bytes, mode: int = 0o644) -> Path:
    """Write a file so that it is old or new after any crash, never half.

    ``mode`` is who may read it. Raises OSError as `squatlab.storage.write`.
    """
    return storage.write(path, content, mode)


def save(path: str | Path, what: str, body: dict[str, Any], mode: int = 0o644) -> Path:
    """Write a JSON file that says what it is and carries its checksum."""
    return write_whole(path, wrapped(what, body), mode)


def wrapped(what: str, body: dict[str, Any]) -> str:
    """Return what `save` writes, for a file inside another."""
    whole = {"what": f"squatlab {what}", "version": VERSION, **body}
    return canonical(whole | {"checksum": fingerprint(whole)}) + "\n"


def load(path: str | Path, what: str) -> dict[str, Any]:
    """Return the body that `save` wrote.

    Raises ValueError that names the file, says whether it is damaged, of
    another kind or of a newer version, and what to do.
    """
    path = Path(path)
    return unwrapped(storage.read(path, LARGEST), path.name, what)


def unwrapped(raw: bytes, name: str, what: str) -> dict[str, Any]:
    """Return the body of what `wrapped` gave; ValueError as `load`."""
    try:
        whole = json.loads(raw)
        kind, version = whole["what"], whole["version"]
        intact = whole.pop("checksum") == fingerprint(whole)
    except (ValueError, LookupError, TypeError, RecursionError):
        intact, kind, version = False, "", VERSION
    if kind and kind != f"squatlab {what}":
        raise ValueError(
            f"{name} is no squatlab {what} but a {harmless(kind)}; choose the right file"
        )
    if version != VERSION:
        raise ValueError(
            f"{name} has version {harmless(version)}, this squatlab reads {VERSION}; install the "
            "squatlab that wrote it"
        )
    if not intact:
        raise ValueError(
            f"{name} is no squatlab {what}, or is damaged or was changed: its checksum does "
            "not fit; ask for the file again"
        )
    return {part: value for part, value in whole.items() if part not in ("what", "version")}
