"""A certificate as a badge: Open Badges 3.0, signed, checked without a server.

A badge is a JSON Web Token signed with Ed25519 [openbadges2024, rfc8037].
Its issuer is named by the public key itself (did:jwk), so nothing need be
hosted; whether it was revoked, the records alone can say.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import uuid
from datetime import datetime
from typing import Any, NamedTuple

from squatlab.exam import signing
from squatlab.exam.records import Certificate, Records, check
from squatlab.questions import files

CONTEXT = [
    "https://www.w3.org/ns/credentials/v2",
    "https://purl.imsglobal.org/spec/ob/v3p0/context-3.0.3.json",
]
TYPE = ["VerifiableCredential", "OpenBadgeCredential"]


class Verdict(NamedTuple):
    """Say whether a badge holds, in words, and what it says; {} if unread."""

    holds: bool
    words: str
    badge: dict[str, Any]


def issuer_id(jwk: signing.Jwk) -> str:
    """Return the name that a public key gives its issuer (did:jwk)."""
    return f"did:jwk:{signing.to_text(files.canonical(signing.public(jwk)).encode())}"


def must_say_all(certificate: Certificate) -> None:
    """Raise ValueError for a certificate that does not hold or lacks a name."""
    if certificate.status != "valid":
        raise ValueError(f"certificate {certificate.code}: no badge. {certificate.words}")
    if not (certificate.issuer.strip() and certificate.course.strip()):
        raise ValueError(
            f"certificate {certificate.code} does not say who gives it and what for; record both "
            "first: squatlab records RECORDS certify ATTEMPT --by NAME --issuer NAME --course NAME"
        )


def sign(certificate: Certificate, jwk: signing.Jwk) -> str:
    """Return the badge of a certificate; asked again, the same one.

    Issuer, course, candidate and dates are the certificate's own. The
    candidate's id is there as a salted hash: unread, though whoever tries
    every id finds it. Raises ValueError for a certificate that does not
    hold or names nobody, or if the key is a public one.
    """
    must_say_all(certificate)
    issuer, course = certificate.issuer, certificate.course
    if "d" not in jwk:
        raise ValueError("a badge is signed with the issuer's own key file, not the public one")
    me, code = issuer_id(jwk), certificate.code
    salt = hmac.digest(signing.to_bytes(jwk["d"]), code.encode(), "sha256").hex()
    person = {
        "type": "IdentityObject",
        "identityType": "identifier",
        "hashed": True,
        "salt": salt,
        "identityHash": _hashed(certificate.candidate, salt),
    }
    achievement = {
        "id": _uuid(me, course),
        "type": ["Achievement"],
        "achievementType": "Certificate",
        "name": _title(course),
        "description": "Sees in a back squat which fault to fix first.",
        "criteria": {
            "narrative": "Named the one fault to fix first, in clips of high-bar and "
            f"low-bar back squats, in as many lifts of form {certificate.form} as its "
            f"cut asks. Key of the form: {certificate.key}."
        },
    }
    badge = {
        "@context": CONTEXT,
        "id": _uuid(me, code),
        "type": TYPE,
        "name": achievement["name"],
        "issuer": {"id": me, "type": ["Profile"], "name": issuer},
        "validFrom": certificate.since,
        "validUntil": certificate.until,
        "credentialSubject": {
            "type": ["AchievementSubject"],
            "identifier": [person],
            "licenseNumber": code,
            "achievement": achievement,
        },
        "iss": me,
        "jti": _uuid(me, code),
        "nbf": _second(certificate.since),
        "exp": _second(certificate.until),
    }
    header = {"alg": "EdDSA", "jwk": signing.public(jwk), "typ": "JWT"}
    signed = ".".join(signing.to_text(files.canonical(part).encode()) for part in (header, badge))
    return f"{signed}.{signing.sign(jwk, signed.encode())}"


def verify(
    token: str, jwk: signing.Jwk, now: datetime, records: Records | None = None, candidate: str = ""
) -> Verdict:
    """Say whether a badge holds: unaltered, of this issuer, in its time.

    ``jwk`` is the issuer's public key, from a source one trusts. With the
    ``records``: not revoked, and it says what its certificate says; with a
    ``candidate``: given to that id.
    """
    try:
        first, second, third = token.strip().split(".")
        header, badge = (json.loads(signing.to_bytes(part)) for part in (first, second))
        signature = signing.to_bytes(third)
        alg, other = header["alg"], header.get("jwk")
    except signing.UNREADABLE:
        return Verdict(False, "It is no badge, or was cut or altered: ask for it again.", {})
    signed, words = f"{first}.{second}".encode(), ""
    # Only the algorithm that we sign with: a token that asked for "none" would be taken unsigned,
    # and one that brings a key of its own is checked against the issuer's all the same.
    if alg != "EdDSA":
        words = f"It is signed by {alg!r}; only EdDSA (Ed25519) is read here."
    elif not signing.signed(jwk, signed, signature):
        foreign = other != signing.public(jwk) and signing.signed(other, signed, signature)
        words = "Another issuer signed it." if foreign else "It was altered since it was signed."
    if words:
        return Verdict(False, words, {})
    try:
        words = _objection(badge, jwk, now.timestamp(), candidate)
        code, until = badge["credentialSubject"]["licenseNumber"], badge["validUntil"][:10]
    except signing.UNREADABLE:
        return Verdict(False, "This issuer signed it, but it is no badge of squatlab.", {})
    if words or records is None:
        good = f"Unaltered, and good to {until}. Whether it was revoked, the records alone say."
        return Verdict(not words, words or good, badge)
    certificate = check(records, code)
    if odd := _contradictions(badge, certificate):
        words = f"This issuer signed it, but its certificate has another {', '.join(odd)}."
        return Verdict(False, words, badge)
    return Verdict(
        certificate.status == "valid", f"Unaltered. The records say: {certificate.words}", badge
    )


def _objection(badge: dict[str, Any], jwk: signing.Jwk, now: float, candidate: str) -> str:
    """Return why a badge that is truly its issuer's does not hold, or ""."""
    if badge["type"] != TYPE or not badge["issuer"]["id"] == badge["iss"] == issuer_id(jwk):
        raise ValueError("another kind of token, signed with the same key")
    person = badge["credentialSubject"]["identifier"][0]
    if candidate and _hashed(candidate, person["salt"]) != person["identityHash"]:
        return f"It was not given to {candidate}."
    if now < badge["nbf"]:
        return f"It holds from {badge['validFrom'][:10]} on: is this machine's date right?"
    return f"It expired on {badge['validUntil'][:10]}." if now > badge["exp"] else ""


def _contradictions(badge: dict[str, Any], certificate: Certificate) -> list[str]:
    """Return in what a badge does not say what its certificate says."""
    if not certificate.candidate:
        return []  # the records know no such certificate, and say so
    subject = badge["credentialSubject"]
    person = subject["identifier"][0]
    same = {
        "issuer": badge["issuer"]["name"] == certificate.issuer,
        "course": subject["achievement"]["name"] == _title(certificate.course),
        "candidate": person["identityHash"] == _hashed(certificate.candidate, person["salt"]),
        "beginning": badge["validFrom"] == certificate.since,
        "end": badge["validUntil"] == certificate.until,
    }
    return [name for name, alike in same.items() if not alike]


def _title(course: str) -> str:
    """Return the name of a badge."""
    return f"Passed the exam of {course}"


def _hashed(identity: str, salt: str) -> str:
    """Return an id as a badge has it, salted so that nobody reads it [openbadges2024]."""
    return f"sha256${hashlib.sha256((identity + salt).encode()).hexdigest()}"


def _uuid(*words: str) -> str:
    """Return the id that words give: the same badge has the same ids again."""
    return f"urn:uuid:{uuid.uuid5(uuid.NAMESPACE_URL, ' '.join(words))}"


def _second(moment: str) -> int:
    """Return a time as JSON Web Tokens have it, in seconds since 1970."""
    return int(datetime.fromisoformat(moment).timestamp())
