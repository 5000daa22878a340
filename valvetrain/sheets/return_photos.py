"""The photos of a return report: the same place then and now, and what shows a finding."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Q

from builds.found import Found
from builds.models import Build, Finding, Photo, PhotoKind, Reading
from valvetrain.sheets.photo_log import picture_line
from valvetrain.sheets.return_findings import photos_of
from valvetrain.sheets.return_lines import PhotoLines, PhotoPair, ShownPhoto

# More than these belong into the photo log of the job; what is left out is counted on the report.
MOST_PAIRS, MOST_SHOWN = 6, 18


@dataclass(frozen=True)
class Chosen:
    """Which photos a report prints, before they are lines: `pairs` as (then, now)."""

    pairs: list[tuple[Photo, Photo]]
    shown: list[Photo]
    not_shown: int
    set_aside: int
    concerning: Mapping[int, list[int]]
    measured: Mapping[int, dict[str, Any]]

    @property
    def numbers(self) -> dict[int, int]:
        """The number of each photo on the report, by its key."""
        return {photo.pk: number for number, photo in enumerate(self.printed, start=1)}

    @property
    def printed(self) -> list[Photo]:
        """Every photo that is printed, in the order of the pages."""
        return [each for pair in self.pairs for each in pair] + self.shown


def choose(build: Build, findings: Sequence[Finding], addresses: Iterable[str]) -> Chosen:
    """Choose the photos of a report. `addresses` are the valves that moved most: their pairs come before others.

    A constant number of queries.
    """
    wanted = {pk for each in findings for pk in photos_of(each)}
    concerning: dict[int, list[int]] = {}
    for number, finding in enumerate(findings, start=1):
        for pk in photos_of(finding):
            concerning.setdefault(pk, []).append(number)
    jobs = [build.pk, *([build.follows_id] if build.follows_id is not None else [])]
    filed = Photo.objects.for_list().filter(Q(build__in=jobs) | Q(pk__in=wanted)).filed().order_by("pk")
    photos = {photo.pk: photo for photo in filed}
    pairs = _pairs(
        [each for each in photos.values() if each.build_id in jobs], build, wanted, list(addresses)
    )
    paired = {photo.pk for pair in pairs[:MOST_PAIRS] for photo in pair}
    shown = [photos[pk] for pk in concerning if pk in photos and pk not in paired]
    printed = [*(photo for pair in pairs[:MOST_PAIRS] for photo in pair), *shown[:MOST_SHOWN]]
    return Chosen(
        pairs=pairs[:MOST_PAIRS],
        shown=shown[:MOST_SHOWN],
        not_shown=max(0, len(pairs) - MOST_PAIRS) * 2 + max(0, len(shown) - MOST_SHOWN),
        set_aside=len(wanted - set(photos)),
        concerning=concerning,
        measured=_measured_on(photo for photo in printed if photo.filing.kind == PhotoKind.WITNESS_MARK),
    )


def _pairs(
    photos: Iterable[Photo], build: Build, wanted: set[int], addresses: Sequence[str]
) -> list[tuple[Photo, Photo]]:
    """The newest photo of each place and kind then, beside the newest as found; what a finding shows comes first."""
    found = Found([build.pk])
    then: dict[tuple[str, str], Photo] = {}
    now: dict[tuple[str, str], Photo] = {}
    for photo in photos:
        place = (photo.filing.position, photo.filing.kind)
        if not place[0]:
            continue
        if photo.build_id != build.pk:
            then[place] = photo
        elif not found.was_there(photo, place[0]):
            continue
        elif place not in now or photo.pk in wanted or now[place].pk not in wanted:
            now[place] = photo
    places = {address: rank for rank, address in enumerate(addresses)}

    def rank(place: tuple[str, str]) -> tuple[bool, int, int]:
        photo = now[place]
        return photo.pk not in wanted, places.get(place[0], len(places)), photo.pk

    return [(then[place], now[place]) for place in sorted(set(then) & set(now), key=rank)]


def _measured_on(photos: Iterable[Photo]) -> dict[int, dict[str, Any]]:
    """What was measured on these, as the newest of their readings keeps it."""
    readings = Reading.objects.standing().filter(photo__in=[photo.pk for photo in photos]).order_by("pk")
    return {
        reading.photo_id: dict(reading.context["mark"])
        for reading in readings
        if reading.photo_id is not None and reading.context.get("mark")
    }


def photo_lines(chosen: Chosen) -> PhotoLines:
    """The chosen photos as the report says them."""
    numbers = chosen.numbers

    def shown(photo: Photo) -> ShownPhoto:
        number = numbers[photo.pk]
        line = picture_line(
            photo, f"p{number}", of_mark=photo.filing.kind == PhotoKind.WITNESS_MARK,
            kept=chosen.measured.get(photo.pk),
        )  # fmt: skip
        return ShownPhoto(number, line, chosen.concerning.get(photo.pk, []))

    return PhotoLines(
        pairs=[
            PhotoPair(f"{now.filing.position}/{now.filing.kind}", shown(then), shown(now))
            for then, now in chosen.pairs
        ],
        shown=[shown(photo) for photo in chosen.shown],
        not_shown=chosen.not_shown,
        set_aside=chosen.set_aside,
    )
