"""What a trend says, in a sentence. A line tells what goes on if it goes on as it did; it is never told as certain."""

from decimal import Decimal

from builds.amounts import counted, plain
from builds.measures import show, unit_for
from builds.uncertainty import plus_minus
from valvetrain.trends import FEW, Trend

# So much running a drift is told for.
PER = {"passes": 10, "laps": 100, "hours": 10, "miles": 100, "km": 100}
NUMBERS = {1: "one", 2: "two", 3: "three", 4: "four"}

# The word for a trend's state, and how it is marked.
OUT, PASSED, NEAR, STEADY = "out", "past its line", "near", "not near"
UNKNOWN, NOT_JUDGED = "no line yet", "not judged"
MARKED = {OUT: "out", PASSED: "out", NEAR: "look", STEADY: "done", UNKNOWN: "todo", NOT_JUDGED: "todo"}


def unit_of(trend: Trend, length_unit: str) -> str:
    """The unit that what is followed is read in."""
    return unit_for(trend.followed.characteristic.unit_kind, length_unit)


def so_much(amount: float | Decimal, run_unit: str) -> str:
    """An amount of running for a sentence: 51 passes, 1 pass, 6.5 hours.

    >>> so_much(51.4, "passes"), so_much(1, "passes"), so_much(6.52, "hours")
    ('51 passes', '1 pass', '6.5 hours')
    """
    return counted(Decimal(about(amount, run_unit)), run_unit)


def about(amount: float | Decimal, run_unit: str) -> str:
    """The number alone, no finer than it is known: hours to a tenth, all else whole."""
    places = 1 if run_unit == "hours" and abs(float(amount)) < 100 else 0
    return plain(Decimal(f"{amount:.{places}f}"))


def state_word(trend: Trend, interval: float = 0.0) -> str:
    """Where a trend stands, in a word or two. `interval`: running to the next look that the shop's rule asks for."""
    if trend.is_out:
        return OUT
    if trend.drift is None or trend.limit is None:
        return UNKNOWN if trend.drift is None else NOT_JUDGED
    if trend.running_left <= 0:
        return PASSED
    if trend.running_left <= interval or (is_known(trend) and trend.earliest_left <= 0):
        return NEAR
    return STEADY


def is_known(trend: Trend) -> bool:
    """Whether there are readings enough for the ends of the interval to mean something."""
    return trend.drift is not None and trend.drift.count > FEW


def drift_words(trend: Trend, length_unit: str) -> str:
    """How fast it drifts and which way: 0.0004 in looser every 10 passes."""
    drift = trend.drift
    if drift is None:
        return "read at one running only"
    unit, per = unit_of(trend, length_unit), PER.get(trend.run_unit, 10)
    rate = drift.line.slope * per
    amount = show(abs(rate), unit)
    if not amount.strip("0."):
        return "does not drift that shows"
    way = trend.followed.more if rate > 0 else trend.followed.less
    return f"{amount} {unit} {way} every {per} {trend.run_unit}"


def crossing_words(trend: Trend) -> str:
    """When it leaves its limit, if it goes on as it did, with the earliest and the latest."""
    run_unit, crossing = trend.run_unit, trend.crossing
    if trend.is_out:
        return f"out of its limit when last read, {_when(trend)}"
    if trend.limit is None:
        return "no limit is set, so nothing is projected"
    if crossing is None or trend.drift is None:
        return "nothing can be projected yet"
    if crossing.at is not None and crossing.heading in ("toward", "out"):
        gone = crossing.heading == "out" or trend.running_left <= 0
        where = "on its line it left its limit at about" if gone else "leaves its limit at about"
        said = f"{where} {so_much(crossing.at, run_unit)}"
        return f"{said}{_between(trend)}"
    said = {
        "out": "the line lies outside the limit and comes back in",
        "away": "moves away from its limit",
        "level": "goes nowhere near its limit",
        "far": "far from its limit",
        "toward": "",
    }[crossing.heading]
    if crossing.earliest is not None and crossing.latest is None and is_known(trend):
        said += f"; it could be out at {so_much(crossing.earliest, run_unit)} at the earliest"
    return said


def _between(trend: Trend) -> str:
    crossing = trend.crossing
    assert crossing is not None and crossing.earliest is not None
    if trend.drift is None or trend.drift.slowest is None:
        return ""
    first = about(crossing.earliest, trend.run_unit)
    if crossing.latest is None:
        return f" ({first} or later, or never)"
    last = about(crossing.latest, trend.run_unit)
    return "" if first == last == about(crossing.at or 0.0, trend.run_unit) else f" ({first} to {last})"


def _when(trend: Trend) -> str:
    return f"after {so_much(trend.last.running, trend.run_unit)}" if trend.last.running else "before it ran"


def trust_words(trend: Trend, length_unit: str) -> str:
    """How far the line is to be trusted; nothing where there is no more to say than the interval says."""
    drift = trend.drift
    if drift is None:
        return ""
    told = []
    if drift.count == 2:
        told.append("two readings: a line through both, and no telling how wrong")
    elif drift.count <= FEW:
        told.append(f"{NUMBERS[drift.count]} readings: a guess")
    if trend.is_within_doubt and trend.doubt is not None:
        told.append(
            f"it moved by no more than its readings are good to ({plus_minus(trend.doubt, unit_of(trend, length_unit))})"
        )
    elif drift.count > 2 and not drift.is_proved:
        told.append("it may as well not drift at all")
    return "; ".join(told)


def words(trend: Trend, length_unit: str) -> str:
    """All of it: 0.0004 in looser every 10 passes; leaves its limit at about 62 passes (48 to 90); it has run 51."""
    ran = f"it has run {so_much(trend.ran, trend.run_unit) if trend.ran else 'nothing'}"
    told = [drift_words(trend, length_unit), crossing_words(trend), ran]
    trust = trust_words(trend, length_unit)
    said = "; ".join(told)
    return f"{said}. {trust[0].upper()}{trust[1:]}." if trust else f"{said}."
