"""``squatlab demo``: an invented club's exam, from blueprint to certificates, in a folder."""

from __future__ import annotations

import argparse
from datetime import timedelta
from functools import partial
from pathlib import Path

import numpy as np

from squatlab import storage
from squatlab.commands.bookkeeping import ALL
from squatlab.commands.options import add_examples, seed_number
from squatlab.commands.report_command import write
from squatlab.commands.terminal_progress import progress_bar, progress_line
from squatlab.commands.workers import Workers
from squatlab.exam import badge, demo, qti, signing
from squatlab.exam.answers import Sheet
from squatlab.exam.build import Drawn, Packed, draw
from squatlab.exam.marking import mark
from squatlab.exam.package import Package
from squatlab.exam.panel import read_angoff
from squatlab.exam.records import (
    Certificate,
    Records,
    decide,
    enrol_coach,
    issue,
    opinions,
    receive_sheets,
    record_all,
    record_review,
)
from squatlab.exam.report import Report
from squatlab.exam.screens.report_pages import certificate_page
from squatlab.exam.screens.stills import stills
from squatlab.exam.secret import of_demo
from squatlab.questions import files
from squatlab.show import paper

INVENTED = "an invented class: too few people for a reliability, and handed in as files"
"""Why the demo certifies all the same, for the record."""

SMALL = {"px_per_cm": 1.2, "every": 4}
"""Clips of the demo are small and of every fourth frame: it is to be done in a minute or two."""


def add_demo(demo: argparse.ArgumentParser) -> None:
    """Give ``demo`` its options."""
    demo.description = (
        "24 invented rowers sit a form, some of them a second one: forms, two coaches "
        "on the key, hand-ins, marks, report, records, certificates, in a minute or two. The same "
        "seed, the same club."
    )
    add_examples(demo, "squatlab demo -o demo")
    demo.add_argument(
        "-o", "--output", type=Path, default=Path("demo"), metavar="DIR", help="default: demo"
    )
    demo.add_argument("--seed", type=seed_number, default=1, metavar="N", help="default: 1")
    demo.set_defaults(run=_demo)


def _demo(options: argparse.Namespace) -> int:
    """Make, sit, mark, report, certify."""
    folder = options.output
    if folder.exists() and any(folder.iterdir()):
        raise FileExistsError(f"{folder} is not empty; choose another folder with -o")
    storage.check_can_write_into(folder)
    secret, people, drawn, packed = of_demo(options.seed), demo.abilities(options.seed), {}, {}
    with Workers(2) as executor:
        for name in demo.FORMS:
            print(f"Drawing and packing form {name} …", flush=True)
            with progress_line(f"drawing form {name}"):
                drawn[name] = draw(secret, name, certify=False, executor=executor)
            render = partial(stills, **SMALL)
            packed[name] = drawn[name].pack(
                folder / "forms", render, executor, progress_bar(f"packing {name}")
            )
    for name in demo.FORMS:
        print(f"Sitting, marking and reporting form {name} …", flush=True)
        storage.write(folder / f"panel-{name}.csv", demo.ratings(drawn[name], options.seed))
        answered = demo.sheets(drawn[name], options.seed, people, packed[name].form)
        failed = _marked(folder, drawn[name], packed[name], answered, options.seed)
        # Whoever failed has practised since, and sits the next form.
        people = {who: people[who] + 0.8 for who in failed}
    print(f"All of it is in {folder}: forms, hand-ins, records.sqlite, reports with certificates.")
    print(f"For other programs, in {folder / 'export'}: QTI, which holds the keys, and badges.")
    return ALL


def _marked(
    folder: Path, drawn: Drawn, packed: Packed, answered: tuple[Sheet, ...], seed: int
) -> list[str]:
    """Mark and record a sitting, certify who passed, write the report; return who failed."""
    form, key = packed.form, packed.key
    clock = demo.Clock(demo.BEGINS[form.id])
    chance = np.random.default_rng([seed, *form.id.encode()]).bytes
    records = Records(folder / "records.sqlite", "demo", clock, chance)
    handed_in = demo.sit(records, clock, form, key, answered)
    received = receive_sheets(records, form, key, handed_in)
    handed = folder / "hand-ins" / form.id
    handed.mkdir(parents=True)
    for sheet in handed_in:
        sheet.write(handed / f"{form.id}-{sheet.candidate}.json")
    clock.time += timedelta(days=1)
    for coach, answers in demo.blind(drawn, seed).items():
        enrol_coach(records, coach)
        record_review(records, form, key, coach, answers)
    marks = mark(form, key, received.sheets)
    attempts, _ = record_all(records, marks, received.sheets)
    passed = {attempt.candidate: decide(records, attempt.number).passed for attempt in attempts}
    given = [
        issue(
            records,
            attempt.number,
            "the demo's second name",
            INVENTED,
            demo.CLUB,
            "the demo course",
        )
        for attempt in attempts
        if passed[attempt.candidate]
    ]
    report = Report(marks, opinions=opinions(records, form.id))
    report_folder = folder / "reports" / form.id
    lifts = [item.item for item in report.analysis.items]
    panel = read_angoff(folder / f"panel-{form.id}.csv", lifts)
    write(report, report_folder, panel)
    with progress_line("drawing certificates"):
        pages = [certificate_page(certificate, "the demo course") for certificate in given]
        if pages:
            paper.save(pages, report_folder / "certificates.pdf", f"Certificates, form {form.id}")
    print(
        f"form {form.id}: {len(attempts)} sat, {len(given)} passed; a panel of "
        f"{len(panel.judges)} would put the cut at {panel.cut.cut:.1f}"
    )
    if not records.key_file.exists():  # the same seed, the same signatures
        signing.make_key(records.key_file, lambda size: of_demo(seed + 1).value)
    records.sign()
    records.close()
    _exported(folder, packed, given, seed)
    return [who for who, well in passed.items() if not well]


def _exported(folder: Path, packed: Packed, given: list[Certificate], seed: int) -> None:
    """Write the form as QTI, and a badge for each certificate."""
    out = folder / "export"
    out.mkdir(exist_ok=True)
    chosen = qti.from_form(Package.read(packed.package), packed.key)
    chosen.write(out / f"{packed.form.id}-qti-with-key.zip")
    key = out / "club.json"
    if not key.exists():
        signing.make_key(key, lambda size: of_demo(seed).value)
    for certificate in given:
        files.write_whole(
            out / f"{certificate.candidate}.jwt",
            f"{badge.sign(certificate, signing.read_key(key))}\n",
        )
