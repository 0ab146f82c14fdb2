"""What commands that read or write records share: opened, signed, closed."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from squatlab.exam.records import Records

ALL, SOME = 0, 1
"""Exit codes: all is well; some were refused, or something does not hold. 2 is wrong use."""


@contextmanager
def book(where: str, by: str, may_be_new: bool) -> Iterator[Records]:
    """Open records; at the end, if something was written, sign and print the head.

    A command that fails half way signs what it wrote until then as well.
    Warns whoever writes of a clock that was set back.
    """
    records = Records(where, by) if may_be_new else Records.existing(where, by)
    try:
        if by and (wrong := records.wrong_clock):
            print(f"WARNING: {wrong}.", file=sys.stderr)
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


def there_form_and_key(options: argparse.Namespace) -> None:
    """Raise ValueError in words where form and key are exchanged, or one is left out."""
    if options.form.suffix == ".json" and options.key.suffix == ".zip":
        raise ValueError(
            f"form and key are exchanged: give {options.key} first, then {options.form}"
        )
    there(options.form)
    if not options.key.exists() and options.key.suffix != ".json":
        raise FileNotFoundError(
            f"{options.key} stands where the key is named: give the form, then its key "
            f"({options.form.with_suffix('.key.json')})"
        )
    there(options.key)


def add_sitting(parser: argparse.ArgumentParser) -> None:
    """Add the form, its key and the records to a command's arguments."""
    add_form_and_key(parser)
    add_records_file(parser)


def add_form_and_key(parser: argparse.ArgumentParser) -> None:
    """Add a form and its key to a command's arguments."""
    parser.add_argument(
        "form", type=Path, metavar="FORM.zip", help="the sealed form, as candidates get it"
    )
    parser.add_argument(
        "key", type=Path, metavar="KEY.json", help="its key, which was written beside it"
    )
    parser.set_defaults(has_form_and_key=True)


def add_records_file(parser: argparse.ArgumentParser) -> None:
    """Add where the records are to a command's arguments."""
    parser.add_argument(
        "--records",
        default="",
        metavar="FILE",
        help="or a database's URL (default: what SQUATLAB_RECORDS names, else records.sqlite)",
    )


def add_author(parser: argparse.ArgumentParser) -> None:
    """Add the records and who writes into them to a command's arguments."""
    add_records_file(parser)
    parser.add_argument("--by", required=True, metavar="NAME", help="who does it, for the record")
