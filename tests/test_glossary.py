"""The course's words stand in one table, and every link to it says what the table says."""

from __future__ import annotations

import json

import pytest

from squatlab.lessons import glossary
from squatlab.lessons.glossary import LINK, glossary_table, linked, links, term, unlinked
from tests.link_terms import linked_notebooks


def texts(path):
    cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
    return ["".join(cell["source"]) for cell in cells if cell["cell_type"] == "markdown"]


@pytest.mark.parametrize("path", linked_notebooks(), ids=lambda path: path.stem)
def test_every_link_of_a_notebook_has_the_meaning_of_the_table(path):
    marked = texts(path)
    for word, title in links(marked):
        assert title == term(word).meaning
    names = [term(word).name for word, _ in links(marked)]
    assert len(names) >= 3 and len(set(names)) == len(names), "each term once a page"
    assert linked(map(unlinked, marked)) == marked, "run: python -m tests.link_terms"


def test_the_page_of_the_words_shows_the_table():
    cells = json.loads((linked_notebooks()[0].with_name("00_start_here.ipynb")).read_text("utf-8"))
    shown = [
        "".join(output["data"].get("text/markdown", ""))
        for cell in cells["cells"]
        for output in cell.get("outputs", ())
        if "data" in output
    ]
    assert glossary_table() in shown
    headings = [
        text.splitlines()[0]
        for text in texts(linked_notebooks()[0].with_name("00_start_here.ipynb"))
    ]
    anchor = glossary.PLACE.split("#")[1]
    assert anchor in [heading.lstrip("# ").replace(" ", "-") for heading in headings]


def test_no_meaning_breaks_a_link_or_a_table():
    for each in glossary.glossary():
        assert not set(each.meaning) & set('"|\n[]') and len(each.meaning) <= 100
        assert all(word == word.casefold() for word in each.words)


def test_only_the_first_of_a_term_is_linked_and_only_in_running_text():
    first, second, closing = linked(
        [
            "## Lean\n\n`lean` and $lean$ and [lean](other.ipynb): the lean, then lean again.",
            "Trunk lean. <details>margin</details> A margin. Unlean, mid-footer.",
            "**To take away**\n\n- cue",
        ]
    )
    assert first.startswith("## Lean\n\n`lean` and $lean$ and [lean](other.ipynb): the [lean](00_")
    assert first.endswith('"), then lean again.')
    assert [words for words, _ in LINK.findall(second)] == ["margin"]
    assert second.startswith("Trunk lean. <details>margin</details> A [margin](")
    assert closing == "**To take away**\n\n- cue"


def test_a_word_that_is_not_there_is_refused_with_the_nearest():
    with pytest.raises(ValueError, match="“turnuot” is not in data/glossary.csv.*turnout"):
        term("turnuot")
