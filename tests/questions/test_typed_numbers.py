"""Lengths and masses as people write them."""

from __future__ import annotations

import pytest

from squatlab.questions.typed_numbers import in_unit, kilograms, metres

# NIST Handbook 44, appendix C: 1 ft = 0.3048 m, 1 in = 2.54 cm, 1 lb = 0.453 592 37 kg, exact.
FIVE_ELEVEN = 71 * 0.0254


@pytest.mark.parametrize(
    "text",
    [
        "5'11\"",
        "5'11",
        "5′11″",
        "5’11”",
        "5'11''",
        "5 ft 11 in",
        "5ft11",
        "71 in",
        '71"',
        "71 inches",
    ],
)
def test_imperial_spellings_of_one_height(text: str) -> None:
    assert metres(text) == pytest.approx(FIVE_ELEVEN, abs=1e-12)


@pytest.mark.parametrize("text", ["178 cm", "1.78 m", "1,78 m", "1780mm", " 178 CM "])
def test_metric_spellings_of_one_height(text: str) -> None:
    assert metres(text) == pytest.approx(1.78, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        ("66 1/2 in", 66.5),
        ("66-1/2 in", 66.5),
        ("66½ in", 66.5),
        ("5'6 1/2\"", 66.5),
        ("5 ft. 6 1/2 in.", 66.5),
        ("5'-6 1/2\"", 66.5),
        ("5' 6½", 66.5),
        ("1/2 in", 0.5),
        ("70 5/8 in", 70.625),
        ("70 3/32 in", 70.09375),
    ],
)
def test_inches_with_the_fractions_of_a_tape_measure(text: str, inches: float) -> None:
    assert metres(text) == pytest.approx(inches * 0.0254, abs=1e-12)
    assert in_unit(text, "in") == pytest.approx(inches, abs=1e-12)


@pytest.mark.parametrize("text", ["66 3/2 in", "66 1/3 in", "1/2/26 in", "6.5 1/2 in", "66/1/2 in"])
def test_what_is_no_fraction_of_a_tape_measure_is_refused(text: str) -> None:
    with pytest.raises(ValueError):
        metres(text)
    with pytest.raises(ValueError):
        in_unit(text, "in")


def test_pounds_may_have_their_sign() -> None:
    assert kilograms("140#") == kilograms("140 lb") == pytest.approx(140 * 0.45359237)


def test_a_stated_unit_is_used_for_bare_numbers() -> None:
    assert metres("178", "cm") == pytest.approx(1.78)
    assert metres("70", "in") == pytest.approx(70 * 0.0254)
    assert metres("5'11", "ft") == pytest.approx(FIVE_ELEVEN)
    assert metres("5'11\"", "ft-in") == pytest.approx(FIVE_ELEVEN)
    assert kilograms("165", "lb") == pytest.approx(165 * 0.45359237)
    assert kilograms("74 kg") == 74.0


@pytest.mark.parametrize(
    ("text", "unit", "words"),
    [
        ("178", None, "“178” has no unit; write a length such as 178 cm"),
        ("tall", None, "“tall” is not a length such as"),
        ("-178 cm", None, "“-178 cm” is not a length"),
        ("", None, "“” is not a length"),
        ("5'12\"", None, "inches must be fewer than 12"),
        ("5.11", "ft", "write whole feet and then inches, such as 5'11\""),
        ("5.5 ft", None, "write whole feet and then inches"),
        ("11 in 5 ft", None, "write whole feet and then inches"),
        ("1 m 78 cm", None, "has more than one unit"),
        ("12 stone", None, "the unit “stone” is not one of m, cm, mm, ft, in"),
        ("178", "hands", "the unit “hands” is not one of m, cm"),
        ("5'11\"", "cm", "does not agree with the unit “cm” stated for it; correct one of them"),
    ],
)
def test_an_unclear_length_is_refused(text: str, unit: str | None, words: str) -> None:
    with pytest.raises(ValueError) as caught:
        metres(text, unit)
    assert words in str(caught.value)


def test_an_unclear_mass_is_refused() -> None:
    with pytest.raises(ValueError, match="has no unit; write a mass such as 74 kg or 165 lb"):
        kilograms("74")
    with pytest.raises(ValueError, match="has more than one unit"):
        kilograms("74 kg 3 lb")
    with pytest.raises(ValueError, match="does not agree with the unit “kg”"):
        kilograms("165 lb", "kg")


@pytest.mark.parametrize(
    ("given", "unit", "value"),
    [
        ("12.5", "cm", 12.5),
        ("12,5", "cm", 12.5),
        ("12,5 cm", "cm", 12.5),
        ("12.5cm", "cm", 12.5),
        (" 12 CM. ", "cm", 12),
        (".5", "cm", 0.5),
        ("12.", "cm", 12),
        ("+3", "cm", 3),
        ("\N{MINUS SIGN}3 cm", "cm", -3),
        ("30°", "°", 30),
        ("30 deg", "°", 30),
        ("30degrees", "°", 30),
        ("1 degree", "°", 1),
        ("30º", "°", 30),
        ("150 N·m", "N·m", 150),
        ("150Nm", "N·m", 150),
        ("150 N m", "N·m", 150),
        ("150 n*m", "N·m", 150),
        ("7", "", 7),
        (12, "cm", 12),
        (-0.25, "cm", -0.25),
        ("0,125 s", "s", 0.125),
        ("20 holes", "holes", 20),
        ("12 mm", "cm", 1.2),
        ("225 lb", "kg", 102.05828325),
        ("5'9\"", "m", 1.7526),
        ("69 in", "cm", 175.26),
        ("5 ft 9 in", "in", 69),
        ("100 lbf·ft", "N·m", 135.5817948),
        ("100 ft-lb", "N·m", 135.5817948),
        ("60 fps", "frames per second", 60),
        ("1500,25", "N", 1500.25),
        ("50 percent", "%", 50),
    ],
)
def test_a_number_may_have_its_own_unit(given, unit, value):
    assert in_unit(given, unit) == pytest.approx(value, rel=1e-9)


@pytest.mark.parametrize(
    ("given", "unit", "words"),
    [
        ("12 kg", "cm", "“12 kg” is in “kg” and this question asks for cm: write that, such as "),
        ("12,5°", "cm", "“12,5°” is in “°” and this question asks for cm: "),
        ("150 kg·m", "N·m", "“kg·m” and this question asks for N·m: write that, such as 12.5 N·m"),
        ("1 rad", "°", "is in “rad” and this question asks for °: write that, such as 12.5°"),
        ("3 cm", "", "asks for a number without a unit: write that, such as 12.5"),
        ("about ten", "cm", "“about ten” is no number; write one, such as 12.5 cm or 12,5 cm"),
        ("cm", "cm", "“cm” is no number"),
        ("", "cm", "“” is no number"),
        ("1 250", "cm", "“1 250” is no number"),
        ("1.250,5", "cm", "“1.250,5” is no number"),
        ("12-14 cm", "cm", "“12-14 cm” is no number"),
        ("\x1b[31m5", "cm", "“�[31m5” is no"),
        ("1e3", "cm", "“1e3” is no number"),
        ("inf", "cm", "“inf” is no number"),
        ("9" * 400, "cm", "is no number"),
        (float("nan"), "cm", "“nan” is no number"),
        (True, "cm", "“True” is no number"),
        (["12"], "cm", "is no number"),
        ("5'12", "in", "inches must be fewer than 12"),
        ("5.5'2", "in", "write whole feet"),
        ("1,500 N", "N", "write 1500 N, or 1.500 N for the smaller one"),
        ("5'9\"", "kg", "is in “in” and this question asks for kg"),
    ],
)
def test_another_unit_and_what_is_no_number_are_named(given, unit, words):
    with pytest.raises(ValueError) as problem:
        in_unit(given, unit)
    assert words in str(problem.value)
