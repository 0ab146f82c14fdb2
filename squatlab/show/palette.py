"""The colours of every picture, chosen to stay apart for colour-blind eyes.

Lines and fills come from a six-colour cycle made for that purpose
[petroff2021]; a dash, a marker or a label always says the same.
"""

from __future__ import annotations

PAPER = "#ffffff"
INK = "#1b2430"
SOFT = "#55606e"
RULE = "#aab3be"
GHOST, GHOST_FILL = "#8793a0", "#f0f3f6"
NOTICE = "#fdf0d9"

BLUE, RED, PLUM, VIOLET = "#5790fc", "#e42536", "#964a8b", "#7a21dd"
ORANGE, GREY = "#f89c20", "#9c9ca1"
"""The last two are too pale for lines: fills only."""

HIP, KNEE, ANKLE, LOW_BACK = BLUE, RED, PLUM, ORANGE
SYSTEM = VIOLET
SUPPORT = ORANGE

STEEL = "#46515f"
"""The bar, and what is of steel."""

SKIN, HAIR, SHIRT, SHORTS, SHOE, SOLE = (
    "#e3c4a8",
    "#5a4a40",
    "#c3d0dc",
    "#98a7b8",
    "#5b6775",
    "#f3f4f5",
)
FAR_SKIN, FAR_SHORTS, FAR_SHOE = "#f1e3d7", "#cfd7df", "#a9b2bd"
CREASE = "#b9906e"
"""Nose and mouth: seen, but no edge."""

EDGE = "#6b7684"
"""Round every limb and piece of clothing, whose own tones are too pale for an outline."""

FAINT_SKIN, FAINT_HAIR, FAINT_SHIRT, FAINT_SHORTS, FAINT_FAR, FAINT_SHOE = (
    "#f6ece3",
    "#cfc9c5",
    "#e9eef3",
    "#dde3e9",
    "#f3f5f7",
    "#c3cad2",
)
FAINT_BAR = "#e0e5ea"
"""Bars of moments that are not held."""


def luminance(colour: str) -> float:
    """Return the relative luminance of "#rrggbb", 0 to 1 [wcag22]."""
    red, green, blue = (_linear(int(colour[i : i + 2], 16) / 255) for i in (1, 3, 5))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _linear(channel: float) -> float:
    """Return a channel of sRGB, 0 to 1, as a share of light [wcag22]."""
    if channel <= 0.04045:
        return channel / 12.92
    return ((channel + 0.055) / 1.055) ** 2.4


def contrast(one: str, other: str = PAPER) -> float:
    """Return the contrast ratio of two colours, 1 to 21 [wcag22].

    Text needs at least 4.5, lines and marks at least 3.
    """
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)
