"""How large each fault is in one repetition: one function a fault, from quantities."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from squatlab import faults, units
from squatlab.review.errors import CannotTell
from squatlab.review.perspective import SIGN
from squatlab.review.quantities import STEADY_S, Quantities, Quantity
from squatlab.review.view import LOWEST_SHARE
from squatlab.signals import ONSET, Repetition

RISE_SHARE = 0.25
"""Up and down are compared at this part of the hips' rise."""

DOWN_SHARE = 0.95
"""The way down counts as done here. The lowest frame is no measure of when
one arrives: in a pause of 0.2 s noise puts it anywhere, and the time is
wrong by 0.14 ± 0.15 s at 60 frames per second."""

BEGUN_TO_DOWN = 0.618
"""From 5 to 95 % over this is, without a pause, the time from 5 % to the
lowest point over 0.81: 0.612 to 0.626 in 80 trials with drops of 0.7 to 1.1 s
[teaching-value]."""

TURNOUT_DEG = (5.0, 20.0)
"""Feet turned out between these are usual [common-practice]."""

FILLED_S = 0.4
"""The hips may be hidden for so long while the time of the descent is read
[teaching-value]: a plate or an arm passes."""

HIDDEN_WAY = 1.5
"""Of hips that are hidden before they are lowest the whole way is at most so
many times as long as what is seen of it [teaching-value]."""

BEGUN_AFTER_S = 0.1
"""A joint that begins to bend sooner after the film does may have begun before
it [teaching-value]: three frames at 30 per second."""

SIDE_NAMES = {"r": "right", "l": "left"}


class Reading(NamedTuple):
    """Hold a value (…,) in the fault's unit, and what says it in words.

    ``words`` takes the value. ``series`` (…, frame) is the value frame by
    frame from frame ``begin`` on, for when it shows. The largest of several
    readings is too large by chance (`squatlab.review.largest`): where the
    value is the larger of two sides', ``sides`` (…, 2) holds both, and where
    it is the largest of the series, ``is_peak`` says so.
    """

    value: ArrayLike
    words: Callable[[float], str]
    series: NDArray[np.float64]
    begin: int
    sides: NDArray[np.float64] | None = None
    is_peak: bool = False


# Sequence and tempo


def knees_first(quantities: Quantities, repetition: Repetition) -> Reading:
    """Measure how long before the hip the knee begins to bend, ms."""
    begins = quantities.bend_onsets
    if np.isnan(_one(begins.hip) - _one(begins.knee)):
        raise CannotTell("when hips and knees begin to bend is not seen")
    view = quantities.view
    # How one stands after a squat does not tell when one left how one stood before it.
    stands_after_alone = view.stand_before(repetition)[0] > repetition.start
    first_s = min(_one(begins.hip), _one(begins.knee))
    if stands_after_alone or first_s < view.times[0] + BEGUN_AFTER_S:
        raise CannotTell("the lifter moves when the film begins; film half a second more before it")
    value = 1000 * (np.asarray(begins.hip) - begins.knee)
    early, late = np.searchsorted(view.times, sorted((_one(begins.hip), _one(begins.knee))))
    series = np.repeat(value[..., np.newaxis], late - early + 1, axis=-1)

    def words(milliseconds: float) -> str:
        order = "before" if milliseconds > 0 else "after"
        return f"knees {abs(milliseconds):.0f} ms {order} the hips"

    return Reading(value, words, series, int(early))


def hips_rise_first(quantities: Quantities, repetition: Repetition) -> Reading:
    """Measure how much more the trunk leans going up than going down, °.

    With the hips at the same height. Knees that go first upright the trunk
    on the way down, and then there is nothing clean to compare with.
    """
    try:
        begins = quantities.bend_onsets
        lead_ms = 1000 * (_one(begins.hip) - _one(begins.knee))
    except CannotTell:
        lead_ms = np.nan
    if faults.fault("knees_first").severity(lead_ms) >= 2:
        raise CannotTell("the knees go first on the way down: no clean way to compare with")
    view, height, lean = quantities.view, quantities.hip_height.series, quantities.trunk_lean.series
    low, high = height[..., repetition.bottom], _standing(quantities, quantities.hip_height)
    level = low + RISE_SHARE * (high - low)
    # The descent is read backward in time, so that the height rises in both.
    backward = slice(repetition.bottom, max(repetition.start - 1, 0), -1)
    down = value_at_height(level, height[..., backward], lean[..., backward])
    rising = repetition.ascent
    up = value_at_height(level, height[..., rising], lean[..., rising])
    if np.isnan(_one(up - down)):
        raise CannotTell(f"{view.top}, hip: not seen a quarter of the way up and down")
    below = height[..., rising] <= level[..., np.newaxis]
    series = np.where(below, lean[..., rising] - down[..., np.newaxis], np.nan)

    def words(_: float) -> str:
        return f"lean {_one(up):.1f}° going up, {_one(down):.1f}° going down"

    return Reading(up - down, words, series, repetition.bottom)


def fast_descent(quantities: Quantities, repetition: Repetition) -> Reading:
    """Measure the time of the descent, s, a pause at the bottom left out."""
    height = _filled(quantities.hip_height.series, FILLED_S * quantities.view.rate)
    top = _standing(quantities, quantities.hip_height)
    begun = quantities.onset_of(height, top, height[..., repetition.bottom])
    down = _down(quantities, height, top, repetition.bottom)
    if quantities.hidden_from is not None:
        raise CannotTell("the hips are hidden at the bottom")
    if np.isnan(_one(down - begun)):
        raise CannotTell("when the hips begin to go down, or are down, is not seen")
    return _descent(down - begun, repetition, "from standing to the bottom")


def descent_at_least(quantities: Quantities, repetition: Repetition) -> Reading:
    """Measure the least time that the descent can have taken, s.

    A film may begin on the way down, and a plate may hide the hips at the
    bottom. But the hips stood no lower than where they are seen highest,
    and went no less deep than where they are last seen.
    """
    view, hidden_from = quantities.view, quantities.hidden_from
    last = repetition.bottom if hidden_from is None else max(hidden_from - 1, 0)
    if last < repetition.start:
        raise CannotTell("the hips are hidden before they begin to go down")
    height = _filled(quantities.hip_height.series, FILLED_S * view.rate)
    top = np.asarray(_standing(quantities, quantities.hip_height))
    way = (top - height[..., last]) * (1.0 if hidden_from is None else HIDDEN_WAY)
    begun = quantities.onset_of(height, top, top - way)
    before = slice(max(0, repetition.start - int(view.rate)), last + 1)
    seen = np.flatnonzero(np.isfinite(view.hips[before]))
    if seen.size:
        first = before.start + int(seen[0])
        on_the_way = height[..., first] < top - ONSET * way
        begun = np.where(np.isnan(begun) & on_the_way, view.times[first], begun)
    down = _down(quantities, height, top, last)
    if np.isnan(_one(down - begun)):
        raise CannotTell("when the hips begin to go down, or are down, is not seen")
    return _descent(down - begun, repetition, "what is seen of the way down")


def _down(
    quantities: Quantities, height: NDArray[np.float64], top: ArrayLike, lowest: int
) -> NDArray[np.float64]:
    """Return when the hips have gone nearly as far down as in a frame, s, (…,)."""
    frames = slice(quantities.repetition.start, lowest + 1)
    level = DOWN_SHARE * height[..., lowest] + (1 - DOWN_SHARE) * np.asarray(top)
    times = np.broadcast_to(quantities.view.times[frames], height[..., frames].shape)
    return value_at_height(-level, -height[..., frames], times)


def _descent(begun_to_down: ArrayLike, repetition: Repetition, words: str) -> Reading:
    """Return the time of a descent, s, from that between its two levels."""
    value = np.asarray(begun_to_down) / BEGUN_TO_DOWN
    count = repetition.bottom - repetition.start + 1
    series = np.repeat(value[..., np.newaxis], count, axis=-1)
    return Reading(value, lambda _: words, series, repetition.start)


# Back, depth, knees, heels, weight and head from the side


def lumbar_rounding(quantities: Quantities, repetition: Repetition) -> Reading:
    """Measure lumbar flexion at the bottom less standing, °."""
    value = _at_bottom(quantities, quantities.low_back, repetition)
    words = "lumbar flexion at the bottom less standing"
    return _reading(quantities.low_back, value, repetition, lambda _: words)


def lumbar_overarching(quantities: Quantities, repetition: Repetition) -> Reading:
    """Measure lumbar extension in the first quarter of the descent, °."""
    end = repetition.start + max(1, (repetition.bottom - repetition.start) // 4) + 1
    quarter, low_back = slice(repetition.start, end), quantities.low_back_unsteadied
    joints = quantities.low_back.joints
    when = "at the start of the descent"
    value = -quantities.view.mean_of(low_back, quarter, joints, when)
    words = "lumbar extension in the first quarter of the descent"
    return Reading(value, lambda _: words, -low_back[..., quarter], repetition.start)


def short_depth(quantities: Quantities, repetition: Repetition) -> Reading:
    """Measure how far the thigh is from level at the lowest point, °."""
    value = np.asarray(_at_bottom(quantities, quantities.thigh_level, repetition))
    if quantities.hidden_from is not None:
        raise CannotTell("the hips are hidden at the bottom")

    def words(degrees: float) -> str:
        place = "above" if degrees > 0 else "below"
        return f"hip {abs(degrees):.1f}° {place} the knee"

    return Reading(value, words, value[..., np.newaxis], repetition.bottom)


def hips_above_knees_at_most(quantities: Quantities, repetition: Repetition) -> Reading:
    """Measure how far the thigh is from level at most at the lowest point, °.

    Where a plate hides the hips there: they go lower than where they are
    last seen.
    """
    thigh = quantities.thigh_level
    part = thigh.series[..., quantities.view.frames_of(repetition)]
    undisturbed = part.reshape(-1, part.shape[-1])[0]
    if np.isnan(undisturbed).all():
        raise CannotTell(f"{', '.join(thigh.joints)}: not seen together")
    value = part[..., int(np.nanargmin(undisturbed))]

    def words(degrees: float) -> str:
        place = "above" if degrees > 0 else "below"
        return f"hip {abs(degrees):.1f}° {place} the knee where both are last seen"

    return Reading(value, words, value[..., np.newaxis], repetition.bottom)


def knees_far_forward(quantities: Quantities, repetition: Repetition) -> Reading:
    """Measure how far the knee is ahead of the toe, at most, cm."""
    ahead = quantities.knee_ahead
    quantities.view.check(ahead.series, quantities.lower_half, ahead.joints, "in the lower half")

    def words(centimetres: float) -> str:
        place = "ahead of" if centimetres > 0 else "behind"
        return f"knee {units.of_table(abs(centimetres), 'cm')} {place} the toe"

    value = _largest(quantities, ahead, ahead.series, repetition)
    return _reading(ahead, value, repetition, words)._replace(is_peak=True)


def heel_lift(quantities: Quantities, repetition: Repetition) -> Reading:
    """Measure how high the heel is in the lower half, less standing, cm."""
    value = _in_lower_half(quantities, quantities.heel_height)
    words = "height of the heel in the lower half"
    return _reading(quantities.heel_height, value, repetition, lambda _: words)


def bar_forward(quantities: Quantities, repetition: Repetition) -> Reading:
    """Measure how far the weight goes ahead of where it stood, as cm of bar.

    In the lower half of the way.
    """
    value = _in_lower_half(quantities, quantities.weight_ahead)
    view = quantities.view
    bar_share = _one(np.asarray(view.bar_kg) / (np.asarray(view.body_kg) + view.bar_kg))

    def words(centimetres: float) -> str:
        way, bar = "forward" if centimetres >= 0 else "back", abs(centimetres)
        weight = units.of_table(bar * bar_share, "cm")
        return f"the weight moves {weight} {way}, as {units.of_table(bar, 'cm')} of bar do"

    return _reading(quantities.weight_ahead, value, repetition, words)


def head_up(quantities: Quantities, repetition: Repetition) -> Reading:
    """Measure how far the head is back beyond what the gaze needs, °."""
    head = quantities.head_back
    quantities.view.check(head.series, quantities.lower_half, head.joints, "in the lower half")
    value = _largest(quantities, head, head.series, repetition)
    words = "head back beyond the gaze line, less standing"
    return _reading(head, value, repetition, lambda _: words)


# Knees over feet, hips, feet and bar from the front


def knee_valgus(quantities: Quantities, repetition: Repetition) -> Reading:
    """Measure how far the knee is inward of the foot's plane, °.

    In the lowest part of the way, the worse knee. Nothing is taken off for
    standing: feet wider than the hips lean a straight leg's shank inward
    by 5 to 8°, which is no fault. How far it has moved inward from there is
    told beside: a knee over its foot moves outward.
    """
    view = quantities.view
    frames = view.lowest(repetition, LOWEST_SHARE)
    knees = {"r": quantities.knee_in_r, "l": quantities.knee_in_l}
    values = {
        side: view.mean_of(knee.series, frames, (f"knee_{side}", f"ankle_{side}"), "at the bottom")
        for side, knee in knees.items()
    }
    value = np.maximum(values["r"], values["l"])
    worse = "r" if _one(values["r"]) >= _one(value) else "l"
    inward = _one(values[worse]) - _one(_standing(quantities, knees[worse]))
    foot = quantities.foot_out_r if worse == "r" else quantities.foot_out_l
    turnout = _one(_standing(quantities, foot))
    inward_of_foot = knees[worse].series
    series = np.full_like(inward_of_foot[..., view.frames_of(repetition)], np.nan)
    series[..., frames - repetition.start] = inward_of_foot[..., frames]

    def words(_: float) -> str:
        moved = f"{abs(inward):.0f}° further {'in' if inward > 0 else 'out'} than standing"
        return f"{SIDE_NAMES[worse]} knee, {moved}, the foot turned out {turnout:.0f}°"

    sides = np.stack([values["r"], values["l"]], axis=-1)
    return Reading(value, words, series, repetition.start, sides)


def lateral_shift(quantities: Quantities, repetition: Repetition) -> Reading:
    """Measure how far the middle of the hips goes to a side, cm.

    The feet show how far the camera stood off: hips that go straight back
    seem to slide in a picture that is off square.
    """
    view, shift = quantities.view, quantities.hip_shift
    low = np.asarray(_at_bottom(quantities, shift, repetition))
    sign = 1.0 if _one(low) >= 0 else -1.0
    words = f"to the {SIDE_NAMES['r' if sign > 0 else 'l']}"
    series = sign * shift.series[..., view.frames_of(repetition)]
    return Reading(np.abs(low), lambda _: words, series, repetition.start)


def turnout_out_of_range(quantities: Quantities, repetition: Repetition) -> Reading:
    """Measure how far a foot's turnout is outside the usual range, °.

    The worse foot; negative is inside.
    """
    low, high = TURNOUT_DEG
    turnouts = {
        side: np.asarray(_standing(quantities, foot))
        for side, foot in (("r", quantities.foot_out_r), ("l", quantities.foot_out_l))
    }
    beyond = {side: np.maximum(low - out, out - high) for side, out in turnouts.items()}
    signed = np.maximum(beyond["r"], beyond["l"])
    worse = max(beyond, key=lambda side: _one(beyond[side]))
    words = f"{SIDE_NAMES[worse]} foot turned out {_one(turnouts[worse]):.0f}°"
    return Reading(signed, lambda _: words, signed[..., np.newaxis], repetition.start)


def uneven_bar(quantities: Quantities, repetition: Repetition) -> Reading:
    """Measure the tilt of the bar, at most, less standing, °."""
    view, tilt = quantities.view, quantities.bar_tilt
    view.check(tilt.series, view.frames_of(repetition), tilt.joints, "during the repetition")
    lower = {
        side: _largest(quantities, tilt, SIGN[side] * tilt.series, repetition) for side in "rl"
    }
    side = max(lower, key=lambda side: _one(lower[side]))
    series = SIGN[side] * tilt.series[..., view.frames_of(repetition)]
    words = f"{SIDE_NAMES[side]} end lower"
    value = np.maximum(lower["r"], lower["l"])
    return Reading(value, lambda _: words, series, repetition.start, is_peak=True)


Measurer = Callable[[Quantities, Repetition], Reading]

MEASURERS: dict[str, Measurer] = {
    measurer.__name__: measurer
    for measurer in (
        lumbar_rounding,
        knees_first,
        hips_rise_first,
        lumbar_overarching,
        knee_valgus,
        knees_far_forward,
        short_depth,
        turnout_out_of_range,
        heel_lift,
        bar_forward,
        lateral_shift,
        uneven_bar,
        head_up,
        fast_descent,
    )
}
"""For each fault of the catalogue what measures it in one repetition."""


class Bound(NamedTuple):
    """Say what measures a limit of a fault where the fault itself is not seen.

    The fault is no worse than what ``measure`` reads; ``words`` go before
    the value: "at least" or "at most".
    """

    measure: Measurer
    words: str


BOUNDS = {
    "short_depth": Bound(hips_above_knees_at_most, "at most"),
    "fast_descent": Bound(descent_at_least, "at least"),
}
"""What still tells that a fault is not there. It never tells that it is."""


# What several of them need


def value_at_height(
    level: ArrayLike, height: NDArray[np.float64], values: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return values (…, frame) where a height first rises past a level (…,).

    Between frames along a straight line; nan where it does not rise past.
    """
    level = np.asarray(level)
    above = height > level[..., np.newaxis]
    after = np.argmax(above, axis=-1)[..., np.newaxis]
    before = np.maximum(after - 1, 0)
    low, high = (np.take_along_axis(height, at, axis=-1)[..., 0] for at in (before, after))
    first, second = (np.take_along_axis(values, at, axis=-1)[..., 0] for at in (before, after))
    step = np.where(high == low, np.nan, high - low)
    value = first + (level - low) / step * (second - first)
    return np.where(after[..., 0] > 0, value, np.nan)


def _filled(series: NDArray[np.float64], longest: float) -> NDArray[np.float64]:
    """Return a series (…, time) with gaps up to so many frames filled by straight lines.

    Good enough for when a level is passed, not for how high something is.
    """
    if not np.isnan(series).any():
        return series
    filled = series.copy()
    for row in filled.reshape(-1, series.shape[-1]):
        seen = np.flatnonzero(np.isfinite(row))
        for before, after in pairwise(seen):
            if 1 < after - before <= longest:
                inside = np.arange(before + 1, after)
                row[inside] = np.interp(inside, (before, after), (row[before], row[after]))
    return filled


def _standing(quantities: Quantities, quantity: Quantity) -> NDArray[np.float64]:
    """Return a quantity's mean while standing."""
    return quantities.view.standing_mean(quantity.series, quantities.repetition, quantity.joints)


def _at_bottom(
    quantities: Quantities, quantity: Quantity, repetition: Repetition
) -> NDArray[np.float64]:
    """Return a steadied quantity at the lowest frame."""
    value = quantity.series[..., repetition.bottom]
    if np.isnan(value).any():
        around = quantities.around(repetition.bottom)
        unseen = [
            joint
            for joint in quantity.joints
            if np.isnan(quantities.view[joint][..., around, :]).any()
        ]
        raise CannotTell(f"{', '.join(unseen or quantity.joints)}: not seen at the bottom")
    return value


def _in_lower_half(quantities: Quantities, quantity: Quantity) -> NDArray[np.float64]:
    """Return the mean of a quantity while the hips are in the lower half of their way."""
    return quantities.view.mean_of(
        quantity.series, quantities.lower_half, quantity.joints, "in the lower half"
    )


def _largest(
    quantities: Quantities,
    quantity: Quantity,
    series: NDArray[np.float64],
    repetition: Repetition,
) -> NDArray[np.float64]:
    """Return the largest of a steadied series in a repetition."""
    part = series[..., quantities.view.frames_of(repetition)]
    if np.isnan(part).all():
        raise CannotTell(f"{', '.join(quantity.joints)}: never seen for {STEADY_S:g} s on end")
    return np.fmax.reduce(part, axis=-1)


def _reading(
    quantity: Quantity, value: ArrayLike, repetition: Repetition, words: Callable[[float], str]
) -> Reading:
    """Return a reading whose series is the quantity's in the repetition."""
    series = quantity.series[..., repetition.start : repetition.end + 1]
    return Reading(value, words, series, repetition.start)


def _one(value: ArrayLike) -> float:
    """Return the first of values: words are about the undisturbed reading."""
    return float(np.asarray(value).flat[0])
