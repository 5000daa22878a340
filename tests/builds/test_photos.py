"""The pages of photos, their files, and the address they are sent to."""

import io
from collections.abc import Callable
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from builds import health
from builds.models import Build, PartFitted, Person, Photo, PhotoFiling
from builds.photos import acts
from builds.photos.filing import Filing
from builds.photos.intake import Sent, take_in
from builds.recording import Entry, EntryRefused, record
from tests.builds.photo_files import gradient, picture, tagged

pytestmark = pytest.mark.django_db
Queries = Callable[[Client, str], int]


def keyed(person: Person, data: bytes | None = None, name: str = "mark.jpg", **more: str) -> dict[str, Any]:
    """What the tablet sends for one photo."""
    file = SimpleUploadedFile(name, picture("jpeg") if data is None else data, "image/jpeg")
    return {
        "client_id": str(uuid4()), "by": str(person.pk), "position": "cyl3", "kind": "damage", "note": "scored",
        "taken_at": timezone.now().isoformat(), "photo": file, **more,
    }  # fmt: skip


def a_photo(job: Build, person: Person, tone: int = 0, **filing: Any) -> Photo:
    """A photo in the book, unlike any other."""
    data = picture("jpeg", gradient(80 + tone, 64))
    return take_in(job, person, Sent(uuid4(), f"p{tone}.jpg", data, Filing(**filing)))[0]


@pytest.fixture
def url(job: Build) -> str:
    """Where the photos of the job go."""
    return reverse("photo-upload", args=[job.pk])


@pytest.fixture
def kept(job: Build, builder: Person, photo_folder: Path) -> Photo:
    """One photo, with tags when it was sent."""
    return take_in(job, builder, Sent(uuid4(), "IMG 7.JPG", tagged("jpeg"), Filing(position="cyl3")))[0]


def test_a_photo_is_taken_in_and_its_page_told(
    bench_client: Client, builder: Person, url: str, photo_folder: Path
):
    answer = bench_client.post(url, keyed(builder)).json()
    photo = Photo.objects.for_list().get()
    assert answer["page"] == photo.get_absolute_url()
    assert answer["new"] is True
    assert (photo.name, photo.filing.position, photo.filing.note) == ("mark.jpg", "cyl3", "scored")
    assert bench_client.get(answer["thumb"]).status_code == 200


def test_the_same_delivery_twice_is_answered_alike(
    bench_client: Client, builder: Person, url: str, photo_folder: Path
):
    sent = keyed(builder)
    first = bench_client.post(url, sent).json()
    sent["photo"].seek(0)
    second = bench_client.post(url, sent).json()
    assert (first["client_id"], first["new"], second["new"]) == (second["client_id"], True, False)


@pytest.mark.parametrize(
    ("more", "sentence"),
    [
        ({"photo": ""}, "No picture came along"),
        ({"client_id": "x"}, "too old to save from"),
        ({"by": "999"}, "Somebody else keyed this in"),
        ({"position": "9Z"}, "There is no “9Z” on job 2026-001"),
        ({"taken_at": "yesterday"}, "is not a time"),
        ({"note": "a\0b"}, "cannot be written"),
    ],
)
def test_what_does_not_fit_is_refused_in_words(
    bench_client: Client, builder: Person, url: str, photo_folder: Path, more: dict[str, str], sentence: str
):
    answer = bench_client.post(url, {**keyed(builder), **more})
    assert answer.status_code == 422
    assert sentence in answer.json()["sentence"]
    assert list(photo_folder.iterdir()) == []


@pytest.mark.parametrize("size", [40_000_500, 60_000_000])
def test_a_file_that_is_too_large_gets_its_sentence(
    bench_client: Client, builder: Person, url: str, photo_folder: Path, size: int
):
    answer = bench_client.post(url, keyed(builder, bytes(size), "large.jpg"))
    assert answer.status_code == 422
    assert answer.json()["sentence"].startswith("large.jpg is larger than 40 MB")
    assert list(photo_folder.iterdir()) == []


def test_a_twin_is_asked_about_and_kept_when_it_is_meant(
    bench_client: Client, builder: Person, url: str, photo_folder: Path
):
    bench_client.post(url, keyed(builder))
    asked = bench_client.post(url, keyed(builder))
    assert (asked.status_code, asked.json()["question"]) == (422, True)
    assert bench_client.post(url, keyed(builder, sure="yes")).status_code == 200
    assert Photo.objects.count() == 2


def test_a_stranger_sends_nothing_and_sees_nothing(stranger: Client, builder: Person, url: str, kept: Photo):
    pages = [
        reverse("photo-file", args=[kept.client_id, size]) for size in ("thumb", "screen", "full", "original")
    ]
    pages += [kept.get_absolute_url(), reverse("job-photos", args=[kept.build_id])]
    for page in pages:
        assert stranger.get(page).url.startswith(reverse("login"))
    assert stranger.post(url, keyed(builder)).url.startswith(reverse("login"))
    assert stranger.post(reverse("photo-refile", args=[kept.client_id])).url.startswith(reverse("login"))
    assert Photo.objects.count() == 1


def test_somebody_deactivated_sends_nothing_and_sees_nothing(
    left_client: Client, second: Person, url: str, kept: Photo
):
    assert left_client.post(url, keyed(second)).url.startswith(reverse("login"))
    assert left_client.get(reverse("photo-file", args=[kept.client_id, "thumb"])).url.startswith(
        reverse("login")
    )
    assert Photo.objects.count() == 1


def test_a_form_from_elsewhere_sends_nothing(builder: Person, url: str, photo_folder: Path):
    client = Client(enforce_csrf_checks=True)
    client.force_login(builder)
    assert client.post(url, keyed(builder)).status_code == 403
    assert Photo.objects.count() == 0


@pytest.mark.parametrize("size", ["thumb", "screen", "full"])
def test_a_rendition_is_shown_with_safe_heads(bench_client: Client, kept: Photo, size: str):
    answer = bench_client.get(reverse("photo-file", args=[kept.client_id, size]))
    assert answer["Content-Type"] == "image/jpeg"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Content-Security-Policy"] == "default-src 'none'; sandbox"
    assert answer["Content-Disposition"] == 'inline; filename="2026-001-img-7.jpg"'
    assert answer["Cache-Control"] == "private, max-age=31536000, immutable"
    with Image.open(io.BytesIO(answer.content)) as found:
        assert found.format == "JPEG"


@pytest.mark.parametrize(("kind", "media"), [("jpeg", "image/jpeg"), ("heic", "image/heic")])
def test_the_kept_file_is_downloaded_only(
    bench_client: Client, job: Build, builder: Person, photo_folder: Path, kind: str, media: str
):
    photo, _new = take_in(job, builder, Sent(uuid4(), f'<b>"é.{kind}', picture(kind), Filing()))
    answer = bench_client.get(reverse("photo-file", args=[photo.client_id, "original"]))
    assert answer["Content-Type"] == media
    assert (
        answer["Content-Disposition"]
        == f'attachment; filename="2026-001-be.{"jpg" if kind == "jpeg" else kind}"'
    )
    assert answer.content == picture(kind)


def test_a_file_that_the_browser_has_is_not_sent_again(bench_client: Client, kept: Photo):
    address = reverse("photo-file", args=[kept.client_id, "thumb"])
    etag = bench_client.get(address)["ETag"]
    assert bench_client.get(address, headers={"if-none-match": etag}).status_code == 304


def test_an_unknown_size_and_a_lost_file_are_not_found(bench_client: Client, kept: Photo, photo_folder: Path):
    assert bench_client.get(reverse("photo-file", args=[kept.client_id, "huge"])).status_code == 404
    (photo_folder / kept.path).unlink()
    assert bench_client.get(reverse("photo-file", args=[kept.client_id, "original"])).status_code == 404
    assert bench_client.get(reverse("photo-file", args=[uuid4(), "thumb"])).status_code == 404


def test_the_photos_page_tells_what_it_lists(bench_client: Client, job: Build, kept: Photo):
    shown = bench_client.get(reverse("job-photos", args=[job.pk])).text
    assert 'loading="lazy"' in shown
    assert 'width="160" height="120"' in shown
    assert 'capture="environment"' in shown
    assert " style=" not in shown


def test_photos_are_chosen_by_address_kind_and_whether_they_are_set_aside(
    bench_client: Client, job: Build, builder: Person, photo_folder: Path
):
    a_photo(job, builder, 1, position="cyl1", kind="damage")
    a_photo(job, builder, 2, kind="part", note="lot seven")
    a_photo(job, builder, 3, set_aside=True, reason="thumb before the lens")
    page = reverse("job-photos", args=[job.pk])
    everything, at_one, nowhere, parts, aside = (
        bench_client.get(page, query).text
        for query in ({}, {"at": "cyl1"}, {"at": "none"}, {"kind": "part"}, {"aside": "yes"})
    )
    assert "2 photos." in everything
    assert "Damage cyl1" in at_one
    assert "lot seven" not in at_one
    assert "lot seven" in nowhere
    assert "lot seven" in parts
    assert "thumb before the lens" in aside
    assert "thumb before the lens" not in everything


def test_the_jobs_page_has_a_section_with_the_newest(
    bench_client: Client, job: Build, builder: Person, photo_folder: Path
):
    for tone in range(8):
        a_photo(job, builder, tone)
    answer = bench_client.get(reverse("job-photos", args=[job.pk]), headers={"hx-request": "true"}).text
    assert "<!doctype html>" not in answer
    assert answer.count("<img") == 6
    assert "The newest 6 of 8." in answer
    assert reverse("job-photos", args=[job.pk]) in bench_client.get(job.get_absolute_url()).text


def test_the_grid_alone_is_brought_anew(bench_client: Client, job: Build, kept: Photo):
    heads = {"hx-request": "true", "hx-target": "photo-grid"}
    answer = bench_client.get(reverse("job-photos", args=[job.pk]), headers=heads).text
    assert answer.strip().startswith('<div id="photo-grid"')


def test_the_lists_ask_the_same_however_many_photos_there_are(
    bench_client: Client, job: Build, builder: Person, photo_folder: Path, queries: Queries
):
    page = reverse("job-photos", args=[job.pk])
    a_photo(job, builder, 0, position="cyl1")
    few = queries(bench_client, page), queries(bench_client, job.get_absolute_url())
    for tone in range(1, 12):
        photo = a_photo(job, builder, tone, position=f"cyl{1 + tone % 8}")
        PhotoFiling.objects.create(photo=photo, kind="part", filed_by=builder)
    assert (queries(bench_client, page), queries(bench_client, job.get_absolute_url())) == few


def test_a_photos_page_asks_the_same_however_often_it_was_filed(
    bench_client: Client, job: Build, builder: Person, kept: Photo, queries: Queries
):
    part = PartFitted.objects.create(build=job, role="pushrod")
    few = queries(bench_client, kept.get_absolute_url())
    for note in "abcdef":
        PhotoFiling.objects.create(photo=kept, note=note, filed_by=builder, part=part)
    assert queries(bench_client, kept.get_absolute_url()) == few


def test_a_photos_page_tells_its_digests_and_what_was_taken_out(bench_client: Client, kept: Photo):
    shown = bench_client.get(kept.get_absolute_url()).text
    assert kept.sha256 in shown
    assert kept.sent_sha256 in shown
    assert "where it was taken" in shown
    assert " style=" not in shown


def test_another_floor_adds_its_keys(bench_client: Client, kept: Photo, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(acts, "photo_acts", [lambda photo: [("Measure the mark", f"/m/{photo.pk}")]])
    assert f'href="/m/{kept.pk}">Measure the mark' in bench_client.get(kept.get_absolute_url()).text


def filed(**more: str) -> dict[str, str]:
    return {"client_id": str(uuid4()), "position": "cyl5", "kind": "part", "note": "", "reason": "", **more}


def test_a_photo_is_filed_again_by_its_form(bench_client: Client, kept: Photo):
    sent = filed(note="wrong cylinder before")
    for _ in range(2):
        assert (
            bench_client.post(reverse("photo-refile", args=[kept.client_id]), sent).url
            == kept.get_absolute_url()
        )
    assert [each.position for each in kept.filings.all()] == ["cyl3", "cyl5"]


def test_filing_as_it_was_adds_nothing(bench_client: Client, kept: Photo):
    bench_client.post(reverse("photo-refile", args=[kept.client_id]), filed(position="cyl3", kind="other"))
    assert kept.filings.count() == 1


@pytest.mark.parametrize(
    ("more", "sentence"),
    [
        ({"set_aside": "on"}, "Say why the photo is set aside"),
        ({"position": "cyl77"}, "address"),
        ({"kind": "selfie"}, "What it shows"),
        ({"note": "x" * 201}, "200"),
        ({"client_id": "x"}, "This page is too old to save from"),
        ({"client_id": ""}, "This page is too old to save from"),
    ],
)
def test_a_filing_that_does_not_fit_is_refused_and_stays_typed(
    bench_client: Client, kept: Photo, more: dict[str, str], sentence: str
):
    answer = bench_client.post(
        reverse("photo-refile", args=[kept.client_id]), filed(**{"note": "typed", **more})
    )
    assert answer.status_code == 422
    assert sentence.lower() in answer.text.lower()
    assert more.get("note", "typed") in answer.text
    assert kept.filings.count() == 1


def test_a_closed_job_is_not_filed_anew(bench_client: Client, job: Build, kept: Photo):
    Build.objects.filter(pk=job.pk).update(went_out_on="2026-02-01")
    answer = bench_client.post(reverse("photo-refile", args=[kept.client_id]), filed())
    assert (answer.status_code, "its log is closed" in answer.text) == (422, True)
    assert "its log is closed" in bench_client.get(reverse("job-photos", args=[job.pk])).text
    assert kept.filings.count() == 1


def test_a_part_with_a_photo_stays(bench_client: Client, job: Build, builder: Person, photo_folder: Path):
    part = PartFitted.objects.create(build=job, role="pushrod")
    a_photo(job, builder, 1, part=part)
    answer = bench_client.post(reverse("part-remove", args=[job.pk, part.pk]), follow=True)
    assert "a photo is filed to it, so it stays" in answer.text
    assert PartFitted.objects.filter(pk=part.pk).exists()


def entry(photo: Photo) -> Entry:
    return Entry(uuid4(), "cyl1", "bore", "4.0300", "in", photo=photo, how="photo")


def test_a_reading_is_taken_on_a_photo_of_its_job(
    bench_client: Client, job: Build, builder: Person, kept: Photo
):
    reading, _new = record(job, builder, entry(kept))
    assert reading.photo == kept
    assert "Measured on it" in bench_client.get(kept.get_absolute_url()).text


def test_a_reading_on_a_photo_of_another_job_or_set_aside_is_refused(
    job: Build, engine: Any, builder: Person, kept: Photo
):
    other = Build.objects.create(engine=engine, job_number="2026-009")
    with pytest.raises(EntryRefused, match="belongs to another job"):
        record(other, builder, entry(kept))
    PhotoFiling.objects.create(photo=kept, set_aside=True, reason="blurred", filed_by=builder)
    with pytest.raises(EntryRefused, match="set aside: blurred"):
        record(job, builder, entry(Photo.objects.get()))


def test_health_tells_of_photos_that_are_gone_or_changed(kept: Photo, photo_folder: Path):
    assert health.photos().sentence == "Those looked at are as they were kept."
    (photo_folder / "00").mkdir()
    (photo_folder / "00" / "left.jpg").write_bytes(b"x")
    assert "left by a cut while saving: 1" in health.photos().sentence
    (photo_folder / kept.path).write_bytes(b"x")
    assert "IMG 7.JPG of job 2026-001 (changed)" in health.photos().sentence
    (photo_folder / kept.path).unlink()
    assert "IMG 7.JPG of job 2026-001 (gone)" in health.photos().sentence
    assert not health.photos().well
