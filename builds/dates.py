"""Dates that people type: which of them a shop can have meant."""

from datetime import date

EARLIEST_YEAR = 1900
YEARS_AHEAD = 1


def why_not(day: date, today: date, years_ahead: int = YEARS_AHEAD) -> str:
    """What is wrong with a typed date and what would be right; nothing when it can be meant.

    >>> why_not(date(2027, 11, 25), date(2026, 11, 25))
    ''
    >>> why_not(date(9999, 12, 31), date(2026, 11, 25))
    'the year 9999 is too far ahead. Type a date up to 25 Nov 2027.'
    >>> why_not(date(26, 11, 25), date(2026, 11, 25))
    'the year 26 is too long ago. Type the year with four figures, such as 2026.'
    """
    if day.year < EARLIEST_YEAR:
        return f"the year {day.year} is too long ago. Type the year with four figures, such as {today.year}."
    last = _years_later(today, years_ahead)
    if day > last:
        return f"the year {day.year} is too far ahead. Type a date up to {last:%d %b %Y}."
    return ""


def _years_later(day: date, years: int) -> date:
    """The same day some years on; the last of February where there is no 29th."""
    try:
        return day.replace(year=day.year + years)
    except ValueError:
        return day.replace(year=day.year + years, day=28)
