"""Recalls: begun from a trace, a line for every part, marks that only grow, and a count of how far it is."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from uuid import UUID, uuid5

from django.db import transaction
from django.utils import timezone

from builds.models import (
    Engine,
    PartFitted,
    Person,
    Recall,
    RecallLine,
    RecallMark,
    RecallStep,
    WhyOut,
)
from builds.parts_out import PartRefused, refuse_day, take_out
from builds.refusals import Refused
from builds.tracing import TraceLine, matching, trace_lines

DEFAULT_ADVICE = (
    "Please do not start the engine, and do not tow or crank it over, until the part has been looked at. Call us: we "
    "agree with you when and how it is looked at. Bring the build sheet that you had from us, your record of passes or "
    "hours since then, and anything that you noticed: noise, lash that moved, metal in the oil. If the maker of the part "
    "has sent a notice, bring it: what it says comes first."
)


class MarkRefused(Refused):
    """A mark that cannot be made."""


@transaction.atomic
def begin(recall: Recall, person: Person) -> Recall:
    """Write a recall and a line for every part that matches."""
    recall.opened_by = person
    recall.save()
    add_matches(recall)
    return recall


def not_listed(recall: Recall) -> "list[PartFitted]":
    """Parts that carry the number and are not on the list: fitted, or typed in, since."""
    listed = RecallLine.objects.filter(recall=recall).values("part")
    return list(matching(recall.by, recall.value).exclude(pk__in=listed))


@transaction.atomic
def add_matches(recall: Recall) -> int:
    """Put every part that matches on the list; returns how many are new. Safe to repeat."""
    Recall.objects.select_for_update().get(pk=recall.pk)
    new = [RecallLine(recall=recall, part=part) for part in not_listed(recall)]
    RecallLine.objects.bulk_create(new)
    return len(new)


@transaction.atomic
def mark(
    recall: Recall,
    engine: Engine,
    person: Person,
    *,
    lines: Iterable[RecallLine],
    step: str,
    done_on: date,
    note: str,
    client_id: UUID,
) -> list[RecallMark]:
    """Mark lines of an engine; “replaced” also takes out what is left of them. Safe to repeat with the same id.

    Raises `MarkRefused`.
    """
    fresh = Recall.objects.select_for_update().get(pk=recall.pk)
    chosen = list(lines)
    ids = {line.pk: uuid5(client_id, str(line.pk)) for line in chosen}
    made = list(RecallMark.objects.filter(client_id__in=ids.values()))
    if made:
        return made
    refuse_closed(fresh)
    for line in chosen:
        if step == RecallStep.REPLACED:
            _refuse_replaced(line)
        try:
            refuse_day(line.part, done_on, "done_on")
        except PartRefused as error:
            raise MarkRefused("done_on", error.sentence) from None
        done = RecallMark.objects.create(
            client_id=ids[line.pk], line=line, step=step, done_on=done_on, note=note, by=person
        )
        made.append(done)
        left = PartFitted.objects.with_out().get(pk=line.part_id).left
        if step == RecallStep.REPLACED and left:
            take_out(
                line.part, person, quantity=left, out_on=done_on, why=WhyOut.RECALLED, note=note, by_mark=done
            )
    return made


@transaction.atomic
def strike_out(made: RecallMark, person: Person, *, why: str, client_id: UUID) -> RecallMark:
    """Say that a mark was entered in error, and why. What it took out is in again. Safe to repeat.

    Raises `MarkRefused`.
    """
    recall = Recall.objects.select_for_update().get(pk=made.line.recall_id)
    before = RecallMark.objects.filter(client_id=client_id).first()
    if before is not None:
        return before
    if RecallMark.objects.filter(strikes_out=made).exists():
        raise MarkRefused("", "This mark was struck out already. Load the list again.")
    if made.strikes_out_id is not None:
        raise MarkRefused("", "What strikes a mark out cannot be struck out. Make the mark again instead.")
    refuse_closed(recall)
    if not why:
        raise MarkRefused("note", "Why it was an error: nothing is filled in. It is needed here.")
    struck = RecallMark.objects.create(
        client_id=client_id, line=made.line, step=made.step, done_on=timezone.localdate(), note=why, by=person,
        strikes_out=made,
    )  # fmt: skip
    for out in made.took_out.all():
        out.delete()
    return struck


def _refuse_replaced(line: RecallLine) -> None:
    """What was replaced is not replaced again, say from another tablet. Raises `MarkRefused`."""
    marks = RecallMark.objects.filter(line=line, step=RecallStep.REPLACED, strikes_out__isnull=True)
    done = marks.filter(struck_out_by__isnull=True).select_related("by").first()
    if done is not None and not PartFitted.objects.with_out().get(pk=line.part_id).left:
        raise MarkRefused(
            "lines",
            f"{line.part} was marked as replaced already, {done.done_on:%d %b %Y} by {done.by}. Leave it out, or load "
            "the list again.",
        )


def refuse_closed(recall: Recall) -> None:
    """A closed list takes no marks. Raises `MarkRefused`."""
    if recall.closed_on is not None:
        raise MarkRefused(
            "", f"This recall was closed on {recall.closed_on:%d %b %Y}. Open it again first, then mark."
        )


@dataclass
class Marked:
    """One mark as it is told; struck out or not."""

    mark: RecallMark
    struck: RecallMark | None


@dataclass
class ListedPart:
    """One line of a recall: the part as it is traced, and its marks."""

    line: RecallLine
    trace: TraceLine
    marks: list[Marked] = field(default_factory=list)

    @property
    def standing(self) -> set[str]:
        """The steps that are marked, and not struck out. What is still in the engine was not replaced."""
        found = {each.mark.step for each in self.marks if each.struck is None}
        return found - {RecallStep.REPLACED} if self.trace.left else found

    @property
    def was_out_before(self) -> bool:
        """Whether all of it was out of the engine without this recall: nothing is to be done about it."""
        return not self.trace.left and RecallStep.REPLACED not in self.standing


@dataclass
class ListedEngine:
    """One engine on the list of a recall."""

    engine: Engine
    parts: list[ListedPart] = field(default_factory=list)

    @property
    def concerned(self) -> list[ListedPart]:
        """The parts about which something is to be done, or was."""
        return [part for part in self.parts if not part.was_out_before]

    def is_done(self, step: str) -> bool:
        """Whether a step is marked for every part that it concerns."""
        return bool(self.concerned) and all(step in part.standing for part in self.concerned)

    @property
    def steps(self) -> list[tuple[RecallStep, bool]]:
        """Each step, and whether it is done."""
        return [(step, self.is_done(step)) for step in RecallStep]

    @property
    def in_it(self) -> int:
        """How many of the parts are still in it."""
        return sum(part.trace.left for part in self.parts)


def listed(recall: Recall, engine_ids: Iterable[int]) -> list[ListedEngine]:
    """Engines of a recall with their parts and marks, in a constant number of questions, in the order asked for."""
    order = list(engine_ids)
    lines = list(
        RecallLine.objects.filter(recall=recall, part__build__engine__in=order)
        .select_related("part")
        .order_by("pk")
    )
    traces = {trace.part.pk: trace for trace in trace_lines([line.part for line in lines])}
    marks = _marks(lines)
    found: dict[int, ListedEngine] = {}
    for line in lines:
        trace = traces[line.part_id]
        engine = trace.job.engine
        found.setdefault(engine.pk, ListedEngine(engine)).parts.append(
            ListedPart(line, trace, marks[line.pk])
        )
    return [found[key] for key in order if key in found]


def _marks(lines: Iterable[RecallLine]) -> dict[int, list[Marked]]:
    found: dict[int, list[Marked]] = defaultdict(list)
    rows = list(RecallMark.objects.filter(line__in=lines).select_related("by", "line__part").order_by("pk"))
    struck = {row.strikes_out_id: row for row in rows if row.strikes_out_id is not None}
    for row in rows:
        if row.strikes_out_id is None:
            found[row.line_id].append(Marked(row, struck.get(row.pk)))
    return found


@dataclass(frozen=True)
class Counts:
    """How far a recall is, by engines: of so many that it concerns, told, checked and replaced."""

    engines: int
    told: int
    checked: int
    replaced: int

    @property
    def words(self) -> str:
        """In words, for a list."""
        if not self.engines:
            return "no engine carries it now"
        return ", ".join(
            f"{word} {count} of {self.engines}"
            for word, count in (("told", self.told), ("checked", self.checked), ("replaced", self.replaced))
        )

    @property
    def all_told(self) -> bool:
        """Whether every customer was told."""
        return self.told == self.engines


def counts_of(recalls: Iterable[Recall]) -> dict[int, Counts]:
    """How far each recall of a page is, in three questions."""
    keys = [recall.pk for recall in recalls]
    rows = list(
        RecallLine.objects.filter(recall__in=keys).values_list("pk", "recall", "part", "part__build__engine")
    )
    still_in = set(
        PartFitted.objects.still_in().filter(recall_lines__recall__in=keys).values_list("pk", flat=True)
    )
    done: dict[int, set[str]] = defaultdict(set)
    standing = RecallMark.objects.filter(
        line__recall__in=keys, strikes_out__isnull=True, struck_out_by__isnull=True
    )
    for line, step in standing.values_list("line", "step"):
        done[line].add(step)
    engines: dict[int, dict[int, list[set[str]]]] = {key: defaultdict(list) for key in keys}
    for line, recall, part, engine in rows:
        steps = done[line] - {RecallStep.REPLACED} if part in still_in else done[line]
        if part in still_in or RecallStep.REPLACED in steps:
            engines[recall][engine].append(steps)
    return {
        key: Counts(
            len(found),
            *(sum(all(step in steps for steps in lines) for lines in found.values()) for step in RecallStep),
        )
        for key, found in engines.items()
    }
