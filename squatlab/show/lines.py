"""Measured lines over time: what is drawn on a moving lifter, and its numbers.

The numbers are the review's own quantities (`review.quantities`): nothing
is measured here. `film` draws the lines, `frame_row` and the pages of
faults print them.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from math import isnan
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from squatlab import faults
from squatlab.show import palette
from squatlab.show.body import Frame, Places
from squatlab.show.footage import Footage, FootageView
from squatlab.show.measures import vertical
from squatlab.show.moving import LOST, Curve, Moving, Trail, seen
from squatlab.show.primitives import Line, Primitive, Text
from squatlab.show.views import FLOOR
from squatlab.units import BODY_LENGTH, READING, QuantityKind

POINTS_M = 0.11
"""A shank that leans less than about 15°, this far from above, points nowhere
[teaching-value]."""

BOLD = 1.8
"""Lines of this width and more have an edge of paper, picture units."""

TOP = 64.0
"""Where lines up to the title end, picture units."""

SHOWN = ("mid-foot", "bar path", "trunk", "thigh", "shank", "toes", "knees", "feet")
"""What is shown unless other lines are asked for."""


class MeasuredLine(NamedTuple):
    """Hold one measured line: its name, how it looks, its words (time,)."""

    name: str
    stroke: str
    dash: str
    words: list[str]
    drawn: list[Moving]


def signed_words(
    values: NDArray, plus: str, minus: str, digits: int = 0, zero: str = ""
) -> list[str]:
    """Return numbers (time,) in words, "" for nan.

    ``plus`` and ``minus`` follow what is above and below 0; ``zero``, if
    given, stands for what rounds to 0.
    """

    @cache  # once rounded, few numbers are different ones
    def words(value: float) -> str:
        if isnan(value):
            return ""
        if zero and value == 0:
            return zero
        return f"{abs(value):.{digits}f}{minus if value < 0 else plus}"

    return [words(value) for value in np.round(values, digits).tolist()]


def distances(
    centimetres: NDArray, plus: str = "", minus: str = "", kind: QuantityKind = READING
) -> list[str]:
    """Return distances (time,) in words, in the units chosen, "" for nan."""
    written = kind.written
    scale = kind.metric.size / written.size  # 1 exactly where centimetres are written
    sides = f" {written.unit}{plus}", f" {written.unit}{minus}"
    return signed_words(centimetres * scale, *sides, written.digits)


def _side(view: FootageView, frame: Frame) -> dict[str, MeasuredLine]:
    """Return every line of a side view. Distances are told only where they are true."""
    p, ink = view.places, palette.INK
    hip, knee, ankle, heel = (frame.at(p[f"{name}_r"]) for name in ("hip", "knee", "ankle", "heel"))
    pelvis, l5, c7, head = (frame.at(p[name]) for name in ("pelvis", "l5", "c7", "head"))
    toe = frame.at(p["toe_r"]).real
    middle = frame.origin.real + 0.0 * toe  # nan without toes
    level = Line((knee, knee - 0.45 * frame.scale), ink, 1.2, "2 3")
    upright = Line((hip, hip - 0.8j * np.abs(c7 - hip)), ink, 1.2, "2 3")
    over_toes = Line((toe + 1j * FLOOR, toe + 1j * (knee.imag - 30)), ink, 1.6, "9 3 2 3")
    heel_up = Line((heel.real + 1j * FLOOR, heel), palette.RED, 4.0)
    return {
        "mid-foot": MeasuredLine(
            "mid-foot",
            ink,
            "7 4",
            [],
            [Line((middle + 1j * TOP, middle + 1j * FLOOR), ink, 1.6, "7 4")],
        ),
        "bar path": MeasuredLine(
            "bar to mid-foot",
            palette.VIOLET,
            "",
            distances(view.series("bar_ahead"), " ahead", " behind"),
            [_bar_path(view, frame)],
        ),
        "trunk": MeasuredLine(
            "trunk",
            palette.BLUE,
            "",
            signed_words(view.series("trunk_lean"), "° forward", "° back"),
            [upright, Line((hip, c7), palette.BLUE, 4.0)],
        ),
        "thigh": MeasuredLine(
            "thigh",
            palette.RED,
            "12 4",
            _thigh_words(view.series("thigh_level")),
            [level, Line((hip, knee), palette.RED, 4.0, "12 4")],
        ),
        "shank": MeasuredLine(
            "shin",
            palette.PLUM,
            "5 3",
            signed_words(view.series("shank_lean"), "° forward", "° back"),
            [Line((ankle, knee), palette.PLUM, 4.0, "5 3")],
        ),
        "toes": MeasuredLine(
            "knee to toes",
            ink,
            "9 3 2 3",
            distances(view.series("knee_ahead"), " ahead", " behind"),
            [over_toes],
        ),
        "low back": MeasuredLine(
            "low back",
            palette.BLUE,
            "",
            signed_words(view.series("low_back"), "° rounder", "° more arched"),
            [Line((pelvis, l5, c7), palette.BLUE, 4.0)],
        ),
        "heel": MeasuredLine(
            "heel",
            palette.RED,
            "",
            distances(view.series("heel_height"), " up", " down"),
            [heel_up, Line((heel - 26, heel + 10), palette.RED, 2.0)],
        ),
        "neck": MeasuredLine(
            "head",
            palette.PLUM,
            "5 3",
            signed_words(view.series("head_back"), "° above the gaze", "° below the gaze"),
            [Line((l5, c7, head), palette.PLUM, 4.0, "5 3")],
        ),
    }


def _thigh_words(values: NDArray) -> list[str]:
    """Return elevations of the thigh (time,), °, in words."""
    return signed_words(values, "° above level", "° below level", zero="level")


def _bar_path(view: FootageView, frame: Frame) -> Moving:
    """Return the bar's path up to each moment."""
    if not view.moments:
        return Trail(frame.at(view.places["bar"]), palette.VIOLET, 2.5)
    paths = [filmed.places["bar"][: at + 1] for filmed, at in view.moments]
    paths = [path[~np.isnan(path)] for path in paths]
    # Of different lengths: what is missing is lost, and there a curve ends.
    padded = np.full((max(path.size for path in paths), len(paths)), LOST)
    for moment, path in enumerate(paths):
        padded[: path.size, moment] = path
    return Curve(tuple(frame.at(padded)), palette.VIOLET, 2.5)


def _front(view: FootageView, frame: Frame, above: Places | None) -> dict[str, MeasuredLine]:
    """Return every line of a front view; where the feet point is seen from above."""
    p, middle = view.places, frame.origin.real
    knees = [frame.at(p[f"knee_{side}"]) for side in "rl"]
    hips, right, left = (frame.at(p[name]) for name in ("pelvis", "bar_end_r", "bar_end_l"))
    apart = distances(view.series("knees_apart"), kind=BODY_LENGTH)
    if not any(apart):
        apart = signed_words(view.series("knees_apart_in_heel_widths"), " heel widths", "", 1)
    return {
        "knees": MeasuredLine(
            "knees apart",
            palette.RED,
            "4 4",
            apart,
            [Line((k, k.real + 1j * FLOOR), palette.RED, 1.8, "4 4") for k in knees],
        ),
        "feet": MeasuredLine(
            "feet (knees dashed)" if above else "feet",
            palette.GHOST if above else palette.INK,
            "",
            [],
            _feet(view, above, frame),
        ),
        "hips": MeasuredLine(
            "hips",
            palette.VIOLET,
            "",
            distances(view.series("hip_shift"), " to the lifter's right", " to the lifter's left"),
            [
                vertical(middle, TOP, FLOOR, palette.INK, "7 4", 1.6),
                Line((middle + 1j * hips.imag, hips), palette.VIOLET, 5.0),
                Line((hips - 12j, hips + 12j), palette.VIOLET, 3.0),
            ],
        ),
        "bar level": MeasuredLine(
            "bar",
            palette.BLUE,
            "",
            signed_words(
                view.series("bar_tilt"),
                "° lower on the lifter's right",
                "° lower on the lifter's left",
                1,
                "level",
            ),
            [
                Line((right, left.real + 1j * right.imag), palette.INK, 1.2, "2 3"),
                Line((right, left), palette.BLUE, 3.0),
            ],
        ),
    }


def _feet(view: FootageView, above: Places | None, frame: Frame) -> list[Primitive]:
    """Return each foot's line; from above, with its angle, where that is known."""
    p = view.places
    if above is None:
        ends = [(frame.at(p[f"heel_{side}"]), frame.at(p[f"toe_{side}"])) for side in "rl"]
        return [Line(foot, palette.INK, 3.0, arrow=True) for foot in ends]
    # Below the floor, a little smaller than the lifter above it.
    low, parts = Frame(complex(frame.origin.real, FLOOR + 38), 0.8 * frame.scale), []
    for side, sign, anchor in (("r", -1, "end"), ("l", 1, "start")):
        heel, toe, ankle, knee = (above[f"{n}_{side}"] for n in ("heel", "toe", "ankle", "knee"))
        foot, shank = toe - heel, knee - ankle
        length = np.abs(shank)
        # Where the knee points, as long as the foot. A shank that stands upright points nowhere.
        knee_way = shank / np.where(length > POINTS_M, length, np.nan) * np.abs(foot)
        start, end = low.at(heel), low.at(toe)
        # In the picture y is down: a direction is turned over, as `Frame.at` does to points.
        knee_line = low.scale * knee_way.conjugate()
        turnout = view.series(f"foot_out_{side}")
        parts += [
            Line((start, end), palette.GHOST, 9.0),
            Line((start, start + knee_line), palette.RED, 2.5, "4 3", True),
            Text(end + complex(12 * sign, 0), signed_words(turnout, "° out", "° in"), 13.0, anchor),
        ]
    return parts


def measured(
    footage: Footage, view: FootageView, frame: Frame, wanted: tuple[str, ...] = ()
) -> list[MeasuredLine]:
    """Return the lines of one view that are wanted, in `SHOWN` or asked for.

    Raises ValueError for a name that no line of any view has.
    """
    known = dict.fromkeys(SHOWN)
    for fault in faults.catalogue().values():
        known |= dict.fromkeys(fault.lines)
    for name in wanted:
        if name not in known:
            raise ValueError(f"there is no line {name!r}; choose from {', '.join(known)}")
    if view.name == "oblique":
        return []  # seen from a corner, no angle is what it seems
    with np.errstate(invalid="ignore", divide="ignore"):
        front = view.name == "front"
        lines = _front(view, frame, footage.above) if front else _side(view, frame)
    shown = []
    for name, line in lines.items():
        if name not in (wanted or SHOWN):
            continue
        drawn = [edged for part in line.drawn for edged in _edged(part)]
        if any(map(seen, drawn)):
            shown.append(line._replace(drawn=drawn))
    return shown


def _edged(part: Moving) -> list[Moving]:
    """Return a bold line on an edge of paper: on a limb's tone it would hardly be seen."""
    if isinstance(part, Line) and part.width >= BOLD and not part.arrow:
        return [part._replace(stroke=palette.PAPER, width=part.width + 3, dash=""), part]
    return [part]


def with_words(lines: Sequence[MeasuredLine], view: str, left: float) -> list[Moving]:
    """Return lines with a list of them: how each looks, its name, its number.

    The list stands still at the upper left, where no lifter is, so that
    it can be read while everything moves.
    """
    # Lines lie so far apart that words a small clip enlarges do not meet.
    parts, y = [part for line in lines for part in line.drawn], 52.0
    for line in lines:
        ends = complex(left, y - 4), complex(left + 27, y - 4)
        parts.append(Line(ends, line.stroke, 3.0, line.dash))
        at_name = complex(left + 34, y)
        if any(line.words) and view == "side":
            parts.append(Text(at_name, line.name, 13.0, fill=palette.SOFT))
            parts.append(Text(complex(left, y + 22), line.words, 15.0, bold=True))
            y += 48
        else:
            # The front view has room for the number beside the name.
            words = [f"{line.name} {number}" for number in line.words]
            words = words if any(line.words) else line.name
            parts.append(Text(at_name, words, 13.0, fill=palette.SOFT))
            y += 24
    return parts


def describe(footage: Footage, blind: bool = False) -> str:
    """Return one sentence that says what moves, with its numbers.

    ``blind`` tells duration, frames and views alone, which give no
    fault away.
    """
    names = " and ".join(view.name for view in footage.views)
    count, seconds = footage.time.size, footage.time[-1]
    shown = f"{names} view, {seconds:.1f} s, {count} frames".capitalize()
    if blind:
        return f"{shown}, nothing measured."
    view, bottom = footage.views[0], footage.bottoms[0]
    several = len(footage.repetitions) > 1
    clauses = []
    if several:
        clauses.append(f"{len(footage.repetitions)} repetitions")
    numbers = _lowest_in_words(view, bottom) if view.name == "side" else ""
    if numbers:
        first = "first " if several else ""
        clauses.append(f"at the {first}lowest point, {footage.time[bottom]:.2f} s, {numbers}")
    sentence = f"{shown}: {'; '.join(clauses)}." if clauses else f"{shown}."
    return f"{sentence} {footage.note}".strip()


def _lowest_in_words(view: FootageView, bottom: int) -> str:
    """Return trunk, thigh and shin of a side view at its lowest frame, as far as seen."""

    def at_bottom(name: str) -> NDArray:
        return view.series(name)[bottom : bottom + 1]

    (trunk,) = signed_words(at_bottom("trunk_lean"), "° forward", "° back")
    (standing,) = signed_words(np.array([view.standing("trunk_lean")]), "°", "° back")
    (thigh,) = _thigh_words(at_bottom("thigh_level"))
    (shin,) = signed_words(at_bottom("shank_lean"), "° forward", "° back")
    if trunk and standing:
        trunk = f"{trunk} (standing {standing})"
    rows = {"trunk": trunk, "thigh": thigh, "shin": shin}
    return ", ".join(f"{name} {words}" for name, words in rows.items() if words)
