"""Numbers as people type them, with their units: metric and US, comma or point.

One reader for everything that is typed: answers, rosters, racks. What it cannot
read for certain it refuses in words; it never guesses and never clamps.
"""

from __future__ import annotations

import math
import re
from typing import NamedTuple

import numpy as np

from squatlab.questions.files import harmless
from squatlab.units import FOOT, INCH, POUND, POUND_FORCE


class Unit(NamedTuple):
    """Hold what a unit measures, and its size in the SI unit of that."""

    measures: str
    size: float


UNITS = {
    "m": Unit("length", 1.0),
    "cm": Unit("length", 0.01),
    "mm": Unit("length", 0.001),
    "ft": Unit("length", FOOT),
    "in": Unit("length", INCH),
    "kg": Unit("mass", 1.0),
    "lb": Unit("mass", POUND),
    "s": Unit("time", 1.0),
    "ms": Unit("time", 0.001),
    "N": Unit("force", 1.0),
    "lbf": Unit("force", POUND_FORCE),
    "N·m": Unit("moment", 1.0),
    "lbf·ft": Unit("moment", POUND_FORCE * FOOT),
    "°": Unit("angle", 1.0),
    "%": Unit("share", 1.0),
    "frames per second": Unit("rate", 1.0),
}
"""The units that are understood, each with its size."""

SPELLINGS = {
    "'": "ft",
    "′": "ft",
    "’": "ft",
    "foot": "ft",
    "feet": "ft",
    "ftin": "ft",
    '"': "in",
    "″": "in",
    "”": "in",
    "''": "in",
    "inch": "in",
    "inches": "in",
    "metre": "m",
    "metres": "m",
    "meter": "m",
    "meters": "m",
    "lbs": "lb",
    "pound": "lb",
    "pounds": "lb",
    "#": "lb",
    "kgs": "kg",
    "sec": "s",
    "second": "s",
    "seconds": "s",
    "deg": "°",
    "degree": "°",
    "degrees": "°",
    "º": "°",
    "percent": "%",
    "nm": "N·m",
    "lbfft": "lbf·ft",
    "ftlbf": "lbf·ft",
    "ftlb": "lbf·ft",
    "lbft": "lbf·ft",
    "fps": "frames per second",
    "hz": "frames per second",
}
"""What people write instead, in small letters, without spaces and product dots."""

LARGEST = 1e12
"""No answer is larger, whatever its unit [teaching-value]."""

NUMBER = r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)"
NUMBER_AND_UNIT = re.compile(rf"({NUMBER})\s*((?![.,+-])\D*)")
"""A number with a decimal point or comma, then what may be its unit."""

FEET = re.compile(
    r"(\d+(?:[.,]\d+)?)\s*(?:'(?!')|′|’|ft\.?|feet|foot)\s*-?\s*(\d+(?:[.,]\d+)?)\s*(\D*)"
)
"""Feet and then inches, 5'9" or 5 ft 9 in; the mark of the inches is often left out."""

FRACTION = re.compile(
    r"(?<![\d.,/])(?:(?P<whole>\d+)(?:\s+|-))?(?P<over>\d{1,2})/(?P<under>2|4|8|16|32)(?![\d.,/])"
)
"""The fractions on a tape measure: 66 1/2, 66-1/2 or 1/2."""

FRACTION_SIGNS = {
    "½": "1/2",
    "¼": "1/4",
    "¾": "3/4",
    "⅛": "1/8",
    "⅜": "3/8",
    "⅝": "5/8",
    "⅞": "7/8",
}
"""The same as one sign."""

GROUPED = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}")
"""1,500 is one and a half for some and fifteen hundred for others."""

LENGTHS = {name: unit.size for name, unit in UNITS.items() if unit.measures == "length"}
MASSES = {name: unit.size for name, unit in UNITS.items() if unit.measures == "mass"}
LENGTH = "a length such as 178 cm, 1.78 m, 5'11\" or 70 in"
MASS = "a mass such as 74 kg or 165 lb"


def in_unit(given: object, unit: str) -> float:
    """Return a number that was typed, or stored, in the unit asked for.

    Another unit of the same kind is converted: "225 lb" is 102.06 in "kg",
    5'9" is 1.7526 in "m". A number without a unit is in ``unit``, which may
    be "" or a word of its own ("holes"). Raises ValueError that says what
    is no number, or is in a unit of another kind.
    """
    is_number = isinstance(given, int | float | np.number) and not isinstance(given, bool)
    if is_number and abs(given) <= LARGEST:  # nan is not
        return float(given)
    text = with_decimals(str(given).strip().replace("\N{MINUS SIGN}", "-"))
    if feet := FEET.fullmatch(text.lower()):
        value, theirs = _feet_and_inches(text, feet) / INCH, "in"
    else:
        value, theirs = _value_and_unit(text, unit)
    written, theirs = theirs, _known(theirs)
    if not theirs or theirs == _known(unit):
        return value
    ours = UNITS.get(_known(unit))
    if ours is None or theirs not in UNITS or UNITS[theirs].measures != ours.measures:
        raise ValueError(
            f"“{harmless(given)}” is in “{harmless(written)}” and this question asks for "
            f"{unit or 'a number without a unit'}: write that, such as {_example(unit)}"
        )
    return value * UNITS[theirs].size / ours.size


def alike(unit: str) -> dict[str, float]:
    """Return every unit of the same kind, by its spelling: its size in ``unit``.

    For readers without this module: spellings are in small letters,
    without spaces and product dots, as `_known` compares them.
    """
    ours = UNITS.get(_known(unit))
    if ours is None:
        return {unit.casefold(): 1.0}
    same = {name: each for name, each in UNITS.items() if each.measures == ours.measures}
    bare = {re.sub(r"[\s·]", "", name).casefold(): each.size for name, each in same.items()}
    spelt = {written: same[name].size for written, name in SPELLINGS.items() if name in same}
    return {written: size / ours.size for written, size in (bare | spelt).items()}


def metres(text: str, unit: str | None = None) -> float:
    """Return a length in metres from text such as "178 cm" or 5'11.

    ``unit`` ("m", "cm", "mm", "ft", "in") is that of a bare number, for
    columns that name their unit. Raises ValueError for no unit, two
    that do not agree, an unknown one, and for feet with a decimal point:
    5.11 is read as 5 ft 11 in by one person and as 61 inches by the next.
    """
    _check_text(text, LENGTH)
    if feet := FEET.fullmatch(with_decimals(text.strip().lower())):
        _agree(text, "ft", unit, LENGTHS)
        return _feet_and_inches(text, feet)
    value, name = _stated(text, unit, LENGTHS, LENGTH)
    if name == "ft" and not value.is_integer():
        raise ValueError(f"“{text}”: write whole feet and then inches, such as 5'11\"")
    return value * LENGTHS[name]


def kilograms(text: str, unit: str | None = None) -> float:
    """Return a mass in kilograms from text such as "74 kg" or "165 lb".

    ``unit`` ("kg" or "lb") is that of a bare number. Raises ValueError
    for no unit, two, or an unknown one.
    """
    _check_text(text, MASS)
    value, name = _stated(text, unit, MASSES, MASS)
    return value * MASSES[name]


def is_bare(text: str) -> bool:
    """Return whether a text is a number without a unit."""
    return re.fullmatch(NUMBER, with_decimals(text.strip())) is not None


def with_decimals(text: str) -> str:
    """Return a text with the fractions of a tape measure as decimals: 66 1/2 as 66.5."""
    for sign, fraction in FRACTION_SIGNS.items():
        text = text.replace(sign, f" {fraction}")
    return FRACTION.sub(_as_decimal, text).strip()


def _as_decimal(fraction: re.Match[str]) -> str:
    """Return a fraction with a whole number before it, if any; 3/2 stays as it is."""
    over, under = int(fraction["over"]), int(fraction["under"])
    if over >= under:
        return fraction[0]
    return f"{int(fraction['whole'] or 0) + over / under:.12g}"


def _check_text(text: str, example: str) -> None:
    """Raise ValueError for what was not written as text."""
    if not isinstance(text, str):
        raise ValueError(f"{harmless(text)} is no text; write {example}, in quotation marks")


def _value_and_unit(text: str, unit: str) -> tuple[float, str]:
    """Return a typed number and what is written behind it."""
    if GROUPED.fullmatch(re.sub(r"[^\d,+-]+$", "", text)):
        plain = re.sub(r",(?=\d{3})", "", text)
        raise ValueError(
            f"“{harmless(text)}” may be a thousand times the other reading: write "
            f"{harmless(plain)}, or {harmless(text.replace(',', '.'))} for the smaller one"
        )
    found = NUMBER_AND_UNIT.fullmatch(text)
    value = float(found[1].replace(",", ".")) if found else math.nan
    if not abs(value) <= LARGEST:
        example = _example(unit)
        raise ValueError(
            f"“{harmless(text)}” is no number; write one, such as {example} or "
            f"{example.replace('.', ',', 1)}"
        )
    return value, found[2].strip()


def _feet_and_inches(text: str, found: re.Match[str]) -> float:
    """Return feet and inches in metres."""
    feet, inches = (float(part.replace(",", ".")) for part in found.groups()[:2])
    if not feet.is_integer():
        raise ValueError(f"“{harmless(text)}”: write whole feet and then inches, such as 5'11\"")
    if _known(found[3]) not in ("", "in"):
        raise ValueError(
            f"“{harmless(text)}” has more than one unit; write one, or feet and inches"
        )
    if inches >= 12:
        raise ValueError(f"“{harmless(text)}”: after feet, inches must be fewer than 12")
    return feet * FOOT + inches * INCH


def _stated(
    text: str, unit: str | None, sizes: dict[str, float], example: str
) -> tuple[float, str]:
    """Return a number of one kind and its unit, which must be written or stated."""
    found = NUMBER_AND_UNIT.fullmatch(with_decimals(text.strip()))
    if found is None or found[1][0] in "+-":
        # Two numbers with units are a length or mass, but not one we can be sure of.
        two = re.fullmatch(rf"({NUMBER})\s*([a-z]+)\s*({NUMBER})\s*([a-z]*)", text.strip().lower())
        if two and two[4] in ("ft", "feet", "foot", "'"):
            raise ValueError(f"“{text}”: write whole feet and then inches, such as 5'11\"")
        if two:
            raise ValueError(f"“{text}” has more than one unit; write {example}")
        raise ValueError(f"“{text}” is not {example}")
    stated = unit and _one_of(unit, sizes)
    if not found[2].strip() and not stated:
        raise ValueError(f"“{text}” has no unit; write {example}")
    name = _one_of(found[2], sizes) if found[2].strip() else stated
    _agree(text, name, unit, sizes)
    return float(found[1].replace(",", ".")), name


def _agree(text: str, name: str, unit: str | None, sizes: dict[str, float]) -> None:
    """Raise ValueError if a unit was stated for a text that has another."""
    if unit and _one_of(unit, sizes) != name:
        raise ValueError(
            f"“{text}” does not agree with the unit “{unit}” stated for it; correct one of them"
        )


def _one_of(unit: str, sizes: dict[str, float]) -> str:
    """Return a unit as we spell it; ValueError for one that is not in ``sizes``."""
    name = _known(unit)
    if name not in sizes:
        raise ValueError(f"the unit “{harmless(unit.strip())}” is not one of {', '.join(sizes)}")
    return name


def _known(unit: str) -> str:
    """Return a unit as we spell it; one that is not known, in small letters."""
    bare = re.sub(r"[\s.*·⋅∙•×-]", "", unit).casefold()
    spelt = {re.sub(r"[\s·]", "", name).casefold(): name for name in UNITS}
    return SPELLINGS.get(bare) or spelt.get(bare, bare)


def _example(unit: str) -> str:
    """Return a number in a unit, to show how one is typed."""
    return f"12.5 {unit}".replace(" °", "°").rstrip()
