"""What a browser makes of a sweep, written again in Python to check what is sent.

It follows `squatlab/show/drawing.js`: columns are differences, a lost
point leaves its part out, a trail is drawn so far, a curve is broken.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from squatlab.show.picture import Scene
from squatlab.show.primitives import Disc, Line, Shape, Text, Tiles

LOST = -32768
NOUNS = {"line": Line, "shape": Shape, "disc": Disc, "text": Text}
NOT_LOOKS = ("kind", "count", "rows", "columns", "sheets", "patterns")


def read(head: dict[str, Any], body: bytes) -> Callable[[int], Scene]:
    """Return a function that gives the picture at a position."""
    start, tables = 0, []
    for structure in head["structures"]:
        count, moves = structure["count"], structure["moves"]
        table = np.repeat(np.array(structure["first"], np.int16)[:, None], count, axis=1)
        size = 2 * count * len(moves)
        columns = np.frombuffer(body[start : start + size], "<i2").reshape(len(moves), count)
        table[moves] = np.cumsum(columns, axis=1, dtype=np.int16)
        tables.append(table)
        start += size
    tiles = {}
    for number, structure in enumerate(head["structures"]):
        for place, part in enumerate(structure["parts"]):
            if part["kind"] == "tiles":
                shape = part["sheets"], part["rows"], part["columns"]
                size = int(np.prod(shape))
                tiles[number, place] = np.frombuffer(body[start : start + size], "u1").reshape(
                    shape
                )
                start += size
    assert start == len(body)

    def scene(position: int) -> Scene:
        number, row = head["structure"][position], head["row"][position]
        structure, table = head["structures"][number], tables[number]
        words, column, parts = iter(structure["words"]), 0, []
        for place, part in enumerate(structure["parts"]):
            size = 2 * part["count"]
            rows = slice(0, row + 1) if part["kind"] == "trail" else [row]
            numbers = table[column : column + size, rows]
            points = numbers[0::2] / head["unit"] + 1j * numbers[1::2] / head["unit"]
            points = points.ravel().astype(complex)
            points[(numbers[0::2] == LOST).ravel()] = complex(np.nan, np.nan)
            column += size
            radius = None
            if part["kind"] == "disc":
                radius = table[column, row] / head["unit"]
                column += 1
            said = next(words) if part["kind"] == "text" else []
            look = {name: value for name, value in part.items() if name not in NOT_LOOKS}
            if part["kind"] == "tiles":
                sheets = tiles[number, place]
                parts.append(Tiles(tuple(points), sheets[row if len(sheets) > 1 else 0]))
            elif part["kind"] == "trail":
                way = points[np.isfinite(points)]
                if way.size > 1:
                    parts.append(Line(tuple(way), look["stroke"], look["width"]))
            elif part["kind"] == "curve":
                parts += _pieces(points, look)
            elif part.get("pieces"):
                ends = np.cumsum(part["pieces"])
                whole = [o for o in np.split(points, ends[:-1]) if np.isfinite(o).all()]
                look["pieces"] = tuple(map(len, whole))
                if whole:
                    parts.append(Shape(tuple(np.concatenate(whole)), **look))
            elif np.isfinite(points).all():
                index = said[row if len(said) > 1 else 0] if said else None
                text = None if index is None else head["book"][index]
                if text != "":
                    parts.append(_noun(part["kind"], points, look, radius, text))
        assert column == len(table)
        alt = head["book"][head["alt"][position if len(head["alt"]) > 1 else 0]]
        return Scene(tuple(parts), tuple(head["bounds"]), alt)

    return scene


def _noun(kind: str, points: np.ndarray, look: dict, radius: float | None, words: str | None):
    if kind == "disc":
        return Disc(centre=points[0], radius=radius, **look)
    if kind == "text":
        return Text(at=points[0], words=words, **look)
    if kind == "shape":
        look["pieces"] = tuple(look["pieces"])
    return NOUNS[kind](points=tuple(points), **look)


def _pieces(points: np.ndarray, look: dict) -> list[Line]:
    pieces: list[list[complex]] = [[]]
    for point in points:
        if point == point:
            pieces[-1].append(point)
        elif pieces[-1]:
            pieces.append([])
    style = look["stroke"], look["width"], look["dash"]
    return [Line(tuple(piece), *style) for piece in pieces if len(piece) > 1]
