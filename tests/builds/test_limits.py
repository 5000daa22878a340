"""Which limit holds on a job, and the screens that set its own."""

from collections.abc import Callable
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.html import escape

from builds import limits
from builds.limits import LimitBook, LimitFor, around, lines, topic_of, topics
from builds.models import Build, Limit, Person

Queries = Callable[[Client, str], int]


@pytest.fixture
def papers(monkeypatch: pytest.MonkeyPatch) -> dict[tuple[str, str], LimitFor]:
    """What the job's papers say; a test fills it."""
    found: dict[tuple[str, str], LimitFor] = {}
    monkeypatch.setattr(limits, "limit_providers", [lambda build, below: found])
    return found


def own(job: Build, key: str, **ends: str) -> Limit:
    """A limit of the job's own."""
    return Limit.objects.create(
        build=job,
        key=key,
        name=key,
        source="customer's spec",
        **{end: Decimal(text) for end, text in ends.items()},
    )


def page(job: Build, key: str = "") -> str:
    return reverse("job-limit", args=[job.pk, key]) if key else reverse("job-limits", args=[job.pk])


def typed(**changes: str) -> dict[str, str]:
    return {"low": "0.002", "high": "0.003", "source": "maker's sheet", **changes}


def test_the_shops_setting_holds_where_nothing_else_speaks(job: Build, papers: dict):
    found = LimitBook(job).get("coil_bind_margin", "1E")
    assert (found.low, found.rank) == (Decimal("0.060"), "shop")


def test_the_papers_come_before_the_shop_at_their_address(job: Build, papers: dict):
    papers["coil_bind_margin", "1E"] = LimitFor(Decimal("0.05"), None, "spring sheet")
    book = LimitBook(job)
    assert book.get("coil_bind_margin", "1E").rank == "papers"
    assert book.get("coil_bind_margin", "1I").rank == "shop"


def test_an_address_of_the_papers_comes_before_what_they_say_everywhere(job: Build, papers: dict):
    papers["lash", ""] = LimitFor(Decimal(0), None, "everywhere")
    papers["lash", "1E"] = LimitFor(Decimal(1), None, "here")
    assert [LimitBook(job).get("lash", where).source for where in ("1E", "1I")] == ["here", "everywhere"]


def test_the_jobs_own_limit_comes_before_all(job: Build, papers: dict):
    papers["coil_bind_margin", "1E"] = LimitFor(Decimal("0.05"), None, "spring sheet")
    own(job, "coil_bind_margin", low="0.090")
    found = LimitBook(job).get("coil_bind_margin", "1E")
    assert (found.low, found.rank, found.source) == (Decimal("0.090"), "job", "customer's spec")


def test_another_jobs_limit_says_nothing_here(job: Build, closed_job: Build, papers: dict):
    own(closed_job, "coil_bind_margin", low="0.090")
    assert LimitBook(job).get("coil_bind_margin").rank == "shop"


def test_papers_work_from_the_jobs_own_tolerance(job: Build, monkeypatch: pytest.MonkeyPatch):
    def card(build: Build, below):
        return {("lash", "1E"): around(Decimal("0.016"), below["lash_tolerance"], "cam card")}

    monkeypatch.setattr(limits, "limit_providers", [card])
    own(job, "lash_tolerance", low="-0.001", high="0.001")
    found = LimitBook(job).get("lash", "1E")
    assert (found.low, found.high, found.source) == (
        Decimal("0.015"), Decimal("0.017"), "cam card; customer's spec",
    )  # fmt: skip


def test_nothing_is_judged_without_a_limit(job: Build):
    assert LimitBook(job).get("rod_clearance") is None


def test_every_limit_that_anything_is_judged_by_is_listed_once(job: Build):
    keys = [topic.key for topic in topics(LimitBook(job))]
    assert len(keys) == len(set(keys))
    assert {
        "stand_height",
        "sweep",
        "engagement_iron",
        "main_clearance",
        "ring_gap_top",
        "coil_bind_margin",
    } <= set(keys)
    assert "piston_to_valve" not in keys
    assert {"piston_to_valve_intake", "piston_to_valve_exhaust"} <= set(keys)


def test_one_line_tells_alike_limits_together(job: Build, papers: dict):
    intake, exhaust = LimitFor(Decimal("0.01"), None, "card"), LimitFor(Decimal("0.02"), None, "card")
    papers.update({("lash", "1I"): intake, ("lash", "3I"): intake, ("lash", "1E"): exhaust})
    line = next(each for each in lines(LimitBook(job), "in") if each.topic.key == "lash")
    assert [(held.words, held.where) for held in line.in_force] == [
        ("at least 0.0100 in", "1I, 3I"), ("at least 0.0200 in", "1E"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("low", "high", "unit", "words"),
    [
        ("0.002", "0.003", "in", "0.0020 to 0.0030 in"),
        (None, "0.003", "mm", "at most 0.076 mm"),
        ("0.002", None, "in", "at least 0.0020 in"),
    ],
)
def test_a_limit_in_words(low: str | None, high: str | None, unit: str, words: str):
    assert LimitFor(low and Decimal(low), high and Decimal(high), "x").words(unit) == words


def test_force_is_told_in_newtons_to_who_reads_millimetres():
    """Published: NIST SP 811: 1 lbf = 4.448 222 N, so 100 lbf are 445 N."""
    assert LimitFor(None, Decimal(100), "x", "force").words("mm") == "at most 445 N"


def test_the_page_shows_limit_source_and_rank(bench_client: Client, job: Build):
    own(job, "coil_bind_margin", low="0.090")
    shown = bench_client.get(page(job) + "?page=1").text + bench_client.get(page(job) + "?page=2").text
    assert "at least 0.0900 in" in shown
    assert "customer&#x27;s spec" in shown
    assert "this job’s own" in shown
    assert "No limit: written down and not judged." in shown


def test_a_builder_sets_a_limit_that_the_shop_has_none_of(bench_client: Client, job: Build):
    answer = bench_client.post(page(job, "main_clearance"), typed())
    assert answer.url == page(job)
    limit = Limit.objects.get(build=job)
    assert (limit.key, limit.name, limit.low, limit.high, limit.source) == (
        "main_clearance", "main bearing clearance", Decimal("0.002"), Decimal("0.003"), "maker's sheet",
    )  # fmt: skip


def test_a_limit_sent_twice_is_set_once(bench_client: Client, job: Build):
    for _ in range(2):
        assert bench_client.post(page(job, "main_clearance"), typed()).status_code == 302
    assert Limit.objects.filter(build=job).count() == 1


def test_a_torque_is_typed_in_newton_metres_by_who_reads_millimetres(
    bench_client: Client, builder: Person, job: Build
):
    """Published: NIST SP 811: 1 lbf·ft = 1.355 818 N·m, so 61 N·m are 44.99 lbf·ft."""
    Person.objects.filter(pk=builder.pk).update(length_unit="mm")
    bench_client.post(page(job, "stand_bolt_torque"), typed(low="61", high=""))
    assert float(Limit.objects.get(build=job).low) == pytest.approx(44.99, abs=0.005)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"source": ""}, "Name it: customer’s spec, maker’s sheet with its date."),
        ({"low": "", "high": ""}, "a limit needs at least one end"),
        ({"low": "0.003", "high": "0.002"}, "“not above” is smaller than “not below”"),
        ({"low": "a little"}, "“a little” is not a number"),
        ({"high": "30 lbf"}, "“lbf” is a force"),
        ({"low": "0.0.02"}, "has two dots"),
    ],
)
def test_a_limit_that_cannot_be_is_refused_and_the_text_stays(
    bench_client: Client, job: Build, changes: dict[str, str], sentence: str
):
    answer = bench_client.post(page(job, "main_clearance"), typed(**changes))
    assert (answer.status_code, sentence in answer.text) == (422, True)
    for text in filter(None, typed(**changes).values()):
        assert f'value="{escape(text)}"' in answer.text
    assert not Limit.objects.filter(build=job).exists()


def test_clearing_gives_the_shop_its_say_again(bench_client: Client, job: Build):
    own(job, "coil_bind_margin", low="0.090")
    bench_client.post(reverse("job-limit-clear", args=[job.pk, "coil_bind_margin"]))
    assert LimitBook(job).get("coil_bind_margin").rank == "shop"


def test_clearing_twice_is_harmless(bench_client: Client, job: Build):
    for _ in range(2):
        assert bench_client.post(reverse("job-limit-clear", args=[job.pk, "lash"])).status_code == 302


@pytest.mark.parametrize("name", ["job-limit", "job-limit-clear"])
def test_a_closed_job_keeps_its_limits(owner_client: Client, closed_job: Build, name: str):
    own(closed_job, "coil_bind_margin", low="0.090")
    answer = owner_client.post(reverse(name, args=[closed_job.pk, "coil_bind_margin"]), typed())
    assert (answer.status_code, "its log is closed" in answer.text) == (403, True)
    assert Limit.objects.get(build=closed_job).low == Decimal("0.090")


@pytest.mark.parametrize("name", ["job-limit", "job-limit-clear"])
def test_nobody_sets_a_limit_without_logging_in(stranger: Client, job: Build, name: str):
    answer = stranger.post(reverse(name, args=[job.pk, "coil_bind_margin"]), typed())
    assert answer.url.startswith(reverse("login"))
    assert not Limit.objects.filter(build=job).exists()


@pytest.mark.parametrize("key", ["paint", "piston_to_valve"])
def test_a_limit_that_nothing_is_judged_by_is_not_found(bench_client: Client, job: Build, key: str):
    assert topic_of(LimitBook(job), key) is None
    assert bench_client.get(page(job, key)).status_code == 404


def test_the_page_asks_the_same_with_one_own_limit_and_with_twenty(
    bench_client: Client, job: Build, queries: Queries
):
    few = queries(bench_client, page(job))
    for topic in topics(LimitBook(job))[:20]:
        own(job, topic.key, low="0.001")
    assert queries(bench_client, page(job)) == few


def test_a_share_of_a_load_is_told_in_percent(job: Build):
    """Common practice: seat load ± 5 % of the sheet's."""
    line = next(each for each in lines(LimitBook(job), "mm") if each.topic.key == "seat_load_tolerance")
    assert line.words == "Now in force: at most 5.0 % (common practice; shop setting)."
