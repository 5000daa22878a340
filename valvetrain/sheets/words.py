"""Words that several parts of a sheet share."""

from datetime import date, datetime

from django.utils import timezone

from builds.measures import show


def when(moment: datetime) -> str:
    """A moment in the book's local time, to the minute: 02 Mar 2026 14:05."""
    return f"{timezone.localtime(moment):%d %b %Y %H:%M}"


def day(moment: date | None) -> str:
    """A day, or nothing."""
    return f"{moment:%d %b %Y}" if moment else ""


def off_words(error: float | None, unit: str) -> str:
    """How far a height is off, and which way, for a table: `0.0240 low`, `right`; a dash where nothing is read."""
    if error is None:
        return "–"
    if not show(abs(error), unit).strip("0."):
        return "right"
    return f"{show(abs(error), unit)} {'high' if error > 0 else 'low'}"


# The signs before a verdict, so that “in” behind a figure is never read as inches.
SIGNS = {"in": "✓", "out": "×", "undecided": "!"}


def marked(verdict: str) -> str:
    """A verdict behind its sign; other words as they are."""
    return f"{SIGNS[verdict]} {verdict}" if verdict in SIGNS else verdict


def judged_words(shown: str, verdict: str) -> str:
    """A figure behind its verdict; the figure alone where nothing is judged."""
    return f"{marked(verdict)}: {shown}" if verdict else shown


# The parts of a setup sheet that are the same on every one.
CAUTIONS = [
    "Springs under compression can kill. Proper compressor, eye protection, nobody in line with the spring.",
    "Turn the engine by hand, plugs out, fingers clear.",
    "Relieving a stand’s holes weakens it: little, deburred, washers checked.",
    "Titanium swarf burns. Hot lash burns hands. Heads are heavy: lift them right.",
    "The parts maker’s instructions, the engine maker’s manual and local rules come before anything printed here. A "
    "qualified engine builder decides.",
]
