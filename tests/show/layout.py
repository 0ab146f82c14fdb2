"""What holds for every picture: words stay in it and meet no others."""

from __future__ import annotations

from itertools import combinations
from typing import Any


def words_stand_apart(scene: Any, where: str) -> None:
    """Check that no words of a scene leave it or meet others; ``where`` is told if so."""
    boxes = [(text.box(), text.words) for text in scene.texts() if text.words]
    left, top, right, bottom = scene.bounds
    for box, label in boxes:
        inside = left <= box[0] and top <= box[1] and box[2] <= right and box[3] <= bottom
        assert inside, f"{label!r} leaves {where}"
    for (a, one), (b, two) in combinations(boxes, 2):
        apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
        assert apart, f"{one!r} meets {two!r} in {where}"
