"""The forms of the certifier's notebooks: an exam to draw and pack, a sitting, panel, review.

Each says step by step what is missing, and gives immutable values for the
functions of `squatlab.exam`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import closing
from html import escape
from pathlib import Path
from typing import NamedTuple

from ipywidgets import Box, Dropdown, HBox, Layout

from squatlab.exam.answers import Refusal, Sheet, hand_in_files, misfit, without_units
from squatlab.exam.build import (
    Drawn,
    Packed,
    balance,
    bank_lacks,
    cells_of_a_bank,
    draw,
    everybody_has,
    lifts_that_certify,
    too_few_lifts,
)
from squatlab.exam.forms import Form, FormKey
from squatlab.exam.marking import mark
from squatlab.exam.package import Package
from squatlab.exam.panel import JudgesPanel, panel_lines, read_angoff
from squatlab.exam.policy import ExamPolicy, shipped_policy
from squatlab.exam.recorded_report import recorded_report
from squatlab.exam.records import Records, enrol_coach, record_review
from squatlab.exam.report import Report
from squatlab.exam.reviews import BlindAnswers, KeyReview, read_blind
from squatlab.exam.screens.report_pages import candidate_page, report_pages
from squatlab.exam.screens.stills import stills
from squatlab.exam.secret import Secret, of_demo
from squatlab.questions import files
from squatlab.questions.blueprint import Cell, blueprint, read_blueprint
from squatlab.questions.item_bank import Bank
from squatlab.show.controls import StatusLine, button
from squatlab.show.desk import DeskForm, DeskPart, FormStep
from squatlab.show.form_fields import (
    FIELD_PX,
    LABEL_PX,
    Chosen,
    Field,
    FileField,
    Ticked,
    TypedNumber,
    TypedText,
    new_name,
)
from squatlab.show.paper import Page

PRACTICE, CERTIFY = "practice", "certify"
PURPOSES = (("practice: it certifies nobody", PRACTICE), ("to certify", CERTIFY))

CLUB, OWN = "club", "own"
WHOSE = (("the invented club's", CLUB), ("my own", OWN))

RECORDS, FOLDER = "records", "folder"
ANSWERS = (("the records of a served exam", RECORDS), ("a folder of hand-in files", FOLDER))

SHIPS, BESIDE = "ships", "beside"
BANKS = (
    ("the course's: for practice", SHIPS),
    ("my own: items.csv, cues.csv here", BESIDE),
)
BLUEPRINTS = (("the course's blueprint", SHIPS), ("my own: blueprint.csv here", BESIDE))
POLICIES = (("the course's policy", SHIPS), ("my own: exam_policy.csv here", BESIDE))

NO_SECRET = "the invented club's, which is none"


class SecretField(Field):
    """Ask for the secret: a file beside the notebook, or one to draw."""

    def __init__(self, folder: Path | None = None) -> None:
        self.folder = folder or Path()
        choice = Dropdown(
            description="Secret",
            style={"description_width": f"{LABEL_PX}px"},
            layout=Layout(width="100%"),
        )
        make = button("Draw a secret", self.draw)
        make.layout.flex = "none"
        room = Layout(width=f"{FIELD_PX + 165}px", max_width="100%")
        super().__init__("Secret", choice, HBox([choice, make], layout=room))
        self.look_again()

    def look_again(self) -> None:
        """Offer the secrets that are beside the notebook now."""
        secret_files = [path for path in sorted(self.folder.glob("*.json")) if _is_secret(path)]
        chosen = self.control.value
        self.control.options = [(NO_SECRET, ""), *((path.name, path) for path in secret_files)]
        self.control.value = chosen if chosen in secret_files else ""

    def draw(self) -> None:
        """Draw a secret into a new file and choose it."""
        path = new_name(self.folder / "secret.json")
        Secret.make(path)
        self.look_again()
        self.control.value = path

    @property
    def value(self) -> Secret:
        """Return the secret. Raises ValueError for one that others may read."""
        return Secret.read(self.control.value) if self.control.value else of_demo(1)

    @property
    def words(self) -> str:
        """Return which one is chosen."""
        return str(self.control.label)


def _is_secret(path: Path) -> bool:
    """Return whether a file is a secret of an exam, unchanged."""
    try:
        files.load(path, "exam secret")
    except (OSError, ValueError):
        return False
    return True


class ExamPlan(NamedTuple):
    """Hold what forms are drawn from, as `draw` takes it."""

    secret: Secret
    names: tuple[str, ...]
    cut: float | None
    minutes: float | None
    certify: bool
    override: str
    bank: Bank | None
    cells: tuple[Cell, ...]
    policy: ExamPolicy

    def drawn(self) -> list[Drawn]:
        """Draw every form; it takes a minute or so."""
        return [
            draw(
                self.secret,
                name,
                self.cells,
                cut=self.cut,
                minutes=self.minutes,
                certify=self.certify,
                override=self.override,
                bank=self.bank,
                policy=self.policy,
            )
            for name in self.names
        ]


class ExamForm(DeskForm):
    """Ask what forms are for, made from and called; ``values`` is a plan."""

    def __init__(self) -> None:
        purpose: dict[str, Field] = {
            "purpose": Chosen("The forms are", PURPOSES),
            "override": TypedText("Reason, if asked", "", needed=False),
        }
        made_from: dict[str, Field] = {
            "secret": SecretField(),
            "bank": Chosen("Knowledge, cues", BANKS),
            "blueprint": Chosen("What it asks", BLUEPRINTS),
            "policy": Chosen("Cut, times, waits", POLICIES),
        }
        forms: dict[str, Field] = {
            "first": TypedText("First form", "spring"),
            "second": TypedText("Second form", "summer", needed=False),
            "cut": TypedNumber("Right lifts that pass", "", None, 1, 1000, needed=False),
            "minutes": TypedNumber("Minutes to sit it", "min", None, 5, 600, needed=False),
        }
        steps = [
            FormStep("1 · What are they for?", purpose, self._check_purpose),
            FormStep("2 · What are they made from?", made_from, self._check_made_from),
            FormStep("3 · Which forms?", forms, self._check_forms),
        ]
        super().__init__("Exam", steps)

    @property
    def _certify(self) -> bool:
        """Return whether the forms are to certify."""
        return self.fields["purpose"].value == CERTIFY

    def _check_purpose(self) -> str:
        """Return what the purpose asks of the rest."""
        if self._certify:
            return "They may certify: secret and bank must be your own."
        return "For practice and trial: everything that comes with the course will do."

    def _bank(self) -> Bank | None:
        """Return the certifier's bank, None for the one that ships."""
        return Bank.read(Path()) if self.fields["bank"].value == BESIDE else None

    def _cells(self) -> tuple[Cell, ...]:
        """Return the cells of the certifier's blueprint, or of the one that ships."""
        own = self.fields["blueprint"].value == BESIDE
        cells = read_blueprint(_here("blueprint.csv")) if own else blueprint()
        return tuple(cells.values())

    def _policy(self) -> ExamPolicy:
        """Return the certifier's policy, or the one that ships."""
        own = self.fields["policy"].value == BESIDE
        return ExamPolicy.read(_here("exam_policy.csv")) if own else shipped_policy()

    def _check_made_from(self) -> str:
        """Return what forms are made from; ValueError for what may not certify."""
        secret, bank, cells = self.fields["secret"].value, self._bank(), self._cells()
        policy = self._policy()
        if self._certify and secret.weakness:
            raise ValueError(f"Secret: {secret.weakness}. Choose your own, or draw one")
        reason = self.fields["override"].value
        if bank and (lacking := bank_lacks(bank, cells)):
            raise ValueError(f"Knowledge, cues: your bank lacks {'; '.join(lacking)}")
        if self._certify and not reason and (words := too_few_lifts(cells, policy)):
            raise ValueError(f"What it asks: your blueprint {words}")
        if self._certify and not bank and not reason and (known := cells_of_a_bank(cells)):
            raise ValueError(f"Knowledge, cues: {everybody_has(known)}")
        bank_words = "your own bank" if bank else "the bank that everybody has"
        secret_file = self.fields["secret"].control.value
        keep = f"{secret_file.name}: keep a copy where candidates never come" if secret_file else ""
        return f"Questions from {bank_words}. {keep}".strip()

    def _names(self) -> tuple[str, ...]:
        """Return the names of the forms; ValueError if two are the same."""
        names = [self.fields[name].value for name in ("first", "second")]
        checked = tuple(files.identifier("form", name) for name in names if name)
        if len({*map(str.casefold, checked)}) < len(checked):
            raise ValueError("Second form: give it another name than the first")
        return checked

    def _check_forms(self) -> str:
        """Return what the forms will be; ValueError for a cut beyond the blueprint."""
        names, cut = self._names(), self.fields["cut"].value
        cells = self._cells()
        lifts = lifts_that_certify(cells)
        questions = sum(cell.count for cell in cells)
        if cut is not None and cut > lifts:
            raise ValueError(f"Right lifts that pass: {cut:g}, and the blueprint has {lifts}")
        minutes = self.fields["minutes"].value
        cut_words = "the policy's cut" if cut is None else f"{cut:g} right to pass"
        time = "the policy's time" if minutes is None else f"{minutes:g} minutes"
        return f"{' and '.join(names)}: {questions} questions, {lifts} lifts, {cut_words}, {time}."

    def _values(self) -> ExamPlan:
        fields = self.fields
        return ExamPlan(
            fields["secret"].value,
            self._names(),
            fields["cut"].value,
            fields["minutes"].value,
            self._certify,
            fields["override"].value,
            self._bank(),
            self._cells(),
            self._policy(),
        )


def _here(name: str) -> Path:
    """Return a table of the certifier's beside the notebook; FileNotFoundError for none."""
    path = Path(name)
    if not path.exists():
        raise FileNotFoundError(
            f"there is no {name} here: put one beside the notebook, with the columns of the "
            f"course's data/{name}"
        )
    return path


def alike_words(forms: Sequence[Drawn]) -> str:
    """Return how far the first two forms agree, cell by cell, in lines."""
    if len(forms) < 2:
        return "One form alone: there is nothing to compare it with."
    rows = balance(*forms[:2])
    lines = [
        f"{row.cell:18} {row.counts[0]} and {row.counts[1]} items, "
        f"margins {row.margins[0]:.2f} and {row.margins[1]:.2f}"
        for row in rows
        if row.margins[0] == row.margins[0]
    ]
    alike = "yes" if all(row.alike for row in rows) else "no: take another name for one of them"
    return "\n".join([*lines, f"alike in every cell: {alike}"])


class PackingRow(DeskPart):
    """Pack and seal drawn forms: a folder for candidates, and what stays with you."""

    def __init__(self, source: DeskPart, folder: str = "forms") -> None:
        self._source, self.packed = source, ()
        self._folder = TypedText("Folder", folder)
        self._texts = Ticked("Lifts in words as well: for one who cannot watch")
        self.pack = button("Pack and seal", self._pack)
        self._status = StatusLine()
        self.message = ""
        row = Box(
            [self._folder.shown, self._texts.shown, self.pack],
            layout=Layout(flex_flow="row wrap", grid_gap="2px 24px", align_items="center"),
        )
        super().__init__([row, self._status])

    @property
    def values(self) -> tuple[Packed, ...]:
        """Return what was packed."""
        return self.packed

    def _pack(self) -> None:
        """Pack the forms that are drawn now; say how far it is, or why not."""
        self.pack.disabled = True
        try:
            self.packed = tuple(self._one(form) for form in self._forms())
            names = ", ".join(one.package.name for one in self.packed)
            self._say(
                f"Packed in {self._folder.value}: {names} for candidates. Key and register, "
                "beside them, stay with you."
            )
            self._tell()
        except (ValueError, OSError) as problem:
            self._say(str(problem))
        finally:
            self.pack.disabled = False

    def _forms(self) -> list[Drawn]:
        """Return the drawn forms; FileExistsError for one that was packed before."""
        forms, folder = self._source.values, Path(self._folder.value)
        for form in forms:
            if (there := folder / f"{form.form.id}.zip").exists():
                raise FileExistsError(f"{there} is there already; give the form a new name")
        return forms

    def _one(self, form: Drawn) -> Packed:
        """Pack one form and count its questions meanwhile."""

        def progress(done: int, of: int) -> None:
            self._say(f"Packing {form.form.id}: {done} of {of} questions …")

        texts = self._texts.value
        return form.pack(self._folder.value, stills, on_progress=progress, texts=texts)

    def _say(self, words: str) -> None:
        """Show a message."""
        self.message = words
        self._status.say(words)

    def __repr__(self) -> str:
        return f"Pack and seal: a button writes the forms into the folder {self._folder.value}"

    def _kept_html(self) -> str:
        return f"<p>{escape(repr(self))}, in JupyterLab.</p>"


class SealedField(FileField):
    """Ask for a packed form: here, or in a folder that lies here."""

    def look_again(self) -> None:
        """Offer the packed forms that are here now."""
        # Taken down first: where only what lies here is offered, one from a folder is let go.
        chosen = self.control.value
        super().look_again()
        below = sorted(self.folder.glob("*/*.zip"))
        more = [(path.relative_to(self.folder).as_posix(), path) for path in below]
        options = [one for one in self.control.options if one[1] != ""]
        self.control.options = [*options, *more] or list(self.control.options)
        if chosen in [value for _, value in self.control.options]:
            self.control.value = chosen


class SealedForm(DeskForm):
    """Ask which packed form coaches judge; ``values`` is its `Package`.

    ``packing`` may add to those that are there.
    """

    def __init__(self, demo: Mapping[str, Path], packing: DeskPart) -> None:
        packing.on_change(lambda: self._file.look_again())
        self._file = SealedField("Packed form", demo, (".zip",))
        step = FormStep("Which form do coaches judge?", {"form": self._file}, self._form_words)
        super().__init__("Packed form", [step])

    def _form_words(self) -> str:
        """Return which form was chosen."""
        form = self._values().form
        return f"form {form.id}, {len(form.items)} questions, seal {form.seal[:16]}…"

    def _values(self) -> Package:
        return Package.read(self._file.value)


class ExamSitting(NamedTuple):
    """Hold a sitting: form, key, report, and where more of it may be recorded."""

    form: Form
    key: FormKey
    report: Report
    package: Package | None = None
    records: Path | None = None

    @property
    def lifts(self) -> list[str]:
        """Return the items that certify."""
        return [item for item in self.form.items if self.key.entries[item].how.certifies]


class SittingForm(DeskForm):
    """Ask whose sitting it is and where answers are; ``values`` is an `ExamSitting`."""

    def __init__(self, club: ExamSitting) -> None:
        self._club = club
        self._kept: tuple[object, ExamSitting] | None = None
        form: dict[str, Field] = {
            "whose": Chosen("Whose sitting", WHOSE),
            "form": SealedField("Form", {}, (".zip",), needed=False),
            "key": FileField("Key, if elsewhere", {}, (".json",), needed=False),
        }
        answers: dict[str, Field] = {
            "from": Chosen("Answers are in", ANSWERS),
            "records": FileField("Records", {}, (".sqlite",), needed=False),
            "folder": TypedText("Folder of hand-ins", "hand-ins", needed=False),
        }
        steps = [
            FormStep("1 · Which form?", form, self._check_form),
            FormStep("2 · Who sat?", answers, self._check_answers),
        ]
        super().__init__("Sitting", steps)

    def _own(self) -> tuple[Package, FormKey] | None:
        """Return form and key, None for the club's. The key lies beside the form, or is chosen."""
        if self.fields["whose"].value == CLUB:
            return None
        path = self.fields["form"].value
        if path is None:
            raise ValueError("Form: add your packed form (.zip), or choose it")
        key_file = self.fields["key"].value or path.with_name(f"{path.stem}.key.json")
        if not key_file.exists():
            raise FileNotFoundError(
                f"Key, if elsewhere: there is no {key_file.name} beside {path.name}; add it"
            )
        package, key = Package.read(path), FormKey.read(key_file)
        package.check(key)
        return package, key

    def _check_form(self) -> str:
        """Return the form in words."""
        own = self._own()
        form = own[0].form if own else self._club.form
        return f"form {form.id}, {len(form.items)} questions, {form.cut:g} right lifts to pass."

    def _check_answers(self) -> str:
        """Return how many people sat, and how many hand-ins were refused."""
        report = self._sitting().report
        people, refused = len(report.outcomes), len(report.refused) + len(report.marks.refused)
        return f"{people} people, {refused} refused."

    def _sitting(self) -> ExamSitting:
        """Return the sitting that is chosen; ValueError says what is missing."""
        own = self._own()
        if own is None:
            return self._club
        package, key = own
        if self.fields["from"].value == RECORDS:
            path = self.fields["records"].value
            if path is None:
                raise ValueError("Records: add the file of your records (.sqlite)")
            return self._remembered(package, path, lambda: self._recorded(package, key, path))
        folder = Path(self.fields["folder"].value)
        given = hand_in_files(folder)
        return self._remembered(package, given, lambda: _handed_in(package, key, given))

    def _remembered(
        self, package: Package, source: object, make: Callable[[], ExamSitting]
    ) -> ExamSitting:
        """Return what was made of the same files before, or make it."""
        paths = source if isinstance(source, tuple) else (source,)
        wanted = package.form.seal, tuple((path, path.stat().st_mtime_ns) for path in paths)
        if self._kept is None or self._kept[0] != wanted:
            self._kept = wanted, make()
        return self._kept[1]

    @staticmethod
    def _recorded(package: Package, key: FormKey, path: Path) -> ExamSitting:
        """Return a sitting from the records of a served exam."""
        with closing(Records.existing(path)) as records:
            report = recorded_report(records, package.form, key)
        return ExamSitting(package.form, key, report, package, path)

    def _values(self) -> ExamSitting:
        return self._sitting()


def _handed_in(package: Package, key: FormKey, paths: Sequence[Path]) -> ExamSitting:
    """Mark hand-in files; one that cannot be marked is refused by name.

    A copy of a candidate's hand-in counts once; of two that differ neither
    counts: nobody here can say which one is meant.
    """
    refused: list[str] = []
    sheets_of: dict[str, dict[str, Sheet]] = {}
    for path in paths:
        try:
            sheet = Sheet.read(path)
            if why := misfit(sheet, package.form):
                raise ValueError(f"{path.name} of candidate {sheet.candidate}: {why}")
            sheet = without_units(sheet, package.questions)
        except (ValueError, OSError) as problem:
            refused.append(str(Refusal(path.name, "", str(problem))))
            continue
        sheets_of.setdefault(sheet.candidate, {})[sheet.digest] = sheet
    sheets: list[Sheet] = []
    for candidate, different in sheets_of.items():
        if len(different) == 1:
            sheets += different.values()
        else:
            receipts = " and ".join(sheet.receipt for sheet in different.values())
            refused.append(
                f"candidate {candidate}: {len(different)} hand-ins differ (receipts {receipts}); "
                "ask the candidate, and leave the one that counts in the folder"
            )
    if not sheets:
        raise ValueError("\n".join(refused))
    report = Report(mark(package.form, key, sheets), refused=tuple(refused))
    return ExamSitting(package.form, key, report, package)


class RatedSitting(NamedTuple):
    """Hold a sitting and what a panel of judges rated, None without one."""

    sitting: ExamSitting
    panel: JudgesPanel | None

    def pages(self, size: str) -> tuple[Page, ...]:
        """Return the pages that name items and stay with the certifier."""
        report = self.sitting.report
        return report_pages(report, self.panel, paper=size)[: -len(report.outcomes)]

    def candidates(self, size: str) -> tuple[Page, ...]:
        """Return a page a candidate, to hand out."""
        report = self.sitting.report
        return tuple(candidate_page(report, one, size) for one in report.outcomes)


class PanelForm(DeskForm):
    """Ask for a panel's ratings; ``values`` is a `RatedSitting`."""

    def __init__(self, sitting: DeskPart, demo: Mapping[str, Path]) -> None:
        self._sitting = sitting
        self._file = FileField("Ratings", demo, (".csv",), needed=False)
        step = FormStep("What do judges say?", {"ratings": self._file}, self._lines)
        super().__init__("Panel", [step])
        sitting.on_change(self._changed)

    def _lines(self) -> str:
        """Return the cut that the panel gives, in lines."""
        sitting, panel = self._values()
        return "\n".join(panel_lines(panel, None, sitting.form))

    def _values(self) -> RatedSitting:
        sitting, path = self._sitting.values, self._file.value
        return RatedSitting(sitting, path and read_angoff(path, sitting.lifts))


class ReviewForm(DeskForm):
    """Ask for coaches' blind answers; ``values`` is the key's `KeyReview`.

    ``club`` is what the invented coaches answered. With records, a button
    enters the answers; they stand from then on.
    """

    def __init__(self, sitting: DeskPart, club: BlindAnswers) -> None:
        self._sitting, self._club = sitting, club
        fields: dict[str, Field] = {
            name: FileField(f"Coach {which}, table", {}, (".csv",), needed=False)
            for name, which in (("first", "1"), ("second", "2"))
        }
        fields["by"] = TypedText("Your name", "", needed=False)
        self.enter = button("Enter into the records", self._enter)
        self.enter.layout.align_self = "flex-start"
        self._entered = StatusLine()
        step = FormStep("What did coaches answer?", fields, lambda: self._values().words + ".")
        super().__init__("Review of the key", [step], [self.enter, self._entered])
        sitting.on_change(self._changed)

    def _answered(self) -> BlindAnswers:
        """Return what coaches answered: the club's, or the tables that were added."""
        sitting = self._sitting.values
        if sitting.package is None:
            return self._club if sitting.records is None else {}
        answers: BlindAnswers = {}
        for name in ("first", "second"):
            if path := self.fields[name].value:
                answers |= read_blind(path, sitting.form, sitting.package.questions)
        return answers

    def _values(self) -> KeyReview:
        sitting = self._sitting.values
        on_record = sitting.report.opinions
        known = {(one.coach, one.item) for one in on_record}
        blank = KeyReview(sitting.form, sitting.key)
        typed = [
            one
            for coach, answers in self._answered().items()
            for one in blank.judged(coach, answers)
            if (one.coach, one.item) not in known
        ]
        if not (on_record or typed):
            raise ValueError(
                "no coach has answered yet: I2 prints the sheets, and what comes back is typed "
                "into the table beside them"
            )
        return KeyReview(sitting.form, sitting.key, (*on_record, *typed))

    def _enter(self) -> None:
        """Enter the answers into the records; say what came of it."""
        try:
            words = self._recorded()
        except (ValueError, OSError) as problem:
            words = str(problem)
        self._entered.say(words)

    def _recorded(self) -> str:
        sitting, by = self._sitting.values, self.fields["by"].value
        if sitting.records is None:
            raise ValueError("choose the records of your own sitting first")
        if not by:
            raise ValueError("Your name: is missing")
        entered = 0
        with closing(Records.existing(sitting.records, by)) as records:
            for coach, answers in self._answered().items():
                enrol_coach(records, coach)
                entered += len(record_review(records, sitting.form, sitting.key, coach, answers))
            head = records.sign()
        return f"{entered} answers entered. The chain ends at {head.note}: note this outside it."


def outcome_words(sitting: ExamSitting) -> str:
    """Return each candidate's score with its error, a line each."""
    lines = []
    for one in sitting.report.outcomes:
        word = "passed" if one.passed else "not passed"
        sure = "" if one.sure else ", within one standard error of the cut"
        band = f"{one.band[0]:.1f} to {one.band[1]:.1f}"
        lines.append(f"{one.candidate}: {one.score:g} ({band}), {word}{sure}")
    return "\n".join(lines)


def flag_words(sitting: ExamSitting) -> str:
    """Return the items to look at, with why, a line each."""
    flags = [one for one in sitting.report.analysis.items if one.flag]
    lines = [f"{one.item}: difficulty {one.difficulty:.2f}; {one.flag}" for one in flags]
    return "\n".join(lines) or "No item is flagged."
