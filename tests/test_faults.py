"""The catalogue: whole, in order, and severity as it is written."""

from __future__ import annotations

import numpy as np
import pytest

from squatlab import faults


def test_fourteen_faults_in_four_tiers_each_with_advice():
    catalogue = faults.catalogue()
    assert len(catalogue) == 14
    tiers = [fault.tier for fault in catalogue.values()]
    assert tiers == sorted(tiers) and set(tiers) == set(faults.TIERS)
    for name, fault in catalogue.items():
        assert fault.view in ("side", "front", "any")
        assert all(faults.advice(name)), name


def test_severity_is_one_two_three_at_the_sizes_and_straight_between():
    for fault in faults.catalogue().values():
        assert fault.severity(np.array(fault.thresholds)) == pytest.approx([1, 2, 3])
        middle = (fault.slight + fault.clear) / 2
        assert fault.severity(middle) == pytest.approx(1.5)
        assert [str(fault.size(value)) for value in fault.thresholds] == list(faults.SIZES)


def test_severity_and_value_undo_each_other():
    wanted = np.linspace(0, 4, 41)
    for fault in faults.catalogue().values():
        values = fault.value_at(wanted)
        assert fault.severity(values) == pytest.approx(wanted)


def test_a_shorter_descent_is_worse():
    fault = faults.fault("fast_descent")
    assert fault.severity(0.75) > fault.severity(0.85) > fault.severity(2.0) == 0
    assert fault.size(2.0) == ""


def test_nothing_known_is_no_size():
    fault = faults.fault("heel_lift")
    assert np.isnan(fault.severity(np.nan))
    assert fault.size(np.nan) == ""


def test_only_what_may_hurt_stops_a_set():
    assert {f.id: f.stop for f in faults.catalogue().values() if f.stop} == {
        "lumbar_rounding": "gross",
        "knee_valgus": "gross",
        "bar_forward": "gross",
        "uneven_bar": "gross",
    }


def test_an_unknown_fault_is_told_the_nearest():
    with pytest.raises(ValueError, match='did you mean "knee_valgus"'):
        faults.fault("knee_valgas")


def test_normal_rounding_of_trained_men_is_no_fault():
    # McKean, Dunn & Burkett 2010, J Strength Cond Res 24:2731: 25.4 to 26.3 degrees in men.
    assert faults.fault("lumbar_rounding").size(26.3) == ""
