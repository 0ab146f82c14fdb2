"""What a body does, up to each bound of data/limits.csv, is believed; a little beyond it is not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from squatlab import tables
from squatlab.tracks import TracksError, possible
from tests import stick_figure
from tests.review.squats import squat

REP = squat()
BOUNDS = {
    row["quantity"]: float(row["value"]) for row in tables.read("limits") if row["name"] == "body"
}
NEAR = 0.002
"""Of a bound: so much less and more is tried."""

NOISY = 0.15
"""The same where the SD of noise is told from its median."""


class Recording:
    """Hold points of a squat in space, m, which may be put elsewhere before they are checked."""

    def __init__(self, tracks=None) -> None:
        self.tracks = tracks or REP.tracks()
        self.positions = self.tracks.positions.copy()
        self.body = possible._Body(self.tracks)
        self.low, self.standing = self.body.lowest, self.body.standing

    def __getitem__(self, name):
        return self.positions[:, self.tracks.names.index(name)]

    def told(self, check, hips=None) -> str:
        """Return what a check finds, hips at other heights if given."""
        body = possible._Body(replace(self.tracks, positions=self.positions))
        if hips is not None:
            body.hips = hips
        return " ".join(check(body))


def apart(first, second, direction):
    """Return what puts two points as far apart, all the time."""

    def told(value):
        made = Recording()
        made[second][:] = made[first] + value * np.array(direction)
        words = made.told(possible._spans)
        return words if f"{first} and {second} are" in words else ""

    return told


def above(lower, upper):
    """Return what puts a joint as far above the next, while standing and ever."""

    def told(value):
        made = Recording()
        made[upper][:, 1] = made[lower][:, 1] + value
        words = made.told(possible._upright)
        return words if f"{upper} is" in words and f"above {lower};" in words else ""

    return told


def head_below(value):
    made = Recording()
    made["head"][:, 1] = made["c7"][:, 1] - value
    words = made.told(possible._upright)
    return words if "the head is" in words else ""


def thigh_to_shank(value):
    """The knee on the line from ankle to hip: a thigh of so many shanks."""
    made = Recording()
    ankle, hip = made["ankle_r"], made["hip_r"]
    made["knee_r"][:] = ankle + (hip - ankle) / (1 + value)
    words = made.told(possible._upright)
    return words if "hip_r to knee_r is" in words else ""


def trunk_to_leg(value):
    made = Recording()
    made["c7"][:] = made["hip_r"] + (0, value * made.body.leg_m, 0)
    words = made.told(possible._upright)
    return words if "hip_r to c7 is" in words else ""


def standing_lean(value):
    made = Recording()
    ankle, hip = made["ankle_r"], made["hip_r"]
    hip[:, 0] = ankle[:, 0] + np.tan(np.radians(value)) * (hip[:, 1] - ankle[:, 1])
    hip[:, 2] = ankle[:, 2]
    words = made.told(possible._upright)
    return words if "ankle_r to hip_r leans" in words else ""


def leg(value):
    made = Recording()
    made.positions *= value / made.body.leg_m
    return made.told(possible._size)


def shake(value):
    """Normal noise of this SD in every frame."""
    made = Recording()
    made["c7"][:, 0] += np.random.default_rng(1).normal(0, value, len(made["c7"]))
    return made.told(possible._shakes)


def longer(seconds):
    """Return what makes a thigh so many times as long as standing, for a while."""

    def told(value):
        made = Recording()
        hip, knee = made["hip_r"], made["knee_r"]
        standing_m = np.median(np.linalg.norm((hip - knee)[made.standing], axis=-1))
        middle, half = int(made.low.argmax()), int(0.5 * seconds * made.body.rate)
        some = slice(middle - half, middle + half + 1)
        line = (hip - knee)[some]
        length_m = value * standing_m
        knee[some] = hip[some] - line * length_m / np.linalg.norm(line, axis=-1, keepdims=True)
        words = made.told(possible._lengths)
        return words if "hip_r to knee_r" in words else ""

    return told


def longer_in_picture(value):
    made = Recording(stick_figure.picture("side"))
    for side in "rl":
        hip, knee = made[f"hip_{side}"], made[f"knee_{side}"]
        standing = np.median(np.linalg.norm((hip - knee)[made.standing], axis=-1))
        line = (hip - knee)[made.low]
        far = value * standing / np.linalg.norm(line, axis=-1, keepdims=True)
        knee[made.low] = hip[made.low] - line * far
    words = made.told(possible._lengths)
    return words if "hip_" in words else ""


def stretch(value):
    """A picture in which x must be made so many times as large."""
    made = Recording(stick_figure.picture("side"))
    made.positions[..., 0] /= value
    return made.told(possible._proportion)


def over_ankle(joint):
    def told(value):
        made = Recording()
        made["ankle_r"][:, 1] = np.median(made[joint][made.low, 1]) - value
        words = made.told(possible._bending)
        return words if f"{joint} is only" in words else ""

    return told


def leans(shank_deg):
    """Return a squat at whose lowest the shank leans so far, by where the ankle is."""
    made = Recording()
    turn = np.radians(shank_deg)
    made["ankle_r"][made.low] = made["knee_r"][made.low] - 0.43 * np.array(
        [np.sin(turn), np.cos(turn), 0.0]
    )
    return made


def shank_lean(value):
    words = leans(value).told(possible._bending)
    return words if "ankle_r to knee_r leans" in words else ""


def knee_bent(value):
    """The knee's flexion: how far the shank leans forward, and the thigh backward."""
    made = Recording()
    thigh = np.median((made["hip_r"] - made["knee_r"])[made.low], axis=0)
    back_deg = np.degrees(np.arctan2(-thigh[0], thigh[1]))
    words = leans(value - back_deg).told(possible._bending)
    return words if "knee_r is bent" in words else ""


def trunk_lean(value):
    made, turn = Recording(), np.radians(value)
    made["c7"][made.low] = made["hip_r"][made.low] + 0.5 * np.array([np.sin(turn), np.cos(turn), 0])
    words = made.told(possible._bending)
    return words if "the trunk leans" in words else ""


def knee_moves(value):
    made = Recording()
    made["knee_r"][:] = (0.0, 0.5, 0.2)
    made["knee_r"][made.low, 0] += value
    words = made.told(possible._goes_along)
    return words if "knee_r stays" in words else ""


def goes_along(value):
    made = Recording()
    hips = made.body.hips
    moved = possible._median(hips[made.standing]) - possible._median(hips[made.low])
    made["c7"][:, 1] = 1.5
    made["c7"][made.low, 1] -= value * moved
    words = made.told(possible._goes_along)
    return words if "c7 goes down" in words else ""


def foot_rises(value):
    made = Recording()
    made["ankle_r"][made.low, 1] += value
    words = made.told(possible._feet)
    return words if "up or down with the hips" in words else ""


def foot_moves(value):
    """A step of the ankle in the middle of the lower half."""
    made = Recording()
    made["ankle_r"][int(np.flatnonzero(made.body.lower_half).mean()) :, 0] += value
    words = made.told(possible._feet)
    return words if "while the hips are low" in words else ""


def feet_wander(value):
    made = Recording(squat(repetitions=2).tracks())
    first, second = np.flatnonzero(made.body.lower_half)[
        [0, -1]
    ]  # in the first and in the last squat
    made["ankle_r"][(first + second) // 2 :, 2] += value
    words = made.told(possible._feet)
    return words if "somebody walks" in words else ""


def hips_at(height_of, word):
    """Return what is told of hips at a height by time, s from the middle, and by value."""

    def told(value):
        made = Recording(squat(repetitions=2).tracks())
        times = made.tracks.times - made.tracks.times[made.tracks.times.size // 2]
        words = made.told(possible._haste, height_of(times, value))
        return words if word in words else ""

    return told


def by_speed(t, value):
    return 1.0 - value * np.clip(t, 0.0, 0.5)


def by_jump(t, value):
    return 1.0 + np.where(t >= 0, value / 120.0, 0.0)


def by_acceleration(t, value):
    return 0.5 * value * t**2


def by_flight(t, value):
    """In the air for 0.15 s: less than the fiftieth of a film that is left out as chance."""
    return 1.0 + value * (np.abs(t) < 0.075)


def travel(value):
    """Told where the hips squat at all."""
    body = possible._Body(REP.tracks())
    body.hips = 1.0 - value * 0.5 * (1 - np.cos(2 * np.pi * np.linspace(0, 1, body.hips.size)))
    low, high = np.quantile(body.hips, [0.02, 0.98])
    body.hips *= value / (high - low)
    return "squats" if body.squats else ""


def flies(name):
    """Return what moves a point away for three frames while the lifter stands."""

    def told(value):
        made = Recording()
        made[name][10:13, 2] += value
        tracks = possible.possible(replace(made.tracks, positions=made.positions))
        return " ".join(note for note in tracks.notes if note.startswith(name))

    return told


def flies_often(value):
    made = Recording()
    count = round(value * made.tracks.times.size)
    # Every other stretch of a second is away, so that where it usually is stays known.
    away = np.zeros(made.tracks.times.size, bool)
    away[np.arange(count) * made.tracks.times.size // count] = True
    made["c7"][away, 2] += 5.0
    try:
        possible.possible(replace(made.tracks, positions=made.positions))
    except TracksError as error:
        return str(error)
    return ""


CHECKS = {
    **{
        f"{span.row}_most": apart(
            *(f"{point}_r" if f"{point}_r" in REP.tracks().names else point for point in span[:2]),
            (1.0, 0.0, 0.0),
        )
        for span in possible.SPANS
    },
    **{
        f"{row}_{end}": apart(f"{joint}_r", f"{joint}_l", (0.0, 0.0, -1.0))
        for row, joint in (("hips", "hip"), ("shoulders", "shoulder"), ("bar_ends", "bar_end"))
        for end in ("least", "most")
    },
    "knees_most": apart("knee_r", "knee_l", (0.0, 0.0, -1.0)),
    "ankles_most": apart("ankle_r", "ankle_l", (0.0, 0.0, -1.0)),
    "next_joint_above": above("ankle_r", "knee_r"),
    "head_below": head_below,
    "thigh_to_shank_least": thigh_to_shank,
    "thigh_to_shank_most": thigh_to_shank,
    "trunk_to_leg_least": trunk_to_leg,
    "trunk_to_leg_most": trunk_to_leg,
    "standing_lean": standing_lean,
    "leg_least": leg,
    "leg_most": leg,
    "shake": shake,
    "longer_in_space": longer(0.4),
    "shorter_in_space": longer(0.4),
    "longer_in_picture": longer_in_picture,
    "stretch_least": stretch,
    "stretch_most": stretch,
    "knee_over_ankle": over_ankle("knee_r"),
    "hip_over_ankle": over_ankle("hip_r"),
    "shank_lean_least": shank_lean,
    "shank_lean_most": shank_lean,
    "knee_bent_least": knee_bent,
    "knee_bent_most": knee_bent,
    "trunk_lean_least": trunk_lean,
    "trunk_lean_most": trunk_lean,
    "knee_moves": knee_moves,
    "goes_along": goes_along,
    "foot_rises": foot_rises,
    "foot_moves": foot_moves,
    "feet_wander": feet_wander,
    "hip_speed": hips_at(by_speed, "the hips move at"),
    "hip_frame_speed": hips_at(by_jump, "the hips jump"),
    "hip_acceleration": hips_at(by_acceleration, "accelerate"),
    "hips_fly": hips_at(by_flight, "above standing"),
    "travel_least": travel,
    "off": flies("c7"),
    "foot_off": flies("heel_r"),
    "off_share": flies_often,
}
"""For each bound what makes a recording with that value, and tells what is found wrong."""

AT_LEAST = (
    *("next_joint_above", "knee_over_ankle", "hip_over_ankle"),
    *("knee_moves", "goes_along", "shorter_in_space"),
)
"""Bounds whose names do not say that less is refused."""


def test_every_bound_is_tried():
    assert set(CHECKS) == set(BOUNDS)


@pytest.mark.parametrize("name", CHECKS)
def test_a_bound_is_reached_and_not_passed(name):
    told, bound = CHECKS[name], BOUNDS[name]
    near = (NOISY if name == "shake" else NEAR) * abs(bound)
    less, more = bound - near, bound + near
    is_least = (name.endswith("_least") and name != "travel_least") or name in AT_LEAST
    refused, believed = (less, more) if is_least else (more, less)
    assert told(believed) == ""
    assert told(refused) != ""


def test_frames_are_told_as_spans_counted_from_one_and_no_more_than_four():
    frames = np.zeros(100, bool)
    frames[[0, 9, 10, 11, 20, 29, 30]] = True
    assert possible._ranges(frames) == "1, 10–12, 21, 30–31"
    frames[[50, 99]] = True
    assert possible._ranges(frames) == "1, 10–12, 21, 30–31 and 2 more"
