"""The What if screen: what a typed change is answered with, and the trials that are kept. Figures are hand-worked."""

import re
from decimal import Decimal
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse

from builds.models import Build, Customer, Engine, Person, Reading
from builds.recording import Entry, record
from tests.scenes import Scene, make_scene
from valvetrain.forms.what_if import WhatIfForm
from valvetrain.models import CamCard, FittedPack, SpringSheet, Stand, Trial
from valvetrain.what_if_records import read_today, try_out
from valvetrain.what_if_setup import Changes


@pytest.fixture
def scene(builder: Person) -> Scene:
    """Every gap of the left head read: .025 low, both valves of each stand alike."""
    scene = make_scene(builder)
    for valve in scene.left.valves.all():
        scene.read_gap(valve.address, "0.025")
    return scene


def ask(client: Client, scene: Scene, **typed: str) -> str:
    """What the screen answers htmx with, its words in one line."""
    url = reverse("what-if", args=[scene.build.pk])
    answer = client.get(url, typed, headers={"hx-request": "true"})
    assert answer.status_code == 200
    return " ".join(re.sub(r"<[^>]+>", " ", answer.content.decode()).split())


def read(scene: Scene, address: str, **values: str) -> None:
    for characteristic, text in values.items():
        unit = "lbf" if characteristic.endswith("load") else "in"
        record(scene.build, scene.person, Entry(uuid4(), address, characteristic, text, unit))


def test_the_page_opens_as_it_is_today(scene, bench_client):
    page = bench_client.get(reverse("what-if", args=[scene.build.pk])).content.decode()
    assert "As it is today, all valves." in page
    assert "today 0.7000 in, worked out from the cam card" in page
    assert "Raise 0.025 in: add .015 + .010 under each pad, leaves it right." in page


def test_a_cap_raises_the_stand_and_the_drawer_makes_the_pack(scene, bench_client):
    """.025 low today and .050 of cap: .075, from .060 + .015."""
    told = ask(bench_client, scene, at="1E", lash_cap=".050")
    assert "Shaft still has to go was up 0.0250 in, now up 0.0750 in" in told
    told = ask(bench_client, scene, lash_cap=".050")
    assert "Raise 0.075 in: add .060 + .015 under each pad, leaves it right." in told
    assert "Today: Raise 0.025 in: add .015 + .010 under each pad" in told
    assert "Pack was 0.0250 in, now 0.0750 in" in told


def test_more_lift_lowers_the_right_height(scene, bench_client):
    """.060 more at half lift takes .030 off the height: .005 too high where .025 was lacking."""
    told = ask(bench_client, scene, net_lift="0.760")
    assert "Top of shaft, when right was 0.2350, now 0.2050 in down 0.0300 in" in told
    assert "Gauge, when right was just touching, now 0.0300 in over the shaft" in told
    assert "Shaft still has to go was up 0.0250 in, now down 0.0050 in" in told
    assert "needs no shims" in told
    assert "Pack was 0.0250 in, now none" in told


def test_what_shims_cannot_do_is_said_with_the_amount(scene, bench_client):
    """A hundredth less tip than it takes: .025 − .040 is .015 to come down."""
    told = ask(bench_client, scene, longer_valve="-0.040")
    assert "shims can’t do it" in told
    assert "The stand must come down 0.015 in: shims cannot do it." in told


def test_only_the_valves_it_is_for_are_changed(scene, bench_client):
    told = ask(bench_client, scene, at="E", net_lift="0.740")
    assert "Valves 1E, 3E, 5E, 7E Net lift was 0.7000, now 0.7400 in" in told
    assert "leaves 1E 0.010 in high, 1I 0.010 in low" in told


def test_a_stand_without_any_of_its_valves_stays(scene, bench_client):
    told = ask(bench_client, scene, at="1E", lash_cap="0.002")
    assert "7 more stands carry none of these valves and stay as they are." in told


def test_before_a_height_is_read_the_move_against_the_head_is_told(scene, bench_client):
    told = ask(bench_client, scene, at="2E", lash_cap="0.050")
    assert "Stand, against the head up 0.0500 in" in told
    assert "not read yet" in told


def test_a_tilted_pad_walks_the_mark_across(scene, bench_client):
    """At 10° the rise .050 asks about .051 more pack; .051 × sin 10° carries .0089 across."""
    Stand.objects.filter(head=scene.left).update(pad_tilt=Decimal(10))
    told = ask(bench_client, scene, lash_cap="0.050")
    assert "Mark, its middle moves 0.009 in outboard" in told


def test_thread_after_the_pack_is_told_beside_today_s(scene, bench_client):
    assert re.search(
        r"Thread in the head: [\d.]+ in, asked .* Today [\d.]+ in\.", ask(bench_client, scene, lash_cap=".05")
    )


def test_springs_and_clearances_follow_from_the_log(scene, bench_client):
    """More lift by .040 takes it from the coils, the seal and, at most, the piston."""
    read(scene, "1E", installed_height="1.950", seat_load="200", open_load="550", solid_height="1.170")
    read(scene, "1E", retainer_to_seal="0.090", piston_to_valve="0.120", pushrod_length="9.200")
    told = ask(bench_client, scene, at="1E", net_lift="0.740")
    assert (
        "Coil-bind margin was 0.0800, now 0.0400 in down 0.0400 in past the limit: at least 0.060 in" in told
    )
    assert "Retainer to seal was 0.0900, now 0.0500 in" in told
    assert "Piston to valve, at least was 0.1200, now 0.0800 in" in told
    assert "Open load was 550.0, now 570.0 lbf" in told
    assert "Pushrod, at zero lash was 9.2000, now 9.1675 in" in told


def test_a_spring_s_sheet_serves_where_nothing_is_measured(scene, bench_client):
    SpringSheet.objects.create(
        build=scene.build, installed_height=Decimal("1.95"), seat_load=200, solid_height=Decimal("1.15"),
        open_height=Decimal("1.25"), open_load=550,
    )  # fmt: skip
    told = ask(bench_client, scene, deeper_seat="0.010")
    assert "Seat load was 200.0, now 195.0 lbf" in told
    assert "today 1.9500 in, spring sheet" in told


def test_what_differs_among_valves_is_told_as_a_range(scene, bench_client):
    scene.read_lift("1E", "0.690")
    told = ask(bench_client, scene, at="E")
    assert "today 0.6900 to 0.7000 in" in told


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"net_lift": "0.7.4"}, "has two dots"),
        ({"net_lift": "740"}, "740.0000 in is outside what an engine has, 0.1000 to 1.5000. Did you mean 0.7400?"),
        ({"net_lift": "0"}, "Net lift: 0.0000 in is outside what an engine has"),
        ({"net_lift": "-0.7"}, "is below zero, and this can&#x27;t be"),
        ({"arm_length": "12 lbf"}, "is a force"),
        ({"square_at": "2"}, "Square at: 2.00 of lift is outside what an engine has, 0.00 to 1.00."),
        ({"at": "9X"}, "There is no valve “9X” on this job."),
        ({"gauge": "999"}, "This gauge is not in the drawer any more."),
        ({"groove": "up"}, "Choose where the extra length is."),
        ({"lash_cap": "x" * 300}, "more text than a value has"),
    ],
)  # fmt: skip
def test_bad_input_is_told_beside_its_field_and_the_rest_computes(scene, bench_client, typed, sentence):
    told = ask(bench_client, scene, **{"deeper_seat": "0.010"} | typed)
    assert sentence in told
    assert "Stand, against the head up 0.0100 in" in told


def test_typed_text_stays_in_its_field_after_a_reload(scene, bench_client):
    page = bench_client.get(reverse("what-if", args=[scene.build.pk]), {"net_lift": "0.7.4"}).content.decode()
    assert 'value="0.7.4"' in page
    assert "has two dots" in page


def test_an_arm_that_cannot_reach_is_a_sentence(scene, bench_client):
    told = ask(bench_client, scene, arm_length="0.5", net_lift="1.4")
    assert "The arm cannot reach: the roller would stand 0.7 in off the shaft" in told


def test_a_ratio_that_lacks_a_lobe_lift_asks_for_it(scene, bench_client):
    CamCard.objects.all().delete()
    for address in ("1E", "1I"):
        scene.read_lift(address, "0.700")
    assert "type the lobe lift too, or the net lift itself" in ask(bench_client, scene, at="1E", ratio="1.7")


def test_a_job_without_heads_says_what_is_lacking(builder, bench_client):
    customer = Customer.objects.create(name="Orla Quint")
    job = Build.objects.create(job_number="1", engine=Engine.objects.create(customer=customer, name="V8"))
    page = bench_client.get(reverse("what-if", args=[job.pk]))
    assert "This job has no valves yet." in page.content.decode()
    assert bench_client.get(reverse("what-if-drawing", args=[job.pk, "trial"])).status_code == 200


def test_inches_and_millimetres_come_to_the_same(scene):
    """Independent: the same trial typed either way is the same changes, to the last digit that is kept."""
    inch = WhatIfForm({"net_lift": "0.740", "lash_cap": "0.050", "spring_rate": "500"}, unit="in")
    metric = WhatIfForm({"net_lift": "18.796", "lash_cap": "1.27", "spring_rate": "500 lbf/in"}, unit="mm")
    assert (inch.errors, metric.errors) == ({}, {})
    assert inch.changes == metric.changes


def test_nothing_changed_is_today_on_every_stand(scene):
    tried = try_out(read_today(scene.build), "", Changes())
    assert [pair.now.choice for pair in tried.stands] == [pair.was.choice for pair in tried.stands]
    assert all(outcome.now == outcome.was for outcome in tried.outcomes.values())


def test_another_gauge_of_the_drawer_says_what_it_would_show(scene, bench_client):
    told = ask(bench_client, scene, gauge_step="0.260")
    assert "Gauge, when right was just touching, now 0.0250 in over the shaft" in told


def test_nothing_is_written(scene, bench_client):
    before = (Reading.objects.count(), FittedPack.objects.count())
    ask(bench_client, scene, lash_cap=".05")
    assert (Reading.objects.count(), FittedPack.objects.count(), Trial.objects.count()) == (*before, 0)


def test_the_address_carries_what_is_typed_and_no_more(scene, bench_client):
    url = reverse("what-if", args=[scene.build.pk])
    answer = bench_client.get(url, {"lash_cap": ".05", "net_lift": ""}, headers={"hx-request": "true"})
    assert answer.headers["HX-Replace-Url"] == f"{url}?lash_cap=.05"


def test_the_queries_do_not_grow_with_what_is_read(scene, bench_client, django_assert_max_num_queries):
    url = reverse("what-if", args=[scene.build.pk])
    for valve in scene.right.valves.all():
        scene.read_gap(valve.address, "0.020")
        read(scene, valve.address, installed_height="1.950", seat_load="200")
    with django_assert_max_num_queries(30):
        bench_client.get(url, {"lash_cap": ".05"}, headers={"hx-request": "true"})


@pytest.mark.parametrize("side", ["today", "trial"])
def test_the_arm_is_drawn_today_and_as_it_would_be(scene, bench_client, side):
    url = reverse("what-if-drawing", args=[scene.build.pk, side])
    svg = bench_client.get(url, {"net_lift": "0.76", "v": "1"}).content.decode()
    assert svg.startswith("<svg")
    lift = {"today": "0.7000", "trial": "0.7600"}[side]
    assert f"net lift {lift} in" in svg


def test_a_drawing_that_cannot_be_says_so(scene, bench_client):
    url = reverse("what-if-drawing", args=[scene.build.pk, "trial"])
    assert "Not drawn" in bench_client.get(url, {"arm_length": "0.5", "net_lift": "1.4"}).content.decode()
    assert bench_client.get(reverse("what-if-drawing", args=[scene.build.pk, "later"])).status_code == 404
