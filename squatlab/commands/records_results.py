"""``squatlab records``: reviews of the key, certificates and appeals."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from squatlab import storage
from squatlab.commands.bookkeeping import (
    ALL,
    SOME,
    add_form_and_key,
)
from squatlab.commands.loading import load
from squatlab.commands.options import REPLACE, as_typed, must_be_new
from squatlab.commands.records_parts import add_part, ask_who, ask_who_and_why, say_certificate
from squatlab.exam.answers import Sheet
from squatlab.exam.forms import FormKey
from squatlab.exam.package import Package
from squatlab.exam.records import (
    Records,
    appeal,
    change,
    changes,
    credited,
    enrol_coach,
    gradebook,
    grounds,
    issue,
    note_output,
    opinions,
    public_list,
    record_review,
    rule,
    standings,
)
from squatlab.exam.records.certificates import certificate_of
from squatlab.exam.records.decisions import answers_of
from squatlab.exam.reviews import KeyReview, read_blind

EVENTS = {"suspend": "suspended", "reinstate": "reinstated", "revoke": "revoked"}
"""What may become of a certificate, by the command that does it."""


def add_results(parts: Any) -> None:
    """Add what is done with results: reviews of the key, certificates, appeals."""
    coach = add_part(
        parts,
        "coach",
        "enter coaches, who may then review keys",
        "Enter coaches, each by an id that is no name and no candidate's. Only who is entered may "
        "review a key.",
        _coach,
        "coach K1 K2 --by NAME",
    )
    coach.set_defaults(may_be_new=True)
    coach.add_argument("coaches", nargs="+", metavar="ID", help="of a coach: no name")
    ask_who(coach)
    review = add_part(
        parts,
        "review",
        "record what coaches say of a key, and show all of it",
        "Record what coaches answered blind, and print how far they agree with the key and with "
        "each other. Answers that are on record stand. Without files, it only prints.",
        _review,
        "review spring.zip spring.key.json spring.panel.csv --by NAME",
    )
    add_form_and_key(review)
    review.add_argument(
        "answers",
        nargs="*",
        type=Path,
        metavar="FILE",
        help="typed into the table that panel wrote (.csv), or handed in from notebook 11 (.json)",
    )
    ask_who(review)
    book = add_part(
        parts,
        "gradebook",
        "a row a candidate, a column a form, as CSV",
        "Print the scores that stand, or write them: a row a candidate, a column a form. That they "
        "left the records is recorded.",
        _gradebook,
        "gradebook -o grades.csv --by NAME",
    )
    book.add_argument("-o", "--output", type=Path, metavar="FILE.csv", help="default: print it")
    book.add_argument("--replace", **REPLACE)
    ask_who(book)
    certify = add_part(
        parts,
        "certify",
        "give the certificate for an attempt that passed",
        "Give the certificate for an attempt that passed, and print its code. Refuses what the "
        "policy of its form does not allow, unless --override says why it is enough. "
        "Asked again, it is the same certificate.",
        _certify,
        "certify 7 --by NAME --issuer 'the rowing club' --pdf certificate.pdf",
    )
    certify.add_argument("attempt", type=int, metavar="ATTEMPT", help="its number, see list")
    certify.add_argument(
        "--override",
        default="",
        metavar="WHY",
        help="certify although the policy asks for more; WHY is recorded",
    )
    certify.add_argument("--issuer", default="", metavar="NAME", help="who gives it, to print")
    certify.add_argument("--course", default="", metavar="NAME", help="what for, to print")
    certify.add_argument("--pdf", type=Path, metavar="FILE.pdf", help="write it to print")
    certify.add_argument("--replace", **REPLACE)
    ask_who(certify)
    for name, becomes in (
        ("suspend", "It does not hold until it is reinstated."),
        ("reinstate", "It holds again, to the end of its time."),
        ("revoke", "It holds no more, for good."),
    ):
        part = add_part(
            parts,
            name,
            f"{name} a certificate",
            f"{name.capitalize()} a certificate. {becomes}",
            _change,
            f"{name} 7XKQ-M2PD-9RTA --by NAME --why WHY",
        )
        part.add_argument("code", metavar="CODE", help="the certificate's")
        part.set_defaults(event=EVENTS[name])
        ask_who_and_why(part)
    states = add_part(
        parts,
        "states",
        "write the states of all certificates, for everybody, to host",
        "Write codes, states and dates of all certificates, and nobody's id, to put on your site: "
        "as a table (.csv) or a page (.html).",
        _states,
        "states -o certificates.html --by NAME",
    )
    states.add_argument(
        "-o",
        "--output",
        type=Path,
        required=True,
        metavar="FILE.csv|FILE.html",
        help="a table or a page",
    )
    states.add_argument("--replace", **REPLACE)
    ask_who(states)
    appeal = add_part(
        parts,
        "appeal",
        "mark an attempt again from its stored answers",
        "Mark an attempt again from its stored answers, accept as right what you found so, and "
        "decide anew. What an earlier appeal accepted counts no more unless it is named again. The "
        "first result stays readable. For an item that is wrong for everyone, see credit.",
        _appeal,
        "appeal 7 --accept q05='knees fall in' --by NAME --why 'both are seen'",
    )
    appeal.add_argument("attempt", type=int, metavar="ATTEMPT", help="its number, see list")
    appeal.add_argument(
        "--accept",
        type=_accepted,
        action="append",
        default=[],
        metavar="ITEM=OPTION",
        help="what the candidate answered and is right as well; repeatable",
    )
    ask_who_and_why(appeal)
    credit = add_part(
        parts,
        "credit",
        "count an item found wrong as right for everyone who sat the form or will",
        "Count an item found wrong as right for everyone who sat the form or will, and decide "
        "anew where that changes a score. No score falls.",
        _credit,
        "credit spring.zip spring.key.json q09 --by NAME --why 'two faults look the same'",
    )
    add_form_and_key(credit)
    credit.add_argument("item", metavar="ITEM", help="its name, see items.csv of the report")
    ask_who_and_why(credit)


def _accepted(given: str) -> tuple[str, str]:
    """Return item and option of what was typed as ITEM=OPTION."""
    item, equals, option = given.partition("=")
    if not (item and equals and option):
        raise argparse.ArgumentTypeError(
            f"“{given}”: write ITEM=OPTION, such as q05='knees fall in'"
        )
    return item, option


def _coach(records: Records, options: argparse.Namespace) -> int:
    """Enter coaches."""
    for coach in options.coaches:
        enrol_coach(records, coach)
        print(f"{coach} may review keys.")
    return ALL


def _review(records: Records, options: argparse.Namespace) -> int:
    """Record coaches' answers; print how far they agree with the key."""
    package, key = Package.read(options.form), FormKey.read(options.key)
    package.check(key)
    form = package.form
    for path in options.answers:
        if path.suffix.lower() == ".json":
            sheet = Sheet.read(path)
            if (sheet.form, sheet.seal) != (form.id, form.seal):
                raise ValueError(f"{path.name} answers another form; give the file of {form.id}")
            given = {sheet.candidate: sheet.answers}
        else:
            given = read_blind(path, form, package.questions)
        for coach, answers in given.items():
            new = record_review(records, form, key, coach, answers)
            print(f"{path.name}: {len(new)} answer{'s' * (len(new) != 1)} of {coach} recorded.")
    review = KeyReview(form, key, opinions(records, form.id))
    print(review)
    return SOME if review.doubts() else ALL


def _gradebook(records: Records, options: argparse.Namespace) -> int:
    """Print or write the scores, and record that they left."""
    text = gradebook(records)
    if options.output:
        must_be_new(options, options.output, other="name with -o")
        storage.write(options.output, text)
    note_output(records, "gradebook", str(options.output or "printed"), text)
    print(f"Wrote {options.output}." if options.output else text.rstrip("\n"))
    return ALL


def _certify(records: Records, options: argparse.Namespace) -> int:
    """Issue the certificate of an attempt, and write it if asked."""
    if options.pdf:
        must_be_new(options, options.pdf, other="name with --pdf")
    basis = grounds(records, options.attempt)
    names = options.issuer, options.course
    made = issue(records, options.attempt, "", options.override, *names)
    if basis.near:
        print(
            f"WARNING: {basis.score:g} is within one standard error ({basis.error:.1f}) of the "
            f"cut, {basis.cut:g}: another equal form might have decided otherwise."
        )
    for objection in basis.objections:
        print(f"Overridden ({options.override or 'when it was issued'}): {objection}.")
    if options.pdf and made.status != "valid":
        first = "; reinstate first" if made.status == "suspended" else ""
        print(f"{made.status.capitalize()}: nothing was printed{first}.")
    elif options.pdf:
        page = load("squatlab.exam.screens.report_pages:certificate_page")(made, COURSE)
        load("squatlab.show.paper:save")([page], options.pdf, f"Certificate {made.code}")
    return say_certificate(made)


COURSE = "this squat course"
"""What a certificate is for that does not say it."""


def _change(records: Records, options: argparse.Namespace) -> int:
    """Suspend, reinstate or revoke a certificate."""
    say_certificate(change(records, options.code, options.event, options.why))
    return ALL


def _states(records: Records, options: argparse.Namespace) -> int:
    """Write the list of certificates for everybody."""
    must_be_new(options, options.output, other="name with -o")
    page = options.output.suffix.lower() in (".html", ".htm")
    text = public_list(records, page)
    storage.write(options.output, text)
    note_output(records, "certificates' states", options.output.name, text)
    print(
        f"Wrote {options.output}: codes, states and dates, and nobody's id. Host it, and write "
        "it anew after each change."
    )
    return ALL


def _appeal(records: Records, options: argparse.Namespace) -> int:
    """Mark an attempt again, and say what became of its score and its certificate."""
    answers = answers_of(records, options.attempt)
    for item, option in options.accept:
        # What was not answered gains nothing: a slip of the pen would pass for a decision.
        if item in answers and answers[item] != option:
            raise ValueError(
                f"{item}: to accept “{option}” changes nothing; attempt {options.attempt} answered "
                f"“{answers[item]}”"
            )
    earlier = {standing.number: standing for standing in standings(records)}
    decision = appeal(records, options.attempt, dict(options.accept), options.why)
    standing = earlier[options.attempt]
    before = standing.decision.score if standing.decision else decision.score
    result = "passed" if decision.passed else "not passed"
    print(
        f"Attempt {options.attempt}, {standing.candidate}: {before:g} before, now "
        f"{decision.score:g}, {result}. {decision.why}"
    )
    held = None if decision.passed else certificate_of(records, options.attempt)
    if held and held.status == "valid":
        words = ["squatlab", "records", options.where, "revoke", held.code, "--by", options.by]
        print(
            f"Certificate {held.code}, given for this attempt, stays valid until you revoke it (or "
            f"suspend it: suspend for revoke):\n  {as_typed([*words, '--why', decision.why])}"
        )
    return ALL


def _credit(records: Records, options: argparse.Namespace) -> int:
    """Rule that an item counts as right for everyone; print what that changed."""
    form, key = Package.read(options.form).form, FormKey.read(options.key)
    ruling = rule(records, form, key, options.item, options.why)
    print(f"By {ruling.by}, {ruling.at[:10]}: {ruling.words}.")
    changed, sat = changes(records, ruling), standings(records, form.id)
    later = sum(standing.decision is None for standing in sat)
    rest = len(sat) - len(changed) - later
    print(
        f"{len(sat)} attempts at form {form.id}: {len(changed)} gained a mark, {rest} did not "
        f"need it, {later} are not decided yet."
    )
    passed = [each for each in changed if each.after.passed and not each.before.passed]
    if not ruling.certifies:
        print("No score hangs on this item; the report leaves it out.")
    for each in passed:
        print(
            f"{each.candidate} now passes: {each.before.score:g} before, now {each.after.score:g}; "
            f"certify attempt {each.after.attempt}."
        )
    print(
        f"{len(passed)} changed from not passed to passed, none the other way: credit lowers no "
        "score."
    )
    gift = sum(key.entries[item].how.certifies for item in credited(records, form.id))
    left = sum(entry.how.certifies for entry in key.entries.values()) - gift
    fewest = key.policy.cases_to_certify
    if gift and left < fewest:
        print(f"Note: {left} lifts still tell people apart; to certify, {fewest:g} are asked.")
    return ALL
