"""Badges: two libraries and a published vector agree, and no byte can be altered."""

from __future__ import annotations

import hashlib
import json
import os
import stat
import string
from datetime import UTC, datetime, timedelta

import jwt
import pytest

from squatlab.exam import badge, signing
from squatlab.exam.records import Certificate, Records, change, decide, issue
from tests.exam import invented_class
from tests.exam.test_records import hand_in

# RFC 8037, appendix A.1, A.2 and A.4: a key, its public part, and a signature with it.
RFC_KEY = {
    "kty": "OKP",
    "crv": "Ed25519",
    "d": "nWGxne_9WmC6hEr0kuwsxERJxWl7MmkZcDusAxyuf2A",
    "x": "11qYAYKxCrfVS_7TyWQHOg7hcvPapiMlrwIaaPcHURo",
}
RFC_SIGNED = "eyJhbGciOiJFZERTQSJ9.RXhhbXBsZSBvZiBFZDI1NTE5IHNpZ25pbmc"
RFC_SIGNATURE = (
    "hgyY0il_MGCjP0JzlnLWG1PPOt7-09PGcvMg3AIbQR6dWbhijcNR4ki4iylGjg5BhVsPt9g7sVvpAr_MuM0KAg"
)

MADE = Certificate(
    "7XKQ-M2PD-9RTA",
    "valid",
    "Valid.",
    "C1",
    "spring",
    "2026-05-02T09:00:00.000Z",
    "2028-05-01T09:00:00.000Z",
    "answer key not yet checked by coaches",
    "the invented rowing club",
    "the demo course",
)
NOW = datetime(2026, 6, 1, tzinfo=UTC)
CLUB = MADE.issuer, MADE.course
PUBLIC = signing.public(RFC_KEY)


@pytest.fixture(scope="module")
def token():
    return badge.sign(MADE, RFC_KEY)


def signed_anew(claims: dict, key: dict = RFC_KEY, **headers) -> str:
    """Sign claims with PyJWT, the second opinion."""
    private = jwt.PyJWK(key, "EdDSA").key
    return jwt.encode(claims, private, "EdDSA", {"jwk": signing.public(key)} | headers)


def claims_of(token: str) -> dict:
    """Read and verify a token with PyJWT 2, whatever the time is."""
    late = {"verify_exp": False, "verify_nbf": False}
    return jwt.decode(token, jwt.PyJWK(PUBLIC, "EdDSA"), ["EdDSA"], options=late)


def test_the_vector_of_rfc_8037(tmp_path):
    path = tmp_path / "key.json"
    path.write_text(json.dumps(RFC_KEY))
    path.chmod(0o600)
    assert signing.read_key(path) == RFC_KEY
    signature = signing._private(RFC_KEY).sign(RFC_SIGNED.encode())
    assert signing.to_text(signature) == RFC_SIGNATURE
    assert signing.signed(PUBLIC, RFC_SIGNED.encode(), RFC_SIGNATURE)
    assert not signing.signed(PUBLIC, RFC_SIGNED.encode() + b"A", RFC_SIGNATURE)
    said = badge.verify(f"{RFC_SIGNED}.{RFC_SIGNATURE}", PUBLIC, NOW)
    assert said == (False, "It is no badge, or was cut or altered: ask for it again.", {})


def test_pyjwt_verifies_ours_and_we_its(token):
    ours = claims_of(token)
    assert jwt.get_unverified_header(token) == {"alg": "EdDSA", "typ": "JWT", "jwk": PUBLIC}
    verdict = badge.verify(token, PUBLIC, NOW)
    assert verdict.holds and verdict.badge == ours
    assert verdict.words.startswith("Unaltered, and good to 2028-05-01. Whether it was revoked")
    assert badge.verify(signed_anew(ours), PUBLIC, NOW) == verdict
    other = jwt.PyJWK(signing.public(RFC_KEY) | {"x": signing.to_text(bytes(32))}, "EdDSA")
    with pytest.raises(jwt.InvalidSignatureError):
        jwt.decode(token, other, ["EdDSA"], options={"verify_exp": False, "verify_nbf": False})


def test_it_has_the_members_that_the_standard_asks_for(token):
    """Names and obligations from memory of Open Badges 3.0, section 8.2 and appendix B."""
    told = claims_of(token)
    assert told["@context"][0] == "https://www.w3.org/ns/credentials/v2"
    assert "purl.imsglobal.org/spec/ob/v3p0/context-3" in told["@context"][1]
    assert told["type"] == ["VerifiableCredential", "OpenBadgeCredential"]
    assert told["iss"] == told["issuer"]["id"] and told["jti"] == told["id"]
    assert told["issuer"]["type"] == ["Profile"] and told["issuer"]["name"] == CLUB[0]
    for claim, member in (("nbf", "validFrom"), ("exp", "validUntil")):
        assert datetime.fromtimestamp(told[claim], UTC) == datetime.fromisoformat(told[member])
    subject = told["credentialSubject"]
    assert subject["type"] == ["AchievementSubject"] and subject["licenseNumber"] == MADE.code
    achievement = subject["achievement"]
    assert {"id", "type", "criteria", "description", "name"} <= achievement.keys()
    assert "form spring" in achievement["criteria"]["narrative"]
    assert "answer key not yet checked by coaches" in achievement["criteria"]["narrative"]


def test_the_candidate_is_there_as_a_salted_hash_alone(token):
    told = claims_of(token)
    (person,) = told["credentialSubject"]["identifier"]
    assert person["type"] == "IdentityObject" and person["hashed"] is True
    wanted = hashlib.sha256(f"C1{person['salt']}".encode()).hexdigest()
    assert person["identityHash"] == f"sha256${wanted}"
    assert '"C1"' not in json.dumps(told)
    other = badge.sign(MADE._replace(code="7XKQ-M2PD-9RTB"), RFC_KEY)
    assert claims_of(other)["credentialSubject"]["identifier"][0]["salt"] != person["salt"]
    assert badge.verify(token, PUBLIC, NOW, candidate="C1").holds
    assert badge.verify(token, PUBLIC, NOW, candidate="C2").words == "It was not given to C2."


def test_the_issuer_is_named_by_the_key_and_the_badge_is_always_the_same(token):
    did = claims_of(token)["iss"]
    assert json.loads(signing.to_bytes(did.removeprefix("did:jwk:"))) == PUBLIC
    assert badge.sign(MADE, RFC_KEY) == token


def test_no_byte_can_be_altered(token):
    signs = string.ascii_uppercase + string.ascii_lowercase + string.digits + "-_"
    for place, sign in enumerate(token):
        # The next sign differs in the lowest bit, which the last one of a part does not use.
        near = signs[(signs.find(sign) ^ 1) % 64]
        for other in (near, "A" if sign != "A" else "B", "=", "é"):
            altered = token[:place] + other + token[place + 1 :]
            assert not badge.verify(altered, PUBLIC, NOW).holds, (place, sign, other)
    for altered in ("", "a.b", token[:-1], token + "A", token + ".", f"x{token}", "." * 40):
        words = badge.verify(altered, PUBLIC, NOW).words
        assert words.startswith(("It is no badge", "It was altered")), altered


def test_altered_words_and_another_issuer_are_told_apart(token):
    head, body, signature = token.split(".")
    forged = claims_of(token) | {"name": "Passed everything"}
    again = ".".join([head, signing.to_text(json.dumps(forged).encode()), signature])
    assert badge.verify(again, PUBLIC, NOW).words == "It was altered since it was signed."
    theirs = RFC_KEY | {"d": signing.to_text(bytes(range(32)))}
    theirs |= signing.jwk_of(signing._private(theirs))
    # The forger claims to be the issuer, by name and id, but must sign with their own key.
    for stranger in (
        signed_anew(forged, theirs),
        badge.sign(MADE, theirs),
    ):
        assert badge.verify(stranger, PUBLIC, NOW) == (False, "Another issuer signed it.", {})
    claimed = signed_anew(forged, theirs, jwk=PUBLIC)
    assert badge.verify(claimed, PUBLIC, NOW).words == "It was altered since it was signed."
    # And with their own key given as the issuer's, the id in it is not that key's.
    words = "This issuer signed it, but it is no badge of squatlab."
    assert badge.verify(signed_anew(forged, theirs), signing.public(theirs), NOW).words == words


@pytest.mark.parametrize("alg", ["none", "HS256", "RS256"])
def test_other_algorithms_are_refused(token, alg):
    _, body, signature = token.split(".")
    head = signing.to_text(json.dumps({"alg": alg, "jwk": PUBLIC}).encode())
    for seal in (signature, ""):
        said = badge.verify(f"{head}.{body}.{seal}", PUBLIC, NOW)
        assert said.words == f"It is signed by {alg!r}; only EdDSA (Ed25519) is read here."


@pytest.mark.parametrize("claims", [[], {}, {"type": badge.TYPE}, {"type": "Token", "iss": 1}])
def test_what_is_signed_but_no_badge_is_said(claims):
    head = signing.to_text(json.dumps({"alg": "EdDSA"}).encode())
    signed = f"{head}.{signing.to_text(json.dumps(claims).encode())}"
    token = f"{signed}.{signing.to_text(signing._private(RFC_KEY).sign(signed.encode()))}"
    assert badge.verify(token, PUBLIC, NOW)[:2] == (
        False,
        "This issuer signed it, but it is no badge of squatlab.",
    )


def test_its_time(token):
    ends = datetime.fromisoformat(MADE.until)
    assert badge.verify(token, PUBLIC, ends).holds
    late = badge.verify(token, PUBLIC, ends + timedelta(seconds=1))
    assert late[:2] == (False, "It expired on 2028-05-01.")
    early = badge.verify(token, PUBLIC, datetime(2026, 5, 2, 8, tzinfo=UTC))
    assert early[:2] == (False, "It holds from 2026-05-02 on: is this machine's date right?")


def test_the_records_say_whether_it_was_revoked(tmp_path, form_and_key):
    form, key = form_and_key
    records = Records(
        tmp_path / "records.sqlite", "T. Test", lambda: datetime(2026, 5, 2, tzinfo=UTC)
    )
    number = invented_class.record(records, form, key, *hand_in(form, key)).number
    decide(records, number, "J. Panel")
    given = issue(records, number, "J. Panel", "a trial", *CLUB)
    token = badge.sign(given, RFC_KEY)
    assert badge.verify(token, PUBLIC, NOW, records, "C1")[:2] == (
        True,
        f"Unaltered. The records say: {given.words}",
    )
    change(records, given.code, "suspended", "an appeal")
    assert "Suspended on" in badge.verify(token, PUBLIC, NOW, records).words
    for part, other in (
        ("issuer", "Another Club"),
        ("course", "another"),
        ("candidate", "C2"),
        ("since", "2026-05-01T00:00:00.000Z"),
        ("until", given.since),
    ):
        contradicting = badge.sign(given._replace(**{part: other}), RFC_KEY)
        said = badge.verify(contradicting, PUBLIC, datetime(2026, 5, 2, tzinfo=UTC), records)
        assert not said.holds and "its certificate has another" in said.words
    revoked = change(records, given.code, "revoked", "a copied answer")
    said = badge.verify(token, PUBLIC, NOW, records)
    assert said[:2] == (False, "Unaltered. The records say: Revoked on 2026-05-02.")
    with pytest.raises(ValueError, match=rf"certificate {given.code}: no badge. Revoked on 2026"):
        badge.sign(revoked, RFC_KEY)
    records.close()
    empty = Records(tmp_path / "others.sqlite")
    said = badge.verify(token, PUBLIC, NOW, empty)
    assert not said.holds and "No certificate with this code was issued here" in said.words
    empty.close()


def test_the_key_is_for_its_owner_alone(tmp_path):
    path = tmp_path / "issuer.json"
    before = os.umask(0)
    try:
        known = signing.make_key(path)
    finally:
        os.umask(before)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    private = signing.read_key(path)
    assert known == tmp_path / "issuer.public.json"
    assert signing.read_key(known) == signing.public(private) and "d" in private
    for there in (path, known):
        with pytest.raises(FileExistsError, match=f"{there.name} is there .* something may"):
            signing.make_key(path)
        there.rename(there.with_name(f"old-{there.name}"))
    path.with_name(f"old-{path.name}").rename(path)
    assert signing.read_key(path) == private
    path.chmod(0o640)
    with pytest.raises(ValueError, match="can be read by others .* for new signatures"):
        signing.read_key(path)
    with pytest.raises(ValueError, match="with the issuer's own key file, not the public one"):
        badge.sign(MADE, signing.public(private))
    with pytest.raises(ValueError, match="does not say who gives it and what for; record both"):
        badge.sign(MADE._replace(issuer=" "), private)


@pytest.mark.parametrize(
    "wrong",
    [
        b"\xff",
        "[]",
        "{}",
        json.dumps(RFC_KEY | {"crv": "X25519"}),
        json.dumps(PUBLIC | {"kty": "EC"}),
        json.dumps(PUBLIC | {"x": "AAAA"}),
        json.dumps(RFC_KEY | {"x": signing.to_text(bytes(32))}),
        json.dumps(PUBLIC | {"x": 3}),
    ],
)
def test_a_file_that_is_no_key_is_said(tmp_path, wrong):
    path = tmp_path / "key.json"
    path.write_bytes(wrong if isinstance(wrong, bytes) else wrong.encode())
    with pytest.raises(ValueError, match="key.json is no Ed25519 key as JWK"):
        signing.read_key(path)
