"""What commands that read or write records share: opened, signed, closed."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from squatlab.exam.records import Records

ALL, SOME = 0, 1
"""Exit codes: all is well; some were refused, or something does not hold. 2 is wrong use."""


@contextmanager
def book(where: str, by: str, may_be_new: bool) -> Iterator[Records]:
    """Open records; at the end, if something was written, sign and print the head.

    A command that fails half way signs what it wrote until then as well.
    """
    from squatlab.exam.records import Records

    records = Records(where, by) if may_be_new else Records.existing(where, by)
    try:
        before = records.head()
        try:
            yield records
        finally:
            if by and records.head() != before:
                print_head(records)
    finally:
        records.close()


def print_head(records: Records) -> None:
    """Sign the head of the chain and print it."""
    head = records.sign()
    signed = (
        f"Signed by {head.by}, key {head.key}."
        if head.signature
        else ("Not signed: name a key in SQUATLAB_SIGNING_KEY.")
    )
    print(f"The chain of {records.name} ends at {head.note}: note this outside it. {signed}")


def there(*paths: Path) -> None:
    """Raise FileNotFoundError in words for the first file that is not there."""
    for path in paths:
        if not path.exists():
            raise FileNotFoundError(f"there is no {path}: look at its name and its folder")
