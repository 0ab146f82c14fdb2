"""What a noise-free measurement reads, from points in space alone.

Written from the catalogue's words, independently of how a repetition is
made: nothing here looks at the plan.
"""

from __future__ import annotations

import numpy as np

from squatlab import signals


def line_angle(lower, upper):
    """Return the lean of a line from the vertical in the side view, rad."""
    return np.arctan2(upper[..., 0] - lower[..., 0], upper[..., 1] - lower[..., 1])


class Seen:
    """Measure one repetition of a set of points."""

    def __init__(self, points, time, repetition=0, body_kg=np.nan, bar_kg=np.nan):
        self.p, self.time = points, time
        self.rate = 1 / (time[1] - time[0])
        self.body, self.bar = body_kg, bar_kg
        self.height = points["pelvis"][:, 1]
        self.found = signals.split_repetitions(self.height, time)
        r = self.found[repetition]
        self.start, self.end = r.start, r.end
        # The first of equally low frames; the whole repetition lies between start and end.
        self.bottom = r.start + int(np.argmin(np.round(self.height[r.start : r.end], 9)))
        before = self.found[repetition - 1].end if repetition else 0
        first = max(before, 0)
        quiet = int(0.5 * self.rate)
        middle = (first + self.start) // 2 - int(0.15 * self.rate)
        begin = max(first, min(middle - quiet // 2, self.start - quiet))
        self.standing = slice(begin, max(begin + 2, min(begin + quiet, self.start)))
        self.window = slice(max(0, self.start - int(0.5 * self.rate)), self.bottom + 1)

    def around_bottom(self, seconds=0.3):
        half = int(round(0.5 * seconds * self.rate))
        low = np.flatnonzero(self.height[self.start : self.end] < self.height[self.bottom] + 1e-6)
        centre = self.start + int(round(low.mean()))
        return slice(centre - half, centre + half + 1)

    def lower_part(self, share):
        """Return the frames with the hips in the lowest share of their way."""
        top, low = self.height[self.standing].mean(), self.height[self.bottom]
        frames = np.zeros(self.height.size, dtype=bool)
        frames[self.start : self.end + 1] = True
        return frames & (self.height <= low + share * (top - low))

    def knees_first(self):
        p, part = self.p, self.window
        lean = line_angle(p["hip_r"], p["c7"])
        thigh, shank = line_angle(p["hip_r"], p["knee_r"]), line_angle(p["ankle_r"], p["knee_r"])
        thigh = np.pi - np.mod(thigh, 2 * np.pi)
        hip, knee = lean + thigh, thigh + shank
        at = [signals.onset(angle[part], self.time[part]) for angle in (hip, knee)]
        return 1000 * (at[0] - at[1])

    def hips_rise_first(self):
        lean = np.degrees(line_angle(self.p["hip_r"], self.p["c7"]))
        y = self.height
        top, low = y[self.standing].mean(), y[self.bottom]
        level = low + 0.25 * (top - low)
        down = np.arange(self.bottom, self.start, -1)
        up = np.arange(self.bottom, self.end)
        return np.interp(level, y[up], lean[up]) - np.interp(level, y[down], lean[down])

    def lumbar(self):
        pelvis = line_angle(self.p["pelvis"], self.p["l5"])
        return np.degrees(line_angle(self.p["l5"], self.p["c7"]) - pelvis)

    def lumbar_rounding(self):
        flexion = self.lumbar()
        return flexion[self.around_bottom()].mean() - flexion[self.standing].mean()

    def lumbar_overarching(self):
        flexion = self.lumbar()
        quarter = slice(self.start, self.start + (self.bottom - self.start) // 4 + 1)
        return flexion[self.standing].mean() - flexion[quarter].mean()

    def short_depth(self):
        p = self.p
        thigh = np.linalg.norm(p["hip_r"] - p["knee_r"], axis=1)[self.standing].mean()
        drop = (p["hip_r"] - p["knee_r"])[self.bottom, 1]
        return np.degrees(np.arcsin(drop / thigh))

    def knee_valgus(self, side="r"):
        """Return the shank's angle across the upright plane along its foot, inward positive."""
        p, sign = self.p, {"r": 1, "l": -1}[side]
        shank = p[f"knee_{side}"] - p[f"ankle_{side}"]
        length = np.linalg.norm(shank, axis=1)[self.standing].mean()
        foot = (p[f"toe_{side}"] - p[f"heel_{side}"])[self.standing].mean(axis=0) * (1, 0, 1)
        # At right angles to the foot, level, toward the middle of the body.
        inward = sign * np.cross(foot / np.linalg.norm(foot), (0.0, 1.0, 0.0)) * -1
        angle = np.degrees(np.arcsin(np.clip(shank @ inward / length, -1, 1)))
        return angle[self.lower_part(0.15)].mean()

    def knees_far_forward(self):
        ahead = (self.p["knee_r"] - self.p["toe_r"])[self.start : self.end, 0]
        return 100 * ahead.max()

    def heel_lift(self):
        heel = 0.5 * (self.p["heel_r"] + self.p["heel_l"])[:, 1]
        return 100 * (heel[self.lower_part(0.5)].mean() - heel[self.standing].mean())

    def bar_forward(self, com_x):
        part = self.lower_part(0.5)
        shift = com_x[part].mean() - com_x[self.standing].mean()
        return 100 * shift * (self.body + self.bar) / self.bar

    def lateral_shift(self):
        z = 0.5 * (self.p["hip_r"] + self.p["hip_l"])[:, 2]
        return 100 * (z[self.around_bottom()].mean() - z[self.standing].mean())

    def turnout_out_of_range(self):
        beyond = []
        for side, sign in (("r", 1), ("l", -1)):
            foot = (self.p[f"toe_{side}"] - self.p[f"heel_{side}"])[self.standing].mean(axis=0)
            turnout = np.degrees(np.arctan2(sign * foot[2], foot[0]))
            beyond.append(max(5.0 - turnout, turnout - 20.0, 0.0))
        return max(beyond)

    def uneven_bar(self):
        rod = self.p["bar_end_r"] - self.p["bar_end_l"]
        tilt = np.degrees(np.arctan2(-rod[:, 1], rod[:, 2]))
        tilt = (tilt - tilt[self.standing].mean())[self.start : self.end]
        return tilt[np.argmax(np.abs(tilt))]

    def head_up(self, spots=(0.91, 1.83)):
        """How much further back the head goes than eyes that keep to a spot of the floor need."""
        head, toe = self.p["head"], self.p["toe_r"][self.standing, 0].mean()
        back = -line_angle(self.p["c7"], head)
        looks_down = [np.arctan2(head[:, 1], toe + spot - head[:, 0]) for spot in spots]
        rise = np.max([down[self.standing].mean() - down for down in looks_down], axis=0)
        return np.degrees((back - back[self.standing].mean() - rise)[self.start : self.end].max())

    def fast_descent(self):
        way = slice(max(0, self.start - int(0.5 * self.rate)), self.bottom + 1)
        begun = signals.onset(self.height[way], self.time[way])
        return (self.time[self.bottom] - begun) / 0.81
