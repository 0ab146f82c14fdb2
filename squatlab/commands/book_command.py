"""``squatlab book``: the course as pages that move and answer in a browser."""

from __future__ import annotations

import argparse
import json
import os
import re
from base64 import b64decode
from collections.abc import Callable, Iterator
from concurrent.futures import as_completed
from copy import deepcopy
from html import escape
from multiprocessing import get_context
from pathlib import Path
from typing import Any, NamedTuple

import nbformat
from nbconvert import HTMLExporter
from pygments.formatters import HtmlFormatter

from squatlab import storage, tables, units
from squatlab.commands import in_us_units
from squatlab.commands.options import REPLACE, add_examples, must_be_new
from squatlab.commands.terminal_progress import progress_bar
from squatlab.commands.workers import Workers
from squatlab.lessons.course_pages import ASKED
from squatlab.lessons.us_prose import with_us
from squatlab.offline import asked, room_server
from squatlab.offline.cells import (
    FAULT_PAGE,
    PRACTICE,
    SHARED,
    MovingCell,
    in_jupyter,
    moving_cells,
    only_imports,
    words_of,
)
from squatlab.offline.formulas import typeset
from squatlab.offline.projector import projector_pages
from squatlab.offline.stored import Stored, stored_explorer
from squatlab.show import scripts
from squatlab.show.check_form import RUN_TO_ANSWER
from squatlab.show.explorer import RUN
from squatlab.show.explorers import bar_thigh_stance
from squatlab.show.run_page import FIRST
from squatlab.show.scripts import EXPLORER, script

TITLE = "The back squat: a course"

FOLDED_CODE = """{% extends 'basic/index.html.j2' %}
{% block input %}<details class="code"><summary>Code</summary>{{ super() }}</details>{% endblock %}
"""
"""How a page differs from the exporter's own: nothing here runs, so code is there to open."""

BOOK = Path(asked.__file__).parent
"""Where the scripts and the style of the pages are."""


class BookPage(NamedTuple):
    """Hold a page of the book: where it is written, its title, lead and body.

    ``kept`` names what moves on it.
    """

    path: str
    title: str
    lead: str
    body: str
    kept: tuple[str, ...] = ()
    aims: str = ""


class Job(NamedTuple):
    """Name something that moves, and what makes it: work for a process."""

    name: str
    make: Callable[..., Stored]
    given: tuple[Any, ...] = ()

    def script(self) -> str:
        """Return the script in which it is kept."""
        return self.make(*self.given).script(self.name)


def add_book(book: argparse.ArgumentParser) -> None:
    """Give ``book`` its options."""
    book.description = (
        "Write every notebook as a page whose explorers move, whose clips play and "
        "whose checks answer, and index.html with the map of the course. The pages need no "
        "network and no Jupyter: open them from the folder, or put it on any web server."
    )
    add_examples(book, "squatlab book -o book", "squatlab book -o book --present --serve")
    book.add_argument(
        "-o", "--output", type=Path, required=True, metavar="DIR", help="the folder to write to"
    )
    book.add_argument(
        "--instructor",
        action="store_true",
        help="the instructors' pages too, about 1.5 MB more, and with them the key to the "
        "notebooks' checks",
    )
    book.add_argument(
        "--present",
        action="store_true",
        help="projector pages of the half-day too, in DIR/present; present/instructor.html has "
        "the answers to expect and is for the instructor's own screen",
    )
    book.add_argument(
        "--units",
        choices=tuple(units.SYSTEMS),
        help="metric, or us: every explorer, check and picture in US units, and figures in the "
        "text with them in brackets; the notebooks run once more for that, which takes several "
        "minutes (default: as chosen in this folder, else metric)",
    )
    book.add_argument(
        "--start", default="09:00", metavar="HH:MM", help="when the half-day begins (09:00)"
    )
    book.add_argument(
        "--serve",
        nargs="?",
        const=room_server.LOOPBACK,
        metavar="ADDRESS",
        help="then serve the folder to browsers: on this computer alone, or on the address of "
        "it that phones in the room can reach, such as 192.168.1.20; a QR code is shown",
    )
    book.add_argument(
        "--port", type=int, default=room_server.PORT, help=f"port to serve on ({room_server.PORT})"
    )
    book.add_argument("--replace", **REPLACE)
    book.set_defaults(run=_book)


def _book(options: argparse.Namespace) -> int:
    """Write the book in the units that are asked for."""
    with units.written_in(options.units or units.chosen()):
        return _write_book(options)


def _write_book(options: argparse.Namespace) -> int:
    """Write all files of the book, or none; then serve it if asked."""
    index = options.output / "index.html"
    if not (options.serve and index.exists() and not options.replace):
        must_be_new(options, index, other="folder with -o")  # before the work of making the rest
        storage.check_can_write_into(options.output)
        made = pages(options.instructor)
        if options.present:
            made |= {
                f"present/{name}": text
                for name, text in projector_pages(options.start, _projected())
            }
            made["present/present.js"] = (BOOK / "present.js").read_text("utf-8")
        made |= dict(_scripts(jobs()))
        files = {options.output / name: text for name, text in made.items()}
        must_be_new(options, *files, other="folder with -o")
        storage.write_together(files)
        size = sum(len(text.encode()) for text in made.values()) / 1e6
        print(f"Wrote {len(files)} files, {size:.1f} MB; open {index} in a browser.")
    if options.serve:
        room_server.serve(options.output, options.serve, options.port)
    return 0


def jobs() -> list[Job]:
    """Return all that moves in the book, the slowest first."""
    folder = tables.folder("notebooks")
    made = [Job("card", card)]
    for path in sorted(folder.glob("[0-9]*.ipynb")):
        notebook = json.loads(path.read_text("utf-8"))
        made += [
            Job(moving_cell.name, MovingCell.stored, (moving_cell,))
            for moving_cell in moving_cells(notebook, path.name)
            if moving_cell.called not in SHARED
        ]
    slow = ("07", "08", "06", "04", "01")
    made.sort(key=lambda job: not job.name.startswith(slow))
    made += [
        Job(f"case-{seed}", asked.practice_case, (seed,)) for seed in range(1, asked.CASES + 1)
    ]
    return [*made, Job("practice", asked.practice_form)]


STORED_SVG = re.compile(r"data:image/svg\+xml;base64,([A-Za-z0-9+/=]*)")


def _projected() -> dict[str, str]:
    """Return by the slot of the half-day the name of the explorer that is shown then."""
    named: dict[tuple[str, str], str] = {}
    for path in sorted(tables.folder("notebooks").glob("[0-9]*.ipynb")):
        notebook = json.loads(path.read_text("utf-8"))
        for moving_cell in moving_cells(notebook, path.name):
            # The first of its name: a clip to judge stands above the same with its answer.
            named.setdefault((path.name[:2], moving_cell.called), moving_cell.name)
    shown = {row["slot"]: (row["notebook"], row["explorer"]) for row in tables.read("timetable")}
    return {slot: named[explorer] for slot, explorer in shown.items() if explorer in named}


def card() -> Stored:
    """Return the explorer of bar, thigh and stance, whose sliders move together."""
    return stored_explorer(bar_thigh_stance(), together=("bar_position", "thigh", "stance_width"))


def _scripts(work: list[Job]) -> Iterator[tuple[str, str]]:
    """Yield path and text of every script, made by as many processes as there are cores."""
    tell = progress_bar("making what moves")
    spawned = get_context("spawn")
    # The workers are new processes, and know of no choice.
    with Workers(os.cpu_count(), spawned, units.choose, (units.chosen(),)) as pool:
        running = {pool.submit(Job.script, job): job for job in work}
        for done, finished in enumerate(as_completed(running), start=1):
            yield f"kept/{running[finished].name}.js", finished.result()
            tell(done, len(work))


def pages(instructor: bool = False) -> dict[str, str]:
    """Return the text of every page of the book by its path, with style and script.

    What moves on them is made by `jobs`. The instructors' pages show the
    key to the checks: only when asked.
    """
    exporter = HTMLExporter(
        template_name="basic",
        raw_template=FOLDED_CODE,
        exclude_anchor_links=True,
    )
    exporter.exclude_input_prompt = exporter.exclude_output_prompt = True
    folder = tables.folder("notebooks")
    # Those of the trainees come first: the instructors' folder begins with a letter.
    notebooks = folder.rglob("*.ipynb") if instructor else folder.glob("*.ipynb")
    paths = sorted(path for path in notebooks if "checkpoints" not in str(path))
    read = [nbformat.read(path, 4) for path in paths]
    if units.chosen() == units.US:
        read = in_us_units.run_again(read, progress_bar("running notebooks in US units"))
    book = [
        _page(path.relative_to(folder), notebook, exporter)
        for path, notebook in zip(paths, read, strict=True)
    ]
    book.insert(1, _card_page())
    book.append(_summary([page for page in book if page.aims and "/" not in page.path]))
    book.append(_guide_page(exporter))
    shell = Path(__file__).with_name("book.html").read_text("utf-8")
    # Bold and italics alone: colours would have to be seen on light and on dark.
    colours = HtmlFormatter(style="bw").get_style_defs(".input_area .highlight")
    index = BookPage("index.html", TITLE, "", _map(book))
    order, files = [None, index, *book, None], {"book.css": _style(colours)}
    files["book.js"] = script(
        *EXPLORER, "asking.js", "practising.js", *(BOOK / name for name in SCRIPTS)
    )
    for before, page, after in zip(order, order[1:], order[2:], strict=False):
        up = "../" * page.path.count("/")
        directions = ("Index", index), ("Back", before), ("Next", after)
        links = [
            f'<a class="{direction.lower()}" href="{up}{to.path}">{direction}: {to.title}</a>'
            for direction, to in directions
            if to and to is not page and (direction == "Index" or to is not index)
        ]
        scripts = [f'<script defer src="{up}kept/{name}.js"></script>' for name in page.kept]
        text = {
            "title": page.title,
            "up": up,
            "links": " ".join(links),
            "body": page.body,
            "scripts": "\n".join(scripts),
            "kind": "page",
        }
        files[page.path] = shell.format_map(text)
    return files


SHOWN = "explorer.css", "clip.css", "asking.css", "judged.css", "terms.css"
SCRIPTS = "stored.js", "checks.js", "practice.js"
STYLES = "pages.css", "touch.css"


def _style(code: str) -> str:
    """Return the pages' style: what explorers and clips need, and the pages' own upon it."""
    show = Path(scripts.__file__).parent
    own = Path(__file__).with_name("book.css")
    files = [own, *(show / name for name in SHOWN), *(BOOK / name for name in STYLES)]
    return "\n".join([code, *(file.read_text("utf-8") for file in files), ""])


def _page(name: Path, notebook: Any, exporter: Any) -> BookPage:
    """Return a notebook as a page of the book."""
    notebook = deepcopy(notebook)
    typeset(notebook)
    notebook.cells[0].source = notebook.cells[0].source.replace(FIRST, "")  # no cell to run
    for cell in notebook.cells:
        if cell.cell_type == "code" and only_imports(cell.source):
            cell.metadata["transient"] = {"remove_source": True}
    scripts = ()
    if len(name.parts) == 1:  # the instructors' pages are read, not tried
        notebook, scripts = _living(notebook, name.as_posix())
    html = lighter(exporter.from_notebook_node(notebook)[0].replace(RUN, ""))
    body = re.sub(r'(href="[^":]*)\.ipynb\b', r"\1.html", html)
    body = re.sub(r"<h2>([^<]*)</h2>", _with_its_place, body)
    title = re.search(r"<h1[^>]*>(.*?)</h1>", body, re.DOTALL)[1]
    aims = body[: body.index("</ul>")]
    leads = [one for one in re.findall(r"<p>(.*?)</p>", aims, re.DOTALL) if "After this" not in one]
    points = re.findall(r"<li>(.*?)</li>", aims, re.DOTALL)
    lead = leads[0] if leads else f"To {' '.join(points)}"
    listed = "".join(f"<li>{point}</li>" for point in points)
    return BookPage(
        name.with_suffix(".html").as_posix(), title, lead, body, scripts, f"<ul>{listed}</ul>"
    )


def _with_its_place(heading: re.Match[str]) -> str:
    """Return a heading with the id by which JupyterLab's links name it too."""
    return f'<h2 id="{heading[1].strip().replace(" ", "-")}">{heading[1]}</h2>'


def lighter(html: str) -> str:
    """Return a page whose SVG pictures stand in it as text.

    As base64, as notebooks keep them, they are a fifth larger.
    """
    return STORED_SVG.sub(_as_text, html)


def _as_text(match: re.Match[str]) -> str:
    """Return an SVG picture as a data address in text."""
    svg = b64decode(match[1]).decode()
    # What ends an address or the attribute it stands in; "<" may stand as it is.
    written = {"%": "%25", "#": "%23", '"': "%22", "\n": "%0A", "&": "&amp;"}
    return f"data:image/svg+xml,{svg.translate(str.maketrans(written))}"


def _living(notebook: Any, name: str) -> tuple[Any, tuple[str, ...]]:
    """Return a notebook whose stills and questions have places for what moves and answers."""
    notebook = deepcopy(notebook)
    moving = {moving_cell.index: moving_cell for moving_cell in moving_cells(notebook, name)}
    cells, scripts = [], [one.name for one in moving.values()]
    for index, cell in enumerate(notebook.cells):
        if index in moving and words_of(cell).startswith(FAULT_PAGE):
            # The picture says more than the clip: it stays above it.
            _show(cell, f'{_still(cell)}<div data-kept="{moving[index].name}"></div>')
        elif index in moving:
            still = _still(cell)
            words = f'<p class="words">{escape(words_of(cell).split(": ", 1)[1])}</p>'
            stored = f'<div class="still">{still}{words}</div>'
            _show(cell, f'<div data-kept="{moving[index].name}">{stored}</div>')
        elif words_of(cell).startswith(PRACTICE):
            scripts.append("practice")
            _show(cell, f'<div data-practice="kept/"><div class="still">{_still(cell)}</div></div>')
        elif cell.cell_type == "code" and (words := in_jupyter(cell.source)):
            _show(cell, f'<p class="aside">{words}</p>')
        elif cell.cell_type == "code" and (check := ASKED.search(cell.source)):
            questions = asked.asked_in_turn(check[1], int(check[2]))
            sent = json.dumps(questions).replace("</", "<\\/")
            asked_on_paper = _still(cell).replace(RUN_TO_ANSWER, "")
            _show(
                cell,
                f'<div data-check="{check[1]}"><div class="still">{asked_on_paper}</div>'
                f'<script type="application/json">{sent}</script></div>'
                '<p class="aside" data-marks></p>',
            )
        cells.append(cell)
    notebook.cells = cells
    return notebook, tuple(scripts)


def _still(cell: Any) -> str:
    """Return what a cell shows without a kernel, as HTML; "" for nothing."""
    for output in cell.outputs:
        if html := output.get("data", {}).get("text/html"):
            return "".join(html)
    return ""


def _show(cell: Any, html: str) -> None:
    """Let a cell show what it printed, and this; its code is not what a reader of the page runs."""
    cell.metadata["transient"] = {"remove_source": True}
    printed = [output for output in cell.outputs if output.output_type == "stream"]
    cell.outputs = [*printed, nbformat.v4.new_output("display_data", {"text/html": html})]


def _card_page() -> BookPage:
    """Return the page of the explorer that is no notebook's."""
    lead = "Bar position, thigh length and stance together: lever arms, lean and centre of mass."
    body = (
        f"<h1>Bar, thigh and stance</h1><p>{lead}</p>"
        '<div data-kept="card"><p class="still">This explorer moves in a browser with scripts; '
        '<a href="05_balance_and_bar_path.html">05</a> has its pictures.</p></div>'
        "<h2>What to try</h2><ul><li>Move the bar down the back: the trunk leans more, until bar "
        "and lifter are over mid-foot again.</li><li>Choose <b>Hold: the trunk’s lean</b> and "
        "move the bar again: now the centre of mass moves.</li><li>Lengthen the thighs, then "
        "widen the stance: seen from the side the thigh gets shorter, and the lean less.</li></ul>"
    )
    return BookPage("bar_thigh_stance.html", "Bar, thigh and stance", lead, body, ("card",))


def _summary(book: list[BookPage]) -> BookPage:
    """Return the page to print: what one can do after each, and the marks of this visit."""
    parts = [
        f'<section><h2><a href="{page.path}">{page.title}</a></h2>{page.aims}</section>'
        for page in book
    ]
    lead = "What you can do after each page, on two sheets of paper, and the marks of this visit."
    body = f"<h1>Summary to print</h1><p>{lead}</p><p data-marks></p>{''.join(parts)}"
    return BookPage("summary.html", "Summary to print", lead, body)


def _guide_page(exporter: Any) -> BookPage:
    """Return the page on the commands, from the text that the source's README points to."""
    text = Path(__file__).with_name("guide.md").read_text("utf-8")
    if units.chosen() == units.US:
        text = with_us(text)
    guide = nbformat.v4.new_notebook(cells=[nbformat.v4.new_markdown_cell(text)])
    lead = "What each command is for, from reviewing your own footage to keeping an exam’s records."
    body = exporter.from_notebook_node(guide)[0]
    return BookPage("guide.html", "Guide to the commands", lead, body)


def _map(book: list[BookPage]) -> str:
    """Return the body of the index: safety as the first page has it, and where all is."""
    safety = re.search(r"<blockquote>.*?Safety.*?</blockquote>", book[0].body, re.DOTALL)[0]
    parts = [f"<h1>{TITLE}</h1>", safety]
    if units.chosen() == units.US:
        parts.append("<p>In US units. Figures in the text have them in brackets.</p>")
    for deep, name in enumerate(("For trainees", "For instructors")):
        rows = (
            f'<dt><a href="{page.path}">{page.title}</a></dt><dd>{page.lead}</dd>'
            for page in book
            if page.path.count("/") == deep
        )
        parts.append(f"<h2>{name}</h2>\n<dl>{shown}</dl>" if (shown := "".join(rows)) else "")
    return "\n".join(parts)
