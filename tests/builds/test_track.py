"""Told from the track by a customer's link: running and lash, and what the shop does with a figure that was told."""

from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal
from typing import Any
from urllib.parse import urlsplit
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from builds.guests import MOST_A_DAY
from builds.looks import open_check
from builds.models import Build, GuestLink, Person, Reading, RunEntry, ToldAnswer, ToldReading
from builds.recording import EntryRefused
from builds.told import leave, take_over
from tests.scenes import Scene, make_scene

TODAY = timezone.localdate()
Count = Callable[[Client, str], int]


def day(days_ago: int) -> date:
    return TODAY - timedelta(days=days_ago)


@pytest.fixture
def scene(builder: Person) -> Scene:
    made = make_scene(builder)
    made.build.opened_on, made.build.went_out_on = day(60), day(30)
    made.build.save()
    return made


def guest_of(client: Client, job: Build, **more: str) -> Client:
    """A browser at the customer's, by a link that was made in the office."""
    form = {"name": "crew chief", "last_day": day(-30).isoformat(), **more}
    page = client.post(reverse("job-link-new", args=[job.pk]), form, follow=True)
    guest = Client()
    guest.get(urlsplit(page.text.split('id="fresh-link" readonly value="')[1].split('"')[0]).path)
    return guest


@pytest.fixture
def guest(owner_client: Client, scene: Scene) -> Client:
    return guest_of(owner_client, scene.build, takes_running="on")


def ran(days_ago: int = 3, text: str = "6", **more: str) -> dict[str, str]:
    return {
        "client_id": str(uuid4()), "ran_on": day(days_ago).isoformat(), "text": text, "unit": "passes",
        "stated_as": "more", **more,
    }  # fmt: skip


def lash(text: str = "0.005", position: str = "5E", days_ago: int = 2, **more: str) -> dict[str, str]:
    return {
        "client_id": str(uuid4()), "read_on": day(days_ago).isoformat(), "text": text, "unit": "in",
        "characteristic": "lash_cold", "position": position, "told_by": "Ivo", **more,
    }  # fmt: skip


def test_a_link_takes_nothing_unless_it_says_so(owner_client: Client, scene: Scene) -> None:
    guest = guest_of(owner_client, scene.build)
    assert reverse("guest-run") not in guest.get(reverse("guest-job")).text
    for name, data in (("guest-run", ran()), ("guest-told", lash())):
        answer = guest.post(reverse(name), data)
        assert (answer.status_code, "shows its job and takes nothing" in answer.text) == (403, True)
    assert (RunEntry.objects.count(), ToldReading.objects.count()) == (0, 0)


def test_only_an_engine_that_is_out_may_be_told_of(owner_client: Client, builder: Person) -> None:
    job = make_scene(builder).build
    assert "takes_running" not in owner_client.get(reverse("job-link-new", args=[job.pk])).text
    guest_of(owner_client, job, takes_running="on")
    assert not GuestLink.objects.get().takes_running


def test_a_guest_tells_what_it_ran_once(guest: Client, scene: Scene) -> None:
    data = ran(note="cold track")
    for _ in range(2):
        assert guest.post(reverse("guest-run"), data).url == reverse("guest-job")
    entry = RunEntry.objects.get()
    assert (entry.via, entry.entered_by, entry.told_by) == (GuestLink.objects.get(), None, "crew chief")
    page = guest.get(reverse("guest-job")).text
    assert ("<strong>6 passes</strong>" in page, "cold track" in page, "/jobs/" in page) == (
        True,
        True,
        False,
    )


def test_a_refused_entry_keeps_what_the_guest_typed(guest: Client) -> None:
    answer = guest.post(reverse("guest-run"), ran(31, "7", note="<script>x"))
    assert (answer.status_code, "is before it left" in answer.text) == (422, True)
    assert ('value="7"' in answer.text, "&lt;script&gt;x" in answer.text) == (True, True)
    assert answer["X-Robots-Tag"] == "noindex, nofollow"


def test_a_guest_tells_a_lash_that_waits_for_the_shop(guest: Client, scene: Scene) -> None:
    data = lash("0,13", unit="mm")
    for _ in range(2):
        assert guest.post(reverse("guest-told"), data).url == reverse("guest-job")
    told = ToldReading.objects.get()
    assert (told.text, told.unit, told.via) == ("0,13", "mm", GuestLink.objects.get())
    assert told.value == Decimal("0.005118110236")  # hand-worked: 0.13 / 25.4
    page = guest.get(reverse("guest-job")).text
    assert ("Not looked at yet" in page, Reading.objects.count()) == (True, 0)


def test_a_figure_typed_with_its_unit_is_told_with_one(guest: Client, scene: Scene) -> None:
    answer = guest.post(reverse("guest-told"), lash("0.13 mm"), follow=True)
    assert str(ToldReading.objects.get()) == "5E lash, cold 0.13 mm"
    assert "mm mm" not in answer.text


def test_the_page_stays_at_the_form_and_says_what_came_of_it(guest: Client) -> None:
    assert f'action="{reverse("guest-told")}#track-lash"' in guest.get(reverse("guest-job")).text
    refused = guest.post(reverse("guest-told"), lash(text="loose")).text
    assert refused.index("Not sent yet.") > refused.index('id="track-lash"')
    taken = guest.post(reverse("guest-told"), lash("0.006"), follow=True).text
    assert taken.rindex("The shop has 5E lash, cold 0.006 in.") > taken.index('id="track-lash"')


def test_the_next_valve_is_offered_with_what_was_chosen(guest: Client) -> None:
    guest.post(reverse("guest-told"), lash(position="1E", unit="mm", text="0.13"))
    page = guest.get(reverse("guest-job")).text
    assert 'value="mm" selected' in page
    assert '<option value="1E" selected' not in page
    assert 'value="Ivo"' in page


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"position": "9E"}, "none of the choices"), ({"characteristic": "seat_load"}, "none of the choices"),
        ({"text": "loose"}, "is not a number"), ({"text": "1.2.3"}, "has two dots"), ({"text": "-0.004"}, "below zero"),
        ({"text": "0.2"}, "Is it meant?"), ({"unit": "lbf"}, "none of the choices"), ({"told_by": ""}, "Who read it"),
        ({"read_on": day(31).isoformat()}, "is before it left"), ({"read_on": day(-1).isoformat()}, "is still to come"),
        ({"text": "12 lbf"}, "is a force"), ({"note": "a\0b"}, "cannot be kept"),
    ],
)  # fmt: skip
def test_what_a_guest_cannot_mean_gets_a_sentence(
    guest: Client, changed: dict[str, str], sentence: str
) -> None:
    answer = guest.post(reverse("guest-told"), lash(**changed))
    assert (answer.status_code, sentence in answer.text) == (422, True), answer.text
    assert ToldReading.objects.count() == 0


def test_an_unusual_lash_is_taken_once_it_is_meant(guest: Client) -> None:
    data = lash("0.2")
    asked = guest.post(reverse("guest-told"), data).text
    assert 'name="text-meant" value="0.2"' in asked
    assert guest.post(reverse("guest-told"), {**data, "text-meant": "0.2"}).status_code == 302
    other = guest.post(reverse("guest-told"), lash("0.3", **{"text-meant": "0.2"}))
    assert other.status_code == 422


@pytest.mark.parametrize("name", ["guest-run", "guest-told"])
def test_a_link_that_is_over_or_revoked_takes_nothing_more(guest: Client, owner: Person, name: str) -> None:
    data = ran() if name == "guest-run" else lash()
    GuestLink.objects.update(last_day=day(1))
    assert guest.post(reverse(name), data).status_code == 410
    GuestLink.objects.update(last_day=day(-1))
    GuestLink.objects.get().revoke(owner)
    answer = guest.post(reverse(name), data)
    assert (answer.status_code, "What you typed was not sent." in answer.text) == (410, True)
    assert "What you typed was not sent." not in guest.get(reverse("guest-job")).text
    assert (RunEntry.objects.count(), ToldReading.objects.count()) == (0, 0)


def test_a_link_takes_so_many_a_day(guest: Client, scene: Scene) -> None:
    link = GuestLink.objects.get()
    ToldReading.objects.bulk_create(
        ToldReading(build=scene.build, position="1E", characteristic="lash_cold", text="0.005", unit="in",
                    value=Decimal("0.005"), read_on=day(2), via=link, client_id=uuid4())
        for _ in range(MOST_A_DAY)
    )  # fmt: skip
    for name, data in (("guest-run", ran()), ("guest-told", lash())):
        answer = guest.post(reverse(name), data)
        assert (answer.status_code, "takes no more until tomorrow" in answer.text) == (422, True)


def test_nobody_without_a_link_tells_anything(stranger: Client, scene: Scene) -> None:
    assert stranger.post(reverse("guest-run"), ran()).status_code == 404
    assert stranger.post(reverse("guest-told"), lash()).status_code == 404


@pytest.fixture
def told(guest: Client) -> ToldReading:
    guest.post(reverse("guest-told"), lash(note="warm day"))
    return ToldReading.objects.get()


def test_the_shop_sees_what_waits(bench_client: Client, scene: Scene, told: ToldReading) -> None:
    page = bench_client.get(reverse("job-running", args=[scene.build.pk])).text
    assert "Told from the track, not taken over: 1" in page
    assert reverse("told-take", args=[scene.build.pk, told.client_id]) in page


def test_a_figure_is_taken_over_into_a_new_check_once(
    bench_client: Client, guest: Client, scene: Scene, told: ToldReading, builder: Person
) -> None:
    address = reverse("told-take", args=[scene.build.pk, told.client_id])
    assert "a new check, read on" in bench_client.get(address).text
    for _ in range(2):
        answer = bench_client.post(address, {"check": "new"})
        assert answer.url == reverse("job-running", args=[scene.build.pk])
    reading = Reading.objects.get()
    assert (reading.text, reading.unit, reading.position) == ("0.005", "in", "5E")
    assert (reading.how, reading.note, reading.taken_by) == (
        "told from the track by Ivo",
        "warm day",
        builder,
    )
    assert (reading.build.follows, reading.build.opened_on) == (scene.build, day(2))
    assert timezone.localtime(reading.taken_at).date() == day(2)
    assert "<strong>Taken over</strong>" in guest.get(reverse("guest-job")).text
    assert "/jobs/" not in guest.get(reverse("guest-job")).text


def test_a_figure_goes_into_the_open_check_of_its_day(
    bench_client: Client, scene: Scene, told: ToldReading, builder: Person
) -> None:
    check = open_check(scene.build, builder, read_on=day(2))
    address = reverse("told-take", args=[scene.build.pk, told.client_id])
    assert f'<option value="{check.pk}" selected' in bench_client.get(address).text
    bench_client.post(address, {"check": str(check.pk)})
    assert Reading.objects.get().build == check
    assert bench_client.post(address, {"check": "999"}).status_code == 422


def test_a_figure_is_turned_down_with_a_reason_that_the_guest_sees(
    bench_client: Client, guest: Client, scene: Scene, told: ToldReading
) -> None:
    address = reverse("told-leave", args=[scene.build.pk, told.client_id])
    assert bench_client.post(address, {"reason": " "}).status_code == 422
    for _ in range(2):
        assert bench_client.post(address, {"reason": "read warm"}).status_code == 302
    assert ToldAnswer.objects.get().reason == "read warm"
    assert "read warm" in guest.get(reverse("guest-job")).text
    taken = bench_client.post(reverse("told-take", args=[scene.build.pk, told.client_id]), {"check": "new"})
    assert (taken.status_code, "was turned down already" in taken.text) == (422, True)


def test_what_was_taken_over_is_not_turned_down(scene: Scene, told: ToldReading, builder: Person) -> None:
    take_over(told, builder, None)
    with pytest.raises(EntryRefused, match="was taken over already"):
        leave(told, builder, "misheard")


def test_a_figure_goes_into_no_check_of_another_job(scene: Scene, told: ToldReading, builder: Person) -> None:
    other = make_scene(builder, job_number="26-099").build
    other.opened_on, other.went_out_on = day(60), day(30)
    other.save()
    with pytest.raises(EntryRefused, match="is no check of job 26-014"):
        take_over(told, builder, open_check(other, builder, read_on=day(1)))
    assert Reading.objects.count() == 0


def test_a_long_name_stands_in_the_note(scene: Scene, guest: Client, builder: Person) -> None:
    name = "Wilhelmina van der Zandschulp"
    guest.post(reverse("guest-told"), lash(told_by=name))
    reading = take_over(ToldReading.objects.get(), builder, None)
    assert (reading.how, reading.note) == ("told from the track", f"told by {name}")


def test_the_office_takes_nothing_over(scene: Scene, told: ToldReading) -> None:
    client = Client()
    client.force_login(Person.objects.create_user("odile", name="Odile", password="x", role="office"))
    for name in ("told-take", "told-leave"):
        address = reverse(name, args=[scene.build.pk, told.client_id])
        assert client.post(address, {"check": "new", "reason": "x"}).status_code == 403
        assert address not in client.get(reverse("job-running", args=[scene.build.pk])).text
    assert ToldAnswer.objects.count() == 0


def test_pages_ask_as_often_for_many_figures_as_for_few(
    bench_client: Client, guest: Client, scene: Scene, builder: Person, queries: Count
) -> None:
    link = GuestLink.objects.get()

    def fill(count: int) -> None:
        for told in ToldReading.objects.bulk_create(
            ToldReading(build=scene.build, position="1E", characteristic="lash_cold", text="0.005", unit="in",
                        value=Decimal("0.005"), read_on=day(2), via=link, client_id=uuid4())
            for _ in range(2 * count)
        )[:count]:  # fmt: skip
            ToldAnswer.objects.create(told=told, reason="misheard", by=builder)
        for _ in range(count):
            RunEntry.objects.create(
                build=scene.build, ran_on=day(3), unit="laps", text="1", amount=1, via=link
            )

    pages: list[tuple[Any, str]] = [
        (bench_client, reverse("job-running", args=[scene.build.pk])),
        (bench_client, reverse("job-told", args=[scene.build.pk])),
        (guest, reverse("guest-job")),
    ]
    fill(2)
    few = [queries(client, address) for client, address in pages]
    fill(30)
    assert [queries(client, address) for client, address in pages] == few
    assert "Page 1 of 3" in bench_client.get(pages[1][1]).text


def test_a_guest_is_not_told_to_correct_what_the_shop_wrote(guest: Client) -> None:
    guest.post(reverse("guest-run"), ran(3, "20"))
    answer = guest.post(reverse("guest-run"), ran(1, "6", stated_as="total"))
    assert (answer.status_code, "or telephone the shop." in answer.text) == (422, True)
    assert "correct that entry" not in answer.text
