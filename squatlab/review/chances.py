"""How likely a fault is there, and of what size, from a reading that may be off.

A low back that reads 45 ± 20° says less than one that reads 45 ± 4°: few backs round so
far, so the first is more likely an error. So a reading is weighed with how people read,
where that is openly known (Bayes; both are taken as normal distributions).
"""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

import numpy as np
from scipy.special import ndtr, ndtri

from squatlab import faults
from squatlab.faults import TRACE, Fault
from squatlab.norms import norms_of

THERE, SURE = 0.9, 0.7
"""A fault is there if it is slight or more with this chance; and of a size
if it is that or more with the other [teaching-value]."""

WIDE = 1.96
"""So many SD either way hold 95 % of what a value may be."""

GROSS_FAULTS = 1.0
"""A lifter who is filmed for a review has so many gross faults of the
catalogue's, on average [teaching-value]."""


class Normal(NamedTuple):
    """Hold a normal distribution of a fault's value, in the fault's unit."""

    mean: float
    sd: float


@cache
def expected_of(fault: Fault) -> Normal | None:
    """Return how people read whom somebody films for a review, None if unknown.

    The mean is that of data/norms.csv, its groups weighed by their people.
    The SD is such that each fault is gross in one person of as many as
    there are faults (`GROSS_FAULTS`). That is nowhere less than the spread
    of the real lifters in norms.csv, and up to five times as much, so that
    it costs little to find what is there. Without an open norm nothing is
    expected.
    """
    norms = norms_of(fault.id)
    if not norms:
        return None
    mean = float(np.average([norm.middle for norm in norms], weights=[n.people for n in norms]))
    share_gross = GROSS_FAULTS / len(faults.catalogue())
    # P(worse than gross) = share_gross puts gross this many SD from the mean.
    return Normal(mean, float(abs(fault.gross - mean) / -ndtri(share_gross)))


def weighed(fault: Fault, reading: Normal) -> Normal:
    """Return what a value probably is, from a reading with its SD.

    The product of two normal densities: each counts by its precision,
    1 / SD². A sure reading stays what it is.
    """
    expected = expected_of(fault)
    if expected is None or reading.sd <= 0:
        return reading
    own, other = 1 / reading.sd**2, 1 / expected.sd**2
    mean = (own * reading.mean + other * expected.mean) / (own + other)
    return Normal(mean, (own + other) ** -0.5)


def chances_of(fault: Fault, reading: Normal) -> tuple[float, ...]:
    """Return the chances that a fault is slight, clear and gross, or more."""
    sign = -1.0 if fault.smaller_is_worse else 1.0
    value, sd = weighed(fault, reading)
    beyond = sign * (value - np.array(fault.thresholds))
    # A value on a limit belongs to the larger size where nothing is uncertain.
    return tuple(float(chance) for chance in ndtr((beyond + TRACE) / max(sd, TRACE**2)))


def sure_size(fault: Fault, reading: Normal, chances: tuple[float, ...]) -> str | None:
    """Return the size that is sure, "" for not there, None where neither is.

    There with a chance of `THERE`, then the largest size with one of
    `SURE`. Not there, unless the 95 % interval of the reading reaches
    clear: then nothing is sure.
    """
    if chances[0] >= THERE:
        return faults.SIZES[max(sum(chance >= SURE for chance in chances), 1) - 1]
    sign = -1.0 if fault.smaller_is_worse else 1.0
    worst = sign * reading.mean + WIDE * reading.sd
    return None if worst >= sign * fault.clear else ""
