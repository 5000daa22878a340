"""The valvetrain's steps of the log: what its papers say, what follows, and the line of the stand heights."""

from decimal import Decimal
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from builds.limits import LimitBook
from builds.models import Build, Limit, Person, Reading
from builds.overview import overview_of
from builds.recording import Entry, record
from builds.steps import get_step
from builds.worklog import WorkLog
from tests.scenes import Scene, make_scene
from valvetrain.models import CamCard, SpringSheet
from valvetrain.papers import beside, notes


@pytest.fixture
def scene(builder: Person) -> Scene:
    return make_scene(builder)


@pytest.fixture
def sheet(scene: Scene) -> SpringSheet:
    """Springs of round numbers: 200 lbf at 1.900, 550 lbf at 1.200, so 500 lbf/in; solid at 1.100."""
    return SpringSheet.objects.create(
        build=scene.build, name="Dual springs", installed_height=Decimal("1.9"), seat_load=Decimal(200),
        open_height=Decimal("1.2"), open_load=Decimal(550), solid_height=Decimal("1.1"),
    )  # fmt: skip


def read(scene: Scene, position: str, key: str, text: str, unit: str = "in", **more: object) -> Reading:
    return record(scene.build, scene.person, Entry(uuid4(), position, key, text, unit, **more))[0]  # type: ignore[arg-type]


def row(scene: Scene, step: str, position: str, unit: str = "in"):
    return WorkLog(scene.build, unit).state(get_step(step)).row(position)


def figures(scene: Scene, step: str, position: str, unit: str = "in") -> dict[str, str]:
    return {each.derived.key: each.words for each in row(scene, step, position, unit).figures if each.shown}


def test_a_spring_is_followed_from_its_seat_to_its_coils(scene: Scene, sheet: SpringSheet):
    """Hand-worked: 1.910 installed − .700 net lift = 1.210 open; − 1.100 solid = .110; (570 − 220) / .700 = 500."""
    for key, text, unit in (
        ("installed_height", "1.910", "in"), ("seat_load", "220", "lbf"), ("open_load", "570", "lbf"),
    ):  # fmt: skip
        read(scene, "1E", key, text, unit)
    assert figures(scene, "springs", "1E") == {
        "open_height": "1.2100 in", "coil_bind_margin": "0.1100 in", "spring_rate": "500 lbf/in",
        "spring_shim": "0.0100 in",
    }  # fmt: skip


def test_an_open_load_below_the_seat_load_is_marked_on_the_page_and_the_row(
    scene: Scene, sheet: SpringSheet, bench_client
):
    """Hand-worked: (200 − 220) / .700 = −28.6 lbf/in, which no spring has; no limit is set for it."""
    for key, text, unit in (
        ("installed_height", "1.910", "in"), ("seat_load", "220", "lbf"), ("open_load", "200", "lbf"),
    ):  # fmt: skip
        read(scene, "1E", key, text, unit)
    assert "rate" in row(scene, "springs", "1E").out
    page = bench_client.get(reverse("log-step", args=[scene.build.pk, "springs"])).content.decode()
    assert "The open load is not above the seat load: read one of them again." in page


def test_a_solid_height_that_is_measured_comes_before_the_sheets(scene: Scene, sheet: SpringSheet):
    read(scene, "1E", "installed_height", "1.900")
    read(scene, "1E", "solid_height", "1.150")
    assert figures(scene, "springs", "1E")["coil_bind_margin"] == "0.0500 in"
    assert row(scene, "springs", "1E").out == ["coil-bind margin"]


def test_without_a_sheet_the_margin_waits_for_a_solid_height(scene: Scene):
    read(scene, "1E", "installed_height", "1.900")
    found = figures(scene, "springs", "1E")
    assert found["coil_bind_margin"] == "waits for solid height"
    assert found["spring_shim"] == "waits for installed height"


def test_a_rate_is_told_in_newtons_a_millimetre_to_who_reads_them(scene: Scene, sheet: SpringSheet):
    """Published: NIST SP 811: 1 lbf/in = 0.175 126 8 N/mm, so 500 lbf/in are 87.6 N/mm."""
    read(scene, "1E", "seat_load", "220", "lbf")
    read(scene, "1E", "open_load", "570", "lbf")
    assert figures(scene, "springs", "1E", "mm")["spring_rate"] == "87.6 N/mm"


@pytest.mark.parametrize(
    ("key", "text", "unit", "verdict"),
    [
        ("installed_height", "1.910", "in", "in"),
        ("installed_height", "1.911", "in", "out"),
        ("seat_load", "210", "lbf", "in"),
        ("seat_load", "189.9", "lbf", "out"),
    ],
)
def test_springs_are_judged_about_their_sheet(
    scene: Scene, sheet: SpringSheet, key: str, text: str, unit: str, verdict: str
):
    """Hand-worked: 1.900 ± .010; 200 ± 5 %."""
    read(scene, "1E", key, text, unit)
    cell = next(each for each in row(scene, "springs", "1E").cells if each.characteristic.key == key)
    assert cell.verdict == verdict
    assert "spring sheet" in cell.limit.source


def test_a_sheet_for_one_kind_says_nothing_of_the_other(scene: Scene, sheet: SpringSheet):
    SpringSheet.objects.update(fits="I")
    book = LimitBook(scene.build)
    assert book.get("seat_load", "1I") is not None
    assert book.get("seat_load", "1E") is None
    assert "No spring sheet for exhaust" in notes(scene.build, get_step("springs"))[1].words


def test_piston_to_valve_has_a_limit_for_each_kind(scene: Scene):
    """Common practice; domain settings: .080 intake, .100 exhaust."""
    book = LimitBook(scene.build)
    assert book.get("piston_to_valve", "1I").low == Decimal("0.080")
    assert book.get("piston_to_valve", "1E").low == Decimal("0.100")
    assert book.get("piston_to_valve", "1E").rank == "shop"


def test_a_job_may_ask_for_more_room_at_the_exhaust_alone(scene: Scene):
    Limit.objects.create(
        build=scene.build,
        key="piston_to_valve_exhaust",
        name="x",
        low=Decimal("0.120"),
        source="customer's spec",
    )
    book = LimitBook(scene.build)
    assert (book.get("piston_to_valve", "1E").low, book.get("piston_to_valve", "1E").rank) == (
        Decimal("0.120"),
        "job",
    )
    assert book.get("piston_to_valve", "1I").low == Decimal("0.080")


@pytest.mark.parametrize(
    ("text", "verdict"), [("0.002", "in"), ("0.006", "in"), ("0.0061", "out"), ("0.0019", "out")]
)
def test_lash_is_judged_about_the_card(scene: Scene, text: str, verdict: str):
    """Hand-worked: the card's .004 ± .002."""
    read(scene, "1E", "lash_cold", text)
    cell = row(scene, "lash", "1E").cells[0]
    assert (cell.verdict, cell.limit.source) == (verdict, "cam card; common practice; shop setting")


@pytest.mark.parametrize(
    ("taken", "unit", "told"),
    [
        ("", "in", {"lash_cold": "card 0.0040 in", "lash_hot": ""}),
        ("hot", "in", {"lash_cold": "", "lash_hot": "card 0.0040 in"}),
        ("cold", "mm", {"lash_cold": "card 0.102 mm", "lash_hot": ""}),
    ],
)
def test_the_cards_lash_stands_beside_the_field(scene: Scene, taken: str, unit: str, told: dict[str, str]):
    """The scene's card says .004; .004 × 25.4 = .1016. Hand-worked."""
    CamCard.objects.update(lash_taken=taken)
    found = {cell.characteristic.key: cell.beside for cell in row(scene, "lash", "1E", unit).cells}
    assert found == told


def test_lash_that_is_in_shows_what_the_card_says(scene: Scene, bench_client: Client):
    read(scene, "1E", "lash_cold", "0.0045")
    shown = bench_client.get(reverse("log-step", args=[scene.build.pk, "lash"])).text
    place = shown.index('id="verdict-1E-lash_cold"')
    assert "card 0.0040 in" in shown[place : place + 400]


def test_a_card_for_a_warm_engine_judges_the_hot_lash_alone(scene: Scene):
    """Hand-worked: the card's .004 ± .002, meant hot: what is read cold is kept and not judged by it."""
    CamCard.objects.update(lash_taken="hot")
    read(scene, "1E", "lash_cold", "0.012")
    read(scene, "1E", "lash_hot", "0.007")
    cold, hot = row(scene, "lash", "1E").cells
    assert (cold.verdict, hot.verdict) == ("", "out")
    assert hot.limit.source == "cam card, hot; common practice; shop setting"


def test_the_ratio_as_measured_puts_lash_back(scene: Scene):
    """Hand-worked: (.700 + .004) / .440 = 1.600."""
    read(scene, "1E", "lobe_lift", "0.440")
    read(scene, "1E", "net_lift", "0.700")
    assert figures(scene, "lift", "1E")["measured_ratio"] == "1.600 ×"


def test_lifts_after_work_count_alone_in_the_log_and_at_the_bench(scene: Scene):
    """Hand-worked: .700 before, .680 after the work; a second one at the bench, .684, makes the mean .682."""
    read(scene, "1E", "net_lift", "0.700", context={"set": 0})
    read(scene, "1E", "net_lift", "0.680", context={"set": 1})
    scene.read_lift("1E", "0.684")
    assert row(scene, "lift", "1E").cells[1].mean == Decimal("0.682")
    valve = next(valve for valve in scene.state().valves if valve.address == "1E")
    assert valve.inputs.lift == pytest.approx(0.682)
    assert valve.inputs.lift_count == 2


def test_a_pushrods_correction_is_kept_with_its_reading_and_added(scene: Scene, bench_client: Client):
    """Hand-worked: 7.900 + .020 at the ball − .005 at the cup = 7.915."""
    sent = {
        "client_id": str(uuid4()), "position": "1E", "characteristic": "pushrod_length", "value": "7.900", "unit": "in",
        "ball": "0.020", "cup": "-.005",
    }  # fmt: skip
    url = reverse("log-reading", args=[scene.build.pk, "pushrods"])
    answer = bench_client.post(url, sent)
    assert "7.9150 in" in answer.text
    kept = Reading.objects.get()
    assert kept.text == "7.900"
    assert kept.context["corrections"]["cup"] == {"text": "-.005", "unit": "in", "value": "-0.005000000000"}
    shown = bench_client.get(reverse("log-step", args=[scene.build.pk, "pushrods"])).text
    assert 'value="0.020"' in shown


def test_repeats_with_and_without_a_correction_are_each_corrected_by_their_own(scene: Scene):
    """Hand-worked: 7.900 + .020 and 7.920 with nothing to add: both 7.920."""
    kept = {"corrections": {"ball": {"text": "0.02", "unit": "in", "value": "0.02"}}}
    read(scene, "1E", "pushrod_length", "7.900", context=kept)
    read(scene, "1E", "pushrod_length", "7.920")
    assert figures(scene, "pushrods", "1E")["pushrod_to_order"] == "7.9200 in"


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("long", "Ball end adds: “long” is not a number"),
        ("7.9", "Ball end adds: 7.9 in is more than any has, 0.5000 in at most."),
        ("0.0.2", "Ball end adds: “0.0.2” has two dots."),
    ],
)
def test_a_correction_that_cannot_be_is_refused(
    scene: Scene, bench_client: Client, typed: str, sentence: str
):
    sent = {
        "client_id": str(uuid4()), "position": "1E", "characteristic": "pushrod_length", "value": "7.9", "ball": typed,
    }  # fmt: skip
    answer = bench_client.post(reverse("log-reading", args=[scene.build.pk, "pushrods"]), sent)
    assert (answer.status_code, answer.json()["field"]) == (422, "ball")
    assert sentence in answer.json()["sentence"]
    assert not Reading.objects.exists()


def test_the_card_stands_beside_what_is_degreed(scene: Scene):
    """Published: TM 9-8000's intake: 28 before, 71 after, so 279 degrees about 111.5."""
    CamCard.objects.update(
        intake_opens=28, intake_closes=71, exhaust_opens=75, exhaust_closes=45, intake_centreline=Decimal("111.5"),
        intake_duration=279,
    )  # fmt: skip
    told = beside(scene.build, get_step("degreeing"), "in")
    assert told["engine", "intake_centreline"] == "card 111.50°"
    assert told["engine", "intake_duration"] == "card 279.00°"
    assert [note.words for note in notes(scene.build, get_step("degreeing"))] == [
        "The card’s own numbers agree with one another."
    ]


def test_a_card_that_contradicts_itself_is_told_so_where_the_cam_is_degreed(
    scene: Scene, bench_client: Client
):
    CamCard.objects.update(
        intake_opens=28, intake_closes=71, exhaust_opens=75, exhaust_closes=45, intake_duration=269
    )
    shown = bench_client.get(reverse("log-step", args=[scene.build.pk, "degreeing"])).text
    assert (
        "The card’s own numbers disagree: intake duration: the card says 269°, its events give 279°." in shown
    )


def test_several_centrelines_are_averaged_and_judged_about_the_card(scene: Scene):
    """Hand-worked: mean of 107, 108 and 107.5 is 107.5; the card's 106.5 ± 1 holds it."""
    CamCard.objects.update(intake_centreline=Decimal("106.5"))
    for text in ("107", "108", "107.5"):
        read(scene, "engine", "intake_centreline", text, "°")
    cell = row(scene, "degreeing", "engine").cells[0]
    assert (cell.verdict, cell.repeats_words) == ("in", "mean 107.50 of 3, range 1.00")


def test_events_add_up_to_durations(scene: Scene):
    """Published: TM 9-8000: 28 + 180 + 71 = 279; overlap 28 + 45 = 73."""
    for key, text in (("intake_opens", "28"), ("intake_closes", "71"), ("exhaust_closes", "45")):
        read(scene, "engine", key, text, "°")
    found = figures(scene, "degreeing", "engine")
    assert (found["intake_duration"], found["overlap"]) == ("279.00°", "73.00°")


def test_the_stand_heights_stand_between_lift_and_pushrods(scene: Scene):
    found = overview_of(WorkLog(scene.build))
    assert [line.name for line in found[:5]] == [
        "lift", "stand height, Left head", "stand height, Right head", "witness marks", "pushrods",
    ]  # fmt: skip
    assert found[1].tally == "0 of 4 stands in"
    assert found[1].url == reverse("bench", args=[scene.left.pk])


def test_a_stand_that_is_in_counts(scene: Scene):
    for address in ("1E", "1I"):
        scene.read_gap(address, "0")
    left = next(line for line in overview_of(WorkLog(scene.build)) if "Left" in line.name)
    assert (left.tally, left.status) == ("1 of 4 stands in", "todo")


def test_a_stand_that_is_out_makes_its_head_so(scene: Scene):
    scene.fit("L.stand1", "0.005")
    for address in ("1E", "1I"):
        scene.read_gap(address, "0.020")
    left = next(line for line in overview_of(WorkLog(scene.build)) if "Left" in line.name)
    assert (left.tally, left.status) == ("0 of 4 stands in, 1 out of limit", "out")


def test_a_job_without_heads_has_no_line_of_stands(builder: Person, scene: Scene):
    bare = Build.objects.create(job_number="bare", engine=scene.build.engine)
    assert not any("stand height" in line.name for line in overview_of(WorkLog(bare)))


@pytest.mark.parametrize(
    "step", ["lift", "marks", "pushrods", "springs", "clearances", "degreeing", "lash", "torque"]
)
def test_a_step_asks_the_same_with_3_and_with_60_readings(
    scene: Scene, sheet: SpringSheet, bench_client: Client, step: str
):
    def cost() -> int:
        with CaptureQueriesContext(connection) as captured:
            assert bench_client.get(reverse("log-step", args=[scene.build.pk, step])).status_code == 200
        return len(captured)

    valves = [valve.address for head in (scene.left, scene.right) for valve in head.valves.all()]
    for address in valves[:3]:
        read(scene, address, "installed_height", "1.900")
    read(scene, valves[0], "mark_outer", "0.02")
    cost()
    few = cost()
    for number in range(57):
        key = ("installed_height", "retainer_to_seal", "lash_cold", "net_lift", "mark_outer")[number % 5]
        read(scene, valves[number % 16], key, ("1.901", "0.08", "0.004", "0.699", "0.03")[number % 5])
    assert cost() == few


@pytest.mark.parametrize(
    ("height", "unit", "said"),
    [
        ("1.896", "in", "nothing goes under: 0.0040 in must come away from under the spring"),
        ("1.896", "mm", "nothing goes under: 0.102 mm must come away from under the spring"),
        ("1.900", "in", ""),
        ("1.904", "in", ""),
    ],
)
def test_a_spring_shim_of_less_than_nothing_says_what_to_do(
    scene: Scene, sheet: SpringSheet, height: str, unit: str, said: str
):
    """Hand-worked: 1.896 measured − 1.900 wanted = −.004, × 25.4 = −.1016."""
    read(scene, "1E", "installed_height", height)
    found = next(
        each for each in row(scene, "springs", "1E", unit).figures if each.derived.key == "spring_shim"
    )
    assert found.said == said


def test_the_page_says_that_nothing_goes_under_the_spring(
    scene: Scene, sheet: SpringSheet, bench_client: Client
):
    read(scene, "1E", "installed_height", "1.896")
    shown = bench_client.get(reverse("log-step", args=[scene.build.pk, "springs"])).text
    assert "nothing goes under: 0.0040 in must come away from under the spring" in shown


def test_a_verdict_stands_on_a_line_of_its_own_behind_its_sign(
    scene: Scene, sheet: SpringSheet, bench_client: Client
):
    """“0.1480 in in” was read as inches."""
    read(scene, "1E", "installed_height", "1.900")
    shown = bench_client.get(reverse("log-step", args=[scene.build.pk, "springs"])).text
    assert '<dd class="word"><span class="sign"></span><strong>in</strong></dd>' in shown
    assert '<p class="word"><span class="sign"></span><strong>in</strong></p>' in shown
    assert "</strong> in" not in shown
