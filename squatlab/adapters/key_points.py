"""Video key points as JSON: lists of people, picture by picture."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from squatlab.tracks import Tracks, TracksError
from squatlab.tracks.intake import receive
from squatlab.tracks.naming import named


def _both(*joints: str) -> tuple[str, ...]:
    return tuple(f"{side}_{joint}" for joint in joints for side in ("left", "right"))


KEYPOINTS = (
    "nose", *_both("eye", "ear", "shoulder", "elbow", "wrist", "hip", "knee", "ankle")
)  # fmt: skip
"""The names of the 17 key points, in the order of files that name none [lin2014]."""

FEET = tuple(f"{side}_{part}" for side in ("left", "right")
             for part in ("big_toe", "small_toe", "heel"))  # fmt: skip
ORDERS = {
    17: KEYPOINTS, 23: KEYPOINTS + FEET, 133: KEYPOINTS + FEET,
    26: (*KEYPOINTS, "head", "neck", "mid_hip", *_both("big_toe", "small_toe", "heel")),
}  # fmt: skip
"""The usual orders by how many points there are: with feet [jin2020], with
head and feet [fang2023]; of 133 the face and the hands are left out."""

NECK_FIRST = (
    "nose", "neck", "right_shoulder", "right_elbow", "right_wrist", "left_shoulder", "left_elbow",
    "left_wrist", "mid_hip", "right_hip", "right_knee", "right_ankle", "left_hip", "left_knee",
    "left_ankle", "right_eye", "left_eye", "right_ear", "left_ear", *FEET,
)  # fmt: skip
"""The 25 of files with "pose_keypoints_2d", one for each picture [cao2021]."""

LEAST_SCORE = 0.3
"""A key point less certain than this was not seen [teaching-value]."""

STRAYED = 0.2
"""A body whose points are on average further than this from where they were
last, in heights and widths of the lifter, is somebody else's
[teaching-value]."""

MALFORMED = (ValueError, KeyError, TypeError, AttributeError, OverflowError, RecursionError)
"""What reading JSON of another shape than expected ends in."""


People = dict[int, list[NDArray[np.float64]]]
"""For each picture, by its number, everybody's points (point, x y score)."""


def read_coco(
    path: str | Path,
    view: str,
    rate: float,
    *,
    keypoints: Sequence[str] | None = None,
    points: Mapping[str, str] | None = None,
    least_score: float = LEAST_SCORE,
    person: int = 1,
    **declared: Any,
) -> Tracks:
    """Return the tracks in a JSON file of key points per picture, in px.

    Or in a folder with a file for each picture. ``view`` and ``rate`` (Hz)
    are not in such files. Points go by the file's names, by ``keypoints``
    in order, or by the usual order for their number; ``points`` says what
    they are to us, {"crotch_r": "hip_r"}. Of several people one is
    followed: ``person`` 1 is the largest in the first picture that shows
    so many. The rest as `receive`. Raises TracksError.
    """
    path = Path(path)
    if rate is None or not 1 <= rate <= 10_000:
        told = "not given" if rate is None else f"{rate:g}"
        raise TracksError(f"the rate is {told}; give the pictures per second of the video, in Hz")
    people, labels = crowd(path, keypoints)
    try:
        numbers, positions, crowded = _followed(people, least_score, person)
        notes = [f"Key points with a score below {least_score:g} count as not seen."]
        if crowded:
            which = "the largest at first" if person == 1 else f"number {person} by size at first"
            notes.append(f"{crowded} pictures show several people; {which} was followed.")
        times = (numbers - numbers[0]) / rate
        return receive(
            times, positions, named(labels, points), view=view, units="px", rate=rate,
            source=path.name, notes=notes, **declared,
        )  # fmt: skip
    except TracksError as error:
        raise TracksError(f"{path.name}: {error}") from error


def crowd(path: Path, keypoints: Sequence[str] | None = None) -> tuple[People, list[str]]:
    """Return everybody in a file or folder, and what the points are called.

    Raises TracksError.
    """
    try:
        files = sorted(path.glob("*.json")) if path.is_dir() else [path]
        if not files:
            raise TracksError("this folder holds no .json file; give the one of the key points")
        shown = [
            person
            for file in files
            for person in _people(file, json.loads(file.read_text(encoding="utf-8-sig")))
        ]
        order = keypoints or next((names for *_, names in shown if names), None)
        people: People = {}
        for picture, given, scores, _ in shown:
            digits = re.findall(r"\d+", str(picture))
            if not digits:
                raise TracksError(f"the image_id {picture!r} holds no number; number the pictures")
            people.setdefault(int(digits[-1]), []).append(_rows(given, scores, order))
        return _alike(people, order)
    except TracksError as error:
        raise TracksError(f"{path.name}: {error}") from error
    except OSError as error:
        raise TracksError(f"{path.name}: cannot be opened: {error.strerror}") from error
    except MALFORMED as error:
        raise TracksError(
            f'{path.name}: this is no list of people with "image_id" and "keypoints" ({error!r}); '
            "export the pose estimation as COCO key points"
        ) from error


def _people(path: Path, data: Any) -> Iterator[tuple[Any, Any, Any, Sequence[str] | None]]:
    """Yield the picture, key points, scores and names of each person in a file.

    A list of results, annotations with categories, instances frame by
    frame, or the people of the one picture that the file is named after.
    """
    whole = data if isinstance(data, Mapping) else {"annotations": data}
    if "people" in whole:
        for person in whole["people"]:
            given = person["pose_keypoints_2d"]
            yield path.stem, given, None, NECK_FIRST if len(given) == 3 * len(NECK_FIRST) else None
    elif "instance_info" in whole:
        about = whole.get("meta_info", {}).get("keypoint_id2name", {})
        names = [about[key] for key in sorted(about, key=int)] or None
        for frame in whole["instance_info"]:
            for person in frame["instances"]:
                yield frame["frame_id"], person["keypoints"], person.get("keypoint_scores"), names
    else:
        kinds = whole.get("categories", ())
        names = next((kind["keypoints"] for kind in kinds if "keypoints" in kind), None)
        for person in whole["annotations"]:
            yield person["image_id"], person["keypoints"], person.get("keypoint_scores"), names


def _rows(given: Any, scores: Any, names: Sequence[str] | None) -> NDArray[np.float64]:
    """Return x, y and score of each point (point, 3), however they are listed."""
    numbers = np.array(given, dtype=float)
    if numbers.ndim == 1:
        known = {len(names)} if names else set(ORDERS)
        three, two = (numbers.size / width in known for width in (3, 2))
        numbers = numbers.reshape(-1, 2 if two and not three else 3)
    if numbers.ndim == 2 and numbers.shape[1] == 2:
        # Without scores, a point that was not found stands in the corner of the picture.
        sure = numbers.any(axis=1) if scores is None else np.array(scores, dtype=float)
        numbers = np.column_stack([numbers, sure])
    if numbers.ndim != 2 or numbers.shape[1] != 3:
        raise ValueError(f"key points of the shape {numbers.shape}")
    return numbers


def _alike(people: People, names: Sequence[str] | None) -> tuple[People, list[str]]:
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
    return {n: [p[: len(labels)] for p in group] for n, group in people.items()}, labels


def _followed(
    people: People, least_score: float, person: int
) -> tuple[NDArray[np.intp], NDArray[np.float64], int]:
    """Return picture numbers, one person's positions, pictures with several."""
    numbers, chosen, crowded, last, size, most = [], [], 0, None, 0.0, 0
    for number, group in sorted(people.items()):
        places = [np.where(p[:, 2:] >= least_score, p[:, :2], np.nan) for p in group]
        places = [p for p in places if not np.isnan(p).all()]
        if not places:
            continue
        crowded, most = crowded + (len(places) > 1), max(most, len(places))
        if last is None:
            if not 1 <= person <= len(places):
                continue
            sizes = [float(np.ptp(p[~np.isnan(p[:, 0])], axis=0).sum()) for p in places]
            best = sorted(range(len(places)), key=lambda k: -sizes[k])[person - 1]
            last, size = places[best], sizes[best]
        else:
            strayed = [_apart(place, last) for place in places]
            best = int(np.argmin(strayed))
            if strayed[best] > STRAYED * size:
                continue
        last = np.where(np.isnan(places[best]), last, places[best])
        numbers.append(number)
        chosen.append(places[best])
    if most and not chosen:
        raise TracksError(f"person is {person}; a picture shows 1 (the largest) to {most} people")
    if not chosen:
        raise TracksError(f"no key point has a score of {least_score:g} or more in any picture")
    return np.array(numbers), np.array(chosen), crowded


def _apart(place: NDArray[np.float64], last: NDArray[np.float64]) -> float:
    """Return how far points are from where they were, px on average."""
    gaps = np.hypot(*(place - last).T)
    return float(np.nanmean(gaps)) if np.isfinite(gaps).any() else np.inf
