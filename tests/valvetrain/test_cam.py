"""The cam card of a job, and its own arithmetic."""

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from builds.models import Build
from tests.valvetrain.shopfloor import a_job
from valvetrain.models import CamCard

pytestmark = pytest.mark.django_db


@pytest.fixture
def job(db: None) -> Build:
    return a_job()


def typed(**changes: str) -> dict[str, str]:
    # Hand-worked: 28 + 180 + 71 = 279, 279/2 − 28 = 111.5; 75 + 180 + 45 = 300, 300/2 − 45 = 105; mean 108.25.
    return {
        "name": "Solid roller",
        "intake_lobe_lift": "0.470",
        "exhaust_lobe_lift": "0.455",
        "intake_lash": "0.020",
        "exhaust_lash": "0.022",
        "timed_at": "0.050",
        "intake_opens": "28",
        "intake_closes": "71",
        "exhaust_opens": "75",
        "exhaust_closes": "45",
        "intake_duration": "279",
        "exhaust_duration": "300",
        "intake_centreline": "111.5",
        "exhaust_centreline": "105",
        "lobe_separation": "108.25",
        **changes,
    }


def send(client: Client, job: Build, **changes: str):
    return client.post(reverse("cam-card", args=[job.pk]), typed(**changes))


def test_a_card_that_agrees_is_saved_without_a_word_more(bench_client: Client, job: Build):
    response = send(bench_client, job)

    assert response.url == job.get_absolute_url()
    assert CamCard.objects.get(build=job).disagreements() == []


def test_a_card_that_disagrees_is_saved_and_told_so(bench_client: Client, job: Build):
    response = send(bench_client, job, intake_centreline="108")

    page = bench_client.get(response.url).content.decode()
    assert "Intake centreline: the card says 108°, its events give 111.5°." in page
    assert CamCard.objects.get(build=job).intake_centreline == 108


def test_a_card_whose_valve_closes_before_it_opens_is_told_so():
    card = CamCard(intake_opens=Decimal(-100), intake_closes=Decimal(-90), exhaust_opens=1, exhaust_closes=1)

    assert card.disagreements() == [
        "the valve closes before it opens: an event past the dead centre that names it is negative; check both"
    ]


def test_a_card_without_all_four_events_has_nothing_to_disagree_with():
    assert CamCard(intake_opens=Decimal(28), intake_duration=Decimal(1)).disagreements() == []


def test_the_card_is_changed_in_place(bench_client: Client, job: Build):
    send(bench_client, job)
    send(bench_client, job, intake_lobe_lift="12 mm")

    assert CamCard.objects.get(build=job).intake_lobe_lift == Decimal("0.4724409449")


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"intake_lobe_lift": ""}, "Intake lobe lift: nothing is filled in."),
        ({"intake_lash": "-0.02"}, "is below zero"),
        ({"intake_opens": "28 mm"}, "this is an angle"),
    ],
)
def test_it_says_what_is_wrong_with_a_card(
    bench_client: Client, job: Build, changes: dict[str, str], sentence: str
):
    response = send(bench_client, job, **changes)

    assert response.status_code == 422
    assert sentence in response.content.decode()
    assert not CamCard.objects.exists()


def test_nobody_enters_a_card_without_logging_in(stranger: Client, job: Build):
    assert send(stranger, job).url.startswith(reverse("login"))


def test_the_card_of_a_job_that_went_out_stays(bench_client: Client, job: Build):
    Build.objects.filter(pk=job.pk).update(went_out_on=timezone.localdate())

    assert send(bench_client, job).status_code == 403
