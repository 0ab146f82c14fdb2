"""Lifters, bars and stances as different as a gym's."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np

from squatlab import Bar, Population, Stance

TABLES = (
    ("women", "winter2009"),
    ("men", "winter2009"),
    ("women", "deleva1996_women"),
    ("men", "deleva1996_men"),
)


def crowd(count, seed):
    """Give lifters with a bar of 20 kg to their own best or 180 kg, and a stance."""
    rng = np.random.default_rng(seed)
    drawn = [Population.ansur2(who).draw(count, rng, table) for who, table in TABLES]
    for i in range(count):
        many = drawn[i % len(drawn)]
        one = {f.name: getattr(many, f.name) for f in fields(many)}
        lifter = replace(many, **{k: v[i] for k, v in one.items() if np.ndim(v)})
        bar = (Bar.high, Bar.low)[int(rng.integers(2))]
        mass = rng.uniform(20, min(180.0, 1.5 * lifter.mass_kg))
        yield lifter, bar(mass), Stance(rng.uniform(0.22, 0.42), rng.uniform(6, 19))
