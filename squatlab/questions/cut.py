"""How many marks reach a cut."""

from __future__ import annotations

from math import ceil


def least_whole(cut: float) -> int:
    """Return the least whole number of marks that reaches a cut."""
    # Shares and sums of tenths end in stray last bits: 0.56 × 25 is a little more than 14, and
    # would ask for 15.
    return ceil(cut - 1e-9)
