"""The worksheet's screen and its forms: what is shown, what is written, what is refused."""

from decimal import Decimal
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from builds.models import Person, Reading
from tests.scenes import Scene, make_scene
from tests.valvetrain.test_worksheet import a_cosine_table
from tests.valvetrain.worksheet_bench import a_piston_side, a_pushrod_side, a_timed_card, everything
from valvetrain.demo_worksheet import add_worksheet
from valvetrain.models import CamCard, LobeTable, MovingMasses, PistonSide, PushrodSide, RockerSet

pytestmark = pytest.mark.django_db

WEIGHTS = {
    "fits": "both", "valve": "110", "retainer": "22 g", "locks": "8", "spring": "90", "rocker": "30", "pushrod": "96",
    "lifter": "160",
}  # fmt: skip
PUSHROD = {
    "fits": "both", "cup_radius": "1.03125", "cup_angle": "180", "cup_offset": "0", "shaft_offset": "",
    "checked_length": "8", "checked_top": "0.235", "lean": "-2.5", "lean_along": "0", "lifter_lean": "0",
    "lifter_lean_along": "0", "rocker_ball": "5/16", "rocker_cup_depth": "", "lifter_ball": "5/16", "length_in_use": "",
    "roller_width": "",
}  # fmt: skip


@pytest.fixture
def scene(builder: Person) -> Scene:
    return make_scene(builder)


def url(scene: Scene, name: str = "worksheet", *args: object) -> str:
    return reverse(name, args=[scene.build.pk, *args])


def closed(scene: Scene) -> None:
    scene.build.went_out_on = timezone.localdate()
    scene.build.save()


def text(response) -> str:
    return response.content.decode()


# The screen.


def test_the_screen_shows_four_parts_for_the_first_valve(bench_client: Client, scene: Scene):
    everything(scene)
    shown = text(bench_client.get(url(scene)))

    for heading in (
        "1E: Lift, ratio and pushrod",
        "1E: Motion and spring at 6000 rpm",
        "1E: Loads at 6000 rpm",
        "1E: Piston to valve, predicted",
    ):
        assert heading in shown
    assert "certifies no part" in shown
    assert "a qualified engine builder decides" in shown


def test_another_valve_and_speed_are_asked_for_in_the_address(bench_client: Client, scene: Scene):
    everything(scene)

    assert "2I: Loads at 7500 rpm" in text(bench_client.get(url(scene), {"valve": "2I", "rpm": "7500"}))


def test_for_htmx_it_is_the_figures_alone(bench_client: Client, scene: Scene):
    everything(scene)
    shown = text(bench_client.get(url(scene), {"valve": "1I", "rpm": "7000"}, HTTP_HX_REQUEST="true"))

    assert shown.lstrip().startswith('<div id="figures"')
    assert "<html" not in shown


@pytest.mark.parametrize("typed", ["0", "-5", "fast", "1e9", "99999999", "7000.5"])
def test_a_speed_that_cannot_be_is_told_and_stays_in_the_field(
    bench_client: Client, scene: Scene, typed: str
):
    response = bench_client.get(url(scene), {"valve": "1I", "rpm": typed})

    assert response.status_code == 200
    assert "Engine speed, rpm: type a whole number from 100 to 20000." in text(response)
    assert f'value="{typed}"' in text(response)
    assert "at 6000 rpm" in text(response)


def test_a_valve_of_another_engine_is_told(bench_client: Client, scene: Scene):
    assert "Valve: there is no such valve on this job. Choose one." in text(
        bench_client.get(url(scene), {"valve": "9Q"})
    )


def test_a_job_without_a_head_says_so(bench_client: Client, scene: Scene):
    for head in (scene.left, scene.right):
        head.take_away()

    assert "There is no valve on this job yet" in text(bench_client.get(url(scene)))


def test_what_is_missing_is_said_with_the_way_to_enter_it(bench_client: Client, scene: Scene):
    shown = text(bench_client.get(url(scene)))

    assert "Nothing that moves is weighed" in shown
    assert f'href="{url(scene, "worksheet-new", "masses")}"' in shown


def test_numbers_that_cannot_be_are_a_sentence_and_no_traceback(bench_client: Client, scene: Scene):
    everything(scene)
    PushrodSide.objects.update(checked_length=Decimal("0.0001"))
    RockerSet.objects.update(arm_length=Decimal("0.2"))

    assert "check the lift, the arm length and the shaft height." in text(bench_client.get(url(scene)))


def test_a_closed_job_is_read_and_offers_nothing_to_change(bench_client: Client, scene: Scene):
    everything(scene)
    closed(scene)
    shown = text(bench_client.get(url(scene), {"valve": "1I"}))

    assert "The worksheet still reads it." in shown
    assert "1I: Lift, ratio and pushrod" in shown
    assert "/edit/" not in shown
    assert "Add the pair" not in shown


def test_it_asks_as_often_for_a_long_log_as_for_a_short_one(
    bench_client: Client, scene: Scene, django_assert_max_num_queries
):
    everything(scene)
    add_pairs(bench_client, scene, 2)
    scene.read_lift("1I", "0.701")
    scene.read_gap("1I", "0.010")
    scene.fit("L.stand1", "0.010")
    with django_assert_max_num_queries(74) as short:
        bench_client.get(url(scene), {"valve": "1I"})
    asked = len(short)
    add_pairs(bench_client, scene, 9)
    for address in ("1E", "3I", "2E", "4I"):
        scene.read_lift(address, "0.701")
        scene.read_gap(address, "0.010")
    scene.fit("L.stand2", "0.010")
    with django_assert_max_num_queries(asked):
        bench_client.get(url(scene), {"valve": "1I"})


def add_pairs(client: Client, scene: Scene, count: int) -> None:
    for place in range(count):
        client.post(
            url(scene, "worksheet-pair"), pair(lobe_lift=f"0.{place + 1}", valve_lift=f"0.{place + 2}")
        )


def test_the_jobs_page_leads_to_it(bench_client: Client, scene: Scene):
    panel = bench_client.get(reverse("valvetrain-panel", args=[scene.build.pk]))

    assert f'href="{url(scene)}"' in text(panel)


def test_a_stranger_is_sent_to_the_door(stranger: Client, scene: Scene):
    response = stranger.get(url(scene))

    assert response.status_code == 302
    assert "login" in response.url


# The forms that feed it.


def test_weights_are_entered_in_grams(bench_client: Client, scene: Scene):
    response = bench_client.post(url(scene, "worksheet-new", "masses"), WEIGHTS)

    assert response.url == url(scene)
    masses = MovingMasses.objects.get(build=scene.build)
    assert (masses.valve, masses.retainer, masses.lifter) == (110, 22, 160)


def test_the_pushrods_side_is_entered_in_the_persons_units(bench_client: Client, scene: Scene):
    Person.objects.update(length_unit="mm")
    typed = PUSHROD | {"cup_radius": "25.4", "checked_length": "203.2", "checked_top": "5,969"}
    bench_client.post(url(scene, "worksheet-new", "pushrod"), typed)

    side = PushrodSide.objects.get(build=scene.build)
    assert (side.cup_radius, side.checked_length, side.checked_top) == (1, 8, Decimal("0.235"))
    assert (side.lean, side.rocker_ball) == (Decimal("-2.5"), Decimal("0.0123031496"))


def test_the_same_form_sent_twice_makes_one_record(bench_client: Client, scene: Scene):
    token = str(uuid4())
    for _ in range(2):
        response = bench_client.post(url(scene, "worksheet-new", "masses"), WEIGHTS | {"form_token": token})

    assert response.url == url(scene)
    assert MovingMasses.objects.count() == 1


@pytest.mark.parametrize(
    ("part", "typed", "sentence"),
    [
        ("masses", WEIGHTS | {"valve": ""}, "Valve: nothing is filled in. It is needed here."),
        ("masses", WEIGHTS | {"valve": "heavy"}, "“heavy” is not a number. Type a weight (g)"),
        ("masses", WEIGHTS | {"valve": "-3"}, "“-3” is below zero, and this can&#x27;t be."),
        ("masses", WEIGHTS | {"valve": "4 in"}, "“in” is a length (in, mm or thou), and this is a weight (g)."),
        ("pushrod", PUSHROD | {"cup_radius": "0"}, "Shaft to cup: that is too small. Type a value above 0."),
        ("pushrod", PUSHROD | {"cup_angle": "30"}, "that is too small. Type a value from 90° to 270°."),
        ("pushrod", PUSHROD | {"lean": "75"}, "that is too large. Type a value from -60° to 60°."),
        ("pushrod", PUSHROD | {"checked_length": "8.1.2"}, "has two dots. Type one decimal point."),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_and_stays_typed(
    bench_client: Client, scene: Scene, part: str, typed: dict[str, str], sentence: str
):
    response = bench_client.post(url(scene, "worksheet-new", part), typed)

    assert response.status_code == 422
    assert sentence in text(response)
    assert not PushrodSide.objects.exists()
    assert not MovingMasses.objects.exists()


@pytest.mark.parametrize(
    ("kept", "asked", "sentence"),
    [
        (
            "both",
            "I",
            "This job has this for intake and exhaust together: change that one to one kind first.",
        ),
        ("I", "both", "This job has this for one kind of valve already: choose the other kind."),
        ("I", "I", "This job has this for these valves already. Change that one."),
    ],
)
def test_there_is_one_for_both_kinds_or_one_for_each(
    bench_client: Client, scene: Scene, kept: str, asked: str, sentence: str
):
    a_pushrod_side(scene, fits=kept)
    response = bench_client.post(url(scene, "worksheet-new", "pushrod"), PUSHROD | {"fits": asked})

    assert response.status_code == 422
    assert sentence in text(response)


def test_a_record_is_changed_in_place(bench_client: Client, scene: Scene):
    side = a_pushrod_side(scene)
    bench_client.post(url(scene, "worksheet-edit", "pushrod", side.pk), PUSHROD | {"length_in_use": "8.31"})

    side.refresh_from_db()
    assert side.length_in_use == Decimal("8.31")


def test_every_dimension_says_how_it_is_measured(bench_client: Client, scene: Scene):
    for part, model in (("pushrod", PushrodSide), ("masses", MovingMasses), ("piston", PistonSide)):
        shown = text(bench_client.get(url(scene, "worksheet-new", part)))
        for field in model._meta.get_fields():
            if getattr(field, "measured", ""):
                assert field.measured in shown, field


def test_a_form_that_is_none_is_not_found(bench_client: Client, scene: Scene):
    assert bench_client.get(url(scene, "worksheet-new", "nonsense")).status_code == 404
    assert bench_client.get(url(scene, "worksheet-lobe", "Q")).status_code == 404


def test_another_jobs_record_is_not_found(bench_client: Client, scene: Scene, second: Person):
    other = make_scene(second, job_number="26-015")
    side = a_pushrod_side(other)

    assert bench_client.get(url(scene, "worksheet-edit", "pushrod", side.pk)).status_code == 404


@pytest.mark.parametrize(
    ("name", "args"),
    [
        ("worksheet-new", ["masses"]),
        ("worksheet-edit", ["pushrod", 1]),
        ("worksheet-lobe", ["I"]),
        ("worksheet-table", ["I"]),
    ],
)
def test_a_closed_job_takes_no_change(bench_client: Client, scene: Scene, name: str, args: list[object]):
    a_pushrod_side(scene)
    closed(scene)
    response = bench_client.post(url(scene, name, *args), WEIGHTS)

    assert response.status_code == 403
    assert not MovingMasses.objects.exists()
    assert not LobeTable.objects.exists()


# The lobe.


def lobe_rows(*rows: tuple[str, str], ramp: str = "") -> dict[str, str]:
    typed = {"rows-TOTAL_FORMS": str(len(rows)), "rows-INITIAL_FORMS": "0", "ramp": ramp}
    for place, (lift, duration) in enumerate(rows):
        typed |= {f"rows-{place}-lift": lift, f"rows-{place}-duration": duration}
    return typed


def test_rows_are_written_as_a_whole_however_often_they_are_sent(bench_client: Client, scene: Scene):
    a_timed_card(scene)
    typed = lobe_rows(("0.020", "280"), ("5.08 mm", "160"), ("", ""), ramp="35")
    for _ in range(2):
        response = bench_client.post(url(scene, "worksheet-lobe", "I"), typed)

    assert response.url == url(scene)
    table = LobeTable.objects.get(build=scene.build, kind="I")
    assert [(row.lift, row.duration) for row in table.points.all()] == [
        (Decimal("0.02"), 280),
        (Decimal("0.2"), 160),
    ]
    assert table.ramp == 35


def test_a_row_that_is_emptied_is_taken_out(bench_client: Client, scene: Scene):
    a_timed_card(scene)
    bench_client.post(url(scene, "worksheet-lobe", "I"), lobe_rows(("0.020", "280"), ("0.200", "160")))
    bench_client.post(url(scene, "worksheet-lobe", "I"), lobe_rows(("0.020", "280"), ("", "")))

    assert LobeTable.objects.get(kind="I").points.count() == 1


@pytest.mark.parametrize(
    ("rows", "sentence"),
    [
        ([("0.020", "")], "A row is a lift and the duration at it. Fill in both, or leave both empty."),
        ([("0.020", "280"), ("0.020", "270")], "A lift stands in two rows. Give each lift once."),
        ([("0.020", "280"), ("0.200", "290")], "The lobe is not open for longer at 0.02 in than at 0.2 in"),
        ([("0.500", "100")], "The card has an event at 0.5 in and the lobe lifts only 0.44 in"),
        ([("0", "100")], "This must be more than nothing"),
        ([("0.020", "900")], "Crank degrees, from 1 to 700."),
        ([("0.020", "wide")], "“wide” is not a number."),
    ],
)  # fmt: skip
def test_rows_that_no_lobe_has_are_refused(
    bench_client: Client, scene: Scene, rows: list[tuple[str, str]], sentence: str
):
    a_timed_card(scene)
    response = bench_client.post(url(scene, "worksheet-lobe", "I"), lobe_rows(*rows))

    assert response.status_code == 422
    assert sentence in text(response)
    assert not LobeTable.objects.exists()


def test_a_page_without_its_rows_is_told_to_load_again(bench_client: Client, scene: Scene):
    response = bench_client.post(url(scene, "worksheet-lobe", "I"), {"ramp": ""})

    assert response.status_code == 422
    assert "This page came without its rows, and nothing was saved. Load it again." in text(response)


def table_form(**changes: object) -> dict[str, object]:
    return {
        "lift_unit": "in", "angles_of": "crank", "placed_by": "centreline", "smoothing": "0.0001", "paste": "", **changes,
    }  # fmt: skip


def test_a_table_is_uploaded_and_outranks_the_card(bench_client: Client, scene: Scene):
    a_timed_card(scene)
    upload = SimpleUploadedFile("lobe 7.csv", a_cosine_table(start=0).encode())
    response = bench_client.post(url(scene, "worksheet-table", "I"), table_form(upload=upload))

    assert response.url == url(scene)
    shown = text(bench_client.get(url(scene), {"valve": "1I"}))
    assert "from the table lobe 7.csv" in shown
    assert "0.4000 in lift" in shown


def test_a_table_is_pasted_and_kept_as_it_came(bench_client: Client, scene: Scene):
    pasted = "angle;lift\r\n" + a_cosine_table(start=-120).replace(".", ",")
    bench_client.post(url(scene, "worksheet-table", "E"), table_form(paste=pasted, angles_of="cam"))

    table = LobeTable.objects.get(kind="E")
    assert table.text == pasted
    assert (table.angles_of, table.file_name) == ("cam", "")


def test_its_units_are_changed_without_choosing_the_file_again(bench_client: Client, scene: Scene):
    bench_client.post(url(scene, "worksheet-table", "I"), table_form(paste=a_cosine_table(start=0)))
    bench_client.post(url(scene, "worksheet-table", "I"), table_form(lift_unit="mm"))

    table = LobeTable.objects.get(kind="I")
    assert (table.lift_unit, table.text) == ("mm", a_cosine_table(start=0))


def test_a_table_is_taken_out_again(bench_client: Client, scene: Scene):
    bench_client.post(url(scene, "worksheet-table", "I"), table_form(paste=a_cosine_table(start=0)))
    bench_client.post(url(scene, "worksheet-table", "I"), table_form(take_out="on"))

    assert LobeTable.objects.get(kind="I").text == ""


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({}, "Choose a file, or paste the rows."),
        ({"paste": "0,0\n10,x\n"}, "Line 2: “x” is not a number for the lift."),
        ({"paste": a_cosine_table(start=0), "smoothing": "1"}, "that is too large."),
        ({"paste": a_cosine_table(start=0), "lift_unit": "furlong"}, "this is none of the choices."),
        ({"upload": SimpleUploadedFile("lobe.png", b"\x89PNG\x00")}, "This file is not plain text."),
        ({"upload": SimpleUploadedFile("big.csv", b"0,0\n" * 60_000)}, "This file is larger than 200 kB."),
        ({"upload": SimpleUploadedFile("empty.csv", b"")}, "there is nothing in this file."),
    ],
)  # fmt: skip
def test_a_table_that_cannot_be_read_is_refused(
    bench_client: Client, scene: Scene, changes: dict[str, object], sentence: str
):
    response = bench_client.post(url(scene, "worksheet-table", "I"), table_form(**changes))

    assert response.status_code == 422
    assert sentence in text(response)
    assert not LobeTable.objects.exists()


def test_pasted_rows_stay_in_the_field_when_they_are_refused(bench_client: Client, scene: Scene):
    response = bench_client.post(url(scene, "worksheet-table", "I"), table_form(paste="0,0\n10,x"))

    assert "0,0\n10,x</textarea>" in text(response)


def test_a_file_and_pasted_rows_at_once_are_one_too_many(bench_client: Client, scene: Scene):
    upload = SimpleUploadedFile("lobe.csv", a_cosine_table(start=0).encode())
    typed = table_form(upload=upload, paste=a_cosine_table(start=0))

    assert "There is a file and pasted text. Give one of them." in text(
        bench_client.post(url(scene, "worksheet-table", "I"), typed)
    )


# Lobe and valve lift read together.


def pair(**changes: str) -> dict[str, str]:
    return {
        "client_id": str(uuid4()), "valve": "1I", "rpm": "6000", "lobe_lift": "0.200", "valve_lift": "0.316", **changes,
    }  # fmt: skip


def test_a_pair_is_a_reading_like_every_other(bench_client: Client, scene: Scene):
    response = bench_client.post(
        url(scene, "worksheet-pair"), pair(instrument=str(scene.gauge.instrument.pk))
    )

    assert response.url == f"{url(scene)}?valve=1I#lift"
    reading = Reading.objects.get(characteristic="lift_pair")
    assert (reading.position, reading.text, reading.how) == ("1I", "0.316", "lobe at 0.2000 in")
    assert reading.context["lobe_lift"]["text"] == "0.200"
    assert (reading.taken_by, reading.instrument) == (scene.person, scene.gauge.instrument)


def test_a_pair_sent_twice_is_one_pair(bench_client: Client, scene: Scene):
    typed = pair()
    for _ in range(2):
        bench_client.post(url(scene, "worksheet-pair"), typed)

    assert Reading.objects.filter(characteristic="lift_pair").count() == 1


def test_its_number_used_for_another_lobe_lift_is_refused(bench_client: Client, scene: Scene):
    typed = pair()
    bench_client.post(url(scene, "worksheet-pair"), typed)
    response = bench_client.post(url(scene, "worksheet-pair"), typed | {"lobe_lift": "0.3"})

    assert response.status_code == 422
    assert "This pair is in the book with another lobe lift." in text(response)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"lobe_lift": ""}, "1I, lobe lift: Nothing was typed."),
        ({"lobe_lift": "0.2.1"}, "1I, lobe lift: “0.2.1” has two dots. Type one decimal point. Did you mean 0.21?"),
        ({"lobe_lift": "-0.1"}, "is below zero"),
        ({"lobe_lift": "2"}, "1I: a lobe does not lift 2 in. Type what the dial on the lifter shows, up to 0.8000 in."),
        ({"valve_lift": "much"}, "“much” is not a number."),
        ({"valve": "9Q"}, "There is no “9Q” on job 26-014."),
        ({"client_id": "stale"}, "This page is too old to save from."),
        ({"instrument": "999999"}, "This instrument is not in the drawer any more."),
        ({"instrument": "x"}, "This instrument is not in the drawer any more."),
    ],
)  # fmt: skip
def test_a_pair_that_cannot_be_is_refused_and_stays_typed(
    bench_client: Client, scene: Scene, changes: dict[str, str], sentence: str
):
    response = bench_client.post(url(scene, "worksheet-pair"), pair(**changes))

    assert response.status_code == 422
    assert sentence in text(response)
    assert 'value="0.316"' in text(response) or "valve_lift" in changes
    assert not Reading.objects.filter(characteristic="lift_pair").exists()


def test_an_unusual_lift_is_asked_about_and_taken_when_it_is_meant(bench_client: Client, scene: Scene):
    typed = pair(valve_lift="1.7")
    response = bench_client.post(url(scene, "worksheet-pair"), typed)
    assert "Is it meant?" in text(response)
    assert "It is meant as typed" in text(response)

    bench_client.post(url(scene, "worksheet-pair"), typed | {"sure": "on"})
    assert Reading.objects.get(characteristic="lift_pair").value == Decimal("1.7")


def test_a_closed_job_takes_no_pair(bench_client: Client, scene: Scene):
    closed(scene)
    response = bench_client.post(url(scene, "worksheet-pair"), pair())

    assert response.status_code == 422
    assert not Reading.objects.exists()


def test_a_pair_is_taken_back_with_a_reason_and_stays_in_the_log(bench_client: Client, scene: Scene):
    bench_client.post(url(scene, "worksheet-pair"), pair())
    reading = Reading.objects.get(characteristic="lift_pair")
    strike = url(scene, "worksheet-pair-strike", reading.client_id)
    assert bench_client.post(strike, {"reason": "", "client_id": str(uuid4())}).status_code == 422

    typed = {"reason": "dial slipped", "client_id": str(uuid4())}
    for _ in range(2):
        assert bench_client.post(strike, typed).url == f"{url(scene)}?valve=1I#lift"
    assert Reading.objects.filter(characteristic="lift_pair").count() == 2
    assert "Take back" not in text(bench_client.get(url(scene), {"valve": "1I"}))


def test_another_jobs_pair_is_not_found(bench_client: Client, scene: Scene, second: Person):
    bench_client.post(url(scene, "worksheet-pair"), pair())
    reading = Reading.objects.get(characteristic="lift_pair")
    other = make_scene(second, job_number="26-015")

    assert bench_client.get(url(other, "worksheet-pair-strike", reading.client_id)).status_code == 404


def test_there_is_an_end_to_the_pairs_of_one_valve(bench_client: Client, scene: Scene):
    for _ in range(40):
        bench_client.post(url(scene, "worksheet-pair"), pair())

    assert "1I has 40 pairs." in text(bench_client.post(url(scene, "worksheet-pair"), pair()))


@pytest.mark.parametrize("name", ["worksheet-pair"])
def test_a_look_writes_nothing(bench_client: Client, scene: Scene, name: str):
    assert bench_client.get(url(scene, name)).status_code == 405


def test_a_stranger_writes_nothing(stranger: Client, scene: Scene):
    for name, args in (("worksheet-pair", []), ("worksheet-new", ["masses"]), ("worksheet-lobe", ["I"])):
        assert stranger.post(url(scene, name, *args), pair() | WEIGHTS).status_code == 302
    assert not Reading.objects.exists()
    assert not MovingMasses.objects.exists()


# The demo's numbers.


def test_the_demos_numbers_hang_together(bench_client: Client, scene: Scene):
    """On the engine that they are for: rockers as the scene's, another cam."""
    card = scene.build.cam_card
    CamCard.objects.filter(pk=card.pk).update(
        intake_lobe_lift=Decimal("0.460"),
        intake_lash=Decimal("0.020"),
        intake_duration=276,
        intake_centreline=107,
    )
    scene.read_lift("1I", "0.7125")
    a_timed = {"valve": "1I", "rpm": "8000"}
    add_worksheet(scene.build, scene.person)
    scene.build.engine.stroke = Decimal("3.85")
    scene.build.engine.save()
    shown = text(bench_client.get(url(scene), a_timed))

    # Hand-worked: lobe .460 × 1.6 − .020 = .716 by the card; a dial with valve springs on reads a little less.
    assert "Net lift, worked through the linkage" in shown
    assert "<strong>0.7144 in</strong>" in shown
    assert 'role="alert"' not in shown
    assert "What the parts above lack" not in shown


def test_a_piston_side_for_each_kind_is_listed_by_its_kind(bench_client: Client, scene: Scene):
    a_piston_side(scene, fits="I")

    assert "<strong>Piston’s side</strong>: one kind of valve is without" in text(
        bench_client.get(url(scene))
    )
