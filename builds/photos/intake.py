"""Taking a photo in: the one way. Looks at it, clears it, keeps it, and is safe to repeat.

Everything that can be refused is refused before anything is written; what was written is taken back when the row of
the photo cannot be. The device makes the id: the same file under the same id, sent again because the network went away,
is answered with the photo that is in the book.
"""

import errno
import hashlib
import unicodedata
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db import IntegrityError, transaction
from django.utils import timezone

from builds.models import Build, MediaType, Person, Photo, PhotoFiling
from builds.photos import pictures, tags
from builds.photos.filing import Filing, check_filing
from builds.photos.parts import Fault, Unfit
from builds.photos.renditions import LONG_SIDE, MADE_AT_INTAKE, QUALITY, jpeg_of
from builds.photos.storage import fresh_path, photo_files, put, rendition_path
from builds.photos.upload import MOST_BYTES
from builds.recording import CLOCK_SLACK, FIRST_DAY, EntryQuestioned, EntryRefused

SMALLEST_SIDE = 64
KEPT_KINDS = "JPEG, PNG, WebP or HEIC"
DISK_FULL = {errno.ENOSPC, errno.EDQUOT}
FAULTS = {
    Fault.CUT_OFF: "stops before its end: it was cut off while it was copied or sent. Choose it again, or take it anew.",
    Fault.DAMAGED: "is damaged: it cannot be read to its last line. Choose it again, or take it anew.",
    Fault.MOVING: "moves, or holds several pictures. Send one still picture: take it anew, or send a screenshot of it.",
    Fault.HIDDEN: "keeps its tags where they cannot be taken out, so it would tell where it was taken. Send it as JPEG.",
}


@dataclass(frozen=True)
class Sent:
    """A picture file as it came, and what the person says of it."""

    client_id: UUID
    name: str
    data: bytes
    filing: Filing
    taken_at: datetime | None = None
    device: str = ""
    sure: bool = False


@dataclass(frozen=True)
class Looked:
    """A picture that was found good: its file as it is kept, its size upright, and its smaller pictures."""

    media_type: MediaType
    data: bytes
    removed: tuple[str, ...]
    width: int
    height: int
    renditions: dict[str, bytes]


def take_in(build: Build, person: Person, sent: Sent) -> tuple[Photo, bool]:
    """Keep a photo. Returns it and whether it is new.

    Raises `EntryRefused` (or `EntryQuestioned`, which `sure` answers) with a sentence; nothing of the file is left then.
    """
    name = clean_name(sent.name)
    digest = hashlib.sha256(sent.data).hexdigest()
    known = Photo.objects.filter(client_id=sent.client_id).first()
    if known is not None:
        return _same_again(known, build, digest), False
    _check(build, sent, name, digest)
    looked = look(sent.data, name)
    photo = Photo(
        client_id=sent.client_id, build=build, name=name, media_type=looked.media_type, size=len(looked.data),
        sha256=hashlib.sha256(looked.data).hexdigest(), sent_sha256=digest, width=looked.width, height=looked.height,
        path=fresh_path(looked.media_type), taken_by=person, taken_at=sent.taken_at or timezone.now(),
        device=sent.device[:60], removed=list(looked.removed),
    )  # fmt: skip
    written: list[str] = []
    try:
        _put_files(photo, looked, written)
        _write(photo, person, sent, name)
    except IntegrityError:
        _take_back(written)
        # The same photo, sent a second time, was a moment earlier.
        known = Photo.objects.filter(client_id=sent.client_id).first()
        if known is None:
            raise
        return _same_again(known, build, digest), False
    except BaseException:
        _take_back(written)
        raise
    return photo, True


def clean_name(name: str) -> str:
    """The file's own name, without folders and without characters that write nothing or turn the line around."""
    told = name.replace("\\", "/").rsplit("/", 1)[-1]
    told = "".join(letter for letter in told if unicodedata.category(letter)[0] != "C").strip()
    return told[-120:] or "picture"


def _check(build: Build, sent: Sent, name: str, digest: str) -> None:
    """All that can be refused without decoding anything."""
    if not build.takes_readings:
        raise EntryRefused("build", build.closed_sentence)
    _check_time(sent.taken_at, name)
    check_filing(build, sent.filing)
    refuse_size(len(sent.data), name)
    if not sent.sure:
        _ask_about_twin(build, name, digest)


def refuse_size(size: int, name: str) -> None:
    """Refuse a file with nothing in it, and one that is too large."""
    if size == 0:
        raise EntryRefused("file", f"{name} is empty: no byte of it came. Choose it again, or take it anew.")
    if size > MOST_BYTES:
        raise EntryRefused("file", too_large_sentence(name))


def too_large_sentence(name: str) -> str:
    """Why a file is too large, and what to do."""
    return (
        f"{clean_name(name)} is larger than {MOST_BYTES // 1_000_000} MB, which is the most for one photo. Set the "
        "camera to a smaller picture, or send it as JPEG."
    )


def _check_time(taken_at: datetime | None, name: str) -> None:
    if taken_at is None:
        return
    if timezone.is_naive(taken_at) or not FIRST_DAY <= taken_at <= timezone.now() + CLOCK_SLACK:
        raise EntryRefused(
            "taken_at",
            f"{name} says it is from {taken_at:%d %b %Y %H:%M}, which cannot be. Set the tablet's clock right and send "
            "it again.",
        )


def _ask_about_twin(build: Build, name: str, digest: str) -> None:
    twin = Photo.objects.for_list().filter(build=build, sent_sha256=digest).first()
    if twin is None:
        return
    filing = twin.filing
    where = "set aside" if filing.set_aside else f"{filing.get_kind_display()} at {filing.where}"
    raise EntryQuestioned(
        "file", f"{name} is in this job already as {twin.name}, {where}. Is it to be kept twice?"
    )


def look(data: bytes, name: str) -> Looked:
    """Decide what the file is, clear it, and decode all of it."""
    media_type = pictures.kind_of(data)
    if media_type is None:
        raise EntryRefused(
            "file", f"{name} is {pictures.other_kind_of(data)}. Send the picture as {KEPT_KINDS}."
        )
    try:
        cleared = tags.clear(data, media_type)
        width, height = pictures.measure(cleared.data, media_type)
        if min(width, height) < SMALLEST_SIDE:
            raise EntryRefused(
                "file",
                f"{name} is only {width} by {height} pixels, too small to see anything on. Send the picture itself, "
                f"at least {SMALLEST_SIDE} pixels each way.",
            )
        with pictures.decoding():
            upright = pictures.decode(cleared.data, media_type)
            renditions = {}
            for size in MADE_AT_INTAKE:
                renditions[size] = jpeg_of(upright, LONG_SIDE[size], QUALITY[size])
    except Unfit as unfit:
        raise EntryRefused("file", f"{name} {FAULTS[unfit.fault]}") from None
    except pictures.TooManyPixels:
        raise EntryRefused(
            "file",
            f"{name} has more than {pictures.MOST_PIXELS // 1_000_000} million pixels, more than the book opens. Set the "
            "camera to a smaller picture and take it anew.",
        ) from None
    return Looked(media_type, cleared.data, cleared.removed, upright.width, upright.height, renditions)


def _put_files(photo: Photo, looked: Looked, written: list[str]) -> None:
    """Put the file and its smaller pictures on the disk; `written` tells what to take back."""
    files = {photo.path: looked.data}
    files |= {rendition_path(photo.path, size): data for size, data in looked.renditions.items()}
    for path, data in files.items():
        try:
            put(path, data)
        except OSError as error:
            why = (
                "there is no room left on the book's disk. Make room"
                if error.errno in DISK_FULL
                else f"the book's disk cannot be written ({error.strerror or error}). Look at the disk"
            )
            raise EntryRefused("file", f"{photo.name} is not kept: {why}, then send it again.") from None
        written.append(path)


def _write(photo: Photo, person: Person, sent: Sent, name: str) -> None:
    """Write the rows, after another look at what may have changed while the picture was decoded."""
    with transaction.atomic():
        build = Build.objects.select_for_update().get(pk=photo.build_id)
        if Photo.objects.filter(client_id=photo.client_id).exists():
            raise IntegrityError
        _check(build, sent, name, photo.sent_sha256)
        photo.save()
        PhotoFiling.objects.create(
            photo=photo, client_id=sent.client_id, filed_by=person, **sent.filing.columns()
        )


def _take_back(written: list[str]) -> None:
    for path in written:
        with suppress(OSError):
            photo_files().delete(path)


def _same_again(known: Photo, build: Build, digest: str) -> Photo:
    """Answer a repeated delivery, or refuse an id that is used for another file."""
    if known.build_id != build.pk or known.sent_sha256 != digest:
        raise EntryRefused(
            "file",
            f"This photo's number is already used for {known.name}. Remove it here and choose the picture again.",
        )
    return known
