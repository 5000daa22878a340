"""How a valve drifts: which readings count, which limit holds, and what is said. Hand-worked from the scene."""

import re
from datetime import date
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest

from builds.looks import open_check, open_return
from builds.models import Limit, Person, Reading
from builds.recording import strike_out
from tests.scenes import Scene, make_scene
from tests.valvetrain.track import check, drifting, go_out, read, run
from valvetrain.trends import FOLLOWED, Trend, TrendBook
from valvetrain.trendwords import about, state_word, words


@pytest.fixture
def scene(builder: Person) -> Scene:
    return drifting(builder)


def trends_of(scene: Scene, **more: Any) -> dict[tuple[str, str], Trend]:
    book = TrendBook([scene.build], **more)
    return {(trend.address, trend.followed.key): trend for trend in book.trends(scene.build.pk)}


def test_the_points_are_as_built_and_each_check_after_what_it_had_run(scene: Scene) -> None:
    trend = trends_of(scene)["1I", "lash_cold"]
    told = [(point.name, point.running, point.value) for point in trend.points]
    assert told[:2] == [("as built", 0, Decimal("0.0040")), ("check 1", 1, Decimal("0.0042"))]
    assert told[-1] == ("check 5", 5, Decimal("0.0050"))
    assert (trend.ran, trend.run_unit, trend.verdict) == (8, "passes", "in")


def test_the_line_and_where_it_leaves_the_cards_limit(scene: Scene) -> None:
    # Card .004, tolerance .002 either way: .004 + .0002·10 = .006.
    trend = trends_of(scene)["1I", "lash_cold"]
    assert trend.drift is not None
    assert trend.crossing is not None
    assert trend.drift.line.slope == pytest.approx(0.0002)
    assert trend.crossing.at == pytest.approx(10)
    assert trend.running_left == pytest.approx(2)


def test_what_is_not_read_again_has_no_trend(scene: Scene) -> None:
    assert set(trends_of(scene)) == {("1I", "lash_cold"), ("3E", "lash_cold")}
    assert TrendBook([scene.build]).not_again(scene.build.pk, "lash_cold") == 1


def test_what_leaves_its_limit_first_comes_first(scene: Scene) -> None:
    found = TrendBook([scene.build]).trends(scene.build.pk)
    assert [trend.address for trend in found] == ["1I", "3E"]


def test_a_job_s_own_limit_comes_before_the_card(scene: Scene) -> None:
    Limit.objects.create(
        build=scene.build, key="lash", name="lash", low="0.003", high="0.0045", source="rules"
    )
    trend = trends_of(scene)["1I", "lash_cold"]
    assert trend.limit is not None
    assert (trend.limit.source, trend.is_out) == ("rules", True)
    assert "out of its limit when last read, after 5 passes" in words(trend, "in")


def test_the_sentence_of_a_trend(scene: Scene) -> None:
    assert words(trends_of(scene)["1I", "lash_cold"], "in") == (
        "0.0020 in looser every 10 passes; leaves its limit at about 10 passes; it has run 8 passes."
    )


def test_the_sentence_for_who_reads_millimetres(scene: Scene) -> None:
    # .002 in are .0508 mm.
    assert words(trends_of(scene)["1I", "lash_cold"], "mm").startswith("0.051 mm looser every 10 passes")


def test_a_valve_that_stays_says_so(scene: Scene) -> None:
    trend = trends_of(scene)["3E", "lash_cold"]
    assert words(trend, "in").startswith(
        "does not drift that shows; goes nowhere near its limit; it has run 8"
    )
    assert state_word(trend) == "not near"


@pytest.mark.parametrize(
    ("ran", "interval", "word"), [("0", 0, "not near"), ("0", 3, "near"), ("2", 0, "past its line")]
)
def test_the_word_follows_what_it_has_run(
    scene: Scene, builder: Person, ran: str, interval: float, word: str
) -> None:
    if ran != "0":
        run(scene.build, builder, 21, ran)
    assert state_word(trends_of(scene)["1I", "lash_cold"], interval) == word


def test_the_interval_stands_behind_where_it_leaves(scene: Scene, builder: Person) -> None:
    # A reading off the line: the fastest of its slopes leaves the limit before, the slowest after.
    run(scene.build, builder, 21, "1")
    check(scene.build, builder, 21, {"1I": "0.0052"})
    check(scene.build, builder, 22, {"1I": "0.0056"})
    said = words(trends_of(scene)["1I", "lash_cold"], "in")
    assert re.search(r"leaves its limit at about \d+ passes \(\d+ to \d+\); it has run 9", said)


def test_few_readings_are_called_a_guess(builder: Person) -> None:
    scene = make_scene(builder)
    read(scene.build, builder, {"1I": "0.0040"})
    go_out(scene.build)
    run(scene.build, builder, 1, "10")
    check(scene.build, builder, 1, {"1I": "0.0055"})
    two = words(trends_of(scene)["1I", "lash_cold"], "in")
    assert "leaves its limit at about 13 passes; it has run 10" in two
    assert "Two readings: a line through both, and no telling how wrong." in two
    run(scene.build, builder, 2, "10")
    check(scene.build, builder, 2, {"1I": "0.0050"})
    assert "Three readings: a guess; it may as well not drift at all." in words(
        trends_of(scene)["1I", "lash_cold"], "in"
    )


def test_one_reading_after_no_running_makes_no_line(builder: Person) -> None:
    scene = make_scene(builder)
    read(scene.build, builder, {"1I": "0.0040"})
    go_out(scene.build)
    check(scene.build, builder, 1, {"1I": "0.0042"})
    trend = trends_of(scene)["1I", "lash_cold"]
    assert (trend.drift, state_word(trend)) == (None, "no line yet")
    assert words(trend, "in") == (
        "read at one running only; nothing can be projected yet; it has run nothing."
    )


def test_the_mean_of_the_set_that_counts(builder: Person) -> None:
    scene = make_scene(builder)
    read(scene.build, builder, {"1I": "0.0090"})
    read(scene.build, builder, {"1I": "0.0040"}, number=1)
    read(scene.build, builder, {"1I": "0.0042"}, number=1)
    go_out(scene.build)
    run(scene.build, builder, 1, "4")
    check(scene.build, builder, 1, {"1I": "0.0045"})
    built = trends_of(scene)["1I", "lash_cold"].points[0]
    assert (built.value, built.count) == (Decimal("0.0041"), 2)


def test_a_valve_that_was_set_anew_begins_its_line_again(scene: Scene, builder: Person) -> None:
    run(scene.build, builder, 21, "2")
    anew = check(scene.build, builder, 21, {"1I": "0.0060"})
    read(anew, builder, {"1I": "0.0040"}, number=1)
    trend = trends_of(scene)["1I", "lash_cold"]
    assert [not point.left_out for point in trend.points] == [False] * 7 + [True]
    assert (trend.points[-1].name, trend.points[-1].value) == ("check 6, set anew", Decimal("0.0040"))
    assert trend.drift is None


def test_what_comes_back_is_a_point_as_found(scene: Scene, builder: Person) -> None:
    came = open_return(scene.build, builder, came_back_on=date(2026, 4, 1), complaint="noise")
    read(came.build, builder, {"1I": "0.0056"})
    last = trends_of(scene)["1I", "lash_cold"].last
    assert (last.name, last.running, last.value) == ("as found", 8, Decimal("0.0056"))


def test_what_was_set_anew_on_the_return_is_no_drift(scene: Scene, builder: Person) -> None:
    before = trends_of(scene)["1I", "lash_cold"]
    came = open_return(scene.build, builder, came_back_on=date(2026, 4, 1), complaint="noise")
    read(came.build, builder, {"1I": "0.0056"})
    read(came.build, builder, {"1I": "0.0040"}, number=1)
    after = trends_of(scene)["1I", "lash_cold"]
    assert after.drift == before.drift
    assert (after.last.name, after.last.value, after.last.count) == ("as found", Decimal("0.0056"), 1)


def test_what_is_found_is_held_against_the_line_of_the_checks_and_does_not_bend_it(
    scene: Scene, builder: Person
) -> None:
    before = trends_of(scene)["1I", "lash_cold"]
    came = open_return(scene.build, builder, came_back_on=date(2026, 4, 1), complaint="noise")
    read(came.build, builder, {"1I": "0.0560"})
    after = trends_of(scene)["1I", "lash_cold"]
    assert after.drift == before.drift
    assert [bool(point.left_out) for point in after.points] == [False] * 6 + [True]
    assert after.is_out


def test_with_few_checks_what_is_found_is_on_the_line(builder: Person) -> None:
    scene = make_scene(builder)
    read(scene.build, builder, {"1I": "0.0040"})
    go_out(scene.build)
    run(scene.build, builder, 1, "4")
    came = open_return(scene.build, builder, came_back_on=date(2026, 4, 1), complaint="season is over")
    read(came.build, builder, {"1I": "0.0050"})
    drift = trends_of(scene)["1I", "lash_cold"].drift
    assert drift is not None
    assert drift.line.slope == pytest.approx(0.00025)


def test_seat_load_is_lost_against_its_own_limit(builder: Person) -> None:
    scene = make_scene(builder)
    Limit.objects.create(
        build=scene.build,
        key="seat_load",
        name="seat load",
        low="200",
        high="240",
        unit_kind="force",
        source="x",
    )
    read(scene.build, builder, {"1I": "220"}, "seat_load")
    go_out(scene.build)
    run(scene.build, builder, 1, "50")
    check(scene.build, builder, 1, {"1I": "210"}, "seat_load")
    assert words(trends_of(scene)["1I", "seat_load"], "in").startswith(
        "2.0 lbf lost every 10 passes; leaves its limit at about 100 passes; it has run 50 passes"
    )


def test_what_no_limit_is_set_for_is_not_judged(builder: Person) -> None:
    scene = make_scene(builder)
    read(scene.build, builder, {"1I": "1.8200"}, "tip_height")
    go_out(scene.build)
    run(scene.build, builder, 1, "20")
    check(scene.build, builder, 1, {"1I": "1.8260"}, "tip_height")
    trend = trends_of(scene)["1I", "tip_height"]
    assert state_word(trend) == "not judged"
    assert words(trend, "in").startswith("0.0030 in higher every 10 passes; no limit is set")


def test_a_line_that_has_left_says_that_it_did(scene: Scene, builder: Person) -> None:
    run(scene.build, builder, 21, "4")
    assert "on its line it left its limit at about 10 passes; it has run 12 passes" in words(
        trends_of(scene)["1I", "lash_cold"], "in"
    )


def test_running_is_counted_in_one_unit(scene: Scene, builder: Person) -> None:
    run(scene.build, builder, 0, "2.5", unit="hours")
    assert TrendBook([scene.build]).run_unit(scene.build.pk) == "passes"
    assert trends_of(scene, run_unit="hours")["1I", "lash_cold"].ran == Decimal("2.5")


def test_a_correction_of_a_reading_counts_in_its_place(scene: Scene, builder: Person) -> None:
    wrong = Reading.objects.filter(position="1I").order_by("-pk").first()
    assert wrong is not None
    strike_out(wrong.build, builder, client_id=uuid4(), reading=wrong, reason="another valve's")
    assert trends_of(scene)["1I", "lash_cold"].last.name == "check 4"


def test_amounts_of_running_are_told_no_finer_than_they_are_known() -> None:
    assert [
        about(amount, unit) for amount, unit in ((61.7, "passes"), (6.27, "hours"), (120.4, "hours"))
    ] == [
        "62",
        "6.3",
        "120",
    ]


def test_everything_followed_is_something_that_is_measured() -> None:
    assert [each.characteristic.key for each in FOLLOWED.values()] == list(FOLLOWED)


def test_as_many_questions_for_many_checks_and_jobs(
    scene: Scene, builder: Person, django_assert_num_queries: Any
) -> None:
    """As few for five checks as for sixty, and for one job as for two."""

    def look() -> None:
        book = TrendBook([scene.build, *others])
        assert book.trends(scene.build.pk)

    others: list[Any] = []
    with django_assert_num_queries(10):
        look()
    for number in range(55):
        check(scene.build, builder, 20 + number, {"1I": "0.0050"})
    others.append(drifting(builder, "26-099").build)
    with django_assert_num_queries(10):
        look()
    open_check(scene.build, builder, read_on=date(2026, 3, 22))
