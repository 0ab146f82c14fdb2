"""What stands where on a printed page, in mm: words by their letters, boxes, rules, pictures."""

from __future__ import annotations

from typing import NamedTuple

from matplotlib.colors import to_hex

from squatlab.show.paper import CAPITAL, POINT, Page, width_mm

TAIL = 0.24
"""How far letters such as g reach below the line in DejaVu Sans, in sizes."""


class Area(NamedTuple):
    """Hold an area of a page, its edges from the page's left and top, mm."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def width(self) -> float:
        return self.right - self.left

    @property
    def height(self) -> float:
        return self.bottom - self.top

    @property
    def middle(self) -> tuple[float, float]:
        return (self.left + self.right) / 2, (self.top + self.bottom) / 2

    def holds(self, other: Area, room: float = -1e-6) -> bool:
        """Return whether another area lies within this one, and so far from its edges."""
        return (
            self.left + room <= other.left
            and other.right <= self.right - room
            and self.top + room <= other.top
            and other.bottom <= self.bottom - room
        )

    def apart(self, other: Area) -> tuple[float, float]:
        """Return the room between two areas, across and down; below 0 where they overlap."""
        across = max(self.left, other.left) - min(self.right, other.right)
        down = max(self.top, other.top) - min(self.bottom, other.bottom)
        return across, down


class Written(NamedTuple):
    """Hold words, where their letters are, their capitals' top and the line they stand on."""

    text: str
    size: float
    bold: bool
    anchor: str
    ink: Area
    capitals: Area


class Box(NamedTuple):
    """Hold a rectangle; ``line`` is 0 where it has no edge, ``fill`` "" where it has none."""

    area: Area
    line: float
    fill: str


class Printed:
    """Hold all that is on a page."""

    def __init__(self, page: Page) -> None:
        axes = page.figure.axes[0]
        self.alt = page.alt
        self.inside = Area(page.left, page.top, page.right, page.bottom)
        self.words = [_written(text) for text in axes.texts if text.get_text().strip()]
        self.boxes = [_box(patch) for patch in axes.patches]
        self.rules = [
            Area(
                *sorted(line.get_xdata())[:1],
                line.get_ydata()[0],
                max(line.get_xdata()),
                line.get_ydata()[0],
            )
            for line in axes.lines
        ]
        # An image's extent is left, right, bottom, top.
        self.pictures = [
            Area(left, top, right, bottom)
            for left, right, bottom, top in (image.get_extent() for image in axes.images)
        ]

    def saying(self, start: str) -> Written:
        """Return the one piece of words that starts so."""
        (one,) = (words for words in self.words if words.text.startswith(start))
        return one


def _written(text) -> Written:
    x, baseline = text.get_position()
    size, bold = text.get_size(), text.get_weight() == "bold"
    wide = width_mm(text.get_text(), size, bold)
    left = x - wide * {"left": 0.0, "center": 0.5, "right": 1.0}[text.get_ha()]
    top = baseline - CAPITAL * size * POINT
    tail = baseline + TAIL * size * POINT
    return Written(
        text.get_text(),
        size,
        bold,
        text.get_ha(),
        Area(left, top, left + wide, tail),
        Area(left, top, left + wide, baseline),
    )


def _box(patch) -> Box:
    bounds = patch.get_bbox()
    edge, fill = patch.get_edgecolor(), patch.get_facecolor()
    return Box(
        Area(bounds.x0, bounds.y0, bounds.x1, bounds.y1),
        patch.get_linewidth() if edge[3] else 0.0,
        to_hex(fill) if fill[3] else "",
    )
