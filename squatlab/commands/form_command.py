"""``squatlab form``: sealed exam forms with their keys."""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from concurrent.futures import Executor
from contextlib import contextmanager
from pathlib import Path

from squatlab import storage
from squatlab.commands.bank_command import add_blueprint, cells_of
from squatlab.commands.bookkeeping import ALL, SOME
from squatlab.commands.options import add_examples
from squatlab.commands.terminal_progress import progress_bar, progress_line
from squatlab.commands.workers import Workers
from squatlab.exam.build import balance, cells_of_a_bank, draw, everybody_has
from squatlab.exam.policy import ExamPolicy, shipped_policy
from squatlab.exam.screens.stills import stills
from squatlab.exam.secret import Secret, for_owner_alone
from squatlab.exam.selection import ALIKE
from squatlab.questions import files
from squatlab.questions.blueprint import Cell
from squatlab.questions.item_bank import Bank


def add_form(form: argparse.ArgumentParser) -> None:
    """Give ``form`` its options."""
    form.description = (
        "Make forms from a blueprint (data/blueprint.csv, or your own) and your secret: for each "
        "a NAME.zip for candidates, and NAME.key.json and NAME.register.json, which stay with you."
    )
    form.epilog = (
        "The secret makes every form, and again the same one: keep a copy where candidates "
        "never come. The seal protects the key, not the room: supervise. Exit codes: 0 made, 1 "
        "made but two forms differ in a cell, 2 wrong use."
    )
    add_examples(
        form,
        "squatlab form --secret secret.json --new-secret",
        "squatlab form spring summer --secret secret.json",
        "squatlab form trial --secret secret.json --practice",
    )
    form.add_argument("names", nargs="*", metavar="NAME", help="a new name for each new form")
    form.add_argument(
        "--secret",
        type=Path,
        required=True,
        metavar="FILE",
        help="the file that --new-secret drew, which you alone can read",
    )
    form.add_argument("--new-secret", action="store_true", help="draw the secret into FILE first")
    form.add_argument(
        "-o", "--output", type=Path, default=Path("forms"), metavar="DIR", help="default: forms"
    )
    form.add_argument("--cut", type=float, metavar="N", help="right lifts that pass")
    form.add_argument("--minutes", type=float, metavar="MIN", help="to sit it, without time factor")
    form.add_argument(
        "--bank",
        type=Path,
        metavar="FOLDER",
        help="your own items.csv and cues.csv (default, to certify: those beside the secret)",
    )
    add_blueprint(form)
    form.add_argument(
        "--policy",
        type=Path,
        metavar="FILE.csv",
        help="numbers of your own in place of those of data/exam_policy.csv, columns name and "
        "value, such as cut or waiting_days: the form carries them, and all that is decided about "
        "it follows them",
    )
    form.add_argument(
        "--practice",
        action="store_true",
        help="it certifies nobody, and asks from the practice bank unless --bank is given",
    )
    form.add_argument(
        "--override",
        default="",
        metavar="WHY",
        help="certify on too few lifts, or on questions that everybody has; WHY is recorded",
    )
    form.add_argument(
        "--text",
        action="store_true",
        help="the lifts in words as well, for a candidate who cannot watch: words tell a program "
        "more than pictures do, so pack this file apart (-o), for them alone, and supervise; the "
        "seal and the marks are the same",
    )
    form.add_argument("--workers", type=int, default=2, metavar="N", help="processes; default: 2")
    form.set_defaults(run=_form)


def _form(options: argparse.Namespace) -> int:
    """Draw and write the forms; say how far two of them agree."""
    if not (options.names or options.new_secret):
        raise ValueError("name a form to make, such as: squatlab form spring --secret FILE")
    _check_names(options.names)
    for name in options.names:
        paths = (options.output / f"{name}.{kind}" for kind in ("zip", "key.json", "register.json"))
        if there := next(filter(Path.exists, paths), None):
            raise FileExistsError(f"{there} is there already; a new form needs a new name")
    if not (options.new_secret or options.secret.exists()):
        raise FileNotFoundError(
            f"there is no secret in {options.secret}: give the file you keep, or add --new-secret "
            "to draw one into it"
        )
    cells = cells_of(options)
    policy = ExamPolicy.read(options.policy) if options.policy else shipped_policy()
    bank = _bank(options, cells)  # before a secret is drawn: what is refused leaves nothing behind
    storage.check_can_write_into(options.output)
    if options.new_secret:
        secret = Secret.make(options.secret)
        print(f"Wrote {options.secret}: keep it to yourself, and a copy of it.")
    else:
        secret = Secret.read(options.secret)
        if secret.weakness and not options.practice:
            raise ValueError(
                f"{options.secret} can be guessed: {secret.weakness}. Draw another (--new-secret), "
                "or make forms for practice (--practice)"
            )
    drawn = []
    with _workers(options.workers) as executor:
        for name in options.names:
            with progress_line(f"drawing form {name}"):
                made = draw(
                    secret,
                    name,
                    cells,
                    cut=options.cut,
                    minutes=options.minutes,
                    certify=not options.practice,
                    override=options.override,
                    executor=executor,
                    bank=bank,
                    policy=policy,
                )
            drawn.append(made)
            packed = made.pack(
                options.output,
                stills,
                executor,
                progress_bar(f"packing form {name}"),
                texts=options.text,
            )
            where = ", ".join(map(str, (packed.package, packed.key_file, packed.register)))
            print(f"{made}; seal {packed.form.seal[:16]}…\nWrote {where}.")
    apart = [
        f"form {other.form.id}, {row.cell}: {row.counts[1]} items, mean margin "
        f"{row.margins[1]:.2f}; form {drawn[0].form.id}: {row.counts[0]}, {row.margins[0]:.2f}"
        for other in drawn[1:]
        for row in balance(drawn[0], other)
        if not row.alike
    ]
    if len(drawn) > 1:
        alike = f"The forms agree in every cell: counts, and margins within {2 * ALIKE:g}."
        print(*apart or [alike], sep="\n")
    return SOME if apart else ALL


def _check_names(names: list[str]) -> None:
    """Raise ValueError for a name that cannot be a form's, and one that is given twice."""
    earlier: dict[str, str] = {}
    for name in names:
        files.identifier("form", name)
        # Some disks do not tell capitals from small letters.
        if name.casefold() in earlier:
            raise ValueError(
                f"forms {earlier[name.casefold()]} and {name}: give each a name of its own"
            )
        earlier[name.casefold()] = name


def _bank(options: argparse.Namespace, cells: Sequence[Cell]) -> Bank | None:
    """Return the bank to draw from, None for the one that ships.

    Raises ValueError for a certifying form if that one alone is there, or
    if others may read the certifier's.
    """
    folder, beside = options.bank, options.secret.parent
    tables = ("items.csv", "cues.csv")
    if folder is None and not options.practice and any((beside / n).exists() for n in tables):
        folder = beside
    if folder is not None:
        bank = Bank.read(folder)
        for name in tables:
            if (folder / name).exists() and not options.practice:
                for_owner_alone(folder / name, "items")
        print(f"Knowledge and cues are from {folder}.")
        return bank
    asked = cells_of_a_bank(cells)
    if options.names and asked and not (options.practice or options.override.strip()):
        raise ValueError(everybody_has(asked))
    return None


@contextmanager
def _workers(count: int) -> Iterator[Executor | None]:
    """Open processes to draw and pack in; None for one alone."""
    if count < 2:
        yield None
        return
    with Workers(count) as executor:
        yield executor
