"""The search box of the jobs list."""

import pytest
from django.test import Client
from django.urls import reverse

from builds.models import Build, Customer, Engine, PartFitted


@pytest.fixture
def two_jobs(job: Build) -> Build:
    """The job with a part on it, and another that no search should find."""
    PartFitted.objects.create(
        build=job, role="rocker arm", lot="L22-91", serial="SN 5", maker_number="R-100/7"
    )
    other = Engine.objects.create(customer=Customer.objects.create(name="Nobody"), name="six", serial="zz")
    Build.objects.create(engine=other, job_number="9999-999", title="nothing")
    return job


@pytest.mark.parametrize(
    "text",
    ["2026-001", "VALVETRAIN", "harbour", "drag", "hr-0417", "l22-9", "SN 5", "r-100/7", "  harbour  "],
)
def test_a_job_is_found_by(bench_client: Client, two_jobs: Build, text: str) -> None:
    page = bench_client.get("/", {"q": text}).text
    assert "2026-001" in page
    assert "9999-999" not in page


def test_a_job_with_many_parts_of_one_lot_is_found_once(bench_client: Client, two_jobs: Build) -> None:
    for _ in range(5):
        PartFitted.objects.create(build=two_jobs, role="pushrod", lot="L22-91")
    assert list(Build.objects.matching("L22")) == [two_jobs]


def test_nothing_found_says_where_it_looked(bench_client: Client, two_jobs: Build) -> None:
    assert "No job has “xyzzy” in its number, title" in bench_client.get("/", {"q": "xyzzy"}).text


@pytest.mark.parametrize(
    "text", ["%", "_", "'", '"', "<script>", "\x00", "😀", "x" * 10_000, "'; DROP TABLE"]
)
def test_odd_characters_are_looked_for_and_harm_nothing(
    bench_client: Client, two_jobs: Build, text: str
) -> None:
    answer = bench_client.get("/", {"q": text})
    assert answer.status_code == 200
    assert "<script>" not in answer.text.partition("</head>")[2].partition("<script src")[0]


def test_a_search_stays_through_its_pages(bench_client: Client, engine: Engine) -> None:
    for number in range(30):
        Build.objects.create(engine=engine, job_number=f"a&b {number}")
    page = bench_client.get("/", {"q": "a&b"}).text
    assert "?q=a%26b&amp;page=2" in page


@pytest.mark.parametrize(
    ("text", "found"), [("drag", True), ("HR-0417", True), ("harbour", True), ("boat", False)]
)
def test_the_engine_of_a_new_job_is_found_by(
    bench_client: Client, engine: Engine, text: str, found: bool
) -> None:
    page = bench_client.get(reverse("job-new"), {"q": text}).text
    assert (reverse("job-open", args=[engine.pk]) in page) is found


def test_a_known_customer_is_offered_a_new_engine_on_the_way(
    bench_client: Client, customer: Customer
) -> None:
    page = bench_client.get(reverse("job-new"), {"q": "harbour"}).text
    assert f"{reverse('engine-new', args=[customer.pk])}?then=job" in page
