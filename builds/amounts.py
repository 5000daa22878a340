"""Amounts of running in words."""

from decimal import Decimal

# What one of a unit is called, where that is another word.
ONE_OF = {"passes": "pass", "laps": "lap", "hours": "hour", "miles": "mile"}


def counted(amount: Decimal, unit: str) -> str:
    """An amount of running with its unit.

    >>> counted(Decimal(31), "passes"), counted(Decimal("1.000"), "passes"), counted(Decimal("6.5"), "hours")
    ('31 passes', '1 pass', '6.5 hours')
    """
    return f"{plain(amount)} {ONE_OF.get(unit, unit) if amount == 1 else unit}"


def plain(amount: Decimal) -> str:
    """An amount without needless zeros.

    >>> plain(Decimal("42.000")), plain(Decimal("6.50")), plain(Decimal("120"))
    ('42', '6.5', '120')
    """
    text = f"{amount:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
