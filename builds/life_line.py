"""An engine's life as one drawn line, from its real dates: in the shop, out, and what happened when."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from builds.models import Build, BuildKind
from builds.timeline import (
    BACK,
    CHECK,
    FINDING,
    PART_OUT,
    RECALL,
    RETURN,
    SEALED,
    SEALED_LOOK,
    Moment,
)

WIDTH = 1000  # drawing units
LEFT, RIGHT = 24, 976
LINE = 78  # where the line runs, down the drawing
HEIGHT = 160
LABEL_ROOM = 108  # a job's number needs so much before the next
SAME = 5  # signs nearer than that are one
YEAR_ROOM = 46
APART = 24  # signs of two kinds nearer than that would lie over one another
UP, DOWN, LOWER = LINE - 24, LINE + 24, LINE + 48
# Sign → where it stands, and what it is called under the drawing.
SIGNS: dict[int, tuple[str, int]] = {
    SEALED: ("seal", LINE), SEALED_LOOK: ("seal", LINE), CHECK: ("check", DOWN), RETURN: ("back", LINE),
    BACK: ("back", LINE), FINDING: ("finding", UP), PART_OUT: ("part", DOWN), RECALL: ("recall", DOWN),
}  # fmt: skip
LEGEND = {
    "seal": "sheet sealed", "check": "check", "back": "came back", "finding": "finding", "part": "part out",
    "recall": "recall",
}  # fmt: skip


@dataclass(frozen=True)
class Stay:
    """A time in the shop under one job."""

    x: int
    w: int
    label: str
    anchor: str = "start"


@dataclass(frozen=True)
class Mark:
    """One sign on the line."""

    sign: str
    x: int
    y: int


@dataclass(frozen=True)
class LifeLine:
    """The whole drawing: stays in the shop as bars on the line, signs on and beside it, the years below."""

    stays: tuple[Stay, ...]
    marks: tuple[Mark, ...]
    years: tuple[tuple[int, int], ...]
    legend: tuple[tuple[str, str], ...]
    words: str
    width: int = WIDTH
    height: int = HEIGHT
    line: int = LINE


def life_line(moments: Sequence[Moment], jobs: Iterable[Build], today: date) -> LifeLine | None:
    """Draw a life; nothing where all of it is one day."""
    if not moments:
        return None
    first, last = min(each.day for each in moments), max([today, *(each.day for each in moments)])
    days = (last - first).days
    if days < 1:
        return None

    def at(day: date) -> int:
        return LEFT + round((day - first).days * (RIGHT - LEFT) / days)

    stays = _stays([job for job in jobs if job.kind != BuildKind.CHECK], at, last)
    marks = _marks(moments, at)
    there = {mark.sign for mark in marks}
    years: list[tuple[int, int]] = []
    for year in range(first.year + 1, last.year + 1):
        x = at(date(year, 1, 1))
        if not years or x - years[-1][0] >= YEAR_ROOM:
            years.append((x, year))
    return LifeLine(
        stays, marks, tuple(years), tuple((sign, word) for sign, word in LEGEND.items() if sign in there),
        f"From {first:%d %b %Y} to {last:%d %b %Y}: {len(stays)} stays in the shop. All of it stands in the list.",
    )  # fmt: skip


def _stays(jobs: Iterable[Build], at: Callable[[date], int], last: date) -> tuple[Stay, ...]:
    found: list[Stay] = []
    labelled = -LABEL_ROOM
    in_order = sorted(jobs, key=lambda each: (each.opened_on, each.pk))
    for place, job in enumerate(in_order):
        # A return goes nowhere itself: its engine leaves with the job that came after it.
        left = next((each.went_out_on for each in in_order[place:] if each.went_out_on is not None), last)
        x, end = at(job.opened_on), at(left)
        at_end = x > WIDTH - LABEL_ROOM
        label = job.job_number[:12] if x - labelled >= LABEL_ROOM * (2 if at_end else 1) else ""
        labelled = x if label else labelled
        found.append(Stay(x, max(end - x, 4), label, "end" if at_end else "start"))
    return tuple(found)


def _marks(moments: Iterable[Moment], at: Callable[[date], int]) -> tuple[Mark, ...]:
    taken: dict[tuple[str, int], int] = {}
    found = []
    for moment in moments:
        if moment.which not in SIGNS:
            continue
        sign, y = SIGNS[moment.which]
        x = at(moment.day)
        if y == DOWN and any(
            x - there < APART for (other, row), there in taken.items() if row == y and other != sign
        ):
            y = LOWER
        if x - taken.get((sign, y), -SAME) >= SAME:
            taken[sign, y] = x
            found.append(Mark(sign, x, y))
    return tuple(found)
