"""The history of edits, read: one time line of who changed what, from what to what, for a job or for the shop.

Each floor enters its models in `traces`. The time line joins their histories in one question to the database; a page of
it takes two more for each kind of record on it, and one for each kind that lends its name, however long the book is.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from django.db import models
from django.db.models import OuterRef, Q, Subquery, Value

from builds.editwords import Words, label_of, telling
from builds.models import Build
from builds.tracking import BEGUN, history_of, newest

# Many records made in one go, such as a head from a layout, are told in one line.
IN_ONE_GO = timedelta(seconds=2)
THE_BOOK = "the book itself"
ACTS = {"+": "added", "~": "changed", "-": "removed"}


@dataclass(frozen=True)
class Trace:
    """How the edits of one model are told: where they belong, and what its records are called, for a reader of a unit.

    `within` names the foreign keys that lead out to what it stands in, innermost first; `on_job` whether the
    outermost has a `build`. Without a build it is the shop's own when `in_shop`. `of_job` finds what a job leans on
    otherwise.
    """

    model: type[models.Model]
    called: Callable[[Any, str], str]
    within: tuple[str, ...] = ()
    on_job: bool = False
    in_shop: bool = False
    of_job: Callable[[Build], Q] | None = None
    many: str = ""
    between: str = ", "  # the record and its field: cam card, intake lash; but 3E tip diameter
    words: Mapping[str, str] = field(default_factory=dict)
    hidden: frozenset[str] = frozenset()

    @property
    def group_word(self) -> str:
        """What several of these are called."""
        return self.many or str(self.model._meta.verbose_name_plural)


def plainly(words: str) -> Callable[[Any, str], str]:
    """Call every record of a model the same: there is one."""
    return lambda record, unit: words


def as_a(words: str) -> Callable[[Any, str], str]:
    """Call a record by what it is and its own name: part pushrod 3E."""
    return lambda record, unit: f"{words} {record}"


# Every tracked model stands here once; the other floors add theirs when they start.
traces: list[Trace] = []


@dataclass(frozen=True)
class Line:
    """One figure or word that became another."""

    what: str
    before: str
    after: str


@dataclass
class Edit:
    """One edit as it is read: when, who, and what of it. `facts` tell what was entered, or what was there."""

    when: datetime
    who: str
    act: str
    what: str
    lines: list[Line] = field(default_factory=list)
    facts: list[tuple[str, str]] = field(default_factory=list)

    @property
    def is_group(self) -> bool:
        """Whether it tells of many records at once."""
        return len(self.facts) > 1

    @property
    def facts_word(self) -> str:
        """What its facts are."""
        return "what was there" if self.act == ACTS["-"] else "what was entered"


def edits_of_job(job: Build) -> models.QuerySet[Any]:
    """Every edit of a job and of what hangs on it, newest first; for `told`."""
    found = []
    for trace in traces:
        if trace.of_job is not None:
            found.append((trace, trace.of_job(job)))
        elif trace.on_job:
            found.append((trace, _standing_on(trace.model, trace.within, job.pk)))
    return _line(found)


def edits_of_shop() -> models.QuerySet[Any]:
    """Every edit of what is the whole shop's, newest first; for `told`."""
    return _line(
        (trace, _standing_on(trace.model, trace.within, None) if trace.on_job else Q())
        for trace in traces
        if trace.in_shop
    )


def _standing_on(model: Any, within: tuple[str, ...], build: int | None) -> Q:
    """The rows of a history whose record stood on this build, or on none; also when what it stood in is gone."""
    if not within:
        return Q(build_id__isnull=True) if build is None else Q(build_id=build)
    outer = model._meta.get_field(within[0]).related_model
    rows = history_of(outer).model.objects.filter(_standing_on(outer, within[1:], build))
    return Q(**{f"{within[0]}_id__in": rows.order_by().values("id")})


def _line(found: Iterable[tuple[Trace, Q]]) -> models.QuerySet[Any]:
    parts = [
        history_of(trace.model)
        .model.objects.filter(wanted)
        .exclude(history_change_reason=BEGUN)
        .order_by()
        .annotate(which=Value(traces.index(trace), models.IntegerField()))
        .values_list("which", "history_id", "history_date")
        for trace, wanted in found
    ]
    joined: models.QuerySet[Any] = parts[0].union(*parts[1:], all=True)
    return joined.order_by("-history_date", "which", "-history_id")


def told(line: Iterable[tuple[int, int, datetime]], length_unit: str) -> list[Edit]:
    """A page of a time line in words, in the units of the person who reads."""
    wanted = [(which, history_id) for which, history_id, _when in line]
    rows: dict[tuple[int, int], Any] = {}
    for which in sorted({which for which, _id in wanted}):
        rows.update(_rows(which, [history_id for at, history_id in wanted if at == which]))
    pages = [(traces[key[0]], rows[key]) for key in wanted]
    words = Words(length_unit)
    for trace, row in pages:
        for record in filter(None, (row.record, row.before)):
            words.meet(_fields(trace), record)
    words.learn()
    edits: list[Edit] = []
    last: tuple[Trace, Any] | None = None
    for trace, row in pages:
        if last is not None and _in_one_go(last, (trace, row)):
            _add_to(edits[-1], trace, row, words)
        else:
            edits.append(_edit(trace, row, words))
        last = trace, row
    for edit in edits:
        if edit.act != ACTS["-"]:  # what goes together goes in the order opposite to that in which it came
            edit.facts.reverse()
    return edits


def _rows(which: int, ids: list[int]) -> dict[tuple[int, int], Any]:
    """Rows of one history with the record as it was then, and as it was before; what it stands in comes along."""
    trace = traces[which]
    table = history_of(trace.model).model.objects
    earlier = table.filter(id=OuterRef("id"), history_id__lt=OuterRef("history_id")).order_by("-history_id")
    rows = list(
        table.filter(history_id__in=ids)
        .select_related("history_user")
        .annotate(before_id=Subquery(earlier.values("history_id")[:1]))
    )
    before = table.in_bulk([row.before_id for row in rows if row.before_id and row.history_type == "~"])
    for row in rows:
        row.record = row.history_object
        row.before = before[row.before_id].history_object if row.before_id in before else None
    _put_in_place(trace, [row.record for row in rows])
    return {(which, row.history_id): row for row in rows}


def _put_in_place(trace: Trace, records: list[Any]) -> None:
    """Give each record what it stands in, as that was last, so that it can tell its address."""
    model: Any = trace.model
    for name in trace.within:
        model = model._meta.get_field(name).related_model
        found = newest(model, {getattr(record, f"{name}_id") for record in records})
        there = {key: row.history_object for key, row in found.items()}
        for record in records:
            if (outer := there.get(getattr(record, f"{name}_id"))) is not None:
                setattr(record, name, outer)
        records = list(there.values())


def _in_one_go(last: tuple[Trace, Any], this: tuple[Trace, Any]) -> bool:
    """Whether two rows, the later first, are of many that were made or taken away together."""
    (trace, later), (same, earlier) = last, this
    return (
        trace is same
        and later.history_type == earlier.history_type != "~"
        and later.history_user_id == earlier.history_user_id
        and later.history_date - earlier.history_date <= IN_ONE_GO
    )


def _edit(trace: Trace, row: Any, words: Words) -> Edit:
    who = str(row.history_user) if row.history_user is not None else THE_BOOK
    subject = trace.called(row.record, words.length_unit)
    edit = Edit(row.history_date, who, ACTS[row.history_type], subject)
    if row.history_type == "~":
        edit.lines = _lines(trace, row, words, subject)
    else:
        edit.facts = [(subject, _facts(trace, row.record, words))]
    return edit


def _add_to(edit: Edit, trace: Trace, row: Any, words: Words) -> None:
    name = trace.called(row.record, words.length_unit)
    edit.facts.append((name, _facts(trace, row.record, words)))
    edit.what = f"{len(edit.facts)} {trace.group_word}"


def _lines(trace: Trace, row: Any, words: Words, subject: str) -> list[Line]:
    """What became another. What no form shows is told only when nothing else did."""
    if row.before is None:
        return []
    changed = [
        each
        for each in _fields(trace)
        if getattr(row.before, each.attname) != getattr(row.record, each.attname)
    ]
    shown = [each for each in changed if each.editable] or changed
    return [
        Line(
            f"{subject}{trace.between}{label_of(each, trace.words)}",
            *telling(words, each, row.before, row.record),
        )
        for each in shown
    ]


def _fields(trace: Trace) -> list[Any]:
    """The fields that a model's edits are told by: not its number, nor where it stands."""
    left_out = {"id", "build", *trace.within, *trace.hidden}
    return [each for each in history_of(trace.model).model.tracked_fields if each.name not in left_out]


def _facts(trace: Trace, record: Any, words: Words) -> str:
    """All that stood in a record, in a line."""
    told = [
        f"{label_of(each, trace.words)} {words.of(each, record)}"
        for each in _fields(trace)
        if each.editable and getattr(record, each.attname) not in (None, "")
    ]
    return "; ".join(told)
