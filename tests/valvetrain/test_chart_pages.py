"""The page of charts: every chart with its words and the figures behind it, and what is missing in words."""

from decimal import Decimal
from uuid import uuid4
from xml.etree import ElementTree

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from builds.models import Limit, Person
from builds.positions import positions_of
from builds.recording import Entry, record
from tests.scenes import Scene, make_scene
from valvetrain.charts.board import HEADINGS
from valvetrain.models import CamCard, MovingMasses, RockerSet, SpringSheet


@pytest.fixture
def scene(builder: Person) -> Scene:
    Limit.add_defaults()
    return make_scene(builder)


@pytest.fixture
def worked(scene: Scene) -> Scene:
    """A stand that was read and shimmed, springs on paper, the card's durations, and what moves weighed."""
    scene.read_gap("1E", "0.025")
    scene.read_gap("1I", "0.024")
    scene.fit("L.stand1", "0.015", "0.010")
    scene.read_gap("1E", "0.001")
    scene.read_gap("1I", "0.009")
    SpringSheet.objects.create(
        build=scene.build, installed_height=Decimal("1.900"), seat_load=Decimal(240), open_height=Decimal("1.200"),
        open_load=Decimal(590), solid_height=Decimal("1.120"),
    )  # fmt: skip
    CamCard.objects.update(
        intake_duration=Decimal(262), exhaust_duration=Decimal(270), intake_centreline=Decimal(110),
        exhaust_centreline=Decimal(116), timed_at=Decimal("0.050"),
    )  # fmt: skip
    MovingMasses.objects.create(
        build=scene.build, valve=Decimal(120), retainer=Decimal(20), lifter=Decimal(150)
    )
    return scene


@pytest.fixture
def url(scene: Scene) -> str:
    return reverse("charts", args=[scene.left.pk])


def keyed(scene: Scene, address: str, key: str, text: str, unit: str = "in") -> None:
    entry = Entry(uuid4(), address, key, text, unit, sure=True)
    record(scene.build, scene.person, entry, positions_of(scene.build))


def picture(scene: Scene, client: Client, which: str, **asked: str) -> str:
    answer = client.get(reverse("chart", args=[scene.left.pk, which]), asked)
    assert answer["Content-Type"] == "image/svg+xml"
    return answer.content.decode()


def test_every_chart_stands_on_the_page_with_its_figures_behind_it(
    worked: Scene, url: str, bench_client: Client
):
    page = bench_client.get(url).content.decode()
    for key, heading in HEADINGS.items():
        assert '<figure class="chart' in page
        assert f"<h3>{heading}</h3>" in page
        assert f"/charts/{key}.svg" in page
    assert page.count("<summary>The figures behind it") == len(HEADINGS)
    assert page.count("<table") >= len(HEADINGS)


def test_the_picture_s_words_are_its_alternative(worked: Scene, url: str, bench_client: Client):
    page = bench_client.get(url).content.decode()
    assert 'alt="Furthest off is 1I: 0.009 in low' in page or 'alt="Furthest off is 1I: 0.0090 in low' in page
    assert 'alt=""' not in page.split("<main", 1)[1]


def test_the_valve_furthest_off_is_drawn_first(worked: Scene, url: str, bench_client: Client):
    page = bench_client.get(url).content.decode()
    assert "One valve: 1I" in page


def test_another_valve_can_be_asked_for(worked: Scene, url: str, bench_client: Client):
    page = bench_client.get(url, {"valve": "1E", "rpm": "6000, 7500"}).content.decode()
    assert "One valve: 1E" in page
    assert "at 6000 rpm, lbf" in page
    assert "at 7500 rpm, lbf" in page
    assert "valve=1E&amp;rpm=6000%2C+7500&amp;v=" in page


@pytest.mark.parametrize(
    ("asked", "sentence"),
    [
        ({"valve": "9Z"}, "There is no such valve on this head. Choose one."),
        ({"rpm": "fast"}, "“fast” is not engine speeds. Type whole numbers: 5000 6500 8000."),
        ({"rpm": "1 2 3"}, "1 rpm is no engine’s speed here. Type 100 to 20000."),
        ({"rpm": "1000 2000 3000 4000 5000"}, "5 speeds are too many for one chart. Type up to 4."),
    ],
)
def test_what_cannot_be_drawn_is_a_sentence_and_the_rest_is_still_there(
    worked: Scene, url: str, bench_client: Client, asked: dict[str, str], sentence: str
):
    answer = bench_client.get(url, asked)
    assert answer.status_code == 200
    page = answer.content.decode()
    assert sentence in page
    assert "One valve: 1I" in page
    if "rpm" in asked:
        assert f'value="{asked["rpm"]}"' in page


def test_the_margin_of_the_spring_follows_the_height_that_was_read(
    worked: Scene, url: str, bench_client: Client
):
    keyed(worked, "1E", "installed_height", "1.870")
    page = bench_client.get(url, {"valve": "1E"}).content.decode()
    # 1.870 − 0.700 − 1.120 = 0.050; 240 + 500 × 0.030 = 255 on the seat. Hand-worked.
    assert "255.0 lbf on the seat at 1.8700 in" in page
    assert "leaves 0.0500 in; at least 0.0600 in is asked, so it is out." in page


def test_an_empty_job_says_of_each_chart_what_it_waits_for(scene: Scene, url: str, bench_client: Client):
    RockerSet.objects.all().delete()
    CamCard.objects.all().delete()
    page = bench_client.get(url).content.decode()
    assert "No height is read on this head yet" in page
    assert "Enter the rocker set first" in page
    assert "There is no cam card and no lift table." in page
    assert "net lift is not known" in page


def test_a_ratio_without_the_pushrods_side_offers_to_enter_it(worked: Scene, url: str, bench_client: Client):
    page = bench_client.get(url).content.decode()
    assert "The ratio at each lift needs the pushrod’s side" in page
    assert reverse("worksheet-new", args=[worked.build.pk, "pushrod"]) in page


@pytest.mark.parametrize("which", list(HEADINGS))
def test_each_chart_is_a_picture_in_the_unit_of_the_reader(worked: Scene, bench_client: Client, which: str):
    inches = picture(worked, bench_client, which)
    Person.objects.filter(pk=worked.person.pk).update(length_unit="mm")
    metric = picture(worked, bench_client, which)
    ElementTree.fromstring(metric)
    assert metric != inches


def test_a_chart_without_its_numbers_is_a_picture_with_words(scene: Scene, bench_client: Client):
    assert "No height is read on this head yet" in picture(scene, bench_client, "residuals")


def test_a_picture_is_kept_by_the_browser_only_under_its_version(worked: Scene, bench_client: Client):
    address = reverse("chart", args=[worked.left.pk, "packs"])
    assert "max-age" in bench_client.get(address, {"v": "1"})["Cache-Control"]
    assert "max-age=43200" not in bench_client.get(address).get("Cache-Control", "")


def test_a_chart_that_there_is_not_is_not_found(worked: Scene, bench_client: Client):
    assert bench_client.get(reverse("chart", args=[worked.left.pk, "piechart"])).status_code == 404


def test_a_stranger_gets_neither_page_nor_picture(worked: Scene, url: str, stranger: Client):
    for address in (url, reverse("chart", args=[worked.left.pk, "packs"])):
        answer = stranger.get(address)
        assert answer.status_code == 302
        assert reverse("login") in answer["Location"]


def test_a_layout_on_the_shelf_has_no_charts(worked: Scene, bench_client: Client):
    layout = type(worked.left).objects.filter(build__isnull=True).first()
    assert layout is not None
    assert bench_client.get(reverse("charts", args=[layout.pk])).status_code == 404


def test_a_head_without_valves_says_so(scene: Scene, bench_client: Client):
    bare = type(scene.left).objects.create(build=scene.build, code="X", name="Bare head")
    page = bench_client.get(reverse("charts", args=[bare.pk])).content.decode()
    assert "This head has no valves yet" in page


def test_the_job_s_panel_leads_to_the_charts(worked: Scene, url: str, bench_client: Client):
    assert url in bench_client.get(reverse("valvetrain-panel", args=[worked.build.pk])).content.decode()


def test_the_page_takes_as_many_queries_for_one_reading_as_for_many(
    worked: Scene, url: str, bench_client: Client
):
    bench_client.get(url)
    with CaptureQueriesContext(connection) as few:
        bench_client.get(url)
    for address in ("3E", "3I", "5E", "5I", "7E", "7I"):
        worked.read_gap(address, "0.021")
        keyed(worked, address, "installed_height", "1.900")
    with CaptureQueriesContext(connection) as many:
        bench_client.get(url)
    assert len(many) <= len(few)
