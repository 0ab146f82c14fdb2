"""What other people call our points."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence

from squatlab import tables
from squatlab.tracks.points import TracksError

SIDED = ("hip", "knee", "ankle", "heel", "toe", "ball", "shoulder", "elbow", "wrist", "bar_end")
POINTS = (
    *(f"{joint}_{side}" for joint in SIDED for side in "rl"),
    "pelvis", "l5", "c7", "head", "bar", "plate_top", "plate_bottom",
)  # fmt: skip
"""Our names: what is measured and drawn."""

WORDS = {"bigtoe": "toe", "midhip": "pelvis", "hip": "pelvis"}
"""Other words: a side before or after is taken off first, but a hip that
has none is the middle of both."""

HUMP = re.compile(r"(?<=[a-z0-9])(?=[A-Z])|(?<=[A-Z])(?=[A-Z][a-z])")
"""Where a word begins within one, as in RightBigToe."""


def our_name(label: str) -> str:
    """Return a label that is one of our names, in any capitals, or ''."""
    return label.lower() if label.lower() in POINTS else ""


def likely_name(label: str) -> str:
    """Return our name for right_hip, R Hip, LeftBigToe, hip_right and the like.

    A label that means none of our points is returned in our spelling.
    """
    if name := our_name(label):
        return name
    words = re.sub(r"\W+", "_", HUMP.sub("_", label.strip())).lower().strip("_").split("_")
    sides = [word for word in words if word in ("left", "right", "l", "r")]
    rest = [word for word in words if word not in sides]
    if not sides and rest and rest[0][:1] in ("r", "l") and rest[0][1:] in SIDED:
        sides, rest = [rest[0][0]], [rest[0][1:], *rest[1:]]  # rhip, as a heading spells it
    if len(sides) != 1 or not rest:
        name = "_".join(words)
        return WORDS.get(name.replace("_", ""), name)
    part = "_".join(rest)
    if part not in SIDED:
        part = WORDS.get("".join(rest), part)
    return f"{part}_{sides[0][0]}"


def named(
    labels: Sequence[str],
    points: Mapping[str, str] | None = None,
    guess: Callable[[str], str] = likely_name,
) -> list[str]:
    """Return what each label is to us: as ``points`` says, else as guessed.

    ``points`` has our names by label, {"RightHip": "hip_r"}; capitals do not
    matter. Of two labels that mean one point the first exact one is it, the
    others keep their own. Raises TracksError for a label that is not there
    and for a point that is not ours.
    """
    asked: dict[str, str] = {}
    spelt = {label.lower(): label for label in labels} | {label: label for label in labels}
    for given, name in dict(points or {}).items():
        label = spelt.get(given) or spelt.get(given.lower())
        if label is None:
            raise TracksError(
                f"there is no label {given}{tables.closest(given, labels) or '.'} The labels: "
                f"{', '.join(labels)}"
            )
        if name not in POINTS or name in asked.values():
            wrong = "is given twice" if name in POINTS else "is none of ours"
            near = (name not in POINTS and tables.closest(name, POINTS)) or "."
            raise TracksError(
                f"{label} is said to be {name}, which {wrong}{near} Ours: {', '.join(POINTS)}"
            )
        asked[label] = name
    names = [asked.get(label, "") for label in labels]
    taken = set(names)
    for means in (our_name, guess):
        for number, label in enumerate(labels):
            if not names[number] and (name := means(label)) not in taken:
                names[number] = name
                taken.add(name)
    if not {"hip_r", "hip_l"} & set(names):  # nothing says that a hip is the middle of both
        names = ["" if label.lower() == "hip" and label not in asked else name
                 for name, label in zip(names, labels, strict=True)]  # fmt: skip
    return [name or label for name, label in zip(names, labels, strict=True)]


def suggestion(labels: Sequence[str]) -> str:
    """Return in words which labels may be ours, and how to say so."""
    found = {label: likely_name(label) for label in labels if likely_name(label) in POINTS}
    found = found or {label: "hip_r" for label in labels[:1]}
    pairs = ", ".join(f'"{label}": "{name}"' for label, name in found.items())
    return f"perhaps points={{{pairs}}}"
