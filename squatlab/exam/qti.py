"""Items as a QTI content package, 2.1 or 3.0, for a platform that reads them.

QTI is an open standard of 1EdTech. A package carries the key: it is for the
platform, never for candidates. What needs its clip stays here, and says so.
"""

from __future__ import annotations

import re
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from io import BytesIO
from itertools import groupby
from pathlib import Path
from xml.etree.ElementTree import Element, ParseError, fromstring, indent, tostring
from xml.sax.saxutils import escape

import numpy as np

from squatlab import __version__, storage
from squatlab.exam.forms import FormKey
from squatlab.exam.package import SAME_DAY, Package, shown
from squatlab.questions import files, item_bank
from squatlab.questions.interactions import Interaction, OneOption
from squatlab.questions.question import Account

WATCH, READ = "Watch the lift.", "Read the lift, told in words."
"""What a question says of its clip, and what it says without one."""

UNTOLD = (
    "only its clip shows the lift, and clips do not travel: to send it in words, another exam "
    "than the clips, give the package made by squatlab form --text"
)

IMS, PURL = "http://www.imsglobal.org/", "https://purl.imsglobal.org/spec/qti/v3p0/"
VERSIONS = {
    "2.1": {
        "items": f"{IMS}xsd/imsqti_v2p1 {IMS}xsd/qti/qtiv2p1/imsqti_v2p1.xsd",
        "package": f"{IMS}xsd/imscp_v1p1 {IMS}xsd/qti/qtiv2p1/qtiv2p1_imscpv1p2_v1p0.xsd",
        "kind": "xmlv2p1",
        "schema": "QTIv2.1 Package",
        "edition": "1.0.0",
    },
    "3.0": {
        "items": f"{IMS}xsd/imsqtiasi_v3p0 {PURL}schema/xsd/imsqti_asiv3p0_v1p0.xsd",
        "package": f"{IMS}xsd/qti/qtiv3p0/imscp_v1p1 "
        f"{PURL}schema/xsd/imsqtiv3p0_imscpv1p2_v1p0.xsd",
        "kind": "xmlv3p0",
        "schema": "QTI Package",
        "edition": "3.0.0",
    },
}
"""What can be written, and what each calls spaces, schemas and kinds [qti2012, qti2022]."""

MANIFEST = """<manifest identifier="package-{id}">
<metadata><schema>{schema}</schema><schemaversion>{edition}</schemaversion></metadata>
<organizations/><resources>{resources}</resources></manifest>"""
RESOURCE = """<resource identifier="{name}" type="imsqti_{what}_{kind}" href="{name}.xml">
<file href="{name}.xml"/>{needs}</resource>"""

TEST = """<assessmentTest identifier="test-{id}" title="{title}" {tool}>
<outcomeDeclaration identifier="SCORE" cardinality="single" baseType="float">
<defaultValue><value>0</value></defaultValue></outcomeDeclaration>
<testPart identifier="part" navigationMode="nonlinear" submissionMode="individual">
{sections}</testPart>
<outcomeProcessing><setOutcomeValue identifier="SCORE"><sum>
<testVariables variableIdentifier="SCORE" weightIdentifier="POINTS"/></sum></setOutcomeValue>
</outcomeProcessing></assessmentTest>"""
SECTION = """<assessmentSection identifier="section-{n}" title="{title}" visible="true">{refs}
</assessmentSection>"""
REF = """<assessmentItemRef identifier="item-{id}" href="item-{id}.xml">
<weight identifier="POINTS" value="{points:g}"/></assessmentItemRef>"""

ITEM = """<assessmentItem identifier="item-{id}" title="{id}" adaptive="false"
timeDependent="false" {tool}>
<responseDeclaration identifier="RESPONSE" cardinality="{cardinality}" baseType="{base}">
{right}{mapping}</responseDeclaration>
<outcomeDeclaration identifier="SCORE" cardinality="single" baseType="float">
<defaultValue><value>0</value></defaultValue></outcomeDeclaration>{declared}
<itemBody>{lift}{asks}</itemBody>{rules}</assessmentItem>"""
RIGHT = "<correctResponse>{values}</correctResponse>"
MAPPING = '<mapping defaultValue="0" lowerBound="0">{entries}</mapping>'
ENTRY = '<mapEntry mapKey="{key}" mappedValue="{value:.10g}"/>'
DECLARED = '<outcomeDeclaration identifier="FEEDBACK" cardinality="single" baseType="identifier"/>'
LIFT = """<p>{heading}</p><table><caption>The lift in words</caption>
<thead><tr><td/>{moments}</tr></thead><tbody>{rows}</tbody></table>"""
TOOL = f'toolName="squatlab" toolVersion="{__version__}"'
HTML = ("p", "table", "caption", "thead", "tbody", "tr", "th", "td")


@dataclass(frozen=True)
class Carried:
    """Hold an item as it travels: what it ``asks``, and of whom it is worth what.

    ``account`` is its lift told in words, ``why`` what is shown after the
    answer, ``loss`` what of it does not travel.
    """

    id: str
    section: str
    prompt: str
    asks: Interaction
    points: float = 1.0
    account: Account | None = None
    why: str = ""
    loss: str = ""


@dataclass(frozen=True)
class Selection:
    """Hold what is carried, and why each other item is ``left_out``."""

    id: str
    title: str
    items: tuple[Carried, ...]
    left_out: dict[str, str] = field(default_factory=dict)

    def write(self, path: str | Path, version: str = "3.0") -> Path:
        """Write the package to a file that only its owner may read.

        The same selection gives the same bytes. Raises ValueError for a
        version that is not in `VERSIONS`, if nothing is left to carry, or
        naming what holds a sign that XML cannot.
        """
        if version not in VERSIONS:
            raise ValueError(f"QTI {version!r} is not written; choose {' or '.join(VERSIONS)}")
        if not self.items:
            why = "; ".join(dict.fromkeys(self.left_out.values())) or "there are no items"
            raise ValueError(f"nothing of {self.title} can be carried: {why}")
        terms, whole = VERSIONS[version], BytesIO()
        with zipfile.ZipFile(whole, "w") as file:
            for name, text in _documents(self, terms):
                root = _read(name, text)
                where = terms["package" if root.tag == "manifest" else "items"]
                if version == "3.0" and root.tag != "manifest":
                    root = _hyphenated(root)
                # Plain attributes: ElementTree's prefixes would hold for the whole program.
                root.set("xmlns", where.split()[0])
                root.set("xmlns:xsi", "http://www.w3.org/2001/XMLSchema-instance")
                root.set("xsi:schemaLocation", where)
                entry = zipfile.ZipInfo(name, SAME_DAY)
                entry.compress_type, entry.create_system = zipfile.ZIP_DEFLATED, 3
                indent(root)
                file.writestr(entry, tostring(root, "utf-8", xml_declaration=True))
        return files.write_whole(path, whole.getvalue(), mode=storage.OWNER_ONLY)


def from_bank() -> Selection:
    """Return every knowledge item of data/items.csv, in sections by its cell."""
    carried = []
    for entry in item_bank.items().values():
        # The table has the right option first: a platform that never shuffles would tell.
        asked = entry.asked(np.random.default_rng(zlib.crc32(entry.id.encode())))
        cell = entry.cell.replace("_", " ")
        asks = OneOption(asked.options, entry.right)
        carried.append(Carried(entry.id, cell, asked.prompt, asks, why=entry.why))
    return Selection("bank", "Knowledge of the back squat", tuple(carried))


def from_form(package: Package, key: FormKey) -> Selection:
    """Return what a form asks, and its key.

    A lift comes along as it was packed in words. Raises ValueError if the
    key is not the one that the form was sealed with.
    """
    package.form.check(key)
    title, carried, left_out = f"form {package.form.id}", [], {}
    for name, asked in package.questions.items():
        if asked.how.shows_lift and not asked.account:
            left_out[name] = UNTOLD
            continue
        entry = key.entries[name]
        carried.append(
            Carried(
                name,
                title,
                asked.text.replace(WATCH, READ),
                entry.how.exported(asked, entry, shown),
                entry.points,
                asked.account,
                loss=entry.how.loss,
            )
        )
    return Selection(package.form.id, title, tuple(carried), left_out)


def _documents(chosen: Selection, terms: dict[str, str]) -> Iterator[tuple[str, str]]:
    """Yield every file's name and its text, in the words of 2.1."""
    terms = terms | {"id": chosen.id, "title": escape(chosen.title), "tool": TOOL}
    ids = [item.id for item in chosen.items]
    needs = "".join(f'<dependency identifierref="item-{id}"/>' for id in ids)
    resources = RESOURCE.format(**terms, name=f"test-{chosen.id}", what="test", needs=needs)
    for id in ids:
        resources += RESOURCE.format(**terms, name=f"item-{id}", what="item", needs="")
    yield "imsmanifest.xml", MANIFEST.format(**terms, resources=resources)
    sections = ""
    for n, (title, items) in enumerate(groupby(chosen.items, lambda item: item.section), 1):
        refs = "".join(REF.format(id=item.id, points=item.points) for item in items)
        sections += SECTION.format(n=n, title=escape(title), refs=refs)
    yield f"test-{chosen.id}.xml", TEST.format(**terms, sections=sections)
    for item in chosen.items:
        asks = item.asks
        values = "".join(f"<value>{value}</value>" for value in asks.correct)
        entries = "".join(ENTRY.format(key=key, value=v) for key, v in asks.mapped.items())
        yield (
            f"item-{item.id}.xml",
            ITEM.format(
                id=item.id,
                tool=TOOL,
                cardinality=asks.cardinality,
                base=asks.base,
                right=RIGHT.format(values=values) if values else "",
                mapping=MAPPING.format(entries=entries) if entries else "",
                declared=DECLARED if item.why else "",
                lift=_lift(item.account) if item.account else "",
                asks=asks.interaction(item.prompt),
                rules=asks.rules(item.why),
            ),
        )


def _read(name: str, text: str) -> Element:
    """Return a document as elements; ValueError where a text holds what XML cannot."""
    try:
        return fromstring(text)
    except ParseError:
        raise ValueError(f"{name}: a text holds a sign that XML cannot; type it again") from None


def _lift(account: Account) -> str:
    """Return a lift in words: rows with what it is, columns with when."""
    moments = "".join(f'<th scope="col">{escape(moment)}</th>' for moment in account.moments)
    rows = ""
    for words, cells in account.rows:
        columns = "".join(f"<td>{escape(cell)}</td>" for cell in cells)
        rows += f'<tr><th scope="row">{escape(words)}</th>{columns}</tr>'
    return LIFT.format(heading=escape(account.heading), moments=moments, rows=rows)


def _hyphenated(root: Element) -> Element:
    """Return the same in the words of 3.0: qti-item-body for itemBody."""
    made = Element(root.tag if root.tag in HTML else f"qti-{_apart(root.tag)}")
    made.attrib.update({_apart(name): value for name, value in root.attrib.items()})
    made.text, into = root.text, made
    if root.tag == "modalFeedback":
        into = Element("qti-content-body")
        made.append(into)
    into.extend(map(_hyphenated, root))
    return made


def _apart(name: str) -> str:
    """Return a name of 2.1 as 3.0 writes it: item-body for itemBody."""
    return re.sub("[A-Z]", lambda capital: f"-{capital[0].lower()}", name)
