"""Every fault: of the size it says, as somebody who only sees points measures it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from squatlab import Bar, Lifter, Stance, faults
from squatlab.motion import Injection, Tempo, synthesise
from squatlab.motion.injection import INJECTORS
from tests.motion.crowd import crowd
from tests.motion.definitions import Seen

LIFTER = Lifter.from_stature(1.75, 80)
BAR, STANCE = Bar.high(80), Stance()
WITHIN = 0.10
"""Of the size: what the catalogue's accuracy allows a generator."""

ALL = list(faults.catalogue().values())
SPOTS = {"high bar": (0.91, 1.83), "low bar": (0.08, 0.15)}


def read(rep, fault, repetition=0):
    """Return what a noise-free measurement reads, in the fault's unit."""
    masses = rep.lifter.mass_kg, rep.bar.mass_kg
    seen = Seen(rep.points, rep.time, repetition, *masses)
    if fault == "bar_forward":
        return seen.bar_forward(rep.posture.com[:, 0])
    if fault == "head_up":
        return seen.head_up(SPOTS[rep.bar.name])
    return getattr(seen, fault)()


def test_there_is_an_injector_for_every_fault_and_no_other():
    assert list(INJECTORS) == list(faults.catalogue())
    for fault in ALL:
        least, most, _ = INJECTORS[fault.id]
        assert least <= min(fault.thresholds) and max(fault.thresholds) <= most, fault.id


@pytest.mark.parametrize("fault", ALL, ids=lambda f: f.id)
def test_each_fault_alone_has_its_size_in_a_typical_lifter(fault):
    for size in fault.thresholds:
        rep = synthesise(LIFTER, BAR, STANCE, injections=[Injection(fault.id, size)])
        assert rep.feasible, (size, rep.reason)
        assert read(rep, fault.id) == pytest.approx(size, rel=WITHIN), size


@pytest.mark.parametrize("fault", ALL, ids=lambda f: f.id)
def test_each_fault_alone_has_its_size_in_others(fault):
    done = 0
    for lifter, bar, stance in crowd(16, 9):
        for size in (fault.slight, fault.value_at(2.5)):
            rep = synthesise(lifter, bar, stance, injections=[Injection(fault.id, size)])
            if rep.feasible:
                done += 1
                assert read(rep, fault.id) == pytest.approx(size, rel=WITHIN), (lifter, size)
    assert done >= 24


@pytest.mark.parametrize("fault", ALL, ids=lambda f: f.id)
def test_without_it_there_is_none(fault):
    for lifter, bar, stance in crowd(12, 4):
        rep = synthesise(lifter, bar, stance, rng=np.random.default_rng(1))
        if rep.clean:
            assert faults.fault(fault.id).size(read(rep, fault.id)) == ""


def test_clean_ascents_lean_as_little_as_they_came_down():
    # Trials of clean balanced ascents read −2.4 to −0.1 degrees.
    reps = [synthesise(*who) for who in crowd(30, 2)]
    found = [read(rep, "hips_rise_first") for rep in reps if rep.clean]
    assert len(found) > 20 and -3 < min(found) and max(found) < -0.1


def test_several_at_once_each_of_its_size():
    asked = {
        "knees_first": 120,
        "hips_rise_first": 4,
        "lumbar_rounding": 45,
        "knee_valgus": 12,
        "lateral_shift": 3,
        "turnout_out_of_range": 6,
        "uneven_bar": 5,
        "head_up": 20,
        "bar_forward": 4,
        "fast_descent": 1.0,
    }
    for order in (1, -1):
        injections = [Injection(*pair) for pair in list(asked.items())[::order]]
        rep = synthesise(LIFTER, BAR, STANCE, injections=injections)
        assert rep.feasible, rep.reason
        for fault, size in asked.items():
            assert read(rep, fault) == pytest.approx(size, rel=WITHIN), fault


def test_a_fault_may_begin_later_in_the_set():
    tempo = Tempo(repetitions=4)
    for fault in ALL:
        if fault.id == "turnout_out_of_range":
            continue
        injection = Injection(fault.id, fault.clear, onset=3)
        rep = synthesise(LIFTER, BAR, STANCE, tempo, [injection], np.random.default_rng(7))
        sizes = [fault.size(read(rep, fault.id, k)) for k in range(4)]
        assert sizes[:2] == ["", ""], fault.id
        found = [read(rep, fault.id, k) for k in (2, 3)]
        assert found == pytest.approx([fault.clear] * 2, rel=WITHIN), fault.id


def test_knees_far_forward_lift_the_heels_only_of_stiff_ankles():
    injection = [Injection("knees_far_forward", 12)]
    rep = synthesise(LIFTER, BAR, STANCE, injections=injection)
    lifted = read(rep, "heel_lift")
    assert 1 < lifted < 4
    assert rep.notes == (
        "knees_far_forward: the ankles bend no further than 40°, so the heels rise by "
        f"{lifted:.1f} cm and the weight goes onto the balls of the feet",
    )
    loose = replace(LIFTER, dorsiflexion_deg=55.0)
    rep = synthesise(loose, BAR, STANCE, injections=injection)
    assert read(rep, "heel_lift") == 0 and rep.notes == ()
    assert read(rep, "knees_far_forward") == pytest.approx(12, rel=WITHIN)


def test_raised_heels_bear_no_weight():
    rep = synthesise(LIFTER, BAR, STANCE, injections=[Injection("heel_lift", 3)])
    raised = rep.points["heel_r"][:, 1] > 1e-9
    assert raised.sum() > 100
    ball = rep.points["ball_r"][0, 0]
    assert (rep.posture.com[raised, 0] >= ball - 1e-9).all()


def test_what_a_lifter_cannot_reach_is_told():
    rep = synthesise(
        LIFTER, BAR, STANCE, Tempo(descent_s=0.9, hip_lead_s=0), [Injection("knees_first", 390)]
    )
    assert not rep.feasible
    assert rep.reason.startswith("knees_first: the knees can begin at most ")
    assert rep.reason.endswith(" ms before the hips in this descent")
    rep = synthesise(LIFTER, Bar.high(120), STANCE, injections=[Injection("hips_rise_first", 20)])
    assert "the trunk can lean at most" in rep.reason


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("knee_valgas", 8), 'did you mean "knee_valgus"'),
        (("heel_lift", 9), "the size of heel_lift is 9; it must lie between 0 and 7 cm"),
        (("fast_descent", 0.2), "the size of fast_descent is 0.2; it must lie between 0.5 and 3 s"),
        (("head_up", float("nan")), "the size of head_up is nan"),
        (("head_up", 20, 0), "onset is 0; give the repetition from which on"),
        (("turnout_out_of_range", 8, 2), "the feet are set before the first repetition"),
    ],
)
def test_what_is_no_injection_is_refused_in_words(arguments, words):
    with pytest.raises(ValueError, match=words):
        Injection(*arguments)


def test_a_set_may_be_over_before_the_fault_and_a_bar_without_mass_goes_nowhere():
    late = [Injection("head_up", 20, onset=3)]
    with pytest.raises(ValueError, match="begins with repetition 3 of a set of 2; give onset 1 to"):
        synthesise(LIFTER, BAR, STANCE, Tempo(repetitions=2), late)
    with pytest.raises(ValueError, match="the bar has no mass; give it some"):
        synthesise(LIFTER, Bar.high(0), STANCE, injections=[Injection("bar_forward", 5)])


@pytest.mark.parametrize("size_cm", [1.0, 3.0, 5.0])
def test_heels_rise_by_the_centimetres_that_are_asked(size_cm):
    """By the points themselves: the heel's height at the lowest, where it was on the floor."""
    rep = synthesise(LIFTER, BAR, STANCE, Tempo(), Injection("heel_lift", size_cm))
    heel = rep.points["heel_r"][:, 1]
    assert heel[0] == pytest.approx(0.0, abs=1e-9)
    assert 100 * heel[rep.bottom] == pytest.approx(size_cm, abs=1e-6)


@pytest.mark.parametrize("bar", [Bar.high(80), Bar.low(80)], ids=["high", "low"])
def test_eyes_keep_to_their_spot_ahead_of_the_toes_but_for_what_is_asked(bar):
    """A tenth of a degree: the spots are near the feet under a low bar, where the toes count."""
    rep = synthesise(LIFTER, bar, STANCE, Tempo(), Injection("head_up", 20.0))
    assert read(rep, "head_up") == pytest.approx(20.0, abs=0.1)


def test_repetitions_before_the_fault_keep_their_time_and_their_lead():
    """Only the second is dropped."""
    tempo = Tempo(descent_s=1.6, repetitions=2, hip_lead_s=0.2)
    plan = synthesise(LIFTER, BAR, STANCE, tempo, [Injection("fast_descent", 0.7, onset=2)]).plan
    for name, value in (("descent_s", 1.6), ("hip_lead_s", 0.2)):
        first, second = getattr(plan, name)
        assert first == pytest.approx(value, rel=1e-12) and second < 0.6 * value, name


def test_a_weight_that_goes_forward_by_nothing_stays_over_mid_foot():
    """Also that of a lifter who else keeps a light bar over the feet, and the weight behind it."""
    bar = Bar.high(30)
    back, over = (
        synthesise(LIFTER, bar, STANCE, straightness=0.8, injections=faults_put_in)
        for faults_put_in in ((), Injection("bar_forward", 0.0))
    )
    assert back.posture.com[:, 0].min() < -0.01
    assert over.posture.com[:, 0] == pytest.approx(0.0, abs=1e-9)


def test_an_over_arch_is_gone_at_the_bottom_and_on_the_way_up():
    """It comes as the descent begins and goes in its second half."""
    clean, arched = (
        synthesise(LIFTER, BAR, STANCE, injections=put_in)
        for put_in in ((), Injection("lumbar_overarching", 20))
    )
    lowest = clean.time >= clean.events["start"] + 0.85 * (
        clean.events["bottom"] - clean.events["start"]
    )
    for name in ("l5", "c7", "bar"):
        assert arched.points[name][lowest] == pytest.approx(clean.points[name][lowest], abs=1e-9)
        assert np.abs(arched.points[name] - clean.points[name]).max() > 0.005


@pytest.mark.parametrize("valgus_deg", [-5.0, 6.0])
def test_knees_go_as_far_forward_as_asked_wherever_they_point(valgus_deg):
    stance = Stance(0.34, 18.0, valgus_deg=valgus_deg)
    rep = synthesise(LIFTER, BAR, stance, injections=Injection("knees_far_forward", 9.0))
    assert read(rep, "knees_far_forward") == pytest.approx(9.0, abs=0.1)


@pytest.mark.parametrize("fault", ALL, ids=lambda f: f.id)
def test_each_fault_has_its_size_in_an_odd_stance_at_an_odd_tempo(fault):
    """Feet on a wedge, one turned out more, knees already inward, a bar kept over mid-foot."""
    stance = Stance(0.40, 14.0, valgus_deg=3.0, wedge_m=0.012)
    tempo = Tempo(1.5, 0.1, 1.3, standing_s=1.1, hip_lead_s=0.05, braking=0.15)
    size = fault.value_at(2.3)
    rep = synthesise(
        LIFTER,
        Bar.low(90),
        stance,
        tempo,
        [Injection(fault.id, size)],
        asymmetry_deg=4.0,
        straightness=0.3,
        lumbar_deg=20.0,
    )
    assert rep.feasible, rep.reason
    assert read(rep, fault.id) == pytest.approx(size, rel=WITHIN), fault.id


def test_hips_slide_aside_under_a_trunk_and_a_bar_that_stay_in_the_middle():
    rep = synthesise(LIFTER, BAR, STANCE, injections=Injection("lateral_shift", 6.0))
    hips = 0.5 * (rep.points["hip_r"] + rep.points["hip_l"])
    assert 100 * hips[rep.bottom, 2] == pytest.approx(6.0, abs=1e-6)
    for name in ("bar", "c7", "head", "l5"):
        assert np.abs(rep.points[name][:, 2]).max() == 0.0, name
