"""What may be chosen for a finding: photos go by where they are filed now, each once."""

from datetime import date
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse

from builds.evidence_choice import photos_for
from builds.findings import Told, add_finding
from builds.looks import open_return
from builds.models import Build, Finding, Person, Photo, PhotoFiling

pytestmark = pytest.mark.django_db


@pytest.fixture
def finding(closed_job: Build, builder: Person) -> Finding:
    came = open_return(closed_job, builder, came_back_on=date(2026, 3, 1), complaint="noise").build
    return add_finding(came, builder, Told("pushrod bent", "bent", "cyl5"))[0]


@pytest.fixture
def filed_anew(finding: Finding, builder: Person) -> Photo:
    """A photo that was filed at another cylinder first, and at the right one then."""
    photo = Photo.objects.create(
        build=finding.build, name="arm.jpg", media_type="image/jpeg", size=1, sha256="a" * 64, sent_sha256="b" * 64,
        width=40, height=30, path=f"{uuid4()}.jpg", taken_by=builder,
    )  # fmt: skip
    for position, note in (("cyl3", "pushrod bent"), ("cyl5", "pushrod bent")):
        PhotoFiling.objects.create(photo=photo, position=position, note=note, kind="damage", filed_by=builder)
    return photo


def test_a_search_finds_a_photo_once_and_by_its_newest_filing(finding: Finding, filed_anew: Photo) -> None:
    assert list(photos_for(finding, "bent", everywhere=False)) == [filed_anew]
    assert list(photos_for(finding, "cyl5", everywhere=False)) == [filed_anew]
    assert not photos_for(finding, "cyl3", everywhere=False).exists()


def test_photos_at_the_address_are_those_that_are_filed_there_now(
    bench_client: Client, finding: Finding, filed_anew: Photo
) -> None:
    address = reverse("finding-photos", args=[finding.pk])
    assert list(bench_client.get(address, {"at": "here"}).context["page_obj"]) == [filed_anew]
    Finding.objects.filter(pk=finding.pk).update(position="cyl3")
    assert not bench_client.get(address, {"at": "here"}).context["page_obj"].object_list
