"""Figures and codes as people read them: by published names, plain rounding and base 31."""

from __future__ import annotations

import hashlib

import numpy as np
import pytest

from squatlab.exam import codes
from squatlab.exam.reliability import Interval, share_interval
from squatlab.exam.report import figure_words, interval_words, kappa_words, number, percent
from squatlab.exam.serving.places import Bucket
from squatlab.questions.figure import none


@pytest.mark.parametrize(
    ("kappa", "called"),
    [
        # Landis & Koch 1977, Biometrics 33:165: the names of their table.
        (-0.1, "poor"),
        (0.1, "slight"),
        (0.3, "fair"),
        (0.5, "moderate"),
        (0.7, "substantial"),
        (0.9, "almost perfect"),
        # The ends of its rows: 0.00–0.20, 0.21–0.40, 0.41–0.60, 0.61–0.80, 0.81–1.00.
        (0.0, "slight"),
        (0.2, "slight"),
        (0.21, "fair"),
        (0.4, "fair"),
        (0.41, "moderate"),
        (0.6, "moderate"),
        (0.61, "substantial"),
        (0.8, "substantial"),
        (0.81, "almost perfect"),
        (1.0, "almost perfect"),
    ],
)
def test_kappas_have_their_published_names(kappa, called):
    assert kappa_words(kappa) == f", {called}"


def test_numbers_are_rounded_and_one_is_kept_for_one():
    shown = {0.994: "0.99", 0.996: ">0.99", 1.0: "1.00", 1.996: "2.00", -0.25: "−0.25"}
    shown |= {-0.001: "0.00", np.nan: "–", 1.0 - 1e-12: "1.00"}
    assert {value: number(value) for value in shown} == shown
    assert percent(0.256) == "26 %" and percent(np.nan) == "–"
    assert kappa_words(np.nan) == interval_words(Interval(np.nan, np.nan)) == ""
    assert interval_words(Interval(-0.5, 0.25)) == ", 95 % interval −0.50 to 0.25"
    assert figure_words(none("nobody came")) == "none (nobody came)"
    assert figure_words(0.5) == "0.50"


def test_an_interval_needs_a_part_of_a_whole_and_a_level():
    assert share_interval(0, 10).low == pytest.approx(0.0, abs=1e-12)
    assert share_interval(10, 10).high == pytest.approx(1.0)
    for part, whole, level in ((-1, 10, 0.95), (11, 10, 0.95), (5, 10, 0.0), (5, 10, 1.0)):
        with pytest.raises(ValueError, match="no part of a whole"):
            share_interval(part, whole, level)


def test_a_bucket_gives_what_it_holds_and_what_has_dripped_in():
    """In any T seconds no more than it holds and rate · T; whoever waits gets its fill again."""
    bucket = Bucket(left=3.0, at=0.0)
    assert [bucket.take(0.0, rate=2.0, most=3.0) for _ in range(5)] == [True] * 3 + [False] * 2
    assert [bucket.take(1.0, rate=2.0, most=3.0) for _ in range(3)] == [True, True, False]
    assert [bucket.take(100.0, rate=2.0, most=3.0) for _ in range(4)] == [True] * 3 + [False]
    taken = sum(bucket.take(100.0 + n / 10, rate=2.0, most=3.0) for n in range(1, 101))
    assert taken == 2.0 * 10


def test_a_receipt_spells_the_first_sixteen_bytes_in_base_31():
    """Whatever the digest's length: a receipt that was printed must be found again."""
    digest = hashlib.sha256(b"answers").digest()
    signs = codes.spell(digest).replace("-", "")
    value = sum(codes.LETTERS.index(sign) * 31**place for place, sign in enumerate(signs[:-1]))
    assert value == int.from_bytes(digest[:16], "big") % 31**11
    assert codes.possible(codes.spell(digest)) and codes.spell(digest[:16]) == codes.spell(digest)
