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
    found = read(rep)
    fault = faults.fault(rep.injections[0].fault)
    clean = [one for one in found if one.present == "no"]
    shown = [found[fault.id], *rng.permutation(len(clean))[:3]]
    shown = [one if isinstance(one, Finding) else clean[one] for one in shown]
    numbers = "; ".join(
        f"{faults.fault(one.fault).measured_as}: {one.amount}"
        for one in sorted(shown, key=lambda one: one.fault)
    )
    return choice(
        rng,
        f"One squat, filmed from the side and the front. {numbers}. Which fault is it?",
        {
            one.name: f"Its number is {one.amount}, and of this fault {_limits_of(one)}: it does "
            "not reach slight."
            for one in shown
        },
        right=fault.name,
        why=f"{fault.name.capitalize()}: {limits(fault)}. Look for: {fault.look_for}",
        hint="Only one of the four numbers is large enough to be a fault. The catalogue has the "
        "limits.",
    )


def _limits_of(finding: Finding) -> str:
    return limits(faults.fault(finding.fault))


def cannot_tell(rng: Generator) -> Check:
    """Ask of which fault one phone alone can say nothing."""
    view, load = str(rng.choice(["side", "front"])), bool(rng.integers(2))
    found = read(case(rng), view, load=load)
    untold = [one for one in found if one.present == "cannot tell"]
    told = [one for one in found if one.present != "cannot tell"]
    right = untold[rng.integers(len(untold))]
    others = [told[index] for index in rng.permutation(len(told))[:3]]
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
    severe = {"lumbar_rounding": rng.integers(12, 35) / 10}
    others = rng.choice(["knee_valgus", "heel_lift", "fast_descent"], 2, replace=False)
    severe |= {str(name): rng.integers(11, 35) / 10 for name in others}
    found = suppose(**severe)
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
    words = [f"{one.name} ({one.size}, {one.amount})" for one in found]
    return f"{', '.join(words[:-1])} and {words[-1]}"


def _its_place(ranking: Ranking, finding: Finding) -> str:
    place = next(one for one in ranking if one.fault == finding.fault)
    return f"It comes as number {place.rank}: {place.reason}."


def _order(ranking: Ranking) -> str:
    return "; ".join(f"{one.rank} {one.finding.name}: {one.reason}" for one in ranking) + "."


MAKERS: dict[str, Callable[[Generator], Check]] = {
    maker.__name__: maker for maker in (name_the_fault, cannot_tell, first_to_fix, stop_the_set)
}
