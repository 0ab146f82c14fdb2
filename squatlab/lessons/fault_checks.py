"""The questions of notebooks 08 and 09: name a fault, and say what comes first."""

from __future__ import annotations

from collections.abc import Callable

from numpy.random import Generator

from squatlab import faults
from squatlab.lessons.fault_cases import BAR, limits, read, squat, suppose
from squatlab.motion import Rep
from squatlab.questions.question import Check, choice
from squatlab.review import Finding, Ranking, prioritise
from squatlab.units import MASS

PLAIN = 2.6
"""Severity of the fault that is to be named: between clear and gross."""

WITHOUT_LOAD = "one bodyweight squat"


def case(rng: Generator) -> Rep:
    """Return a squat with one fault, more than clear."""
    name = str(rng.choice(list(faults.catalogue())))
    return squat(**{name: float(faults.fault(name).value_at(PLAIN))})


def name_the_fault(rng: Generator) -> Check:
    """Ask which of four readings of a filmed squat is a fault."""
    rep = case(rng)
    findings = read(rep)
    fault = faults.fault(rep.injections[0].fault)
    clean = [finding for finding in findings if finding.present == "no"]
    shown = [findings[fault.id], *(clean[place] for place in rng.permutation(len(clean))[:3])]
    # In the order of their names, so that the fault does not stand first.
    numbers = "; ".join(
        f"{faults.fault(finding.fault).measured_as}: {finding.amount}"
        for finding in sorted(shown, key=lambda finding: finding.fault)
    )
    return choice(
        rng,
        f"One squat, filmed from the side and the front. Measured: {numbers}. Which fault is it?",
        {
            finding.name: f"Its number is {finding.amount}, and of this fault "
            f"{limits(faults.fault(finding.fault))}: it does not reach slight."
            for finding in shown
        },
        right=fault.name,
        why=f"{fault.name.capitalize()}: {limits(fault)}. Look for: {fault.look_for}",
        hint="Only one of the four numbers is large enough to be a fault. The catalogue has the "
        "limits.",
    )


def cannot_tell(rng: Generator) -> Check:
    """Ask of which fault one phone alone can say nothing."""
    view, load = str(rng.choice(["side", "front"])), bool(rng.integers(2))
    findings = read(case(rng), view, load=load)
    unseen = [finding for finding in findings if finding.present == "cannot tell"]
    measured = [finding for finding in findings if finding.present != "cannot tell"]
    right = unseen[rng.integers(len(unseen))]
    others = [measured[place] for place in rng.permutation(len(measured))[:3]]
    declared = "declared" if load else "not declared"
    return choice(
        rng,
        f"One phone films from the {view}; the masses of lifter and bar are {declared}. About "
        "which of these faults can nothing be said, neither that it is there nor that it is not?",
        {right.name: ""}
        | {
            one.name: f"It shows from the {view}: the reading is {one.amount}, so it is "
            f"{'there' if one.present == 'yes' else 'not there'}."
            for one in others
        },
        right=right.name,
        why=f"{right.name.capitalize()}: {right.reason}. The other three were measured.",
        hint=f"What does not move across a picture from the {view}? And what needs the masses?",
    )


def first_to_fix(rng: Generator) -> Check:
    """Ask which of four faults is fixed first."""
    names = rng.choice(list(faults.catalogue()), 4, replace=False)
    found = suppose(**{str(name): rng.integers(11, 35) / 10 for name in names})
    ranking = prioritise(found)
    return choice(
        rng,
        f"In a set with {MASS.words(BAR.mass_kg)} you find {_listed(found)}. Which one now?",
        {one.name: _its_place(ranking, one) for one in found},
        right=ranking.first.finding.name,
        why=_order(ranking),
        hint="Does one of them bring another? Does one stop the set? Otherwise hips and spine, "
        "then knees, then feet and bar path, then head and tempo; but nothing slight before "
        "what is clear.",
    )


def stop_the_set(rng: Generator) -> Check:
    """Ask whether a set is stopped, or which fault is fixed after it."""
    loaded = bool(rng.integers(4))
    severities = {"lumbar_rounding": rng.integers(12, 35) / 10}
    others = rng.choice(["knee_valgus", "heel_lift", "fast_descent"], 2, replace=False)
    severities |= {str(name): rng.integers(11, 35) / 10 for name in others}
    found = suppose(**severities)
    ranking = prioritise(found, loaded=loaded)
    set_of = f"a set with {MASS.words(BAR.mass_kg)}" if loaded else WITHOUT_LOAD
    stop, after = "stop the set and unload, before any coaching", "after the set, fix: "
    dangerous = [fault for fault in faults.catalogue().values() if fault.stop]
    gentle = "none of them is" if loaded else "there is no load"
    unload = "It is gross under load: nothing is coached before the bar is off."
    return choice(
        rng,
        f"In {set_of} you find {_listed(found)}. Nothing hurts. What do you do?",
        {
            stop: "A set is stopped at once when one of these is gross under load: "
            f"{', '.join(fault.name for fault in dangerous)}. Here {gentle}."
        }
        | {after + one.name: unload if ranking.stop else _its_place(ranking, one) for one in found},
        right=stop if ranking.stop else after + ranking.first.finding.name,
        why=f"{_order(ranking)} Pain would stop it in any case.",
        hint="Two things decide whether a set is stopped: whether something that may hurt is "
        "gross, and whether there is a load.",
    )


def _listed(found: tuple[Finding, ...]) -> str:
    """Return findings in a sentence: each with its size and its value."""
    words = [f"{one.name} ({one.size}, {one.amount})" for one in found]
    return f"{', '.join(words[:-1])} and {words[-1]}"


def _its_place(ranking: Ranking, finding: Finding) -> str:
    """Return where a finding stands in a ranking, and why."""
    place = next(one for one in ranking if one.fault == finding.fault)
    return f"It comes as number {place.rank}: {place.reason}."


def _order(ranking: Ranking) -> str:
    """Return a ranking in a sentence, each place with its reason."""
    return "; ".join(f"{one.rank} {one.finding.name}: {one.reason}" for one in ranking) + "."


MAKERS: dict[str, Callable[[Generator], Check]] = {
    maker.__name__: maker for maker in (name_the_fault, cannot_tell, first_to_fix, stop_the_set)
}
