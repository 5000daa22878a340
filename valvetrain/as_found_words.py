"""What a valve really had, in sentences. Makes no query."""

from collections.abc import Iterator

from builds.measures import show, unit_for
from builds.verdicts import OUT
from valvetrain.as_found import ValveAsFound
from valvetrain.as_found_changes import part_of_lift
from valvetrain.as_found_moment import Moment
from valvetrain.as_found_springs import Figure
from valvetrain.changes import NOTICEABLE

MARK_PLACES = {"in": 3, "mm": 2}
# Less lift than this [in] nobody measures.
NO_LIFT = 0.00005


def headline(valve: ValveAsFound, unit: str) -> str:
    """The valve in one sentence: height, where it is square, mark, lift and load, as found.

    5E stood 0.0120 in low (± 0.0021 in): square at 52 % of its lift; the mark to expect is 0.058 in wide; ...
    """
    if valve.now is None:
        return f"{valve.address} was on the engine when it left, and this job has no such valve."
    now = valve.now
    if now.height_error is None and now.mark_width is None and not now.spring_told:
        return now.why_not
    stood = _height(now, unit, _for_its_lift(valve)) or "; ".join(_mark(now, unit))
    parts = [stood, *_lift(valve, unit), *_load(valve, unit)]
    return f"{valve.address} {'; '.join(part for part in parts if part)}."


def sentences(valve: ValveAsFound, unit: str) -> list[str]:
    """Everything that is to be said of a valve: the headline, what it was, what is lacking, what is from then."""
    found = [headline(valve, unit)]
    if valve.now is not None and valve.now.why_not and valve.now.why_not not in found:
        found.append(valve.now.why_not)
    if valve.then is None:
        found.append(
            f"The job it left with has no valve {valve.address}: there is nothing to hold it against."
        )
    else:
        found.append(_when_it_left(valve.then, valve.address, unit))
    if valve.now is not None:
        found += _more(valve, valve.now, unit)
    return list(dict.fromkeys(sentence for sentence in found if sentence))


def square_words(part: float | None) -> str:
    """Where the arm stands square: 52 % of its lift."""
    if part is None:
        return ""
    if not 0 <= part <= 1:
        return "square nowhere in its lift"
    return f"square at {part * 100:.0f} % of its lift"


def off_words(error: float | None, unit: str) -> str:
    """0.0120 in low; at its height."""
    if error is None:
        return ""
    if abs(error) < NOTICEABLE:
        return "at its height"
    return f"{show(abs(error), unit, with_unit=True)} {'high' if error > 0 else 'low'}"


def mark_told(width: float, unit: str) -> str:
    """A mark's width as it is read: to a thousandth."""
    return show(width, unit, MARK_PLACES[unit], with_unit=True)


def load_told(pounds: float | None, unit: str) -> str:
    """A load in the reader's unit."""
    return show(pounds, unit_for("force", unit), with_unit=True)


def _for_its_lift(valve: ValveAsFound) -> str:
    """Said of a height that another lift alone would read otherwise, so that the stand is not blamed for it."""
    part = part_of_lift(valve.then, valve.now)
    return "" if part is None or abs(part) < NOTICEABLE else " for the lift it had"


def lift_words(valve: ValveAsFound, unit: str) -> str:
    """How much of a height is the lift's: −0.0115 in of its height comes of the lift that was lost, not of the stand."""
    part = part_of_lift(valve.then, valve.now)
    if part is None or abs(part) < NOTICEABLE:
        return ""
    lost = "lost" if part < 0 else "gained"
    told = show(part, unit, sign=True, with_unit=True)
    return f"{told} of its height comes of the lift that was {lost}, not of the stand."


def _height(moment: Moment, unit: str, for_its_lift: str = "") -> str:
    error = moment.height_error
    if error is None:
        return ""
    known = "" if moment.expanded is None else f" (± {show(moment.expanded, unit, with_unit=True)})"
    parts = [f"stood {off_words(error, unit)}{known}{for_its_lift}"]
    if square := square_words(moment.square_at):
        parts[0] += f": {square}"
    parts += _mark(moment, unit)
    return "; ".join(parts)


def _mark(moment: Moment, unit: str) -> Iterator[str]:
    read = moment.mark_width
    if moment.sweep is not None:
        told = f"the mark to expect is {mark_told(moment.sweep, unit)} wide"
        yield told if read is None else f"{told}, and {mark_told(read, unit)} was read"
    elif read is not None:
        yield f"left a mark {mark_told(read, unit)} wide"


def _lift(valve: ValveAsFound, unit: str) -> Iterator[str]:
    assert valve.now is not None
    lift, then = valve.now.lift, valve.then.lift if valve.then is not None else Figure()
    if lift.value is None:
        return
    verb = "" if valve.now.height_error is not None or valve.now.mark_width is not None else "had "
    told = f"{verb}net lift {show(lift.value, unit, with_unit=True)}"
    if lift.borrowed:
        yield f"{told}, taken from when it left"
    elif then.value is None:
        yield f"{told}, {lift.source}"
    elif abs(lift.value - then.value) < NOTICEABLE:
        yield f"{told}, as it left"
    else:
        less = "less" if lift.value < then.value else "more"
        by = show(abs(lift.value - then.value), unit, with_unit=True)
        lash = f" ({valve.lash.words(unit)})" if valve.lash is not None else ""
        yield f"{told}, {by} {less} than it left with{lash}"


def _load(valve: ValveAsFound, unit: str) -> Iterator[str]:
    assert valve.now is not None
    now = valve.now.spring.open_load.value
    then = None if valve.then is None else valve.then.spring.open_load.value
    if now is None or not valve.now.spring_told:
        return
    told = f"open load {load_told(now, unit)}"
    if then is None:
        yield told
    elif load_told(now, unit) == load_told(then, unit):
        yield f"{told}, as it left"
    else:
        yield f"{told} instead of {load_told(then, unit)}"


def _when_it_left(then: Moment, address: str, unit: str) -> str:
    if then.height_error is None:
        return then.why_not
    parts = [_height(then, unit)]
    if then.lift.value is not None:
        parts.append(f"net lift {show(then.lift.value, unit, with_unit=True)}, {then.lift.source}")
    return f"When it left {address} {'; '.join(part for part in parts if part)}."


def _more(valve: ValveAsFound, now: Moment, unit: str) -> Iterator[str]:
    """What stands behind the headline: how the shaft moved, lift lost, what the spring lacks, what is from then."""
    then = valve.then
    if then is not None and then.top is not None and now.top is not None:
        yield _moved(now.top - then.top, unit)
    yield lift_words(valve, unit)
    if now.lift_lost is not None:
        yield _lost(now.lift_lost, unit)
    spring = now.spring
    if spring.margin.value is not None and now.spring_told:
        told = f"The coil-bind margin was {show(spring.margin.value, unit, with_unit=True)}"
        before = None if then is None else then.spring.margin.value
        told += "" if before is None else f", and {show(before, unit, with_unit=True)} when it left"
        if spring.margin_verdict == OUT and spring.margin_limit is not None:
            told += f": out, {spring.margin_limit.words(unit)} is asked"
        yield f"{told}."
    for figure in (now.lift, spring.open_load, spring.margin):
        if figure.value is None and figure.why:
            yield figure.why
    lent = (["net lift"] if now.lift.borrowed else []) + spring.borrowed
    if lent and (now.height_error is not None or now.spring_told):
        yield f"From when it left, since it was not read as found: {', '.join(lent)}."
    if spring.by_sheet and now.spring_told:
        yield f"By the springs’ own sheet, never read: {', '.join(spring.by_sheet)}."


def _moved(by: float, unit: str) -> str:
    if abs(by) < NOTICEABLE:
        return "Over its tip the shaft stands where it stood when it left."
    way = "higher" if by > 0 else "lower"
    return f"Over its tip the shaft stands {show(abs(by), unit, with_unit=True)} {way} than when it left."


def _lost(lost: float, unit: str) -> str:
    if abs(lost) < NO_LIFT:
        return "The height alone costs no lift that could be measured."
    verb = "takes" if lost > 0 else "adds"
    return f"The height alone {verb} {show(abs(lost), unit, with_unit=True)} of lift."
