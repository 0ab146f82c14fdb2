"""A printed page, measured in millimetres from its upper left corner.

Sheets, run sheets, exam pages and reports are written on it and saved as
one PDF; a notebook shows the same as a grey picture.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib import rc_context
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties, findfont, get_font
from matplotlib.ft2font import LoadFlags
from matplotlib.patches import Rectangle
from PIL import Image

from squatlab import storage
from squatlab.show.palette import PAPER
from squatlab.show.picture import ShownInNotebook, img

PAPERS = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
"""Width and height, mm: ISO 216, and 8½ × 11 in."""

MARGIN = 11.0
"""What no printer leaves out, and room for a staple, mm."""

POINT = 25.4 / 72
"""A typographic point, mm."""

LEADING = 1.28
"""From baseline to baseline, in sizes of the text."""

CAPITAL = 0.73
"""Height of a capital letter of the font, in sizes of the text."""

SHRUNK = 0.8
"""Type no smaller than this, of the usual size, before a second line."""

BLACK, GREY, SHADE = "#000000", "#4d4d4d", "#ececec"
"""Ink, lesser ink and the one tint: they survive a black-and-white copier."""

FONT = "DejaVu Sans"
"""It comes with matplotlib, so a page looks the same everywhere."""


class Page(ShownInNotebook):
    """Hold one page to draw on; a notebook shows it as a picture.

    ``paper`` is "A4" or "Letter". ``left``, ``right``, ``top`` and
    ``bottom`` are the edges inside the margin, mm. ``alt`` says in words
    what is on it. Raises ValueError for another paper.
    """

    def __init__(self, paper: str = "A4", landscape: bool = False, alt: str = "") -> None:
        if paper not in PAPERS:
            raise ValueError(f'the paper is "{paper}"; choose one of {", ".join(PAPERS)}')
        width, height = sorted(PAPERS[paper], reverse=landscape)
        self.figure = Figure(figsize=(width / 25.4, height / 25.4), facecolor=PAPER)
        self._axes = self.figure.add_axes((0, 0, 1, 1), xlim=(0, width), ylim=(height, 0))
        self._axes.set_axis_off()
        self.left, self.top, self.alt = MARGIN, MARGIN, alt
        self.right, self.bottom = width - MARGIN, height - MARGIN

    def words(
        self,
        x: float,
        y: float,
        text: str,
        size: float = 8.0,
        bold: bool = False,
        anchor: str = "left",
        colour: str = BLACK,
    ) -> float:
        """Write one line with its capitals' top at y; return where the next goes."""
        self._axes.text(
            x,
            y + CAPITAL * size * POINT,
            text,
            size=size,
            family=FONT,
            color=colour,
            ha=anchor,
            va="baseline",
            weight="bold" if bold else "normal",
            parse_math=False,
        )
        return y + LEADING * size * POINT

    def paragraph(
        self, x: float, y: float, width: float, text: str, size: float = 8.0, **look: Any
    ) -> float:
        """Write words over as many lines as they need; return where the next goes."""
        for line in wrapped(text, width, size, look.get("bold", False)):
            y = self.words(x, y, line, size, **look)
        return y

    def cell(
        self,
        x: float,
        y: float,
        width: float,
        height: float,
        text: str,
        size: float = 8.0,
        bold: bool = False,
        anchor: str = "left",
        colour: str = BLACK,
    ) -> None:
        """Write words in a cell, in smaller type or on two lines if need be."""
        needed = width_mm(text, size, bold)
        lines = [text]
        if needed > width:
            size *= max(width / needed, SHRUNK)
        if needed and width / needed < SHRUNK:
            # Two lines: all words that do not fit on the first stand on the second.
            size = min(size, height / (2 * LEADING * POINT))
            lines = wrapped(text, width, size, bold)
            if len(lines) > 2:
                lines = [lines[0], " ".join(lines[1:])]
        x += width * {"left": 0.0, "center": 0.5, "right": 1.0}[anchor]
        # From the top of the first line's capitals to the last line's baseline.
        tall = (CAPITAL + LEADING * (len(lines) - 1)) * size * POINT
        y += (height - tall) / 2
        for line in lines:
            y = self.words(x, y, cut(line, width, size, bold), size, bold, anchor, colour)

    def head(self, title: str, *blanks: str) -> float:
        """Write a title and lines to fill in; return where the rest begins."""
        self.words(self.left, self.top, title, 24, bold=True)
        free = self.right - self.left - width_mm(title, 24, bold=True) - 6
        wide = min(50.0, free / len(blanks))
        for place, blank in enumerate(reversed(blanks)):
            right = self.right - wide * place
            self.words(right - wide + 3, self.top + 4.5, blank, 8, colour=GREY)
            self.rule(right - wide + 3, self.top + 8, right)
        self.rule(self.left, self.top + 11, self.right, 1.6)
        return self.top + 14

    def row(
        self,
        y: float,
        height: float,
        widths: Sequence[float],
        cells: Sequence[str],
        size: float = 9.0,
        bold: Sequence[int] = (),
        fill: str = "none",
        **look: Any,
    ) -> float:
        """Write a row of a table, some cells bold; return where the next goes.

        A width of 0 takes what the others leave of the page.
        """
        self.box(self.left, y, self.right - self.left, height, fill, 0)
        rest, x = self.right - self.left - sum(widths), self.left
        for place, (wanted, text) in enumerate(zip(widths, cells, strict=True)):
            width = wanted or rest
            self.cell(x + 1, y, width - 2, height, text, size, place in bold, **look)
            x += width
        return y + height

    def framed(self, text: str, size: float = 7.5) -> float:
        """Write bold words in a frame at the foot; return where that begins."""
        width = self.right - self.left
        lines = len(wrapped(text, width - 5, size, bold=True))
        top = self.bottom - lines * LEADING * size * POINT - 3
        self.box(self.left, top, width, self.bottom - top, line=1.2)
        self.paragraph(self.left + 2.5, top + 2, width - 5, text, size, bold=True)
        return top

    def box(
        self,
        x: float,
        y: float,
        width: float,
        height: float,
        fill: str = "none",
        line: float = 0.7,
    ) -> None:
        """Draw a rectangle; ``line`` in points, 0 for none."""
        look = {"fc": fill, "ec": BLACK if line else "none", "lw": line}
        self._axes.add_patch(Rectangle((x, y), width, height, **look))

    def rule(self, x: float, y: float, to_x: float, line: float = 0.7) -> None:
        """Draw a level line, ``line`` points thick."""
        self._axes.plot([x, to_x], [y, y], color=BLACK, lw=line, solid_capstyle="butt")

    def picture(self, x: float, y: float, width: float, height: float, what: Image.Image) -> None:
        """Print a picture in shades of grey, with its upper left corner at x, y."""
        self._axes.imshow(
            np.asarray(what.convert("L")),
            cmap="gray",
            vmin=0,
            vmax=255,
            aspect="auto",
            extent=(x, x + width, y + height, y),
            interpolation="none",
        )

    def png(self, dpi: int = 100) -> bytes:
        """Return the page as the bytes of a grey PNG."""
        self.figure.set_dpi(dpi)
        canvas, buffer = FigureCanvasAgg(self.figure), BytesIO()
        # Hinted letters would be wider on a screen than they are on paper.
        with rc_context({"text.hinting": "no_hinting"}):
            canvas.draw()
        picture = Image.fromarray(np.asarray(canvas.buffer_rgba())).convert("L")
        picture.save(buffer, "png", compress_level=9)
        return buffer.getvalue()

    def __repr__(self) -> str:
        return self.alt

    @property
    def html(self) -> str:
        """Return the sheet as an image, whole however small: it is read on paper."""
        return img(self.png(), self.alt, self.figure.bbox.width, least=0.0)


def save(pages: Sequence[Page], path: str | Path, title: str) -> Path:
    """Write pages as one PDF, fonts embedded; equal pages give equal bytes.

    Raises OSError where it cannot be written whole.
    """
    return storage.write(path, pdf(pages, title))


def pdf(pages: Sequence[Page], title: str) -> bytes:
    """Return what `save` writes."""
    whole = BytesIO()
    metadata = {"Title": title, "CreationDate": None, "Creator": None, "Producer": None}
    # TrueType, not matplotlib's usual Type 3: it prints better and its words can be searched.
    with rc_context({"pdf.fonttype": 42}), PdfPages(whole, metadata=metadata) as file:
        for page in pages:
            file.savefig(page.figure)
    return whole.getvalue()


def width_mm(text: str, size: float, bold: bool = False) -> float:
    """Return how wide a line of words is on paper, mm."""
    return _width_in_sizes(text, bold) * size * POINT


@cache
def _width_in_sizes(text: str, bold: bool) -> float:
    """Return how wide a line of words is, in sizes of its text."""
    font = get_font(findfont(FontProperties(family=FONT, weight="bold" if bold else "normal")))
    # Measured at 100 points and 72 dots an inch, so that a dot is a point. FreeType counts in
    # 64ths of a dot.
    font.set_size(100, 72)
    font.set_text(text, 0, flags=LoadFlags.NO_HINTING)
    return font.get_width_height()[0] / 64 / 100


def wrapped(text: str, width: float, size: float, bold: bool = False) -> list[str]:
    """Break words into lines that are no wider than ``width`` mm."""
    lines: list[str] = []
    for word in text.split():
        if lines and width_mm(f"{lines[-1]} {word}", size, bold) <= width:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines


def cut(text: str, width: float, size: float, bold: bool = False) -> str:
    """Return a line, its end left out where it is wider than ``width`` mm."""
    if width_mm(text, size, bold) <= width * 1.001:
        return text
    while text and width_mm(f"{text}…", size, bold) > width:
        text = text[:-1]
    return f"{text.rstrip()}…"
