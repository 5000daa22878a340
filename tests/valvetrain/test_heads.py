"""Heads of a job: what may be added, changed and taken away, and in which words it is refused."""

import uuid

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from builds.models import Build, Person
from tests.valvetrain.shopfloor import a_head, a_job, filled, measure
from valvetrain.logbook import fit_pack
from valvetrain.models import Head, Pad, Valve

pytestmark = pytest.mark.django_db


@pytest.fixture
def job(db: None) -> Build:
    return a_job()


@pytest.fixture
def head(job: Build) -> Head:
    return a_head(job)


def new_head(**changes: str) -> dict[str, str]:
    layout = Head.objects.get(layout_name="V8 head, paired stands")
    return {
        "layout": str(layout.pk),
        "name": "Left head",
        "code": "L",
        "cylinders": "1 3 5 7",
        "form_token": str(uuid.uuid4()),
        **changes,
    }


def test_a_head_is_copied_from_a_layout_with_the_cylinders_it_serves(bench_client: Client, job: Build):
    response = bench_client.post(reverse("head-new", args=[job.pk]), new_head())

    head = Head.objects.get(build=job)
    assert response.url == head.get_absolute_url()
    assert [valve.address for valve in head.valves.all()] == ["1E", "1I", "3I", "3E", "5E", "5I", "7I", "7E"]
    assert head.stands.first().address == "L.stand1"


def test_a_head_that_is_sent_twice_is_added_once(bench_client: Client, job: Build):
    sent = new_head()

    for _ in range(2):
        assert bench_client.post(reverse("head-new", args=[job.pk]), sent).status_code == 302

    assert Head.objects.filter(build=job).count() == 1


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"cylinders": "one three"}, "is not a row of cylinders"),
        ({"cylinders": "1 3 5 5"}, "names a cylinder twice"),
        ({"cylinders": "1 3 5"}, "This layout has 4 cylinders, and 3 are typed"),
        ({"cylinders": "1 3 5 9"}, "There is no cylinder 9: this engine has 8"),
        ({"cylinders": ""}, "Cylinders it serves: nothing is filled in"),
        ({"layout": "999999"}, "this one is not on the shelf any more"),
        ({"code": "7"}, "Letters, digits and dashes, a letter first"),
    ],
)
def test_it_says_what_is_wrong_with_a_new_head(
    bench_client: Client, job: Build, changes: dict[str, str], sentence: str
):
    response = bench_client.post(reverse("head-new", args=[job.pk]), new_head(**changes))

    assert response.status_code == 422
    assert sentence in response.content.decode()
    assert not Head.objects.filter(build=job).exists()


def test_two_heads_of_an_engine_never_share_a_valve(bench_client: Client, job: Build, head: Head):
    response = bench_client.post(
        reverse("head-new", args=[job.pk]), new_head(code="R", name="Right head", cylinders="2 4 6 7")
    )

    assert "7E is on L head already" in response.content.decode()


def test_two_heads_of_an_engine_never_share_a_letter(bench_client: Client, job: Build, head: Head):
    response = bench_client.post(reverse("head-new", args=[job.pk]), new_head(cylinders="2 4 6 8"))

    assert "Another head of this job has this letter" in response.content.decode()


def test_the_page_shows_the_plan_with_its_addresses(bench_client: Client, head: Head):
    page = bench_client.get(head.get_absolute_url()).content.decode()

    assert "L.stand4" in page
    assert 'class="plan-valve' in page


def test_the_page_of_a_head_asks_the_database_as_often_for_any_head(
    bench_client: Client, job: Build, django_assert_max_num_queries
):
    long = a_head(job, "C", "1357", layout="V8 head, canted valves")

    with django_assert_max_num_queries(10):
        bench_client.get(long.get_absolute_url())


def test_a_letter_on_which_a_pack_stands_is_kept(bench_client: Client, head: Head, builder: Person):
    fit_pack(head.stands.first(), builder, client_id=uuid.uuid4(), pieces=[])

    response = bench_client.post(
        reverse("head-edit", args=[head.pk]),
        {"name": "Left", "code": "R", "material": "iron", "note": ""},
    )

    assert "L.stand1 stands in the log of this job: it can’t become R.stand1. Keep the letter L." in (
        response.content.decode()
    )


def test_a_letter_on_which_a_pack_stands_is_not_taken_away(bench_client: Client, head: Head, builder: Person):
    fit_pack(head.stands.first(), builder, client_id=uuid.uuid4(), pieces=[])

    response = bench_client.post(
        reverse("head-edit", args=[head.pk]),
        {"name": "Left", "code": "", "material": "iron", "note": ""},
    )

    assert "L.stand1 stands in the log of this job: it can’t become stand1." in response.content.decode()


def test_a_letter_may_change_while_nothing_names_it(bench_client: Client, head: Head):
    bench_client.post(
        reverse("head-edit", args=[head.pk]),
        {"name": "Left", "code": "F", "material": "iron", "note": ""},
    )

    assert Head.objects.get(pk=head.pk).stands.first().address == "F.stand1"


def valve_rows(client: Client, head: Head, **changes: str) -> dict[str, str]:
    rows = client.get(reverse("valves-edit", args=[head.pk])).context["rows"]
    return filled(rows, **{f"valves-{name}": value for name, value in changes.items()})


def save_valves(client: Client, head: Head, **changes: str):
    return client.post(reverse("valves-edit", args=[head.pk]), valve_rows(client, head, **changes))


def test_saving_the_valves_as_they_are_changes_nothing(bench_client: Client, head: Head):
    before = list(Valve.objects.filter(head=head).values())

    assert save_valves(bench_client, head).status_code == 302
    assert list(Valve.objects.filter(head=head).values()) == before


def test_two_valves_may_swap_their_addresses_in_one_go(bench_client: Client, head: Head):
    first, second = list(head.valves.all())[:2]

    response = save_valves(bench_client, head, **{"0-kind": "I", "1-kind": "E"})

    assert response.status_code == 302
    assert Valve.objects.get(pk=first.pk).address == "1I"
    assert Valve.objects.get(pk=second.pk).address == "1E"


def test_a_valve_is_added_and_another_removed_in_one_go(bench_client: Client, head: Head):
    stand = head.stands.first()

    save_valves(
        bench_client,
        head,
        **{
            "0-DELETE": "on",
            "8-order": "9",
            "8-cylinder": "1",
            "8-kind": "E",
            "8-stand": str(stand.pk),
            "8-along": "1.4",
            "8-across": "1.6",
            "8-tip_diameter": "0.342",
        },
    )

    assert Valve.objects.get(head=head, cylinder=1, kind="E").order == 9
    assert Valve.objects.filter(head=head).count() == 8


def test_a_measured_valve_is_not_renamed(bench_client: Client, job: Build, head: Head, builder: Person):
    measure(job, builder, "1E")

    response = save_valves(bench_client, head, **{"0-cylinder": "2"})

    assert response.status_code == 422
    assert "1E stands in the log of this job: it can’t become 2E." in response.content.decode()


def test_a_measured_valve_is_not_removed(bench_client: Client, job: Build, head: Head, builder: Person):
    measure(job, builder, "1E")

    response = save_valves(bench_client, head, **{"0-DELETE": "on"})

    assert "1E stands in the log of this job: it can’t be removed." in response.content.decode()
    assert Valve.objects.filter(head=head).count() == 8


def test_a_measured_valve_stays_on_its_stand(bench_client: Client, job: Build, head: Head, builder: Person):
    measure(job, builder, "1E")

    response = save_valves(bench_client, head, **{"0-stand": str(head.stands.last().pk)})

    assert "1E stands in the log of this job: it stays on stand1." in response.content.decode()


def test_a_measured_valve_may_have_its_dimensions_corrected(
    bench_client: Client, job: Build, head: Head, builder: Person
):
    measure(job, builder, "1E")

    save_valves(bench_client, head, **{"0-tip_diameter": "8.7 mm"})

    assert str(Valve.objects.get(head=head, cylinder=1, kind="E").tip_diameter) == "0.3425196850"


@pytest.mark.parametrize("gone", ["999999", "first", "9" * 30])
def test_a_valve_on_a_stand_that_is_not_there_any_more_is_refused_in_words(
    bench_client: Client, head: Head, gone: str
):
    response = save_valves(bench_client, head, **{"0-stand": gone})

    assert response.status_code == 422
    assert "Stand: this one is not on this head. Choose another." in response.content.decode()


def test_an_address_is_there_once_on_a_head(bench_client: Client, head: Head):
    response = save_valves(bench_client, head, **{"0-kind": "I"})

    assert "1I is there twice" in response.content.decode()


def test_a_valve_of_another_heads_cylinder_is_refused(bench_client: Client, job: Build, head: Head):
    a_head(job, "R", "2468")

    response = save_valves(bench_client, head, **{"0-cylinder": "2"})

    assert "2E is on R head already" in response.content.decode()


def test_a_cylinder_that_the_engine_has_not_is_refused(bench_client: Client, head: Head):
    response = save_valves(bench_client, head, **{"0-cylinder": "12"})

    assert "There is no cylinder 12: this engine has 8." in response.content.decode()


def test_a_typed_dimension_stays_in_the_field_with_its_sentence(bench_client: Client, head: Head):
    page = save_valves(bench_client, head, **{"0-along": "1.4.2"}).content.decode()

    assert "has two dots. Type one decimal point." in page
    assert 'value="1.4.2"' in page


def stand_page(client: Client, head: Head, **changes: str):
    stand = head.stands.first()
    address = reverse("stand-edit", args=[head.pk, stand.pk])
    form = client.get(address).context["form"]
    return client.post(address, filled(form, form.pads, **changes))


def test_a_stand_is_changed_with_its_pads(bench_client: Client, head: Head):
    response = stand_page(
        bench_client, head, **{"bolt_length": "3", "pads-2-letter": "C", "pads-2-along": "2.4"}
    )

    stand = head.stands.first()
    assert response.status_code == 302
    assert stand.bolt_length == 3
    assert "".join(pad.letter for pad in stand.pads.all()) == "ACB"


def test_two_pads_may_swap_their_letters(bench_client: Client, head: Head):
    stand_page(bench_client, head, **{"pads-0-letter": "B", "pads-1-letter": "A"})

    assert "".join(pad.letter for pad in head.stands.first().pads.all()) == "BA"


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"name": "stand2"}, "There is a stand2 on this head already"),
        ({"pads-0-letter": "B"}, "Two pads of this stand have the same letter"),
        ({"pads-0-DELETE": "on", "pads-1-DELETE": "on"}, "A stand sits on at least one pad"),
        ({"bolt_length": "three"}, "is not a number"),
        ({"bolt_diameter": "-0.4"}, "is below zero, and this can&#x27;t be"),
    ],
)
def test_it_says_what_is_wrong_with_a_stand(
    bench_client: Client, head: Head, changes: dict[str, str], sentence: str
):
    response = stand_page(bench_client, head, **changes)

    assert response.status_code == 422
    assert sentence in response.content.decode()
    assert Pad.objects.filter(stand=head.stands.first()).count() == 2


def test_a_stand_under_which_a_pack_was_fitted_keeps_its_name(
    bench_client: Client, head: Head, builder: Person
):
    fit_pack(head.stands.first(), builder, client_id=uuid.uuid4(), pieces=[])

    response = stand_page(bench_client, head, name="front")

    assert "L.stand1 stands in the log of this job: it can’t become L.front." in response.content.decode()


def test_a_stand_that_carries_valves_is_not_removed(bench_client: Client, head: Head):
    stand = head.stands.first()

    response = bench_client.post(reverse("stand-remove", args=[head.pk, stand.pk]))

    assert response.status_code == 409
    assert "L.stand1 carries 1E, 1I. Put them on another stand first." in response.content.decode()


def test_an_empty_stand_is_added_once_and_removed(bench_client: Client, head: Head):
    address = reverse("stand-new", args=[head.pk])
    form = bench_client.get(address).context["form"]
    sent = filled(
        form,
        form.pads,
        name="spare",
        bolt_diameter="3/8",
        bolt_length="2.5",
        thickness_at_bolt="1.3",
        tapped_depth="1.2",
        **{"pads-0-letter": "A", "pads-0-along": "1"},
    )

    for _ in range(2):
        assert bench_client.post(address, sent).status_code == 302
    spare = head.stands.get(name="spare")
    bench_client.post(reverse("stand-remove", args=[head.pk, spare.pk]))

    assert not head.stands.filter(name="spare").exists()


def test_a_head_on_which_nothing_was_measured_is_removed(bench_client: Client, job: Build, head: Head):
    response = bench_client.post(reverse("head-remove", args=[head.pk]))

    assert response.url == job.get_absolute_url()
    assert not Head.objects.filter(build=job).exists()


def test_a_measured_head_stays(bench_client: Client, job: Build, head: Head, builder: Person):
    measure(job, builder, "3I")

    response = bench_client.post(reverse("head-remove", args=[head.pk]))

    assert response.status_code == 409
    assert "3I: the log of this job names them, so the head stays." in response.content.decode()
    assert Head.objects.filter(pk=head.pk).exists()


WRITES = ["head-edit", "head-remove", "valves-edit", "stand-new", "stand-edit", "stand-remove"]


def address_of(name: str, head: Head) -> str:
    args = [head.pk, head.stands.first().pk] if name in ("stand-edit", "stand-remove") else [head.pk]
    return reverse(name, args=args)


@pytest.mark.parametrize("name", WRITES)
def test_nobody_changes_a_head_without_logging_in(stranger: Client, head: Head, name: str):
    response = stranger.post(address_of(name, head))

    assert response.status_code == 302
    assert response.url.startswith(reverse("login"))


@pytest.mark.parametrize("name", WRITES)
def test_the_head_of_a_job_that_went_out_is_not_changed(
    bench_client: Client, job: Build, head: Head, name: str
):
    Build.objects.filter(pk=job.pk).update(went_out_on=timezone.localdate())

    response = bench_client.post(address_of(name, head))

    assert response.status_code == 403
    assert job.job_number in response.content.decode()


def test_a_job_that_went_out_gets_no_head(bench_client: Client, job: Build):
    Build.objects.filter(pk=job.pk).update(went_out_on=timezone.localdate())

    assert bench_client.post(reverse("head-new", args=[job.pk]), new_head()).status_code == 403
    assert not Head.objects.filter(build=job).exists()


def test_a_new_job_says_what_is_missing_to_start(bench_client: Client, job: Build):
    page = bench_client.get(reverse("valvetrain-panel", args=[job.pk]), headers={"HX-Request": "true"})

    text = page.content.decode()
    assert "Add a head: choose a layout" in text
    assert "Enter the rockers: arm length, roller and shaft." in text
    assert "<html" not in text


def test_the_jobs_section_links_each_head_to_the_bench(bench_client: Client, job: Build, head: Head):
    page = bench_client.get(reverse("valvetrain-panel", args=[job.pk])).content.decode()

    assert reverse("bench", args=[head.pk]) in page
    assert "<html" in page


def test_the_jobs_section_asks_as_often_for_two_heads_as_for_one(
    bench_client: Client, job: Build, head: Head, django_assert_max_num_queries
):
    a_head(job, "R", "2468")

    with django_assert_max_num_queries(24):
        bench_client.get(reverse("valvetrain-panel", args=[job.pk]), headers={"HX-Request": "true"})


@pytest.mark.parametrize("name", ["valves-edit", "stand-edit", "stand-new"])
@pytest.mark.parametrize(
    "sent",
    [
        {"x": "1"},
        {"valves-TOTAL_FORMS": "9999", "valves-INITIAL_FORMS": "9999"},
        {"pads-TOTAL_FORMS": "-1", "pads-INITIAL_FORMS": "x"},
        {"valves-TOTAL_FORMS": "1", "valves-INITIAL_FORMS": "1", "valves-0-id": "999999"},
    ],
)
def test_what_no_page_of_the_book_sends_is_refused_without_a_fault(
    bench_client: Client, head: Head, name: str, sent: dict[str, str]
):
    before = list(Valve.objects.values()) + list(Pad.objects.values())

    assert bench_client.post(address_of(name, head), sent).status_code == 422
    assert list(Valve.objects.values()) + list(Pad.objects.values()) == before
