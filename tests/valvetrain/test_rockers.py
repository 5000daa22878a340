"""Rocker sets of a job."""

import uuid
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from builds.models import Build
from tests.valvetrain.shopfloor import a_job, some_rockers
from valvetrain.models import RockerSet

pytestmark = pytest.mark.django_db


@pytest.fixture
def job(db: None) -> Build:
    return a_job()


def typed(**changes: str) -> dict[str, str]:
    return {
        "name": "Steel, offset",
        "fits": "both",
        "arm_length": "1.65",
        "tip_diameter": ".470",
        "shaft_diameter": "0.700",
        "ratio": "1.6",
        "square_at": "0.5",
        "material": "steel",
        "form_token": str(uuid.uuid4()),
        **changes,
    }


def send(client: Client, job: Build, **changes: str):
    return client.post(reverse("rocker-set-new", args=[job.pk]), typed(**changes))


def test_rockers_are_entered_in_inches(bench_client: Client, job: Build):
    send(bench_client, job)

    assert RockerSet.objects.get(build=job).tip_diameter == Decimal("0.47")


def test_rockers_are_entered_in_millimetres_by_a_person_who_reads_them(
    bench_client: Client, builder, job: Build
):
    builder.length_unit = "mm"
    builder.save()

    send(bench_client, job, arm_length="41.91", tip_diameter="12", shaft_diameter="18")

    assert RockerSet.objects.get(build=job).arm_length == Decimal("1.65")


def test_rockers_that_are_sent_twice_are_entered_once(bench_client: Client, job: Build):
    token = str(uuid.uuid4())

    for _ in range(2):
        assert send(bench_client, job, form_token=token).status_code == 302

    assert RockerSet.objects.count() == 1


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"arm_length": ""}, "Arm length: nothing is filled in."),
        ({"arm_length": "0"}, "that is too small. Type a value above 0."),
        ({"ratio": "one six"}, "Nominal ratio: type a number from 0.5 to 3."),
        ({"ratio": "-1,6"}, "Nominal ratio: type a number from 0.5 to 3."),
        ({"ratio": "1.61803"}, "with at most 4 figures behind the point"),
        ({"square_at": "2"}, "Square at, as a part of lift: type a number from 0 to 1."),
        ({"tip_diameter": "12 kg"}, "is not a unit that fits here"),
    ],
)
def test_it_says_what_is_wrong_with_rockers(
    bench_client: Client, job: Build, changes: dict[str, str], sentence: str
):
    response = send(bench_client, job, **changes)

    assert response.status_code == 422
    assert sentence in response.content.decode()


def test_one_set_works_each_kind_of_valve(bench_client: Client, job: Build):
    some_rockers(job)

    for fits in ("both", "I"):
        response = send(bench_client, job, fits=fits)
        assert response.status_code == 422

    assert "works intake and exhaust: change that one to one kind first" in response.content.decode()


def test_a_second_set_works_the_other_kind(bench_client: Client, job: Build):
    some_rockers(job, fits="I")

    assert send(bench_client, job, fits="E").status_code == 302


def test_rockers_are_changed(bench_client: Client, job: Build):
    rockers = some_rockers(job)

    bench_client.post(reverse("rocker-set-edit", args=[rockers.pk]), typed(arm_length="1.652"))

    rockers.refresh_from_db()
    assert rockers.arm_length == Decimal("1.652")


def test_nobody_enters_rockers_without_logging_in(stranger: Client, job: Build):
    rockers = some_rockers(job)

    assert send(stranger, job).url.startswith(reverse("login"))
    assert stranger.post(reverse("rocker-set-edit", args=[rockers.pk])).url.startswith(reverse("login"))


def test_the_rockers_of_a_job_that_went_out_stay(bench_client: Client, job: Build):
    rockers = some_rockers(job)
    Build.objects.filter(pk=job.pk).update(went_out_on=timezone.localdate())

    assert send(bench_client, job).status_code == 403
    assert bench_client.post(reverse("rocker-set-edit", args=[rockers.pk]), typed()).status_code == 403


@pytest.mark.parametrize("ratio", ["1.55", "1,55", " 1.550 ", "1.55x", "31/20"])
def test_a_ratio_is_typed_as_freely_as_a_length(bench_client: Client, job: Build, ratio: str):
    send(bench_client, job, ratio=ratio, square_at="1/2")

    kept = RockerSet.objects.get()
    assert (kept.ratio, kept.square_at) == (Decimal("1.55"), Decimal("0.5"))


def test_a_kept_ratio_is_shown_without_the_zeros_behind_it(bench_client: Client, job: Build):
    rocker_set = some_rockers(job, ratio=Decimal("1.6000"))

    page = bench_client.get(reverse("rocker-set-edit", args=[rocker_set.pk])).text

    assert 'name="ratio" value="1.6"' in page
