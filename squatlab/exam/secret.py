"""What the instructor alone knows, and from which every form follows."""

from __future__ import annotations

import hashlib
import hmac
import os
import secrets
import stat
from dataclasses import dataclass
from pathlib import Path

from squatlab.questions import files


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
            raise FileExistsError(f"{path} is there already: forms may have been made from it")
        made = cls(secrets.token_bytes(32))
        files.save(path, "exam secret", {"secret": made.value.hex()}, mode=0o600)
        return made

    @classmethod
    def read(cls, path: str | Path) -> Secret:
        """Read a secret; ValueError if others may read the file as well."""
        path = Path(path)
        value = bytes.fromhex(files.load(path, "exam secret")["secret"])
        for_owner_alone(path, "forms")
        return cls(value)

    def draw(self, *words: object) -> int:
        """Return the 128 bits that these words give with this secret."""
        told = files.canonical([str(word) for word in words]).encode()
        return int.from_bytes(hmac.digest(self.value, told, hashlib.sha256)[:16])

    def salt(self, form: str) -> str:
        """Return the 32 bytes that keep a form's seal from being guessed, as hex."""
        return hmac.digest(self.value, f"salt of {form}".encode(), hashlib.sha256).hex()


def for_owner_alone(path: Path, what: str) -> None:
    """Raise ValueError if others may read the file from which ``what`` are made."""
    if os.name == "posix" and path.stat().st_mode & (stat.S_IRWXG | stat.S_IRWXO):
        raise ValueError(
            f"{path} can be read by others on this machine, so it is no secret; make a new one "
            f"for new {what} (to go on all the same: chmod 600 {path})"
        )
