"""Values that a person can hardly have meant, and what may have been meant instead. It asks; it never refuses."""

from decimal import Decimal

from builds.measures import Measure, MeasureError, bare_number, for_field, parse, show


def likely(measure: Measure, low: Decimal, high: Decimal) -> tuple[str, ...]:
    """What may be meant by a length outside its usual range: thousandths, or the other unit.

    >>> likely(parse("10.92"), Decimal("0.1"), Decimal("0.8"))
    ('10.92 mm',)
    >>> likely(parse("212"), Decimal("0.1"), Decimal("0.8"))
    ('0.212 in',)
    """
    found = []
    if low <= measure.base / 1000 <= high:
        found.append(f"{for_field(measure.base / 1000, measure.unit)} {measure.unit}")
    for other in ("mm", "in"):
        meant = f"{bare_number(measure.text)} {other}"
        if other != measure.unit and _is_within(meant, low, high):
            found.append(meant)
    return tuple(found)


def _is_within(text: str, low: Decimal, high: Decimal) -> bool:
    try:
        return low <= parse(text, signed=True).base <= high
    except MeasureError:
        return False


def question(label: str, measure: Measure, low: Decimal, high: Decimal, *, kind: str, unit: str) -> str:
    """What to ask about a value outside its usual range; `unit` is the one in which the person reads."""
    usual = f"{_number(low, measure.unit)} to {_with_unit(high, measure.unit)}"
    typed = _with_unit(measure.base, measure.unit)
    offers = [_offered(text, unit) for text in likely(measure, low, high)] if kind == "length" else []
    offered = f" Did you mean {' or '.join(offers)}?" if offers else ""
    return (
        f"{label}: {typed} is unusual ({usual} is usual).{offered} If it is meant, tick that and save again."
    )


def _offered(text: str, unit: str) -> str:
    """An offer, and what it is in the unit in which the person reads."""
    measure = parse(text, signed=True)
    if measure.unit == unit:
        return text
    return f"{text}, which is {show(measure.base, unit, with_unit=True)}"


def _number(value: Decimal, unit: str) -> str:
    """The fewest figures that are this value, with a real minus sign."""
    return for_field(value, unit).replace("-", "−")


def _with_unit(value: Decimal, unit: str) -> str:
    return f"{_number(value, unit)}{'' if unit == '°' else ' '}{unit}"
