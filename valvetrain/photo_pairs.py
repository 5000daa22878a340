"""Photos of one place then and now, one over the other: which go together, and how they lie so that the rims meet."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import atan2, cos, sin
from typing import Any

from django.db.models import QuerySet

from builds.found import Found
from builds.models import Build, Photo, PhotoKind, Reading
from valvetrain.mark_overlay import Box, tip_box
from valvetrain.mark_steps import MARK_INNER

# Of each job this many are offered, the newest; the others are on the job's page of photos.
OFFERED = 24
SIZE = "screen"
MEASURED_ON_NEITHER = "The mark was measured on neither photo, so they lie edge to edge, not rim over rim."
NOT_MEASURED_THEN = (
    "The mark was not measured on the photo of then, so they lie edge to edge, not rim over rim."
)
NOT_MEASURED_NOW = (
    "The mark was not measured on the photo as found, so they lie edge to edge, not rim over rim."
)
NO_RIM = "They show no tip, so they lie edge to edge."
TURNED = "and turned so that outboard is the same way on both."
OTHER_WAY = "but not turned: one was measured with front and rear the other way round."
LAID = "Laid by the rim that was measured on each, so that the rims lie over one another"


@dataclass(frozen=True)
class Chosen:
    """Where to look: an address ("" is the job itself) and what the photos show."""

    position: str
    kind: str

    @property
    def words(self) -> str:
        """The place and the kind."""
        return f"{self.position or 'the job'}, {PhotoKind(self.kind).label}"


@dataclass(frozen=True)
class PhotoPair:
    """A photo of then and one of now. `matrix` lays the second over the first; `note` says how, or why it does not."""

    then: Photo
    now: Photo
    box: Box
    matrix: tuple[float, ...] | None
    note: str

    @property
    def view_box(self) -> str:
        """The part that is shown, in the pixels of the photo of then."""
        left, top, right, bottom = self.box
        return f"{left:.1f} {top:.1f} {right - left:.1f} {bottom - top:.1f}"

    @property
    def left(self) -> float:
        """Left edge of what is shown [px]."""
        return self.box[0]

    @property
    def top(self) -> float:
        """Upper edge of what is shown [px]."""
        return self.box[1]

    @property
    def across(self) -> float:
        """How wide what is shown is [px]."""
        return self.box[2] - self.box[0]

    @property
    def down(self) -> float:
        """How high what is shown is [px]."""
        return self.box[3] - self.box[1]

    @property
    def letters(self) -> float:
        """Size of the words on it [px]: a thirtieth of its longer side."""
        return max(self.across, self.down) / 30

    @property
    def transform(self) -> str:
        """How the photo of now is laid over that of then, as an SVG says it; empty where it is not."""
        return "" if self.matrix is None else f"matrix({' '.join(f'{each:.6f}' for each in self.matrix)})"

    @property
    def size(self) -> str:
        """The size of file that is shown: a part of a photo needs all of it."""
        return SIZE if self.matrix is None else "full"


@dataclass(frozen=True)
class PairBoard:
    """What a page shows of one place: the pair, and the photos that may stand on either side."""

    chosen: Chosen
    then: list[Photo]
    now: list[Photo]
    pair: PhotoPair | None
    measured: frozenset[int]
    more_then: bool = False
    more_now: bool = False

    @property
    def why_not(self) -> str:
        """Why there is no pair."""
        if self.pair is not None:
            return ""
        where = self.chosen.words
        if not self.then and not self.now:
            return f"No photo is filed at {where}, then or now."
        when = "from when it left" if not self.then else "as found"
        return f"No photo {when} is filed at {where}: there is nothing to lay over the other."


def pair_at(job: Build, chosen: Chosen, *, then: str = "", now: str = "") -> PairBoard:
    """The photos of one place on the job an engine left with and on the one that looks again, and the pair asked for.

    Without an ask, on either side the newest on which the mark was measured, else the newest; as found, of those that
    were taken before any work there. A constant number of queries.
    """
    assert job.follows is not None
    thens, nows = _newest(job.follows, chosen), _newest(job, chosen)
    marks = _marks_on([*thens, *nows])
    thens, nows = _measured_first(thens, marks), _measured_first(nows, marks)
    found = Found([job.pk])
    nows.sort(key=lambda photo: not found.was_there(photo, chosen.position))
    more = len(thens) > OFFERED, len(nows) > OFFERED
    thens, nows = thens[:OFFERED], nows[:OFFERED]
    one, other = _asked(thens, then), _asked(nows, now)
    pair = None
    if one is not None and other is not None:
        pair = laid_over(one, other, marks, is_mark=chosen.kind == PhotoKind.WITNESS_MARK)
    return PairBoard(chosen, thens, nows, pair, frozenset(marks), *more)


def places_in_both(job: Build) -> list[Chosen]:
    """Every place at which photos of one kind are filed on both jobs, in order. One query."""
    filed: QuerySet[Any] = Photo.objects.filter(build__in=[job.pk, job.follows_id]).filed().order_by()
    found: dict[Chosen, set[int]] = {}
    for build, position, kind in filed.values_list(
        "build_id", "filings__position", "filings__kind"
    ).distinct():
        found.setdefault(Chosen(position, kind), set()).add(build)
    marks_first = {kind: number for number, kind in enumerate(PhotoKind.values)}
    both = [chosen for chosen, builds in found.items() if len(builds) == 2]
    return sorted(both, key=lambda chosen: (marks_first[chosen.kind], chosen.position))


def laid_over(then: Photo, now: Photo, marks: Mapping[int, Mapping[str, Any]], *, is_mark: bool) -> PhotoPair:
    """Lay one photo over another so that their rims meet, where the mark was measured on both."""
    whole = (0.0, 0.0, float(then.width), float(then.height))
    one, other = marks.get(then.pk), marks.get(now.pk)
    if one is None or other is None:
        if not is_mark:
            note = NO_RIM
        elif one is None and other is None:
            note = MEASURED_ON_NEITHER
        else:
            note = NOT_MEASURED_THEN if one is None else NOT_MEASURED_NOW
        return PhotoPair(then, now, whole, None, note)
    matrix, same_way = rim_over_rim(one, other)
    return PhotoPair(then, now, tip_box(then, one), matrix, f"{LAID}, {TURNED if same_way else OTHER_WAY}")


def rim_over_rim(
    then: Mapping[str, Any], now: Mapping[str, Any]
) -> tuple[tuple[float, float, float, float, float, float], bool]:
    """Scale, turn and shift [px] that lay the rim measured on one picture over that of another, as a b c d e f of SVG.

    By the rims' centres and long axes, which a tilted camera leaves alone, and by the way in which outboard lies. False
    beside it where the two were measured mirrored, and are not turned.
    """
    scale = then["rim"]["semi_major"] / now["rim"]["semi_major"]
    same_way = (_handed(then) > 0) == (_handed(now) > 0)
    turn = _way_out(then) - _way_out(now) if same_way else 0.0
    a, b = scale * cos(turn), scale * sin(turn)
    (x, y), (to_x, to_y) = now["rim"]["centre"], then["rim"]["centre"]
    return (a, b, -b, a, to_x - (a * x - b * y), to_y - (b * x + a * y)), same_way


def _way_out(mark: Mapping[str, Any]) -> float:
    x, y = mark["frame"]["x"]
    return atan2(y, x)


def _handed(mark: Mapping[str, Any]) -> float:
    (xx, xy), (yx, yy) = mark["frame"]["x"], mark["frame"]["y"]
    return float(xx * yy - xy * yx)


def _newest(build: Build, chosen: Chosen) -> list[Photo]:
    photos = Photo.objects.of(build, position=chosen.position, kind=chosen.kind).order_by("-pk")
    return list(photos[: OFFERED + 1])


def _marks_on(photos: Sequence[Photo]) -> dict[int, Mapping[str, Any]]:
    """What was measured on each photo, from its reading of the inner edge that stands."""
    readings = Reading.objects.standing().filter(photo__in=[photo.pk for photo in photos])
    found: dict[int, Mapping[str, Any]] = {}
    for reading in readings.filter(characteristic=MARK_INNER.key):
        mark = reading.context.get("mark") or {}
        if reading.photo_id is not None and mark.get("rim") and mark.get("frame"):
            found[reading.photo_id] = mark
    return found


def _measured_first(photos: list[Photo], marks: Mapping[int, Any]) -> list[Photo]:
    return sorted(photos, key=lambda photo: photo.pk not in marks)


def _asked(photos: Sequence[Photo], client_id: str) -> Photo | None:
    asked = next((photo for photo in photos if str(photo.client_id) == client_id), None)
    return asked or next(iter(photos), None)
