"""Reading what people type at the bench, and showing numbers back: the one place where units are converted.

A typed value is kept character for character; beside it stands the same value as a decimal in the base unit
(inch, pound-force, pound-force foot, degree, psi), good to 1e-12. Nothing here goes through a float.

Sources: exact factors from NIST SP 811; 1 in = 25.4 mm exactly.
"""

import re
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal, localcontext
from fractions import Fraction

BASE_PLACES = Decimal("1e-12")
# What a form field keeps, and more places than any unit needs to show that.
FIELD_PLACES = Decimal("1e-10")
MOST_PLACES = 16


@dataclass(frozen=True)
class Unit:
    """A unit: how it is written, what else people write for it, and how many base units it is."""

    symbol: str
    kind: str
    in_base: Fraction
    also: tuple[str, ...] = ()
    places: int = 3


_NEWTON = Fraction(10**13, 44482216152605)
_NEWTON_METRE = Fraction(10**16, 13558179483314004)
_KILOPASCAL = _NEWTON * Fraction("0.0254") ** 2 * 1000

UNITS = [
    Unit("in", "length", Fraction(1), ('"', "″", "”", "“", "''", "’’", "inch", "inches"), 4),
    Unit("mm", "length", Fraction(10, 254), ("millimetre", "millimetres", "millimeter", "millimeters"), 3),
    Unit("thou", "length", Fraction(1, 1000), ("th", "mil", "mils", "thousandths"), 1),
    Unit("lbf", "force", Fraction(1), ("lb", "lbs"), 1),
    Unit("N", "force", _NEWTON, ("newton", "newtons"), 0),
    Unit(
        "lbf·ft",
        "torque",
        Fraction(1),
        ("lbf-ft", "lbf ft", "lb-ft", "lb ft", "lb·ft", "ft-lb", "ft lb", "ft·lb", "ftlb", "lbft"),
        1,
    ),
    Unit("N·m", "torque", _NEWTON_METRE, ("nm", "n-m", "n m", "n.m"), 1),
    Unit("°", "angle", Fraction(1), ("deg", "degree", "degrees"), 2),
    Unit("psi", "pressure", Fraction(1), (), 1),
    Unit("cc", "volume", Fraction(1), ("cm3", "cm³", "ml"), 1),
    Unit("in³", "volume", Fraction("16.387064"), ("in3", "cu in", "cuin", "ci"), 3),
    Unit("kPa", "pressure", _KILOPASCAL, (), 0),
    Unit("×", "ratio", Fraction(1), ("x", "times"), 2),
    Unit("%", "share", Fraction(1), ("percent", "per cent"), 1),
    Unit("lbf/in", "rate", Fraction(1), ("lb/in", "lbs/in"), 0),
    Unit("g", "mass", Fraction(1), ("gram", "grams", "gm"), 1),
    Unit("N/mm", "rate", _NEWTON * Fraction("25.4"), (), 1),
]
BY_SYMBOL = {unit.symbol: unit for unit in UNITS}
BY_WORD = {word.lower(): unit for unit in UNITS for word in (unit.symbol, *unit.also)}
BASE_UNIT = {
    "length": "in",
    "force": "lbf",
    "torque": "lbf·ft",
    "angle": "°",
    "pressure": "psi",
    "volume": "cc",
    "ratio": "×",
    "rate": "lbf/in",
    "share": "%",
    "mass": "g",
}
# What is read by who reads millimetres.
METRIC_UNIT = {"length": "mm", "force": "N", "torque": "N·m", "pressure": "kPa", "rate": "N/mm"}
KIND_WORDS = {
    "length": "a length (in, mm or thou)",
    "force": "a force (lbf or N)",
    "torque": "a torque (lbf·ft or N·m)",
    "angle": "an angle (°)",
    "pressure": "a pressure (psi or kPa)",
    "volume": "a volume (cc or in³)",
    "ratio": "a plain number",
    "rate": "a spring rate (lbf/in or N/mm)",
    "share": "a part in a hundred (%)",
    "mass": "a weight (g)",
}
# How each kind may be typed.
EXAMPLES = {
    "length": "0.025, 1/32 or 0.6 mm",
    "force": "120 or 530 N",
    "torque": "95 or 130 N·m",
    "angle": "108.5",
    "pressure": "35 or 240 kPa",
    "volume": "64.5 or 3.94 in³",
    "ratio": "1.55",
    "rate": "450 or 79 N/mm",
    "share": "5",
}

# Where the number ends and the unit begins; the Unicode minus signs belong to the number.
_UNIT_TEXT = re.compile(r"[^\d\s.,/+−–—﹣－-].*$", re.DOTALL)
# A gauge that types like a keyboard may send its channel, sign and value in one string: 01A+000.1234.
_GAUGE_TEXT = re.compile(r"^\d\d[A-Z]([+-])(\d+\.?\d*)$")
# Ways of writing a number that are not the bench's: 1e5, 0x1F.
_OTHER_NOTATION = re.compile(r"^(?:e[+-]?\d|x[\da-f])", re.IGNORECASE)
_NUMBER = re.compile(r"^\d+\.?\d*$|^\.\d+$")
_FRACTION = re.compile(r"^(?:(\d+) ?[ -] ?)?(\d+) ?/ ?(\d+)$")
_ONE_CHARACTER_FRACTION = re.compile("[¼-¾⅐-⅞]")
# Longer than this is not one value; larger than this, in base units, is not on an engine.
LONGEST = 40
LARGEST = 10**6
_MINUSES = str.maketrans({"−": "-", "–": "-", "—": "-", "﹣": "-", "－": "-"})
_FULL_WIDTH = {ord("０") + digit: ord("0") + digit for digit in range(10)}


def unit_for(kind: str, length_unit: str) -> str:
    """The unit in which a person reads a kind of quantity: who reads millimetres reads newtons too.

    >>> unit_for("force", "mm"), unit_for("force", "in"), unit_for("angle", "mm")
    ('N', 'lbf', '°')
    """
    return METRIC_UNIT.get(kind, BASE_UNIT[kind]) if length_unit == "mm" else BASE_UNIT[kind]


class MeasureError(ValueError):
    """What was typed is not a measure: the sentence says what, and `offers` what may have been meant."""

    def __init__(self, sentence: str, offers: tuple[str, ...] = ()) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.offers = offers


@dataclass(frozen=True)
class Measure:
    """A typed value: its text, the unit it was typed in, and its exact value in the base unit."""

    text: str
    unit: str
    exact: Fraction

    @property
    def base(self) -> Decimal:
        """The value in the base unit, as it is kept."""
        return to_decimal(self.exact)


def to_decimal(exact: Fraction) -> Decimal:
    """Turn an exact fraction into the decimal that is kept, good to 1e-12."""
    with localcontext() as context:
        context.prec = 40
        return (Decimal(exact.numerator) / Decimal(exact.denominator)).quantize(BASE_PLACES, ROUND_HALF_UP)


def parse(text: str, *, kind: str = "length", unit: str | None = None, signed: bool = False) -> Measure:
    """Read a typed value.

    Parameters: `text` as typed; `kind` of quantity wanted; `unit` meant when none is typed (the base unit when
    None); `signed` whether a value below zero makes sense.
    Raises `MeasureError` with a sentence that says what is wrong and what would be right.

    >>> parse(".025").base
    Decimal('0.025000000000')
    >>> parse("0.6 mm").exact
    Fraction(3, 127)
    """
    if len(text.strip()) > LONGEST:
        raise MeasureError(f"That is more text than a value has. Type the number alone: {KIND_WORDS[kind]}.")
    default = BY_SYMBOL.get(unit or BASE_UNIT[kind])
    if default is None or default.kind != kind:
        raise MeasureError(f"“{unit}” is not a unit that fits here. Type {KIND_WORDS[kind]}.")
    body, typed_unit = _split_unit(text, kind)
    used = typed_unit or default
    number, negative = _read_number(body, text, used, kind)
    if negative and number != 0 and not signed:
        raise MeasureError(
            f"“{text.strip()}” is below zero, and this can't be. Look at the gauge again and type what it reads."
        )
    exact = number * used.in_base
    if exact > LARGEST:
        raise MeasureError(
            f"“{text.strip()}” is far outside anything measured here. Type {KIND_WORDS[kind]}."
        )
    return Measure(text=text.strip(), unit=used.symbol, exact=-exact if negative else exact)


def has_unit(text: str) -> bool:
    """Whether a unit was typed behind the number."""
    return bare_number(text) != text.strip()


def bare_number(text: str) -> str:
    """The typed number without the unit behind it.

    >>> bare_number("19.05 mm"), bare_number("01A+000.1234")
    ('19.05', '01A+000.1234')
    """
    body = text.strip()
    if _GAUGE_TEXT.match(body):
        return body
    match = _UNIT_TEXT.search(body)
    return body[: match.start()].strip() if match else body


def _split_unit(text: str, kind: str) -> tuple[str, Unit | None]:
    """Part the number from the unit that was typed behind it."""
    body = text.translate(_MINUSES).translate(_FULL_WIDTH).replace("\u00a0", " ").strip()
    if not body:
        raise MeasureError(f"Nothing was typed. Type {KIND_WORDS[kind]}: 0.025.")
    if _GAUGE_TEXT.match(body):
        return body, None
    match = _UNIT_TEXT.search(body)
    if match is None:
        return body, None
    if _ONE_CHARACTER_FRACTION.search(body):
        raise MeasureError(f"“{text.strip()}” has a fraction in one sign. Type it with a slash: 1 1/2.")
    word = match.group().strip().lower().rstrip(".")
    found = BY_WORD.get(word)
    if found is None:
        if not re.search(r"\d", body[: match.start()]) or _OTHER_NOTATION.match(word):
            raise MeasureError(_not_a_number(text, kind))
        raise MeasureError(
            f"“{match.group().strip()}” is not a unit that fits here. Type {KIND_WORDS[kind]}."
        )
    if found.kind != kind:
        raise MeasureError(
            f"“{match.group().strip()}” is {KIND_WORDS[found.kind]}, and this is {KIND_WORDS[kind]}. "
            "Type it in one of those units."
        )
    return body[: match.start()].strip(), found


def _read_number(body: str, text: str, unit: Unit, kind: str) -> tuple[Fraction, bool]:
    """Read a number without its unit: its size and whether it is below zero."""
    shown = text.strip()
    gauge = _GAUGE_TEXT.match(body)
    if gauge:
        return Fraction(gauge.group(2)), gauge.group(1) == "-"
    if not body:
        raise MeasureError(f"“{shown}” has a unit but no number. Type the number first: 0.025 {unit.symbol}.")
    negative = body.startswith("-")
    digits = body[1:].strip() if body[0] in "+-" else body
    fraction = _FRACTION.match(digits)
    if fraction:
        whole, top, bottom = (int(part or 0) for part in fraction.groups())
        if bottom == 0:
            raise MeasureError(f"“{shown}” divides by nothing. Type a fraction such as 1/32.")
        return whole + Fraction(top, bottom), negative
    if " " in digits:
        raise MeasureError(f"“{shown}” has a space inside. Type one number, without spaces: 0.025.")
    if digits.count(".") + digits.count(",") > 1:
        raise MeasureError(*_too_many_marks(shown, digits))
    digits = digits.replace(",", ".")
    if not _NUMBER.match(digits):
        raise MeasureError(_not_a_number(text, kind))
    if len(digits) > 20:
        raise MeasureError(f"“{shown}” has more figures than any gauge shows. Type it again.")
    return Fraction(digits), negative


def _not_a_number(text: str, kind: str) -> str:
    """The sentence for what is no number at all."""
    return f"“{text.strip()}” is not a number. Type {KIND_WORDS[kind]}, such as {EXAMPLES.get(kind, '120')}."


def _too_many_marks(shown: str, digits: str) -> tuple[str, tuple[str, ...]]:
    """The sentence for two dots or a thousands comma, and what may have been meant."""
    if "," in digits and "." in digits:
        plain = digits.replace(",", "")
        offers = (plain,) if plain.count(".") == 1 else ()
        return f"“{shown}” has a comma and a dot. Type one decimal point and no thousands mark.", offers
    mark = "dots" if "." in digits else "commas"
    head, _, tail = digits.replace(",", ".").partition(".")
    offer = f"{head or '0'}.{tail.replace('.', '')}"
    return f"“{shown}” has two {mark}. Type one decimal point.", (offer,)


def in_unit(base: Decimal | float | Fraction, unit: str, places: int | None = None) -> Decimal:
    """Convert a base-unit value into `unit`, rounded to `places` (the unit's own when None) for showing."""
    found = BY_SYMBOL[unit]
    exact = Fraction(base) / found.in_base
    with localcontext() as context:
        context.prec = 40
        value = Decimal(exact.numerator) / Decimal(exact.denominator)
        rounded = value.quantize(
            Decimal(1).scaleb(-(found.places if places is None else places)), ROUND_HALF_UP
        )
    return abs(rounded) if rounded == 0 else rounded


def show(
    base: Decimal | float | Fraction | None,
    unit: str = "in",
    places: int | None = None,
    *,
    sign: bool = False,
    with_unit: bool = False,
) -> str:
    """Write a base-unit value for a person to read; a real minus sign; an en dash where there is none.

    >>> show(Decimal("0.0254"), "mm", sign=True)
    '+0.645'
    """
    if base is None:
        return "–"
    value = in_unit(base, unit, places)
    text = f"{value:+f}" if sign and value != 0 else f"{value:f}"
    text = text.replace("-", "−")
    gap = "" if unit == "°" else " "
    return f"{text}{gap}{unit}" if with_unit else text


def for_field(base: Decimal | None, unit: str) -> str:
    """Write a kept value into a form field: the fewest figures that come back as the same value.

    >>> for_field(Decimal("0.3750000000"), "in"), for_field(Decimal("0.3740157480"), "mm")
    ('0.375', '9.5')
    """
    if base is None:
        return ""
    kept = base.quantize(FIELD_PLACES)
    for places in range(MOST_PLACES):
        value = in_unit(base, unit, places)
        if to_decimal(Fraction(value) * BY_SYMBOL[unit].in_base).quantize(FIELD_PLACES) == kept:
            break
    return f"{value:f}"
