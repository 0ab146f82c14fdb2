"""``squatlab records``: how records are signed, copied and freed of names."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from squatlab.commands.bookkeeping import (
    ALL,
    print_head,
    there,
)
from squatlab.commands.records_parts import add_part, ask_who
from squatlab.exam import signing
from squatlab.exam.records import (
    Records,
    copy,
    due_to_forget,
    forget,
    note_output,
)


def add_keeping(parts: Any) -> None:
    """Add how records are signed, copied and freed of names."""
    sign = add_part(
        parts,
        "sign",
        "sign the head of the chain",
        "Sign the head of the chain with the records' own key, and print it to be noted.",
        _sign,
        "sign --by NAME",
    )
    ask_who(sign)
    witness = add_part(
        parts,
        "witness",
        "sign the head with a second person's key",
        "Sign the head with a second person's key. Who keeps the records cannot write them anew "
        "afterwards without the witness seeing it.",
        _witness,
        "witness --key witness.json --new-key --by NAME",
    )
    witness.add_argument(
        "--key", type=Path, required=True, metavar="FILE", help="the witness's own"
    )
    witness.add_argument("--new-key", action="store_true", help="draw the key into FILE first")
    ask_who(witness)
    copy = add_part(
        parts,
        "copy",
        "copy the records whole, and check the copy",
        "Copy the records whole to another place, and check the copy there.",
        _copy,
        "copy backup.sqlite --by NAME",
    )
    copy.add_argument("to", metavar="FILE|URL", help="a new file, or an empty database")
    ask_who(copy)
    restore = add_part(
        parts,
        "restore",
        "make records from a copy: RECORDS is the copy",
        "Make records from a copy, which RECORDS names here, and check them.",
        _restore,
        "restore restored.sqlite",
    )
    restore.add_argument("to", metavar="FILE|URL", help="a new file, or an empty database")
    forget = add_part(
        parts,
        "forget",
        "destroy the row that says who a candidate is",
        "Destroy a candidate's row in your list of names, record that it was done, and print what "
        "stays and why. Without an id, print whose names are due to go.",
        _forget,
        "forget",
        "forget C07 --names names.csv --by NAME --why 'asked to be'",
    )
    forget.add_argument(
        "candidate",
        nargs="?",
        default="",
        metavar="ID",
        help="default: list whose names are due to go",
    )
    forget.add_argument("--names", type=Path, metavar="FILE.csv", help="columns candidate, name")
    forget.add_argument("--by", default="", metavar="NAME", help="who does it, for the record")
    forget.add_argument("--why", default="", metavar="WHY", help="the reason, for the record")


def _sign(records: Records, options: argparse.Namespace) -> int:
    """Sign the head of the chain."""
    print_head(records)
    return ALL


def _witness(records: Records, options: argparse.Namespace) -> int:
    """Sign the head with a witness's key."""
    if options.new_key:
        known = signing.make_key(options.key)
        print(
            f"Wrote {options.key}: the witness keeps it, and nobody else. Wrote {known}, to "
            "check with."
        )
    elif not options.key.exists():
        raise FileNotFoundError(
            f"there is no key in {options.key}: look at its name and its folder, or add --new-key "
            "to draw one into it"
        )
    head = records.sign(options.by, signing.read_key(options.key))
    print(
        f"Witnessed by {head.by} with key {head.key}: {head.note}. The witness notes this; a "
        "book cut or rewritten since then shows to them: verify --head."
    )
    return ALL


def _copy(records: Records, options: argparse.Namespace) -> int:
    """Copy the records, and record that they were copied."""
    made = copy(records, options.to)
    note_output(records, "copy", made.where, made.head)
    print(
        f"Copied to {made.where}, checked; its chain ends at {made.head}. To restore: squatlab "
        f"records {made.where} restore NEW."
    )
    return ALL


def _restore(records: Records, options: argparse.Namespace) -> int:
    """Make records from a copy."""
    made = copy(records, options.to)
    print(
        f"Restored to {made.where}, checked; its chain ends at {made.head}. Put the signing key "
        "beside it again."
    )
    return ALL


def _forget(records: Records, options: argparse.Namespace) -> int:
    """Forget a candidate, or list whose names are due to go."""
    if not options.candidate:
        due = due_to_forget(records)
        print(f"Names kept for long enough and due to go: {', '.join(due) or 'none'}.")
        return ALL
    if not options.names:
        raise ValueError("name the list that says who the candidate is: --names FILE.csv")
    there(options.names)
    stays = forget(records, options.candidate, options.names, options.why)
    print(
        f"{options.candidate} was taken out of {options.names}. Copies of that list are yours to "
        f"destroy. {stays}"
    )
    return ALL
