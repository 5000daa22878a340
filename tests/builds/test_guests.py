"""Guests: a customer looks at one job by a link, and at nothing else."""

from datetime import date, timedelta
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from builds import guests
from builds.guests import GuestPanel
from builds.models import Build, GuestLink, PartFitted, Person
from builds.photos.filing import Filing
from builds.photos.intake import Sent, take_in
from builds.recording import Entry, record
from tests.builds.photo_files import gradient, picture


@pytest.fixture
def office(db: None) -> Person:
    """Odile, who keeps the customers."""
    return Person.objects.create_user("odile", name="Odile Varga", password="ledger and tea", role="office")


@pytest.fixture
def office_client(office: Person) -> Client:
    client = Client()
    client.force_login(office)
    return client


def make_link(client: Client, job: Build, **sent: str) -> str:
    """Make a link as the office does; the address as it is shown, once."""
    new = reverse("job-link-new", args=[job.pk])
    last = timezone.localdate() + timedelta(days=30)
    page = client.post(new, {"name": "crew chief", "last_day": last.isoformat(), **sent}, follow=True)
    assert page.status_code == 200, page.text
    address = page.text.split('id="fresh-link" readonly value="')[1].split('"')[0]
    return urlsplit(address).path


@pytest.fixture
def address(office_client: Client, job: Build) -> str:
    return make_link(office_client, job)


@pytest.fixture
def guest(address: str) -> Client:
    """A browser at the customer's, in which the link was opened."""
    client = Client()
    assert client.get(address).url == reverse("guest-job")
    return client


def test_a_guest_sees_the_job_without_a_log_in(guest: Client, job: Build) -> None:
    PartFitted.objects.create(build=job, role="pushrod", lot="L-77", note="bought dear")
    page = guest.get(reverse("guest-job"))
    assert (page.status_code, "HR-0417" in page.text, "L-77" in page.text) == (200, True, True)
    assert page["X-Robots-Tag"] == "noindex, nofollow"


def test_a_guest_sees_no_reading_no_note_and_no_way_out(guest: Client, job: Build, builder: Person) -> None:
    Build.objects.filter(pk=job.pk).update(note="pays late")
    PartFitted.objects.create(build=job, role="pushrod", note="bought dear")
    record(job, builder, Entry(uuid4(), "engine", "endplay", "0.0061", "in"))
    page = guest.get(reverse("guest-job")).text
    assert not [
        word for word in ("0.0061", "pays late", "bought dear", "/jobs/", "/customers/") if word in page
    ]


def test_a_guest_never_sees_another_job(guest: Client, closed_job: Build) -> None:
    for name in ("job-detail", "job-readings", "job-links", "log", "job-photos"):
        answer = guest.get(reverse(name, args=[closed_job.pk]))
        assert (answer.status_code, "Your link opens one job" in answer.text) == (403, True)
    assert closed_job.job_number not in guest.get(reverse("guest-job")).text


def test_a_guest_writes_nothing(guest: Client, job: Build) -> None:
    for name in ("job-edit", "photo-upload", "job-link-new"):
        assert guest.post(reverse(name, args=[job.pk]), {"name": "x"}).status_code == 403
    assert guest.post(reverse("guest-job")).status_code == 405
    assert GuestLink.objects.count() == 1


def test_the_address_is_shown_once_and_kept_nowhere(address: str, office_client: Client, job: Build) -> None:
    token = address.strip("/").split("/")[-1]
    assert token not in office_client.get(reverse("job-links", args=[job.pk])).text
    secret = token.split(".")[0]
    assert not [value for value in GuestLink.objects.values_list("digest", flat=True) if secret in value]


@pytest.mark.parametrize("change", ["end", "letter", "rubbish"])
def test_a_wrong_token_is_told_in_a_sentence(address: str, stranger: Client, change: str) -> None:
    token = address.strip("/").split("/")[-1]
    other = "A" if token[3] != "A" else "B"
    wrong = {"end": token[:-4], "letter": token[:3] + other + token[4:], "rubbish": "nothing"}[change]
    answer = stranger.get(reverse("guest-enter", args=[wrong]))
    assert (answer.status_code, "it may have lost its end" in answer.text) == (404, True)
    assert stranger.get(reverse("guest-job")).status_code == 404


def test_a_link_is_open_on_its_last_day_and_over_after_it(
    guest: Client, address: str, stranger: Client
) -> None:
    GuestLink.objects.update(last_day=timezone.localdate())
    assert guest.get(reverse("guest-job")).status_code == 200
    GuestLink.objects.update(last_day=date(2026, 1, 5))
    for answer in (guest.get(reverse("guest-job")), stranger.get(address)):
        assert (answer.status_code, "was open up to 05 Jan 2026" in answer.text) == (410, True)


def test_a_revoked_link_closes_for_whoever_has_it_open(
    guest: Client, address: str, stranger: Client, office_client: Client, office: Person, job: Build
) -> None:
    revoke = reverse("job-link-revoke", args=[job.pk, GuestLink.objects.get().pk])
    office_client.post(revoke)
    first = GuestLink.objects.get().revoked_at
    office_client.post(revoke)
    link = GuestLink.objects.get()
    assert (link.revoked_by, link.revoked_at) == (office, first)
    for answer in (guest.get(reverse("guest-job")), stranger.get(address)):
        assert (answer.status_code, "The shop has closed this link." in answer.text) == (410, True)


def test_a_link_of_another_job_is_not_revoked_through_this_one(
    address: str, office_client: Client, closed_job: Build
) -> None:
    revoke = reverse("job-link-revoke", args=[closed_job.pk, GuestLink.objects.get().pk])
    assert office_client.post(revoke).status_code == 404
    assert GuestLink.objects.get().is_live


@pytest.mark.parametrize(
    ("days", "sentence"),
    [
        (-1, "is over. Choose today or a later day."),
        (366, "open for 365 days at most"),
        (None, "nothing is filled in"),
    ],
)
def test_a_last_day_that_does_not_do_is_refused(
    office_client: Client, job: Build, days: int | None, sentence: str
) -> None:
    day = "" if days is None else (timezone.localdate() + timedelta(days=days)).isoformat()
    answer = office_client.post(
        reverse("job-link-new", args=[job.pk]), {"name": "crew chief", "last_day": day}
    )
    assert (answer.status_code, sentence in answer.text, "crew chief" in answer.text) == (422, True, True)
    assert not GuestLink.objects.exists()


def test_a_link_is_open_for_thirty_days_when_nothing_else_is_said(office_client: Client, job: Build) -> None:
    page = office_client.get(reverse("job-link-new", args=[job.pk])).text
    assert f'value="{timezone.localdate() + timedelta(days=30):%Y-%m-%d}"' in page
    assert make_link(office_client, job, last_day=str(timezone.localdate() + timedelta(days=365)))


def test_whoever_makes_a_link_is_told_that_sealed_sheets_come_with_their_pictures(
    office_client: Client, job: Build
) -> None:
    page = office_client.get(reverse("job-link-new", args=[job.pk])).text
    assert "Sealed sheets are shown whole either way" in page


def test_a_form_sent_twice_makes_one_link(office_client: Client, job: Build) -> None:
    sent = {"name": "crew", "last_day": timezone.localdate().isoformat(), "form_token": str(uuid4())}
    for _ in range(2):
        assert office_client.post(reverse("job-link-new", args=[job.pk]), sent).status_code == 302
    assert GuestLink.objects.count() == 1


def test_a_builder_makes_no_link_and_sees_who_did(bench_client: Client, address: str, job: Build) -> None:
    answer = bench_client.post(reverse("job-link-new", args=[job.pk]), {"name": "me"})
    assert (answer.status_code, "by the office or an owner" in answer.text) == (403, True)
    page = bench_client.get(reverse("job-links", args=[job.pk])).text
    assert "Odile Varga" in page
    assert "Revoke" not in page


def test_the_list_says_when_a_link_was_last_used(address: str, office_client: Client, job: Build) -> None:
    assert "never" in office_client.get(reverse("job-links", args=[job.pk])).text
    browser = Client()
    browser.get(address)
    browser.get(reverse("guest-job"))
    used = GuestLink.objects.get().last_used_at
    browser.get(reverse("guest-job"))
    assert GuestLink.objects.get().last_used_at == used is not None
    assert "never" not in office_client.get(reverse("job-links", args=[job.pk])).text


def a_photo(job: Build, person: Person, tone: int = 0) -> Any:
    sent = Sent(uuid4(), f"p{tone}.jpg", picture("jpeg", gradient(80 + tone, 64)), Filing(kind="part"))
    return take_in(job, person, sent)[0]


def test_photos_are_shown_where_the_link_says_so(
    office_client: Client, job: Build, builder: Person, photo_folder: Path
) -> None:
    photo = a_photo(job, builder)
    plain, with_photos = Client(), Client()
    plain.get(make_link(office_client, job))
    with_photos.get(make_link(office_client, job, shows_photos="on"))
    thumb = reverse("guest-photo", args=[photo.client_id, "thumb"])
    assert (plain.get(thumb).status_code, with_photos.get(thumb).status_code) == (404, 200)
    assert thumb not in plain.get(reverse("guest-job")).text
    assert thumb in with_photos.get(reverse("guest-job")).text
    assert with_photos.get(reverse("guest-photo", args=[photo.client_id, "original"])).status_code == 404
    assert with_photos.get(reverse("photo-file", args=[photo.client_id, "thumb"])).status_code == 403


def test_photos_of_another_job_are_not_shown(
    office_client: Client, job: Build, engine: Any, builder: Person, photo_folder: Path
) -> None:
    other = Build.objects.create(engine=engine, job_number="2026-009")
    photo = a_photo(other, builder)
    browser = Client()
    browser.get(make_link(office_client, job, shows_photos="on"))
    assert browser.get(reverse("guest-photo", args=[photo.client_id, "thumb"])).status_code == 404


def test_another_floor_adds_a_section(guest: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    panel = GuestPanel("Sealed sheets", "builds/_state.html", lambda job: {"job": job})
    silent = GuestPanel("Nothing here", "builds/_state.html", lambda job: None)
    monkeypatch.setattr(guests, "guest_panels", [panel, silent])
    page = guest.get(reverse("guest-job")).text
    assert ("Sealed sheets" in page, "Nothing here" in page) == (True, False)


def test_a_person_looks_through_a_link_and_stays_logged_in(owner_client: Client, address: str) -> None:
    owner_client.get(address)
    assert owner_client.get(reverse("guest-job")).status_code == 200
    assert owner_client.get(reverse("person-new")).status_code == 200


def test_the_list_of_links_asks_the_same_for_2_and_for_40(
    owner_client: Client, owner: Person, job: Build, queries: Any
) -> None:
    def add(numbers: range) -> None:
        for number in numbers:
            GuestLink.objects.create(build=job, digest=f"{number}", name=f"L {number}", made_by=owner)

    add(range(2))
    few = queries(owner_client, reverse("job-links", args=[job.pk]))
    add(range(2, 40))
    assert queries(owner_client, reverse("job-links", args=[job.pk])) == few
