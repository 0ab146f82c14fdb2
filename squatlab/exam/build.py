"""A form from a blueprint and the instructor's secret, its key, its package.

Everything about a form follows from its id and the secret: whoever has both
can make it again, nobody else can guess it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from concurrent.futures import Executor
from dataclasses import asdict, dataclass, replace
from functools import partial
from pathlib import Path
from typing import NamedTuple

import numpy as np

from squatlab import __version__, storage, units
from squatlab.exam.account import account
from squatlab.exam.forms import UNREVIEWED, Form, FormKey, check_cut, check_minutes
from squatlab.exam.package import Packing
from squatlab.exam.policy import ExamPolicy, shipped_policy
from squatlab.exam.secret import Secret
from squatlab.exam.selection import ALIKE, MOST_ITEMS, SeededItem, choose
from squatlab.questions import files
from squatlab.questions.blueprint import Cell, blueprint
from squatlab.questions.cases import Case, case
from squatlab.questions.item_bank import Bank, shipped
from squatlab.questions.items import Item, worded
from squatlab.questions.kinds import KINDS, NOTHING
from squatlab.questions.question import Account, Key, Pictures, Question

OnProgress = Callable[[int, int], object]
"""Called with how much is done and how much there is to do."""


class CellBalance(NamedTuple):
    """Compare two forms in one cell; margins are means, nan without lifts."""

    cell: str
    counts: tuple[int, int]
    margins: tuple[float, float]

    @property
    def alike(self) -> bool:
        """Tell whether counts agree, and mean margins within .1 severity."""
        one, other = self.margins
        close = math.isnan(one) and math.isnan(other) or abs(one - other) <= 2 * ALIKE
        return self.counts[0] == self.counts[1] and close


class Packed(NamedTuple):
    """Hold a sealed form with its key, and where package, key and register are."""

    form: Form
    key: FormKey
    package: Path
    key_file: Path
    register: Path


@dataclass(frozen=True, eq=False, repr=False)
class Drawn:
    """Hold a form as drawn: its items by their ids on it, and its key.

    `pack` seals it: the seal of a drawn form does not cover what it shows.
    Printing it shows no answer. ``certify`` if it is to certify;
    ``weakness`` says why its secret may be known, "" if it is one, and
    ``bank`` is where its knowledge and cues are from. ``seeds`` make the
    items again, and ``camera_seed`` where its cameras stand. ``register``
    is what an auditor asks for; it stays with the key.
    """

    form: Form
    key: FormKey
    items: Mapping[str, Item]
    cells: Mapping[str, Cell]
    seeds: Mapping[str, int]
    override: str
    certify: bool
    weakness: str
    camera_seed: int
    bank: Bank

    def __repr__(self) -> str:
        kinds = [entry.kind for entry in self.items.values()]
        counts = ", ".join(f"{kinds.count(kind)} {kind}" for kind in dict.fromkeys(kinds))
        return (
            f"form {self.form.id}: {len(kinds)} items ({counts}), {self.minutes:g} minutes, "
            f"{self.form.cut:g} of {kinds.count('first')} lifts to pass"
        )

    @property
    def minutes(self) -> float:
        """Return the time to sit it, at time factor 1."""
        return self.form.minutes

    @property
    def known_questions(self) -> tuple[str, ...]:
        """Return the items whose answers everybody has: they are of the bank that ships."""
        known = {*self.bank.known()}
        return tuple(
            name
            for name, entry in self.items.items()
            if entry.how.from_bank and known & {entry.id, *entry.options}
        )

    def register(self, form: Form) -> dict[str, object]:
        """Return where every item of the sealed form comes from, and who says so."""
        items = {
            name: {
                "item": entry.id,
                "version": entry.version,
                "cell": entry.cell,
                "kind": entry.kind,
                "seed": self.seeds[name],
                "author": entry.author,
                "source": entry.source,
                "why": entry.why,
                "review": UNREVIEWED,
                "margin": None if math.isnan(entry.margin) else round(entry.margin, 4),
            }
            for name, entry in self.items.items()
        }
        cells = [asdict(cell) for cell in dict.fromkeys(self.cells.values())]
        return {
            "form": form.id,
            "seal": form.seal,
            "squatlab": __version__,
            "cut": form.cut,
            "minutes": form.minutes,
            "certifies": self.certify,
            "override": self.override,
            "blueprint": files.fingerprint(cells),
            "policy": asdict(form.policy),
            "bank": {
                "whose": "ships, for practice" if self.bank.ships else "the certifier's own",
                "fingerprint": self.bank.fingerprint,
            },
            "items": items,
        }

    def pack(
        self,
        folder: str | Path,
        render: Callable[[Case, int], Pictures],
        executor: Executor | None = None,
        on_progress: OnProgress = lambda done, total: None,
        texts: bool = False,
    ) -> Packed:
        """Seal the form over all that it shows; write package, key and register.

        ``render`` makes a lift's pictures from its case and the form's
        ``camera_seed``, and must be a function that another process can
        import; ``executor`` spreads this work.
        ``texts`` puts every lift in words beside its clip, for a candidate
        who cannot watch. The seal covers them either way. Raises ValueError for a form that is to
        certify from a secret that others may know, or with questions that
        everybody has (`known_questions`), unless an override says why.
        """
        if self.certify and self.weakness:
            raise ValueError(
                f"form {self.form.id} is to certify, and its secret is none: {self.weakness}. Draw "
                "one (squatlab form NAME --secret FILE --new-secret), or make a form for practice"
            )
        if self.certify and not self.override.strip() and (known := self.known_questions):
            raise ValueError(f"form {self.form.id} is to certify: {everybody_has(known)}")
        folder = Path(folder)
        folder.mkdir(parents=True, exist_ok=True)
        packing = Packing(self.key, self.form.cut, self.minutes)
        shown = (executor.map if executor else map)(
            partial(_shown, render, self.camera_seed),
            [self.cells[item] for item in self.items],
            [self.seeds[item] for item in self.items],
        )
        for done, (item, lift) in enumerate(zip(self.items, shown, strict=True), start=1):
            drawn = self.items[item]
            question = Question(
                item,
                drawn.kind,
                drawn.prompt,
                self.key.entries[item].options,
                drawn.unit,
                lift.pictures,
                lift.account if texts else None,
            )
            packing.add(question, lift.account)
            on_progress(done, len(self.items))
        name = self.form.id
        form, key = packing.sealed()
        package = folder / f"{name}.zip"
        key_file, register = folder / f"{name}.key.json", folder / f"{name}.register.json"
        storage.write_together(
            {
                package: packing.closed(),
                key_file: key.text,
                register: files.wrapped("exam register", self.register(form)),
            },
            {package: 0o644, key_file: storage.OWNER_ONLY, register: storage.OWNER_ONLY},
        )
        return Packed(form, key, package, key_file, register)


def draw(
    secret: Secret,
    form: str,
    cells: Iterable[Cell] | None = None,
    cut: float | None = None,
    minutes: float | None = None,
    certify: bool = True,
    override: str = "",
    executor: Executor | None = None,
    bank: Bank | None = None,
    alike: bool = True,
    policy: ExamPolicy | None = None,
) -> Drawn:
    """Draw a form from a blueprint (data/blueprint.csv unless given).

    ``bank`` has its knowledge and cues: the certifier's own, or None for
    the one that ships, which is for practice. ``alike`` is False for a
    form that nobody compares with another: it is made faster.

    ``cut``: how many lifts of the kind ``first`` must be right; it and
    ``minutes`` follow the ``policy`` (data/exam_policy.csv unless given),
    which the form carries. Raises
    ValueError to ``certify`` on too few of these lifts, unless
    ``override`` says, for the register, why they are enough, and for a
    bank that lacks what the blueprint asks.
    """
    files.identifier("form", form)
    if certify and not alike:
        raise ValueError(f"form {form} is to certify: it must be alike to others of its blueprint")
    wanted = [c for c in (blueprint().values() if cells is None else cells) if c.count]
    lifts = lifts_that_certify(wanted)
    policy = policy or shipped_policy()
    if certify and not override.strip() and (words := too_few_lifts(wanted, policy)):
        raise ValueError(f"form {form} {words}")
    bank = bank or shipped()
    if lacking := bank_lacks(bank, wanted):
        raise ValueError(f"the bank lacks what the blueprint asks: {'; '.join(lacking)}")
    questions = sum(cell.count for cell in wanted)
    # 24 and 24.0 are not sealed alike.
    cut = float(policy.lifts_to_pass(lifts) if cut is None else cut)
    minutes = float(questions * policy.minutes_an_item if minutes is None else minutes)
    check_cut(form, cut, lifts)
    check_minutes(form, minutes)
    placed = _placed(secret, form, wanted, partial(choose, bank=bank, alike=alike), executor)
    items = {name: place.item for name, place in placed.items()}
    cells_of_items = {name: place.cell for name, place in placed.items()}
    options = np.random.default_rng(secret.draw(form, "options"))
    entries = _entries(items, cells_of_items, options)
    key = FormKey(form, entries, secret.salt(form), cut, minutes, policy=policy)
    return Drawn(
        form=Form(form, tuple(items), cut, key.seal, minutes, policy),
        key=key,
        items=items,
        cells=cells_of_items,
        seeds={name: place.seed for name, place in placed.items()},
        override=override,
        certify=certify,
        weakness=secret.weakness,
        camera_seed=secret.draw(form, "cameras"),
        bank=bank,
    )


class _Placed(NamedTuple):
    """Hold an item that goes on a form, and the cell and seed that make it again."""

    cell: Cell
    seed: int
    item: Item


def _placed(
    secret: Secret,
    form: str,
    cells: list[Cell],
    chosen_for: Callable[[Cell, list[int]], list[SeededItem]],
    executor: Executor | None,
) -> dict[str, _Placed]:
    """Return the items of a form in their order, by the names they have on it: q01, q02, …

    All of it follows from the secret and the form's id: whoever has both
    makes the same form again.
    """
    seeds = [[secret.draw(form, cell.name, n) for n in range(MOST_ITEMS)] for cell in cells]
    choices = (executor.map if executor else map)(chosen_for, cells, seeds)
    placed = [
        _Placed(cell, seeded.seed, seeded.item)
        for cell, choice in zip(cells, choices, strict=True)
        for seeded in choice
    ]
    # Kind after kind, and within a kind in an order of chance: in the blueprint's order the
    # first five lifts of every form would be the clean ones.
    kinds = list(KINDS)
    placed.sort(
        key=lambda place: (
            kinds.index(place.cell.kind),
            secret.draw(form, "order", place.seed),
        )
    )
    return {f"q{n:02}": place for n, place in enumerate(placed, start=1)}


def lifts_that_certify(cells: Iterable[Cell]) -> int:
    """Return how many lifts of a blueprint count toward a certificate."""
    return sum(cell.count for cell in cells if cell.how.certifies)


def too_few_lifts(cells: Iterable[Cell], policy: ExamPolicy) -> str:
    """Return why a blueprint has too few lifts to certify, what to do, or ""."""
    lifts, fewest = lifts_that_certify(cells), policy.cases_to_certify
    if lifts >= fewest:
        return ""
    return (
        f"asks for the first fault of {lifts} lifts; to certify, ask {fewest} or more: with 10 "
        "lifts and 75 % to pass, one in three coaches who are truly at 80 % fails. Raise the "
        "counts in blueprint.csv, make a form for practice, or give the reason why it is enough "
        "as override; it is recorded"
    )


def bank_lacks(bank: Bank, cells: Iterable[Cell]) -> list[str]:
    """Return what a bank lacks for the cells of a blueprint, in words; [] if nothing."""
    needs = {cell.name: cell.how.lacking(cell, bank) for cell in cells if cell.count}
    return [f"cell {name}: {words}" for name, words in needs.items() if words]


def cells_of_a_bank(cells: Iterable[Cell] | None = None) -> list[str]:
    """Return the cells that ask from a bank, of data/blueprint.csv unless given."""
    asked = blueprint().values() if cells is None else cells
    return [cell.name for cell in asked if cell.count and cell.how.from_bank]


def everybody_has(known: Iterable[str]) -> str:
    """Return why questions that everybody has certify nobody, and what to do."""
    return (
        f"everybody who has squatlab has the answers to {', '.join(known)}. Draw knowledge and "
        "cues from a bank of your own (squatlab bank FOLDER --new), ask none in blueprint.csv, "
        "make the form for practice (--practice), or say why they may stand (--override WHY); "
        "that is recorded"
    )


def balance(one: Drawn, other: Drawn) -> tuple[CellBalance, ...]:
    """Compare two forms cell by cell."""
    names = dict.fromkeys(item.cell for form in (one, other) for item in form.items.values())
    return tuple(_balance_of_cell(name, one, other) for name in names)


def _balance_of_cell(cell: str, one: Drawn, other: Drawn) -> CellBalance:
    """Compare how many items two forms have of a cell, and their mean margins."""
    counts, means = [], []
    for form in (one, other):
        margins = [item.margin for item in form.items.values() if item.cell == cell]
        counts.append(len(margins))
        means.append(float(np.mean(margins)) if margins else math.nan)
    return CellBalance(cell, tuple(counts), tuple(means))


def _entries(
    items: Mapping[str, Item], cells: Mapping[str, Cell], rng: np.random.Generator
) -> dict[str, Key]:
    """Return the key's entries, in words: ids of faults do not go to candidates."""
    # In the catalogue's order the list itself would say which fault comes first. The order is of
    # chance, and the same for all items of a form.
    every_option = {option for item in items.values() for option in item.options}
    order = rng.permutation(sorted(every_option)).tolist()
    place = {option: n for n, option in enumerate(order)}
    entries = {}
    for name, item in items.items():
        options = item.options
        if item.how.lists_faults:
            # That there is nothing to fix comes last, where people look for it.
            options = sorted(options, key=lambda option: (option == NOTHING, place[option]))
        answer = item.right
        if isinstance(answer, str):
            answer = _words(answer)
        elif isinstance(answer, tuple):
            answer = tuple(map(_words, answer))
        entry = item.key(cells[name].points)
        entries[name] = replace(entry, answer=answer, options=tuple(map(_words, options)))
    return entries


def _words(option: str) -> str:
    """Return an option as it stands on a form: a fault by its name."""
    return option if option == NOTHING else worded(option)


class _ShownLift(NamedTuple):
    """Hold a lift as pictures and in words; None for an item without one."""

    pictures: Pictures | None
    account: Account | None


def _shown(
    render: Callable[[Case, int], Pictures], camera_seed: int, cell: Cell, seed: int
) -> _ShownLift:
    """Return a lift's pictures and words; in another process, so from cell and seed."""
    if not cell.how.shows_lift:
        return _ShownLift(None, None)
    # Whatever units the certifier reads: the same secret makes the same form.
    with units.written_in(units.BOTH):
        lift = case(cell, seed)
        return _ShownLift(render(lift, camera_seed), account(lift))
