"""A folder of real lifters' cases in which nobody was filmed."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import numpy as np

from squatlab import Bar, Lifter, Stance
from squatlab.motion import Camera, Injection, film, synthesise
from squatlab.questions.real_cases import (
    CoachAnswer,
    CoachKey,
    Consent,
    LiftDeclared,
    RealCases,
)


def keep_invented_lifters(folder: Path, *ids: str) -> None:
    """Keep a synthetic squat whose knees fall in, filmed from the front, under each id."""
    lifter, phone = Lifter.from_stature(1.75, 75), Camera.front()
    rep = synthesise(lifter, Bar.high(60), Stance(), injections=[Injection("knee_valgus", 9)])
    shots = [film(rep.points, rep.time, phone, np.random.default_rng(1))]
    answer = CoachAnswer(("knee_valgus",), "knee_valgus")
    key = CoachKey(answer.there, answer.first, {"K1": answer, "K2": answer}, False)
    consent = Consent("lifter", "I1", date(2020, 1, 2), date(2999, 12, 31))
    cases = RealCases(folder)
    for name in ids:
        cases.keep(name, shots, LiftDeclared.of(lifter, 60, phone), key, consent)
