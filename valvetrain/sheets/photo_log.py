"""The photo log of a job: records in, snapshot out, in a constant number of queries."""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from django.utils import timezone

from builds.measures import show
from builds.models import Build, Person, Photo, PhotoKind, Reading, Shop
from builds.uncertainty import plus_minus
from valvetrain.geometry import GEOMETRY_VERSION
from valvetrain.marks import JUDGED, MarkState, marks_of_build
from valvetrain.markwords import height_lines, shape_words
from valvetrain.sheets import facts
from valvetrain.sheets.photo_lines import FigureLine, MarkLine, PhotoLog, PictureLine
from valvetrain.sheets.snapshot import LimitLine
from valvetrain.sheets.words import CAUTIONS, when

# More pictures than these belong into a log of their own; what is left out is counted on the sheet.
MOST_OTHERS = 120
READ_NAMES = {"mark_inner": "inner edge", "mark_outer": "outer edge"}
WORKED_NAMES = {"width": "width", "centre": "centre", "edge_room": "room to the rim", "taper": "taper"}
PUT_ASIDE = "It was measured on a photo that was set aside or filed elsewhere since, and is not printed here."
LIMIT_NAMES = {
    "sweep": "width of the mark", "mark_centre": "its centre off the tip’s centre line",
    "mark_edge": "room to the tip’s rim", "mark_taper": "its taper, front less rear",
}  # fmt: skip


def photo_log(
    build: Build, person: Person | None = None, *, unit: str = ""
) -> tuple[PhotoLog, dict[str, Photo]]:
    """Put together the photo log of a job, in a unit or as a person reads it; and its photos, by their keys."""
    unit = unit or (person.length_unit if person else "in")
    marks = marks_of_build(build)
    photos = list(Photo.objects.of(build))
    pictured = {mark.address: photo for mark in marks if (photo := _photo_of(mark, photos)) is not None}
    shown = {photo.pk for photo in pictured.values()}
    left = [photo for photo in photos if photo.pk not in shown]
    others = left[:MOST_OTHERS]
    keys = {photo.pk: f"p{number}" for number, photo in enumerate([*pictured.values(), *others], start=1)}
    spare = Counter(photo.filing.position for photo in left if _is_mark(photo))
    lines = [_mark_line(mark, pictured.get(mark.address), keys, spare[mark.address], unit) for mark in marks]
    rule = marks[0].rule if marks else Shop.get().rule
    log = PhotoLog(
        shop=facts.letterhead(Shop.get()),
        job=build.job_number,
        title=facts.title(build),
        marks=[line for line in lines if line.picture is not None],
        unpictured=[line for line in lines if line.picture is None and line.read],
        bare=[line.address for line in lines if line.picture is None and not line.read],
        others=[picture_line(photo, keys[photo.pk]) for photo in others],
        not_shown=len(left) - len(others),
        set_aside=Photo.objects.filter(build=build).filed(set_aside=True).count(),
        limits=list(_limits(marks, unit)),
        rule=rule.words,
        cautions=CAUTIONS,
        unit=unit,
        printed=when(timezone.now()) if person else "",
        printed_by=str(person) if person else "",
        time_zone=timezone.get_current_timezone_name(),
        geometry_version=GEOMETRY_VERSION,
    )
    by_key = {keys[photo.pk]: photo for photo in [*pictured.values(), *others]}
    return log, by_key


def _is_mark(photo: Photo) -> bool:
    return photo.filing.kind == PhotoKind.WITNESS_MARK


def _photo_of(mark: MarkState, photos: Sequence[Photo]) -> Photo | None:
    """The picture of a mark: the one that it was last measured on, else the newest that was taken of it."""
    measured = [reading.photo_id for reading in _edges(mark) if reading.photo_id is not None]
    there = {photo.pk: photo for photo in photos if photo.filing.position == mark.address}
    for pk in reversed(measured):
        if pk in there:
            return there[pk]
    taken = [photo for photo in photos if _is_mark(photo) and photo.filing.position == mark.address]
    return taken[-1] if taken else None


def _edges(mark: MarkState) -> list[Reading]:
    """The readings of both edges that count."""
    return [reading for key in READ_NAMES if key in mark.reads for reading in mark.reads[key].readings]


def _mark_line(mark: MarkState, photo: Photo | None, keys: dict[int, str], more: int, unit: str) -> MarkLine:
    kept = {} if photo is None else _measured_on(mark, photo)
    return MarkLine(
        address=mark.address,
        kind=mark.valve.valve.get_kind_display(),
        head=mark.valve.stand.head.name,
        picture=None if photo is None else picture_line(photo, keys[photo.pk], of_mark=True, kept=kept),
        inner=mark.inner,
        outer=mark.outer,
        tip_diameter=float(mark.valve.valve.tip_diameter),
        expected=mark.expected,
        taper=mark.taper,
        closed=mark.closed,
        open=mark.open,
        figures=list(_figures(mark, unit)),
        readers=_readers(mark),
        sentences=list(_sentences(mark, photo, unit)),
        again=list(mark.again),
        more_photos=more,
    )


def _sentences(mark: MarkState, photo: Photo | None, unit: str) -> Iterator[str]:
    """What the mark says of the height, its shape, and that its own picture is not the one shown."""
    yield from height_lines(mark, unit)
    if words := shape_words(mark, unit):
        yield words
    measured = {reading.photo_id for reading in _edges(mark)} - {None}
    if measured and (photo is None or photo.pk not in measured):
        yield PUT_ASIDE


def _measured_on(mark: MarkState, photo: Photo) -> dict[str, Any]:
    """What was measured on this picture, as the newest of its readings keeps it; nothing where nothing was."""
    for reading in reversed(_edges(mark)):
        if reading.photo_id == photo.pk and reading.context.get("mark"):
            return dict(reading.context["mark"])
    return {}


def picture_line(
    photo: Photo, key: str, *, of_mark: bool = False, kept: dict[str, Any] | None = None
) -> PictureLine:
    """A photo as a sheet keeps it, under its key on that sheet; `kept` is what a mark's readings keep of the picture."""
    filing = photo.filing
    return PictureLine(
        key=key,
        photo=str(photo.client_id),
        sha256=photo.sha256,
        name=photo.name,
        width=photo.width,
        height=photo.height,
        kind=filing.get_kind_display(),
        where=filing.where,
        note=filing.note,
        by=str(photo.taken_by),
        at=when(photo.taken_at),
        of_mark=of_mark,
        mark=kept or {},
        file=photo.path,
    )


def _figures(mark: MarkState, unit: str) -> Iterator[FigureLine]:
    """Both edges as read, then what follows, each with U and its verdict."""
    for key, name in READ_NAMES.items():
        if key in mark.reads:
            read = mark.reads[key]
            yield _figure(name, read.value, mark.rule.expanded(read.standard), unit)
    for what, name in WORKED_NAMES.items():
        value: float | None = getattr(mark, what)
        if value is None:
            continue
        limit = mark.limits.get(JUDGED[what])
        words = "" if limit is None else facts.limit_words(JUDGED[what], limit, unit)
        said = f"{name}: {mark.shape}" if what == "taper" and mark.shape else name
        yield _figure(said, value, mark.expanded(what), unit, words, mark.verdict(what))


def _figure(
    name: str, value: float, expanded: float | None, unit: str, limit: str = "", verdict: str = ""
) -> FigureLine:
    signed = not name.startswith(("width", "room"))
    doubt = "" if expanded is None else plus_minus(expanded, unit).removesuffix(f" {unit}")
    return FigureLine(name, value, expanded, show(value, unit, sign=signed), doubt, limit, verdict)


def _readers(mark: MarkState) -> list[str]:
    """Who measured it, with what and when, each once."""
    return list(dict.fromkeys(_reader(reading) for reading in _edges(mark)))


def _reader(reading: Reading) -> str:
    if reading.photo_id is not None:
        tool = "on its photo"
    else:
        tool = f"with {reading.instrument.mark}" if reading.instrument else "without a named tool"
    return f"{tool} by {reading.taken_by}, {when(reading.taken_at)}"


def _limits(marks: Iterable[MarkState], unit: str) -> Iterator[LimitLine]:
    """What the marks are judged by, each limit once."""
    told: dict[tuple[str, str, str], None] = {}
    for mark in marks:
        for key, limit in mark.limits.items():
            told.setdefault((LIMIT_NAMES[key], facts.limit_words(key, limit, unit), limit.source))
    for name, words, source in told:
        yield LimitLine(name, words, source)
