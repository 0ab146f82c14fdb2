"""What a kind of question does: its control, its check, its mark, its blind form, its export.

One class a kind. Whoever needs to know what differs between kinds asks the kind;
nobody else compares its name. A new kind is a class here and its name in `KINDS`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from string import ascii_lowercase as LETTERS
from typing import Any, NamedTuple, Protocol

import numpy as np

from squatlab import tables
from squatlab.questions.agreement import ndcg
from squatlab.questions.interactions import (
    AllThatFit,
    Interaction,
    OneNumber,
    OneOfSeveral,
    OneOption,
    WholeOrder,
)
from squatlab.questions.item_bank import Bank
from squatlab.questions.typed_numbers import in_unit

NOTHING = "nothing"
"""The option "nothing to fix", in every question of the kind `FirstKind`."""

Answer = str | float | tuple[str, ...]

Given = str | float | list[str] | None
"""An answer as it is stored: an option, a number, several options, or none."""


TAKEN_FOR = 0.75
"""The share of an invented person's errors that are the usual ones
[teaching-value]."""


OptionWords = Callable[[str], str]
"""What words an option for people to read."""


class Put(Protocol):
    """Name what a kind reads of a `squatlab.questions.question.Question`."""

    id: str
    options: tuple[str, ...]
    unit: str
    tolerance: float

    def called(self, option: str) -> str:
        """Return how a reply calls an option: by its letter, or its words."""

    def named(self, option: str) -> str:
        """Return an option as it was put: letter and words, or its words."""


class Right(Protocol):
    """Name what a kind reads of a `squatlab.questions.question.Key`."""

    answer: Answer
    options: tuple[str, ...]
    tolerance: float
    gains: tuple[float, ...]

    def reply(self, given: Given) -> str:
        """Return what is said to an answer of its own, or ""."""


class Call(NamedTuple):
    """Hold what calling one fault, or not calling it, comes to.

    ``words`` head the list of such faults in a reply, "" for none.
    """

    words: str
    right: bool


HIT = Call("Seen", True)
MISS = Call("Missed", False)
FALSE_ALARM = Call("Not there", False)
CORRECT_REJECTION = Call("", True)
CALLS = (HIT, MISS, FALSE_ALARM, CORRECT_REJECTION)
"""All that calling a fault can come to, in the order in which a reply lists them."""


class Calls(NamedTuple):
    """Count how options were called: against what is there, and what is not."""

    hits: int = 0
    misses: int = 0
    false_alarms: int = 0
    correct_rejections: int = 0


class Habits(NamedTuple):
    """Hold how somebody invented answers one question.

    ``knows`` says whether the answer is known this time; ``sees`` and
    ``imagines`` are the chances of calling a fault that is there, or is
    not; ``likely`` has what the right option is mistaken for, most often
    first.
    """

    knows: bool
    sees: float
    imagines: float
    likely: tuple[str, ...] = ()


class Content(NamedTuple):
    """Hold what a kind asks about a case: options, what is right, gains."""

    options: tuple[str, ...]
    answer: Answer
    gains: tuple[float, ...] = ()


class Kind:
    """Say what differs from kind to kind; the methods here are of one option.

    ``prompt`` asks about a lift that is shown, or is "". ``control`` is what
    a page offers: "one", "several", "order" or "number". ``paper`` is what
    is written on paper. ``part`` is the part of the feedback it counts in.
    ``certifies`` if its marks are the score. ``lists_faults`` if its options
    are all the faults that a view shows, ``from_bank`` if a bank has its
    words. ``loss`` says what of it does not
    travel to other programs, "" for nothing.
    """

    id = ""
    prompt = ""
    control = "one"
    paper = "one letter"
    part = ""
    certifies = False
    lists_faults = False
    from_bank = False
    ordered = False
    loss = ""

    @property
    def shows_lift(self) -> bool:
        """Return whether it asks about a lift."""
        return bool(self.prompt)

    @property
    def needs_options(self) -> bool:
        """Return whether it is answered by options."""
        return True

    def content(self, case: Any, rng: np.random.Generator, bank: Bank) -> Content:
        """Return what it asks about a `squatlab.questions.cases.Case`.

        ``bank`` has the cues to choose from.
        """
        raise ValueError(f"the kind {self.id} asks about no lift")

    # The key.

    def flaw(self, key: Right) -> str:
        """Return why a key cannot be, or ""."""
        if len(set(key.options)) < max(2, len(key.options)):
            return "two options at least, and none twice"
        if not isinstance(key.answer, str if self._one_is_right else tuple):
            one, several = "one option is right", "give the options that are right as a tuple"
            return one if self._one_is_right else several
        right = self.accepted(key)
        if len(set(right)) != len(right) or not set(right) <= set(key.options):
            return f"what is right is among the options, each once: {', '.join(key.options)}"
        return self._own_flaw(key)

    _one_is_right = True

    def _own_flaw(self, key: Right) -> str:
        """Return what else of this kind's keys is wrong, or ""."""
        return ""

    def accepted(self, key: Right) -> tuple[str, ...]:
        """Return every option that is right."""
        return (key.answer,) if isinstance(key.answer, str) else tuple(key.answer)

    def example(self, key: Right) -> Given:
        """Return one answer that is right."""
        return self.accepted(key)[0]

    # An answer.

    def check(self, question: Put, given: Any) -> Given:
        """Return an answer as it is kept.

        Raises ValueError if the question does not offer it.
        """
        if not isinstance(given, str) or given not in question.options:
            raise ValueError(f"{given!r} is no answer to this question; choose what it offers")
        return given

    def typed(self, question: Put, text: str) -> Given:
        """Return the answer that letters or a number on paper stand for.

        Raises ValueError that says what to write.
        """
        return self._lettered(question, text, 1)[0]

    def _lettered(self, question: Put, text: str, count: int | None) -> list[str]:
        """Return the options that letters name, so many of them (None: any)."""
        letters = re.sub(r"[\s,;.)(\"']", "", text.casefold())
        options = dict(zip(LETTERS, question.options, strict=False))
        many = count or len(letters) or 1
        if len(letters) != many or len(set(letters)) != many or not set(letters) <= options.keys():
            upto = f" (a to {LETTERS[len(options) - 1]})"
            raise ValueError(
                f"“{text[:40]}” is no answer to {question.id}; write {self.paper}{upto}"
            )
        return [options[letter] for letter in letters]

    def in_words(self, question: Put, given: Any, shown: OptionWords) -> str:
        """Return an answer as a person reads it; ``shown`` words an option."""
        return shown(given)

    def mark(self, key: Right, given: object) -> float | None:
        """Return the mark of an answer, 0 to 1, or None if it cannot be one."""
        return float(given in self.accepted(key)) if given in key.options else None

    def chance(self, key: Right) -> float:
        """Return the mark that guessing earns on average."""
        return len(self.accepted(key)) / len(key.options)

    def above_chance(self, key: Right, given: object) -> float:
        """Return how much better than guessing an answer is.

        1 is right, 0 what guessing earns on average and what an unanswered
        question counts, below 0 worse than guessing.
        """
        mark = None if given is None else self.mark(key, given)
        chance = self.chance(key)
        return 0.0 if mark is None or chance >= 1 else (mark - chance) / (1 - chance)

    def calls(self, key: Right, given: object) -> Calls:
        """Return how the faults were called; nothing where a kind calls none."""
        return Calls()

    def fits(self, key: Right, given: object) -> bool:
        """Return whether an answer says in full what the key says."""
        return self.mark(key, given) == 1

    def plain(self, given: Given) -> Given:
        """Return an answer so that equal ones are equal."""
        return given

    # What is said to an answer, and of the key.

    def confirmed(self, question: Put, key: Right, given: Any) -> str:
        """Return what is said to an answer that is right."""
        named = "; ".join(map(question.named, _listed(given)))
        return f"Right: {_ended(named)} {key.reply(given)}".strip()

    def refused(self, question: Put, key: Right, given: Any) -> str:
        """Return what is said to a wrong one, first what it was."""
        called = ", ".join(map(question.called, _listed(given)))
        return f"Not {_ended(called)} {key.reply(given)}".strip()

    def solved(self, question: Put, key: Right, given: Any = None) -> str:
        """Return what is right; ``given`` is the last answer, if there is one."""
        return f"The answer is {_ended(self.stated(question, key))}"

    def stated(self, question: Put, key: Right) -> str:
        """Return the key in words, an option with its letter if it has one."""
        return "; ".join(map(question.named, self.accepted(key)))

    def stated_exactly(self, question: Put, key: Right) -> str:
        """Return the key in words for a page of keys, with what is near enough."""
        return self.stated(question, key)

    # A form of several, and an invented class.

    def about(self, item: Any) -> object:
        """Return what must not be asked twice while something else can be."""
        return item.right

    def varieties(self, cell: Any) -> int:
        """Return how many different questions a cell may be asked for."""
        return 1 if cell.clean == 1 else len(cell.draws)

    def lacking(self, cell: Any, bank: Bank) -> str:
        """Return what a bank must have for a cell and has not, or ""."""
        return ""

    def invented(self, key: Right, habits: Habits, rng: np.random.Generator) -> Given:
        """Return what somebody invented answers."""
        right = self.accepted(key)
        wrong = [option for option in key.options if option not in right]
        return str(rng.choice(right if habits.knows else wrong))

    # On paper, and in other programs.

    def exported(self, question: Put, key: Right, shown: OptionWords) -> Interaction:
        """Return what it asks in the terms of QTI; ``shown`` words an option."""
        return OneOption(tuple(map(shown, question.options)), shown(key.answer))

    def choices(self, question: Put) -> list[str]:
        """Return the options that a blind sheet lists."""
        return list(question.options)


class FirstKind(Kind):
    """Ask which one fault is fixed first; the score that certifies."""

    id = "first"
    prompt = "Watch the lift. Which one do you fix first?"
    certifies = True
    lists_faults = True

    def content(self, case: Any, rng: np.random.Generator, bank: Bank) -> Content:
        """Return all faults that the view shows, and nothing to fix."""
        return Content((*case.cell.options, NOTHING), case.first)

    def invented(self, key: Right, habits: Habits, rng: np.random.Generator) -> Given:
        """Return the key, or mostly what the fault is mistaken for."""
        likely = habits.likely
        if habits.knows:
            return key.answer
        if rng.random() < TAKEN_FOR:
            weights = 0.5 ** np.arange(len(likely))
            return str(rng.choice(likely, p=weights / weights.sum()))
        return str(rng.choice([option for option in key.options if option != key.answer]))

    def _own_flaw(self, key: Right) -> str:
        if NOTHING in key.options:
            return ""
        return f'the option "{NOTHING}" is missing: clean lifts are part of every form'

    def exported(self, question: Put, key: Right, shown: OptionWords) -> Interaction:
        """Return one option, never shuffled: on a form the options keep one order."""
        return OneOption(tuple(map(shown, question.options)), shown(key.answer), shuffle=False)


class SpotKind(Kind):
    """Ask which faults are there; there may be none."""

    id = "spot"
    prompt = "Watch the lift. Which of these faults do you see? There may be none."
    control = "several"
    paper = "every letter that fits or none"
    part = "spotting"
    lists_faults = True
    loss = "to leave the question out counts as “none of these” there"
    _one_is_right = False

    def content(self, case: Any, rng: np.random.Generator, bank: Bank) -> Content:
        """Return all faults that the view shows, and those that are there."""
        return Content(case.cell.options, case.there)

    def example(self, key: Right) -> Given:
        """Return the faults that are there."""
        return list(key.answer)

    def check(self, question: Put, given: Any) -> Given:
        """Return several options, or none; ValueError for anything else.

        A page that must tell "none" from no answer has `NOTHING` as an
        option; it goes with no other.
        """
        several = _several(question, given)
        if NOTHING in several and len(several) > 1:
            raise ValueError("“nothing to fix” goes with no fault; choose one or the other")
        return several

    def typed(self, question: Put, text: str) -> Given:
        """Return the options of letters, in the order shown; "none" is none."""
        if text.strip().casefold() == "none":
            return []
        named = self._lettered(question, text, None)
        return [option for option in question.options if option in named]

    def in_words(self, question: Put, given: Any, shown: OptionWords) -> str:
        """Return the faults that were called, or that there are none."""
        return ", ".join(map(shown, given)) or "none of these"

    def mark(self, key: Right, given: object) -> float | None:
        """Return sensitivity + specificity − 1, not below 0.

        1 if all are called rightly; 0 for always none, always all and any
        guessing rate. On a clean lift a single false alarm earns 0.
        """
        if not _is_several(key, given):
            return None
        calls = self.calls(key, given)
        if not key.answer:
            return float(calls.false_alarms == 0)
        return max(0.0, _informedness(calls))

    def chance(self, key: Right) -> float:
        """Return 0: `mark` is so scaled already."""
        return 0.0

    def calls(self, key: Right, given: object) -> Calls:
        """Return hits, misses, false alarms and correct rejections."""
        made = [self.call(key, option, option in given) for option in key.options]
        return Calls(*map(made.count, CALLS))

    def call(self, key: Right, option: str, called: bool) -> Call:
        """Return what it comes to that an option was called, or was not."""
        if option in key.answer:
            return HIT if called else MISS
        return FALSE_ALARM if called else CORRECT_REJECTION

    def confirmed(self, question: Put, key: Right, given: Any) -> str:
        """Return what was seen."""
        return self.solved(question, key, given)

    def refused(self, question: Put, key: Right, given: Any) -> str:
        """Return that it is wrong, and not what was missed: there may be another try."""
        return "Not exactly these."

    def solved(self, question: Put, key: Right, given: Any = None) -> str:
        """Return what was seen, what was missed and what is not there."""
        if given is None:
            return super().solved(question, key)
        made = [(option, self.call(key, option, option in given)) for option in key.options]
        lines = []
        for call in CALLS:
            options = [question.called(option) for option, own in made if own == call]
            if options and call.words:
                lines.append(f"{call.words}: {', '.join(options)}.")
        return " ".join(lines)

    def stated(self, question: Put, key: Right) -> str:
        """Return the faults that are there, or that there are none."""
        return super().stated(question, key) or "none of these"

    def invented(self, key: Right, habits: Habits, rng: np.random.Generator) -> Given:
        """Return each fault that is seen or imagined."""
        return [
            option
            for option in key.options
            if rng.random() < (habits.sees if option in key.answer else habits.imagines)
        ]

    def fits(self, key: Right, given: object) -> bool:
        """Return whether just the faults that are there were called."""
        return _is_several(key, given) and all(
            self.call(key, option, option in given).right for option in key.options
        )

    def plain(self, given: Given) -> Given:
        """Return the options sorted: their order says nothing."""
        return sorted(given) if isinstance(given, list | tuple) else given

    def choices(self, question: Put) -> list[str]:
        """Return the options, and none of them."""
        return [*question.options, "none of these"]

    def exported(self, question: Put, key: Right, shown: OptionWords) -> Interaction:
        """Return all that fit."""
        options, right = tuple(map(shown, question.options)), tuple(map(shown, key.answer))
        return AllThatFit(options, "", there=right)


class CueKind(Kind):
    """Ask what to say about the fault that is fixed first; several may fit."""

    id = "cue"
    prompt = "Watch the lift. The one to fix first is “{first}”. What do you say?"
    part = "cue"
    from_bank = True
    _one_is_right = False

    def content(self, case: Any, rng: np.random.Generator, bank: Bank) -> Content:
        """Return the cues of the fault to fix first, shuffled."""
        cues = bank.cues_of(case.first)
        options = tuple(cues[place].words for place in rng.permutation(len(cues)))
        return Content(options, tuple(cue.words for cue in cues if cue.accepted))

    def lacking(self, cell: Any, bank: Bank) -> str:
        """Return the faults that it may ask about and that lack a cue that fits, or another."""
        short = [
            fault
            for fault in cell.draws
            if {cue.accepted for cue in bank.cues_of(fault)} != {True, False}
        ]
        wanted = "a cue that fits and one that does not"
        return f"{wanted} for {', '.join(short)}" if short else ""

    def _own_flaw(self, key: Right) -> str:
        return "" if key.answer else "one option at least is right"

    def solved(self, question: Put, key: Right, given: Any = None) -> str:
        """Return every cue that fits."""
        return f"What fits: {_ended(self.stated(question, key))}"

    def exported(self, question: Put, key: Right, shown: OptionWords) -> Interaction:
        """Return one of several."""
        options, right = tuple(map(shown, question.options)), tuple(map(shown, key.answer))
        return OneOfSeveral(options, right[0], accepted=right)


class NumberKind(Kind):
    """Ask for a number in a unit, right within a tolerance."""

    id = "number"
    control = "number"
    paper = "a number"
    loss = "a number is read without its unit there, and with a point or comma as the platform does"

    @property
    def needs_options(self) -> bool:
        """Return False: there is nothing to choose from."""
        return False

    def flaw(self, key: Right) -> str:
        """Return why a key is no number with a tolerance, or ""."""
        good = isinstance(key.answer, int | float) and math.isfinite(key.answer)
        return "" if good and key.tolerance >= 0 else "give a number and a tolerance, 0 or more"

    def example(self, key: Right) -> Given:
        """Return the number itself."""
        return key.answer

    def check(self, question: Put, given: Any) -> Given:
        """Return a number in the question's unit; ValueError for none."""
        return in_unit(given, question.unit)

    def typed(self, question: Put, text: str) -> Given:
        """Return the same as `check`: numbers are typed everywhere."""
        return in_unit(text, question.unit)

    def in_words(self, question: Put, given: Any, shown: OptionWords) -> str:
        """Return the number with its unit."""
        return f"{given:g} {question.unit}"

    def mark(self, key: Right, given: object) -> float | None:
        """Return 1 within the tolerance, else 0."""
        if not isinstance(given, int | float):
            return None
        return float(abs(given - key.answer) <= key.tolerance)

    def chance(self, key: Right) -> float:
        """Return 0: nobody guesses a number."""
        return 0.0

    def about(self, item: Any) -> object:
        """Return unit and tolerance: what is worked out."""
        return item.unit, item.tolerance

    def invented(self, key: Right, habits: Habits, rng: np.random.Generator) -> Given:
        """Return the number, or half, twice or a tenth more of it."""
        slip = 1.0 if habits.knows else float(rng.choice([0.5, 2.0, 1.1]))
        return round(key.answer * slip, 2)

    def confirmed(self, question: Put, key: Right, given: Any) -> str:
        """Return the number that is right, which the answer is near enough to."""
        return f"Right: {_ended(self.stated(question, key))}"

    def refused(self, question: Put, key: Right, given: Any) -> str:
        """Return to which side it is off; by how much would be the answer itself."""
        side = "large" if given > key.answer else "small"
        return f"{given:g} is too {side}. {key.reply(given)}".strip()

    def stated(self, question: Put, key: Right) -> str:
        """Return the number with its unit."""
        if question.unit == "holes":  # which one, not how many
            return f"hole {key.answer:.0f}"
        return _amount(question, key.answer)

    def stated_exactly(self, question: Put, key: Right) -> str:
        """Return the number with its tolerance."""
        if question.unit == "holes":
            return self.stated(question, key)
        # As many decimals as the tolerance begins with.
        decimals = max(0, -math.floor(math.log10(key.tolerance)))
        gap = "" if question.unit == "°" else " "
        return f"{key.answer:.{decimals}f}{gap}{question.unit} (± {key.tolerance:g})"

    def choices(self, question: Put) -> list[str]:
        """Return nothing: a line to write on."""
        return []

    def exported(self, question: Put, key: Right, shown: OptionWords) -> Interaction:
        """Return a number to type."""
        return OneNumber(key.answer, key.tolerance, question.unit)


class RankKind(Kind):
    """Ask for the order in which faults are fixed."""

    id = "rank"
    prompt = "Watch the lift. All of these are there. Which one first, which next?"
    control = "order"
    paper = "all letters in order"
    part = "order"
    ordered = True
    loss = "an order is right or wrong there, as a whole; here its top counts most"
    _one_is_right = False

    def content(self, case: Any, rng: np.random.Generator, bank: Bank) -> Content:
        """Return the faults that are there, shuffled, and their order."""
        right = tuple(place.fault for place in case.ranking)
        gains = tuple(float(len(right) - place) for place in range(len(right)))
        return Content(tuple(map(str, rng.permutation(right))), right, gains)

    def _own_flaw(self, key: Right) -> str:
        if not key.answer:
            return "one option at least is right"
        falling = sorted((*key.gains, 0.0), reverse=True) == [*key.gains, 0.0]
        if len(key.gains) != len(key.answer) or not falling:
            return "one gain for each place, none below 0, none above the one before"
        return ""

    def example(self, key: Right) -> Given:
        """Return the order that is right."""
        return list(key.answer)

    def check(self, question: Put, given: Any) -> Given:
        """Return all options in an order; ValueError if one is missing."""
        if isinstance(given, list) and len(given) != len(question.options):
            raise ValueError(f"{given!r} leaves some out; put all of them in order")
        return _several(question, given)

    def typed(self, question: Put, text: str) -> Given:
        """Return the options in the order of their letters."""
        return self._lettered(question, text, len(question.options))

    def in_words(self, question: Put, given: Any, shown: OptionWords) -> str:
        """Return the order."""
        return ", then ".join(map(shown, given))

    def mark(self, key: Right, given: object) -> float | None:
        """Return how far an order is above guessing, not below 0; 1 is right."""
        if not _is_several(key, given):
            return None
        if self._reached(key, given) > 1 - 1e-9:
            return 1.0
        return max(0.0, self.above_chance(key, given))

    def above_chance(self, key: Right, given: object) -> float:
        """Return nDCG on a scale where a random order earns 0, the best 1."""
        if given is None or not _is_several(key, given):
            return 0.0
        # A random order has the mean gain at every place.
        every = self._every_gain(key)
        random = float(ndcg(np.full(len(every), np.mean(every)), every))
        # All gains alike, or none: every order is as good as any other.
        return 0.0 if not random < 1 else (self._reached(key, given) - random) / (1 - random)

    def _reached(self, key: Right, given: Any) -> float:
        """Return the nDCG of an order, 1 for the best."""
        gain = dict(zip(key.answer, key.gains, strict=True))
        return float(ndcg([gain.get(one, 0.0) for one in given], self._every_gain(key)))

    def _every_gain(self, key: Right) -> list[float]:
        """Return the gain of each option; one that is not in the key's order has none."""
        return [*key.gains, *[0.0] * (len(key.options) - len(key.gains))]

    def confirmed(self, question: Put, key: Right, given: Any) -> str:
        """Return the order that is right."""
        return f"Right: {_ended(self.stated(question, key))}"

    def stated(self, question: Put, key: Right) -> str:
        """Return the order."""
        return ", then ".join(map(question.named, key.answer))

    def invented(self, key: Right, habits: Habits, rng: np.random.Generator) -> Given:
        """Return the order, with two neighbours exchanged if it is not known."""
        order = list(key.answer)
        if not habits.knows:
            at = int(rng.integers(len(order) - 1))
            order[at], order[at + 1] = order[at + 1], order[at]
        return order

    def plain(self, given: Given) -> Given:
        """Return the order as a list."""
        return list(given) if isinstance(given, list | tuple) else given

    def exported(self, question: Put, key: Right, shown: OptionWords) -> Interaction:
        """Return the whole order."""
        options, right = tuple(map(shown, question.options)), tuple(map(shown, key.answer))
        return WholeOrder(options, "", order=right)


class ChoiceKind(Kind):
    """Ask something one knows: one option is right."""

    id = "choice"
    from_bank = True

    def about(self, item: Any) -> object:
        """Return the item itself."""
        return item.id

    def varieties(self, cell: Any) -> int:
        """Return as many as are asked: the bank has more."""
        return cell.count

    def lacking(self, cell: Any, bank: Bank) -> str:
        """Return which parts of the course have no item, or how many more are needed."""
        count = {part: len(bank.of_cell(part)) for part in cell.draws}
        if empty := [part for part in count if not count[part]]:
            return f"an item about {' and about '.join(empty)}"
        more = cell.count - sum(count.values())
        return f"{more} more about {' or '.join(count)}" if more > 0 else ""


KINDS: dict[str, Kind] = {
    kind.id: kind
    for kind in (FirstKind(), SpotKind(), CueKind(), NumberKind(), RankKind(), ChoiceKind())
}
"""Every kind by its id, in the order in which a form asks."""


def kind(id: str) -> Kind:
    """Return the kind of this id; ValueError with those there are."""
    if id not in KINDS:
        near = tables.closest(str(id), KINDS)
        raise ValueError(f"the kind is one of {', '.join(KINDS)}; there is no {id!r}{near}")
    return KINDS[id]


def informedness(calls: Sequence[Any]) -> Any:
    """Return sensitivity + specificity − 1 of counts (four, …), nan without any.

    1 is perfect, and 0 what any rate of guessing earns (Youden's index)
    [youden1950].
    """
    hits, misses, alarms, rejections = (np.asarray(count, dtype=float) for count in calls)
    with np.errstate(invalid="ignore"):
        return hits / (hits + misses) + rejections / (alarms + rejections) - 1


def _informedness(calls: Calls) -> float:
    """Return the informedness of one answer; where all options are there, its sensitivity."""
    if calls.false_alarms + calls.correct_rejections == 0:
        return calls.hits / (calls.hits + calls.misses)
    return float(informedness(calls))


def _amount(question: Put, value: float) -> str:
    """Return a value to a fifth of the tolerance or finer, with its unit."""
    figures = math.ceil(-math.log10(question.tolerance / 5))
    gap = "" if question.unit == "°" else " "
    return f"{round(value, max(figures, 0)):g}{gap}{question.unit}"


def _ended(words: str) -> str:
    """Return words with a full stop, unless they end in one, maybe quoted."""
    return words if words.rstrip("”").endswith((".", "!", "?")) else f"{words}."


def _listed(given: str | Sequence[str]) -> list[str]:
    """Return the options of an answer, one or several, as a list."""
    return [given] if isinstance(given, str) else list(given)


def _several(question: Put, given: Any) -> list[str]:
    """Return several options of a question, each once; ValueError for anything else."""
    fits = isinstance(given, list) and all(isinstance(one, str) for one in given)
    if not fits or len(set(given)) != len(given) or not set(given) <= set(question.options):
        raise ValueError(f"{given!r} is no answer to this question; choose what it offers")
    return given


def _is_several(key: Right, given: object) -> bool:
    """Return whether an answer is options of a key, each once."""
    several = isinstance(given, tuple | list) and len(set(given)) == len(given)
    return several and set(given) <= set(key.options)
