"""The worksheet's paper: parts with lines, tables, what is missing and what was assumed; numbers as they are lettered."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from django.urls import reverse

from builds.measures import show, unit_for
from valvetrain.geometry.units import MM_PER_INCH

MINUS = "−"


@dataclass(frozen=True)
class Line:
    """One figure with its name, and a note on where it comes from or what it is beside."""

    name: str
    value: str
    note: str = ""


@dataclass(frozen=True)
class Grid:
    """A table: its caption, the heads of its columns, and rows of text, the first cell naming the row."""

    caption: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    note: str = ""


@dataclass(frozen=True)
class Gap:
    """Something that is not entered yet, and where to enter it."""

    words: str
    url_name: str = ""
    args: tuple[object, ...] = ()
    link: str = ""

    @property
    def address(self) -> str:
        """The page where it is entered."""
        return reverse(self.url_name, args=self.args) if self.url_name else ""


@dataclass
class Part:
    """One part of the worksheet. `problems` are sentences of the geometry about numbers that cannot be.

    `drawn` names the chart that draws it.
    """

    key: str
    title: str
    drawn: str = ""
    lines: list[Line] = field(default_factory=list)
    grids: list[Grid] = field(default_factory=list)
    gaps: list[Gap] = field(default_factory=list)
    problems: list[str] = field(default_factory=list)
    assumed: list[str] = field(default_factory=list)

    def line(self, name: str, value: str, note: str = "") -> None:
        """Add a figure."""
        self.lines.append(Line(name, value, note))

    def grid(self, caption: str, heads: Sequence[str], rows: Sequence[Sequence[str]], note: str = "") -> None:
        """Add a table."""
        self.grids.append(Grid(caption, tuple(heads), tuple(tuple(row) for row in rows), note))

    def gap(self, words: str, url_name: str = "", args: tuple[object, ...] = (), link: str = "") -> None:
        """Add what is missing."""
        self.gaps.append(Gap(words, url_name, args, link))

    def assume(self, *sentences: str) -> None:
        """Add assumptions, each once."""
        self.assumed.extend(each for each in sentences if each not in self.assumed)


def sentence(error: Exception) -> str:
    """An error of the geometry as a sentence of the page."""
    text = str(error).rstrip(".")
    return f"{text[:1].upper()}{text[1:]}."


class Letters:
    """Numbers in inches, pounds-force and degrees, lettered in the units of the person who reads."""

    def __init__(self, length_unit: str) -> None:
        self.metric = length_unit == "mm"
        self.length_unit = length_unit
        self.length_word = "millimetres" if self.metric else "inches"
        self.force_unit = unit_for("force", length_unit)

    def length(self, inches: float, *, sign: bool = False, unit: bool = True) -> str:
        """A length."""
        return show(_plain(inches), self.length_unit, sign=sign, with_unit=unit)

    def force(self, pounds: float, *, unit: bool = True) -> str:
        """A force, to the whole unit."""
        return show(_plain(pounds), self.force_unit, 0, with_unit=unit)

    def rate(self, pounds_per_inch: float) -> str:
        """A spring rate."""
        return show(_plain(pounds_per_inch), unit_for("rate", self.length_unit), with_unit=True)

    def pressure(self, psi: float) -> str:
        """A pressure of gas."""
        return show(_plain(psi), unit_for("pressure", self.length_unit), 0, with_unit=True)

    @property
    def contact_unit(self) -> str:
        """The unit for pressures in a contact."""
        return "MPa" if self.metric else "ksi"

    def contact(self, psi: float) -> str:
        """A pressure in a contact, without its unit."""
        value = float(show(_plain(psi), "kPa", 6)) if self.metric else psi
        return f"{value / 1000:.0f}"

    def angle(self, degrees: float, places: int = 1) -> str:
        """An angle."""
        return show(_plain(degrees), "°", places, with_unit=True)

    @property
    def speed_unit(self) -> str:
        """The unit for velocities of the valve."""
        return "m/s" if self.metric else "in/s"

    def velocity(self, inches_per_second: float) -> str:
        """A velocity, without its unit."""
        value = inches_per_second * MM_PER_INCH / 1000 if self.metric else inches_per_second
        return _signed(value, 2 if self.metric else 1)

    @property
    def acceleration_unit(self) -> str:
        """The unit for accelerations of the valve."""
        return "m/s²" if self.metric else "in/s²"

    def acceleration(self, inches_per_second_squared: float) -> str:
        """An acceleration, without its unit, to three figures and the rest noughts."""
        scale = MM_PER_INCH / 1000 if self.metric else 1.0
        return _signed(round(inches_per_second_squared * scale, -1 if self.metric else -3), 0)

    def ratio(self, value: float, places: int = 4) -> str:
        """A plain number."""
        return f"{value:.{places}f}"


def _plain(value: float) -> float:
    """A float of Python's, never of numpy's."""
    return float(value)


def _signed(value: float, places: int) -> str:
    text = f"{value:,.{places}f}".replace(",", "\u202f")
    return ("0" if float(value) == 0 else text).replace("-", MINUS)


def rpm(value: float) -> str:
    """An engine speed, to the nearest ten."""
    return f"{round(value, -1):.0f} rpm"
