"""Spring sheets of a job."""

import uuid
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from builds.models import Build, Person
from tests.valvetrain.shopfloor import a_job
from valvetrain.models import SpringSheet

pytestmark = pytest.mark.django_db


@pytest.fixture
def job(db: None) -> Build:
    return a_job()


def typed(**changes: str) -> dict[str, str]:
    return {
        "name": "Dual springs", "fits": "both", "installed_height": "1.900", "seat_load": "200", "open_height": "1.200",
        "open_load": "550", "solid_height": "1.100", "form_token": str(uuid.uuid4()), **changes,
    }  # fmt: skip


def send(client: Client, job: Build, **changes: str):
    return client.post(reverse("spring-sheet-new", args=[job.pk]), typed(**changes))


def a_sheet(job: Build, **changes: object) -> SpringSheet:
    sizes = {"installed_height": Decimal("1.9"), "seat_load": Decimal(200), "solid_height": Decimal("1.1")}
    return SpringSheet.objects.create(build=job, **{**sizes, **changes})


def test_a_sheet_is_entered_and_leads_back_to_the_springs(bench_client: Client, job: Build):
    answer = send(bench_client, job)
    assert answer.url == reverse("log-step", args=[job.pk, "springs"])
    sheet = SpringSheet.objects.get(build=job)
    assert (sheet.installed_height, sheet.seat_load) == (Decimal("1.9"), Decimal(200))


def test_forces_are_typed_in_newtons_by_who_reads_millimetres(
    bench_client: Client, builder: Person, job: Build
):
    """Published: NIST SP 811: 1 lbf = 4.448 222 N, so 890 N are 200.08 lbf; 48.26 mm are 1.9 in exactly."""
    Person.objects.filter(pk=builder.pk).update(length_unit="mm")
    assert ">N<" in bench_client.get(reverse("spring-sheet-new", args=[job.pk])).text
    send(
        bench_client, job, installed_height="48.26", seat_load="890", open_height="30.48", open_load="550 lbf",
        solid_height="27.94",
    )  # fmt: skip
    sheet = SpringSheet.objects.get(build=job)
    assert sheet.installed_height == Decimal("1.9")
    assert float(sheet.seat_load) == pytest.approx(200.08, abs=0.005)
    assert sheet.open_load == 550


def test_a_sheet_that_is_sent_twice_is_entered_once(bench_client: Client, job: Build):
    token = str(uuid.uuid4())
    for _ in range(2):
        assert send(bench_client, job, form_token=token).status_code == 302
    assert SpringSheet.objects.count() == 1


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"seat_load": ""}, "Seat load there: nothing is filled in."),
        ({"seat_load": "0"}, "Type a value above 0."),
        ({"seat_load": "200 in"}, "“in” is a length"),
        ({"installed_height": "1.9.0"}, "has two dots"),
        ({"installed_height": "-1.9"}, "is below zero, and this can&#x27;t be"),
        ({"solid_height": "1.9"}, "Solid, a spring is lower than installed."),
        ({"open_height": "1.9"}, "Open, a spring is lower than installed."),
        ({"open_height": "1.1"}, "Open, a spring is higher than solid."),
        ({"open_load": "200"}, "Open, a spring pushes harder than on the seat."),
    ],
)
def test_it_says_what_is_wrong_with_a_sheet(
    bench_client: Client, job: Build, changes: dict[str, str], sentence: str
):
    answer = send(bench_client, job, **changes)
    assert answer.status_code == 422
    assert sentence in answer.text
    assert 'value="Dual springs"' in answer.text
    assert not SpringSheet.objects.exists()


def test_one_sheet_for_each_kind_of_valve(bench_client: Client, job: Build):
    a_sheet(job)
    for fits, sentence in (
        ("both", "This job has a spring sheet for these valves already."),
        ("I", "change that one to one kind first"),
    ):
        answer = send(bench_client, job, fits=fits)
        assert (answer.status_code, sentence in answer.text) == (422, True)


def test_a_second_sheet_is_for_the_other_kind(bench_client: Client, job: Build):
    a_sheet(job, fits="I")
    assert send(bench_client, job, fits="both").status_code == 422
    assert send(bench_client, job, fits="E").status_code == 302


def test_a_sheet_is_changed(bench_client: Client, job: Build):
    sheet = a_sheet(job)
    bench_client.post(reverse("spring-sheet-edit", args=[sheet.pk]), typed(seat_load="210"))
    sheet.refresh_from_db()
    assert sheet.seat_load == 210


def test_the_valvetrains_section_shows_it_and_asks_for_what_is_missing(bench_client: Client, job: Build):
    panel = reverse("valvetrain-panel", args=[job.pk])
    assert "Enter springs" in bench_client.get(panel).text
    a_sheet(job, fits="I", name="Singles")
    shown = bench_client.get(panel).text
    assert "seat 200.0 lbf at 1.9000 in, solid 1.1000 in" in shown
    assert "one kind of valve is without" in shown


def test_the_springs_step_leads_to_its_sheet(bench_client: Client, job: Build):
    step = reverse("log-step", args=[job.pk, "springs"])
    assert reverse("spring-sheet-new", args=[job.pk]) in bench_client.get(step).text
    sheet = a_sheet(job)
    assert reverse("spring-sheet-edit", args=[sheet.pk]) in bench_client.get(step).text


@pytest.mark.parametrize(
    ("changes", "rate"),
    [
        ({"open_height": Decimal("1.2"), "open_load": Decimal(550)}, Decimal(500)),
        ({"open_height": Decimal("1.2")}, None),
        ({"open_load": Decimal(550)}, None),
        ({"open_height": Decimal("1.9"), "open_load": Decimal(550)}, None),
    ],
)
def test_the_rate_follows_from_two_loads(changes: dict[str, Decimal], rate: Decimal | None):
    """Hand-worked: (550 − 200) / (1.9 − 1.2) = 500."""
    sheet = SpringSheet(
        installed_height=Decimal("1.9"), seat_load=Decimal(200), solid_height=Decimal(1), **changes
    )
    assert sheet.rate() == rate


def test_nobody_enters_springs_without_logging_in(stranger: Client, job: Build):
    sheet = a_sheet(job, fits="I")
    assert send(stranger, job, fits="E").url.startswith(reverse("login"))
    assert stranger.post(reverse("spring-sheet-edit", args=[sheet.pk]), typed()).url.startswith(
        reverse("login")
    )
    assert SpringSheet.objects.get().seat_load == 200


def test_the_springs_of_a_job_that_went_out_stay(bench_client: Client, job: Build):
    sheet = a_sheet(job, fits="I")
    Build.objects.filter(pk=job.pk).update(went_out_on=timezone.localdate())
    assert send(bench_client, job, fits="E").status_code == 403
    assert bench_client.post(reverse("spring-sheet-edit", args=[sheet.pk]), typed()).status_code == 403
    assert SpringSheet.objects.get().seat_load == 200
