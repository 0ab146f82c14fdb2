"""Items as QTI packages, held against the specification and against a reader of its own.

Names of elements, spaces and kinds of resources are written here from memory of the
specifications QTI 2.1 (IMS GLC 2012) and QTI 3.0 (1EdTech 2022): no package of the registries
carries their schemas. The second opinion on 2.1 is Pyslet, which reads the items into its own
classes and runs their rules.
"""

from __future__ import annotations

import itertools
import re
import stat
import zipfile
from collections import Counter
from dataclasses import replace
from xml.etree import ElementTree

import pytest
from pyslet.qtiv2.items import AssessmentItem as QTIItem
from pyslet.qtiv2.variables import ItemSessionState
from pyslet.qtiv2.xml import QTIDocument

from squatlab.exam import qti
from squatlab.exam.build import draw
from squatlab.exam.forms import FormKey
from squatlab.exam.marking import right
from squatlab.exam.package import Package, shown
from squatlab.exam.secret import Secret
from squatlab.questions import interactions, item_bank
from squatlab.questions.blueprint import cell
from squatlab.questions.kinds import KINDS
from squatlab.questions.question import PictureBox, PicturePanel, Pictures

PYSLET = pytest.mark.filterwarnings("ignore:.*is deprecated, use:DeprecationWarning")

SMALL = tuple(
    replace(cell(name), count=count)
    for name, count in (
        ("first_clean", 1),
        ("spot_front", 1),
        ("cue", 1),
        ("rank", 1),
        ("number", 1),
        ("choice_safety", 2),
    )
)

IMS, PURL = "http://www.imsglobal.org/xsd", "https://purl.imsglobal.org/spec/qti/v3p0"
SPACES = {
    "2.1": (f"{IMS}/imsqti_v2p1", f"{IMS}/imscp_v1p1"),
    "3.0": (f"{IMS}/imsqtiasi_v3p0", f"{IMS}/qti/qtiv3p0/imscp_v1p1"),
}
NAMED = {"identifier", "title", "tool-name", "tool-version"}
DECLARED = {"identifier", "cardinality", "base-type"}
KNOWN = {  # elements of 3.0 with the attributes they may have
    "qti-assessment-item": NAMED | {"adaptive", "time-dependent"},
    "qti-response-declaration": DECLARED,
    "qti-outcome-declaration": DECLARED,
    "qti-mapping": {"default-value", "lower-bound"},
    "qti-map-entry": {"map-key", "mapped-value"},
    "qti-map-response": {"identifier"},
    "qti-is-null": set(),
    "qti-and": set(),
    "qti-gte": set(),
    "qti-lte": set(),
    "qti-text-entry-interaction": {"response-identifier", "expected-length"},
    "qti-correct-response": set(),
    "qti-default-value": set(),
    "qti-value": set(),
    "qti-item-body": set(),
    "qti-prompt": set(),
    "qti-simple-choice": {"identifier"},
    "qti-choice-interaction": {"response-identifier", "shuffle", "max-choices"},
    "qti-order-interaction": {"response-identifier", "shuffle"},
    "qti-response-processing": set(),
    "qti-response-condition": set(),
    "qti-response-if": set(),
    "qti-response-else": set(),
    "qti-match": set(),
    "qti-variable": {"identifier"},
    "qti-correct": {"identifier"},
    "qti-set-outcome-value": {"identifier"},
    "qti-base-value": {"base-type"},
    "qti-modal-feedback": {"outcome-identifier", "identifier", "show-hide"},
    "qti-content-body": set(),
    "qti-assessment-test": NAMED,
    "qti-test-part": {"identifier", "navigation-mode", "submission-mode"},
    "qti-assessment-section": {"identifier", "title", "visible"},
    "qti-assessment-item-ref": {"identifier", "href"},
    "qti-weight": {"identifier", "value"},
    "qti-outcome-processing": set(),
    "qti-sum": set(),
    "qti-test-variables": {"variable-identifier", "weight-identifier"},
    "p": set(),
    "table": set(),
    "caption": set(),
    "thead": set(),
    "tbody": set(),
    "tr": set(),
    "th": {"scope"},
    "td": set(),
}
NCNAME = re.compile(r"[A-Za-z_][\w.-]*", re.ASCII)
LOCATION = "{http://www.w3.org/2001/XMLSchema-instance}schemaLocation"


def no_pictures(case, camera_seed: int = 0) -> Pictures:
    """Stand in for a renderer."""
    panel = PicturePanel(case.cell.view, 0, 0, 3, 2)
    return Pictures((b"",), (PictureBox(0, 0, 6, 2),), 1, 6, 2, (0,), 60.0, (panel,), 0, "A view.")


@pytest.fixture(scope="module")
def packed(tmp_path_factory):
    """A small form: its package with the lifts in words, one without, and the key."""
    drawn = draw(Secret(bytes(range(32))), "7th", SMALL, certify=False)
    made = drawn.pack(tmp_path_factory.mktemp("form"), no_pictures, texts=True)
    told = made.package
    mute = Package.read(told)
    mute.questions = {name: replace(one, account=None) for name, one in mute.questions.items()}
    return Package.read(told), mute, FormKey.read(made.key_file)


@pytest.fixture(scope="module")
def form(packed):
    return qti.from_form(packed[0], packed[2])


@pytest.fixture(scope="module", params=["bank", "form"])
def chosen(request):
    return request.getfixturevalue("form") if request.param == "form" else qti.from_bank()


def documents(chosen, version, path):
    """Write a selection; return its files' contents by name."""
    with zipfile.ZipFile(chosen.write(path / "package.zip", version)) as file:
        assert file.testzip() is None
        return {name: ElementTree.fromstring(file.read(name)) for name in file.namelist()}


def hyphenated(name: str) -> str:
    return re.sub("[A-Z]", lambda sign: f"-{sign[0].lower()}", name)


def plain(tag: str) -> str:
    """Return an element's name without its space, as 3.0 spells it."""
    name = hyphenated(tag.rpartition("}")[2])
    return f"qti-{name}" if f"qti-{name}" in KNOWN else name


def at(root, path):
    """Return what is found by 3.0's names, in either version."""
    return [one for one in root.iter() if plain(one.tag) == path]


@pytest.mark.parametrize("version", ["2.1", "3.0"])
def test_every_element_and_attribute_is_the_specifications(chosen, version, tmp_path):
    for name, root in documents(chosen, version, tmp_path).items():
        space = SPACES[version][name == "imsmanifest.xml"]
        assert {one.tag.rpartition("}")[0] for one in root.iter()} == {"{" + space}
        assert root.attrib.pop(LOCATION).split()[0] == space
        if name == "imsmanifest.xml":
            continue
        for one in root.iter():
            attributes = {hyphenated(key) for key in one.attrib}
            assert attributes <= KNOWN[plain(one.tag)], (name, one.tag, attributes)
            if version == "3.0":
                assert one.tag.endswith("}" + plain(one.tag)), one.tag
                assert not re.search("[A-Z]", "".join(one.attrib))


@pytest.mark.parametrize("version", ["2.1", "3.0"])
def test_ids_are_names_and_unique_and_answers_name_choices(chosen, version, tmp_path):
    found = documents(chosen, version, tmp_path)
    everywhere = Counter(root.attrib["identifier"] for root in found.values())
    assert set(everywhere.values()) == {1}
    for name, root in found.items():
        ids = [one.attrib["identifier"] for one in root.iter() if "identifier" in one.attrib]
        assert all(NCNAME.fullmatch(one) for one in ids)
        choices = [one.attrib["identifier"] for one in at(root, "qti-simple-choice")]
        assert len(set(choices)) == len(choices)
        if not name.startswith("item-"):
            continue
        (declared,) = at(root, "qti-response-declaration")
        right = [one.text for one in at(declared, "qti-value")]
        cardinality = declared.attrib["cardinality"]
        if not choices:
            base = declared.attrib.get("baseType", declared.attrib.get("base-type"))
            assert (base, cardinality, len(right)) == ("float", "single", 1)
            (asked,) = at(root, "qti-text-entry-interaction")
        else:
            ordered = cardinality == "ordered"
            assert sorted(right) == sorted(choices) if ordered else set(right) < set(choices)
            assert cardinality == "multiple" or len(right) == (len(choices) if ordered else 1)
            (asked,) = at(root, f"qti-{'order' if ordered else 'choice'}-interaction")
        assert asked.get("responseIdentifier", asked.get("response-identifier")) == "RESPONSE"
        (rules,) = at(root, "qti-response-processing")
        assert len(rules) and not rules.attrib, "rules stand in the item: no template is needed"


@pytest.mark.parametrize("version", ["2.1", "3.0"])
def test_the_manifest_lists_every_file(chosen, version, tmp_path):
    found = documents(chosen, version, tmp_path)
    manifest = found.pop("imsmanifest.xml")
    children = [one.tag.rpartition("}")[2] for one in manifest]
    assert children == ["metadata", "organizations", "resources"]
    number = version.replace(".", "p")
    for one in manifest[2]:
        files = [part.attrib["href"] for part in one if part.tag.endswith("}file")]
        assert files == [one.attrib["href"]]
        what = plain(found.pop(files[0]).tag).removeprefix("qti-assessment-")
        assert one.attrib["type"] == f"imsqti_{what}_xmlv{number}"
        needs = [part.attrib["identifierref"] for part in one if "identifierref" in part.attrib]
        items = [f"item-{item.id}" for item in chosen.items]
        assert needs == (items if what == "test" else [])
    assert not found


@pytest.mark.parametrize("version", ["2.1", "3.0"])
def test_the_test_asks_every_item_once_and_adds_their_points(form, version, tmp_path):
    heavy = replace(form, items=(replace(form.items[0], points=2.0), *form.items[1:]))
    root = documents(heavy, version, tmp_path)["test-7th.xml"]
    refs = at(root, "qti-assessment-item-ref")
    assert [one.attrib["href"] for one in refs] == [f"item-{one.id}.xml" for one in form.items]
    assert [one[0].attrib["value"] for one in refs] == ["2", *"1" * (len(refs) - 1)]
    assert not at(root, "qti-time-limits")  # some have more time: that is the platform's to set
    (total,) = at(root, "qti-test-variables")
    assert "POINTS" in total.attrib.values()


def walk(element):
    """Yield an element of Pyslet and all within it."""
    yield element
    for child in element.get_children():
        if not isinstance(child, str):
            yield from walk(child)


def read(content: bytes):
    document = QTIDocument()
    document.read(src=content)
    return document.root


@PYSLET
def test_another_reader_finds_and_scores_every_item_of_the_bank(tmp_path):
    """Pyslet 0.7 (BSD): its classes for QTI 2.1, its engine for the rules."""
    with zipfile.ZipFile(qti.from_bank().write(tmp_path / "bank.zip", "2.1")) as file:
        contents = {name: file.read(name) for name in file.namelist() if name.startswith("item-")}
    assert len(contents) == len(item_bank.items()) == 80
    for name, content in contents.items():
        root = read(content)
        ours = Counter(one.tag.rpartition("}")[2] for one in ElementTree.fromstring(content).iter())
        theirs = Counter(one.xmlname for one in walk(root))
        assert theirs == ours
        item = item_bank.item(name.removeprefix("item-").removesuffix(".xml"))
        for choice in (one for one in walk(root) if one.xmlname == "simpleChoice"):
            state = ItemSessionState(root)
            state.begin_session()
            state.begin_attempt()
            state["RESPONSE"].set_value(choice.identifier)
            root.ResponseProcessing.run(state)
            said = choice.get_value()
            assert state["SCORE"].value == (said == item.right), (name, said)
            assert state["FEEDBACK"].value == "why"
        shown = [one for one in walk(root) if one.xmlname == "p"]
        assert [one.get_value() for one in shown] == [item.why]


@PYSLET
def test_another_reader_finds_the_order_of_the_form(form, packed, tmp_path):
    (ranked,) = (item for item in form.items if isinstance(item.asks, interactions.WholeOrder))
    with zipfile.ZipFile(form.write(tmp_path / "form.zip", "2.1")) as file:
        root = read(file.read(f"item-{ranked.id}.xml"))
    told = {one.identifier: one.get_value() for one in walk(root) if one.xmlname == "simpleChoice"}
    order = root.declarations["RESPONSE"].get_correct_value()
    assert [told[one.value if hasattr(one, "value") else one] for one in order.value] == list(
        packed[2].entries[ranked.id].answer
    )


def answers_to_try(entry) -> list:
    """Return what may be answered to an item, right and wrong; None where it is left out."""
    if entry.kind == "number":
        near = entry.tolerance * 0.999
        far = entry.tolerance * 1.01
        return [entry.answer + step for step in (0, near, -near, far, -far, 100 * far)]
    if entry.kind == "spot":
        return [few for n in range(4) for few in itertools.combinations(entry.options, n)] + [
            entry.answer,
            entry.options,
        ]
    if entry.kind == "rank":
        return list(itertools.permutations(entry.options))
    return list(entry.options)


@PYSLET
def test_another_reader_scores_every_kind_as_we_mark_it(form, packed, tmp_path, monkeypatch):
    """Pyslet runs the rules in the package; `marking.right` is what they have to give."""
    package, _, key = packed
    # Its page (not asked here) cannot show check boxes before any is checked.
    monkeypatch.setattr(QTIItem, "render_html", lambda *_: None)
    with zipfile.ZipFile(form.write(tmp_path / "form.zip", "2.1")) as file:
        contents = {name: file.read(name) for name in file.namelist() if name.startswith("item-")}
    tried = Counter()
    for item in form.items:
        root, entry = read(contents[f"item-{item.id}.xml"]), key.entries[item.id]
        names = getattr(item.asks, "names", {})
        for answer in answers_to_try(entry):
            state = ItemSessionState(root)
            state.begin_session()
            state.begin_attempt()
            if entry.kind == "number":
                state["RESPONSE"].set_value(repr(answer))
            elif isinstance(answer, tuple):
                if answer:
                    state["RESPONSE"].set_value([names[shown(one)] for one in answer])
            else:
                state["RESPONSE"].set_value(names[shown(answer)])
            root.ResponseProcessing.run(state)
            ours = right(entry, answer)
            if entry.kind == "rank":
                ours = float(answer == entry.answer)  # as a whole: said where it is exported
            assert state["SCORE"].value == pytest.approx(ours, abs=1e-9), (entry.kind, answer)
            tried[entry.kind] += 1
    assert tried.keys() == {"first", "spot", "cue", "number", "rank", "choice"}
    assert tried["spot"] > 20 and tried["number"] == 6


def test_a_form_carries_every_kind_and_says_what_is_lost(form, packed):
    package, mute, key = packed
    kinds = {name: one.kind for name, one in package.questions.items()}
    assert [item.id for item in form.items] == list(kinds) and form.left_out == {}
    for item in form.items:
        lift = kinds[item.id] in ("first", "spot", "cue", "rank")
        assert ("Watch" in item.prompt, "told in words" in item.prompt) == (False, lift)
        assert item.account == package.questions[item.id].account
        assert item.loss == KINDS[kinds[item.id]].loss
    assert {name for name, kind in KINDS.items() if kind.loss} == {"number", "spot", "rank"}
    silent = qti.from_form(mute, key)
    assert {kinds[item.id] for item in silent.items} == {"choice", "number"}
    assert {kinds[n] for n, why in silent.left_out.items() if why == qti.UNTOLD} == {
        "first",
        "spot",
        "cue",
        "rank",
    }


def test_a_lift_is_told_as_a_table(form, tmp_path):
    (ranked,) = (item for item in form.items if isinstance(item.asks, interactions.WholeOrder))
    root = documents(form, "3.0", tmp_path)[f"item-{ranked.id}.xml"]
    rows = [[cell.text or "" for cell in row] for row in at(root, "tr")]
    assert rows == [
        ["", *ranked.account.moments],
        *([w, *cells] for w, cells in ranked.account.rows),
    ]


def test_options_of_the_bank_do_not_stand_with_the_right_one_first():
    places = Counter(item.asks.options.index(item.asks.right) for item in qti.from_bank().items)
    assert min(places[n] for n in range(4)) > 10


def test_the_same_bytes_for_the_owner_alone(tmp_path):
    one, other = (qti.from_bank().write(tmp_path / name) for name in ("a.zip", "b.zip"))
    assert one.read_bytes() == other.read_bytes()
    with zipfile.ZipFile(one) as file:
        assert {entry.date_time for entry in file.infolist()} == {(1980, 1, 1, 0, 0, 0)}
    assert stat.S_IMODE(one.stat().st_mode) == 0o600


def test_what_cannot_be_written_is_said(form, packed, tmp_path):
    with pytest.raises(ValueError, match=r"QTI '3.1' is not written; choose 2.1 or 3.0"):
        form.write(tmp_path / "x.zip", "3.1")
    with pytest.raises(ValueError, match="nothing of form 7th can be carried: only its clip shows"):
        replace(form, items=(), left_out={"q1": qti.UNTOLD}).write(tmp_path / "x.zip")
    odd = replace(form.items[0], prompt="a bell \a")
    with pytest.raises(ValueError, match=rf"item-{odd.id}.xml: a text holds a sign that XML"):
        replace(form, items=(odd,)).write(tmp_path / "x.zip")
    with pytest.raises(ValueError, match="the key is not the one the form was sealed with"):
        qti.from_form(packed[0], replace(packed[2], salt="0" * 64))
    assert not list(tmp_path.iterdir())


def test_signs_of_xml_in_a_text_stay_as_they_are(form, tmp_path):
    asks = interactions.OneOption(("<b>", "&amp;"), "&amp;")
    odd = replace(form.items[-1], prompt="2 < 3 & “so” {on}", asks=asks)
    root = documents(replace(form, items=(odd,)), "3.0", tmp_path)[f"item-{odd.id}.xml"]
    assert [one.text for one in at(root, "qti-prompt")] == ["2 < 3 & “so” {on}"]
    assert [one.text for one in at(root, "qti-simple-choice")] == ["<b>", "&amp;"]
