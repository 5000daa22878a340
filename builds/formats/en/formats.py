"""Dates that cannot be read the wrong way round: 25 Nov 2026."""

DATE_FORMAT = "j M Y"
TIME_FORMAT = "H:i"
DATETIME_FORMAT = "j M Y H:i"
