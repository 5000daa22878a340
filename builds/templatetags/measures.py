"""Template filters that show numbers; templates never compute."""

from typing import Any

from django.template import Library

from builds import measures

register = Library()


@register.filter
def length_in(value: Any, unit: str = "in") -> str:
    """A length in the person's unit, without the unit's name: `{{ value|length_in:unit }}`."""
    return measures.show(value, unit)


@register.filter
def with_unit(value: Any, unit: str = "in") -> str:
    """A length with its unit."""
    return measures.show(value, unit, with_unit=True)


@register.filter
def signed_in(value: Any, unit: str = "in") -> str:
    """A length with its sign."""
    return measures.show(value, unit, sign=True)


@register.filter
def degrees(value: Any) -> str:
    """An angle with its sign of degree."""
    return measures.show(value, "°", with_unit=True)


@register.filter
def value_in(reading_or_limit: Any, unit: str = "in") -> str:
    """The value of a reading, or the ends of a limit, in the person's unit: `{{ reading|value_in:unit }}`."""
    told: str = reading_or_limit.value_in(unit)
    return told


@register.filter
def resolution_in(instrument: Any, unit: str = "in") -> str:
    """The smallest step that an instrument shows, in the person's unit or its own kind's."""
    told: str = instrument.resolution_in(unit)
    return told


@register.filter
def uncertainty_in(instrument: Any, unit: str = "in") -> str:
    """What is stated for an instrument, in the person's unit or its own kind's; nothing where nothing is."""
    told: str = instrument.uncertainty_in(unit)
    return told
