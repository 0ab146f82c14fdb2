"""Key points of a video as JSON in the COCO layout: a list of people, picture by picture."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from squatlab import storage
from squatlab.adapters.file_format import Format, Listing
from squatlab.ranges import shown
from squatlab.tracks import Tracks, TracksError, receive
from squatlab.tracks.naming import named, with_middles
from squatlab.tracks.points import LEAST_SCORE, Argument


def _both(*joints: str) -> tuple[str, ...]:
    return tuple(f"{side}_{joint}" for joint in joints for side in ("left", "right"))


KEYPOINTS = ("nose", *_both("eye", "ear", "shoulder", "elbow", "wrist", "hip", "knee", "ankle"))
"""The names of the 17 key points, in the order of files that name none [lin2014]."""

FEET = tuple(
    f"{side}_{part}" for side in ("left", "right") for part in ("big_toe", "small_toe", "heel")
)
ORDERS = {17: KEYPOINTS, 23: KEYPOINTS + FEET, 133: KEYPOINTS + FEET}
"""The usual orders by how many points there are: with feet, and with feet, face
and hands, of which the last two are left out [jin2020]."""

STRAYED = 0.2
"""A body whose points are on average further than this from where they were
last, in heights and widths of the lifter, is another person's
[teaching-value]."""

HARDLY_SEEN = 0.5
"""While a larger share of a lifter's points was never seen, what was seen does
not tell their size [teaching-value]."""

MALFORMED = (ValueError, KeyError, TypeError, AttributeError, OverflowError, RecursionError)
"""What reading JSON of another shape than expected ends in."""


class Crowd(NamedTuple):
    """Hold all people in a file: for each picture, by its number, their points.

    ``people`` has one array (point, x y score) a person; ``labels`` are
    what the file calls the points, in their order.
    """

    people: dict[int, list[NDArray[np.float64]]]
    labels: list[str]


class Followed(NamedTuple):
    """Hold one person through a film.

    ``pictures`` (time,) are numbers of pictures, ``positions`` (time,
    point, 2) are in px, ``crowded`` counts pictures with several people.
    """

    pictures: NDArray[np.intp]
    positions: NDArray[np.float64]
    crowded: int


def read_coco(
    path: str | Path,
    view: str | None = None,
    rate: float | None = None,
    *,
    keypoints: Sequence[str] | None = None,
    points: Mapping[str, str] | None = None,
    least_score: float = LEAST_SCORE,
    person: int = 1,
    **declared: Any,
) -> Tracks:
    """Return the tracks in a JSON file of key points per picture, in px.

    ``view`` and ``rate`` (Hz) are not in such files and must be given.
    Points go by the file's names, by ``keypoints`` in order, or by the
    usual order for their number, 17, 23 or 133; ``points`` says what they
    are to us, {"crotch_r": "hip_r"}. Of several people one is followed:
    ``person`` 1 is the largest in the first picture that shows so many.
    The rest as `receive`. Raises TracksError.
    """
    path = Path(path)
    if view is None or rate is None:
        raise TracksError(
            f"{path.name}: a file of key points says neither view nor frame rate; give both, "
            "such as ",
            Argument("view", ("side",)),
            " and ",
            Argument("rate", (60,)),
        )
    if not 1 <= rate <= 10_000:
        raise TracksError(
            f"{path.name}: the rate is {rate:g}; give the pictures per second of the video, in Hz"
        )
    people, labels = crowd(path, keypoints)
    try:
        followed = _followed(people, least_score, person)
        notes = [f"Key points with a score below {least_score:g} count as not seen."]
        if followed.crowded:
            which = "the largest at first" if person == 1 else f"number {person} by size at first"
            notes.append(f"{followed.crowded} pictures show several people; {which} was followed.")
        times = (followed.pictures - followed.pictures[0]) / rate
        labels, positions = with_middles(labels, followed.positions, points)
        return receive(
            times,
            positions,
            named(labels, points),
            view=view,
            units="px",
            rate=rate,
            source=path.name,
            notes=notes,
            **declared,
        )
    except TracksError as error:
        raise TracksError(f"{path.name}: ", *error.parts) from error


def crowd(path: Path, keypoints: Sequence[str] | None = None) -> Crowd:
    """Return all people in a file, and what the points are called.

    The file is a list of results, or an object with "annotations" and, to
    name the points, "categories". Raises TracksError.
    """
    try:
        if path.is_dir():
            raise TracksError("this is a folder; give the one .json file of key points")
        data = json.loads(storage.read(path))
        whole = data if isinstance(data, Mapping) else {"annotations": data}
        given = [kind["keypoints"] for kind in whole.get("categories", ()) if "keypoints" in kind]
        names = keypoints or (given[0] if given else None)
        people: dict[int, list[NDArray[np.float64]]] = {}
        for person in whole["annotations"]:
            digits = re.findall(r"\d+", str(person["image_id"]))
            if not digits:
                raise TracksError(
                    f"the image_id {person['image_id']!r} holds no number; number the pictures"
                )
            # x, y and score of one point after the other, in one row.
            points = np.array(person["keypoints"], dtype=float).reshape(-1, 3)
            people.setdefault(int(digits[-1]), []).append(points)
        return _alike(people, names)
    except TracksError as error:
        raise TracksError(f"{path.name}: ", *error.parts) from error
    except OSError as error:
        raise TracksError(f"{path.name}: cannot be opened: {error.strerror or error}") from error
    except MALFORMED as error:
        raise TracksError(
            f'{path.name}: this is no list of people with "image_id" and "keypoints" '
            f"({shown(error)}); export the pose estimation as COCO key points"
        ) from error


def _alike(people: dict[int, list[NDArray[np.float64]]], names: Sequence[str] | None) -> Crowd:
    """Return people with the same points each, and what these are called."""
    counts = {len(points) for group in people.values() for points in group}
    if len(counts) != 1:
        raise TracksError(
            f"the people have {sorted(counts) or 'no'} key points; every one must have the same set"
        )
    (count,) = counts
    labels = list(names or ORDERS.get(count, KEYPOINTS))
    if len(labels) != count and (names or count not in ORDERS):
        raise TracksError(
            f"each person has {count} key points but {len(labels)} names are known; name them "
            'in order with keypoints=("nose", "left_eye", …)'
        )
    known = {number: [p[: len(labels)] for p in group] for number, group in people.items()}
    return Crowd(known, labels)


def _followed(
    people: dict[int, list[NDArray[np.float64]]], least_score: float, person: int
) -> Followed:
    """Return one person, from picture to picture the body nearest to the last one.

    ``person`` 1 is the largest in the first picture that shows so many.
    Raises TracksError for a person, or a score, that no picture has.
    """
    numbers, chosen = [], []
    crowded = most = 0
    last, size = None, 0.0
    for number, group in sorted(people.items()):
        bodies = [np.where(p[:, 2:] >= least_score, p[:, :2], np.nan) for p in group]
        bodies = [body for body in bodies if not np.isnan(body).all()]
        if not bodies:
            continue
        crowded += len(bodies) > 1
        most = max(most, len(bodies))
        if last is None:
            if not 1 <= person <= len(bodies):
                continue
            body = sorted(bodies, key=_size, reverse=True)[person - 1]
            last, size = body, _size(body)
        else:
            body = min(bodies, key=lambda body: _apart(body, last))
            if np.isnan(last[:, 0]).mean() > HARDLY_SEEN:
                # What was seen so far does not tell how large the lifter is.
                size = max(size, _size(body))
            # Too far to be the same person: this picture does not show whom we follow.
            if _apart(body, last) > STRAYED * size:
                continue
        # A point that is hidden now stays where it was last seen, to compare with later.
        last = np.where(np.isnan(body), last, body)
        numbers.append(number)
        chosen.append(body)
    if most and not chosen:
        raise TracksError(f"person is {person}; a picture shows 1 (the largest) to {most} people")
    if not chosen:
        raise TracksError(f"no key point has a score of {least_score:g} or more in any picture")
    return Followed(np.array(numbers), np.array(chosen), crowded)


def _size(body: NDArray[np.float64]) -> float:
    """Return how large a body (point, 2) is in the picture, width + height, px."""
    return float(np.ptp(body[~np.isnan(body[:, 0])], axis=0).sum())


def _apart(place: NDArray[np.float64], last: NDArray[np.float64]) -> float:
    """Return how far points are from where they were, px on average."""
    gaps = np.hypot(*(place - last).T)
    return float(np.nanmean(gaps)) if np.isfinite(gaps).any() else np.inf


def _listing(path: Path) -> Listing:
    people, labels = crowd(path)
    seen = [np.any([p[:, 2] >= LEAST_SCORE for p in group], axis=0) for group in people.values()]
    most = max(map(len, people.values()))
    crowded = "1 person" if most == 1 else f"up to {most} people"
    about = f"key points in px, {len(people)} pictures with {crowded}, no frame rate in the file"
    return Listing(about, labels, np.mean(seen, axis=0).tolist())


KEY_POINTS = Format(
    name="COCO key points",
    suffixes=(".json",),
    begins_like=lambda start: start.lstrip(b"\xef\xbb\xbf \t\r\n")[:1] in (b"{", b"["),
    listing=_listing,
    read=read_coco,
    takes=frozenset(
        "view rate keypoints points least_score person scale_px_per_m required bridge_s".split()
    ),
    fixed={"units": "px"},
)
