"""A scene of primitives drawn on matplotlib axes, for print.

One of the four painters of the same primitives: `picture` makes SVG,
`raster` pixels, `drawing.js` paints in the browser.
"""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.colors import to_rgba
from matplotlib.patches import Circle, PathPatch, Polygon
from matplotlib.path import Path as Outline
from matplotlib.patheffects import withStroke

from squatlab.show.palette import PAPER
from squatlab.show.picture import Scene, arrow_head, tile_pixels
from squatlab.show.primitives import Disc, Line, Points, Primitive, Shape, Text, Tiles


def draw(scene: Scene, ax: Axes) -> None:
    """Draw the scene on matplotlib axes, which it fills.

    Line widths and text follow the size the axes have at this moment.
    Use it for print.
    """
    left, top, right, bottom = scene.bounds
    ax.set(xlim=(left, right), ylim=(bottom, top), aspect="equal", facecolor=PAPER)
    ax.set_axis_off()
    extent = ax.get_window_extent()
    pixels = min(extent.width / (right - left), extent.height / (bottom - top))
    points = pixels * 72.0 / ax.figure.dpi
    for order, primitive in enumerate(scene.primitives):
        _add(primitive, ax, points, order)


def _add(primitive: Primitive, ax: Axes, points: float, order: int) -> None:
    """Add one primitive; ``points`` is the size of a unit in points."""
    if isinstance(primitive, Tiles):
        start, end = primitive.points
        ax.imshow(
            tile_pixels(primitive, 2.0),
            extent=(start.real, end.real, end.imag, start.imag),
            aspect="auto",
            interpolation="nearest",
            zorder=order,
        )
        return
    if isinstance(primitive, Text):
        align = {"start": "left", "middle": "center", "end": "right"}[primitive.anchor]
        halo = (
            [withStroke(linewidth=4 * points, foreground=primitive.halo)] if primitive.halo else []
        )
        ax.text(
            primitive.at.real,
            primitive.at.imag,
            primitive.words,
            ha=align,
            va="baseline",
            # The font that comes with matplotlib is wider than the screen's.
            fontsize=0.9 * primitive.size * points,
            color=primitive.fill,
            zorder=order,
            fontweight="bold" if primitive.bold else "normal",
            clip_on=True,
            path_effects=halo,
        )
        return
    edge = {"lw": primitive.width * points, "ls": _dashes(primitive), "zorder": order}
    if isinstance(primitive, Line):
        xs, ys = [p.real for p in primitive.points], [p.imag for p in primitive.points]
        ax.plot(xs, ys, color=primitive.stroke, solid_capstyle="butt", **edge)
        if primitive.arrow:
            corners = [(p.real, p.imag) for p in arrow_head(primitive)]
            ax.add_patch(Polygon(corners, color=primitive.stroke, lw=0, zorder=order))
        return
    if isinstance(primitive, Shape) and primitive.pieces:
        # Edges lie below the fill, which hides those inside and half of the others.
        whole = primitive._replace(pieces=())
        for points_of in primitive.outlines():
            under = whole._replace(points=points_of, fill="none", width=2 * whole.width)
            _add(under, ax, points, order)
        for points_of in primitive.outlines():
            _add(whole._replace(points=points_of, stroke="none"), ax, points, order)
        return
    edge["fc"] = "none" if primitive.fill == "none" else to_rgba(primitive.fill, primitive.opacity)
    edge["ec"] = primitive.stroke
    if isinstance(primitive, Disc):
        ax.add_patch(
            Circle((primitive.centre.real, primitive.centre.imag), primitive.radius, **edge)
        )
    elif primitive.smooth:
        ax.add_patch(PathPatch(_curve(primitive.points), **edge))
    else:
        ax.add_patch(Polygon([(p.real, p.imag) for p in primitive.points], **edge))


def _dashes(primitive: Line | Shape | Disc) -> str | tuple[int, tuple[float, ...]]:
    """Return a line's dashes as matplotlib writes them."""
    if not primitive.dash:
        return "-"
    # matplotlib counts dashes in line widths, SVG in units.
    return 0, tuple(float(part) / primitive.width for part in primitive.dash.split())


def _curve(points: Points) -> Outline:
    """Return a closed outline, smooth through the middle of each of its edges."""
    start = 0.5 * (points[-1] + points[0])
    vertices, codes = [start], [Outline.MOVETO]
    for here, after in zip(points, (*points[1:], points[0]), strict=True):
        vertices += [here, 0.5 * (here + after)]
        codes += [Outline.CURVE3, Outline.CURVE3]
    return Outline([(p.real, p.imag) for p in vertices], codes)
