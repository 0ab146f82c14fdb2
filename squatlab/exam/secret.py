"""What the instructor alone knows, and from which every form follows."""

from __future__ import annotations

import hashlib
import hmac
import os
import secrets
import stat
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from squatlab import storage
from squatlab.questions import files

LENGTH = 32
"""Bytes of a secret."""

LEAST_DIFFERENT = 16
"""Bytes of a secret that differ from each other. Of 32 random bytes fewer are
different once in 10¹³ draws: then it was typed, not drawn."""

DEMOS = 10_000
"""Seeds of demos whose secrets are known to everybody."""


@dataclass(frozen=True, repr=False)
class Secret:
    """Hold what the instructor alone knows; printing it shows nothing."""

    value: bytes

    @classmethod
    def make(cls, path: str | Path) -> Secret:
        """Draw a new secret into a file that only its owner may read.

        Raises FileExistsError if there is a file: forms may hang on it.
        """
        if Path(path).exists():
            raise FileExistsError(
                f"{path} is there already, and forms may have been made from it: use it as it is "
                "(without --new-secret), or name another file"
            )
        made = cls(secrets.token_bytes(LENGTH))
        files.save(path, "exam secret", {"secret": made.value.hex()}, mode=storage.OWNER_ONLY)
        return made

    @classmethod
    def read(cls, path: str | Path) -> Secret:
        """Read a secret; ValueError if others may read the file as well."""
        path = Path(path)
        body = files.load(path, "exam secret")
        try:
            value = bytes.fromhex(body["secret"])
        except (LookupError, TypeError, ValueError):
            raise ValueError(f"{path.name} holds no secret; use the file that was drawn") from None
        for_owner_alone(path, "forms")
        return cls(value)

    @property
    def weakness(self) -> str:
        """Return why this can be guessed, "" for one as the tool draws them."""
        if len(self.value) != LENGTH:
            return f"it has {len(self.value)} bytes, and the tool draws {LENGTH}"
        if len({*self.value}) < LEAST_DIFFERENT:
            return "its bytes are too much alike to have been drawn"
        if self in _published():
            return "it is that of a demo or a trial, which everybody has"
        return ""

    def draw(self, *words: object) -> int:
        """Return the 128 bits that these words give with this secret.

        HMAC-SHA256: whoever sees what was drawn for some words learns nothing
        of the secret, nor of what is drawn for others.
        """
        # As JSON, so that ("a", "bc") and ("ab", "c") are not the same words.
        message = files.canonical([str(word) for word in words]).encode()
        return int.from_bytes(hmac.digest(self.value, message, hashlib.sha256)[:16])

    def salt(self, form: str) -> str:
        """Return the 32 bytes that keep a form's seal from being guessed, as hex."""
        return hmac.digest(self.value, f"salt of {form}".encode(), hashlib.sha256).hex()


def of_demo(seed: int) -> Secret:
    """Return a demo's secret, which is none: whoever has the seed has it."""
    return Secret(hashlib.sha256(f"invented rowing club {seed}".encode()).digest())


@cache
def _published() -> frozenset[Secret]:
    """Return the secrets of demos, which anybody can make."""
    return frozenset(map(of_demo, range(DEMOS)))


def for_owner_alone(path: Path, what: str) -> None:
    """Raise ValueError if others may read the file from which ``what`` are made."""
    if os.name == "posix" and path.stat().st_mode & (stat.S_IRWXG | stat.S_IRWXO):
        raise ValueError(
            f"{path} can be read by others on this machine, so it is no secret; make a new one "
            f"for new {what} (to go on all the same: chmod 600 {path})"
        )
