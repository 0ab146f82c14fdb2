"""``squatlab records … credit``: an item found wrong is made good to everyone."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from squatlab import tables
from squatlab.commands.exam import ALL

if TYPE_CHECKING:
    from squatlab.exam.records import Records


def credit(records: Records, options: argparse.Namespace) -> int:
    """Rule that an item counts as right for everyone; print what that changed."""
    from squatlab.exam.forms import Key
    from squatlab.exam.package import Package
    from squatlab.exam.records import changes, credited, rule, standings

    form, key = Package.read(options.form).form, Key.read(options.key)
    ruling = rule(records, form, key, options.item, options.by, options.why)
    print(f"By {ruling.by}, {ruling.at[:10]}: {ruling.words}.")
    changed, sat = changes(records, ruling), standings(records, form.id)
    later = sum(one.decision is None for one in sat)
    rest = len(sat) - len(changed) - later
    print(f"{len(sat)} attempts at form {form.id}: {len(changed)} gained a mark, {rest} did not "
          f"need it, {later} are not decided yet.")  # fmt: skip
    passed = [one for one in changed if one.after.passed and not one.before.passed]
    if not ruling.certifies:
        print("No score hangs on this item; the report leaves it out.")
    for one in passed:
        print(f"{one.candidate} now passes: {one.before.score:g} before, now {one.after.score:g}; "
              f"certify attempt {one.after.attempt}.")  # fmt: skip
    print(f"{len(passed)} changed from not passed to passed, none the other way: credit lowers no "
          "score.")  # fmt: skip
    gift = [key.entries[item].kind for item in credited(records, form.id)].count("first")
    left = sum(entry.kind == "first" for entry in key.entries.values()) - gift
    fewest = tables.value("exam_policy", name="cases_to_certify")
    if gift and left < fewest:
        print(f"Note: {left} lifts still tell people apart; to certify, {fewest:g} are asked.")
    print(f"The chain ends at {records.head()}: note this outside the records.")
    return ALL
