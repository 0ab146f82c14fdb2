"""Lengths and masses as people write them."""

from __future__ import annotations

import pytest

from squatlab.gym.units import kilograms, metres

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
