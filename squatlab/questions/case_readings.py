"""What was measured of a case's faults, in words: exactly, by two phones, and of people."""

from __future__ import annotations

from squatlab.norms import norm_in_words, norms_of
from squatlab.questions.cases import Case


def readings_in_words(lift: Case) -> list[str]:
    """Return a line for each fault that is there.

    Its exact value and size, what the case's two phones read of it with
    the error that 95 of 100 such readings stay within, and the open norm,
    where there is one.
    """
    lines = []
    for finding in lift.findings.present():
        filmed = lift.filmed[finding.fault]
        words = f"Measured, {finding.name}: {finding.amount}, {finding.size}"
        if filmed.interval:
            words += f" (two phones read {filmed.amount} {filmed.interval})"
        norm = norm_in_words(finding.fault) if norms_of(finding.fault) else ""
        lines.append(f"{words}. {norm[:1].upper()}{norm[1:]}{'.' if norm else ''}".strip())
    return lines
