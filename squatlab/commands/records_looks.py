"""``squatlab records``: the commands that only look."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from squatlab.commands.bookkeeping import (
    ALL,
    SOME,
    there,
)
from squatlab.commands.records_parts import add_part, say_certificate
from squatlab.exam import signing
from squatlab.exam.records import (
    Records,
    check,
    hand_ins,
    openings,
    standings,
)
from squatlab.exam.report import aligned


def add_looks(parts: Any) -> None:
    """Add the commands that only look."""
    verify = add_part(
        parts,
        "verify",
        "say what was altered, row by row",
        "Compare every row with the chain, every score and decision with the answers it follows "
        "from, and the head with its signature; print what does not fit. Writes nothing.",
        _verify,
        "verify",
    )
    verify.add_argument(
        "--head",
        default="",
        metavar="NUMBER:HASH",
        help="a head that was printed and noted earlier: shows what was cut off since",
    )
    verify.add_argument(
        "--key", type=Path, metavar="PUBLIC.json", help="the key that signs, from who keeps it"
    )
    add_part(
        parts,
        "list",
        "every attempt and the decision that stands",
        "Print every attempt with its number, score and decision. Writes nothing.",
        _list,
        "list",
    )
    add_part(
        parts,
        "openings",
        "who was given which form, and when it came back",
        "Print who was given which form, the number of each opening, the time agreed, and when it "
        "came back. Writes nothing.",
        _openings,
        "openings",
    )
    add_part(
        parts,
        "hand-ins",
        "everything handed in, refused or not, with both times",
        "Print everything that was handed in, with its number, the candidate's time and this "
        "machine's, and why it does not stand. Writes nothing.",
        _hand_ins,
        "hand-ins",
    )
    check = add_part(
        parts,
        "check",
        "say whether a certificate holds",
        "Say what a certificate's code stands for now. Writes nothing.",
        _check,
        "check 7XKQ-M2PD-9RTA",
    )
    check.add_argument("code", metavar="CODE", help="the certificate's")


def _verify(records: Records, options: argparse.Namespace) -> int:
    """Print what was altered, and where the chain ends."""
    beside = records.key_file and signing.public_path(records.key_file)
    path = options.key or (beside if beside and beside.exists() else None)
    if options.key:
        there(options.key)
    key = signing.public(signing.read_key(path)) if path else None
    faults_of_chain = records.verify(options.head, key)
    cut = "" if options.head else " (A cut-off end is seen only with --head.)"
    print(*faults_of_chain or [f"Nothing was altered.{cut}"], sep="\n")
    if faults_of_chain:
        print("Restore the records from a copy, and ask who had access.")
    print(f"The chain ends at {records.head()}.")
    if key is None:
        print("Nobody's signature was asked for: give the public key, --key PUBLIC.json.")
    return SOME if faults_of_chain else ALL


def _list(records: Records, options: argparse.Namespace) -> int:
    """Print every attempt with the decision that stands."""
    rows = []
    for standing in standings(records):
        decision = standing.decision
        result = ("passed" if decision.passed else "not passed") if decision else "not decided"
        score = f"{decision.score:g} of {standing.cases}" if decision else ""
        rows.append(
            {
                "attempt": str(standing.number),
                "candidate": standing.candidate,
                "form": standing.form,
                "handed in": standing.handed_in,
                "how": standing.mode,
                "receipt": standing.receipt,
                "score": score,
                "result": result,
                "key": standing.key,
                "why": decision.why if decision else "",
            }
        )
    print(aligned(rows) if rows else "There are no attempts.")
    return ALL


def _openings(records: Records, options: argparse.Namespace) -> int:
    """Print who was given which form."""
    rows = [
        {
            "opening": str(opening.number),
            "candidate": opening.candidate,
            "form": opening.form,
            "time factor": f"{opening.time_factor:g}",
            "minutes": "–" if opening.minutes is None else f"{opening.minutes:g}",
            "opened": opening.opened,
            "handed in": opening.handed_in or "not yet",
        }
        for opening in openings(records)
    ]
    print(aligned(rows) if rows else "No form was given.")
    return ALL


def _hand_ins(records: Records, options: argparse.Namespace) -> int:
    """Print everything that was handed in, refused or not."""
    rows = [
        {
            "hand-in": str(hand_in.number),
            "candidate": hand_in.candidate or "–",
            "form": hand_in.form,
            "how": hand_in.mode,
            "file": hand_in.file,
            "receipt": hand_in.receipt,
            "declared": hand_in.declared,
            "received": hand_in.received,
            "stands": "yes" if hand_in.stands else "no",
            "why": hand_in.why,
        }
        for hand_in in hand_ins(records)
    ]
    print(aligned(rows) if rows else "Nothing was handed in.")
    return ALL


def _check(records: Records, options: argparse.Namespace) -> int:
    """Print whether a certificate holds."""
    return say_certificate(check(records, options.code))
