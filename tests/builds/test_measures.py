"""Typed text: what each becomes, and that it comes back as it was typed."""

import random
from decimal import Decimal
from fractions import Fraction

import pint
import pytest

from builds.measures import BY_SYMBOL, MeasureError, bare_number, for_field, has_unit, in_unit, parse, show

# What is typed for a length, by a person who reads inches, and the value in inches. Hand-worked.
LENGTHS = [
    ("0.025", "0.025"),
    (".025", "0.025"),
    ("0.0250", "0.025"),
    ("  0.025  ", "0.025"),
    ("0,025", "0.025"),
    (",025", "0.025"),
    ("1,234", "1.234"),
    ("0", "0"),
    ("0.000", "0"),
    ("-0", "0"),
    ("5.", "5"),
    ("007", "7"),
    ("212", "212"),
    ("+0.025", "0.025"),
    ("0.025 in", "0.025"),
    ("0.025in", "0.025"),
    ("0.025 IN", "0.025"),
    ("0.025 in.", "0.025"),
    ("0.025 inch", "0.025"),
    ("2 inches", "2"),
    ('0.025"', "0.025"),
    ("0.025″", "0.025"),
    ("0.025”", "0.025"),
    ("0.025''", "0.025"),
    ("0.025 ''", "0.025"),
    ("25.4 mm", "1"),
    ("25.4mm", "1"),
    ("25,4 mm", "1"),
    ("25.4 MM", "1"),
    ("12.7 millimetres", "0.5"),
    ("25 thou", "0.025"),
    ("25thou", "0.025"),
    ("2.5 mil", "0.0025"),
    ("15 thousandths", "0.015"),
    ("1/32", "0.03125"),
    ("1/32 in", "0.03125"),
    ('1/32"', "0.03125"),
    ("1 / 32", "0.03125"),
    ("1 1/2", "1.5"),
    ("1-1/2", "1.5"),
    ("25 2/5 mm", "1"),
    ("01A+000.1234", "0.1234"),
    ("01A+00012.5", "12.5"),
    ("０.０２５", "0.025"),
    ("0.025\u00a0in", "0.025"),
]

# The same where a value below zero makes sense.
SIGNED = [
    ("-0.005", "-0.005"),
    ("−0.005", "-0.005"),
    ("–0.005", "-0.005"),
    ("—0.005", "-0.005"),
    ("- 0.005", "-0.005"),
    ("-1/32", "-0.03125"),
    ("-.5 mm", "-0.019685039370"),
    ("01A-000.1234", "-0.1234"),
]

# What cannot be read, and part of the sentence that says why.
REFUSED = [
    ("", "Nothing was typed"),
    ("   ", "Nothing was typed"),
    ("abc", "“abc” is not a number. Type a length"),
    ("mm", "has a unit but no number"),
    ("in", "has a unit but no number"),
    (".", "is not a number"),
    ("-", "is not a number"),
    ("--5", "is not a number"),
    ("5-", "is not a number"),
    ("0.025 0.026", "has a space inside"),
    ("1 234", "has a space inside"),
    ("1/2/3", "is not a number"),
    ("1/0", "divides by nothing"),
    ("0.0.25", "has two dots"),
    ("1.2.3.4", "has two dots"),
    ("0,0,25", "has two commas"),
    ("1,234.5", "has a comma and a dot"),
    ("1e-3", "is not a number"),
    ("0x1F", "is not a number"),
    ("NaN", "is not a number"),
    ("1e5", "“1e5” is not a number"),
    ("-inf", "is not a number"),
    ("fine mm", "is not a number"),
    ("5 elbows", "“elbows” is not a unit that fits here"),
    ("½", "a fraction in one sign"),
    ("1½", "a fraction in one sign"),
    ("5 furlongs", "“furlongs” is not a unit that fits here"),
    ("120 lbf", "“lbf” is a force"),
    ("45°", "“°” is an angle"),
    ("70 N·m", "“N·m” is a torque"),
    ("35 psi", "“psi” is a pressure"),
    ("-0.005", "is below zero"),
    ("−1/32", "is below zero"),
    ("01A-000.1234", "is below zero"),
    ("9999999", "far outside anything measured"),
    ("0.0000000000000000001", "more figures than any gauge"),
    ("1" * 41, "more text than a value has"),
    ("1/" + "9" * 5000, "more text than a value has"),
    ("\u200b0.025", "is not a number"),
    ("0.025\x00", "not a unit that fits here"),
    ("<b>1</b>", "is not a number"),
]


@pytest.mark.parametrize(("typed", "inches"), LENGTHS)
def test_a_typed_length_becomes_this(typed: str, inches: str) -> None:
    assert parse(typed).exact == Fraction(inches)


@pytest.mark.parametrize(("typed", "inches"), SIGNED)
def test_a_typed_length_below_zero_becomes_this(typed: str, inches: str) -> None:
    assert parse(typed, signed=True).base == Decimal(inches)


@pytest.mark.parametrize(("typed", "why"), REFUSED)
def test_this_cannot_be_read_and_the_sentence_says_why(typed: str, why: str) -> None:
    with pytest.raises(MeasureError, match=why):
        parse(typed)


@pytest.mark.parametrize("typed", [text for text, _ in LENGTHS])
def test_what_was_typed_is_kept_character_for_character(typed: str) -> None:
    assert parse(typed).text == typed.strip()


@pytest.mark.parametrize(
    ("typed", "kind", "base"),
    [
        ("120", "force", "120"),
        ("120 lb", "force", "120"),
        ("4.4482216152605 N", "force", "1"),
        ("95", "torque", "95"),
        ("95 ft-lb", "torque", "95"),
        ("95 lb ft", "torque", "95"),
        ("1.3558179483314004 Nm", "torque", "1"),
        ("108.5", "angle", "108.5"),
        ("108.5°", "angle", "108.5"),
        ("108.5 deg", "angle", "108.5"),
        ("30", "pressure", "30"),
        ("1.5", "ratio", "1.5"),
        ("1.5×", "ratio", "1.5"),
        ("1.5x", "ratio", "1.5"),
    ],
)
def test_other_kinds_have_units_of_their_own(typed: str, kind: str, base: str) -> None:
    assert parse(typed, kind=kind).base == Decimal(base)


@pytest.mark.parametrize(
    ("typed", "offers"),
    [
        ("1,234.5", ("1234.5",)),
        ("0.0.25", ("0.025",)),
    ],
)
def test_it_offers_what_may_have_been_meant(typed: str, offers: tuple[str, ...]) -> None:
    with pytest.raises(MeasureError) as refused:
        parse(typed)
    assert refused.value.offers == offers


@pytest.mark.parametrize("typed", ["-0.010", "-.02", "−0.5 mm", "01A-000.1234", "–3"])
def test_a_value_below_zero_is_never_offered_without_its_sign(typed: str) -> None:
    # Taken, it would be wrong by twice its size.
    with pytest.raises(MeasureError, match="is below zero") as refused:
        parse(typed)
    assert refused.value.offers == ()
    assert "without" not in refused.value.sentence


def test_what_is_no_number_is_answered_with_numbers_of_its_own_kind() -> None:
    with pytest.raises(MeasureError, match=r"“wide” is not a number\. Type an angle .*such as 108"):
        parse("wide", kind="angle")


@pytest.mark.parametrize("unit", ["lbf", "furlong"])
def test_a_unit_that_does_not_fit_the_kind_is_refused_however_it_comes(unit: str) -> None:
    with pytest.raises(MeasureError, match=f"“{unit}” is not a unit that fits here"):
        parse("0.5", kind="length", unit=unit)


def test_a_number_without_unit_is_in_the_unit_of_the_person() -> None:
    assert parse("25.4", unit="mm").exact == 1
    assert parse("25.4 in", unit="mm").exact == Fraction("25.4")


# Exact by definition, or from these definitions: NIST Special Publication 811 (2008), appendix B.8:
# inch 2.54 E-02 m; pound-force 4.448 222 E+00 N; foot pound-force 1.355 818 E+00 N·m; psi 6.894 757 E+00 kPa.
NIST = [
    ("in", "mm", "25.4"),
    ("lbf", "N", "4.448222"),
    ("lbf·ft", "N·m", "1.355818"),
    ("psi", "kPa", "6.894757"),
]


@pytest.mark.parametrize(("base", "other", "printed"), NIST)
def test_a_factor_agrees_with_nist_to_every_printed_figure(base: str, other: str, printed: str) -> None:
    places = len(printed.partition(".")[2])
    assert in_unit(Decimal(1), other, places) == Decimal(printed)


@pytest.mark.parametrize(
    ("symbol", "known_as"),
    [
        ("mm", "millimeter"), ("thou", "thou"), ("N", "newton"), ("N·m", "newton*meter"), ("kPa", "kilopascal"),
    ],
)  # fmt: skip
def test_a_factor_agrees_with_an_independent_library(symbol: str, known_as: str) -> None:
    base = {"length": "inch", "force": "pound_force", "torque": "pound_force*foot", "pressure": "psi"}
    unit = BY_SYMBOL[symbol]
    found = pint.UnitRegistry().Quantity(1, known_as).to(base[unit.kind]).magnitude
    assert float(unit.in_base) == pytest.approx(found, rel=1e-12)


@pytest.mark.parametrize("unit", ["in", "mm"])
def test_ten_thousand_values_come_back_with_the_figures_that_were_typed(unit: str) -> None:
    chance = random.Random(20260105)
    for _ in range(5000):
        places = chance.randint(0, 6)
        typed = f"{Decimal(chance.randint(0, 10 ** (places + 2))).scaleb(-places):f}"
        measure = parse(typed, unit=unit)
        assert measure.text == typed
        assert f"{in_unit(measure.base, unit, places):f}" == typed


@pytest.mark.parametrize("unit", ["in", "mm", "thou"])
def test_a_value_goes_into_a_form_field_and_out_again_unchanged(unit: str) -> None:
    chance = random.Random(811)
    for _ in range(2000):
        kept = Decimal(chance.randint(0, 10**11)).scaleb(-10)
        assert parse(for_field(kept, unit), unit=unit).base.quantize(Decimal("1e-10")) == kept


def test_a_sixty_fourth_and_finer_survives_a_form_field() -> None:
    assert for_field(parse("1/128").base, "in") == "0.0078125"


@pytest.mark.parametrize(
    ("value", "unit", "shown"),
    [
        ("0.0254", "mm", "0.645"),
        ("-0.005", "in", "−0.0050"),
        ("-0.00001", "in", "0.0000"),
        ("0.25", "thou", "250.0"),
    ],
)
def test_a_value_is_shown_rounded_with_a_real_minus(value: str, unit: str, shown: str) -> None:
    assert show(Decimal(value), unit) == shown


def test_nothing_is_shown_as_a_dash_and_zero_as_a_figure() -> None:
    assert (show(None), show(Decimal(0))) == ("–", "0.0000")


@pytest.mark.parametrize(
    ("typed", "number", "unit_typed"),
    [
        ("19.05 mm", "19.05", True),
        ("19.05MM", "19.05", True),
        ("−1/2", "−1/2", False),
        ("01A+000.1", "01A+000.1", False),
    ],
)
def test_the_number_parts_from_its_unit(typed: str, number: str, unit_typed: bool) -> None:
    assert (bare_number(typed), has_unit(typed)) == (number, unit_typed)
