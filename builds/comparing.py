"""As found beside as built: everything that was read on an engine when it left, or when it came back, side by side.

What was read after the first work on the job that looks again was not found. Then: judged by the job's own limits and
papers, and by the shop's as they were when it left. Now: by today's.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property

from django.urls import reverse

from builds import characteristics
from builds.as_it_was import rule_at, shop_limits_at, when_it_left
from builds.characteristics import UnknownCharacteristic
from builds.compared import Compared, Stood
from builds.limits import LimitBook
from builds.logcells import Cell, Figure, Row
from builds.looks import sheet_it_left_with
from builds.models import Build, SealedSheet
from builds.steps import Step, steps
from builds.worklog import WorkLog

__all__ = ["Compared", "Pair", "Stood", "by_address", "by_moved", "compare", "compared_providers"]

NOT_AGAIN = "is not read again: what was read then stands in"
NOT_THAT = "is not read again: this job has other papers for it, and they stand in"
ONLY_NOW = "was not read then: its papers stand in"


@dataclass
class Pair:
    """A job that reads an engine as found, and the one that it left with: both logs, read once."""

    found: Build
    length_unit: str
    sheet: SealedSheet | None

    @property
    def built(self) -> Build:
        """The job that the engine left with."""
        assert self.found.follows is not None
        return self.found.follows

    @cached_property
    def now(self) -> WorkLog:
        """The log as found, judged as today.

        In its figures what was read then stands in for what is not read again and would else come from the papers, while
        these are the same: a height at which the coils touched then is nearer than the sheet's. What no paper knows, a
        spring's load, has to be read.
        """
        log = WorkLog(self.found, self.length_unit, as_found=True)
        for position, key in self.then.sets:
            known = log.known_of(position, key)
            unread = (position, key) not in log.sets and known is not None
            if unread and known == self.then.known_of(position, key):
                log.known[position][key] = self.then.values_at(position)[key]
        return log

    @cached_property
    def then(self) -> WorkLog:
        """The log as built, judged as when it left."""
        left = when_it_left(self.built, self.sheet)
        limits = LimitBook(self.built, shop_limits_at(left))
        return WorkLog(self.built, self.length_unit, limits=limits, rule=rule_at(left))

    @property
    def coverage(self) -> float:
        """The shop's k."""
        return self.now.tools.rule.coverage


# Each takes a pair and gives what its floor reads on a screen of its own.
compared_providers: list[Callable[[Pair], Iterable[Compared]]] = []


def compare(job_as_found: Build, length_unit: str = "in") -> list[Compared]:
    """Everything that was read on either side, by address and in the order of the work. A constant number of queries.

    `length_unit` is the reader's. A job that follows none has nothing to be compared with.
    """
    if job_as_found.follows is None:
        return []
    pair = Pair(job_as_found, length_unit, sheet_of(job_as_found))
    found = [line for step in steps() for line in _of_step(pair, step)]
    for provider in compared_providers:
        found.extend(provider(pair))
    return by_address(found, [*pair.now.positions, *pair.then.positions])


def sheet_of(job_as_found: Build) -> SealedSheet | None:
    """The sheet that an engine left with: as its return has it, else looked up."""
    came = getattr(job_as_found, "came_in", None)
    if came is not None:
        return (
            SealedSheet.objects.filter(pk=came.sheet_id).defer("entry", "pdf").first()
            if came.sheet_id
            else None
        )
    assert job_as_found.follows is not None
    return sheet_it_left_with(job_as_found.follows)


def by_address(lines: Iterable[Compared], positions: Iterable[str]) -> list[Compared]:
    """In the order in which the addresses lie, at each in the order of the work."""
    place = {position: number for number, position in reversed(list(enumerate(positions)))}
    return sorted(lines, key=lambda line: (place.get(line.position, len(place)), line.order))


def by_moved(lines: Iterable[Compared]) -> list[Compared]:
    """What moved most in units of U first; then what moved by nobody knows how many; last what one side only has."""

    def place(line: Compared) -> tuple[int, float]:
        if line.change is None:
            return (2, 0.0 if line.out_now else 1.0)
        return (1, 0.0) if line.moved is None else (0, -abs(line.moved))

    return sorted(lines, key=place)


def _of_step(pair: Pair, step: Step) -> Iterator[Compared]:
    then = {row.position: row for row in pair.then.rows(step)}
    now = {row.position: row for row in pair.now.rows(step)}
    url = reverse("log-step", args=[pair.found.pk, step.key])
    for position in dict.fromkeys([*now, *then]):
        for key in [each.key for each in step.measured] + [each.key for each in step.derived]:
            line = _line(pair, step, key, then.get(position), now.get(position), url)
            if line is not None:
                yield line


def _line(pair: Pair, step: Step, key: str, then: Row | None, now: Row | None, url: str) -> Compared | None:
    parts = [_part(row, key) for row in (then, now)]
    stood = [_stood(part) for part in parts]
    shown = next((part for part in reversed(parts) if part is not None), None)
    if shown is None or all(each.value is None for each in stood):
        return None
    name = shown.characteristic.name if isinstance(shown, Cell) else shown.derived.name
    places = shown.derived.places if isinstance(shown, Figure) else None
    position = now.position if now is not None else then.position if then is not None else ""
    return Compared(
        position=position, key=key, name=name, step=step.key, step_name=step.name, order=step.order,
        unit=shown.unit, length_unit=pair.length_unit, coverage=pair.coverage, then=stood[0], now=stood[1],
        places=places, url=url, note=_unlike(*parts),
    )  # fmt: skip


def _part(row: Row | None, key: str) -> Cell | Figure | None:
    if row is None:
        return None
    cell = next((cell for cell in row.cells if cell.characteristic.key == key), None)
    return cell or next(figure for figure in row.figures if figure.derived.key == key)


def _stood(part: Cell | Figure | None) -> Stood:
    if part is None:
        return Stood(there=False)
    if isinstance(part, Cell):
        return Stood(part.mean, len(part.readings), part.standard, part.limit, part.verdict)
    # A figure of papers alone was not read.
    if part.value is None or not (part.begun or part.counts):
        return Stood(limit=part.limit)
    return Stood(part.value, 0, part.standard, part.limit, part.verdict)


def _unlike(then: Cell | Figure | None, now: Cell | Figure | None) -> str:
    """What of a figure was read on one side only: then the other takes it from there, or from the papers."""
    if not (isinstance(then, Figure) and isinstance(now, Figure)) or then.value is None or now.value is None:
        return ""
    told = []
    for key in now.derived.needs:
        if (key in then.readings) != (key in now.readings):
            same = then.values.get(key) == now.values.get(key)
            lent = ONLY_NOW if key in now.readings else NOT_AGAIN if same else NOT_THAT
            told.append(f"{_name_of(key)} {lent}")
    return "; ".join(told)


def _name_of(key: str) -> str:
    try:
        return characteristics.get(key).name
    except UnknownCharacteristic:
        return key.replace("_", " ")
