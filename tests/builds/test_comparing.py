"""As found beside as built: what changed, how well that is known, and what it is judged by then and now."""

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.utils import timezone

from builds.as_it_was import shop_limits_at
from builds.compared import Compared, Stood
from builds.comparing import by_moved, compare
from builds.limits import LimitFor
from builds.models import Build, Limit, Person, Reading, Shop, UsualUncertainty
from builds.tracking import history_of
from tests.builds.came_back import came_back, loose_five, read, went_out
from tests.scenes import make_scene
from valvetrain.models import Stand, StandMove, Valve

LASH = LimitFor(Decimal("0.016"), Decimal("0.020"), "card")


def line(then: Stood, now: Stood, **more: Any) -> Compared:
    """Lash of 5E, unless told otherwise."""
    kept = {
        "position": "5E", "key": "lash_cold", "name": "lash, cold", "step": "lash", "step_name": "lash", "order": 70,
        "unit": "in", "length_unit": "in", "coverage": 2.0,
    }  # fmt: skip
    return Compared(**{**kept, **more}, then=then, now=now)  # type: ignore[arg-type]


def stood(text: str, standard: float | None = 0.0004, **more: Any) -> Stood:
    return Stood(Decimal(text), 1, standard, **more)


def test_the_uncertainty_of_a_change_is_the_root_sum_of_squares() -> None:
    # Hand-worked after JCGM 100, 5.1.2: u = √(0.0004² + 0.0003²) = 0.0005, U = 2·0.0005 = 0.0010; 0.023 is 23 of it.
    found = line(stood("0.018", 0.0004), stood("0.041", 0.0003))
    assert found.change == Decimal("0.023")
    assert found.expanded == pytest.approx(0.0010, rel=1e-12)
    assert found.moved == pytest.approx(23, rel=1e-12)


def test_the_change_in_units_of_its_uncertainty_is_the_number_en() -> None:
    # Hand-worked after ISO 13528: d = 0.0015, U₁ = 0.0008, U₂ = 0.0006 (k = 2): E_n = 0.0015 / √(0.64 + 0.36)·10³ = 1.5.
    found = line(stood("0.0100", 0.0004), stood("0.0115", 0.0003))
    assert found.moved == pytest.approx(0.0015 / (0.0008**2 + 0.0006**2) ** 0.5)
    assert found.moved == pytest.approx(1.5)
    assert found.told_apart
    assert not line(stood("0.0100", 0.0004), stood("0.0109", 0.0003)).told_apart


def test_the_shops_k_counts() -> None:
    # Hand-worked: u = 0.0005, k = 3: U = 0.0015.
    assert line(stood("0.018", 0.0004), stood("0.041", 0.0003), coverage=3.0).expanded == pytest.approx(
        0.0015
    )


def test_a_tool_that_nothing_is_known_of_leaves_the_change_without_an_uncertainty() -> None:
    found = line(stood("0.018", None), stood("0.041"))
    assert (found.expanded, found.moved, found.moved_words) == (None, None, "U not known")
    assert "+0.0230 (U not known)" in found.sentence


def test_a_change_in_a_sentence() -> None:
    found = line(
        stood("0.018", 0.00045, limit=LASH, verdict="in"), stood("0.041", 0.00045, limit=LASH, verdict="out")
    )
    # Hand-worked: U = 2·0.00045·√2 = 0.00127; 0.023/0.00127 = 18.07.
    assert (
        found.sentence == "5E lash, cold: 0.0180 → 0.0410 in, +0.0230 (18 U), out now (0.0160 to 0.0200 in)"
    )


def test_a_limit_that_moved_is_said_on_both_sides() -> None:
    wider = LimitFor(Decimal("0.016"), Decimal("0.024"), "shop")
    found = line(stood("0.021", limit=LASH, verdict="out"), stood("0.022", limit=wider, verdict="in"))
    assert found.verdict_words == "out then (0.0160 to 0.0200 in), in now (0.0160 to 0.0240 in)"
    assert not found.same_limit


@pytest.mark.parametrize(
    ("then", "now", "told"),
    [
        (Stood(there=False), stood("0.004"), "0.0040 in, was not there when it left"),
        (Stood(), stood("0.004"), "0.0040 in, was not read when it left"),
        (stood("0.004"), Stood(), "0.0040 in, not read as found"),
        (stood("0.004"), Stood(there=False), "0.0040 in, is not on it as found"),
    ],
)
def test_what_one_side_only_has_is_said(then: Stood, now: Stood, told: str) -> None:
    assert line(then, now).sentence == f"5E lash, cold: {told}"


def test_what_moved_most_comes_first_and_what_cannot_be_told_last() -> None:
    small, large = line(stood("0.010"), stood("0.011")), line(stood("0.010"), stood("0.002"))
    unknown, alone = line(stood("0.010", None), stood("0.090")), line(stood("0.010"), Stood())
    assert by_moved([alone, unknown, small, large]) == [large, small, unknown, alone]


def test_two_lashes_beside_as_built(builder: Person) -> None:
    _scene, came = loose_five(builder)
    found = {each.position: each for each in compare(came.build) if each.key == "lash_cold"}
    # Hand-worked: a feeler that nobody named is ± U at k = 2 both times, so that U of the change is √2·U.
    usual = float(UsualUncertainty.objects.get(key="feeler").uncertainty)
    other = float(UsualUncertainty.objects.get(key="other").uncertainty)
    assert found["5E"].change == Decimal("0.023")
    assert found["5E"].expanded == pytest.approx(2**0.5 * max(usual, other))
    assert found["5E"].out_now
    assert found["3E"].lacks == "not read as found"
    assert found["1E"].lacks == "was not read when it left"


def test_the_shops_limit_of_then_holds_then(builder: Person) -> None:
    scene = make_scene(builder)
    read(scene, scene.build, "5E", "pushrod_to_head", "0.045")
    with_limit = Limit.objects.get(key="pushrod_to_head", build=None)
    then = (with_limit.low, with_limit.high)
    came = came_back(went_out(scene, days_ago=3), builder)
    rows = history_of(Limit).filter(key="pushrod_to_head")
    assert rows.count() == 1  # kept today: the book began to keep limits after the engine left
    with_limit.low = Decimal("0.050")
    with_limit.save()
    read(scene, came.build, "5E", "pushrod_to_head", "0.045")
    (found,) = [each for each in compare(came.build) if each.key == "pushrod_to_head"]
    assert found.then.limit is not None
    assert (found.then.limit.low, found.then.limit.high) == then
    assert (found.then.verdict, found.now.verdict) == ("in", "out")


def test_limits_at_a_moment(db: None) -> None:
    limit = Limit.objects.get(key="sweep", build=None)
    before, was = timezone.now(), limit.high
    limit.high = Decimal("0.090")
    limit.save()
    assert shop_limits_at(before)["sweep"].high == was
    assert shop_limits_at(timezone.now())["sweep"].high == Decimal("0.090")
    assert shop_limits_at(before - timedelta(days=999))["sweep"].high == was


def test_a_valve_that_did_not_exist_when_it_left(builder: Person) -> None:
    scene = make_scene(builder)
    came = came_back(went_out(scene), builder)
    valve = Valve.objects.filter(head__build=came.build, cylinder=1).first()
    assert valve is not None
    Valve.objects.filter(head__build=scene.build, cylinder=1, kind=valve.kind).delete()
    read(scene, came.build, valve.address, "lash_cold", "0.004")
    (found,) = [each for each in compare(came.build) if each.key == "lash_cold"]
    assert found.lacks == "was not there when it left"


def test_in_millimetres(builder: Person) -> None:
    _scene, came = loose_five(builder)
    found = next(each for each in compare(came.build, "mm") if each.position == "5E")
    # Hand-worked: 0.004 in = 0.1016 mm, 0.027 in = 0.6858 mm, 0.023 in = 0.5842 mm.
    assert "5E lash, cold: 0.102 → 0.686 mm, +0.584 (" in found.sentence


def test_the_guard_band_of_then_holds_then(builder: Person) -> None:
    shop = Shop.get()
    scene, came = loose_five(builder)
    shop.guard_band = True
    shop.save()
    found = next(each for each in compare(came.build) if each.position == "5I" and each.key == "lash_cold")
    assert found.then.verdict == "in"
    assert found.now.verdict != "in"
    assert scene.build == Build.objects.get(pk=came.build.follows_id)


def test_a_job_that_follows_none_has_nothing_beside_it(builder: Person) -> None:
    assert compare(make_scene(builder).build) == []


def test_what_is_not_read_again_stands_in_as_it_was_read(builder: Person) -> None:
    # Hand-worked: open height 1.900 − 0.690 = 1.210, then 1.894 − 0.690 = 1.204: it lost 0.006, whatever the card says.
    scene = make_scene(builder)
    read(scene, scene.build, "5E", "installed_height", "1.900")
    read(scene, scene.build, "5E", "net_lift", "0.690")
    came = came_back(went_out(scene), builder)
    read(scene, came.build, "5E", "installed_height", "1.894")
    (found,) = [each for each in compare(came.build) if each.key == "open_height"]
    assert (found.now.value, found.change) == (Decimal("1.204"), Decimal("-0.006"))
    assert found.note == "net lift is not read again: what was read then stands in"


def test_a_load_that_is_not_read_again_is_not_taken_over(builder: Person) -> None:
    scene = make_scene(builder)
    for key, text in (("seat_load", "200"), ("open_load", "550")):
        read(scene, scene.build, "5E", key, text, unit="lbf")
    came = came_back(went_out(scene), builder)
    read(scene, came.build, "5E", "seat_load", "170", unit="lbf")
    found = {each.key: each for each in compare(came.build)}
    assert found["seat_load"].change == Decimal(-30)
    assert found["spring_rate"].lacks == "not read as found"


def test_what_was_set_anew_on_the_return_stays_as_it_was_found(builder: Person) -> None:
    scene, came = loose_five(builder)
    read(scene, came.build, "5E", "lash_cold", "0.004", context={"set": 1})
    read(scene, came.build, "3E", "lash_cold", "0.004", context={"set": 1})
    found = {each.position: each for each in compare(came.build) if each.key == "lash_cold"}
    assert (found["5E"].now.value, found["5E"].now.count) == (Decimal("0.027"), 1)
    # Only a set that work began is there: nobody read it as it came in.
    assert found["3E"].lacks == "not read as found"


def test_a_correction_is_of_the_moment_of_what_it_corrects(builder: Person) -> None:
    scene, came = loose_five(builder)
    wrong = Reading.objects.get(build=came.build, position="5E")
    stand = Stand.objects.get(head__build=came.build, valves__cylinder=5, valves__kind="E")
    StandMove.objects.create(stand=stand, slide_text="0.01", slide_unit="in", slide="0.01", moved_by=builder)
    read(scene, came.build, "5E", "lash_cold", "0.017", corrects=wrong, reason="typed wrong")
    read(scene, came.build, "5I", "lash_cold", "0.009")
    found = {each.position: each for each in compare(came.build) if each.key == "lash_cold"}
    assert found["5E"].now.value == Decimal("0.017")
    assert (found["5I"].now.value, found["5I"].now.count) == (Decimal("0.005"), 1)  # not what was read since
