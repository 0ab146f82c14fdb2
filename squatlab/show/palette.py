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

NEAR, TRUNK, FAR, SHOE, FAR_SHOE, STEEL = (
    "#aebac7",
    "#bdc7d2",
    "#dce2e9",
    "#5b6775",
    "#a9b2bd",
    "#46515f",
)
EDGE = "#75818f"
"""Round every limb, whose own tones are too pale for an outline."""

FAINT_NEAR, FAINT_TRUNK, FAINT_FAR, FAINT_SHOE = "#e0e5ea", "#e6eaef", "#f0f3f6", "#c3cad2"


def luminance(colour: str) -> float:
    """Return the relative luminance of "#rrggbb", 0 to 1 [wcag22]."""
    channels = (int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
    red, green, blue = (
        c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str = PAPER) -> float:
    """Return the contrast ratio of two colours, 1 to 21 [wcag22].

    Text needs at least 4.5, lines and marks at least 3.
    """
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)
