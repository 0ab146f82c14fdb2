"""Which way is up and forward: found from the body, turned to our axes.

Also what a body shows of wrong labels: right and left exchanged, a trunk
that leans backward, a front view that is one from the side.
"""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import NDArray

from squatlab.tracks.points import AXES, AnyPoints, Argument, PointsProtocol, TracksError
from squatlab.units import BODY_LENGTH

DIRECTIONS = {
    "forward": (1, 0, 0),
    "back": (-1, 0, 0),
    "up": (0, 1, 0),
    "down": (0, -1, 0),
    "right": (0, 0, 1),
    "left": (0, 0, -1),
}
"""Where an axis may point as the lifter sees it, as a vector in our axes."""

LEFT_HANDED = "x forward, y up, z left"
"""Our axes in a mirror."""

AXES_EXAMPLE = "x right, y forward, z up"
"""How axes are declared: those of most laboratories."""

TURNED_DEG = 10.0
"""A lifter turned further than this gets a note [teaching-value]."""

ACROSS = {"front": (0, -1.0), "3d": (2, 1.0)}
"""Along which axis right and left lie apart, and which way right is."""

BEHIND_M = 0.05
"""Knees further than this behind the hips at the lowest are no squat's
[teaching-value]."""

BACKWARD_DEG = -10.0
"""A trunk that leans less than this at the lowest leans backward, and no lifter
with a bar does [teaching-value]."""

CUT_OFF_SHARE = 0.15
"""Hips lower than this share of their way where a film begins or ends are in the
middle of a squat [teaching-value]: people stand a little lower after a set."""

END_FRAMES, MOVING_SHARE = 4, 0.15
"""Hips are moving that go over so many frames more than this share of the most
that they ever do [teaching-value]."""

UNLIKE_DEG = 25.0
"""Knees that bend by further apart than this at the lowest are not one
lifter's two legs in a squat [teaching-value]."""

ASIDE = 2.0
"""From the front, knees are not this many times further ahead of the hips
than apart [teaching-value]: in 927 synthetic clips at most 1.5 times."""

BENT_SHARE = 0.35
"""Knees less far from under the hips than this share of the thigh say nothing of
where forward is [teaching-value]."""

CROSSED = 0.5
"""Joints that lie the wrong way round by more than this share of their
usual distance are exchanged [teaching-value]: no squat crosses legs."""


def oriented(tracks: AnyPoints, axes: str | None = None) -> AnyPoints:
    """Return tracks with y up and the lifter facing as the view's axes say.

    In space ``axes`` declares where x, y and z point ("x right, y forward,
    z up" or "right forward up"). A picture is turned over where it was
    y down, facing left or mirrored; a note says so. Raises TracksError
    where the body does not stand in these axes.
    """
    if tracks.view == "3d":
        return _in_space(tracks if axes is None else turned(tracks, axes))
    if axes is not None and axes != AXES[tracks.view]:
        raise TracksError(
            "axes are declared for positions in space only; a picture is turned as the body shows"
        )
    return _facing(_upright(tracks))


def untangled(tracks: AnyPoints) -> AnyPoints:
    """Return tracks with right and left put back where frames exchange them.

    As pose estimation does. From the side there is no order to go by, and
    near and far joints nearly coincide. A note says how many frames.
    """
    axis, right = ACROSS.get(tracks.view, (0, 0.0))
    positions, exchanged = tracks.positions, np.zeros(tracks.times.size, dtype=bool)
    for joint in ("hip", "knee", "ankle", "heel", "toe", "shoulder"):
        pair = [tracks.names.index(n) for n in (f"{joint}_r", f"{joint}_l") if n in tracks]
        if len(pair) < 2:
            continue
        apart = right * (positions[:, pair[0], axis] - positions[:, pair[1], axis])
        usual = _median(apart[:, np.newaxis])[0]
        crossed = np.flatnonzero((apart < -CROSSED * usual) & (usual > 0))
        if not crossed.size:
            continue
        if not exchanged.any():
            positions = positions.copy()
        positions[crossed[:, np.newaxis], pair] = positions[crossed[:, np.newaxis], pair[::-1]]
        exchanged[crossed] = True
    if not exchanged.any():
        return tracks
    positions.flags.writeable = False
    words = f"Right and left were exchanged in {exchanged.sum()} frames; they were put back."
    return tracks.noting(words, positions=positions)


def doubted(tracks: AnyPoints) -> AnyPoints:
    """Return tracks with a note on what no squat shows, as wrong labels do.

    A trunk that leans backward at the lowest; knees that bend unlike each
    other. Also on a film that begins or ends in the middle of a squat. Of
    tracks that are turned to our axes.
    """
    tracks = _cut_off(tracks)
    if tracks.view in ("front", "oblique"):
        return tracks
    top = next((name for name in ("c7", "shoulder_r", "shoulder_l") if name in tracks), None)
    side = "_l" if top == "shoulder_l" or "hip_r" not in tracks else "_r"
    if top and f"hip{side}" in tracks:
        low = _lowest(tracks[f"hip{side}"])
        line = _median(tracks[top][low] - tracks[f"hip{side}"][low])
        lean = np.degrees(np.arctan2(line[0], line[1]))
        if lean < BACKWARD_DEG:
            tracks = tracks.noting(
                f"At the lowest the trunk leans {-lean:.0f}° backward, as no squat shows: are the "
                "axes, or head and feet, right?"
            )
    flexions = [_knee_flexion_deg(tracks, side) for side in "rl"]
    if abs(flexions[0] - flexions[1]) > UNLIKE_DEG:  # nan is no difference
        tracks = tracks.noting(
            f"At the lowest the right knee bends by {flexions[0]:.0f}° and the left by "
            f"{flexions[1]:.0f}°: right and left may be exchanged in part of the film, or a leg "
            "be hidden. The leg that is better seen is measured."
        )
    return tracks


def _cut_off(tracks: AnyPoints) -> AnyPoints:
    """Return tracks with a note if the film begins or ends within a squat.

    That is, with the hips low and moving. Low alone is not enough: after
    a jump a lifter stands lower than the highest point of the film.
    """
    side = "_r" if "hip_r" in tracks else "_l"
    if f"hip{side}" not in tracks:
        return tracks
    height = tracks[f"hip{side}"][:, 1]
    height = height[~np.isnan(height)]
    if height.size <= END_FRAMES or np.ptp(height) == 0:
        return tracks
    # How far the hips go over a few frames, against the furthest that they ever do.
    moved = np.abs(height[END_FRAMES:] - height[:-END_FRAMES])
    moving = moved / moved.max()
    for when, end in (("begins", 0), ("ends", -1)):
        down = float((height.max() - height[end]) / np.ptp(height))
        if down > CUT_OFF_SHARE and moving[end] > MOVING_SHARE:
            tracks = tracks.noting(
                f"The film {when} with the hips {100 * down:.0f} % of the way down: that "
                "repetition is not seen whole, and what is compared with standing is unsure."
            )
    return tracks


def _knee_flexion_deg(tracks: PointsProtocol, side: str) -> float:
    """Return how far a knee bends at the lowest, °; nan where not seen."""
    names = [f"{joint}_{side}" for joint in ("hip", "knee", "ankle")]
    if not all(name in tracks for name in names):
        return np.nan
    hip, knee, ankle = (tracks[name] for name in names)
    low = _lowest(hip)
    thigh, shank = hip[low] - knee[low], knee[low] - ankle[low]
    along = np.sum(thigh * shank, axis=-1)
    lengths = np.linalg.norm(thigh, axis=-1) * np.linalg.norm(shank, axis=-1)
    with np.errstate(invalid="ignore", divide="ignore"):
        bent = np.degrees(np.arccos(np.clip(along / lengths, -1.0, 1.0)))
    return float(_median(bent[:, np.newaxis])[0])


def _lowest(hip: NDArray[np.float64], up: NDArray[np.float64] | None = None) -> NDArray[np.bool_]:
    """Return in which frames a hip (time, axis) is in the lowest tenth of them.

    ``up`` is where up is; left out, along y.
    """
    height = hip[:, 1] if up is None else hip @ up
    if np.isnan(height).all():
        return np.zeros(len(hip), dtype=bool)
    return height <= np.nanquantile(height, 0.1)


def turned(tracks: AnyPoints, axes: str) -> AnyPoints:
    """Return tracks in space whose x, y, z pointed where ``axes`` says.

    Raises TracksError if the words are not three directions, one of
    each pair.
    """
    matrix = _matrix(axes)
    if np.array_equal(matrix, np.eye(3)):
        return tracks
    return tracks.noting(
        f"The axes were {axes}; they were turned to {AXES['3d']}.",
        positions=tracks.positions @ matrix,
    )


def found_axes(tracks: PointsProtocol) -> str | None:
    """Return in words where x, y, z of tracks in space seem to point.

    Up is from ankles to hips; forward from heels to toes, without them
    where the knees go, and where nobody squats at right angles to the line
    of the hips. None if there is nothing of it. Right is where the right
    hip is: axes may be left-handed.
    """
    up = _nearest_axis(_between(tracks, "ankle", "hip"))
    forward = _between(tracks, "heel", "toe")
    across = _middle(tracks, "hip_r") - _middle(tracks, "hip_l")
    if np.isnan(forward).any():
        forward = _knees_go(tracks, up)
    if np.isnan(forward).any():
        forward = np.cross(up, across)
    forward = forward * (up == 0)
    if np.isnan(forward).any() or not forward.any():
        return None
    forward = _nearest_axis(forward)
    right = np.cross(forward, up)
    if np.dot(right, np.nan_to_num(across)) < 0:
        right = -right
    words = {tuple(v): k for k, v in DIRECTIONS.items()}
    columns = np.stack([forward, up, right], axis=1)
    return ", ".join(
        f"{axis} {words[tuple(row)]}" for axis, row in zip("xyz", columns, strict=True)
    )


def _matrix(axes: str) -> NDArray[np.float64]:
    """Return the rows of where x, y and z point, in our axes, (3, 3).

    Raises TracksError for words that are not three directions.
    """
    found = re.findall(r"[a-z]+", axes.lower().replace("backward", "back"))
    labels = [word for word in found if word in ("x", "y", "z")]
    words = [word for word in found if word in DIRECTIONS]
    order = labels or ["x", "y", "z"]
    rows = {label: DIRECTIONS[word] for label, word in zip(order, words, strict=False)}
    matrix = np.array([rows.get(label, (0, 0, 0)) for label in "xyz"], dtype=float)
    if len(words) != 3 or len(order) != 3 or abs(np.linalg.det(matrix)) != 1:
        raise TracksError(
            f'the axes are given as "{axes}"; say where x, y and z point, one of forward/back, one '
            'of up/down and one of right/left, for example "x right, y forward, z up"'
        )
    return matrix


def _in_space(tracks: AnyPoints) -> AnyPoints:
    """Return tracks in space if the body stands in our axes.

    Turned round where the lifter faces the other way; TracksError for any
    other axes, which says what they look like.
    """
    rise = _between(tracks, "ankle", "hip")
    body_axes = found_axes(tracks)
    if _nearest_axis(rise)[1] != 1:
        raise TracksError(
            f"the hips are not above the ankles along y (hips minus ankles: {_words(rise)} m). "
            "Say where the axes point when reading",
            ". It looks like " if body_axes else ", for example ",
            Argument("axes", (body_axes or AXES_EXAMPLE,)),
        )
    if body_axes is None:
        return tracks.noting("Which way the lifter faces could not be checked: no toes, one hip.")
    if body_axes == "x back, y up, z left":
        tracks = turned(tracks, body_axes)
    elif body_axes not in (AXES["3d"], LEFT_HANDED):
        swapped = ""
        if np.linalg.det(_matrix(body_axes)) < 0:
            swapped = " (these are left-handed: perhaps right and left are swapped instead)"
        raise TracksError(
            "the lifter does not face along x. It looks like ",
            Argument("axes", (body_axes,)),
            f"{swapped}; give that when reading",
        )
    lead = _knees_go(tracks, np.array([0.0, 1.0, 0.0]))
    if lead[0] < -BEHIND_M:
        raise TracksError(
            f"at the lowest the knees are {BODY_LENGTH.words(-lead[0])} behind the hips, as "
            "no squat shows: x points back, or heels and toes, or hips and knees, are exchanged. "
            "Look at the labels and at the axes"
        )
    across = _middle(tracks, "hip_r") - _middle(tracks, "hip_l")
    if across[2] < 0:
        raise TracksError(
            "hip_r lies to the left of hip_l: either right and left are swapped, or one axis is; "
            "name the points anew or declare the axes, for example ",
            Argument("axes", (LEFT_HANDED,)),
        )
    return _note_turn(tracks, across)


def _note_turn(tracks: AnyPoints, across: NDArray[np.float64]) -> AnyPoints:
    """Return tracks with a note if the line of the hips is turned, seen from above."""
    angle = np.degrees(np.arctan2(across[0], across[2]))
    if np.isnan(angle) or abs(angle) <= TURNED_DEG:
        return tracks
    return tracks.noting(
        f"The line of the hips is turned by {abs(angle):.0f}° against the axes; side and front "
        "readings suffer."
    )


def _upright(tracks: AnyPoints) -> AnyPoints:
    """Return a picture with y up; a note says so where it pointed down."""
    rise = _between(tracks, "ankle", "hip")[1]
    if np.isnan(rise) or rise > 0:
        return tracks
    return tracks.noting(
        "y pointed down, as in picture files; it was turned to point up.",
        positions=tracks.positions * (1, -1),
    )


def _facing(tracks: AnyPoints) -> AnyPoints:
    """Return a picture with x as its view's axes say, mirrored where it was not."""
    if tracks.view == "front":
        tracks = _noting_a_side_view(tracks)
        ahead = (_middle(tracks, "hip_l") - _middle(tracks, "hip_r"))[0]
        words = (
            "The lifter's right was on the picture's right, as in a mirror or from behind; x was "
            "turned round."
        )
    else:
        ahead = _ahead(tracks)
        words = "The lifter faced left; the picture was mirrored so that forward is +x."
    if np.isnan(ahead) or ahead == 0:
        return tracks.noting("Which way the lifter faces could not be checked.")
    if ahead > 0:
        return tracks
    names = tracks.names
    if tracks.view == "side" and {"hip_r", "hip_l"} <= set(names):
        # In a mirror the left leg, the near one here, is the right one.
        other = {"_r": "_l", "_l": "_r"}
        names = tuple(name[:-2] + other.get(name[-2:], name[-2:]) for name in names)
        words += " As in a mirror, right is called left, so that the near leg is the right one."
    return tracks.noting(words, positions=tracks.positions * (-1, 1), names=names)


def _noting_a_side_view(tracks: AnyPoints) -> AnyPoints:
    """Return a front view, with a note where it looks like one from the side."""
    pairs = [(f"{joint}_r", f"{joint}_l") for joint in ("hip", "knee", "ankle")]
    if not all({*pair} <= {*tracks.names} for pair in pairs):
        return tracks
    apart = max(_median(np.abs(tracks[right] - tracks[left]))[0] for right, left in pairs[1:])
    if not abs(np.mean(_leads(tracks))) > ASIDE * apart:  # nan tells nothing
        return tracks
    return tracks.noting(
        "At the lowest both knees are to one side of the hips, as no front view shows them: is "
        "this a side view?"
    )


def _knees_go(tracks: PointsProtocol, up: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return where the knees are from the hips at the lowest, level, (3,).

    In the unit of the positions. nan where the legs are never bent: knees
    are then under the hips.
    """
    lines = []
    for side in "rl":
        if f"hip_{side}" in tracks and f"knee_{side}" in tracks:
            hip, knee = tracks[f"hip_{side}"], tracks[f"knee_{side}"]
            low = _lowest(hip, up)
            thigh = _median(knee[low] - hip[low])
            level = thigh * (up == 0)
            if np.linalg.norm(level) > BENT_SHARE * np.linalg.norm(thigh):
                lines.append(level)
    return np.mean(lines, axis=0) if lines else np.full(up.size, np.nan)


def _ahead(tracks: PointsProtocol) -> float:
    """Return how far toes are right of heels, or knees of hips at the lowest."""
    foot, leads = _between(tracks, "heel", "toe")[0], _leads(tracks)
    if not np.isnan(foot):
        return float(foot)
    return float(np.nanmean(leads)) if not np.isnan(leads).all() else np.nan


def _leads(tracks: PointsProtocol) -> list[float]:
    """Return how far knees are right of hips at the lowest, for each leg there is."""
    leads = []
    for side in "rl":
        if f"hip_{side}" in tracks and f"knee_{side}" in tracks:
            hip, knee = tracks[f"hip_{side}"], tracks[f"knee_{side}"]
            low = _lowest(hip)
            leads.append(_median(knee[low, 0] - hip[low, 0]))
    return leads


def _between(tracks: PointsProtocol, start: str, end: str) -> NDArray[np.float64]:
    """Return the middle vector from one point to another, mean of the sides."""
    sides = [
        _median(tracks[f"{end}_{side}"] - tracks[f"{start}_{side}"])
        for side in "rl"
        if f"{end}_{side}" in tracks and f"{start}_{side}" in tracks
    ]
    sides = [vector for vector in sides if not np.isnan(vector).any()]
    if sides:
        return np.mean(sides, axis=0)
    # From a hip of one side to an ankle of the other is up all the same.
    return _either(tracks, end) - _either(tracks, start)


def _either(tracks: PointsProtocol, joint: str) -> NDArray[np.float64]:
    """Return the usual place of a joint, of whichever side there is."""
    places = [_middle(tracks, f"{joint}_{side}") for side in "rl"]
    places = [place for place in places if not np.isnan(place).any()]
    return np.mean(places, axis=0) if places else np.full(tracks.positions.shape[2], np.nan)


def _middle(tracks: PointsProtocol, name: str) -> NDArray[np.float64]:
    """Return the usual place of a point, (axis,); nan without it."""
    if name not in tracks:
        return np.full(tracks.positions.shape[2], np.nan)
    return _median(tracks[name])


def _median(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the median (…) of values (time, …) over the frames without gaps."""
    unseen = np.isnan(values).any(axis=tuple(range(1, values.ndim)))
    seen = values[~unseen]
    return np.median(seen, axis=0) if len(seen) else np.full(values.shape[1:], np.nan)


def _nearest_axis(vector: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the unit vector along the axis that a vector is nearest to."""
    axis = np.zeros(vector.size)
    largest = int(np.argmax(np.abs(vector)))
    axis[largest] = np.sign(vector[largest])
    return axis


def _words(vector: NDArray[np.float64]) -> str:
    return ", ".join(f"{axis} {value:.2f}" for axis, value in zip("xyz", vector, strict=True))
