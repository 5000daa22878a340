"""What the valves that changed most really had, as a return report says it: geometry and spring, then and now."""

from collections.abc import Iterator
from typing import Any

from builds.measures import show, unit_for
from builds.models import Build
from valvetrain.as_found import ValveAsFound, as_found, most_changed_first
from valvetrain.as_found_moment import Moment
from valvetrain.as_found_springs import Figure, SpringHad
from valvetrain.as_found_words import headline, lift_words
from valvetrain.sheets.return_lines import HadFigure, HadLine, MarkAt
from valvetrain.sheets.words import marked, off_words

MOST_VALVES = 4
WORTH_SHOWING = 0.5  # of what is allowed: below it a valve changed by nothing to speak of
NOT_READ_AGAIN = "as it left"


def had_lines(build: Build, unit: str) -> list[HadLine]:
    """The valves that changed most. A constant number of queries."""
    changed = [valve for valve in most_changed_first(as_found(build)) if valve.share >= WORTH_SHOWING]
    return [_line(valve, unit) for valve in changed[:MOST_VALVES]]


def _line(valve: ValveAsFound, unit: str) -> HadLine:
    then, now = valve.then, valve.now
    state = (now or then).state if now or then else None  # type: ignore[union-attr]
    return HadLine(
        address=valve.address,
        kind=f"{state.valve.get_kind_display() if state else valve.kind}, {valve.head}",
        figures=[each for each in _figures(then, now, unit) if each.then or each.now],
        sentences=list(_sentences(valve, unit)),
        tip_diameter=None if state is None else float(state.valve.tip_diameter),
        then=_mark(then),
        now=_mark(now),
    )


def _sentences(valve: ValveAsFound, unit: str) -> Iterator[str]:
    """What moved most of it, how it stood in a sentence, and what of that was not read; the figures say the rest."""
    if valve.most is not None:
        yield f"Changed most: {valve.most.words(unit)}."
    told = headline(valve, unit)
    yield told
    if of_the_lift := lift_words(valve, unit):
        yield of_the_lift
    for moment in (valve.then, valve.now):
        if moment is not None and moment.why_not and moment.why_not != told:
            yield moment.why_not
    if valve.now is not None:
        lent = (["net lift"] if valve.now.lift.borrowed else []) + valve.now.spring.borrowed
        if lent:
            yield f"From when it left, since nothing was read of it as found: {', '.join(lent)}."


def _figures(then: Moment | None, now: Moment | None, unit: str) -> Iterator[HadFigure]:
    told = _change(_of(then, "height_error"), _of(now, "height_error"), unit)
    yield HadFigure(f"shaft off its height, {unit}", _height(then, unit), _height(now, unit), told)
    yield HadFigure("square at, of its lift", _share(then), _share(now))
    yield _row(f"net lift, {unit}", _of(then, "lift"), _of(now, "lift"), unit)
    yield _lengths(f"mark’s width, {unit}", _of(then, "mark_width"), _of(now, "mark_width"), unit)
    yield _lengths(f"width to expect, {unit}", _of(then, "sweep"), _of(now, "sweep"), unit)
    force = unit_for("force", unit)
    for name, key, in_unit in (
        ("installed height", "installed", unit), ("seat load", "seat", force), ("open load", "open_load", force),
    ):  # fmt: skip
        yield _row(f"{name}, {in_unit}", _of_spring(then, key), _of_spring(now, key), in_unit)
    row = _row(f"coil-bind margin, {unit}", _of_spring(then, "margin"), _of_spring(now, "margin"), unit)
    yield HadFigure(row.name, _judged(row.then, then), _judged(row.now, now), row.change)


def _lengths(name: str, then: float | None, now: float | None, unit: str) -> HadFigure:
    return HadFigure(name, _shown(then, unit), _shown(now, unit), _change(then, now, unit))


def _of(thing: Moment | Figure | SpringHad | None, key: str) -> Any:
    """A part of a moment or of a figure; None where there is none."""
    return None if thing is None else getattr(thing, key)


def _of_spring(moment: Moment | None, key: str) -> Figure | None:
    found: Figure | None = _of(None if moment is None else moment.spring, key)
    return found


def _row(name: str, then: Figure | None, now: Figure | None, unit: str) -> HadFigure:
    was, found = _of(then, "value"), _of(now, "value")
    change = "" if now is not None and now.borrowed else _change(was, found, unit)
    return HadFigure(name, _shown(was, unit), _found(now, unit), change)


def _found(figure: Figure | None, unit: str) -> str:
    """A figure as found; one that was not read again says so."""
    if figure is None or figure.value is None:
        return ""
    told = show(figure.value, unit)
    return f"{told}, {NOT_READ_AGAIN}" if figure.borrowed else told


def _height(moment: Moment | None, unit: str) -> str:
    if moment is None or moment.height_error is None:
        return ""
    return f"{off_words(moment.height_error, unit)} {_together(moment.verdict)}".strip()


def _share(moment: Moment | None) -> str:
    if moment is None or moment.square_at is None:
        return ""
    if not 0 <= moment.square_at <= 1:
        return "nowhere in it"
    return f"{show(moment.square_at * 100, '%', 0)} %"


def _judged(shown: str, moment: Moment | None) -> str:
    verdict = moment.spring.margin_verdict if moment is not None and shown else ""
    return f"{shown} {_together(verdict)}".strip()


def _together(verdict: str) -> str:
    """A verdict that is not parted from its sign at the end of a line."""
    return marked(verdict).replace(" ", "\u00a0")


def _shown(value: float | None, unit: str) -> str:
    return "" if value is None else show(value, unit)


def _change(then: float | None, now: float | None, unit: str) -> str:
    return "" if then is None or now is None else show(now - then, unit, sign=True)


def _mark(moment: Moment | None) -> MarkAt | None:
    """The mark as it was read; else the one that the height makes, which nobody saw."""
    if moment is None:
        return None
    mark = moment.mark
    if mark is not None and mark.inner is not None and mark.outer is not None and mark.outer > mark.inner:
        return MarkAt(mark.inner, mark.outer)
    if moment.sweep is None or moment.sweep <= 0:
        return None
    return MarkAt(-moment.sweep / 2, moment.sweep / 2, worked_out=True)
