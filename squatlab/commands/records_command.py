"""``squatlab records``: what is kept of an exam, looked into and added to."""

from __future__ import annotations

import argparse
from collections.abc import Collection

from squatlab.commands.options import add_examples
from squatlab.commands.records_keeping import add_keeping
from squatlab.commands.records_looks import add_looks
from squatlab.commands.records_results import add_results
from squatlab.commands.records_sittings import add_sittings

PROTECTS = (
    "What this cannot show: whoever keeps the signing key and the only copy can write the whole "
    "book anew. So note heads outside, and let a second person sign them with a key of their own "
    "(witness)."
)


def add_records(records: argparse.ArgumentParser) -> None:
    """Give ``records`` its options."""
    records.description = (
        "Look into the records: a file, postgresql://user@host/database, or - for "
        "what SQUATLAB_RECORDS names. Whatever writes names its author (--by) and ends with the "
        "head of the chain, signed with the key beside the records (records.signing.json, drawn "
        f"when it is needed, or what SQUATLAB_SIGNING_KEY names). {PROTECTS}"
    )
    records.epilog = (
        "Each command names what it acts on: an attempt, a certificate, a candidate. Those that "
        "need a form take it first, with its key. Exit codes: 0 all is well, 1 something was "
        "altered or does not hold, 2 wrong use."
    )
    records.add_argument(
        "where",
        type=lambda where: _place(where, parts.choices),
        metavar="RECORDS",
        help="a file, a database's URL, or - (SQUATLAB_RECORDS)",
    )
    add_examples(
        records,
        "squatlab records records.sqlite open spring.zip spring.key.json C01 --by NAME",
        "squatlab records records.sqlite list",
        "squatlab records records.sqlite certify 7 --by NAME",
        "squatlab records records.sqlite verify",
    )
    parts = records.add_subparsers(required=True, metavar="what")
    add_looks(parts)
    add_sittings(parts)
    add_results(parts)
    add_keeping(parts)


def _place(where: str, commands: Collection[str]) -> str:
    """Return where the records are; argparse says so if a command stands in its place."""
    if where in commands:
        raise argparse.ArgumentTypeError(
            f"“{where}” is what to do; the records come first: squatlab records records.sqlite "
            f"{where}"
        )
    return where
