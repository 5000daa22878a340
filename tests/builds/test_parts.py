"""Parts fitted to a job."""

from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse

from builds.models import Build, PartFitted


def part(**changed: str) -> dict[str, str]:
    """What the form of a part sends."""
    return {"role": "rocker arm", "lot": "L22", "quantity": "8", "fitted_on": "2026-01-06", **changed}


@pytest.fixture
def fitted(job: Build) -> PartFitted:
    """A part on the open job."""
    return PartFitted.objects.create(build=job, role="pushrod", lot="P7")


def test_a_part_is_added_with_its_lot(bench_client: Client, job: Build) -> None:
    bench_client.post(reverse("part-new", args=[job.pk]), part())
    added = job.parts.get()
    assert (added.role, added.lot, added.quantity) == ("rocker arm", "L22", 8)
    assert "L22" in bench_client.get(job.get_absolute_url()).text


def test_a_part_form_sent_twice_adds_one_part(bench_client: Client, job: Build) -> None:
    sent = part(form_token=str(uuid4()))
    for _ in range(2):
        bench_client.post(reverse("part-new", args=[job.pk]), sent)
    assert job.parts.count() == 1


def test_two_forms_add_two_parts_however_alike(bench_client: Client, job: Build) -> None:
    for _ in range(2):
        bench_client.post(reverse("part-new", args=[job.pk]), part(form_token=str(uuid4())))
    assert job.parts.count() == 2


def test_common_parts_are_offered_while_typing(bench_client: Client, job: Build) -> None:
    page = bench_client.get(reverse("part-new", args=[job.pk])).text
    assert '<option value="lash cap">' in page
    assert 'list="id_role_words"' in page


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"role": ""}, "What it is: nothing is filled in."),
        ({"quantity": "0"}, "How many: type a whole number, 1 or more."),
        ({"quantity": "99999999999"}, "is more than an engine has of one part. Type 999 or fewer."),
        ({"quantity": "a few"}, "How many: type a whole number, 1 or more."),
        ({"quantity": "1.5"}, "How many: type a whole number, 1 or more."),
        ({"lot": "L" * 81}, "Lot: this has 81 characters, and there is room for 80."),
        ({"fitted_on": "last week"}, "Fitted: that is not a date."),
    ],
)
def test_a_part_that_cannot_be_is_refused_and_the_text_stays(
    bench_client: Client, job: Build, changed: dict[str, str], sentence: str
) -> None:
    answer = bench_client.post(reverse("part-new", args=[job.pk]), part(maker="Plain Works", **changed))
    assert sentence in answer.text
    assert 'value="Plain Works"' in answer.text
    assert not job.parts.exists()


def test_a_part_is_changed(bench_client: Client, job: Build, fitted: PartFitted) -> None:
    bench_client.post(reverse("part-edit", args=[job.pk, fitted.pk]), part(lot="P8"))
    fitted.refresh_from_db()
    assert fitted.lot == "P8"


def test_removing_a_part_asks_first(bench_client: Client, job: Build, fitted: PartFitted) -> None:
    page = reverse("part-remove", args=[job.pk, fitted.pk])
    assert "Remove pushrod from job 2026-001?" in bench_client.get(page).text
    assert job.parts.exists()
    bench_client.post(page)
    assert not job.parts.exists()


@pytest.mark.parametrize("name", ["part-edit", "part-remove"])
def test_a_part_of_another_job_is_not_found(
    bench_client: Client, job: Build, fitted: PartFitted, name: str
) -> None:
    other = Build.objects.create(engine=job.engine, job_number="other")
    assert bench_client.post(reverse(name, args=[other.pk, fitted.pk]), part()).status_code == 404


@pytest.mark.parametrize("name", ["part-new", "part-edit", "part-remove"])
def test_a_closed_job_keeps_its_parts_as_they_are(owner_client: Client, closed_job: Build, name: str) -> None:
    kept = PartFitted.objects.create(build=closed_job, role="pushrod", lot="P7")
    args = [closed_job.pk] if name == "part-new" else [closed_job.pk, kept.pk]
    answer = owner_client.post(reverse(name, args=args), part(lot="other"))
    assert answer.status_code == 403
    assert "its log is closed" in answer.text
    assert list(closed_job.parts.values_list("lot", flat=True)) == ["P7"]
