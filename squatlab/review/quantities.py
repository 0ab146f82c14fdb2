"""What is measured in a view, by name: angles and distances over time.

Everything that shows or judges a number about a recording reads it here: the
measurers of the faults, the lines drawn on a clip, a lift told in words.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from squatlab import tables
from squatlab.mechanics.legs import end_masses
from squatlab.mechanics.trunk import spot_of_upper_trunk
from squatlab.review.errors import CannotTell
from squatlab.review.perspective import SIGN, mean
from squatlab.review.view import LOWEST_SHARE, SEEN_SHARE, View
from squatlab.signals import Repetition, low_pass, onset
from squatlab.tracks.frames import runs

ONSET_HZ = 2.5
"""What is kept of the angles whose onsets are compared [teaching-value]. In
300 trials the exact value stayed within 1 ms of that at 6 Hz, and the noise
fell from 33 to 20 ms at 60 frames per second, from 39 to 26 at 30."""

STEADY_S = 0.3
"""What is read at one moment, or at most, is the mean over this long around
it [teaching-value]: a single frame would be the one with the largest error."""

DEPTH_S = 0.1
"""The thigh against level is the mean over this long [teaching-value]."""

LEAST_LEAN_DEG = 15.0
"""A shank more upright than this points nowhere."""

STRAIGHT_DEG = 3.0
"""A camera is put up straight to within this; more is the lifter's own turn."""

THIGH_OUT_MOST_DEG = tables.value("limits", name="off_square", quantity="thigh_out_most")
"""A thigh that points further out of a side film than this at the bottom shows
that the camera stood at an angle."""

GAZE_AHEAD_M, GAZE_AHEAD_LOW_BAR_M = (
    tuple(
        tables.value("limits", name="gaze", quantity=f"{bar}_bar_{end}")
        for end in ("least", "most")
    )
    for bar in ("high", "low")
)
"""Where the eyes rest ahead of the toes, nearest and furthest, m."""

LOW_BAR_M = tables.value("limits", name="bar", quantity="low_from")

TOE_AHEAD_M = 0.13
"""Where the toe is, ahead of mid-foot, if it is not tracked: half a foot."""


class Quantity(NamedTuple):
    """Hold a quantity in its unit over time, (…, time); nan is not seen.

    ``joints`` are the points it rests on.
    """

    id: str
    label: str
    unit: str
    series: NDArray[np.float64]
    joints: tuple[str, ...]


class Onsets(NamedTuple):
    """Hold when hip and knee begin to bend, s, (…,)."""

    hip: ArrayLike
    knee: ArrayLike


class quantity(cached_property):
    """Make a method that returns a series into one that returns a Quantity once."""

    def __init__(self, label: str, unit: str, *joints: str) -> None:
        self.label, self.unit, self.joints = label, unit, joints

    def __call__(self, series: Callable[[Any], NDArray[np.float64]]) -> quantity:
        """Take the method."""
        name = series.__name__

        def made(quantities: Any) -> Quantity:
            values = series(quantities)
            return Quantity(name, self.label, self.unit, values, self.joints)

        super().__init__(made)
        self.__doc__ = series.__doc__
        return self


class Quantities:
    """Read a view. Each attribute is a `Quantity`, computed when first used.

    From standing means less the mean while standing before the first
    repetition; `of` a repetition, before that one. Attributes raise
    CannotTell where a point is missing or the lifter never stands still.
    """

    def __init__(self, view: View, repetition: Repetition | None = None) -> None:
        self.view = view
        if repetition is None and view.repetitions:
            repetition = view.repetitions[0]
        self.repetition = repetition

    # The side: hips and spine

    @quantity("trunk leans forward", "°", "hip", "c7")
    def trunk_lean(self) -> NDArray[np.float64]:
        """Lean of the line from the hip to C7 (or the shoulder)."""
        return np.degrees(_lean(self.view[self.view.top] - self.view["hip"]))

    @quantity("low back rounder than standing", "°", "c7", "l5", "hip")
    def low_back(self) -> NDArray[np.float64]:
        """Lumbar flexion: how far the pelvis leans less than the trunk, from standing."""
        return self.steadied(self.low_back_unsteadied)

    @cached_property
    def low_back_unsteadied(self) -> NDArray[np.float64]:
        """Return `low_back` (…, time) frame by frame, °."""
        view = self.view
        pelvis, trunk = view["l5"] - view["hip"], view["c7"] - view["l5"]
        return self.from_standing(np.degrees(_lean(trunk) - _lean(pelvis)), ("c7", "l5", "hip"))

    @quantity("thigh above level", "°", "hip", "knee")
    def thigh_level(self) -> NDArray[np.float64]:
        """How far the thigh is from level, below level negative.

        asin of the hip's height over the knee's, over the length of the
        thigh while standing: the thigh also turns out of the picture, which
        shortens its line but not its rise.
        """
        thigh, joints = self.view["hip"] - self.view["knee"], ("hip", "knee")
        self._need_square()
        standing = self._standing_vector(thigh, joints)
        length = np.linalg.norm(standing, axis=-1)[..., np.newaxis]
        rise = self.steadied(thigh[..., 1], DEPTH_S)
        return np.degrees(np.arcsin(np.clip(rise / length, -1, 1)))

    def _need_square(self) -> None:
        """Raise CannotTell for a side film taken from an angle.

        What is further from the camera then looks higher or lower, by as
        much as the camera is above or below it, and so do hips behind knees.
        """
        if self.view.kind == "side" and self.thigh_out_deg > THIGH_OUT_MOST_DEG:
            raise CannotTell(
                "the camera stands at an angle: at the bottom the thigh points "
                f"{self.thigh_out_deg:.0f}° out of the picture; film square from the side"
            )

    @cached_property
    def thigh_out_deg(self) -> float:
        """Return how far the near thigh points out of a side film at the bottom, °.

        As filmed, whatever is estimated of its errors; nan where it is not
        seen, or hangs straight down.
        """
        view = self.view
        hip, knee = (view.names.index(f"{joint}_{view.near}") for joint in ("hip", "knee"))
        thigh = view.unfiltered[:, knee] - view.unfiltered[:, hip]
        length = np.linalg.norm(mean(thigh[self._standing_frames()], 0))
        across, down = mean(thigh[view.lowest(self.repetition, LOWEST_SHARE)], 0)
        # What the rise leaves of the length is level; across the picture its cosine is seen.
        level = np.sqrt(max(length**2 - down**2, 0.0))
        return float(np.degrees(np.arccos(min(abs(across) / level, 1.0)))) if level > 0 else np.nan

    @quantity("thigh's line above level", "°", "hip", "knee")
    def thigh_line(self) -> NDArray[np.float64]:
        """Slope of the line from the knee up to the hip, as a protractor reads it."""
        thigh = self.view["hip"] - self.view["knee"]
        return np.degrees(np.arctan2(thigh[..., 1], -thigh[..., 0]))

    @quantity("knee bent", "°", "hip", "knee", "ankle")
    def knee_flexion(self) -> NDArray[np.float64]:
        """The angle between the lines of shank and thigh; 0 is a straight leg."""
        view = self.view
        shank, thigh = view["knee"] - view["ankle"], view["hip"] - view["knee"]
        along = _dot(shank, thigh)
        # |a × b|² = |a|²|b|² − (a·b)²; its root with a·b gives the angle well near 0 too.
        across = np.sqrt(np.maximum(_dot(shank, shank) * _dot(thigh, thigh) - along**2, 0.0))
        return np.degrees(np.arctan2(across, along))

    @quantity("shin leans forward", "°", "knee", "ankle")
    def shank_lean(self) -> NDArray[np.float64]:
        """Lean of the line from the ankle to the knee."""
        return np.degrees(_lean(self.view["knee"] - self.view["ankle"]))

    @cached_property
    def bending(self) -> NDArray[np.float64]:
        """Return flexion of hip and knee as seen from the side, °, (2, …, time).

        Filtered so far that their onsets can be told apart.
        """
        view = self.view
        thigh = np.degrees(_lean(view["knee"] - view["hip"], down=True))
        both = np.stack([self.trunk_lean.series + thigh, thigh + self.shank_lean.series])
        along_time = np.moveaxis(both, -1, 0)
        slow = low_pass(along_time, view.rate, min(ONSET_HZ, 0.25 * view.rate))
        return np.moveaxis(slow, 0, -1)

    @cached_property
    def bend_onsets(self) -> Onsets:
        """Return when hip and knee begin to bend, nan where that is not seen."""
        joints = (self.view.top, "hip", "knee", "ankle")
        rest = self._standing_mean(self.bending, joints)
        hip, knee = self.onset_of(self.bending, rest)
        return Onsets(hip, knee)

    # The side: knees, feet, bar, head

    @quantity("knee ahead of the toe", "cm", "knee", "toe")
    def knee_ahead(self) -> NDArray[np.float64]:
        """How far the knee is ahead of the toe."""
        self.view.need_scale()
        ahead = self.view["knee"][..., 0] - self.view["toe"][..., 0]
        return 100 * self.steadied(ahead)

    @quantity("heel above standing", "cm", "heel")
    def heel_height(self) -> NDArray[np.float64]:
        """How high the heel is above where it stood."""
        self.view.need_scale()
        return self.from_standing(100 * self.view["heel"][..., 1], ("heel",))

    @quantity("bar ahead of mid-foot", "cm", "bar", "heel", "toe")
    def bar_ahead(self) -> NDArray[np.float64]:
        """How far the bar is ahead of the middle of the foot."""
        self.view.need_scale()
        return 100 * (self.view["bar"][..., 0] - self._mid_foot())

    @quantity(
        "weight ahead of standing, as bar",
        "cm",
        "hip",
        "knee",
        "ankle",
        "heel",
        "toe",
        "l5",
        "c7",
        "bar",
    )
    def weight_ahead(self) -> NDArray[np.float64]:
        """How far the weight has gone ahead of where it stood, as cm of bar.

        The centre of mass of lifter and bar, from the points and the
        declared masses. Its way from standing counts, not its place: a
        camera that stands 3° off moves mid-foot against the bar by a
        centimetre, and that is the same standing and squatting.
        """
        view = self.view
        if view.lifter is None or view.body_kg is None or not np.all(view.bar_kg):
            raise CannotTell("the mass of lifter and bar is not declared")
        view.need_scale()
        body, bar = (
            np.asarray(kg, dtype=float)[..., np.newaxis] for kg in (view.body_kg, view.bar_kg)
        )
        # Moving the bar by 1 cm moves the common centre by bar / (body + bar) cm.
        ratio = (body + bar) / bar
        ahead = 100 * ratio * self.centre_ahead(body, bar)
        return self.from_standing(ahead, Quantities.weight_ahead.joints)

    def centre_ahead(
        self, body_kg: NDArray[np.float64], bar_kg: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Return how far the centre of mass is ahead of mid-foot, m, (…, time).

        Both legs are as the near one.
        """
        view, lifter = self.view, self.view.lifter
        own_kg = float(lifter.mass_kg)
        shares = {joint: float(kg) / own_kg for joint, kg in end_masses(lifter).items()}
        hat, pelvis = float(lifter.mass("hat")) / own_kg, float(lifter.mass("pelvis")) / own_kg
        hip, l5, c7 = (view[name][..., 0] for name in ("hip", "l5", "c7"))
        # The upper trunk's centre, a share of the way from L5 to C7, whatever their distance.
        along = spot_of_upper_trunk(lifter).along - lifter.pelvis_m
        share = float(along / (lifter.hip_to_c7_m - lifter.pelvis_m))
        body = sum(part * view[joint][..., 0] for joint, part in shares.items())
        body = body + pelvis * (hip + lifter.centre("pelvis") * (l5 - hip))
        body = body + (hat - pelvis) * (l5 + share * (c7 - l5))
        total = (sum(shares.values()) + hat) * body_kg + bar_kg
        return (body_kg * body + bar_kg * view["bar"][..., 0]) / total - self._mid_foot()

    def _mid_foot(self) -> NDArray[np.float64]:
        return 0.5 * (self.view["heel"][..., 0] + self.view["toe"][..., 0])

    @quantity("head further back than the gaze needs", "°", "head", "c7")
    def head_back(self) -> NDArray[np.float64]:
        """How far the head is back beyond what the gaze needs, from standing.

        Eyes that rest on a spot of the floor come up a little as the lifter
        goes down; the head beyond that counts.
        """
        view, joints = self.view, ("head", "c7")
        back = -np.degrees(_lean(view["head"] - view["c7"]))
        beyond = self.from_standing(back, joints) - self._gaze_rise()
        return self.steadied(beyond)

    def _gaze_rise(self) -> NDArray[np.float64]:
        """Return how much further up than standing the eyes look, °, (…, time)."""
        view, standing = self.view, self._standing_frames()
        toe = np.array(TOE_AHEAD_M)
        if "toe" in view:
            toe = mean(view["toe"][..., 0])[..., np.newaxis]
        spots = np.array(GAZE_AHEAD_M)
        if "bar" in view:
            drop = mean((view["c7"][..., 1] - view["bar"][..., 1])[..., standing])
            is_low = drop[..., np.newaxis] > LOW_BAR_M
            spots = np.where(is_low, GAZE_AHEAD_LOW_BAR_M, GAZE_AHEAD_M)
        head = view["head"]
        at_first = mean(head[..., standing, :], -2)[..., np.newaxis, :]
        rises = []
        for spot in np.moveaxis(spots, -1, 0):
            rest = toe + spot[..., np.newaxis]
            standing_angle = np.arctan2(at_first[..., 1], rest - at_first[..., 0])
            rises.append(standing_angle - np.arctan2(head[..., 1], rest - head[..., 0]))
        # Whichever spot of the usual range asks for more.
        return np.degrees(np.maximum(*rises))

    # The front

    @quantity("right foot points out", "°", "toe_r", "heel_r")
    def foot_out_r(self) -> NDArray[np.float64]:
        """How far the right foot is turned out."""
        return self._foot_out("r")

    @quantity("left foot points out", "°", "toe_l", "heel_l")
    def foot_out_l(self) -> NDArray[np.float64]:
        """How far the left foot is turned out."""
        return self._foot_out("l")

    def _foot_out(self, side: str) -> NDArray[np.float64]:
        """Return the turnout of a foot (…, time), °, against the lifter's own front.

        What seems the camera's own turn is taken off, up to what a camera
        may be off; the rest is the lifter's.
        """
        yaw = np.degrees(np.nan_to_num(self.view.placed.yaw))
        of_the_lifter = yaw - np.clip(yaw, -STRAIGHT_DEG, STRAIGHT_DEG)
        against_both = self._turnout_r if side == "r" else self._turnout_l
        return against_both + SIGN[side] * of_the_lifter[..., np.newaxis]

    @cached_property
    def _turnout_r(self) -> NDArray[np.float64]:
        return self._turnout("r")

    @cached_property
    def _turnout_l(self) -> NDArray[np.float64]:
        return self._turnout("l")

    def _turnout(self, side: str) -> NDArray[np.float64]:
        """Return the turnout of a foot against the middle line of both, °, (…, time).

        From how far the toe is outside the heel and the foot's length: what
        a front view shows of its length is too short to go by.
        """
        view = self.view
        foot = view[f"toe_{side}"] - view[f"heel_{side}"]
        if view.kind == "3d":
            return np.degrees(np.arctan2(SIGN[side] * foot[..., 2], foot[..., 0]))
        yaw = np.nan_to_num(view.placed.yaw)[..., np.newaxis]
        # Back in the picture's own axes only the way across was seen.
        across = foot[..., 0] * np.sin(yaw) + foot[..., 2] * np.cos(yaw)
        length = np.asarray(view.placed.foot_m)[..., np.newaxis]
        turned = np.arcsin(np.clip(across / length, -1, 1))
        return np.degrees(SIGN[side] * (turned - yaw))

    @quantity("right knee points out", "°", "knee_r", "ankle_r")
    def knee_out_r(self) -> NDArray[np.float64]:
        """Where the right shank leans to, outward from straight ahead."""
        return self._knee_out("r")

    @quantity("left knee points out", "°", "knee_l", "ankle_l")
    def knee_out_l(self) -> NDArray[np.float64]:
        """Where the left shank leans to, outward from straight ahead."""
        return self._knee_out("l")

    def _knee_out(self, side: str) -> NDArray[np.float64]:
        """Return where a shank leans to, °, (…, time); nan where it is upright."""
        shank = self.view[f"knee_{side}"] - self.view[f"ankle_{side}"]
        outward = np.degrees(np.arctan2(SIGN[side] * shank[..., 2], shank[..., 0]))
        level = np.hypot(shank[..., 0], shank[..., 2])
        upright = np.degrees(np.arctan2(level, shank[..., 1])) < LEAST_LEAN_DEG
        return np.where(upright, np.nan, outward)

    @quantity("right knee inward of the foot", "°", "knee_r", "ankle_r", "toe_r", "heel_r")
    def knee_in_r(self) -> NDArray[np.float64]:
        """How far the right shank leans across the foot's plane, inward."""
        return self._knee_in("r")

    @quantity("left knee inward of the foot", "°", "knee_l", "ankle_l", "toe_l", "heel_l")
    def knee_in_l(self) -> NDArray[np.float64]:
        """How far the left shank leans across the foot's plane, inward."""
        return self._knee_in("l")

    def _knee_in(self, side: str) -> NDArray[np.float64]:
        """Return the angle of a shank across its foot's upright plane, °, (…, time).

        asin of the knee's distance inward from the plane through the ankle
        along the foot, over the length of the shank while standing. Unlike
        the direction in which a shank leans it is well-conditioned for an
        upright one.
        """
        view, turnout = self.view, self._turnout_r if side == "r" else self._turnout_l
        out = np.radians(self._standing_mean(turnout, (f"toe_{side}", f"heel_{side}")))
        out = out[..., np.newaxis]
        shank = view[f"knee_{side}"] - view[f"ankle_{side}"]
        standing = self._standing_vector(shank, (f"knee_{side}", f"ankle_{side}"))
        length = np.linalg.norm(standing, axis=-1)[..., np.newaxis]
        # The foot points along (cos, sin) of its turnout, forward and outward; inward across
        # it is (sin, −cos).
        inward = shank[..., 0] * np.sin(out) - SIGN[side] * shank[..., 2] * np.cos(out)
        return np.degrees(np.arcsin(np.clip(inward / length, -1, 1)))

    @quantity("knees apart", "cm", "knee_r", "knee_l")
    def knees_apart(self) -> NDArray[np.float64]:
        """How far the knees are from each other, across."""
        self.view.need_scale()
        return 100 * self._apart("knee")

    @quantity("knees apart", "heel widths", "knee_r", "knee_l", "heel_r", "heel_l")
    def knees_apart_in_heel_widths(self) -> NDArray[np.float64]:
        """The same against the distance of the heels, where there is no scale."""
        heels = self._apart("heel")
        return self._apart("knee") / np.where(heels > 0, heels, np.nan)

    def _apart(self, joint: str) -> NDArray[np.float64]:
        return np.abs(self.view[f"{joint}_r"][..., 2] - self.view[f"{joint}_l"][..., 2])

    @quantity("hips to the right of standing", "cm", "hip_r", "hip_l")
    def hip_shift(self) -> NDArray[np.float64]:
        """How far the middle of the hips is to the right of where it stood."""
        self.view.need_scale()
        return self.steadied(self.from_standing(100 * self._hips_middle(), ("hip_r", "hip_l")))

    @quantity("hips to the right of the feet", "cm", "hip_r", "hip_l", "heel_r", "toe_r")
    def hips_aside(self) -> NDArray[np.float64]:
        """How far the middle of the hips is to the right of that of the feet."""
        self.view.need_scale()
        ends = [f"{joint}_{side}" for joint in ("heel", "toe") for side in "rl"]
        feet = sum(self.view[end][..., 2] for end in ends) / len(ends)
        return 100 * (self._hips_middle() - feet)

    def _hips_middle(self) -> NDArray[np.float64]:
        return 0.5 * (self.view["hip_r"][..., 2] + self.view["hip_l"][..., 2])

    @quantity("bar lower at the right end than standing", "°", "bar_end_r", "bar_end_l")
    def bar_tilt(self) -> NDArray[np.float64]:
        """How far the right end of the bar is down, from standing."""
        joints = ("bar_end_r", "bar_end_l")
        return self.steadied(self.from_standing(self.bar_slope.series, joints))

    @quantity("bar lower at the right end", "°", "bar_end_r", "bar_end_l")
    def bar_slope(self) -> NDArray[np.float64]:
        """How far the right end of the bar is down, as it is."""
        bar = self.view["bar_end_r"] - self.view["bar_end_l"]
        return np.degrees(np.arctan2(-bar[..., 1], bar[..., 2]))

    # Any view

    @quantity("height of the hips", "m", "hip")
    def hip_height(self) -> NDArray[np.float64]:
        """Height of the middle of the hips that are seen."""
        sides = [self.view.near] if self.view.kind == "side" else ["r", "l"]
        hips = [self.view[f"hip_{side}"] for side in sides if f"hip_{side}" in self.view.names]
        if not hips:
            raise CannotTell(f"no hip is among the points of the {self.view.kind} view")
        return mean(np.stack([hip[..., 1] for hip in hips]), 0)

    # What series have in common

    @cached_property
    def lower_half(self) -> NDArray[np.intp]:
        """Return the frames in which the hips are in the lower half of their way."""
        return self.view.lowest(self.repetition, 0.5)

    @cached_property
    def hidden_from(self) -> int | None:
        """Return the frame in which hips hide that may go lower there, or None.

        So they may if they hide next to the lowest tenth of what is seen of
        their way.
        """
        begin, _, end = self.repetition
        hips = self.view.hips[begin : end + 1]
        low, high = np.fmin.reduce(hips), np.fmax.reduce(hips)
        is_low = hips <= low + 0.1 * (high - low)  # where it is not seen it is not
        for first, after in zip(*runs(np.isnan(hips)), strict=True):
            if is_low[max(first - 1, 0)] or is_low[min(after, hips.size - 1)]:
                return begin + int(first)
        return None

    def onset_of(
        self, values: NDArray[np.float64], rest: ArrayLike, end: ArrayLike | None = None
    ) -> NDArray[np.float64]:
        """Return when values (…, time) leave rest for an end, that at the bottom, s.

        nan where that is not seen.
        """
        view, repetition = self.view, self.repetition
        # Angles move earlier than the hips: up to a second before the repetition.
        frames = slice(max(0, repetition.start - int(view.rate)), repetition.bottom + 1)
        along_time = np.moveaxis(values[..., frames], -1, 0)
        end = values[..., repetition.bottom] if end is None else end
        return np.asarray(onset(along_time, view.times[frames], rest=rest, end=end))

    def from_standing(
        self, values: NDArray[np.float64], joints: tuple[str, ...]
    ) -> NDArray[np.float64]:
        """Return values (…, time) less their mean while standing."""
        return values - self._standing_mean(values, joints)[..., np.newaxis]

    def steadied(
        self, values: NDArray[np.float64], seconds: float = STEADY_S
    ) -> NDArray[np.float64]:
        """Return the mean of values (…, time) over a while around every frame."""
        half = int(round(0.5 * seconds * self.view.rate))
        return moving_mean(values, half)

    def around(self, frame: int, seconds: float = STEADY_S) -> slice:
        """Return the frames over which a quantity is steadied at a frame."""
        half = int(round(0.5 * seconds * self.view.rate))
        return slice(max(0, frame - half), frame + half + 1)

    def _standing_mean(
        self, values: NDArray[np.float64], joints: tuple[str, ...]
    ) -> NDArray[np.float64]:
        return self.view.mean_of(values, self._standing_frames(), joints, "while standing")

    def _standing_vector(
        self, vectors: NDArray[np.float64], joints: tuple[str, ...]
    ) -> NDArray[np.float64]:
        """Return the mean of vectors (…, time, 3) while standing, (…, 3)."""
        frames = self._standing_frames()
        part = vectors[..., frames, :]
        if not part.shape[-2] or np.isnan(part).any():
            self.view.check(vectors[..., 0], frames, joints, "while standing")
        return mean(part, -2)

    def _standing_frames(self) -> NDArray[np.intp]:
        if self.repetition is None:
            raise CannotTell(f"no repetition is seen in the {self.view.kind} view")
        return self.view.stand_before(self.repetition)


def moving_mean(values: NDArray[np.float64], half: int) -> NDArray[np.float64]:
    """Return the mean of values (…, time) over ``half`` frames each way.

    At either end of what there is; nan where too few of them are seen.
    """
    count = values.shape[-1]
    first = np.maximum(np.arange(count) - half, 0)
    last = np.minimum(np.arange(count) + half + 1, count)
    totals = _sums_before(values)
    if np.isfinite(totals[..., -1]).all():
        return (totals.take(last, -1) - totals.take(first, -1)) / (last - first)
    unseen = np.isnan(values)
    totals, seen = _sums_before(np.where(unseen, 0.0, values)), _sums_before(1.0 - unseen)
    sums = totals.take(last, -1) - totals.take(first, -1)
    counts = seen.take(last, -1) - seen.take(first, -1)
    enough = counts >= SEEN_SHARE * (last - first)
    return np.where(enough, sums / np.maximum(counts, 1), np.nan)


def _sums_before(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the sum of values (…, time) before each frame, (…, time + 1)."""
    sums = np.zeros((*values.shape[:-1], values.shape[-1] + 1))
    np.cumsum(values, axis=-1, out=sums[..., 1:])
    return sums


def _lean(line: NDArray[np.float64], down: bool = False) -> NDArray[np.float64]:
    """Return how far a line (…, 3) leans forward from straight up (or down), rad."""
    return np.arctan2(line[..., 0], -line[..., 1] if down else line[..., 1])


def _dot(one: NDArray[np.float64], other: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.einsum("...i,...i->...", one, other)


def over_time(view: View, name: str) -> Quantity:
    """Return a quantity of a view over the whole recording, by name.

    Each repetition counts from its own standing; they part midway between
    the end of one and the start of the next. They are read in the view's
    blocks, as a review reads them, so that time is in proportion to the
    recording; a long rest that is in no block counts from the first
    standing. Raises CannotTell.
    """
    first = getattr(Quantities(view), name)
    repetitions = view.repetitions
    if len(repetitions) < 2:
        return first
    series = first.series.copy()
    middles = [(before.end + after.start) // 2 for before, after in pairwise(repetitions)]
    begins, ends = [0, *middles], [*middles, view.times.size]
    for block in view.blocks:
        part = view.cut(block)
        for number, repetition in enumerate(part.repetitions, block.first):
            own = slice(*np.searchsorted(block.frames, (begins[number], ends[number])))
            values = getattr(Quantities(part, repetition), name).series
            series[..., block.frames[own]] = values[..., own]
    return first._replace(series=series)
