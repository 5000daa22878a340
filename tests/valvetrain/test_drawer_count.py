"""What lies in the drawer now. Expected counts are hand-worked: stands have two pads, the drawer 40 of each thickness."""

from datetime import date, timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.utils import timezone

from builds.models import Person
from tests.scenes import Scene, make_scene
from valvetrain.acts import act_for
from valvetrain.drawer_count import read_drawer
from valvetrain.logbook import PackEntry, fit
from valvetrain.models import FittedPack, ShimStock, Stand
from valvetrain.packwords import low_words

THIN = Decimal("0.015")


@pytest.fixture
def scene(builder: Person) -> Scene:
    return make_scene(builder)


def left(thickness: str = "0.015") -> int:
    return next(line.count for line in read_drawer() if line.thickness == Decimal(thickness))


def stand(scene: Scene, address: str = "L.stand1") -> Stand:
    return next(each for each in Stand.objects.select_related("head__build") if each.address == address)


def entry(*pieces: tuple[str, int], **more: object) -> PackEntry:
    return PackEntry(uuid4(), [(Decimal(text), count) for text, count in pieces], **more)  # type: ignore[arg-type]


def only(count: int, thickness: str = "0.015", **more: object) -> None:
    """A drawer of one thickness."""
    ShimStock.objects.exclude(thickness=Decimal(thickness)).delete()
    ShimStock.objects.update(count=count, **more)


def test_a_pack_takes_as_many_as_the_stand_has_pads(scene):
    scene.fit("L.stand1", "0.015", "0.015", "0.002")
    assert (left("0.015"), left("0.002"), left("0.003")) == (36, 38, 40)


def test_a_refit_puts_the_old_pieces_back(scene):
    scene.fit("L.stand1", "0.015", "0.015")
    scene.fit("L.stand1", "0.015", "0.010")
    assert (left("0.015"), left("0.010")) == (38, 38)


def test_shims_taken_out_are_in_the_drawer_again(scene):
    scene.fit("L.stand1", "0.015")
    scene.fit("L.stand1")
    assert left() == 40


def test_old_shims_that_are_scrap_do_not_come_back(scene):
    scene.fit("L.stand1", "0.015")
    fit(stand(scene), scene.person, entry(("0.015", 1), old_scrapped=True))
    assert left() == 36


def test_every_stand_takes_from_the_one_drawer(scene, second):
    other = make_scene(second, job_number="26-015")
    scene.fit("L.stand1", "0.015")
    scene.fit("R.stand2", "0.015")
    fit(
        Stand.objects.select_related("head__build").get(head=other.left, name="stand1"),
        second,
        entry(("0.015", 1)),
    )
    assert left() == 34


def test_an_engine_that_left_takes_its_shims_along(scene):
    scene.fit("L.stand1", "0.015")
    scene.build.went_out_on = date(2026, 3, 1)
    scene.build.save()
    assert left() == 38


def test_a_count_holds_from_the_moment_it_was_made(scene):
    scene.fit("L.stand1", "0.015")
    ShimStock.objects.filter(thickness=THIN).update(count=38, counted_at=timezone.now())
    scene.fit("L.stand2", "0.015")
    assert left() == 36


def test_what_was_fitted_before_the_count_comes_back_after_it(scene):
    scene.fit("L.stand1", "0.015")
    ShimStock.objects.filter(thickness=THIN).update(count=38, counted_at=timezone.now())
    scene.fit("L.stand1")
    assert left() == 40


def test_a_pack_that_waited_on_the_tablet_through_a_count_is_not_taken_off_twice(scene):
    fit(stand(scene), scene.person, entry(("0.015", 1), fitted_at=timezone.now() - timedelta(hours=1)))
    assert left() == 40


def test_a_pack_sent_twice_is_taken_once(scene):
    same = entry(("0.015", 1))
    for _ in range(2):
        fit(stand(scene), scene.person, same)
    assert left() == 38


def test_pieces_under_one_pad_are_taken_once(scene):
    under = {"A": [(THIN, 1)], "B": [(THIN, 2)]}
    fit(stand(scene), scene.person, entry(("0.010", 1), under=under))
    assert (left("0.015"), left("0.010")) == (37, 38)


def test_one_thickness_on_two_rows_is_one_lot(scene):
    ShimStock.objects.create(thickness=THIN, count=10, material="brass", least=3)
    scene.fit("L.stand1", "0.015")
    assert left() == 48


def test_a_count_that_was_too_small_is_never_negative_and_says_so(scene):
    only(2)
    scene.fit("L.stand1", "0.015", "0.015")
    (line,) = read_drawer()
    assert (line.count, line.off_by) == (0, 2)
    assert low_words([line]) == ["The drawer’s count of .015 is off by 2: count it."]


def test_a_thickness_below_what_the_shop_keeps_is_low(scene):
    only(40, least=39)
    assert low_words(read_drawer()) == []
    scene.fit("L.stand1", "0.015")
    assert low_words(read_drawer()) == [".015 is low: 38 left, the shop keeps at least 39."]


def test_the_act_chooses_from_what_is_there_now(scene):
    only(4)
    scene.fit("L.stand2", "0.015")  # two pieces are left: one for each pad of stand 1
    scene.read_gap("1E", "0.030")
    scene.read_gap("1I", "0.030")
    act = act_for(scene.stand("L.stand1"))
    assert act.kind == "drawer"
    assert "The least wrong from the drawer is .015, leaves 0.015 in low." in act.lines


def test_what_lies_under_the_very_stand_may_be_used_again(scene):
    only(4)
    scene.fit("L.stand1", "0.015")
    scene.read_gap("1E", "0.015")
    scene.read_gap("1I", "0.015")
    act = act_for(scene.stand("L.stand1"))
    assert act.headline.startswith("Raise 0.015 in: make the pack .015 + .015 (now .015)")
    assert "That takes the last .015 out of the drawer." in act.lines


def test_the_act_says_when_a_pack_leaves_fewer_than_the_shop_keeps(scene):
    only(10, least=9)
    scene.read_gap("1E", "0.015")
    scene.read_gap("1I", "0.015")
    assert (
        "That leaves 8 of .015 in the drawer: the shop keeps at least 9."
        in act_for(scene.stand("L.stand1")).lines
    )


def test_a_pack_that_uses_only_its_own_pieces_says_nothing_of_the_drawer(scene):
    only(4)
    scene.fit("L.stand1", "0.015", "0.015")
    scene.read_gap("1E", "0", foot_feeler="0.015")
    scene.read_gap("1I", "0", foot_feeler="0.015")
    act = act_for(scene.stand("L.stand1"))
    assert act.headline.startswith("Lower 0.015 in: make the pack .015 (now .015 + .015)")
    assert act.lines == []


def test_the_drawer_is_read_in_one_query_however_much_was_fitted(scene, django_assert_num_queries):
    with django_assert_num_queries(1):
        read_drawer()
    for address in ("L.stand1", "L.stand2", "R.stand1"):
        scene.fit(address, "0.015", "0.010")
        scene.fit(address, "0.020")
    with django_assert_num_queries(1):
        read_drawer()


def test_a_pack_fitted_on_another_head_is_seen_at_the_next_look(scene, bench_client):
    """What a bench keeps from save to save is let go as soon as anything was fitted anywhere."""
    page = f"/bench/{scene.left.pk}/at/L.stand1"
    only(2)
    scene.read_gap("1E", "0.015")
    scene.read_gap("1I", "0.015")
    assert "add .015 under each pad" in bench_client.get(page).content.decode()
    scene.fit("R.stand1", "0.015")
    assert "the drawer cannot make one" in bench_client.get(page).content.decode()


def test_a_pack_may_be_measured_and_the_measured_total_wins(scene):
    fit(stand(scene), scene.person, entry(("0.015", 1), ("0.010", 1), measured=".0254"))
    pack = FittedPack.objects.get()
    assert (pack.measured_text, pack.measured_unit, pack.total(), pack.nominal()) == (
        ".0254", "in", Decimal("0.0254"), Decimal("0.025"),
    )  # fmt: skip
    assert scene.stand("L.stand1").pack_total == 0.0254
