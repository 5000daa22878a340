"""Taking a photo in: what is kept, what is refused and how, and that nothing is left of what was refused."""

import errno
import hashlib
import io
import zlib
from datetime import timedelta
from pathlib import Path
from uuid import uuid4

import numpy as np
import pytest
from django.core.files.storage import storages
from django.db import DatabaseError, connection
from django.utils import timezone
from PIL import Image, ImageFile

from builds.models import Build, PartFitted, Person, Photo, PhotoFiling, PhotoKind
from builds.photos import intake, storage
from builds.photos.filing import Filing, file_again
from builds.photos.intake import Sent, take_in
from builds.photos.renditions import open_rendition, picture_of, print_jpeg
from builds.recording import EntryQuestioned, EntryRefused
from tests.builds.photo_files import KINDS, MEDIA, OWNER, gradient, picture, pixels, tagged

pytestmark = pytest.mark.django_db


def sent(data: bytes, name: str = "picture.jpg", **more: object) -> Sent:
    """A file as the tablet sends it."""
    filing = more.pop("filing", Filing(position="cyl3", kind=PhotoKind.DAMAGE, note="scored"))
    return Sent(client_id=uuid4(), name=name, data=data, filing=filing, **more)  # type: ignore[arg-type]


def files(folder: Path) -> list[Path]:
    """Every file under the folder of photos, hidden ones too."""
    return [path for path in folder.rglob("*") if path.is_file()]


def refused(job: Build, person: Person, folder: Path, case: Sent) -> str:
    """The sentence of a refusal, after making sure that nothing of the file is left."""
    with pytest.raises(EntryRefused) as told:
        take_in(job, person, case)
    assert (Photo.objects.count(), PhotoFiling.objects.count()) == (0, 0)
    assert files(folder) == []
    return told.value.sentence


@pytest.mark.parametrize("kind", KINDS)
def test_a_photo_is_kept_cleared_with_both_digests(
    job: Build, builder: Person, photo_folder: Path, kind: str
):
    data = tagged(kind)
    photo, new = take_in(job, builder, sent(data, f"a.{kind}"))
    kept = (photo_folder / photo.path).read_bytes()
    assert new
    assert (photo.media_type, photo.size) == (MEDIA[kind], len(kept))
    assert photo.sent_sha256 == hashlib.sha256(data).hexdigest()
    assert photo.sha256 == hashlib.sha256(kept).hexdigest()
    assert OWNER not in kept
    assert "where it was taken" in photo.removed
    assert np.array_equal(pixels(kept), pixels(data))


def test_the_photo_is_filed_where_it_was_said(job: Build, builder: Person, photo_folder: Path):
    photo, _new = take_in(job, builder, sent(picture("jpeg")))
    filing = Photo.objects.for_list().get().filing
    assert (filing.position, filing.kind, filing.note, filing.filed_by) == (
        "cyl3",
        "damage",
        "scored",
        builder,
    )
    assert list(Photo.objects.of(job, position="cyl3", kind="damage")) == [photo]
    assert list(Photo.objects.of(job, position="cyl4")) == []


def test_what_a_file_is_decides_its_content_and_not_its_name(job: Build, builder: Person, photo_folder: Path):
    photo, _new = take_in(job, builder, sent(picture("png"), "holiday.jpg"))
    assert photo.media_type == "image/png"
    assert photo.path.endswith(".png")


@pytest.mark.parametrize("kind", ["jpeg", "png", "webp"])
@pytest.mark.parametrize("orientation", [3, 6, 8])
def test_renditions_stand_upright(
    job: Build, builder: Person, photo_folder: Path, kind: str, orientation: int
):
    turned = {3: Image.Transpose.ROTATE_180, 6: Image.Transpose.ROTATE_90, 8: Image.Transpose.ROTATE_270}
    stored = gradient().transpose(turned[orientation])
    photo, _new = take_in(job, builder, sent(tagged(kind, orientation, stored)))
    assert (photo.width, photo.height) == (160, 120)
    for size in ("thumb", "screen", "full"):
        data, media_type = open_rendition(photo, size)
        assert media_type == "image/jpeg"
        assert np.abs(pixels(data).astype(int) - np.asarray(gradient()).astype(int)).mean() < 6
    assert picture_of(photo).size == (160, 120)


def test_renditions_are_small_and_without_any_tag(job: Build, builder: Person, photo_folder: Path):
    photo, _new = take_in(job, builder, sent(tagged("jpeg", 1, gradient(5000, 2000))))
    for size, long_side in (("thumb", 320), ("screen", 1600), ("full", 4096)):
        with Image.open(io.BytesIO(open_rendition(photo, size)[0])) as found:
            assert max(found.size) == long_side
            assert dict(found.getexif()) == {}
            assert set(found.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}


def test_a_rendition_that_is_gone_is_made_anew(job: Build, builder: Person, photo_folder: Path):
    photo, _new = take_in(job, builder, sent(picture("jpeg")))
    before = open_rendition(photo, "thumb")[0]
    (photo_folder / storage.rendition_path(photo.path, "thumb")).unlink()
    assert open_rendition(photo, "thumb")[0] == before


def test_a_part_of_a_photo_is_printed_small(job: Build, builder: Person, photo_folder: Path):
    photo, _new = take_in(job, builder, sent(picture("jpeg", gradient(1200, 900))))
    with Image.open(io.BytesIO(print_jpeg(photo, 200, (300, 300, 700, 500)))) as found:
        assert found.size == (200, 100)


def bomb() -> bytes:
    """A PNG of a few kilobytes that opens to 400 million pixels."""

    def chunk(name: bytes, body: bytes) -> bytes:
        return len(body).to_bytes(4, "big") + name + body + zlib.crc32(name + body).to_bytes(4, "big")

    head = (20_000).to_bytes(4, "big") * 2 + b"\x01\0\0\0\0"
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(bytes(100_000)))
        + chunk(b"IEND", b"")
    )


def moving() -> bytes:
    frames = [gradient(), gradient().transpose(Image.Transpose.ROTATE_180)]
    return picture("webp", frames[0], save_all=True, append_images=frames[1:])


def damaged() -> bytes:
    data = bytearray(picture("png", gradient(400, 300)))
    at = data.index(b"IDAT") + 40
    data[at : at + 200] = bytes(200)
    return bytes(data)


REFUSALS = [
    (b"", "picture.jpg is empty"),
    (b"GIF89a" + bytes(60), "picture.jpg is a GIF picture. Send the picture as JPEG, PNG, WebP or HEIC."),
    (b"%PDF-1.7 " + bytes(60), "is a PDF"),
    (b"<svg xmlns='http://www.w3.org/2000/svg'><script/></svg>", "is a drawing or a web page"),
    (b"\0\0\0\x18ftypmp42\0\0\0\0mp42isom", "is a film"),
    (b"\0\0\0\x1cftypavif\0\0\0\0mif1avif", "is an AVIF picture"),
    (b"MZ" + bytes(100), "is no picture that the book can read"),
    (picture("jpeg")[:-400], "stops before its end"),
    (picture("png")[:-100], "stops before its end"),
    (picture("webp")[:-50], "stops before its end"),
    (picture("heic")[:-300], "stops before its end"),
    (damaged(), "is damaged: it cannot be read to its last line"),
    (picture("jpeg", gradient(200, 40)), "is only 200 by 40 pixels"),
    (moving(), "moves, or holds several pictures"),
    (bomb(), "has more than 64 million pixels"),
    (bytes(40_000_001), "is larger than 40 MB"),
]  # fmt: skip


def test_a_damaged_picture_is_refused_also_where_another_library_lets_it_pass(
    job: Build, builder: Person, photo_folder: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(ImageFile, "LOAD_TRUNCATED_IMAGES", True)
    assert "is damaged" in refused(job, builder, photo_folder, sent(damaged()))


@pytest.mark.parametrize(("data", "sentence"), REFUSALS, ids=[sentence[:30] for _, sentence in REFUSALS])
def test_what_cannot_be_kept_is_refused_in_words(
    job: Build, builder: Person, photo_folder: Path, data: bytes, sentence: str
):
    told = refused(job, builder, photo_folder, sent(data))
    assert sentence in told
    assert told.startswith("picture.jpg ")


def test_a_place_that_the_job_does_not_have_is_refused(job: Build, builder: Person, photo_folder: Path):
    told = refused(job, builder, photo_folder, sent(picture("jpeg"), filing=Filing(position="cyl99")))
    assert "There is no “cyl99” on job 2026-001" in told


def test_a_kind_that_is_none_is_refused(job: Build, builder: Person, photo_folder: Path):
    assert "nothing that a photo shows" in refused(
        job, builder, photo_folder, sent(picture("jpeg"), filing=Filing(kind="selfie"))
    )


def test_a_note_that_is_too_long_is_refused(job: Build, builder: Person, photo_folder: Path):
    assert "longer than 200" in refused(
        job, builder, photo_folder, sent(picture("jpeg"), filing=Filing(note="x" * 201))
    )


def test_a_time_to_come_is_refused(job: Build, builder: Person, photo_folder: Path):
    case = sent(picture("jpeg"), taken_at=timezone.now() + timedelta(days=2))
    assert "which cannot be" in refused(job, builder, photo_folder, case)


def test_a_closed_job_takes_no_photo(closed_job: Build, builder: Person, photo_folder: Path):
    assert "its log is closed" in refused(closed_job, builder, photo_folder, sent(picture("jpeg")))


def test_the_same_delivery_twice_is_one_photo(job: Build, builder: Person, photo_folder: Path):
    case = sent(picture("jpeg"))
    first, second = take_in(job, builder, case), take_in(job, builder, case)
    assert (first[0], first[1], second[1]) == (second[0], True, False)
    assert Photo.objects.count() == 1
    assert len(files(photo_folder)) == 3, "the file, and two smaller pictures"


def test_one_number_for_two_files_is_refused(job: Build, builder: Person, photo_folder: Path):
    case = sent(picture("jpeg"))
    take_in(job, builder, case)
    other = Sent(case.client_id, "b.png", picture("png"), Filing())
    with pytest.raises(EntryRefused, match="already used for picture"):
        take_in(job, builder, other)
    assert Photo.objects.count() == 1


def test_the_same_bytes_under_another_number_are_asked_about(job: Build, builder: Person, photo_folder: Path):
    take_in(job, builder, sent(picture("jpeg")))
    with pytest.raises(EntryQuestioned, match=r"in this job already as picture\.jpg, damage at cyl3"):
        take_in(job, builder, sent(picture("jpeg"), "again.jpg"))
    take_in(job, builder, sent(picture("jpeg"), "again.jpg", sure=True))
    assert Photo.objects.count() == 2


def test_a_full_disk_is_told_and_leaves_nothing(
    job: Build, builder: Person, photo_folder: Path, monkeypatch: pytest.MonkeyPatch
):
    put, calls = storage.put, []

    def full(path: str, data: bytes) -> None:
        calls.append(path)
        if len(calls) == 2:
            raise OSError(errno.ENOSPC, "No space left on device")
        put(path, data)

    monkeypatch.setattr(intake, "put", full)
    assert "no room left on the book's disk" in refused(job, builder, photo_folder, sent(picture("jpeg")))


def test_half_a_file_never_stands_under_a_whole_ones_name(
    photo_folder: Path, monkeypatch: pytest.MonkeyPatch
):
    def broken(handle: int) -> None:
        raise OSError(errno.EIO, "Input/output error")

    monkeypatch.setattr(storage.os, "fsync", broken)
    with pytest.raises(OSError, match="Input/output"):
        storage.put("ab/whole.jpg", b"bytes")
    assert files(photo_folder) == []


def test_a_row_that_cannot_be_written_takes_its_file_along(
    job: Build, builder: Person, photo_folder: Path, monkeypatch: pytest.MonkeyPatch
):
    def gone(*args: object, **kwargs: object) -> None:
        raise DatabaseError("disk I/O error")

    monkeypatch.setattr(Photo, "save", gone)
    with pytest.raises(DatabaseError):
        take_in(job, builder, sent(picture("jpeg")))
    assert files(photo_folder) == []


def test_a_photo_has_no_public_address(photo_folder: Path):
    with pytest.raises(ValueError, match="no public address"):
        storages["photos"].url("ab/cd.jpg")


@pytest.mark.parametrize(
    ("name", "kept"),
    [
        ("../../etc/passwd.jpg", "passwd.jpg"),
        ("C:\\fakepath\\mark.jpg", "mark.jpg"), ("a\u202egpj.exe\0", "agpj.exe"), ("  ", "picture")],
)  # fmt: skip
def test_a_name_keeps_only_what_can_be_read(name: str, kept: str):
    assert intake.clean_name(name) == kept


def test_a_photo_is_filed_again_and_the_old_filing_stays(
    job: Build, builder: Person, second: Person, photo_folder: Path
):
    photo, _new = take_in(job, builder, sent(picture("jpeg")))
    part = PartFitted.objects.create(build=job, role="pushrod")
    number = uuid4()
    filing = Filing(position="cyl4", part=part, kind=PhotoKind.PART, note="lot 7")
    _filing, new = file_again(photo, second, client_id=number, filing=filing)
    _same, twice = file_again(photo, second, client_id=number, filing=filing)
    assert (new, twice) == (True, False)
    assert [str(each) for each in photo.filings.all()] == ["damage cyl3", "part cyl4"]
    assert list(Photo.objects.of(job, position="cyl3")) == []
    assert list(Photo.objects.of(job, position="cyl4")) == [photo]


def test_a_photo_set_aside_says_why_and_is_no_longer_shown(job: Build, builder: Person, photo_folder: Path):
    photo, _new = take_in(job, builder, sent(picture("jpeg")))
    with pytest.raises(EntryRefused, match="Say why the photo is set aside"):
        file_again(photo, builder, client_id=uuid4(), filing=Filing(set_aside=True, reason=" "))
    file_again(photo, builder, client_id=uuid4(), filing=Filing(set_aside=True, reason="blurred"))
    assert list(Photo.objects.of(job)) == []
    assert list(Photo.objects.filed(set_aside=True)) == [photo]


def test_the_part_of_another_job_is_refused(
    job: Build, closed_job: Build, builder: Person, photo_folder: Path
):
    photo, _new = take_in(job, builder, sent(picture("jpeg")))
    foreign = PartFitted.objects.create(build=closed_job, role="pushrod")
    with pytest.raises(EntryRefused, match="not fitted to job 2026-001"):
        file_again(photo, builder, client_id=uuid4(), filing=Filing(part=foreign))


def test_photos_are_never_changed_in_the_database(job: Build, builder: Person, photo_folder: Path):
    take_in(job, builder, sent(picture("jpeg")))
    for table in ("builds_photo", "builds_photofiling"):
        with pytest.raises(DatabaseError, match="never changed"), connection.cursor() as cursor:
            cursor.execute(f"UPDATE {table} SET client_id = client_id")
