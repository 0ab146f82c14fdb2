"""One fault on a page: what is seen, where to look, what is measured.

Notebook 08 shows one for each fault of the catalogue.
"""

from __future__ import annotations

from html import escape
from typing import Any, NamedTuple

import numpy as np
from ipywidgets import HTML, VBox

from squatlab import faults
from squatlab.faults import Fault
from squatlab.lessons.fault_cases import limits, read, squat
from squatlab.lessons.fault_checks import case
from squatlab.motion import Rep
from squatlab.norms import norms_in_words
from squatlab.review import Finding
from squatlab.show import fault_scale, palette
from squatlab.show.clips import Clip
from squatlab.show.film import FAR_FILLS, Film, Panel, film, outline
from squatlab.show.footage import footage
from squatlab.show.frame_row import FrameRow
from squatlab.show.moving import taken
from squatlab.show.picture import RowPlace, Scene, WordedPicture, elements, img, svg
from squatlab.show.primitives import Line, Primitive, Shape, Text, rectangle
from squatlab.show.views import FLOOR, FRONT, MID_FOOT

SHOWN, EXAMPLES = 2.5, (1.5, 2.5, 3.15)
"""Severities of the example that is drawn and of those that are filmed."""

SCALE = 225.0
"""Picture units per metre in a clip, near enough to find the middle."""

SCALE_TITLE = "How large is large: three set sizes, and what two phones measured"

CELL, CELL_LEAST = 237.0, 182.0
"""Width of a moment, picture units, and the least it is shown with, pixels: on a
phone two stand in a row."""

CAPTION, LINE = 15.6, 20.0
"""Size of the words below a moment and height of a line of them: 12 px on a phone."""


def _centre(look: faults.Look, shown: Film, panel: Panel, frame: int) -> complex:
    """Return the middle of what is looked at, picture units."""
    middle = MID_FOOT if panel.name == "side" else 0.5 * FRONT
    view = next(view for view in shown.footage.views if view.name == panel.name)
    if look.point:
        place = complex(view.places[look.point][frame])
    else:  # the feet stand at the lower edge; feet seen from above lie below the floor
        has_feet_from_above = any(line.name.startswith("feet") for line in panel.lines)
        below_floor_m = 0.42 if has_feet_from_above else 0.08
        place = 1j * (0.5 * look.height_m - below_floor_m)
    return complex(panel.left + middle, FLOOR) + SCALE * place.conjugate()


class FaultSheet(NamedTuple):
    """Hold what stands on a fault's page above its clip.

    ``pictures`` are the moments and the line of sizes; ``html`` has them
    with the words beside them, ``words`` is all of it without pictures.
    """

    pictures: tuple[WordedPicture, ...]
    html: str
    words: str


class FaultPage(VBox):
    """Show a fault's ``sheet`` and below it the ``clip`` of its clear example.

    Without a kernel the sheet stays; make one by `fault_page`.
    """

    def __init__(self, sheet: FaultSheet, clip: Clip) -> None:
        self.sheet, self.clip = sheet, clip
        super().__init__([HTML(sheet.html), clip])
        self.add_class("squatlab")

    def __repr__(self) -> str:
        return f"Fault page: {self.sheet.words}"

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        """Show the picture to readers without a kernel."""
        bundle = super()._repr_mimebundle_(**kwargs)
        if bundle is None:
            return None
        bundle["text/plain"], bundle["text/html"] = repr(self), self.sheet.html
        return bundle


def fault_page(name: str) -> FaultPage:
    """Return a fault of the catalogue on a page.

    What is seen and looked for, four moments of a clear example over a
    clean squat's outline, with the measured line; what two phones read of
    a slight, a clear and a gross one; and the clear example to play, the
    clean squat in step. Raises ValueError for an unknown fault.
    """
    fault = faults.fault(name)
    sizes = [float(fault.value_at(severity)) for severity in EXAMPLES]
    readings = [read(squat(**{fault.id: size})) for size in sizes]
    findings = [reading[fault.id] for reading in readings]
    # What the clear example, the middle one, is called besides.
    others = [finding for finding in readings[1].present() if finding.fault != fault.id]
    catalogue_words = CatalogueWords.of(fault, others)
    sizes_words = [
        fault_scale.set_and_measured(size, finding).capitalize()
        for size, finding in zip(sizes, findings, strict=True)
    ]
    sizes_words.append(f"Real lifters: {norms_in_words(fault.id)}")
    rep = squat(**{fault.id: float(fault.value_at(SHOWN))})
    moments = _moments(fault, rep)
    scale = _scale(sizes, findings, f"{fault.name.capitalize()}. {'. '.join(sizes_words)}.")
    sheet = FaultSheet(
        (*moments, scale),
        _html(fault, catalogue_words, moments, scale),
        "\n".join([*catalogue_words.lines(), *sizes_words]),
    )
    return FaultPage(sheet, _clip(fault, rep, findings[1].worst))


class CatalogueWords(NamedTuple):
    """Hold the catalogue's words for a fault, sentences without full stops.

    ``beside`` is what else its example is called, "" for nothing.
    """

    name: str
    seen: str
    look_for: str
    measured: str
    beside: str

    @classmethod
    def of(cls, fault: Fault, others: list[Finding]) -> CatalogueWords:
        """Return the words for a fault whose example has others as well."""
        names = ", ".join(f"{finding.name} ({finding.size})" for finding in others)
        return cls(
            f"{fault.name.capitalize()} (tier {fault.tier}, {faults.TIERS[fault.tier]})",
            f"Seen: {fault.seen}",
            f"Look for: {fault.look_for}",
            f"Measured: {fault.measured_as}; {limits(fault)}",
            f"Comes with it here: {names}" if names else "",
        )

    def lines(self) -> list[str]:
        """Return every sentence that is there."""
        return [sentence for sentence in self if sentence]


def _html(
    fault: Fault, words: CatalogueWords, moments: list[WordedPicture], scale: WordedPicture
) -> str:
    """Return the words of a page with its pictures, which wrap where it is narrow."""
    key = "Dashed outline: a clean squat at the same moment"
    if "feet" in fault.lines:
        key += "; below the floor the feet from above, arrows where the shins point"
    if fault.view == "front":
        key += "; right is the lifter's right"
    where = f"tier {fault.tier}: {faults.TIERS[fault.tier]} · {fault.view} view"
    row = "display:flex;flex-wrap:wrap;gap:8px 4px;margin:6px 0"
    cell = RowPlace(CELL_LEAST, CELL)
    pictures = "".join(img(moment.svg, moment.alt, CELL, place=cell) for moment in moments)
    line = RowPlace(fault_scale.LEAST_PX, 1.2 * fault_scale.WIDTH)
    sentences = (SCALE_TITLE, words.measured, words.beside, key)
    beside = "".join(f"<p>{escape(sentence)}.</p>" for sentence in sentences if sentence)
    return (
        '<div class="squatlab-fault" style="line-height:1.35">'
        f"<p><b>{escape(fault.name.capitalize())}</b> ({where})<br>"
        f"{escape(words.seen)}<br>{escape(words.look_for)}</p>"
        f'<div style="{row}">{pictures}</div><div style="{row}">'
        f"{img(scale.svg, scale.alt, fault_scale.WIDTH, place=line)}"
        f'<div style="flex:1 1 300px">{beside}</div></div></div>'
    )


def _scale(sizes: list[float], findings: list[Finding], alt: str) -> WordedPicture:
    """Return the line of sizes with three examples on it."""
    parts = tuple(fault_scale.line_of_sizes(sizes, findings))
    bounds = 0.0, 0.0, fault_scale.WIDTH, fault_scale.HEIGHT
    return WordedPicture(svg(Scene(parts, bounds, alt)), alt, alt, fault_scale.WIDTH)


def _clip(fault: Fault, rep: Rep, worst: int | None) -> Clip:
    """Return the example to play, with a clean squat in step."""
    shown = footage(rep)
    marks = {} if worst is None else {"shows most": min(worst, shown.time.size - 1)}
    playing = film(shown, fault.lines, behind=footage(squat()))
    return Clip(playing, marks, "page", lines=True, frame=marks.get("shows most", 0))


def case_row(seed: int) -> FrameRow:
    """Return the squat of the check "name_the_fault" in frames that name nothing."""
    shown = film(footage(case(np.random.default_rng(seed))), (), blind=True)
    return FrameRow(shown, note="What was read of it, in numbers, is in the question.")


def _moments(fault: Fault, rep: Rep) -> list[WordedPicture]:
    """Return four moments of a fault over a clean squat, with what is measured below."""
    view = "front" if fault.view == "front" else "side"
    look = fault.look
    faulty = film(footage(rep), fault.lines)
    panel, other = _panel(faulty, view), _panel(film(footage(squat()), fault.lines), view)
    lines_shown = [line for line in panel.lines if any(line.words) and fault.view != "any"]
    usual = {line.name: line.words for line in other.lines}
    pictures = []
    for name, second in _instants(look.when, rep).items():
        frame = int(round(second * faulty.footage.rate))
        centre = _centre(look, faulty, panel, frame)
        cell = _cell(panel, other, frame, centre, look.height_m)
        at = complex(3, CELL + LINE)
        since = max(second - rep.events["start"], 0.0)
        title = f"{name}, {since:.2f} s"
        parts: list[Primitive] = [Text(at, title, CAPTION, bold=True)]
        captions = [f"{fault.name.capitalize()}, {view} view: {title}"]
        for line in lines_shown:
            parts.append(Line((at + 15j, at + 15j + 18), line.stroke, 3.0, line.dash))
            name = _short(line.name)
            number, clean_number = _short(line.words[frame]), _short(usual[line.name][frame])
            rows = (
                Text(at, name, CAPTION, fill=palette.SOFT),
                Text(at, number, CAPTION, bold=True),
                Text(at, f"clean {clean_number}", CAPTION, fill=palette.SOFT),
            )
            for row, text in enumerate(rows, 1):
                parts.append(text._replace(at=at + 22 + 1j * LINE * row))
            captions.append(f"{name} {number}, clean {clean_number}")
            at += 3j * LINE
        alt = f"{'; '.join(captions)}."
        whole = Scene(tuple(parts), (0.0, 0.0, CELL, at.imag + 6), alt)
        # A thin frame: what is cut off is seen to be cut on purpose.
        edge = Shape(rectangle(0.5, 0.5, CELL - 0.5, CELL - 0.5), stroke=palette.RULE)
        picture = svg(whole).removesuffix("</svg>") + cell + elements([edge]) + "</svg>"
        pictures.append(WordedPicture(picture, alt, alt, fault_scale.WIDTH))
    return pictures


def _short(words: str) -> str:
    """Return words of a line; whose right or left it is stands beside the pictures."""
    return words.replace("the lifter's", "the")


def _panel(shown: Film, view: str) -> Panel:
    """Return what a film shows in one view."""
    return next(panel for panel in shown.panels if panel.name == view)


def _instants(when: str, rep: Rep) -> dict[str, float]:
    """Return four moments by name, s; ``when`` is where a fault shows (`faults.Look`)."""
    events = rep.events
    start, low, rise, end = events["start"], events["bottom"], events["ascent"], events["end"]
    down, up = low - start, end - rise
    return {
        "first": {
            "standing": start,
            "which moves?": start + 0.2 * down,
            "a little later": start + 0.3 * down,
            "later still": start + 0.4 * down,
        },
        "early": {
            "standing": start,
            "beginning": start + 0.2 * down,
            "first quarter": start + 0.25 * down,
            "halfway down": start + 0.5 * down,
        },
        "low": {
            "standing": start,
            "on the way down": start + 0.5 * down,
            "lowest point": low,
            "on the way up": rise + 0.5 * up,
        },
        "rise": {
            "lowest point": low,
            "rising": rise + 0.25 * up,
            "a quarter up": rise + 0.38 * up,
            "halfway up": rise + 0.5 * up,
        },
        "drop": {
            "first bend": start,
            "a third": start + down / 3,
            "two thirds": start + 2 * down / 3,
            "lowest point": low,
        },
    }[when]


def _cell(faulty: Panel, clean: Panel, frame: int, at: complex, height_m: float) -> str:
    """Return one moment of a fault over a clean squat's outline, cut to where to look.

    ``at`` is the middle of what is shown, picture units, ``height_m`` its height.
    """
    # What is enlarged has lines as thin, and words as small, as a whole picture.
    half, thinner = 0.5 * height_m * SCALE, height_m * SCALE / CELL
    paper, *stage = faulty.stage
    moving = [part for part in stage if not isinstance(part, Text)]
    # Behind the near limbs of a squat the far ones are not to be seen.
    moving += [part for part in faulty.figure if getattr(part, "fill", "") not in FAR_FILLS]
    for line in faulty.lines:
        moving += line.drawn
    stills = [taken(part, frame) for part in moving]
    parts = []
    for still in (paper, outline(clean.figure, frame), *stills):
        if isinstance(still, Text):
            parts.append(still._replace(size=thinner * CAPTION))
        elif still is not None:
            parts.append(still._replace(width=thinner * still.width))
    corner = at - complex(half, half)
    return (
        f'<svg x="0" y="0" width="{CELL:g}" height="{CELL:g}" '
        f'viewBox="{corner.real:.1f} {corner.imag:.1f} {2 * half:.1f} {2 * half:.1f}">'
        f"{elements(parts)}</svg>"
    )
