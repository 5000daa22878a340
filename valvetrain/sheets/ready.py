"""What the valvetrain's sheets lack before they may be signed.

What must be read first blocks. What is out or undecided, what a step leaves unread, and a tool past its check is each
named with its value, so that somebody can accept that and nothing else. The same thing has the same key on every sheet.
"""

from collections.abc import Iterable, Iterator
from datetime import date
from decimal import Decimal

from django.db.models import QuerySet
from django.utils import timezone

from builds.logcells import Cell, Figure, Row, StepState
from builds.measures import show, unit_for
from builds.models import Build, Instrument, Photo
from builds.photos.storage import photo_files
from builds.sealing.kinds import OutItem, Readiness
from builds.steps import steps
from builds.verdicts import OUT, UNDECIDED
from builds.worklog import WorkLog
from valvetrain.acts import high_or_low
from valvetrain.mark_steps import MARK_KEYS, STEP_KEY
from valvetrain.models import Head
from valvetrain.models.heads import addresses_of
from valvetrain.sheets.setup import setup_sheet
from valvetrain.sheets.snapshot import SetupSheet, StandLine, ValveLine
from valvetrain.sheets.steplog import belongs
from valvetrain.sheets.words import day

# A net lift that is not measured comes from the cam card, and the sheet says so beside it.
NOT_ASKED = frozenset({"lift"})
NO_SERIAL = "The engine has no serial number, and a sealed sheet names it. Write it on the engine’s page."
NO_CARD = "No cam card is entered."
LONGEST = 80  # of a value's words, as an acceptance keeps them
BAD = (OUT, UNDECIDED)


def head_of(build: Build, subject: str) -> Head | None:
    """The head that a setup sheet is about; None where it was removed."""
    return heads_of(build).filter(pk=subject).first() if subject.isdecimal() else None


def heads_of(build: Build) -> QuerySet[Head]:
    """The heads of a job with all their addresses, in the order in which they were added."""
    heads = Head.objects.filter(build=build).select_related("build__engine__customer")
    return heads.prefetch_related("valves", "stands__pads").order_by("pk")


def addresses_of_head(build: Build, subject: str) -> set[str]:
    """Where a reading concerns the setup sheet of a head; what holds for the whole engine concerns every head."""
    head = head_of(build, subject)
    return {"engine"} | ({address for address, _kind in head.addresses()} if head else set())


def valves_of_job(build: Build, subject: str) -> set[str]:
    """Where a reading concerns the photo log: at every valve."""
    return {address for address, kind in addresses_of(build).items() if kind == "valve"}


def setup_ready(build: Build, subject: str) -> Readiness:
    """What the setup sheet of a head lacks."""
    head = head_of(build, subject)
    if head is None:
        return Readiness(["This head was removed from the job. Go back to the job and choose another sheet."])
    log = WorkLog(build)
    found = _head_ready(head, log)
    return Readiness([*no_serial(build), *found.missing], found.out, found.overdue)


def photo_log_ready(build: Build, subject: str) -> Readiness:
    """What the photo log of a job lacks: picture files, and marks that are out."""
    log = WorkLog(build)
    marks = [log.state(step) for step in steps() if step.key == STEP_KEY]
    again = [f"{row.position}: {row.again}" for state in marks for row in state.rows if row.again]
    tools = Instrument.objects.filter(
        readings__build=build, readings__characteristic__in=MARK_KEYS
    ).distinct()
    return Readiness(
        [*no_serial(build), *again, *files_lost(Photo.objects.filter(build=build).filed())],
        [item for state in marks for item in step_items(state, state.rows)],
        overdue_items(tools),
    )


def build_ready(build: Build, subject: str) -> Readiness:
    """What the build sheet of a job lacks: all that its heads lack, and what of the short block is begun."""
    log = WorkLog(build)
    found = [_head_ready(head, log) for head in heads_of(build)]
    out = [item for each in found for item in each.out]
    for state in (log.state(step) for step in steps() if not belongs(step.key, step.applies_to)):
        out += [*step_items(state, state.rows), *(_unread(state, state.rows, "") if state.begun else [])]
    tools = Instrument.objects.filter(readings__build=build).distinct()
    missing = [line for each in found for line in each.missing]
    return Readiness([*no_serial(build), *_once(missing)], _each_once(out), overdue_items(tools))


def no_serial(build: Build) -> list[str]:
    """That the engine has no serial number, where it has none."""
    return [] if build.engine.serial else [NO_SERIAL]


def _head_ready(head: Head, log: WorkLog) -> Readiness:
    sheet = setup_sheet(head)
    mine = {address for address, _kind in head.addresses()} | {"engine"}
    out = [*_heights(sheet.valves), *_threads(sheet.stands)]
    for step in steps():
        if belongs(step.key, step.applies_to):
            state = log.state(step)
            rows = [row for row in state.rows if row.position in mine]
            code = "" if step.applies_to == "engine" else head.code
            out += [*step_items(state, rows), *_unread(state, rows, code)]
    return Readiness(_blocking(sheet), out, _overdue(sheet))


def _blocking(sheet: SetupSheet) -> list[str]:
    """What is not read yet; not what is out, which can be accepted, nor a card that nothing needs."""
    accepted = {f"{stand.address}: no pack is fitted." for stand in sheet.stands}
    if sheet.valves and all(valve.lift is not None for valve in sheet.valves):
        accepted.add(NO_CARD)
    return [line for line in sheet.missing if line not in accepted]


def _heights(valves: Iterable[ValveLine]) -> Iterator[OutItem]:
    for valve in valves:
        at, error, sweep = valve.address, valve.left_over, valve.sweep_now
        if valve.verdict in BAD and error is not None:
            told = f"{high_or_low(error, 'in')} ({show(abs(error), 'mm', with_unit=True)}): {valve.verdict}"
            yield _item(f"height/{at}", f"{at}, stand height", told)
        if valve.sweep_verdict in BAD and sweep is not None:
            yield _item(f"sweep/{at}", f"{at}, sweep on the tip", f"{_both(sweep)}: {valve.sweep_verdict}")


def _threads(stands: Iterable[StandLine]) -> Iterator[OutItem]:
    for stand in stands:
        if stand.thread_word != "enough":
            told = f"{show(stand.engagement, 'in')}, asked {show(stand.asked, 'in')} in: {stand.thread_word}"
            yield _item(f"thread/{stand.address}", f"{stand.address}, thread in the head", told)


def step_items(state: StepState, rows: Iterable[Row]) -> Iterator[OutItem]:
    """What is out or undecided at these addresses of a step."""
    for row in rows:
        for cell in row.cells:
            if cell.verdict in BAD and cell.mean is not None:
                yield _step_item(
                    state, row, cell.characteristic.key, cell.characteristic.name, _cell_words(cell)
                )
        for figure in row.figures:
            if figure.verdict in BAD:
                yield _step_item(state, row, figure.derived.key, figure.derived.name, _figure_words(figure))


def _step_item(state: StepState, row: Row, key: str, name: str, told: str) -> OutItem:
    return _item(f"{state.step.key}/{key}/{row.position}", f"{row.position}, {name}", told)


def _cell_words(cell: Cell) -> str:
    mean, kind = cell.mean or Decimal(0), cell.characteristic.unit_kind
    return f"{_both(mean, kind)}: {cell.verdict}"


def _figure_words(figure: Figure) -> str:
    if figure.value is None:
        return f"cannot be, from what was read: {figure.verdict}"
    return f"{_both(figure.value, figure.derived.unit_kind, figure.derived.places)}: {figure.verdict}"


def _both(value: Decimal | float, kind: str = "length", places: int | None = None) -> str:
    """A value in inches and in millimetres: whoever accepts it reads either, and the same words stand for both."""
    units = dict.fromkeys(unit_for(kind, length) for length in ("in", "mm"))
    told = [show(value, unit, places, with_unit=True) for unit in units]
    return told[0] if len(told) == 1 else f"{told[0]} ({told[1]})"


def _unread(state: StepState, rows: Iterable[Row], code: str) -> Iterator[OutItem]:
    """What a step leaves unread, as one thing to accept: all of it, or at which addresses."""
    step, rows = state.step, list(rows)
    left = [row.position for row in rows if row.missing]
    if not left or step.key in NOT_ASKED:
        return
    begun = any(cell.readings for row in rows for cell in row.cells)
    told = f"not read at {', '.join(left)}" if begun else "not measured"
    if len(told) > LONGEST:
        told = f"{len(rows) - len(left)} of {len(rows)} read in full"
    place = f"{code}, " if code else ""
    yield _item(f"unread/{step.key}/{code or 'engine'}", f"{place}{step.name}, as a step of the log", told)


def _overdue(sheet: SetupSheet) -> list[OutItem]:
    return [_late(gauge.mark, gauge.kind, gauge.due) for gauge in sheet.gauges if gauge.overdue]


def overdue_items(tools: Iterable[Instrument], today: date | None = None) -> list[OutItem]:
    """The tools that are past their check."""
    today = today or timezone.localdate()
    return [
        _late(tool.mark, " ".join(filter(None, [tool.get_kind_display(), tool.name, tool.serial])), day(tool.due_on))
        for tool in tools
        if tool.overdue(today)
    ]  # fmt: skip


def _late(mark: str, kind: str, due: str) -> OutItem:
    return _item(f"overdue/{mark}", f"{mark}, {kind}, is past its check", f"due {due}")


def files_lost(photos: Iterable[Photo]) -> Iterator[str]:
    """Photos whose file is gone, or not as long as it was: a sheet with them cannot be printed."""
    files = photo_files()
    for photo in photos:
        try:
            there = files.size(photo.path) == photo.size
        except OSError:
            there = False
        if not there:
            yield (
                f"The file of the photo {photo.name} is gone or spoilt. Put it back from a backup, or set the photo "
                "aside."
            )


def _item(key: str, words: str, told: str) -> OutItem:
    return OutItem(key[:120], words[:200], told[:LONGEST])


def _once(lines: list[str]) -> list[str]:
    return list(dict.fromkeys(lines))


def _each_once(items: Iterable[OutItem]) -> list[OutItem]:
    """What belongs to the whole engine is found with every head."""
    return list({(item.key, item.value_text): item for item in items}.values())
