"""Keys that sign: Ed25519, in files that only their owner may read.

One key signs badges, one the head of the records. A key is a JSON Web Key
[rfc8037]; beside the secret file lies the public one, for whoever checks.
"""

from __future__ import annotations

import base64
import hashlib
import json
import secrets
from collections.abc import Callable
from pathlib import Path
from typing import Any

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric import ed25519

from squatlab import storage
from squatlab.exam.secret import for_owner_alone
from squatlab.questions import files

Jwk = dict[str, str]

KIND = {"crv": "Ed25519", "kty": "OKP"}
"""What a JSON Web Key says that it is."""

UNREADABLE = (ValueError, LookupError, TypeError, AttributeError, RecursionError)
"""What reading may raise of text that somebody else wrote."""


def make_key(path: str | Path, draw: Callable[[int], bytes] = secrets.token_bytes) -> Path:
    """Draw a key into a file that its owner alone may read.

    Returns where the public key is: beside it, for whoever checks what was
    signed. ``draw`` gives so many random bytes. Raises FileExistsError if
    either file is there: signatures may hang on it.
    """
    path = Path(path)
    beside, raw = public_path(path), draw(32)
    if there := next(filter(Path.exists, (path, beside)), None):
        raise FileExistsError(f"{there} is there already: something may have been signed with it")
    # A key without its public half could sign what nobody can check: both are written, or none.
    jwk = jwk_of(ed25519.Ed25519PrivateKey.from_private_bytes(raw)) | {"d": to_text(raw)}
    storage.write_together(
        {path: files.canonical(jwk) + "\n", beside: files.canonical(public(jwk)) + "\n"},
        {path: storage.OWNER_ONLY, beside: 0o644},
    )
    return beside


def public_path(path: str | Path) -> Path:
    """Return where the public key of a key file lies."""
    return Path(path).with_suffix(".public.json")


def read_key(path: str | Path) -> Jwk:
    """Read a key that signs, or a public one to check with.

    Raises ValueError if it is none, or if others may read a secret one.
    """
    path = Path(path)
    try:
        jwk = json.loads(path.read_text(encoding="utf-8"))
        ed25519.Ed25519PublicKey.from_public_bytes(to_bytes(jwk["x"]))
        # The public part of a secret key is derived from it again: one that was exchanged would
        # name another signer than the one who signs.
        expected = jwk_of(_private(jwk)) if "d" in jwk else public(jwk) | KIND
        if public(jwk) != expected:
            raise ValueError("its parts do not belong together")
    except UNREADABLE:
        raise ValueError(
            f"{path} is no Ed25519 key as JWK (kty OKP, crv Ed25519, x), or was changed; use the "
            "file that was written when the key was made"
        ) from None
    if "d" in jwk:
        for_owner_alone(path, "signatures")
    return jwk


def public(jwk: Jwk) -> Jwk:
    """Return a key without its secret part."""
    return {part: jwk[part] for part in ("crv", "kty", "x")}


def name_of(jwk: Jwk) -> str:
    """Return a public key's short name: 16 hex digits of its SHA-256."""
    return hashlib.sha256(to_bytes(jwk["x"])).hexdigest()[:16]


def sign(jwk: Jwk, message: bytes) -> str:
    """Return the signature of a message, as base64url."""
    return to_text(_private(jwk).sign(message))


def signed(jwk: Any, message: bytes, signature: str | bytes) -> bool:
    """Tell whether a signature is this key's, of this message."""
    try:
        raw = to_bytes(signature) if isinstance(signature, str) else signature
        ed25519.Ed25519PublicKey.from_public_bytes(to_bytes(jwk["x"])).verify(raw, message)
    except (InvalidSignature, *UNREADABLE):
        return False
    return True


def jwk_of(private: ed25519.Ed25519PrivateKey) -> Jwk:
    """Return the public key of a private one."""
    return KIND | {"x": to_text(private.public_key().public_bytes_raw())}


def to_text(raw: bytes) -> str:
    """Return bytes as base64url without padding."""
    return base64.urlsafe_b64encode(raw).rstrip(b"=").decode()


def to_bytes(text: str) -> bytes:
    """Read base64url; ValueError unless it is the one way to write its bytes.

    Else a badge could be written in several ways, and one that was altered
    would still be believed.
    """
    raw = base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))
    if to_text(raw) != text:
        raise ValueError("not base64url")
    return raw


def _private(jwk: Jwk) -> ed25519.Ed25519PrivateKey:
    """Return the key that signs, from its secret part."""
    return ed25519.Ed25519PrivateKey.from_private_bytes(to_bytes(jwk["d"]))
