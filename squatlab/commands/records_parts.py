"""What the commands of ``squatlab records`` have in common."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from typing import Any

from squatlab.commands.bookkeeping import (
    ALL,
    SOME,
    book,
    there,
    there_form_and_key,
)
from squatlab.commands.options import add_examples
from squatlab.exam.records import (
    Certificate,
    Records,
)


def add_part(
    parts: Any,
    name: str,
    words: str,
    what_happens: str,
    run: Callable[[Records, argparse.Namespace], int],
    *examples: str,
) -> argparse.ArgumentParser:
    """Add a command of ``records`` and return it, for its options.

    ``words`` are its line in the list of commands, ``examples`` what may
    stand after ``squatlab records RECORDS``.
    """
    part = parts.add_parser(name, help=words, description=what_happens)
    add_examples(part, *(f"squatlab records records.sqlite {example}" for example in examples))
    part.set_defaults(run=lambda options: _opened(options, run))
    return part


def ask_who(part: argparse.ArgumentParser) -> None:
    """Ask who writes into the records."""
    part.add_argument("--by", required=True, metavar="NAME", help="who does it, for the record")


def ask_who_and_why(part: argparse.ArgumentParser) -> None:
    """Ask who decides something, and why."""
    part.add_argument("--by", required=True, metavar="NAME", help="who decides")
    part.add_argument("--why", required=True, metavar="WHY", help="the reason, for the record")


def _opened(options: argparse.Namespace, run: Callable[[Records, argparse.Namespace], int]) -> int:
    """Run a command on the records, after a look whether its files are there."""
    if getattr(options, "has_form_and_key", False):
        there_form_and_key(options)
    there(*getattr(options, "answers", ()))
    by, new = getattr(options, "by", ""), getattr(options, "may_be_new", False)
    with book(options.where, by, new) as records:
        return run(records, options)


def say_certificate(certificate: Certificate) -> int:
    """Print a certificate's state; return the exit code that says if it holds."""
    who = f" ({certificate.candidate}, form {certificate.form})" if certificate.candidate else ""
    key = f" {certificate.key.capitalize()}." if who else ""
    print(f"{certificate.code}{who}: {certificate.words}{key}")
    return ALL if certificate.status == "valid" else SOME
