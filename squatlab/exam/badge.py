"""A certificate as a badge: Open Badges 3.0, signed, checked without a server.

A badge is a JSON Web Token signed with Ed25519 [openbadges2024, rfc8037].
Its issuer is named by the public key itself (did:jwk), so nothing need be
hosted; whether it was revoked, the records alone can say.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import json
import secrets
import uuid
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from types import ModuleType
from typing import Any, NamedTuple

from squatlab.exam.records import Certificate, Records, check
from squatlab.exam.secret import for_owner_alone
from squatlab.questions import files

CONTEXT = [
    "https://www.w3.org/ns/credentials/v2",
    "https://purl.imsglobal.org/spec/ob/v3p0/context-3.0.3.json",
]
TYPE = ["VerifiableCredential", "OpenBadgeCredential"]
UNREADABLE = (ValueError, LookupError, TypeError, AttributeError, RecursionError)
"""What reading may raise of text that somebody else wrote."""

Jwk = dict[str, str]


class Verdict(NamedTuple):
    """Say whether a badge holds, in words, and what it says; {} if unread."""

    holds: bool
    words: str
    badge: dict[str, Any]


def make_key(path: str | Path, draw: Callable[[int], bytes] = secrets.token_bytes) -> Path:
    """Draw an issuer's key into a file that its owner alone may read.

    Returns where the public key is: beside it, for whoever checks badges.
    ``draw`` gives so many random bytes. Raises FileExistsError if either
    file is there: badges may hang on it.
    """
    path = Path(path)
    beside, raw = path.with_suffix(".public.json"), draw(32)
    if there := next(filter(Path.exists, (path, beside)), None):
        raise FileExistsError(f"{there} is there already: badges may have been signed with it")
    jwk = _jwk(_ed25519().Ed25519PrivateKey.from_private_bytes(raw)) | {"d": _text(raw)}
    files.write_whole(path, files.canonical(jwk) + "\n", mode=0o600)
    return files.write_whole(beside, files.canonical(public(jwk)) + "\n")


def read_key(path: str | Path) -> Jwk:
    """Read an issuer's key, or the public one to check badges with.

    Raises ValueError if it is none, or if others may read a secret one.
    """
    path, ed25519 = Path(path), _ed25519()
    try:
        jwk = json.loads(path.read_text(encoding="utf-8"))
        ed25519.Ed25519PublicKey.from_public_bytes(_bytes(jwk["x"]))
        if public(jwk) != (_jwk(_private(jwk)) if "d" in jwk else public(jwk) | KIND):
            raise ValueError("its parts do not belong together")
    except UNREADABLE:
        raise ValueError(
            f"{path} is no Ed25519 key as JWK (kty OKP, crv Ed25519, x), or was changed; use the "
            "file that was written when the issuer's key was made"
        ) from None
    if "d" in jwk:
        for_owner_alone(path, "badges")
    return jwk


def public(jwk: Jwk) -> Jwk:
    """Return a key without its secret part."""
    return {part: jwk[part] for part in ("crv", "kty", "x")}


def issuer_id(jwk: Jwk) -> str:
    """Return the name that a public key gives its issuer (did:jwk)."""
    return f"did:jwk:{_text(files.canonical(public(jwk)).encode())}"


def sign(certificate: Certificate, jwk: Jwk, issuer: str, course: str) -> str:
    """Return the badge of a certificate; asked again, the same one.

    ``issuer`` and ``course`` are names in words. The candidate's id is there
    as a salted hash: unread, though whoever tries every id finds it. Raises
    ValueError for a certificate that does not hold, without names, or if
    the key is a public one.
    """
    if certificate.status != "valid":
        raise ValueError(f"certificate {certificate.code}: no badge. {certificate.words}")
    if not (issuer.strip() and course.strip() and "d" in jwk):
        raise ValueError(
            "a badge names who gives it (issuer) and what for (course), and is signed with the "
            "issuer's own key file, not the public one"
        )
    me, code = issuer_id(jwk), certificate.code
    salt = hmac.digest(_bytes(jwk["d"]), code.encode(), "sha256").hex()
    person = {
        "type": "IdentityObject", "identityType": "identifier", "hashed": True, "salt": salt,
        "identityHash": _hashed(certificate.candidate, salt),
    }  # fmt: skip
    achievement = {
        "id": _uuid(me, course), "type": ["Achievement"], "achievementType": "Certificate",
        "name": f"Passed the exam of {course}",
        "description": "Sees in a back squat which fault to fix first.",
        "criteria": {"narrative": "Named the one fault to fix first, in clips of high-bar and "
                     f"low-bar back squats, in as many lifts of form {certificate.form} as its "
                     f"cut asks. Key of the form: {certificate.key}."},
    }  # fmt: skip
    badge = {
        "@context": CONTEXT, "id": _uuid(me, code), "type": TYPE, "name": achievement["name"],
        "issuer": {"id": me, "type": ["Profile"], "name": issuer},
        "validFrom": certificate.since, "validUntil": certificate.until,
        "credentialSubject": {"type": ["AchievementSubject"], "identifier": [person],
                              "licenseNumber": code, "achievement": achievement},
        "iss": me, "jti": _uuid(me, code),
        "nbf": _second(certificate.since), "exp": _second(certificate.until),
    }  # fmt: skip
    header = {"alg": "EdDSA", "jwk": public(jwk), "typ": "JWT"}
    signed = ".".join(_text(files.canonical(part).encode()) for part in (header, badge))
    return f"{signed}.{_text(_private(jwk).sign(signed.encode()))}"


def verify(
    token: str, jwk: Jwk, now: datetime, records: Records | None = None, candidate: str = ""
) -> Verdict:
    """Say whether a badge holds: unaltered, of this issuer, in its time.

    ``jwk`` is the issuer's public key, from a source one trusts. With the
    ``records``: not revoked; with a ``candidate``: given to that id.
    """
    try:
        first, second, third = token.strip().split(".")
        header, badge, signature = (json.loads(_bytes(first)), json.loads(_bytes(second)),
                                    _bytes(third))  # fmt: skip
        alg, other = header["alg"], header.get("jwk")
    except UNREADABLE:
        return Verdict(False, "It is no badge, or was cut or altered: ask for it again.", {})
    signed, words = f"{first}.{second}".encode(), ""
    if alg != "EdDSA":
        words = f"It is signed by {alg!r}; only EdDSA (Ed25519) is read here."
    elif not _fits(signed, signature, jwk):
        foreign = other != public(jwk) and _fits(signed, signature, other)
        words = "Another issuer signed it." if foreign else "It was altered since it was signed."
    if words:
        return Verdict(False, words, {})
    try:
        words = _objection(badge, jwk, now.timestamp(), candidate)
        code, until = badge["credentialSubject"]["licenseNumber"], badge["validUntil"][:10]
    except UNREADABLE:
        return Verdict(False, "This issuer signed it, but it is no badge of squatlab.", {})
    if words or records is None:
        good = f"Unaltered, and good to {until}. Whether it was revoked, the records alone say."
        return Verdict(not words, words or good, badge)
    kept = check(records, code)
    return Verdict(kept.status == "valid", f"Unaltered. The records say: {kept.words}", badge)


def _objection(badge: dict[str, Any], jwk: Jwk, now: float, candidate: str) -> str:
    """Return why a badge that is truly its issuer's does not hold, or ""."""
    if badge["type"] != TYPE or not badge["issuer"]["id"] == badge["iss"] == issuer_id(jwk):
        raise ValueError("another kind of token, signed with the same key")
    person = badge["credentialSubject"]["identifier"][0]
    if candidate and _hashed(candidate, person["salt"]) != person["identityHash"]:
        return f"It was not given to {candidate}."
    if now < badge["nbf"]:
        return f"It holds from {badge['validFrom'][:10]} on: is this machine's date right?"
    return f"It expired on {badge['validUntil'][:10]}." if now > badge["exp"] else ""


def _fits(signed: bytes, signature: bytes, jwk: Any) -> bool:
    ed25519 = _ed25519()
    from cryptography.exceptions import InvalidSignature

    try:
        ed25519.Ed25519PublicKey.from_public_bytes(_bytes(jwk["x"])).verify(signature, signed)
    except (InvalidSignature, *UNREADABLE):
        return False
    return True


def _ed25519() -> ModuleType:
    try:
        from cryptography.hazmat.primitives.asymmetric import ed25519
    except ImportError:
        raise ValueError("badges need one package more: pip install cryptography") from None
    return ed25519


def _private(jwk: Jwk) -> Any:
    return _ed25519().Ed25519PrivateKey.from_private_bytes(_bytes(jwk["d"]))


KIND = {"crv": "Ed25519", "kty": "OKP"}


def _jwk(private: Any) -> Jwk:
    return KIND | {"x": _text(private.public_key().public_bytes_raw())}


def _hashed(identity: str, salt: str) -> str:
    return f"sha256${hashlib.sha256((identity + salt).encode()).hexdigest()}"


def _uuid(*words: str) -> str:
    return f"urn:uuid:{uuid.uuid5(uuid.NAMESPACE_URL, ' '.join(words))}"


def _second(moment: str) -> int:
    return int(datetime.fromisoformat(moment).timestamp())


def _text(raw: bytes) -> str:
    return base64.urlsafe_b64encode(raw).rstrip(b"=").decode()


def _bytes(text: str) -> bytes:
    """Read base64url; ValueError unless it is the one way to write its bytes."""
    raw = base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))
    if _text(raw) != text:
        raise ValueError("not base64url")
    return raw
