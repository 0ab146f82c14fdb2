"""What coaches say of a form's key without having seen it: typed, compared, counted.

A key is the program's own opinion until as many coaches as
the form's policy asks have answered its item blind and agree with it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path
from typing import NamedTuple

from squatlab.exam.forms import UNREVIEWED, Form, FormKey
from squatlab.exam.marking import right
from squatlab.exam.policy import ExamPolicy
from squatlab.questions import files
from squatlab.questions.agreement import cohen_kappa, confusion_map
from squatlab.questions.figure import Figure, none
from squatlab.questions.kinds import Given
from squatlab.questions.question import Key, Question
from squatlab.spreadsheet import read_rows

BlindAnswers = dict[str, dict[str, Given]]
"""Answers by coach, and by item."""

KEY = "The key"

COACH = "Coach's id (such as K1)"

MISSED = (
    "They agree with each other and not with the key. Look at the lift together. If they are "
    "right, draw a form of another name, or, if this one was sat, credit the item to everyone "
    "(squatlab records RECORDS credit):"
)
SPLIT = (
    "They do not agree with each other, or are too few. Look at the lift together and ask one more "
    "coach; until then its answer key is not yet checked by coaches:"
)


class Opinion(NamedTuple):
    """Hold one coach's answer to one item; ``fits`` if the key says just that."""

    coach: str
    item: str
    kind: str
    answer: Given
    fits: bool


class Likeness(NamedTuple):
    """Hold how far two agree: the share of ``items`` alike, and Cohen's kappa.

    Kappa is that of the first fault, the one kind whose options are the
    same from item to item; nan with the reason where it means nothing.
    """

    items: int
    share: float
    kappa: Figure

    def __str__(self) -> str:
        kappa = f"{self.kappa:.2f}" if self.kappa == self.kappa else f"none, {self.kappa.reason}"
        percent = f"{100 * self.share:.0f} %"
        items = f"{self.items} item{'s' * (self.items != 1)}"
        return f"the same on {percent} of {items}; kappa of the first: {kappa}"


def template(form: Form, questions: Mapping[str, Question]) -> str:
    """Return a CSV to type a coach's answers into, a row an item; it names its form."""
    rows = [
        f"{_form(form)},,{question.id},,{question.how.paper}" for question in questions.values()
    ]
    rows[0] += f"; coach_id: {COACH}"
    return "\n".join(["form,coach_id,item,answer,write", *rows, ""])


def read_blind(path: str | Path, form: Form, questions: Mapping[str, Question]) -> BlindAnswers:
    """Read what coaches answered, by coach and item, typed into the template.

    A coach is named once: the rows below are of the same one, those without
    an answer are left out. Raises ValueError for another form's table, and
    one that lists every mistake.
    """
    answers: BlindAnswers = {}
    coach, problems = "", []
    rows = read_rows(path, ("form", "coach_id", "item", "answer"), ("write",))
    named = [row["form"] for _, row in rows]
    other = [name for name in named if name.casefold() != _form(form).casefold()]
    if other:
        raise ValueError(
            f"{Path(path).name} is the table of form “{other[0]}”, and this is {_form(form)}: give "
            "that form and its key, or the table that squatlab panel wrote for this one"
        )
    for number, row in rows:
        coach, item = row["coach_id"] or coach, row["item"]
        of_coach = answers.setdefault(coach, {})
        if item not in questions or item in of_coach:
            problems.append(f"row {number}: item “{item}” is not on this form, or answered twice")
        elif row["answer"]:
            try:
                of_coach[item] = questions[item].how.typed(questions[item], row["answer"])
            except ValueError as problem:
                problems.append(f"row {number}: {problem}")
    if problems or not any(answers.values()):
        reason = "; ".join(problems) or "nothing is answered yet"
        raise ValueError(f"{Path(path).name}: {reason}")
    return {
        files.identifier("coach", coach): of_coach
        for coach, of_coach in answers.items()
        if of_coach
    }


def _form(form: Form) -> str:
    """Return a form's id and the first of its seal: a name may be used twice."""
    return f"{form.id} {form.seal[:8]}"


def compared(key: FormKey, one: Mapping[str, Given], other: Mapping[str, Given]) -> Likeness:
    """Compare what two answered, over the items that both did."""
    both = [item for item in key.entries if item in one and item in other]
    alike = [_alike(key.entries[item], one[item], other[item]) for item in both]
    first = [item for item in both if key.entries[item].how.certifies]
    kappa = none("no lift of which both named the first fault")
    if first:
        labels = dict.fromkeys(option for item in first for option in key.entries[item].options)
        named_by_one = [one[item] for item in first]
        named_by_other = [other[item] for item in first]
        kappa = cohen_kappa(confusion_map(named_by_one, named_by_other, tuple(labels)).counts)
    share = sum(alike) / len(both) if both else float("nan")
    return Likeness(len(both), share, kappa)


def _alike(entry: Key, one: Given, other: Given) -> bool:
    """Tell whether two answers are the same, or both right: several cues and numbers are."""
    return one == other or _fits(entry, one) and _fits(entry, other)


def _fits(entry: Key, given: Given) -> bool:
    """Return whether an answer says in full what the key says."""
    return (_mark(entry, given) or 0.0) > 1 - 1e-9  # an order's mark is a quotient of sums


def _mark(entry: Key, given: Given) -> float | None:
    """Return the mark of an answer, None for one that cannot be."""
    return right(entry, tuple(given) if isinstance(given, list) else given)


def reviewed(opinions: Iterable[Opinion], policy: ExamPolicy) -> frozenset[str]:
    """Return the items that enough coaches answered, enough of them as the key does.

    Enough is what ``review_coaches`` and ``review_agreement`` of a policy say.
    """
    opinions = tuple(opinions)
    coaches = Counter(opinion.item for opinion in opinions)
    fitting = Counter(opinion.item for opinion in opinions if opinion.fits)
    return frozenset(
        item
        for item, count in coaches.items()
        if count >= policy.review_coaches and fitting[item] > policy.review_agreement * count
    )


def key_words(count: int, total: int) -> str:
    """Return how many lifts have a reviewed key, as records and certificates say it."""
    return f"key reviewed by coaches on {count} of {total} lifts" if count else UNREVIEWED


@dataclass(frozen=True)
class KeyReview:
    """Hold what coaches say of a form's key; print it to see what to do."""

    form: Form
    key: FormKey
    opinions: tuple[Opinion, ...] = ()

    def __post_init__(self) -> None:
        self.form.check(self.key)

    @property
    def reviewed(self) -> frozenset[str]:
        """Return the items whose key is reviewed."""
        return reviewed(self.opinions, self.form.policy)

    @property
    def words(self) -> str:
        """Return how many of the lifts that certify are reviewed."""
        lifts = [item for item, entry in self.key.entries.items() if entry.how.certifies]
        return key_words(len(self.reviewed.intersection(lifts)), len(lifts))

    def judged(self, coach: str, answers: Mapping[str, Given]) -> tuple[Opinion, ...]:
        """Return a coach's answers with whether they fit; ValueError if one cannot be."""
        opinions = []
        for item, given in answers.items():
            entry = self.key.entries.get(item)
            if not entry or _mark(entry, given) is None:
                raise ValueError(f"coach {coach}: {given!r} is no answer to item {item}")
            if given is not None:
                given = entry.how.plain(given)
                opinions.append(Opinion(coach, item, entry.kind, given, _fits(entry, given)))
        return tuple(opinions)

    def likenesses(self) -> dict[tuple[str, str], Likeness]:
        """Return how far each coach agrees with the key, and each two with each other."""
        given: BlindAnswers = {KEY: {}}
        for item, entry in self.key.entries.items():
            given[KEY][item] = entry.how.example(entry)
        for opinion in self.opinions:
            given.setdefault(opinion.coach, {})[opinion.item] = opinion.answer
        return {
            (one, other): compared(self.key, given[one], given[other])
            for one, other in combinations(given, 2)
        }

    def lines(self) -> list[str]:
        """Return it in sentences: how many, how alike, which to look at and what to do."""
        if not self.opinions:
            return [f"{UNREVIEWED.capitalize()}: no coach has answered this form blind."]
        every = f"{len(self.reviewed)} of {len(self.form.items)} items"
        pairs = [f"{a} and {b}: {like}." for (a, b), like in self.likenesses().items()]
        return [f"{self.words.capitalize()}, {every} in all.", *pairs, *self.doubts()]

    def doubts(self) -> list[str]:
        """Return the items on which coaches and key differ, under what to do about them."""
        doubtful: dict[str, list[str]] = {MISSED: [], SPLIT: []}
        for item, entry in self.key.entries.items():
            of_item = [opinion for opinion in self.opinions if opinion.item == item]
            if item in self.reviewed or all(one.fits for one in of_item):
                continue
            is_alike = len(of_item) > 1 and all(one.answer == of_item[0].answer for one in of_item)
            answers = "; ".join(f"{one.coach} {_quoted(one.answer)}" for one in of_item)
            doubtful[MISSED if is_alike else SPLIT].append(
                f"{item}: key {_quoted(entry.answer)}; {answers}."
            )
        lines = []
        for what_to_do, items in doubtful.items():
            if items:
                lines += [what_to_do, *items]
        return lines

    def __str__(self) -> str:
        return "\n".join(self.lines())


def _quoted(answer: Given | tuple[str, ...]) -> str:
    """Return an answer as it stands in a sentence: options in quotes, numbers without."""
    parts = answer if isinstance(answer, list | tuple) else (answer,)
    words = [f"“{part}”" if isinstance(part, str) else f"{part:g}" for part in parts]
    return ", ".join(words) or "none"
