"""``squatlab book``: the course as pages that any browser shows, without a kernel."""

from __future__ import annotations

import argparse
import re
from pathlib import Path
from typing import Any, NamedTuple

from squatlab import storage, tables
from squatlab.commands.options import REPLACE, must_be_new
from squatlab.commands.progress import telling

TITLE = "The back squat: a course"


class BookPage(NamedTuple):
    """Hold a page of the book: where it is written, its title, lead and body."""

    path: str
    title: str
    lead: str
    body: str


def add_to(commands: Any) -> None:
    """Add ``book`` to the parser's commands."""
    book = commands.add_parser(
        "book",
        help="write the course as pages to read and print, for a browser without Jupyter",
        description="Write every notebook with its pictures as a page, and index.html with the "
        "map of the course. The pages need no network and no Jupyter.",
    )
    book.add_argument("-o", "--output", type=Path, required=True, metavar="DIR")
    book.add_argument(
        "--instructor",
        action="store_true",
        help="the instructors' pages too, and with them the key to the notebooks' checks",
    )
    book.add_argument("--replace", **REPLACE)
    book.set_defaults(run=_book)


def _book(options: argparse.Namespace) -> int:
    index = options.output / "index.html"
    must_be_new(options, index, other="folder with -o")  # before the work of making the others
    with telling("writing the pages"):
        files = {options.output / name: text for name, text in pages(options.instructor).items()}
        must_be_new(options, *files, other="folder with -o")
        storage.write_together(files)
    print(f"Wrote {len(files)} files; open {index} in a browser.")
    return 0


def pages(instructor: bool = False) -> dict[str, str]:
    """Return the text of every file of the book by its path.

    The instructors' pages show the key to the checks: only when asked.
    """
    from nbconvert import HTMLExporter  # takes a second, so not at the top
    from pygments.formatters import HtmlFormatter

    exporter = HTMLExporter(template_name="basic", exclude_anchor_links=True)
    exporter.exclude_input_prompt = exporter.exclude_output_prompt = True
    folder = tables.folder("notebooks")
    # Those of the trainees come first: the instructors' folder begins with a letter.
    notebooks = folder.rglob("*.ipynb") if instructor else folder.glob("*.ipynb")
    found = sorted(path for path in notebooks if "checkpoints" not in str(path))
    book = [_page(path.relative_to(folder), exporter.from_filename(str(path))[0]) for path in found]
    shell, style = (
        Path(__file__).with_suffix(suffix).read_text("utf-8") for suffix in (".html", ".css")
    )
    colours = HtmlFormatter(style="default").get_style_defs(".highlight")
    index = BookPage("index.html", TITLE, "", _map(book))
    order, files = [None, index, *book, None], {"book.css": f"{style}\n{colours}\n"}
    for before, page, after in zip(order, order[1:], order[2:], strict=False):
        up = "../" * page.path.count("/")
        ways = ("Index", index), ("Before", before), ("Next", after)
        links = [
            f'<a href="{up}{to.path}">{way}: {to.title}</a>'
            for way, to in ways
            if to and to is not page and (way == "Index" or to is not index)
        ]
        text = {"title": page.title, "up": up, "links": " ".join(links), "body": page.body}
        files[page.path] = shell.format_map(text)
    return files


def _page(path: Path, html: str) -> BookPage:
    body = re.sub(r'(href="[^":]*)\.ipynb\b', r"\1.html", html)
    title = re.search(r"<h1[^>]*>(.*?)</h1>", body, re.DOTALL)[1]
    aims = body[: body.index("</ul>")]
    leads = [one for one in re.findall(r"<p>(.*?)</p>", aims, re.DOTALL) if "After this" not in one]
    lead = leads[0] if leads else f"To {' '.join(re.findall(r'<li>(.*?)</li>', aims))}"
    return BookPage(path.with_suffix(".html").as_posix(), title, lead, body)


def _map(book: list[BookPage]) -> str:
    """Return the body of the index: safety as the first page has it, and where all is."""
    safety = re.search(r"<blockquote>.*?Safety.*?</blockquote>", book[0].body, re.DOTALL)[0]
    parts = [f"<h1>{TITLE}</h1>", safety]
    for deep, name in enumerate(("For trainees", "For instructors")):
        rows = (
            f'<dt><a href="{page.path}">{page.title}</a></dt><dd>{page.lead}</dd>'
            for page in book
            if page.path.count("/") == deep
        )
        parts.append(f"<h2>{name}</h2>\n<dl>{shown}</dl>" if (shown := "".join(rows)) else "")
    return "\n".join(parts)
