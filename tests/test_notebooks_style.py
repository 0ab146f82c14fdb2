"""What every notebook keeps to, so that all read alike and stay short."""

from __future__ import annotations

import json
import re
from statistics import median

import pytest

from squatlab import tables
from squatlab.lessons.course_pages import ASKED
from squatlab.lessons.glossary import unlinked
from squatlab.show.run_page import FIRST

WIDGET = "application/vnd.jupyter.widget-view+json"
NOTEBOOKS = sorted(
    p for p in tables.folder("notebooks").rglob("*.ipynb") if "checkpoint" not in str(p)
)


@pytest.fixture(params=NOTEBOOKS, ids=lambda p: p.stem)
def notebook(request):
    return json.loads(request.param.read_text(encoding="utf-8"))


@pytest.fixture(
    params=[p for p in NOTEBOOKS if p.parent.name != "instructor"], ids=lambda p: p.stem
)
def trainees(request):
    """A notebook that trainees work through."""
    return json.loads(request.param.read_text(encoding="utf-8"))


def cells(notebook, kind):
    return [c for c in notebook["cells"] if c["cell_type"] == kind]


def source(cell) -> str:
    return "".join(cell["source"])


def prose(notebook) -> str:
    return "\n".join(source(c) for c in cells(notebook, "markdown")).replace(FIRST, "")


def test_there_are_notebooks():
    assert [p.stem[:2] for p in NOTEBOOKS][:6] == ["00", "01", "02", "03", "04", "05"]


def test_code_is_short(notebook):
    lengths = [len(source(c).strip().splitlines()) for c in cells(notebook, "code")]
    assert median(lengths) <= 4 and max(lengths) <= 15 and sum(lengths) <= 90


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
def test_text_is_short(path):
    notebook = json.loads(path.read_text(encoding="utf-8"))
    most = 1300 if path.parent.name == "instructor" else 1200
    unfolded = re.sub(r"<details>.*?</details>", "", unlinked(prose(notebook)), flags=re.DOTALL)
    assert len(re.findall(r"\w+", unfolded)) <= most  # words and numbers in tables too


def test_no_machinery_is_on_show(notebook):
    for cell in cells(notebook, "code"):
        for word in ("class ", "def ", "plt.", "matplotlib", "%", "!"):
            assert not re.search(rf"^\s*{re.escape(word)}", source(cell), re.MULTILINE), source(
                cell
            )


def test_it_begins_with_what_one_can_do_after_it(notebook):
    first = source(notebook["cells"][0])
    assert first.startswith("# ")
    assert "fter this" in first
    assert 3 <= len(re.findall(r"^- ", first, re.MULTILINE)) <= 5


def test_a_button_at_its_top_runs_it(notebook):
    """What the button does, the browser's tests see."""
    assert source(notebook["cells"][0]).count(FIRST) == 1


def test_it_ends_with_module_and_sources(notebook):
    text = prose(notebook)
    assert "How it works" in text and "Sources" in text


def test_trainees_check_themselves(trainees):
    code = [source(c) for c in cells(trainees, "code")]
    assert any(ASKED.fullmatch(one) for one in code)
    assert not re.search(r"answer\s*=\s*None", "\n".join(code)), "checks are clicked, not typed"


def test_openings_ask_and_takeaways_close(trainees):
    number = source(trainees["cells"][0])[2:4]
    opening = source(trainees["cells"][0])
    assert "?" in opening.split("**After")[0]
    if "01" <= number <= "09":
        texts = [source(c) for c in cells(trainees, "markdown")]
        assert "**To take away**" in "\n".join(texts[-2:])
        assert "**" not in opening.split("**After")[0], "the answer is not in the opening"
        assert "guess(" in "\n".join(source(c) for c in cells(trainees, "code"))


def test_it_was_run_in_order_and_kept_its_outputs(notebook):
    counts = [c["execution_count"] for c in cells(notebook, "code")]
    assert counts == list(range(1, len(counts) + 1))
    assert not any(
        o["output_type"] == "error" for c in cells(notebook, "code") for o in c["outputs"]
    )


def test_it_carries_nothing_of_the_machine_it_ran_on(notebook):
    assert "widgets" not in notebook["metadata"]
    assert notebook["metadata"]["kernelspec"]["name"] == "python3"
    text = json.dumps(notebook)
    assert not re.search(r"/(home|root|tmp|Users)/", text)


def test_pictures_have_text(notebook):
    for cell in cells(notebook, "code"):
        for data in (output.get("data", {}) for output in cell["outputs"]):
            kept = "".join(data.get("text/html", ""))
            named = re.sub(r"<svg x=[^>]*>", "", kept)  # a part of a picture, in it
            for picture in re.findall(r"<(?:svg|img|canvas) [^>]*>", named):
                words = re.search(r' (?:aria-label|alt)="([^"]*)"', picture)[1]
                assert len(words) > 40 and re.search(r"\d", words), words
            # The first two are shown without words, the last before it is run as an error.
            assert not {"image/svg+xml", "image/png", WIDGET} & set(data)
