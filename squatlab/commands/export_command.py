"""``squatlab export`` and ``squatlab badge``: items and certificates for other programs."""

from __future__ import annotations

import argparse
from pathlib import Path

from squatlab.commands.bookkeeping import ALL, SOME, add_author, add_records_file, book, there
from squatlab.commands.options import REPLACE, add_examples, must_be_new
from squatlab.exam import badge, qti, signing
from squatlab.exam.forms import FormKey
from squatlab.exam.package import Package
from squatlab.exam.qti import Selection
from squatlab.exam.records import Records, check, note_output
from squatlab.questions import files

LOUD = (
    "THIS FILE HOLDS THE KEY. Whoever opens it reads every right answer: load it into the "
    "platform where candidates cannot see it, then delete it."
)


def add_export(export: argparse.ArgumentParser) -> None:
    """Give ``export`` its options."""
    export.description = (
        "Write the knowledge questions of the bank, or what a form asks, as a QTI "
        "content package: choices, orders, numbers with their tolerance, several answers, cues. "
        "What is lost on the way is named. Clips do not travel: lifts go as tables of words, "
        "another exam than the clips, and only from a package made with form --text. " + LOUD
    )
    export.epilog = (
        "A form's seal does not cover what a platform makes of it, and marks given there "
        "are not in the records. Exit codes: 0 all written, 1 some left out, 2 wrong use."
    )
    add_examples(
        export,
        "squatlab export -o bank.zip",
        "squatlab export spring.zip spring.key.json --by NAME -o spring-qti.zip",
    )
    export.add_argument("form", nargs="?", type=Path, metavar="FORM.zip", help="default: the bank")
    export.add_argument("key", nargs="?", type=Path, metavar="KEY.json", help="the form's key")
    export.add_argument(
        "-o", "--output", type=Path, required=True, metavar="FILE.zip", help="where it is written"
    )
    export.add_argument(
        "--qti", choices=("2.1", "3.0"), default="3.0", help="the edition to write; default: 3.0"
    )
    add_records_file(export)
    export.add_argument(
        "--by", default="", metavar="NAME", help="who exports a form, for the record"
    )
    export.add_argument("--replace", **REPLACE)
    export.set_defaults(run=_export)


def add_badge(badge: argparse.ArgumentParser) -> None:
    """Give ``badge`` its options."""
    badge.description = (
        "Open Badges 3.0, signed with Ed25519. A badge says what its certificate says."
    )
    badge.epilog = "Exit codes: 0 given, or it holds; 1 it does not hold; 2 wrong use."
    parts = badge.add_subparsers(required=True, metavar="what")
    give = parts.add_parser(
        "give",
        help="sign the badge of a certificate that holds",
        description="Write the badge of a certificate that holds, signed with the issuer's key. "
        "It says what the certificate says; that it was given is recorded.",
    )
    add_examples(give, "squatlab badge give 7XKQ-M2PD-9RTA --key club.json --by NAME -o badge.jwt")
    give.add_argument("code", metavar="CODE", help="the certificate's")
    give.add_argument("--key", type=Path, required=True, metavar="FILE", help="the issuer's key")
    give.add_argument("--new-key", action="store_true", help="draw the key into FILE first")
    add_author(give)
    give.add_argument(
        "-o", "--output", type=Path, required=True, metavar="FILE.jwt", help="where it is written"
    )
    give.add_argument("--replace", **REPLACE)
    give.set_defaults(run=_give)
    check = parts.add_parser(
        "check",
        help="say whether a badge holds, and if not, why",
        description="Say whether a badge is unaltered, this issuer's and in its time; with the "
        "records, whether it was revoked as well. Writes nothing.",
    )
    add_examples(check, "squatlab badge check badge.jwt club.public.json --records records.sqlite")
    check.add_argument("badge", type=Path, metavar="FILE.jwt", help="the badge")
    check.add_argument(
        "key",
        type=Path,
        metavar="PUBLIC.json",
        help="the issuer's public key, got from the issuer and not with the badge",
    )
    check.add_argument(
        "--records", metavar="FILE", help="or a database's URL: to see whether it was revoked"
    )
    check.add_argument("--candidate", default="", metavar="ID", help="was it given to this id?")
    check.set_defaults(run=_check)


def _export(options: argparse.Namespace) -> int:
    """Write a QTI package of the bank or of a form."""
    if options.form and not options.key:
        raise ValueError("give the form's key too: squatlab export FORM.zip KEY.json -o FILE.zip")
    if options.form and not options.by:
        raise ValueError("a form leaves with its key: say who exports it, --by NAME")
    must_be_new(options, options.output, other="name with -o")
    chosen = qti.from_bank()
    if options.form:
        package, key = Package.read(options.form), FormKey.read(options.key)
        package.check(key)
        chosen = qti.from_form(package, key)
    if options.form:
        # The records first: without them no key leaves.
        with book(options.records, options.by, True) as records:
            chosen.write(options.output, options.qti)
            note_output(records, f"QTI {options.qti}", chosen.id, options.output.read_bytes())
            _tell(chosen, options)
    else:
        chosen.write(options.output, options.qti)
        _tell(chosen, options)
    return SOME if chosen.left_out else ALL


def _tell(chosen: Selection, options: argparse.Namespace) -> None:
    """Print what was written, and what of it does not travel."""
    print(
        f"Wrote {options.output}: {chosen.title}, QTI {options.qti}, {len(chosen.items)} "
        f"items.\n{LOUD}"
    )
    if any(item.account for item in chosen.items):
        print("Its lifts travel in words, without clips: another exam than the clips.")
    for loss, names in _grouped({item.id: item.loss for item in chosen.items}).items():
        if loss:
            print(f"Changed on the way ({', '.join(names)}): {loss}.")
    for why, names in _grouped(chosen.left_out).items():
        print(f"Left out {len(names)} ({', '.join(names)}): {why}.")


def _grouped(reasons: dict[str, str]) -> dict[str, list[str]]:
    """Return the names that share each reason."""
    names_of: dict[str, list[str]] = {}
    for name, reason in reasons.items():
        names_of.setdefault(reason, []).append(name)
    return names_of


def _give(options: argparse.Namespace) -> int:
    """Write the badge of a certificate."""
    must_be_new(options, options.output, other="name with -o")
    if not (options.new_key or options.key.exists()):
        raise FileNotFoundError(
            f"there is no key in {options.key}: look at its name and its folder, or add --new-key "
            "to draw one into it"
        )
    with book(options.records, options.by, may_be_new=False) as records:
        certificate = check(records, options.code)
        badge.must_say_all(certificate)  # before a key is drawn that would be in the way later
        if options.new_key:
            known = signing.make_key(options.key)
            print(
                f"Wrote {options.key}: keep it to yourself, and a copy of it.\nWrote {known}: "
                "give it to whoever checks badges, from your own site or by hand."
            )
        token = badge.sign(certificate, signing.read_key(options.key))
        files.write_whole(options.output, token + "\n")
        note_output(records, "badge", certificate.code, token)
        print(f"Wrote {options.output}: the badge of {certificate.code}. {certificate.words}")
    return ALL


def _check(options: argparse.Namespace) -> int:
    """Print whether a badge holds."""
    there(options.badge, options.key)
    token = options.badge.read_text(encoding="utf-8", errors="replace")
    records = Records.existing(options.records) if options.records else None
    read = signing.read_key(options.key)
    key = signing.public(read)
    if "d" in read:
        print(
            f"Note: {options.key} holds the secret that signs badges. To check one, its public "
            "key is enough; give nobody this file."
        )
    verdict = badge.verify(token, key, files.now(), records, options.candidate)
    if records:
        records.close()
    if claims := verdict.badge:
        print(f"{claims['name']}, given by {claims['issuer']['name']}")
    print(verdict.words)
    return ALL if verdict.holds else SOME
