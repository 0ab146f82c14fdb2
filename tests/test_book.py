"""The book: every notebook is a page that needs no network, no kernel and no script."""

from __future__ import annotations

import json
import re
from html import escape
from html.parser import HTMLParser
from importlib.metadata import requires
from pathlib import PurePosixPath

import pytest

from squatlab import tables
from squatlab.__main__ import main
from squatlab.commands.book import pages

FOLDER = tables.folder("notebooks")
NOTEBOOKS = {
    path.relative_to(FOLDER).with_suffix("").as_posix(): json.loads(path.read_text("utf-8"))
    for path in sorted(FOLDER.rglob("*.ipynb"))
    if "checkpoint" not in str(path)
}


class Tags(HTMLParser):
    """Gather every tag with its attributes, and the words between them."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str]]] = []
        self.words = ""
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, {name: value or "" for name, value in attrs}))

    def handle_data(self, data):
        self.words += data


@pytest.fixture(scope="module")
def book():
    return pages(instructor=True)


@pytest.fixture(scope="module")
def read(book):
    """Every page by its path, taken apart."""
    return {path: Tags(text) for path, text in book.items() if path.endswith(".html")}


@pytest.fixture(params=NOTEBOOKS)
def page(request, book, read):
    """A notebook, its page's source, and that taken apart."""
    path = f"{request.param}.html"
    return NOTEBOOKS[request.param], book[path], read[path]


def outputs(notebook) -> list[dict]:
    return [one for cell in notebook["cells"] for one in cell.get("outputs", ())]


def test_every_notebook_is_a_page_and_there_is_nothing_else(book):
    assert set(book) == {f"{name}.html" for name in NOTEBOOKS} | {"index.html", "book.css"}


def test_the_key_to_the_checks_is_for_instructors():
    book = pages()
    assert set(book) == {f"{name}.html" for name in NOTEBOOKS if "/" not in name} | {
        "index.html",
        "book.css",
    }
    assert not any('href="instructor' in text for text in book.values())
    assert "For instructors" not in book["index.html"]


def test_nothing_is_loaded_from_anywhere_but_the_book(book, read):
    for path, text in book.items():
        assert not re.search(r"https?://(?!www\.w3\.org/2000/svg\")", text), path
        assert "@import" not in text and not re.search(r"url\((?!#|&quot;#|\"#)", text), path
    for path, found in read.items():
        for tag, attributes in found.tags:
            assert tag not in ("script", "iframe", "object", "embed"), path
            for name in ("src", "href", "srcset", "xlink:href"):
                assert not attributes.get(name, "").startswith(("http", "//")), (path, attributes)


def test_every_link_leads_to_a_page(read, book):
    for path, found in read.items():
        links = [a["href"] for tag, a in found.tags if tag in ("a", "link") and "href" in a]
        assert len(links) >= 4, path  # icon, style, and the way on at both ends
        for link in links:
            if not link.startswith(("data:", "#")):
                to = PurePosixPath(path).parent / link
                parts: list[str] = []
                for part in to.parts:
                    parts = parts[:-1] if part == ".." else [*parts, part]
                assert "/".join(parts) in book, (path, link)
        assert not any(link.endswith(".ipynb") for link in links), path


def test_every_figure_is_there_with_its_words(page):
    notebook, _, found = page
    alts = [attributes.get("alt") for tag, attributes in found.tags if tag == "img"]
    for output in outputs(notebook):
        data = {
            kind: "".join(value) if isinstance(value, list) else value
            for kind, value in output.get("data", {}).items()
        }
        if stored := Tags(data.get("text/html", "")).tags:
            begins = (i for i, tag in enumerate(found.tags) if tag == stored[0])
            assert any(found.tags[i : i + len(stored)] == stored for i in begins)
    words = alts + [
        a["aria-label"] for tag, a in found.tags if (tag, a.get("role")) == ("svg", "img")
    ]
    assert all(told and len(told) > 40 and "No description" not in told for told in words)


def test_every_printed_line_is_there(page):
    notebook, _, found = page
    words = " ".join(found.words.split())
    for output in outputs(notebook):
        if output["output_type"] == "stream":
            assert " ".join("".join(output["text"]).split()) in words


def test_no_machinery_shows(page):
    _, text, found = page
    for raw in ("VBox(children", "widget-view", "&lt;svg", "b&#39;", "<IPython"):
        assert raw not in text and raw not in found.words


def test_no_formula_needs_a_renderer(page):
    """Formulas are plain text here; a dollar or a backslash would be shown as such."""
    notebook, _, _ = page
    prose = "\n".join("".join(c["source"]) for c in notebook["cells"] if c["cell_type"] != "code")
    assert not re.search(r"\$[^$\n]+\$|\\\(|\\\[|\\begin", prose)


def test_the_index_opens_with_safety_and_maps_the_course(book, read):
    index, words = book["index.html"], read["index.html"].words
    for told in (
        "spotters or safety bars before the set",
        "Stop on pain",
        "licensed practice",
        "facility's rules and local codes",
        "they do not prescribe",
    ):
        assert told in words
    assert words.index("Stop on pain") < words.index("For trainees")
    for name, notebook in NOTEBOOKS.items():
        title = "".join(notebook["cells"][0]["source"]).splitlines()[0].removeprefix("# ")
        assert f'<a href="{name}.html">{escape(title)}</a>' in index
    assert re.findall(r"<dd>.{0,30}", index) and "<dd></dd>" not in index
    assert "four things are wrong" in words.lower() and "To run a cell" in words
    order = re.findall(r'<dt><a href="([^"]*)\.html"', index)
    assert order == sorted(NOTEBOOKS) and order[-1].startswith("instructor/")


def test_pages_have_what_a_screen_reader_needs(read):
    for path, found in read.items():
        tags = [tag for tag, _ in found.tags]
        assert tags.count("h1") == tags.count("main") == tags.count("title") == 1, path
        assert ("html", {"lang": "en"}) in found.tags
        names = [a.get("aria-label") for tag, a in found.tags if tag == "nav"]
        assert len(names) == len(set(names)) == 2


def test_the_command_writes_once_and_again_only_when_told(tmp_path, capsys, monkeypatch):
    made = {"index.html": "index", "instructor/I0.html": "page", "book.css": "style"}
    monkeypatch.setattr("squatlab.commands.book.pages", lambda instructor: made)
    folder = tmp_path / "deep" / "book"
    assert main(["book", "-o", str(folder)]) == 0
    assert f"Wrote 3 files; open {folder / 'index.html'}" in capsys.readouterr().out
    assert (folder / "instructor" / "I0.html").read_text("utf-8") == "page"
    made["index.html"] = "newer"
    assert main(["book", "-o", str(folder)]) == 2
    told = capsys.readouterr().err
    words = "; choose another folder with -o, or add --replace to write over what is there"
    assert f"there already: {folder / 'index.html'}{words}" in told
    (folder / "index.html").unlink()
    assert main(["book", "-o", str(folder)]) == 2, "one's own page of that name is not lost either"
    assert "I0.html, " in capsys.readouterr().err
    assert (folder / "book.css").exists() and not (folder / "index.html").exists()
    assert main(["book", "-o", str(folder), "--replace"]) == 0
    assert (folder / "index.html").read_text("utf-8") == "newer"


def test_what_renders_comes_with_the_installation():
    """nbconvert is required by what squatlab requires, not only by chance here."""
    wanted, seen = ["squatlab"], set()
    while wanted:
        name = wanted.pop().lower().replace("_", "-")
        seen.add(name)
        if name in ("squatlab", "jupyterlab", "jupyter-server"):
            needs = [one for one in requires(name) or () if "extra ==" not in one]
            wanted += [re.match(r"[\w.-]+", one)[0] for one in needs]
    assert {"nbconvert", "jupyterlab"} <= seen
