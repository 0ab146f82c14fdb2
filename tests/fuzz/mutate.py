"""Ways in which files come damaged, strange or hostile."""

from __future__ import annotations

import gzip
import random
import re
from collections.abc import Callable

STRANGE = (
    *(b"\0", b"\r", b"\n", b"\r\n\r\n", b'"', b"'", b",", b";", b"\t", b"\x1b[31m", b"\xff"),
    *("\ufeff".encode(), "\u202e".encode(), "\u2028".encode(), "é".encode("latin-1")),
    *(b"nan", b"inf", b"-inf", b"1e308", b"1e400", b"-1", b"0", b"10" * 200, b"9" * 5000),
    *(b"1e-320", b"true", b"null", b"{}", b"[]", b'""', b"[" * 3000, b'{"a":' * 1500),
    *(b"=1+1", b"../../x", b"%s%n", b"\\u0000", b"A" * 3000),
)
"""What is put in somewhere."""

NUMBER = re.compile(rb"-?\d+\.?\d*")

Mutation = Callable[[bytes, random.Random], bytes]


def flipped(data: bytes, rng: random.Random) -> bytes:
    """Change a few bytes."""
    changed = bytearray(data)
    for _ in range(rng.choice((1, 1, 3, 20))):
        if changed:
            changed[_early(len(changed), rng)] = rng.randrange(256)
    return bytes(changed)


def cut(data: bytes, rng: random.Random) -> bytes:
    """Leave the end out, or the beginning."""
    at = rng.randrange(len(data) + 1)
    return data[:at] if rng.random() < 0.8 else data[at:]


def filled(data: bytes, rng: random.Random) -> bytes:
    """Put something strange in, or in the place of something."""
    at = _early(len(data) + 1, rng)
    return data[:at] + rng.choice(STRANGE) + data[at + rng.choice((0, 0, 1, 5)) :]


def renumbered(data: bytes, rng: random.Random) -> bytes:
    """Put another number in the place of one."""
    numbers = list(NUMBER.finditer(data[:200_000]))
    if not numbers:
        return filled(data, rng)
    one = numbers[_early(len(numbers), rng)]
    other = rng.choice((b"0", b"-1", b"nan", b"1e999", b"1e18", b"10" * 250, b"0.0000001", b"3.5"))
    return data[: one.start()] + other + data[one.end() :]


def shuffled(data: bytes, rng: random.Random) -> bytes:
    """Take lines out, double or exchange them."""
    lines = data.splitlines(keepends=True)
    for _ in range(rng.choice((1, 2, 10))):
        if lines:
            one, other = _early(len(lines), rng), rng.randrange(len(lines))
            lines[one], lines[other] = lines[other], lines[one]
            if rng.random() < 0.5:
                lines.insert(one, lines[other])
            elif rng.random() < 0.5:
                del lines[one]
    return b"".join(lines)


def joined(data: bytes, rng: random.Random) -> bytes:
    """Put the file behind itself, or a part of it."""
    return data + data[rng.randrange(len(data) + 1) :]


def encoded(data: bytes, rng: random.Random) -> bytes:
    """Write the file as another program would."""
    text = data.decode("utf-8", "replace")
    return rng.choice(
        (
            text.encode("utf-16"),
            text.encode("utf-8-sig"),
            text.encode("latin-1", "replace"),
            data.replace(b"\n", b"\r\n"),
            data.replace(b"\n", b"\r"),
            gzip.compress(data),
            data.replace(b",", b";"),
            data.replace(b",", b"\t"),
            data.upper(),
            data.swapcase(),
            bytes(len(data)),
            b"",
            b"\n" * 3000,
            data + bytes(500),
            data.replace(b'"', b"'"),
        )
    )


MUTATIONS: tuple[Mutation, ...] = (
    flipped,
    cut,
    filled,
    renumbered,
    shuffled,
    joined,
    encoded,
)


def mutated(data: bytes, rng: random.Random) -> bytes:
    """Return a file damaged in one to three ways."""
    for _ in range(rng.choice((1, 1, 1, 2, 3))):
        data = rng.choice(MUTATIONS)(data, rng)
    return data


def _early(length: int, rng: random.Random) -> int:
    """Return a place, often near the beginning, where heads and headings are."""
    return rng.randrange(min(length, 400) if rng.random() < 0.5 else length)
