"""Read a length or a mass with its unit, the way people write it."""

from __future__ import annotations

import re

METRES = {"m": 1.0, "cm": 0.01, "mm": 0.001, "ft": 0.3048, "in": 0.0254}
KILOGRAMS = {"kg": 1.0, "lb": 0.45359237}
"""Foot, inch and pound are exact by definition (international yard and
pound, 1959)."""

SPELLINGS = {
    "'": "ft", "′": "ft", "’": "ft", "foot": "ft", "feet": "ft", "ft-in": "ft", "ft in": "ft",
    '"': "in", "″": "in", "”": "in", "''": "in", "inch": "in", "inches": "in",
    "metre": "m", "metres": "m", "meter": "m", "meters": "m",
    "lbs": "lb", "pound": "lb", "pounds": "lb", "kgs": "kg",
}  # fmt: skip

PART = re.compile(r"\s*(\d+(?:[.,]\d+)?)\s*('{2}|['′’\"″”]|[a-z]*)")
LENGTH = "a length such as 178 cm, 1.78 m, 5'11\" or 70 in"
MASS = "a mass such as 74 kg or 165 lb"


def metres(text: str, unit: str | None = None) -> float:
    """Return a length in metres from text such as "178 cm" or 5'11.

    ``unit`` ("m", "cm", "mm", "ft", "in") is that of a bare number, for
    columns that name their unit. Raises ValueError for no unit, two
    that do not agree, an unknown one, and for feet with a decimal point:
    5.11 is read as 5 ft 11 in by one person and as 61 inches by the next.
    """
    parts = _parts(text, METRES, unit, LENGTH)
    units = [given for _, given in parts]
    if "ft" in units and not (units[0] == "ft" and parts[0][0].is_integer()):
        raise ValueError(f"“{text}”: write whole feet and then inches, such as 5'11\"")
    if units == ["ft", "in"] and parts[1][0] >= 12:
        raise ValueError(f"“{text}”: after feet, inches must be fewer than 12")
    if len(parts) > 1 and units != ["ft", "in"]:
        raise ValueError(f"“{text}” has more than one unit; write one, or feet and inches")
    return sum(number * METRES[given] for number, given in parts)


def kilograms(text: str, unit: str | None = None) -> float:
    """Return a mass in kilograms from text such as "74 kg" or "165 lb".

    ``unit`` ("kg" or "lb") is that of a bare number. Raises ValueError
    for no unit, two, or an unknown one.
    """
    (number, given), *more = _parts(text, KILOGRAMS, unit, MASS)
    if more:
        raise ValueError(f"“{text}” has more than one unit; write {MASS}")
    return number * KILOGRAMS[given]


def _parts(
    text: str, known: dict[str, float], unit: str | None, example: str
) -> list[tuple[float, str]]:
    """Split text into numbers with units, or say why it cannot be read."""
    clean = text.strip().lower()
    found = PART.findall(clean)
    if not found or PART.sub("", clean).strip():
        raise ValueError(f"“{text}” is not {example}")
    stated = unit and _short(unit, known)
    parts = []
    for number, given in found:
        # 5'11: the mark of the inches is often left out.
        implied = "in" if parts and parts[-1][1] == "ft" else stated
        if not given and not implied:
            raise ValueError(f"“{text}” has no unit; write {example}")
        parts.append((float(number.replace(",", ".")), _short(given or implied, known)))
    if stated and parts[0][1] != stated:
        raise ValueError(
            f"“{text}” does not agree with the unit “{unit}” stated for it; correct one of them"
        )
    return parts


def _short(unit: str, known: dict[str, float]) -> str:
    short = SPELLINGS.get(unit.strip().lower(), unit.strip().lower())
    if short not in known:
        raise ValueError(f"the unit “{unit}” is not one of {', '.join(known)}")
    return short
