"""One fault on a page: what is seen, where to look, what is measured."""

from __future__ import annotations

from dataclasses import dataclass, replace
from textwrap import wrap
from typing import Any

import numpy as np

from squatlab import faults
from squatlab.faults import Fault
from squatlab.lessons.fault_cases import limits, read, squat
from squatlab.lessons.fault_checks import case
from squatlab.motion import Rep
from squatlab.norms import norms_in_words
from squatlab.review import Finding
from squatlab.show import fault_scale, palette
from squatlab.show.film import FAR_FILLS, Film, Panel, film, outline
from squatlab.show.footage import footage
from squatlab.show.frame_row import frame_row
from squatlab.show.moving import taken
from squatlab.show.picture import Scene, elements, img, svg
from squatlab.show.primitives import Line, Primitive, Text
from squatlab.show.views import FLOOR, FRONT, MID_FOOT

SHOWN, EXAMPLES = 2.5, (1.5, 2.5, 3.15)
"""Severities of the example that is drawn and of those that are filmed."""

SCALE = 225.0
"""Picture units per metre in a clip, near enough to find the middle."""

SCALE_TITLE = "How large is large: three examples put in, and what two phones read of them"

CELL, GAP, CELLS_TOP = 235.0, 7.0, 80.0
WORDS = 18.0


def _centre(look: faults.Look, shown: Film, panel: Panel, frame: int) -> complex:
    """Return the middle of what is looked at, picture units."""
    middle = MID_FOOT if panel.name == "side" else 0.5 * FRONT
    view = next(view for view in shown.footage.views if view.name == panel.name)
    if look.point:
        place = complex(view.places[look.point][frame])
    else:  # the feet stand at the lower edge, with room for what is told below the floor
        below = 0.42 if any(line.name.startswith("feet") for line in panel.found) else 0.08
        place = 1j * (0.5 * look.height_m - below)
    return complex(panel.left + middle, FLOOR) + SCALE * place.conjugate()


@dataclass(frozen=True)
class FaultPage:
    """Hold a picture and the same in words; a notebook shows either."""

    svg: str
    words: str
    alt: str

    def __repr__(self) -> str:
        return self.words

    def _repr_mimebundle_(self, **_: Any) -> dict[str, str]:
        return {"text/plain": self.words, "text/html": img(self.svg, self.alt, fault_scale.WIDTH)}


def fault_page(name: str) -> FaultPage:
    """Return a fault of the catalogue on a page.

    What is seen and looked for, four moments of a clear example over a
    clean squat's outline, with the measured line; and what two phones
    read of a slight, a clear and a gross one. Raises ValueError for an
    unknown fault.
    """
    fault = faults.fault(name)
    sizes = [float(fault.value_at(severity)) for severity in EXAMPLES]
    readings = [read(squat(**{fault.id: size})) for size in sizes]
    found = [reading[fault.id] for reading in readings]
    others = [one for one in readings[1].present() if one.fault != fault.id]
    said = _said(fault, others)
    pairs = [fault_scale.told(*pair).capitalize() for pair in zip(sizes, found, strict=True)]
    pairs.append(f"Real lifters: {norms_in_words(fault.id)}")
    alt = f"{'. '.join([*said, *pairs])}. Filmed from the {found[1].view}.".replace("?.", "?")
    rep = squat(**{fault.id: float(fault.value_at(SHOWN))})
    head = [Text(complex(10, 22), fault.name.capitalize(), 19.0, bold=True)]
    head += [Text(complex(10, 44 + 19 * row), line, 14.0) for row, line in enumerate(said[1:3])]
    where = f"tier {fault.tier}: {faults.TIERS[fault.tier]} · {fault.view} view"
    head.append(Text(complex(970, 22), where, 14.0, "end", fill=palette.SOFT))
    cells, captions, low = _moments(fault, rep)
    # The scale is of sizes, not of the moments above it: a rule and a title keep them apart.
    low += 16
    rule = Line((complex(10, low), complex(970, low)), palette.RULE, 1.0)
    title = Text(complex(10, low + 24), SCALE_TITLE, 14.0, bold=True)
    low += 26
    parts = [*head, *captions, rule, title, *fault_scale.line_of_sizes(sizes, found, low)]
    low += fault_scale.HEIGHT + 12
    key = "Dashed outline: a clean squat at the same moment"
    if "feet" in fault.lines:
        key += "; below the floor the feet from above, arrows where the shins point"
    if fault.view == "front":
        key += "; right is the lifter's right"
    for line in (*wrap(". ".join([*said[3:], ""]), 132), f"{key}."):
        parts.append(Text(complex(10, low), line, 13.0, fill=palette.SOFT))
        low += WORDS
    scene = Scene(tuple(parts), (0.0, 0.0, fault_scale.WIDTH, low), alt)
    return FaultPage(
        svg(scene).removesuffix("</svg>") + cells + "</svg>", "\n".join([*said, *pairs]), alt
    )


def case_row(seed: int) -> FaultPage:
    """Return the squat of the check "name_the_fault" in frames that name nothing."""
    row = frame_row(case(np.random.default_rng(seed)), blind=True).scene
    alt = f"{row.alt} What was read of it, in numbers, is in the question."
    return FaultPage(svg(replace(row, alt=alt)), alt, alt)


def _said(fault: Fault, others: list[Finding]) -> list[str]:
    """Return the catalogue's words, one sentence each without its full stop."""
    said = [
        f"{fault.name.capitalize()} (tier {fault.tier}, {faults.TIERS[fault.tier]})",
        f"Seen: {fault.seen}",
        f"Look for: {fault.look_for}",
        f"Measured: {fault.measured_as}; {limits(fault)}",
    ]
    came = ", ".join(f"{one.name} ({one.size})" for one in others)
    return [*said, f"Comes with it here: {came}"] if others else said


def _moments(fault: Fault, rep: Rep) -> tuple[str, list[Primitive], float]:
    """Return four moments as SVG, the captions below, and where those end."""
    view = "front" if fault.view == "front" else "side"
    faulty, clean = (film(footage(one), fault.lines) for one in (rep, squat()))
    look = fault.look
    panel, other = (_panel(one, view) for one in (faulty, clean))
    cells, captions, low = "", [], CELLS_TOP + CELL + WORDS
    told = [line for line in panel.found if any(line.words) and fault.view != "any"]
    usual = {line.name: line.words for line in other.found}
    for number, (name, second) in enumerate(_instants(look.when, rep).items()):
        frame = int(round(second * faulty.footage.rate))
        left = 8 + number * (CELL + GAP)
        where = _centre(look, faulty, panel, frame)
        cells += _cell((other, panel), frame, where, look.height_m, left)
        at = complex(left + 6, low)
        since = max(second - rep.events["start"], 0.0)
        captions.append(Text(at, f"{name}, {since:.2f} s", bold=True))
        for line in told:
            captions.append(Line((at + 15j, at + 15j + 20), line.stroke, 3.0, line.dash))
            both = f"{line.name} {line.words[frame]}", f"clean {usual[line.name][frame]}"
            for row, fill in enumerate((palette.INK, palette.SOFT)):
                words = both[row].replace("the lifter's", "the")  # whose it is stands below
                captions.append(Text(at + 26 + 1j * (19 + WORDS * row), words, fill=fill))
            at += 2j * WORDS
    return cells, captions, low + 36 * len(told) + 4


def _panel(shown: Film, view: str) -> Panel:
    return next(panel for panel in shown.panels if panel.name == view)


def _instants(when: str, rep: Rep) -> dict[str, float]:
    """Return four moments by name, s."""
    at = rep.events
    start, low, rise, end = (at[name] for name in ("start", "bottom", "ascent", "end"))
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


def _cell(panels: tuple[Panel, Panel], frame: int, at: complex, high_m: float, left: float) -> str:
    """Return one moment of a fault over a clean squat's outline, cut to where to look."""
    clean, faulty = panels
    half, thinner = 0.5 * high_m * SCALE, high_m * SCALE / CELL
    paper, *stage = faulty.stage
    # Behind the near limbs of a squat the far ones are not to be seen.
    near = [p for p in faulty.figure if getattr(p, "fill", "") not in FAR_FILLS]
    lines = [part for line in faulty.found for part in line.drawn]
    moving = (*(part for part in stage if not isinstance(part, Text)), *near, *lines)
    moment = (taken(part, frame) for part in (paper, *moving))
    first, *rest = (part for part in moment if part is not None)
    parts = [
        still._replace(**{look: thinner * getattr(still, look)})
        for still in (first, outline(clean.figure, frame), *rest)
        for look in ("size" if isinstance(still, Text) else "width",)
    ]
    corner = at - complex(half, half)
    return (
        f'<svg x="{left:g}" y="{CELLS_TOP:g}" width="{CELL:g}" height="{CELL:g}" '
        f'viewBox="{corner.real:.1f} {corner.imag:.1f} {2 * half:.1f} {2 * half:.1f}">'
        f"{elements(parts)}</svg>"
    )
