"""Codes that people type: spelled so that a slip shows, and what a candidate's code proves.

A candidate's code follows from the form's key and from what the records drew
for their opening, so it can be printed again by who holds both. Neither the
records nor a hand-in hold it: the records keep its fingerprint, and a hand-in
is sealed with it (HMAC-SHA256), so that only who had the code can have made it.
"""

from __future__ import annotations

import hashlib
import hmac
from typing import Any

from squatlab.questions import files

LETTERS = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
"""The 31 signs of a code: none that is taken for another (0 O, 1 I L)."""

LENGTH = 12
"""Signs of a code, the last one checking the others; 54 bits are drawn."""

STRETCH = {"n": 2**12, "r": 8, "p": 1}
"""What trying one code costs: scrypt, some 10 ms and 4 MB. With 54 random bits
behind it, trying them all is out of reach [teaching-value]."""


def spell(raw: bytes) -> str:
    """Return 16 random bytes as a code, such as 7XKQ-M2PD-9RTA."""
    # The lowest 11 digits of the number to base 31. 31 does not divide 2¹²⁸, so some digits come
    # more often than others, but by less than 2⁻⁷⁰.
    number = int.from_bytes(raw[:16], "big")
    signs = ""
    for _ in range(LENGTH - 1):
        number, digit = divmod(number, len(LETTERS))
        signs += LETTERS[digit]
    return tidy(signs + _check_sign(signs))


def tidy(code: str) -> str:
    """Return a typed code in capitals and groups of four."""
    plain = "".join(sign for sign in str(code).upper() if sign.isalnum())
    return "-".join(plain[n : n + 4] for n in range(0, len(plain), 4))


def possible(code: str) -> bool:
    """Tell whether a code can be one: its signs, its length, its check sign."""
    plain = tidy(code).replace("-", "")
    fits = len(plain) == LENGTH and not set(plain) - set(LETTERS)
    return fits and _check_sign(plain[:-1]) == plain[-1]


def candidates_code(salt: str, form: str, candidate: str, nonce: str) -> str:
    """Return a candidate's code.

    ``salt`` is the key's, in hex, and ``nonce`` what the records drew for
    this opening.
    """
    words = files.canonical(["code", form, candidate, nonce]).encode()
    return spell(hmac.digest(bytes.fromhex(salt), words, "sha256"))


def sealing_key(code: str, form: str, candidate: str) -> bytes:
    """Return the key that a code gives, for hand-ins and for fingerprints.

    By scrypt, which is slow on purpose: whoever has a hand-in or the records
    could otherwise try codes until one fits.
    """
    salt = files.canonical([form, candidate]).encode()
    return hashlib.scrypt(tidy(code).encode(), salt=salt, dklen=32, **STRETCH)


def fingerprint(code: str, form: str, candidate: str) -> str:
    """Return what the records keep of a code: it opens nothing by itself."""
    return hashlib.sha256(sealing_key(code, form, candidate)).hexdigest()


def seal(code: str, form: str, candidate: str, body: Any) -> str:
    """Return the HMAC-SHA256 of a body under a candidate's code, in hex."""
    text = files.canonical(body).encode()
    return hmac.digest(sealing_key(code, form, candidate), text, "sha256").hex()


def _check_sign(signs: str) -> str:
    """Return the check sign: finds any one wrong sign and any two swapped.

    The sum of the signs' values, each times its place (from 2), to base 31.
    31 is a prime: no product of a place and a difference of two signs, nor of
    the differences of two places and two signs, is a multiple of it.
    """
    weighted = [place * LETTERS.index(sign) for place, sign in enumerate(signs, start=2)]
    return LETTERS[sum(weighted) % len(LETTERS)]


def same(one: str, other: str) -> bool:
    """Tell whether two secrets or fingerprints are the same.

    It takes as long whatever is wrong: else each sign could be tried by
    itself, by how long the answer takes.
    """
    return hmac.compare_digest(one.encode(), other.encode())
