"""Other people's files: motion capture as C3D, video key points as JSON."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from squatlab import tables
from squatlab.tracks import Tracks, TracksError
from squatlab.tracks.intake import receive
from squatlab.tracks.orientation import found_axes

JOINTS = {
    "HJC": "hip",
    "KJC": "knee",
    "AJC": "ankle",
    "SJC": "shoulder",
    "EJC": "elbow",
    "WJC": "wrist",
    "HEE": "heel",
    "TOE": "toe",
}
"""Customary ends of a label, after R or L, and the joint they mean."""

LABELS = {
    f"{side}{label}": f"{joint}_{side.lower()}" for label, joint in JOINTS.items() for side in "RL"
} | {"C7": "c7"}
"""What a laboratory usually calls our points."""

KEYPOINTS = (
    "nose", "left_eye", "right_eye", "left_ear", "right_ear", "left_shoulder", "right_shoulder",
    "left_elbow", "right_elbow", "left_wrist", "right_wrist", "left_hip", "right_hip", "left_knee",
    "right_knee", "left_ankle", "right_ankle",
)  # fmt: skip
"""The names of the 17 key points, in the order of files that name none."""

LEAST_SCORE = 0.3
"""A key point less certain than this was not seen [teaching-value]."""

MALFORMED = (ValueError, KeyError, TypeError, AttributeError, OverflowError, RecursionError)
"""What reading JSON of another shape than expected ends in."""


def read_c3d(
    path: str | Path,
    points: Mapping[str, str] | None = None,
    *,
    axes: str | None = None,
    **declared: Any,
) -> Tracks:
    """Return the tracks in a C3D file, in metres and our axes, checked.

    ``points`` names more of the file's labels, {"RHIP": "hip_r"}; joint
    centres with customary labels (RHJC, LKJC, …) and our own names are
    known. ``axes`` says where x, y, z point; else the body tells. The
    rest as `receive`. Needs the package ezc3d. Raises TracksError.
    """
    path = Path(path)
    content = _open_c3d(path)
    try:
        about = content["parameters"]["POINT"]
        labels = [label.split(":")[-1].strip() for label in about["LABELS"]["value"]]
        rate = float(about["RATE"]["value"][0])
        units = str(about["UNITS"]["value"][0]).strip().lower()
        places = content["data"]["points"][:3].transpose(2, 1, 0)
        first = int(content["header"]["points"]["first_frame"])
    except (KeyError, IndexError) as error:
        raise TracksError(f"{path.name}: the file holds no points ({error})") from error
    asked = dict(points or {})
    unknown = [label for label in asked if label not in labels]
    if unknown:
        raise TracksError(
            f"{path.name}: there is no label {', '.join(unknown)}"
            f"{tables.closest(unknown[0], labels)} The labels: {', '.join(labels)}"
        )
    known = LABELS | {name: name for name in LABELS.values()} | asked
    taken = {known[label]: labels.index(label) for label in labels if label in known}
    if not taken:
        raise TracksError(
            f"{path.name}: no label means a joint to us. Say which does with "
            f'points={{"…": "hip_r", …}}; the labels: {", ".join(labels)}'
        )
    times = (np.arange(len(places)) + first) / rate
    positions = places[:, list(taken.values())]
    note = f"{len(taken)} of {len(labels)} points of the file were taken."
    try:
        if axes is None:
            axes = _axes_of_body(times, positions, list(taken))
        return receive(
            times, positions, list(taken), view="3d", units=units, axes=axes, rate=rate,
            source=path.name, notes=[note], **declared,
        )  # fmt: skip
    except TracksError as error:
        raise TracksError(f"{path.name}: {error}") from error


def read_coco(
    path: str | Path,
    view: str,
    rate: float,
    *,
    keypoints: Sequence[str] | None = None,
    least_score: float = LEAST_SCORE,
    **declared: Any,
) -> Tracks:
    """Return the tracks in a JSON file of key points per picture, in px.

    ``view`` and ``rate`` (Hz) are not in such files. Points go by the
    names in the file, in ``keypoints``, or of the usual 17; those have no
    heel and no toe, so these are absent. One person is followed. The rest
    as `receive`. Raises TracksError.
    """
    path = Path(path)
    if not 1 <= rate <= 10_000:
        raise TracksError(f"the rate is {rate:g}; give the pictures per second of the video, in Hz")
    try:
        people, names = _people(json.loads(path.read_text(encoding="utf-8-sig")), keypoints)
        numbers, positions, crowded = _followed(people, least_score)
        notes = [f"Key points with a score below {least_score:g} count as not seen."]
        if crowded:
            notes.append(
                f"{crowded} pictures show several people; the largest at first was followed."
            )
        times = (numbers - numbers[0]) / rate
        return receive(
            times, positions, names, view=view, units="px", rate=rate, source=path.name,
            notes=notes, **declared,
        )  # fmt: skip
    except TracksError as error:
        raise TracksError(f"{path.name}: {error}") from error
    except OSError as error:
        raise TracksError(f"{path.name}: cannot be opened: {error.strerror}") from error
    except MALFORMED as error:
        raise TracksError(
            f'{path.name}: this is no list of people with "image_id" and "keypoints" ({error!r}); '
            "export the pose estimation as COCO key points"
        ) from error


def _open_c3d(path: Path) -> Any:
    try:
        import ezc3d
    except ImportError as error:
        raise TracksError(
            f"{path.name}: C3D files are read by the package ezc3d, which is not installed; run "
            "pip install ezc3d, or export the joints as CSV"
        ) from error
    if not path.is_file():
        raise TracksError(f"{path.name}: there is no such file in {path.parent}")
    try:
        return ezc3d.c3d(str(path))
    except (OSError, RuntimeError, ValueError, IndexError, MemoryError) as error:
        raise TracksError(f"{path.name}: this is no readable C3D file ({error})") from error


def _axes_of_body(times: NDArray, positions: NDArray, names: Sequence[str]) -> str:
    found = found_axes(Tracks(times, positions, names, "3d"))
    if found is None:
        raise TracksError(
            "which way the lifter faces cannot be told without both hips or a heel and toe. Say "
            'where the axes point, for example axes="x right, y forward, z up"'
        )
    return found


def _people(
    data: Any, keypoints: Sequence[str] | None
) -> tuple[dict[int, list[NDArray[np.float64]]], list[str]]:
    """Return each picture's people, (point, x y score), and our point names."""
    people: dict[int, list[NDArray[np.float64]]] = {}
    whole = data if isinstance(data, dict) else {"annotations": data}
    for person in whole["annotations"]:
        digits = re.findall(r"\d+", str(person["image_id"]))
        if not digits:
            raise TracksError(
                f"the image_id {person['image_id']!r} holds no number; number the pictures"
            )
        people.setdefault(int(digits[-1]), []).append(
            np.reshape(np.array(person["keypoints"], dtype=float), (-1, 3))
        )
    counts = {len(points) for group in people.values() for points in group}
    if len(counts) != 1:
        raise TracksError(
            f"the people have {sorted(counts) or 'no'} key points; every one must have the same set"
        )
    named = next((c["keypoints"] for c in whole.get("categories", ()) if "keypoints" in c), None)
    names = list(keypoints or named or KEYPOINTS)
    if len(names) != min(counts):
        raise TracksError(
            f"each person has {min(counts)} key points but {len(names)} names are known; name them "
            'in order with keypoints=("nose", "left_eye", …)'
        )
    return people, [_our_name(name) for name in names]


def _our_name(name: str) -> str:
    word = re.sub(r"\W+", "_", name.strip().lower())
    side, _, part = word.partition("_")
    if side not in ("left", "right"):
        return word
    return f"{'toe' if part == 'big_toe' else part}_{side[0]}"


def _followed(
    people: dict[int, list[NDArray[np.float64]]], least_score: float
) -> tuple[NDArray[np.intp], NDArray[np.float64], int]:
    """Return picture numbers, one person's positions, pictures with several."""
    numbers, chosen, crowded, last = [], [], 0, None
    for number, group in sorted(people.items()):
        places = [np.where(p[:, 2:] >= least_score, p[:, :2], np.nan) for p in group]
        places = [p for p in places if not np.isnan(p).all()]
        if not places:
            continue
        crowded += len(places) > 1
        centres = [np.nanmean(p, axis=0) for p in places]
        if last is None:
            sizes = [np.ptp(p[~np.isnan(p[:, 0])], axis=0).sum() for p in places]
            best = int(np.argmax(sizes))
        else:
            best = int(np.argmin([np.hypot(*(centre - last)) for centre in centres]))
        last = centres[best]
        numbers.append(number)
        chosen.append(places[best])
    if not chosen:
        raise TracksError(f"no key point has a score of {least_score:g} or more in any picture")
    return np.array(numbers), np.array(chosen), crowded
