"""The bar's way up and single instants, against plain rules and published speed."""

from __future__ import annotations

import numpy as np
import pytest

from squatlab import Bar, Lifter, Stance
from squatlab.motion import Tempo, synthesise
from squatlab.motion.ascent import ascent_of
from squatlab.motion.instant import posture_at

LIFTER = Lifter.from_stature(1.75, 80)
BEST_KG = 120
MILLIMETRE = 0.001


def moved(load=BEST_KG, **tempo):
    return synthesise(LIFTER, Bar.high(load), Stance(), Tempo(**tempo))


def test_the_mean_speed_is_the_rise_by_its_time():
    rep = moved(ascent_s=2.0)
    rise = rep.posture.bar_centre.y[-1] - rep.posture.bar_centre.y[rep.bottom]
    assert ascent_of(rep).mean == pytest.approx(rise / 2.0, abs=MILLIMETRE)


def test_the_speed_adds_up_to_the_height():
    rep = moved()
    y = rep.posture.bar_centre.y
    travelled = np.concatenate([[0], np.cumsum(np.diff(rep.time) * ascent_of(rep).speed[1:])])
    assert travelled == pytest.approx(y - y[0], abs=0.01)


def test_the_best_load_in_a_usual_time_is_as_fast_as_was_measured():
    """Sánchez-Medina et al. 2017, Sports Med Int Open 1:E80–E88: .32 ± .03 m/s."""
    for intent in (0.0, 1.0):
        assert ascent_of(moved(intent=intent)).mean == pytest.approx(0.32, abs=0.03)


def test_a_light_bar_has_one_peak_and_a_heavy_one_a_region_between_two():
    light, heavy = ascent_of(moved(20)), ascent_of(rep := moved())
    assert not light.sticks and light.first_peak is None
    assert heavy.sticks and heavy.first_peak < heavy.slowest < heavy.second_peak
    peak, low, most = (heavy.speed[i] for i in (heavy.first_peak, heavy.slowest, heavy.second_peak))
    assert low < peak and low < most
    # Hales et al. 2009, J Strength Cond Res 23:2574: thigh 32.5 ± 3.0°, bar 0.09 m/s, in 25
    # competition lifts.
    assert rep.posture.thigh_deg[heavy.slowest] == pytest.approx(32.5, abs=3.0)
    assert low == pytest.approx(0.09, abs=0.03)


def test_the_heavier_the_slower_at_the_slowest():
    slowest = [up.speed[up.slowest] for up in map(ascent_of, (moved(108), moved(114), moved(120)))]
    assert slowest == sorted(slowest, reverse=True)


def test_every_repetition_of_a_set_has_its_own_way_up():
    rep = moved(repetitions=2)
    first, second = ascent_of(rep), ascent_of(rep, 2)
    later = rep.time[second.fastest] - rep.time[first.fastest]
    lasts = rep.each[0]["end"] - rep.each[0]["ascent"]
    assert later == pytest.approx(1.8 + 0.2 + lasts + 0.8, abs=0.02)
    with pytest.raises(ValueError, match="repetition is 3; this set has 2, counted from 1"):
        ascent_of(rep, 3)


@pytest.mark.parametrize("frame", [0, 200, 330, 500])
def test_an_instant_is_the_posture_of_its_frame(frame):
    rep = moved(80)
    one = posture_at(rep, frame)
    assert np.ndim(one.sine) == 0
    for name, places in rep.posture.points.items():
        assert one.points[name] == pytest.approx(np.broadcast_to(places, (rep.time.size, 3))[frame])


def test_instants_that_are_not_there_are_explained():
    with pytest.raises(ValueError, match=r"frame is 9999; this set has frames 0 to \d+"):
        posture_at(moved(), 9999)
    with pytest.raises(ValueError, match="the set has 2 repetitions; synthesise one"):
        posture_at(moved(repetitions=2), 0)
