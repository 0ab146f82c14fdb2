"""What no body does: points, frames and recordings that are not one person squatting.

Each check compares what is recorded with a bound of data/limits.csv, which says where it is
from. A point that flies off for some frames is not seen in them; what is wrong throughout
is refused, in words that name the points and the moment. Bounds are wide: they are what no
body does, not what few do.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from squatlab import tables
from squatlab.segments import lengths_of
from squatlab.tracks.frames import runs
from squatlab.tracks.near import near_side
from squatlab.tracks.points import AnyPoints, PointsProtocol, TracksError
from squatlab.tracks.scale import full_length
from squatlab.units import BODY_LENGTH, READING

USUAL_LEG_M = 1.75 * (lengths_of("winter2009")["thigh"] + lengths_of("winter2009")["shank"])
"""Thigh and shank of a lifter of 1.75 m, m: the size of a picture without a scale."""

USUAL_THIGH_SHARE = 1.75 * lengths_of("winter2009")["thigh"] / USUAL_LEG_M

FEET = ("ankle", "heel", "toe")

WINDOW_S = 1.0
"""Where a point usually is, is told from so long around."""

STEP_S = 0.07
"""Speeds and accelerations are between moments so far apart: noise counts less."""

TOGETHER = 4
"""If most of so many points fly off at once it is no slip of one point."""

STEADY_S = 0.15
"""A length counts if it lasts so long."""


def _limit(quantity: str) -> float:
    """Return a bound of what a body does, in the unit of its row."""
    return tables.value("limits", name="body", quantity=quantity)


def _outside(value: float, quantity: str) -> bool:
    """Tell whether a value is below the least or above the most; one not known is not."""
    return value < _limit(f"{quantity}_least") or value > _limit(f"{quantity}_most")


def possible(tracks: AnyPoints) -> AnyPoints:
    """Return tracks without the frames in which a point flies off; a note names them.

    Tracks are in our axes. Raises TracksError for what no body does.
    """
    tracks = _without_flights(tracks)
    body = _Body(tracks)
    if not np.isfinite(body.leg_m):
        return tracks
    for check in (*STANDING_CHECKS, *(SQUATTING_CHECKS if body.squats else ())):
        for fault in check(body):
            words = fault if fault[-1] in ".?" else f"{fault}."
            raise TracksError(f"{words} No body does that: look at the labels and the frames")
    return tracks


class _Body:
    """Hold the points in metres, and the frames in which the lifter stands and is lowest.

    Without a scale metres are those of a usual leg.
    """

    def __init__(self, tracks: PointsProtocol) -> None:
        self.tracks, self.view, self.names = tracks, tracks.view, tracks.names
        self.rate = (tracks.times.size - 1) / float(tracks.times[-1] - tracks.times[0])
        leg = _leg(tracks)
        self.has_scale = tracks.units == "m" or bool(tracks.scale_px_per_m)
        self.leg_m = leg / (tracks.scale_px_per_m or 1.0) if self.has_scale else USUAL_LEG_M
        self.metres = tracks.positions * (self.leg_m / leg)
        hips = [self[f"hip_{s}"][:, 1] for s in "rl" if f"hip_{s}" in self.names]
        self.hips = _mean(np.stack(hips)) if hips else np.full(tracks.times.size, np.nan)

    def __contains__(self, name: str) -> bool:
        return name in self.names

    def __getitem__(self, name: str) -> NDArray[np.float64]:
        return self.metres[:, self.names.index(name)]

    @property
    def squats(self) -> bool:
        """Return whether the hips go down at all."""
        return self.travel_m >= _limit("travel_least")

    @cached_property
    def _range(self) -> tuple[float, float]:
        seen = self.hips[np.isfinite(self.hips)]
        return tuple(np.quantile(seen, [0.02, 0.98])) if seen.size else (np.nan, np.nan)

    @property
    def travel_m(self) -> float:
        """Return how far the hips go up and down."""
        low, high = self._range
        return high - low

    @cached_property
    def standing(self) -> NDArray[np.bool_]:
        """Return in which frames the hips are in the highest tenth of their way."""
        return self.hips >= self._range[1] - 0.1 * self.travel_m

    @cached_property
    def lowest(self) -> NDArray[np.bool_]:
        """Return in which frames the hips are in the lowest tenth of their way."""
        return self.hips <= self._range[0] + 0.1 * self.travel_m

    @cached_property
    def lower_half(self) -> NDArray[np.bool_]:
        """Return in which frames the hips are in the lower half of their way."""
        return self.hips <= self._range[0] + 0.5 * self.travel_m

    @cached_property
    def sides(self) -> str:
        """Return which legs are looked at: from the side the one that is seen better."""
        legs = self._legs("hip", "knee", "ankle") or self._legs("hip", "knee")
        if self.view != "side" or len(legs) < 2:
            return "".join(legs)
        return near_side(self.tracks)

    def _legs(self, *joints: str) -> list[str]:
        """Return the sides of which all these joints are among the points."""
        return [s for s in "rl" if all(f"{joint}_{s}" in self.names for joint in joints)]

    @property
    def top(self) -> str | None:
        """Return the point at the top of the trunk."""
        near = self.sides[:1] or "r"
        return next((n for n in ("c7", f"shoulder_{near}") if n in self.names), None)

    def of(self, joint: str, side: str) -> str:
        """Return a point's name: of a side where joints have sides."""
        return f"{joint}_{side}" if f"{joint}_{side}" in self.names else joint

    def line(self, first: str, second: str) -> NDArray[np.float64] | None:
        """Return the line from one point to another (time, axis), None without both."""
        if first in self.names and second in self.names:
            return self[second] - self[first]
        return None

    def when(self, frames: NDArray[np.bool_]) -> str:
        """Return the first frame of some in words."""
        first = int(np.argmax(frames))
        return f"at {self.tracks.times[first]:.2f} s (frame {first + 1})"


LEG = (("hip", "knee"), ("knee", "ankle"))


def _leg(tracks: PointsProtocol) -> float:
    """Return the full length of thigh and shank; a usual shank's to the thigh without ankles."""
    thigh, shank = (_longest(tracks, upper, lower) for upper, lower in LEG)
    return thigh / USUAL_THIGH_SHARE if np.isnan(shank) else thigh + shank


def _longest(tracks: PointsProtocol, upper: str, lower: str) -> float:
    """Return the full length of the longer of two legs' segments."""
    spans = [
        full_length(tracks[f"{upper}_{s}"] - tracks[f"{lower}_{s}"])
        for s in "rl"
        if f"{upper}_{s}" in tracks and f"{lower}_{s}" in tracks
    ]
    return float(np.fmax.reduce(spans, initial=np.nan))


# Points that fly off


def _without_flights(tracks: AnyPoints) -> AnyPoints:
    """Return tracks without the frames in which a point is far from where it usually is.

    Usual is the middle of a second around; a squat is over no faster.
    Raises TracksError for a point that flies off too often.
    """
    leg = _leg(tracks)
    known = tracks.units == "m" or tracks.scale_px_per_m
    per_m = (tracks.scale_px_per_m or 1.0) if known else leg / USUAL_LEG_M
    if not np.isfinite(per_m):
        return tracks
    positions = tracks.positions
    away = np.linalg.norm(positions - _usual(positions, tracks.times), axis=-1) / per_m
    is_foot = np.array([name.rpartition("_")[0] in FEET for name in tracks.names])
    most = np.where(is_foot, _limit("foot_off"), _limit("off"))
    with np.errstate(invalid="ignore"):
        flying = away > most
    if not flying.any():
        return tracks
    together = flying.sum(axis=1) > _limit("off_share") * len(tracks.names)
    if together.any() and len(tracks.names) >= TOGETHER:
        raise TracksError(
            f"most points are far from where they are around that moment in frames "
            f"{_ranges(together)}. No body does that: cut the recording there"
        )
    words = []
    for column in np.flatnonzero(flying.any(axis=0)):
        name, frames = tracks.names[column], flying[:, column]
        seen = np.isfinite(away[:, column]).sum()
        furthest = float(np.nanmax(away[:, column]))
        where = f"{name} is up to {furthest:.2g} m from where it is around that moment in frames "
        where += _ranges(frames)
        if frames.sum() > _limit("off_share") * seen:
            raise TracksError(
                f"{where}, {100 * frames.sum() / seen:.0f} % of those in which it is seen. No body "
                "does that: track it again, or leave it out"
            )
        words.append(f"{where}: it counts as not seen there.")
    positions = np.where(flying[..., np.newaxis], np.nan, positions)
    positions.flags.writeable = False
    tracks = tracks.noting(words[0], positions=positions)
    for sentence in words[1:]:
        tracks = tracks.noting(sentence)
    return tracks


def _usual(positions: NDArray[np.float64], times: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return where points (time, point, axis) usually are: medians by the second, joined."""
    rate = (times.size - 1) / float(times[-1] - times[0])
    length = min(max(3, round(WINDOW_S * rate)), times.size)
    count = times.size // length
    # The last piece is as long as the others, and laps over the one before.
    begins = np.append(np.arange(count) * length, times.size - length)
    pieces = positions[begins[:, np.newaxis] + np.arange(length)]
    middles = _median(pieces, axis=1)
    at = times[begins + length // 2]
    usual = np.empty_like(positions)
    for point in range(positions.shape[1]):
        known = np.isfinite(middles[:, point, 0])
        for axis in range(positions.shape[2]):
            usual[:, point, axis] = (
                np.interp(times, at[known], middles[known, point, axis]) if known.any() else np.nan
            )
    return usual


def _ranges(frames: NDArray[np.bool_]) -> str:
    """Return frames in words, counted from 1: "40–45, 80"."""
    spans = [
        f"{begin + 1}–{end}" if end - begin > 1 else f"{begin + 1}"
        for begin, end in zip(*runs(frames), strict=True)
    ]
    return ", ".join(spans[:4]) + (f" and {len(spans) - 4} more" if len(spans) > 4 else "")


# What is looked at in the whole


def _shakes(body: _Body) -> Iterator[str]:
    """Look for points that jump from frame to frame."""
    # White noise of SD s gives second differences of SD √6 s.
    bends = np.abs(np.diff(body.metres, 2, axis=0)) / np.sqrt(6)
    noise = 1.48 * _median(bends, axis=0).max(axis=-1)
    for name, sd in zip(body.names, noise, strict=True):
        if sd > _limit("shake"):
            yield f"{name} jumps by about {BODY_LENGTH.words(sd)} from every frame to the next"


def _size(body: _Body) -> Iterator[str]:
    """Look at the size of the legs, where that is known."""
    if body.has_scale and _outside(body.leg_m, "leg"):
        yield (
            f"thigh and shank together are {body.leg_m:.2f} m long; people's are "
            f"{_limit('leg_least'):g} to {_limit('leg_most'):g} m. Look at the scale and the unit"
        )


class _Span(NamedTuple):
    """Say how far apart two points of a standing lifter may be, by rows of the limits."""

    first: str
    second: str
    row: str


SPANS = (
    _Span("hip", "l5", "hip_to_l5"),
    _Span("l5", "c7", "l5_to_c7"),
    _Span("c7", "head", "c7_to_head"),
    _Span("c7", "bar", "c7_to_bar"),
    _Span("heel", "toe", "heel_to_toe"),
    _Span("ankle", "heel", "ankle_to_heel"),
    _Span("ankle", "toe", "ankle_to_toe"),
)
ACROSS = (
    _Span("hip_r", "hip_l", "hips"),
    _Span("knee_r", "knee_l", "knees"),
    _Span("ankle_r", "ankle_l", "ankles"),
    _Span("shoulder_r", "shoulder_l", "shoulders"),
    _Span("bar_end_r", "bar_end_l", "bar_ends"),
)


def _spans(body: _Body) -> Iterator[str]:
    """Look at how far apart points are while standing."""
    spans = [
        span._replace(first=body.of(span.first, side), second=body.of(span.second, side))
        for span in SPANS
        for side in body.sides
    ]
    spans += ACROSS if body.view in ("front", "3d") else ()
    for span in dict.fromkeys(spans):
        line = body.line(span.first, span.second)
        if line is None:
            continue
        apart = float(_median(np.linalg.norm(line[body.standing], axis=-1)))
        most = _limit(f"{span.row}_most")
        least = _limit(f"{span.row}_least") if span in ACROSS and span.row in LEASTS else 0.0
        if apart > most or apart < least:
            asked = " Is this a side view?" if body.view == "front" and apart < least else ""
            yield (
                f"{span.first} and {span.second} are {BODY_LENGTH.words(apart)} apart while the "
                f"lifter stands; a person's are {BODY_LENGTH.figure(least)} to "
                f"{BODY_LENGTH.words(most)}.{asked}"
            )


LEASTS = ("hips", "shoulders", "bar_ends")
"""What cannot be so near either: two points on one spot are one."""


def _upright(body: _Body) -> Iterator[str]:
    """Look at what is above what while standing, and in proportion."""
    for side in body.sides:
        ankle, knee, hip = (f"{joint}_{side}" for joint in ("ankle", "knee", "hip"))
        top = body.top
        stack = [name for name in (ankle, knee, hip, top) if name in body.names]
        for lower, upper in zip(stack, stack[1:], strict=False):
            rise = float(_median((body[upper] - body[lower])[body.standing, 1]))
            if rise < _limit("next_joint_above"):
                yield (
                    f"while the lifter stands {upper} is {BODY_LENGTH.words(rise)} above {lower}; "
                    f"it must be {BODY_LENGTH.words(_limit('next_joint_above'))} or more: are the "
                    "two exchanged, or is the picture turned"
                )
        if top and "head" in body:
            rise = float(_median((body["head"] - body[top])[body.standing, 1]))
            if rise < -_limit("head_below"):
                yield f"the head is {BODY_LENGTH.words(-rise)} below {top} while the lifter stands"
        if ankle in body:
            thigh, shank = (
                float(_median(np.linalg.norm(body.line(*pair)[body.standing], axis=-1)))
                for pair in ((knee, hip), (ankle, knee))
            )
            ratio = thigh / shank
            if _outside(ratio, "thigh_to_shank"):
                yield (
                    f"{hip} to {knee} is {ratio:.2g} times {knee} to {ankle}; a thigh is "
                    f"{_limit('thigh_to_shank_least'):g} to {_limit('thigh_to_shank_most'):g} "
                    "shanks"
                )
        if top:
            trunk = float(_median(np.linalg.norm(body.line(hip, top)[body.standing], axis=-1)))
            ratio = trunk / body.leg_m
            if _outside(ratio, "trunk_to_leg"):
                yield (
                    f"{hip} to {top} is {ratio:.2g} times thigh and shank; a trunk is "
                    f"{_limit('trunk_to_leg_least'):g} to {_limit('trunk_to_leg_most'):g}"
                )
        line = _median(body.line(stack[0], hip)[body.standing], axis=0)
        lean = float(np.degrees(np.arctan2(np.linalg.norm(np.delete(line, 1)), line[1])))
        if lean > _limit("standing_lean"):
            yield (
                f"while the lifter stands the line from {stack[0]} to {hip} leans by "
                f"{lean:.0f}° from upright: is the picture turned"
            )


def _lengths(body: _Body) -> Iterator[str]:
    """Look at whether segments keep their lengths.

    A picture shows what turns away from it shorter, never longer.
    """
    window = max(1, round(0.5 * STEADY_S * body.rate))
    for side in body.sides:
        for first, second in _segments(body, side):
            length = np.linalg.norm(body.line(first, second), axis=-1)
            standing = float(_median(length[body.standing]))
            # The least of a while around: only what lasts is long.
            longest = _running(np.fmin, length, window) / standing
            most = _limit("longer_in_space" if body.view == "3d" else "longer_in_picture")
            if np.nanmax(longest, initial=0.0) > most:
                frames = longest > most
                yield (
                    f"{first} to {second} is {np.nanmax(longest):.2g} times as long "
                    f"{body.when(frames)} as while the lifter stands"
                )
            shortest = _running(np.fmax, length, window) / standing
            least = _limit("shorter_in_space")
            if body.view == "3d" and np.nanmin(shortest, initial=9.0) < least:
                yield (
                    f"{first} to {second} is {np.nanmin(shortest):.2g} times as long "
                    f"{body.when(shortest < least)} as while the lifter stands"
                )


def _segments(body: _Body, side: str) -> list[tuple[str, str]]:
    """Return the ends of thigh, shank and trunk that are among the points."""
    segments = [(f"hip_{side}", f"knee_{side}"), (f"knee_{side}", f"ankle_{side}")]
    if body.top:
        segments.append((body.of(body.top, side), f"hip_{side}"))
    return [ends for ends in segments if all(end in body for end in ends)]


def _proportion(body: _Body) -> Iterator[str]:
    """Look at whether a side view is stretched.

    Segments of constant length have dy² = l² − a² dx², a the stretch of
    the picture upright against across; the slope over all frames gives a.
    What turns out of the picture makes a larger, by 1 / cosine.
    """
    if body.view != "side":
        return
    for side in body.sides:
        stretch = stretch_of(body, side)
        if _outside(stretch, "stretch"):
            yield (
                "the picture seems stretched: for thigh, shank and trunk to keep their lengths x "
                f"must be {stretch:.2f} times as large against y. Give x and y in px of the "
                "picture as filmed, or multiply x and y by its true width and height"
            )


def stretch_of(body: _Body, side: str) -> float:
    """Return by what to multiply x for segments to keep their lengths, or nan."""
    product, square = 0.0, 0.0
    for first, second in _segments(body, side):
        line = body.line(first, second)
        across, up = line[:, 0] ** 2, line[:, 1] ** 2
        seen = np.isfinite(across)
        if seen.sum() < 3:
            continue
        across, up = across[seen] - across[seen].mean(), up[seen] - up[seen].mean()
        product, square = product - float(across @ up), square + float(across @ across)
    if not square or product <= 0:
        return np.nan
    return float(np.sqrt(product / square))


def _bending(body: _Body) -> Iterator[str]:
    """Look at which way joints bend at the lowest, and how far."""
    low = body.lowest
    for side in body.sides:
        ankle, knee, hip = (f"{joint}_{side}" for joint in ("ankle", "knee", "hip"))
        over_ankle = ((knee, "knee_over_ankle"), (hip, "hip_over_ankle"))
        for upper, row in over_ankle if ankle in body else ():
            rise = float(_median((body[upper] - body[ankle])[low, 1]))
            if rise < _limit(row):
                yield (
                    f"at the lowest {upper} is only {BODY_LENGTH.words(rise)} above {ankle}, as if "
                    "through the floor"
                )
        if body.view not in ("side", "3d"):
            continue
        if ankle in body:
            yield from _leg_bends(body, side)
        if body.top:
            trunk = _lean(_median(body.line(hip, body.of(body.top, side))[low], axis=0))
            if _outside(trunk, "trunk_lean"):
                yield f"at the lowest the trunk leans forward by {trunk:.0f}°"


def _leg_bends(body: _Body, side: str) -> Iterator[str]:
    """Look at which way a knee and a shank bend at the lowest, and how far."""
    low = body.lowest
    ankle, knee, hip = (f"{joint}_{side}" for joint in ("ankle", "knee", "hip"))
    shank = _lean(_median(body.line(ankle, knee)[low], axis=0))
    thigh = _lean(_median(body.line(knee, hip)[low], axis=0))
    flexion = shank - thigh
    if flexion < _limit("knee_bent_least"):
        yield (
            f"at the lowest {knee} is bent by {flexion:.0f}°, backward or not at all, though "
            f"the hips are {BODY_LENGTH.words(body.travel_m)} lower than standing"
        )
    if flexion > _limit("knee_bent_most"):
        yield f"at the lowest {knee} is bent by {flexion:.0f}°, thigh through calf"
    if _outside(shank, "shank_lean"):
        yield f"at the lowest the shank from {ankle} to {knee} leans forward by {shank:.0f}°"


def _lean(line: NDArray[np.float64]) -> float:
    """Return how far a line leans forward from upright, °."""
    return float(np.degrees(np.arctan2(line[0], line[1])))


def _goes_along(body: _Body) -> Iterator[str]:
    """Look for points that stay on a spot while the hips go down."""
    moved = float(_median(body.hips[body.standing]) - _median(body.hips[body.lowest]))
    for name in body.names:
        joint = name[:-2] if name[-2:] in ("_r", "_l") else name
        way = _median(body[name][body.standing], axis=0) - _median(body[name][body.lowest], axis=0)
        if joint == "knee" and name[-1] in body.sides:
            if np.linalg.norm(way) < _limit("knee_moves"):
                yield (
                    f"{name} stays on one spot, within {READING.words(np.linalg.norm(way))}, while "
                    f"the hips go down {BODY_LENGTH.words(moved)}"
                )
        elif joint in ("c7", "l5", "head", "bar", "bar_end", "shoulder"):
            if way[1] < _limit("goes_along") * moved:
                yield (
                    f"{name} goes down by {BODY_LENGTH.words(way[1])} while the hips go down "
                    f"{BODY_LENGTH.words(moved)}"
                )


def _feet(body: _Body) -> Iterator[str]:
    """Look at whether the feet stay while the hips are low, and nearly so between squats."""
    window = max(1, round(0.5 * STEADY_S * body.rate))
    for side in body.sides:
        name = f"ankle_{side}"
        if name not in body:
            continue
        height, middles = body[name][:, 1], []
        # Against the whole film, not against the highest hips: those may be of a jump.
        rise = abs(float(_median(height[body.lowest]) - _median(height)))
        if rise > _limit("foot_rises"):
            yield f"{name} moves {BODY_LENGTH.words(rise)} up or down with the hips"
        for begin, end in zip(*runs(body.lower_half), strict=True):
            part = body[name][begin:end]
            part = part[np.isfinite(part[:, 0])]
            if len(part) < 2 * window + 1:
                continue
            calm = _moving_mean(part, window)
            moved = float(np.linalg.norm(np.ptp(calm, axis=0)))
            middles.append(np.median(part, axis=0))
            if moved > _limit("foot_moves"):
                yield (
                    f"{name} moves by {BODY_LENGTH.words(moved)} while the hips are low "
                    f"(frames {begin + 1}–{end})"
                )
        if len(middles) > 1:
            apart = float(np.linalg.norm(np.ptp(np.stack(middles), axis=0)))
            if apart > _limit("feet_wander"):
                yield f"{name} is up to {apart:.1f} m from squat to squat: somebody walks"


def _haste(body: _Body) -> Iterator[str]:
    """Look at how fast the hips move, how hard they turn round, how high they go."""
    step = max(1, round(STEP_S * body.rate))
    gap_s = step / body.rate
    frame_speed = np.abs(np.diff(body.hips, prepend=body.hips[0])) * body.rate
    if np.nanmax(frame_speed, initial=0.0) > _limit("hip_frame_speed"):
        frames = frame_speed > _limit("hip_frame_speed")
        yield f"the hips jump {body.when(frames)}: are frames missing, or is it another film"
    if body.hips.size <= 4 * step:
        return
    calm = _moving_mean(body.hips[:, np.newaxis], max(1, step // 2))[:, 0]
    speed = np.abs(calm[2 * step :] - calm[: -2 * step]) / (2 * gap_s)
    if np.nanmax(speed, initial=0.0) > _limit("hip_speed"):
        frames = np.pad(speed > _limit("hip_speed"), step)
        yield (
            f"the hips move at {np.nanmax(speed):.1f} m/s {body.when(frames)}, faster than they "
            "would fall: is the frame rate right"
        )
    bend = np.abs(calm[2 * step :] - 2 * calm[step:-step] + calm[: -2 * step]) / gap_s**2
    if np.nanmax(bend, initial=0.0) > _limit("hip_acceleration"):
        frames = np.pad(bend > _limit("hip_acceleration"), step)
        yield (
            f"the hips accelerate by {np.nanmax(bend):.0f} m/s² {body.when(frames)}: is the frame "
            "rate right"
        )
    height = _running(np.fmin, body.hips, step) - float(_median(body.hips[body.standing]))
    if np.nanmax(height, initial=0.0) > _limit("hips_fly"):
        frames = height > _limit("hips_fly")
        highest = BODY_LENGTH.words(np.nanmax(height))
        yield f"the hips are {highest} above standing {body.when(frames)}"


BodyCheck = Callable[[_Body], Iterator[str]]
STANDING_CHECKS: tuple[BodyCheck, ...] = (_shakes, _size, _upright, _spans)
SQUATTING_CHECKS: tuple[BodyCheck, ...] = (
    _haste,
    _feet,
    _goes_along,
    _proportion,
    _lengths,
    _bending,
)
"""In this order: the first that finds something speaks."""


def _mean(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the mean along the first axis of what is seen, nan where nothing is."""
    seen = np.isfinite(values)
    counts = seen.sum(axis=0)
    return np.where(counts, np.where(seen, values, 0.0).sum(axis=0) / np.maximum(counts, 1), np.nan)


def _median(values: NDArray[np.float64], axis: int = 0) -> NDArray[np.float64]:
    """Return the lower median along an axis of what is seen, nan where nothing is."""
    if not values.shape[axis]:
        return np.full(np.delete(values.shape, axis), np.nan)
    # nan sorts last.
    ordered = np.sort(values, axis=axis)
    middle = np.maximum(np.isfinite(values).sum(axis=axis, keepdims=True) - 1, 0) // 2
    return np.take_along_axis(ordered, middle, axis=axis).squeeze(axis)


def _running(extreme: np.ufunc, values: NDArray[np.float64], half: int) -> NDArray[np.float64]:
    """Return the extreme of values (time,) over ``half`` frames each way; nan at the ends.

    All nan where there are fewer frames than that.
    """
    result = np.full(values.size, np.nan)
    if values.size > 2 * half:
        windows = np.lib.stride_tricks.sliding_window_view(values, 2 * half + 1)
        result[half:-half] = extreme.reduce(windows, axis=-1)
    return result


def _moving_mean(values: NDArray[np.float64], half: int) -> NDArray[np.float64]:
    """Return the mean of values (time, …) over ``half`` frames each way, where there are all."""
    windows = np.lib.stride_tricks.sliding_window_view(values, 2 * half + 1, axis=0)
    return windows.mean(axis=-1)
