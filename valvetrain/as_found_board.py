"""The pages of what an engine really had: the list of its valves, and one valve with its drawings. Makes no query."""

from dataclasses import dataclass, replace
from functools import cached_property

from django.utils.safestring import SafeString, mark_safe

from builds.measures import show
from valvetrain.as_found import ValveAsFound, most_changed_first
from valvetrain.as_found_moment import Moment
from valvetrain.as_found_words import load_told, mark_told, off_words, sentences
from valvetrain.charts.arm import arm_drawing
from valvetrain.charts.gathered import valve_numbers
from valvetrain.charts.mark_pair import MarkPair, MarkThen, mark_pair
from valvetrain.charts.numbers import Drawing
from valvetrain.geometry.errors import GeometryError

WHEN_IT_LEFT, AS_FOUND = "when it left", "as found"


@dataclass(frozen=True)
class Cell:
    """One figure of a valve as found, and what it was when the engine left."""

    now: str
    was: str
    lent: bool = False
    beside: str = ""  # what goes with it as found


@dataclass(frozen=True)
class ValveLine:
    """One valve in the list, and on its own page."""

    valve: ValveAsFound
    unit: str

    @property
    def address(self) -> str:
        """The valve's printed address."""
        return self.valve.address

    @property
    def told(self) -> list[str]:
        """Everything that is to be said of it, in sentences."""
        return sentences(self.valve, self.unit)

    @property
    def most(self) -> str:
        """What changed most."""
        return "" if self.valve.most is None else self.valve.most.words(self.unit)

    @property
    def past(self) -> bool:
        """Whether it changed by more than is allowed of it."""
        return self.valve.share > 1

    @property
    def cells(self) -> list[Cell]:
        """Height, square, mark as read beside the one to expect, lift, and load."""
        now, then = self.valve.now, self.valve.then
        # The lift of then is told where something was worked out with it, and never as if it had been read.
        lent = (
            now is not None
            and now.lift.borrowed
            and now.lift.value is not None
            and now.height_error is not None
        )
        return [
            Cell(_height(now, self.unit), _height(then, self.unit)),
            Cell(_square(now), _square(then)),
            Cell(_read(now, self.unit), _read(then, self.unit), beside=_to_expect(now, self.unit)),
            Cell(
                _lift(now, self.unit) if lent or (now and now.lift_read) else "–",
                _lift(then, self.unit),
                lent,
            ),
            Cell(_open(now, self.unit), _open(then, self.unit)),
        ]

    @property
    def figures(self) -> list[tuple[str, Cell]]:
        """All that its own page lists, with names."""
        names = ["height", "square at", "mark as read", "net lift", "open load"]
        now, then = self.valve.now, self.valve.then
        more = [
            ("installed height", *(_length(_spring(each, "installed"), self.unit) for each in (now, then))),
            ("seat load", *(_load(_spring(each, "seat"), self.unit) for each in (now, then))),
            ("coil-bind margin", *(_length(_spring(each, "margin"), self.unit) for each in (now, then))),
        ]
        spring = None if now is None else now.spring
        lent = [] if spring is None else [spring.installed.borrowed, spring.seat.borrowed, False]
        found = list(zip(names, self.cells, strict=True))
        found.insert(2, ("mark to expect", Cell(_sweep(now, self.unit), _sweep(then, self.unit))))
        for number, (name, is_now, was) in enumerate(more):
            found.append((name, Cell(is_now, was, bool(lent) and lent[number] and is_now != "–")))
        return found

    @cached_property
    def marks(self) -> SafeString:
        """Both marks on one tip; empty where there is no mark of either time."""
        pair = pair_of(self.valve, self.unit)
        return mark_safe(mark_pair(pair, lettered=True).svg) if pair is not None else mark_safe("")

    @cached_property
    def arms(self) -> list[tuple[str, Drawing | None, str]]:
        """The arm when it left and as found: heading, drawing, and why there is none."""
        return [
            (heading, *_arm(moment, self.unit, when))
            for heading, moment, when in (
                ("When it left", self.valve.then, WHEN_IT_LEFT),
                ("As found", self.valve.now, AS_FOUND),
            )
        ]


def lines_of(valves: list[ValveAsFound], unit: str) -> list[ValveLine]:
    """The valves as the list shows them, what changed most first."""
    return [ValveLine(valve, unit) for valve in most_changed_first(valves)]


def pair_of(valve: ValveAsFound, unit: str) -> MarkPair | None:
    """A valve's tip with its marks then and now: as read, else as the height that was read makes it; None without any."""
    then, now = _mark_of(valve.then), _mark_of(valve.now)
    there = valve.now or valve.then
    if there is None or (then is None and now is None):
        return None
    return MarkPair(float(there.state.valve.tip_diameter), then, now, unit, valve.address)


def _mark_of(moment: Moment | None) -> MarkThen | None:
    if moment is None:
        return None
    mark = moment.mark
    if mark is not None and mark.possible and mark.inner is not None and mark.outer is not None:
        return MarkThen(mark.inner, mark.outer)
    if moment.sweep is not None:
        return MarkThen(-moment.sweep / 2, moment.sweep / 2, worked_out=True)
    return None


def _arm(moment: Moment | None, unit: str, when: str) -> tuple[Drawing | None, str]:
    if moment is None:
        return None, "The engine has no such valve on this job."
    numbers = valve_numbers(moment.state, unit)
    if numbers is None or moment.height_error is None:
        return None, moment.why_not
    try:
        return arm_drawing(replace(numbers, when=when), lettered=True), ""
    except GeometryError as error:
        return None, f"Not drawn: {error}."


def _height(moment: Moment | None, unit: str) -> str:
    return "–" if moment is None else off_words(moment.height_error, unit) or "–"


def _square(moment: Moment | None) -> str:
    part = None if moment is None else moment.square_at
    if part is None:
        return "–"
    return f"{part * 100:.0f} %" if 0 <= part <= 1 else "nowhere"


def _sweep(moment: Moment | None, unit: str) -> str:
    return "–" if moment is None or moment.sweep is None else mark_told(moment.sweep, unit)


def _to_expect(moment: Moment | None, unit: str) -> str:
    return "" if moment is None or moment.sweep is None else f"{mark_told(moment.sweep, unit)} to expect"


def _read(moment: Moment | None, unit: str) -> str:
    return "–" if moment is None or moment.mark_width is None else mark_told(moment.mark_width, unit)


def _lift(moment: Moment | None, unit: str) -> str:
    return _length(None if moment is None else moment.lift.value, unit)


def _open(moment: Moment | None, unit: str) -> str:
    return "–" if moment is None or not moment.spring_told else _load(moment.spring.open_load.value, unit)


def _spring(moment: Moment | None, name: str) -> float | None:
    if moment is None or not moment.spring_told:
        return None
    value: float | None = getattr(moment.spring, name).value
    return value


def _length(value: float | None, unit: str) -> str:
    return "–" if value is None else show(value, unit, with_unit=True)


def _load(value: float | None, unit: str) -> str:
    return "–" if value is None else load_told(value, unit)
