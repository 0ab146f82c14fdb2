"""The book: every notebook is a page that needs no network and no kernel."""

from __future__ import annotations

import json
import re
import zlib
from base64 import b64decode
from html import escape, unescape
from html.parser import HTMLParser
from importlib.metadata import requires
from pathlib import PurePosixPath
from threading import Thread
from urllib.error import HTTPError
from urllib.request import urlopen

import numpy as np
import pytest
from latex2mathml.converter import convert

from squatlab import lessons, tables
from squatlab.__main__ import main
from squatlab.commands.book_command import lighter, pages
from squatlab.lessons.course_pages import ASKED
from squatlab.offline import asked, room_server
from squatlab.offline.cells import MOVES, in_jupyter
from squatlab.offline.formulas import with_mathml
from squatlab.offline.joined import joined
from squatlab.offline.stored import small, stored_explorer
from squatlab.questions.typed_numbers import UNITS, alike, in_unit
from squatlab.show.check_form import RUN_TO_ANSWER
from squatlab.show.explorer import RUN
from squatlab.show.explorers import bar_thigh_stance

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


OWN = {
    "index.html",
    "bar_thigh_stance.html",
    "summary.html",
    "guide.html",
    "book.css",
    "book.js",
}
"""What a book has besides the notebooks' pages, without what moves."""


def outputs(notebook) -> list[dict]:
    """Return what the cells show, but for those in whose place the book says where that is."""
    return [
        one
        for cell in notebook["cells"]
        if cell["cell_type"] == "code" and not in_jupyter("".join(cell["source"]))
        for one in cell.get("outputs", ())
    ]


def test_every_notebook_is_a_page_and_there_is_nothing_else(book):
    assert set(book) == {f"{name}.html" for name in NOTEBOOKS} | OWN


def test_the_key_to_the_checks_is_for_instructors():
    book = pages()
    assert set(book) == {f"{name}.html" for name in NOTEBOOKS if "/" not in name} | OWN
    assert not any('href="instructor' in text for text in book.values())
    assert "For instructors" not in book["index.html"]


def test_nothing_is_loaded_from_anywhere_but_the_book(book, read):
    for path, text in book.items():
        if path == "book.js":
            assert "fetch(" not in text and "import(" not in text
            continue
        assert not re.search(r"https?://(?!www\.w3\.org/2000/svg(?:\"|%22))", text), path
        assert "@import" not in text and not re.search(r"url\((?!#|&quot;#|\"#)", text), path
    for path, found in read.items():
        for tag, attributes in found.tags:
            assert tag not in ("iframe", "object", "embed"), path
            if tag == "script":  # classic, beside the page; a module may not be read from a folder
                assert attributes.get("type", "") in ("", "application/json"), path
            for name in ("src", "href", "srcset", "xlink:href"):
                assert not attributes.get(name, "").startswith(("http", "//")), (path, attributes)


def test_every_link_leads_to_a_page(read, book):
    for path, found in read.items():
        links = [a["href"] for tag, a in found.tags if tag in ("a", "link") and "href" in a]
        assert len(links) >= 4, path  # icon, style, and the way on at both ends
        for link in links:
            if not link.startswith(("data:", "#")):
                file, _, place = link.partition("#")
                to = PurePosixPath(path).parent / file
                parts: list[str] = []
                for part in to.parts:
                    parts = parts[:-1] if part == ".." else [*parts, part]
                assert "/".join(parts) in book, (path, link)
                ids = {a.get("id") for _, a in read["/".join(parts)].tags} if place else {place}
                assert place in ids, (path, link)
        assert not any(link.endswith(".ipynb") for link in links), path


def test_every_figure_is_there_with_its_words(page):
    notebook, _, found = page
    alts = [attributes.get("alt") for tag, attributes in found.tags if tag == "img"]
    for output in outputs(notebook):
        data = {
            kind: "".join(value) if isinstance(value, list) else value
            for kind, value in output.get("data", {}).items()
        }
        html = lighter(data.get("text/html", ""))
        for instruction in (RUN, RUN_TO_ANSWER):
            html = html.replace(instruction, "")
        if stored := Tags(re.sub(r'(href="[^":]*)\.ipynb\b', r"\1.html", html)).tags:
            begins = (i for i, tag in enumerate(found.tags) if tag == stored[0])
            assert any(found.tags[i : i + len(stored)] == stored for i in begins)
    words = alts + [
        a["aria-label"] for tag, a in found.tags if (tag, a.get("role")) == ("svg", "img")
    ]
    assert all(told and len(told) > 30 and "No description" not in told for told in words)


def test_every_printed_line_is_there(page):
    notebook, _, found = page
    words = " ".join(found.words.split())
    for output in outputs(notebook):
        if output["output_type"] == "stream":
            assert " ".join("".join(output["text"]).split()) in words


def test_no_machinery_shows(page):
    _, text, found = page
    assert "Run this page" not in found.words
    for raw in ("VBox(children", "widget-view", "&lt;svg", "b&#39;", "<IPython"):
        assert raw not in text and raw not in found.words


def test_code_is_there_to_open_and_imports_are_left_out(page):
    """Nothing runs on a page: code is folded, and lines that only import say nothing to read."""
    _, text, found = page
    folded = text.count('<details class="code"><summary>Code</summary>')
    assert folded == text.count('class="input_area"')
    for lines in re.findall(r'<div class="input_area">.*?</pre>', text, re.DOTALL):
        code = unescape(re.sub("<[^>]+>", "", lines)).strip().splitlines()
        assert any(not line.startswith(("import ", "from ")) for line in code if line)


def test_no_formula_needs_a_renderer(page):
    """Formulas are MathML here; a dollar or a backslash would be shown as such."""
    _, _, found = page
    assert not re.search(r"\$[^$\n]+\$|\\\(|\\\[|\\begin", found.words)


def test_the_index_opens_with_safety_and_maps_the_course(book, read):
    index, words = book["index.html"], read["index.html"].words
    for told in (
        "spotters or safety bars before the set",
        "Stop on pain",
        "licensed professional",
        "facility's rules and local codes",
        "they do not prescribe",
    ):
        assert told in words
    assert words.index("Stop on pain") < words.index("For trainees")
    for name, notebook in NOTEBOOKS.items():
        title = "".join(notebook["cells"][0]["source"]).splitlines()[0].removeprefix("# ")
        assert f'<a href="{name}.html">{escape(title)}</a>' in index
    assert re.findall(r"<dd>.{0,30}", index) and "<dd></dd>" not in index
    assert "four things are wrong" in words.lower() and "Where does the bar go" in words
    order = re.findall(r'<dt><a href="([^"]*)\.html"', index)
    assert {"bar_thigh_stance", "summary"} < set(order)
    order = [name for name in order if f"{name}.html" not in OWN]
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
    monkeypatch.setattr("squatlab.commands.book_command.pages", lambda instructor: dict(made))
    monkeypatch.setattr("squatlab.commands.book_command.jobs", list)
    folder = tmp_path / "deep" / "book"
    assert main(["book", "-o", str(folder)]) == 0
    assert f"Wrote 3 files, 0.0 MB; open {folder / 'index.html'}" in capsys.readouterr().out
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


def test_every_explorer_clip_and_check_of_the_notebooks_has_its_place(book):
    """Counted in the notebooks themselves: 9 explorers, 3 clips, 14 fault pages, 19 checks."""
    for name, notebook in NOTEBOOKS.items():
        if "/" in name:
            continue
        # A control of one's own beside an explorer needs Python: 02 shows it as a still.
        cells = [outputs({"cells": [cell]}) for cell in notebook["cells"]]
        texts = [["".join(o.get("data", {}).get("text/plain", "")) for o in own] for own in cells]
        words = [next(filter(None, own), "") for own in texts]
        moving = sum(text.startswith(MOVES) for text in words)
        source = "\n".join("".join(cell["source"]) for cell in notebook["cells"])
        page = book[f"{name}.html"]
        assert page.count("data-kept=") == moving, name
        assert page.count("data-check=") == len(ASKED.findall(source)), name
    assert "data-practice=" in book["10_practice.html"]


@pytest.mark.parametrize(("name", "seed"), [("hip_arm", 1), ("bar_place", 1)])
def test_a_check_on_a_page_says_what_the_course_says(name, seed):
    question, key = lessons.made(name, seed)
    sent = asked.asked(name, seed)
    if question.options:
        assert [one["words"] for one in sent["options"] if one["right"]] == [key.answer]
        for one in sent["options"]:
            assert one["tries"][0] == lessons.asking(name, seed).answer(one["words"]).text
        assert all(key.hint in one["tries"][0] for one in sent["options"] if not one["right"])
    else:
        assert sent["number"]["answer"] == key.answer
        assert sent["number"]["tolerance"] == key.tolerance
        assert not any(slip["right"] for slip in sent["number"]["slips"])


def test_a_page_reads_the_units_that_the_course_reads():
    for unit in UNITS:
        for written, size in alike(unit).items():
            assert in_unit(f"2 {written}", unit) == pytest.approx(2 * size, rel=1e-12)
    assert alike("cm")["inches"] == pytest.approx(2.54) and "kg" not in alike("cm")
    assert alike("holes") == {"holes": 1.0}


def undone(stored, number):
    """Return header and bytes of a piece, as the page's script reads them."""
    raw = zlib.decompress(b64decode(stored.pieces[number]))
    size = int.from_bytes(raw[:4], "little")
    return json.loads(raw[4 : 4 + size]), raw[4 + size :]


def test_sweeps_joined_show_what_each_showed():
    """Two sliders of an explorer with charts, discs and words, from two presets."""
    explorer = bar_thigh_stance()
    sweeps = []
    for preset in explorer.presets:
        explorer.press(preset)
        for name in ("thigh", "stance_width"):
            at = explorer.controls[name].positions[::3].tolist()
            shown = explorer.subject.every(explorer.values(), {name: at}, explorer.posture)
            sweeps.append(shown.sweeps)
    for pane in zip(*sweeps, strict=True):
        one = joined(pane)
        scenes = [sweep.scene(i) for sweep in pane for i in range(len(sweep))]
        assert len(one) == len(scenes)
        assert len(one.structures) < sum(len(sweep.structures) for sweep in pane)
        for i, scene in enumerate(scenes):
            assert one.scene(i).primitives == scene.primitives
            assert one.scene(i).alt == scene.alt


def test_small_numbers_take_a_byte():
    numbers = np.array([0, -1, 1, 127, -127, -128, 128, 32767, -32768], np.int16)
    near, far = small(numbers)[:9], np.frombuffer(small(numbers)[9:], "<u2")
    assert list(near) == [0, 1, 2, 254, 253, 255, 255, 255, 255]
    assert far.tolist() == [255, 256, 65534, 65535]


def test_what_is_kept_of_three_sliders_is_what_the_explorer_says():
    """Every sentence of the grid is compared with the explorer set to the same values."""
    explorer = bar_thigh_stance()
    names = ("bar_position", "thigh", "stance_width")
    stored = stored_explorer(explorer, together=names)
    steps = [one["at"] for one in stored.head["spec"]["controls"] if one["name"] in names]
    assert [len(at) for at in steps] == [9, 7, 9]
    head, _ = undone(stored, stored.head["shown"])
    station = head["stations"][stored.head["stations"]["Reset|balance"]]
    sentences = station["sweeps"]["grid"]["sentences"]
    assert len(sentences) == 9 * 7 * 9
    explorer.reset()
    for place in (0, 100, 333, 566):
        corner = np.unravel_index(place, (9, 7, 9))
        explorer.set({n: at[i] for n, at, i in zip(names, steps, corner, strict=True)})
        assert explorer.sentence == sentences[place]


def test_with_the_trunk_held_a_lower_bar_takes_the_centre_of_mass_back():
    explorer = bar_thigh_stance()
    shifts = []
    for preset in ("Low bar", "Low bar, trunk held"):
        explorer.reset()
        explorer.press(preset)
        shifts.append(float(explorer.posture.com_shift))
    assert abs(shifts[0]) < 1e-6 and shifts[1] < -0.01


def test_the_book_is_served_to_this_computer_alone_unless_told_otherwise(tmp_path):
    (tmp_path / "index.html").write_text("the book", "utf-8")
    (tmp_path / "kept").mkdir()
    with room_server.server(tmp_path, room_server.LOOPBACK, 0) as running:
        Thread(target=running.serve_forever, daemon=True).start()
        where = room_server.address_of(running)
        assert where.startswith("http://127.0.0.1:")
        assert urlopen(where).read() == b"the book"
        with pytest.raises(HTTPError, match="404"):
            urlopen(f"{where}kept/")
        running.shutdown()


@pytest.mark.parametrize("address", room_server.EVERY_ADDRESS)
def test_an_address_that_no_phone_can_open_is_refused(address, tmp_path):
    with pytest.raises(ValueError, match="no phone can open it: give the one that phones"):
        room_server.server(tmp_path, address, 0)


def test_the_code_for_phones_is_drawn():
    lines = room_server.qr_code("http://192.168.1.20:8000/").splitlines()
    assert len(lines) > 10 and len({len(re.sub(r"\x1b\[[^m]*m", "", line)) for line in lines}) == 1


def test_formulas_are_drawn_by_the_browser_alone(book):
    page = book["02_lever_arms.html"]
    assert page.count("<math") >= 15 and "<mi>τ</mi>" in page.replace("&#x003C4;", "τ")
    text = re.sub(r"<(script|style|pre).*?</\1>", "", page, flags=re.DOTALL)
    assert "$" not in re.sub(r"<[^>]*>", "", text)


def test_dollars_in_code_are_no_formula():
    assert with_mathml("`a$b` and `c$d`") == "`a$b` and `c$d`"
    made = convert("L_T").replace(' xmlns="http://www.w3.org/1998/Math/MathML"', "")
    assert with_mathml("$L_T$ costs 5 $") == f"{made} costs 5 $"
