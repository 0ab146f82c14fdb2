"""What an attacker reads off an exam's pictures: ``python tests/attack/read_pictures.py``.

Two attackers answer the lifts of a form that ask for the first fault:

- One has found every joint exactly, to the pixel's fraction, in all 30 pictures a
  second. Nobody finds more in the pictures: this is what they hold at most.
- The other really looks: flat colours tell clothes, skin and shoes apart, the ends
  of each patch give the joints. A few hundred lines and an afternoon's work; a
  trained network would come between the two.

Each asks ``squatlab review`` twice: with stature, mass and load, which prompts no
longer state, and without. A blind guess is right in one of about 15.
"""

from __future__ import annotations

import hashlib
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

sys.path.insert(0, str(Path(__file__).parents[2]))

from squatlab.exam.screens.stills import cameras, picture, stills
from squatlab.exam.secret import Secret
from squatlab.motion import film
from squatlab.motion.camera import FAR_SIDE
from squatlab.questions.blueprint import blueprint
from squatlab.questions.cases import Case
from squatlab.questions.items import item
from squatlab.questions.kinds import NOTHING
from squatlab.review import ReviewError, measure, prioritise
from squatlab.tracks import Tracks, TracksError

COLOURS = {
    "skin": "#c29c7f",
    "far_skin": "#b28f74",
    "shirt": "#4d7aa7",
    "shorts": "#39465a",
    "far_shorts": "#2b3546",
    "shoe": "#f4f4f3",
    "far_shoe": "#bfc1c1",
    "sleeve": "#a6abb0",
    "steel": "#4d5866",
    "hair": "#4c4038",
    "edge": "#748190",
    "wall": "#e7e6e1",
    "platform": "#a79986",
}
"""The flat colours as they are in the pictures, picked from one clip by eye."""

THIGH_CAPS, SHANK_CAPS, TRUNK_CAPS = (0.29, -0.47), (0.12, 0.08), (0.02, 0.05)
"""How much of a patch lies beyond its upper and its lower joint, from the open
source of the drawing: of the whole patch's length."""

FORM_SEED = Secret(hashlib.sha256(b"a form to attack").digest()).draw("attacked", "cameras")


def exactly(case: Case) -> tuple[Tracks, ...]:
    """Return every visible joint as the exam's cameras saw it, without any error."""
    found = []
    for view, camera in cameras(FORM_SEED).items():
        hidden = FAR_SIDE if view == "side" else ()
        found.append(
            film(case.rep.points, case.rep.time, replace(camera, rate=30.0, hidden=hidden))
        )
    return tuple(found)


def looking(case: Case) -> tuple[Tracks, ...]:
    """Return the joints that patches of colour give, in every picture of a clip."""
    clip = stills(case, FORM_SEED)
    times = np.arange(len(clip.frames)) / clip.rate
    found: dict[str, list[dict[str, complex]]] = {panel.name: [] for panel in clip.views}
    last, seen = -1, {}
    for frame, number in enumerate(clip.frames):
        if number != last:
            whole = np.asarray(picture(clip, frame), dtype=np.int16)
            for panel in clip.views:
                cut = whole[
                    panel.top : panel.top + panel.height, panel.left : panel.left + panel.width
                ]
                look = from_the_side if panel.name == "side" else from_the_front
                seen[panel.name] = look(patches(cut))
            last = number
        for panel in clip.views:
            found[panel.name].append(seen[panel.name])
    return tuple(_tracks(view, times, rows) for view, rows in found.items())


def patches(pixels: NDArray[np.int16]) -> dict[str, NDArray[np.bool_]]:
    """Return which pixels have which colour: the nearest of those the drawing uses."""
    names = list(COLOURS)
    fills = [[int(COLOURS[name][i : i + 2], 16) for i in (1, 3, 5)] for name in names]
    apart = np.stack(
        [np.abs(pixels - np.array(fill, dtype=np.int16)).sum(axis=2) for fill in fills]
    )
    nearest = apart.argmin(axis=0)
    return {name: nearest == n for n, name in enumerate(names)}


def from_the_side(patch: dict[str, NDArray[np.bool_]]) -> dict[str, complex]:
    """Return joints in a view from the side: x to the right, y up, px."""
    points: dict[str, complex] = {}
    # The sleeve is a small dark disc; a white rim keeps it apart from shirt and arm.
    dark = patch["steel"] | patch["shorts"] | patch["far_shorts"]
    labels, count = ndimage.label(dark)
    sizes = np.bincount(labels.ravel())[1:]
    for n, box in enumerate(ndimage.find_objects(labels)):
        high, wide = (part.stop - part.start for part in box)
        if 10 <= wide <= 24 and 10 <= high <= 24 and sizes[n] > 0.6 * wide * high:
            points["bar"] = _middle(labels == n + 1)
    points |= _leg(patch, "r", from_side=True)
    shirt = _largest(patch["shirt"])
    if shirt.sum() > 200:
        upper, lower = _ends(shirt)
        points["c7"] = upper + TRUNK_CAPS[0] * (lower - upper)
        rows = np.flatnonzero(shirt.any(axis=1))
        above = patch["skin"].copy()
        above[rows[0] + (rows[-1] - rows[0]) // 3 :] = False
        if above.sum() > 200:
            points["head"] = _middle(_largest(above))
    return points


def from_the_front(patch: dict[str, NDArray[np.bool_]]) -> dict[str, complex]:
    """Return joints in a view from the front; the lifter's right is on the left."""
    points: dict[str, complex] = {}
    columns = np.flatnonzero(patch["shoe"].any(axis=0))
    if not columns.size:
        return points
    middle = (columns[0] + columns[-1]) // 2
    for side, part in (("r", slice(None, middle)), ("l", slice(middle, None))):
        half = {name: np.zeros_like(mask) for name, mask in patch.items()}
        for name, mask in patch.items():
            half[name][:, part] = mask[:, part]
        points |= _leg(half, side, from_side=False)
    rod = _largest(ndimage.binary_dilation(patch["sleeve"] | patch["steel"], iterations=3))
    rows, columns = np.nonzero(rod)
    if columns.size:
        for side, column in (("r", columns.min()), ("l", columns.max())):
            near = np.abs(columns - column) < 30
            points[f"bar_end_{side}"] = complex(column, -rows[near].mean())
    shirt = _largest(patch["shirt"])
    if shirt.sum() > 200:
        rows = np.flatnonzero(shirt.any(axis=1))
        points["c7"] = complex(_middle(shirt).real, -rows[0])
    return points


def _leg(patch: dict[str, NDArray[np.bool_]], side: str, from_side: bool) -> dict[str, complex]:
    """Return hip, knee, ankle, heel and toe from shorts, shin and shoe."""
    points: dict[str, complex] = {}
    low = patch["shoe"].copy()
    low[: 2 * len(low) // 3] = False  # the rims of the plates are as white
    thigh, shoe = _largest(patch["shorts"]), _largest(low)
    if thigh.sum() < 200 or shoe.sum() < 50:
        return points
    trunk = _middle(_largest(patch["shirt"]))
    hip, knee = sorted(_ends(thigh), key=lambda end: abs(end - trunk))
    points[f"hip_{side}"] = hip + THIGH_CAPS[0] * (knee - hip)
    points[f"knee_{side}"] = knee + THIGH_CAPS[1] * (hip - knee)
    labels, count = ndimage.label(patch["skin"])
    if count:
        # The shin is the patch of skin that reaches lowest.
        lowest = [rows[0].stop for rows in ndimage.find_objects(labels)]
        shin = labels == int(np.argmax(lowest)) + 1
        if shin.sum() > 100:
            upper, lower = _ends(shin)
            points[f"ankle_{side}"] = lower + SHANK_CAPS[1] * (upper - lower)
            if not from_side:  # a thigh that points at the camera has no long axis
                points[f"knee_{side}"] = upper + SHANK_CAPS[0] * (lower - upper)
    rows, columns = np.nonzero(shoe)
    spots = columns - 1j * rows
    if from_side:
        points["heel_r"] = complex(spots[np.argmin(spots.real + spots.imag)])
        points["toe_r"] = complex(spots[np.argmax(spots.real - 0.5 * spots.imag)])
    else:
        points[f"toe_{side}"] = complex(spots[np.argmin(spots.imag)])
        points[f"heel_{side}"] = complex(_middle(shoe).real, points[f"toe_{side}"].imag + 15)
    return points


def _largest(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    labels, count = ndimage.label(mask)
    if count < 2:
        return mask
    return labels == 1 + int(np.argmax(np.bincount(labels.ravel())[1:]))


def _middle(mask: NDArray[np.bool_]) -> complex:
    rows, columns = np.nonzero(mask)
    return complex(columns.mean(), -rows.mean())


def _ends(mask: NDArray[np.bool_]) -> tuple[complex, complex]:
    """Return the upper and the lower end of a patch along its longest axis."""
    rows, columns = np.nonzero(mask)
    spots = columns - 1j * rows
    middle = spots.mean()
    # The axis of most spread: half the angle of the mean square.
    axis = np.exp(0.5j * np.angle(np.mean((spots - middle) ** 2)))
    along = ((spots - middle) * axis.conjugate()).real
    low, high = np.percentile(along, [0.2, 99.8])
    ends = sorted(
        (complex(middle + axis * low), complex(middle + axis * high)), key=lambda end: end.imag
    )
    return ends[1], ends[0]


def _tracks(view: str, times: NDArray, rows: list[dict[str, complex]]) -> Tracks:
    names = sorted({name for row in rows for name in row})
    lost = complex(np.nan, np.nan)
    places = np.array([[row.get(name, lost) for name in names] for row in rows])
    calm = ndimage.median_filter(places.real, (5, 1)) + 1j * ndimage.median_filter(
        places.imag, (5, 1)
    )
    positions = np.stack([calm.real, calm.imag], axis=-1)
    # Some shoe stands still: put the origin so that all is above 0.
    positions -= np.nanmin(positions, axis=(0, 1))
    return Tracks(times, positions, tuple(names), view, "px", None, 30.0, "attack")


def answer(case: Case, tracks: tuple[Tracks, ...], with_body: bool) -> str:
    """Return the first fault that the review reads off tracks, "" if it reads nothing."""
    declared = {}
    if with_body:
        declared = {"lifter": case.rep.lifter, "bar_kg": float(case.rep.bar.mass_kg)}
    try:
        ranking = prioritise(measure(*tracks, **declared))
    except (ReviewError, TracksError, ValueError):
        return ""
    return ranking.places[0].finding.fault if ranking.places else NOTHING


def main(per_cell: int = 3) -> None:
    cells = [cell for cell in blueprint().values() if cell.kind == "first" and cell.count]
    cases = [item(cell, 1000 + n).case for cell in cells for n in range(per_cell)]
    print(f"{len(cases)} lifts, {per_cell} of each cell that asks for the first fault")
    clean = sum(case.first == NOTHING for case in cases)
    print(f"always 'nothing to fix': {clean} right ({clean / len(cases):.0%})")
    for name, see in (("every joint found exactly", exactly), ("looking at the pictures", looking)):
        seen = [see(case) for case in cases]
        for body, words in ((True, "with body data"), (False, "without body data")):
            right = [
                answer(case, tracks, body) == case.first
                for case, tracks in zip(cases, seen, strict=True)
            ]
            print(
                f"{name}, {words}: {sum(right)} of {len(cases)} right ({np.mean(right):.0%})",
                flush=True,
            )


if __name__ == "__main__":
    main(*map(int, sys.argv[1:2]))
