"""Our names for points, and what other programs and laboratories call them."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from squatlab import tables
from squatlab.tracks.points import Argument, TracksError

SIDED = ("hip", "knee", "ankle", "heel", "toe", "ball", "shoulder", "elbow", "wrist", "bar_end")
PELVIS_MARKERS = ("asis_r", "asis_l", "psis_r", "psis_l")
"""The bony points at the front and at the back of the pelvis, from which the
hip joints can be found."""

MEASURED = (
    *(f"{joint}_{side}" for joint in SIDED for side in "rl"),
    "pelvis",
    "l5",
    "c7",
    "head",
    "bar",
    "plate_top",
    "plate_bottom",
)
"""Every point that an outline or a measured line is drawn from."""

POINTS = (*MEASURED, *PELVIS_MARKERS)
"""Our names: what is measured and drawn, and what the hips are found from."""

WORDS = {"midhip": "pelvis", "hip": "pelvis"}
"""Other words without a side: a hip that has none is the middle of both."""

SIDED_WORDS = {
    "bigtoe": "toe",
    "footindex": "toe",
    "hjc": "hip",
    "kjc": "knee",
    "ajc": "ankle",
    "hipjointcentre": "hip",
    "kneejointcentre": "knee",
    "anklejointcentre": "ankle",
    "hipjointcenter": "hip",
    "kneejointcenter": "knee",
    "anklejointcenter": "ankle",
}
"""Other words for joints that have a side, which is taken off first."""

PARTS = {
    "hip": ("hip", "troch", "hjc"),
    "knee": ("knee", "kne", "patella", "condyl", "kjc"),
    "ankle": ("ankle", "ank", "malleol", "ajc"),
}
"""What a label for something at a joint may hold: enough for a hint that it may
be it, not to take it for it."""

MIDDLE = "+"
"""Stands between the labels of which a point is the middle: "lateral+medial"."""

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
    if not sides and rest and rest[0][:1] in ("r", "l") and rest[0][1:] in (*SIDED, *SIDED_WORDS):
        sides, rest = [rest[0][0]], [rest[0][1:], *rest[1:]]  # rhip, as a heading spells it
    if len(sides) != 1 or not rest:
        name = "_".join(words)
        return WORDS.get(name.replace("_", ""), name)
    part = "_".join(rest)
    if part not in SIDED:
        part = SIDED_WORDS.get("".join(rest), part)
    return f"{part}_{sides[0][0]}"


def named(
    labels: Sequence[str],
    points: Mapping[str, str] | None = None,
    guess: Callable[[str], str] = likely_name,
) -> list[str]:
    """Return what each label is to us: as ``points`` says, else as guessed.

    ``points`` has our names by label, {"RightHip": "hip_r"}; capitals do not
    matter; middles of labels are added before, by `with_middles`. Of two
    labels that mean one point the first exact one is it, the others keep
    their own. Raises TracksError for a label that is not there
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
        names = [
            "" if label.lower() == "hip" and label not in asked else name
            for name, label in zip(names, labels, strict=True)
        ]
    return [name or label for name, label in zip(names, labels, strict=True)]


def with_middles(
    labels: Sequence[str], positions: NDArray[np.float64], points: Mapping[str, str] | None
) -> tuple[list[str], NDArray[np.float64]]:
    """Return labels and positions (time, label, axis) with middles added.

    ``points`` may name a middle, {"lateral+medial": "knee_r"}: the mean of
    markers either side of a joint, missing where one of them is. Capitals
    do not matter. Raises TracksError for a label that is not there.
    """
    labels = list(labels)
    spelt = {label.lower(): number for number, label in enumerate(labels)}
    added = []
    for given in points or {}:
        if given.lower() in spelt or MIDDLE not in given:
            continue
        parts = [part.strip() for part in given.split(MIDDLE)]
        lost = [part for part in parts if part.lower() not in spelt]
        if lost:
            raise TracksError(
                f"{given} is to be the middle of markers, and there is no label "
                f"{', '.join(lost)}{tables.closest(lost[0], labels) or '.'} The labels: "
                f"{', '.join(labels)}"
            )
        columns = [spelt[part.lower()] for part in parts]
        added.append(positions[:, columns].mean(axis=1))
        labels.append(given)
    return labels, np.stack([*np.moveaxis(positions, 1, 0), *added], axis=1) if added else positions


def hints(labels: Sequence[str], lacking: Sequence[str]) -> dict[str, str]:
    """Return which labels may be which of our lacking points, by label.

    Only labels that speak of that joint and that side; each point once.
    """
    fits: dict[str, str] = {}
    for point in lacking:
        joint, _, side = point.rpartition("_")
        for label in labels:
            if label not in fits and label not in POINTS and _fits(label, joint, side):
                fits[label] = point
                break
    return fits


def _fits(label: str, joint: str, side: str) -> bool:
    """Return whether a label may be a joint of a side, "r" or "l"."""
    if likely_name(label) == f"{joint}_{side}":
        return True
    words = re.sub(r"\W+", "_", HUMP.sub("_", label.strip())).lower().strip("_").split("_")
    sides = {word[0] for word in words if word in ("left", "right", "l", "r")}
    # Without a word for it, the side may be the first letter, as in rkne; a label that says none
    # may be of either.
    sides = sides or {words[0][:1]} & {"r", "l"}
    return sides <= {side} and any(part in "_".join(words) for part in PARTS.get(joint, ()))


def suggestion(labels: Sequence[str], lacking: Sequence[str] = ()) -> tuple[str | Argument, ...]:
    """Return which labels may be ours, and how to say so, as parts of an error.

    Without ``lacking`` any of our points; without a label that fits, how
    such a thing is said, and no label.
    """
    likely = (
        hints(labels, lacking)
        if lacking
        else {label: name for label in labels if (name := likely_name(label)) in POINTS}
    )
    if not likely:
        return "say which are, ", Argument("points", ({"your label": "hip_r"},))
    return "perhaps ", Argument("points", (likely,))
