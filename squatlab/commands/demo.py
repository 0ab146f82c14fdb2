"""``squatlab demo``: an invented club's exam, from blueprint to certificates, in a folder."""

from __future__ import annotations

import argparse
from concurrent.futures import ProcessPoolExecutor
from datetime import timedelta
from functools import partial
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from squatlab.commands.exam import ALL, counting
from squatlab.commands.progress import telling
from squatlab.commands.reports import write

SMALL = {"height_px": 240, "every": 2}
"""Clips of the demo are small and of every second frame: it is to be done in a minute or two."""


def add_to(commands: Any) -> None:
    """Add ``demo`` to the parser's commands."""
    demo = commands.add_parser(
        "demo",
        help="run an invented club's exam end to end into a folder",
        description="24 invented rowers sit a form, some of them a second one: forms, two coaches "
        "on the key, hand-ins, marks, report, records, certificates, in a minute or two. The same "
        "seed, the same club.",
    )
    demo.add_argument(
        "-o", "--output", type=Path, default=Path("demo"), metavar="DIR", help="default: demo"
    )
    demo.add_argument("--seed", type=int, default=1, metavar="N", help="default: 1")
    demo.set_defaults(run=_demo)


def _demo(options: argparse.Namespace) -> int:
    """Make, sit, mark, report, certify."""
    from squatlab.exam import demo
    from squatlab.exam.build import draw
    from squatlab.exam.screens.stills import stills

    folder = options.output
    if folder.exists() and any(folder.iterdir()):
        raise FileExistsError(f"{folder} is not empty; choose another folder with -o")
    secret, people, drawn = demo.secret(options.seed), demo.abilities(options.seed), {}
    with ProcessPoolExecutor(2) as executor:
        for name in demo.FORMS:
            print(f"Drawing and packing form {name} …", flush=True)
            with telling(f"drawing form {name}"):
                drawn[name] = draw(secret, name, executor=executor)
            render = partial(stills, **SMALL)
            drawn[name].pack(folder / "forms", render, executor, counting(f"packing {name}"))
    for name in demo.FORMS:
        print(f"Sitting, marking and reporting form {name} …", flush=True)
        handed = folder / "hand-ins" / name
        handed.mkdir(parents=True)
        for sheet in demo.sheets(drawn[name], options.seed, people):
            sheet.write(handed / f"{name}-{sheet.candidate}.json")
        (folder / f"panel-{name}.csv").write_text(demo.ratings(drawn[name], options.seed))
        failed = _marked(folder, name, drawn[name], options.seed)
        # Whoever failed has practised since, and sits the next form.
        people = {who: people[who] + 0.8 for who in failed}
    print(f"All of it is in {folder}: forms, hand-ins, records.sqlite, reports with certificates.")
    print(f"For other programs, in {folder / 'export'}: QTI, which holds the keys, and badges.")
    return ALL


def _marked(folder: Path, name: str, drawn: Any, seed: int) -> list[str]:
    """Mark and record a sitting, certify who passed, write the report; return who failed."""
    import numpy as np

    from squatlab.exam import demo
    from squatlab.exam.answers import collect
    from squatlab.exam.marking import mark
    from squatlab.exam.panel import read_angoff
    from squatlab.exam.records import Records, decide, issue, opinions, record_all, record_review
    from squatlab.exam.report import Report
    from squatlab.exam.screens.report_pages import certificate_page
    from squatlab.show import paper

    closes = demo.BEGINS[name] + timedelta(minutes=drawn.minutes)
    found = collect(folder / "hand-ins" / name, drawn.form, closes)
    marks = mark(drawn.form, drawn.key, found.sheets)
    chance = np.random.default_rng([seed, *name.encode()]).bytes
    after = closes + timedelta(days=1)
    records = Records(folder / "records.sqlite", clock=lambda: after, draw=chance)
    for coach, answers in demo.blind(drawn, seed).items():
        record_review(records, drawn.form, drawn.key, coach, answers)
    attempts, _ = record_all(records, marks, found.sheets)
    passed = {one.candidate: decide(records, one.number, "demo").passed for one in attempts}
    given = [issue(records, one.number, "demo") for one in attempts if passed[one.candidate]]
    report, told = Report(marks, opinions=opinions(records, name)), folder / "reports" / name
    panel = read_angoff(folder / f"panel-{name}.csv", [item.item for item in report.analysis.items])
    write(report, told, panel)
    with telling("drawing certificates"):
        pages = [certificate_page(one, "the demo course") for one in given]
        if pages:
            paper.save(pages, told / "certificates.pdf", f"Certificates, form {name}")
    print(f"form {name}: {len(attempts)} sat, {len(given)} passed; a panel of {len(panel.judges)} "
          f"would put the cut at {panel.cut.cut:.1f}")  # fmt: skip
    records.close()
    _exported(folder, drawn, given, seed)
    return [who for who, well in passed.items() if not well]


def _exported(folder: Path, drawn: Any, given: list[Any], seed: int) -> None:
    """Write the form as QTI, and badges if the package that signs them is there."""
    from squatlab.exam import badge, demo, qti
    from squatlab.exam.package import Package
    from squatlab.questions import files

    form, out = drawn.form.id, folder / "export"
    out.mkdir(exist_ok=True)
    package = Package.read(folder / "forms" / f"{form}.zip")
    qti.from_form(package, drawn.key).write(out / f"{form}-qti-with-key.zip")
    if find_spec("cryptography"):
        key = out / "club.json"
        if not key.exists():
            badge.make_key(key, lambda size: demo.secret(seed).value)
        for one in given:
            signed = badge.sign(one, badge.read_key(key), demo.CLUB, "the demo course")
            files.write_whole(out / f"{one.candidate}.jwt", f"{signed}\n")
