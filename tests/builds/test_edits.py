"""The history of edits as it is read: whose, what, from what to what, on the job and on the shop's page."""

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from builds.edits import Edit, edits_of_job, edits_of_shop, told
from builds.models import (
    Build,
    Customer,
    Engine,
    Evidence,
    Finding,
    Instrument,
    Limit,
    PartFitted,
    Person,
    Reading,
)
from builds.tracking import written_by
from tests.builds.a_sheet import a_kind, sealed
from tests.builds.came_back import loose_five

pytestmark = pytest.mark.django_db


def words(edit: Edit) -> list[tuple[str, str, str]]:
    """What of one edit became another."""
    return [(line.what, line.before, line.after) for line in edit.lines]


def newest(job: Build, unit: str = "in") -> Edit:
    """The newest edit of a job."""
    return told(edits_of_job(job), unit)[0]


def test_an_edit_says_who_what_from_and_to(job: Build, builder: Person) -> None:
    with written_by(builder):
        Build.objects.filter(pk=job.pk).update(
            title="set up valvetrain, new springs", promised_on="2026-03-01"
        )
    edit = newest(job)
    assert (edit.who, edit.act) == ("Nora Vesterlund", "changed")
    assert words(edit) == [
        ("job, what is to be done", "set up valvetrain", "set up valvetrain, new springs"),
        ("job, promised for", "empty", "1 Mar 2026"),
    ]


def test_what_hangs_on_the_job_is_in_one_line_newest_first(
    job: Build, engine: Engine, customer: Customer
) -> None:
    customer.phone = "555 0177"
    customer.save()
    engine.serial = "HR-0418"
    engine.save()
    PartFitted.objects.create(build=job, role="pushrod", position="3E", lot="L77")
    assert [edit.what for edit in told(edits_of_job(job), "in")] == [
        "part pushrod 3E", "engine", "customer", "job", "engine", "customer",
    ]  # fmt: skip


def test_another_jobs_edits_are_not_on_this_one(job: Build, closed_job: Build) -> None:
    before = edits_of_job(job).count()
    PartFitted.objects.create(build=closed_job, role="pushrod")
    Limit.objects.create(build=closed_job, key="deck", name="deck", high=1, source="card")
    assert edits_of_job(job).count() == before


# Hand-worked: 0.0050 in is 0.127 mm, 0.0045 in is 0.1143 mm; both are told with the same places.
@pytest.mark.parametrize(
    ("unit", "before", "after"), [("in", "0.0050 in", "0.0045 in"), ("mm", "0.1270 mm", "0.1143 mm")]
)
def test_figures_are_in_the_readers_unit_as_exact_as_typed(
    job: Build, unit: str, before: str, after: str
) -> None:
    limit = Limit.objects.create(
        build=job, key="deck", name="deck clearance", high=Decimal("0.005"), source="card"
    )
    limit.high = Decimal("0.0045")
    limit.save()
    assert words(newest(job, unit)) == [("limit of deck clearance, not above", before, after)]


def test_a_limit_of_another_kind_is_told_in_its_own_unit(job: Build) -> None:
    limit = Limit.objects.create(
        build=job, key="load", name="seat load", low=Decimal(100), unit_kind="force", source="card"
    )
    limit.low = Decimal(120)
    limit.save()
    assert words(newest(job)) == [("limit of seat load, not below", "100 lbf", "120 lbf")]


def test_a_key_is_told_by_its_name_also_when_that_is_gone(job: Build, engine: Engine) -> None:
    buyer = Customer.objects.create(name="Fjord Boats")
    engine.hand_over(buyer, from_pk=str(engine.customer_id))
    job = Build.objects.select_related("engine").get(pk=job.pk)
    edits = [edit for edit in told(edits_of_job(job), "in") if edit.lines]
    assert words(edits[0]) == [("engine, customer", "Harbour Racing", "Fjord Boats")]


def test_a_return_and_its_evidence_name_what_they_point_at(
    bench_client: Client, builder: Person, owner: Person
) -> None:
    _scene, came = loose_five(builder)
    with a_kind():
        came.sheet = sealed(Build.objects.get(pk=came.build.follows_id), builder, owner)
    came.save()
    finding = Finding.objects.create(build=came.build, what="pin out", found_by=builder)
    reading = Reading.objects.filter(build=came.build, position="5E").get()
    Evidence.objects.create(finding=finding, side="for", text="it opened", reading=reading, noted_by=builder)
    edits = told(edits_of_job(came.build), "in")
    assert "reading 5E lash, cold 0.027 in" in " ".join(fact for edit in edits for _what, fact in edit.facts)
    assert str(came.sheet) in [line.after for edit in edits for line in edit.lines]
    assert bench_client.get(reverse("job-changes", args=[came.build_id])).status_code == 200


def test_what_was_removed_is_told_with_what_was_there(job: Build) -> None:
    PartFitted.objects.create(build=job, role="pushrod", position="3E", lot="L77", quantity=16).delete()
    edit = newest(job)
    assert (edit.act, edit.what, edit.facts_word) == ("removed", "part pushrod 3E", "what was there")
    assert "lot L77" in edit.facts[0][1]
    assert "how many 16" in edit.facts[0][1]


def test_many_made_in_one_go_are_told_in_one(job: Build) -> None:
    PartFitted.objects.bulk_create(
        [PartFitted(build=job, role="pushrod", position=f"{n}E") for n in (1, 2, 3)]
    )
    edit = newest(job)
    assert edit.what == "3 parts fitted"
    assert [name for name, _facts in edit.facts] == ["part pushrod 1E", "part pushrod 2E", "part pushrod 3E"]


def test_a_long_text_is_told_by_its_beginning_and_never_as_unchanged(job: Build) -> None:
    Build.objects.filter(pk=job.pk).update(note="word " * 100 + "one")
    Build.objects.filter(pk=job.pk).update(note="word " * 100 + "two")
    ((_what, before, after),) = words(newest(job))
    assert before.endswith("…")
    assert after == f"{before}, changed further on"


def test_the_shops_line_has_people_limits_and_tools_and_no_job(
    owner: Person, builder: Person, job: Build
) -> None:
    with written_by(owner):
        Limit.objects.create(build=job, key="deck", name="deck", high=1, source="card")
        Person.objects.filter(pk=builder.pk).update(may_check=True, is_staff=True)
        Instrument.objects.create(mark="FE-9", kind="feeler")
        limit = Limit.objects.filter(build__isnull=True).first()
        assert limit is not None
        limit.source = "our own trial"
        limit.save()
    edits = [edit for edit in told(edits_of_shop(), "in") if edit.who == owner.name]
    assert [edit.what for edit in edits] == [f"limit of {limit}", "instrument FE-9", "person Nora Vesterlund"]
    assert words(edits[2]) == [
        ("person Nora Vesterlund, checks what others measured, and signs second", "no", "yes")
    ]


# ---- the pages


def test_the_jobs_page_asks_for_the_newest_few(bench_client: Client, job: Build) -> None:
    url = reverse("job-changes", args=[job.pk])
    assert f'hx-get="{url}"' in bench_client.get(job.get_absolute_url()).content.decode()
    for number in range(9):
        Build.objects.filter(pk=job.pk).update(title=f"title {number}")
    panel = bench_client.get(url, headers={"HX-Request": "true"}).content.decode()
    assert panel.count("Job, what is to be done") == 6
    assert "<html" not in panel
    page = bench_client.get(url).content.decode()
    assert page.count("Job, what is to be done") == 9


def test_the_line_comes_in_pages(bench_client: Client, job: Build) -> None:
    for number in range(30):
        Build.objects.filter(pk=job.pk).update(title=f"title {number}")
    url = reverse("job-changes", args=[job.pk])
    assert "title 3<" not in bench_client.get(url).content.decode()
    assert "title 3<" in bench_client.get(url, {"page": 2}).content.decode()


def test_a_long_line_asks_as_often_as_a_short_one(
    bench_client: Client, job: Build, queries: Callable[[Client, str], int]
) -> None:
    def edit_all(number: int) -> None:
        Build.objects.filter(pk=job.pk).update(title=f"title {number}")
        Customer.objects.update(note=f"note {number}")
        PartFitted.objects.create(build=job, role="pushrod", position=f"{number}E")

    url = reverse("job-changes", args=[job.pk])
    for number in range(10):
        edit_all(number)  # a whole page of them
    few = queries(bench_client, url)
    for number in range(10, 40):
        edit_all(number)
    assert queries(bench_client, url) == few


def test_text_from_a_record_is_text_on_the_page(bench_client: Client, job: Build) -> None:
    Build.objects.filter(pk=job.pk).update(title="<script>alert(1)</script>")
    page = bench_client.get(reverse("job-changes", args=[job.pk])).content.decode()
    assert "<script>alert(1)" not in page
    assert "&lt;script&gt;alert(1)" in page


def test_the_shops_line_is_for_an_owner(owner_client: Client, bench_client: Client) -> None:
    url = reverse("shop-changes")
    assert owner_client.get(url).status_code == 200
    assert f'hx-get="{url}"' in owner_client.get(reverse("shop")).content.decode()
    assert bench_client.get(url).status_code == 403
    assert url not in bench_client.get(reverse("shop")).content.decode()


@pytest.mark.parametrize("name", ["job-changes", "shop-changes"])
def test_nobody_reads_it_without_a_log_in(stranger: Client, job: Build, name: str) -> None:
    answer: Any = stranger.get(reverse(name, args=[job.pk] if name == "job-changes" else []))
    assert answer.status_code == 302


@pytest.mark.parametrize("name", ["job-changes", "shop-changes"])
def test_nothing_is_written_there(owner_client: Client, job: Build, name: str) -> None:
    assert owner_client.post(reverse(name, args=[job.pk] if name == "job-changes" else [])).status_code == 405
