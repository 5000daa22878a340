"""The worksheet's figures: records in, lift, motion, loads and piston clearance out."""

import math
from decimal import Decimal

import numpy as np
import pytest
from scipy.optimize import brentq

from builds.models import Person
from builds.recording import record
from tests.scenes import Scene, make_scene
from tests.valvetrain.worksheet_bench import (
    a_piston_side,
    a_pushrod_side,
    a_spring_sheet,
    a_timed_card,
    everything,
    some_masses,
    some_rows,
)
from valvetrain.gathering import gather
from valvetrain.geometry.errors import GeometryError
from valvetrain.models import CamCard, LobeTable, PushrodSide
from valvetrain.models.worksheet import for_kind
from valvetrain.worksheet import Case, case_of, linkage_for, lobe_for, valves_of_heads
from valvetrain.worksheet_lift import lift_part
from valvetrain.worksheet_loads import loads_part
from valvetrain.worksheet_motion import motion_part
from valvetrain.worksheet_piston import piston_part
from valvetrain.worksheet_running import running
from valvetrain.worksheet_words import Letters, Part

pytestmark = pytest.mark.django_db
INCH = Letters("in")


@pytest.fixture
def scene(builder: Person) -> Scene:
    return make_scene(builder)


def case(scene: Scene, address: str = "1I") -> Case:
    heads = valves_of_heads(scene.build)
    valves = [valve for head in heads for on_stand in head.valves_on.values() for valve in on_stand]
    return case_of(heads, scene.build, next(valve for valve in valves if valve.address == address))


def value(part: Part, name: str) -> str:
    return next(line.value for line in part.lines if line.name == name)


def note(part: Part, name: str) -> str:
    return next(line.note for line in part.lines if line.name == name)


def rows(part: Part, caption: str) -> list[tuple[str, ...]]:
    return list(next(grid.rows for grid in part.grids if grid.caption.startswith(caption)))


def read(scene: Scene, address: str, characteristic: str, text: str, unit: str = "in") -> None:
    entry = scene.entry(address, text, characteristic, unit=unit)
    record(scene.build, scene.person, entry)


class TestLinkage:
    def test_a_straight_rocker_gives_its_nominal_ratio_where_the_arm_is_square(self, scene: Scene):
        a_pushrod_side(scene)
        linkage = case(scene).linkage()

        # Hand-worked: cup and roller on one line through the shaft, the arm square at half lift, the pushrod upright
        # within a fifth of a degree: 1.650 / 1.03125 = 1.6.
        assert linkage.ratio(0.22) == pytest.approx(1.6, abs=1e-4)
        assert linkage.valve_lift(0.44) == pytest.approx(0.7, abs=2e-5)

    def test_the_lift_is_what_a_root_finder_finds(self, scene: Scene):
        side = a_pushrod_side(
            scene, cup_angle=Decimal(192), lean=Decimal(6), lifter_lean=Decimal(-4), cup_offset=Decimal("0.05"),
            lean_along=Decimal(3), shaft_offset=Decimal("1.62"),
        )  # fmt: skip
        linkage = case(scene).linkage()

        # Independent method: both balls placed by hand, and the arm turned until the pushrod has its length again.
        height, offset, radius = 0.235 - 0.35, 1.62, float(side.cup_radius)

        def cup(arm: float) -> np.ndarray:
            turned = arm + math.radians(192)
            return np.array([radius * math.cos(turned) - offset, radius * math.sin(turned) + height, 0.05])

        closed = math.asin((0.235 - height) / 1.65)
        way = np.array([math.tan(math.radians(6)), 1.0, math.tan(math.radians(3))])
        lifter = cup(closed) - 8.0 * way / np.linalg.norm(way)
        rise = np.array([math.tan(math.radians(-4)), 1.0, 0.0])
        rise /= np.linalg.norm(rise)
        lash_taken = math.asin((0.235 + 0.004 - height) / 1.65)
        length = np.linalg.norm(cup(lash_taken) - lifter)
        arm = brentq(lambda a: np.linalg.norm(cup(a) - lifter - 0.44 * rise) - length, -0.6, lash_taken)
        assert linkage.valve_lift(0.44) == pytest.approx(0.235 - height - 1.65 * math.sin(arm), abs=1e-10)

    def test_the_lifter_stays_where_it_is_when_the_lift_moves_the_stand(self, scene: Scene):
        a_pushrod_side(scene)
        before = case(scene).linkage()
        scene.read_lift("1I", "0.720")
        after = case(scene).linkage()

        # Hand-worked: .020 more lift brings the stand .010 down, and the pushrod .010 × (1 + 1/1.6) shorter.
        assert after.shaft_height - before.shaft_height == pytest.approx(-0.010)
        shorter = before.pushrod_length_for() - after.pushrod_length_for()
        assert shorter == pytest.approx(0.010 * (1 + 1 / 1.6), abs=1e-4)

    def test_others_get_the_same_linkage_with_records_and_valve_alone(self, scene: Scene):
        a_pushrod_side(scene)
        records = gather([scene.left])[0]
        valve = next(v for on in records.valves_on.values() for v in on if v.address == "1I")

        assert linkage_for(records, valve) == case(scene).linkage()

    def test_there_is_no_linkage_before_the_pushrods_side_is_entered(self, scene: Scene):
        assert case(scene).linkage() is None

    def test_one_kinds_side_is_not_the_others(self, scene: Scene):
        a_pushrod_side(scene, fits="E")

        assert case(scene, "1E").linkage() is not None
        assert case(scene, "1I").linkage() is None
        assert for_kind([PushrodSide(fits="both"), PushrodSide(fits="I")], "I").fits == "I"

    def test_numbers_that_cannot_be_put_together_give_the_geometrys_sentence(self, scene: Scene):
        a_pushrod_side(scene, checked_top=Decimal("3"))
        part = lift_part(case(scene), [], INCH)

        assert "the arm cannot reach" in part.problems[0].lower()
        assert part.problems[0].endswith("check the lift, the arm length and the shaft height.")
        assert part.grids == []


class TestLiftPart:
    def test_it_says_what_is_missing_and_where_to_enter_it(self, scene: Scene):
        part = lift_part(case(scene), [], INCH)

        assert part.gaps[0].words.startswith("Where the pushrod and the lifter stand is not entered")
        assert part.gaps[0].address == f"/jobs/{scene.build.pk}/worksheet/pushrod/new/"

    def test_the_pushrod_is_told_over_both_ends_once_the_balls_are_known(self, scene: Scene):
        ball = Decimal("0.3125")
        # The checking pushrod is 8.3125 over both ends: 8 between the centres of two balls of .3125. Hand-worked.
        a_pushrod_side(
            scene, rocker_ball=ball, lifter_ball=ball, checked_length=Decimal("8.3125"), length_in_use=Decimal("8.3"),
        )  # fmt: skip
        part = lift_part(case(scene), [], INCH)

        assert value(part, "Pushrod for the stand’s right height, zero lash") == "8.3125 in"
        assert note(part, "Pushrod in use") == "0.0125 in shorter than that"

    def test_a_cup_end_counts_by_its_depth(self, scene: Scene):
        ball, side = Decimal("0.3125"), a_pushrod_side(scene)
        side.rocker_ball = side.lifter_ball = ball
        side.rocker_cup_depth = Decimal("0.125")

        # Hand-worked: .125 − .15625 at the cup, .15625 at the ball: .125 together.
        assert side.ends() == pytest.approx(0.125)
        assert side.effective(8.125) == pytest.approx(8.0)

    def test_the_pushrod_read_in_the_log_stands_beside_it(self, scene: Scene):
        a_pushrod_side(scene)
        read(scene, "1I", "pushrod_length", "8.010")

        part = lift_part(case(scene), [], INCH)
        assert value(part, "Pushrod as read in the log") == "8.0100 in"
        assert note(part, "Pushrod as read in the log") == "0.0100 in longer than that"

    def test_what_the_checking_pushrods_ends_add_is_added(self, scene: Scene):
        a_pushrod_side(scene)
        kept = {"corrections": {"ball": {"value": "0.150"}, "cup": {"value": "-0.030"}}}
        entry = scene.entry("1I", "7.880", "pushrod_length", context=kept)
        record(scene.build, scene.person, entry)

        # Hand-worked: 7.880 + .150 − .030.
        assert value(lift_part(case(scene), [], INCH), "Pushrod as read in the log") == "8.0000 in"

    def test_a_longer_pushrod_takes_the_lash_and_then_holds_the_valve_open(self, scene: Scene):
        a_pushrod_side(scene)
        found = rows(lift_part(case(scene), [], INCH), "A longer or shorter pushrod")

        # Hand-worked: .020 of pushrod × 1.6 = .032 of lash, from .004.
        assert found[1] == ("−0.0200", "0.0360", "0.6680")
        assert found[3] == ("+0.0200", "−0.0280", "held open")

    def test_the_pairs_give_a_ratio_beside_the_linkages(self, scene: Scene):
        a_pushrod_side(scene)
        # Hand-worked: a line of 1.58 with a lash of .010.
        pairs = [(0.1, 0.148), (0.2, 0.306), (0.3, 0.464), (0.4, 0.622)]
        part = lift_part(case(scene), pairs, INCH)

        assert value(part, "Ratio as measured") == "1.5800"
        assert note(part, "Ratio as measured") == "4 pairs; the line through them shows a lash of 0.0100 in"
        # Independent method: a straight line through the linkage's own lifts by numpy.
        lobes = np.array([0.1, 0.2, 0.3, 0.4])
        slope = np.polyfit(lobes, case(scene).linkage().valve_lift(lobes), 1)[0]
        assert value(part, "Ratio worked the same way") == f"{slope:.4f}"
        assert rows(part, "The pairs")[0][:2] == ("0.1000", "0.1480")

    def test_one_pair_is_no_ratio(self, scene: Scene):
        part = lift_part(case(scene), [(0.1, 0.15)], INCH)

        assert part.problems == [
            "The pairs as read: A ratio needs two different lobe lifts with the valve off its seat: read more points "
            "through the lift."
        ]

    def test_who_reads_millimetres_reads_millimetres(self, scene: Scene):
        a_pushrod_side(scene)
        part = lift_part(case(scene), [], Letters("mm"))

        # Hand-worked: 8 in × 25.4.
        assert value(part, "Pushrod for the stand’s right height, zero lash") == "203.200 mm"
        assert "millimetres" in part.grids[0].note


class TestLobe:
    def test_it_goes_through_the_rows_and_the_cards_own_point(self, scene: Scene):
        a_timed_card(scene)
        some_rows(scene)
        lobe = lobe_for(scene.build, "I")

        assert (lobe.nose_at, lobe.max_lift) == (108.0, 0.44)
        for lift, whole in ((0.020, 280), (0.050, 248), (0.200, 160)):
            assert lobe.duration_at(lift) == pytest.approx(whole, abs=1e-6)

    def test_an_exhausts_nose_is_before_top_centre(self, scene: Scene):
        a_timed_card(scene)

        assert lobe_for(scene.build, "E").nose_at == -112.0

    def test_a_degreed_centreline_outranks_the_card(self, scene: Scene):
        a_timed_card(scene)
        read(scene, "engine", "intake_centreline", "106", "°")

        assert lobe_for(scene.build, "I").nose_at == 106.0

    def test_a_card_with_events_alone_is_enough(self, scene: Scene):
        card = scene.build.cam_card
        card.intake_opens, card.intake_closes = Decimal(28), Decimal(71)
        card.save()

        # Published arithmetic, TM 9-8000: 28 + 180 + 71 = 279, centreline 111.5.
        lobe = lobe_for(scene.build, "I")
        assert (lobe.nose_at, lobe.duration_at(0.05)) == (111.5, pytest.approx(279, abs=1e-6))

    def test_there_is_none_without_a_card_or_a_table(self, scene: Scene):
        assert lobe_for(scene.build, "I") is None
        CamCard.objects.all().delete()
        assert lobe_for(scene.build, "I") is None

    def test_a_table_outranks_the_rows_and_is_placed_by_the_centreline(self, scene: Scene):
        a_timed_card(scene)
        table = some_rows(scene)
        table.text, table.smoothing = a_cosine_table(start=0), Decimal(0)
        table.save()

        lobe = lobe_for(scene.build, "I")
        assert lobe.nose_at == 108.0
        assert (lobe.opens_at, lobe.closes_at) == (
            pytest.approx(-12.0, abs=1e-6),
            pytest.approx(228.0, abs=1e-6),
        )
        # Hand-worked: the cosine is at half of .400 a quarter of 240 degrees before and after its nose.
        assert lobe.events_at(0.2) == (pytest.approx(48.0, abs=0.01), pytest.approx(168.0, abs=0.01))

    def test_a_table_in_camshaft_degrees_is_doubled(self, scene: Scene):
        LobeTable.objects.create(
            build=scene.build,
            kind="I",
            text=a_cosine_table(start=0),
            angles_of="cam",
            placed_by="own",
            smoothing=0,
        )

        assert lobe_for(scene.build, "I").nose_at == pytest.approx(240.0, abs=1e-6)

    def test_a_table_placed_by_a_centreline_waits_for_one(self, scene: Scene):
        LobeTable.objects.create(build=scene.build, kind="I", text=a_cosine_table(start=0))

        assert lobe_for(scene.build, "I") is None


def a_cosine_table(start: int) -> str:
    """A lobe of .400 over 240 degrees, every 10: .2 − .2·cos(1.5·a). Nose in the middle."""
    lifts = [0.2 - 0.2 * math.cos(math.radians(1.5 * angle)) for angle in range(0, 250, 10)]
    return "\n".join(f"{start + 10 * place};{lift:.12f}" for place, lift in enumerate(lifts))


class TestMotion:
    def test_the_margin_ends_where_inertia_over_the_nose_is_the_spring(self, scene: Scene):
        everything(scene)
        found = running(case(scene))
        limit = found.limit()

        # Independent method: acceleration at the nose by differences of the lift, and F = m·a with 300 g.
        step = 0.05
        around = found.motion(np.array([108.0 - step, 108.0, 108.0 + step]), 1000.0).lift
        by_degree = (around[0] - 2 * around[1] + around[2]) / step**2
        mass = 0.3 / 175.126835
        rpm = math.sqrt((200 + 500 * 0.7) / (-mass * by_degree)) / 6.0
        assert limit.rpm == pytest.approx(rpm, rel=1e-4)
        assert limit.crank_angle == pytest.approx(108.0, abs=0.5)

    def test_the_mass_is_that_of_the_scale(self, scene: Scene):
        everything(scene)

        # Hand-worked: 110 + 22 + 8 + 90/3 + 30 + 256/1.6² = 300 g.
        assert value(motion_part(case(scene), 7000, INCH), "Moving mass at the valve") == "300 g"

    def test_more_speed_leaves_less_of_the_spring(self, scene: Scene):
        everything(scene)
        least = rows(motion_part(case(scene), 7000, INCH), "Spring against inertia")[-1]

        numbers = [int(cell.replace("−", "-")) for cell in least[2:]]
        assert numbers == sorted(numbers, reverse=True)
        assert numbers[2] > 0 > numbers[3]  # 7400 rpm, where the margin ends, lies between

    def test_the_spring_as_read_outranks_its_sheet(self, scene: Scene):
        everything(scene)
        read(scene, "1I", "seat_load", "210", "lbf")
        read(scene, "1I", "open_load", "546", "lbf")

        # Hand-worked: (546 − 210) / .700 = 480.
        told = motion_part(case(scene), 7000, INCH)
        assert value(told, "Spring") == "210 lbf on the seat, rate 480 lbf/in"
        assert note(told, "Spring") == "seat and open load as read"

    def test_a_spring_shimmed_taller_has_less_load(self, scene: Scene):
        everything(scene)
        read(scene, "1I", "installed_height", "1.920")

        # Hand-worked: 200 − 500 × .020 = 190.
        assert case(scene).spring().seat_load == pytest.approx(190)

    def test_without_the_pushrods_side_the_nominal_ratio_drives_and_that_is_said(self, scene: Scene):
        a_timed_card(scene)
        part = motion_part(case(scene), 7000, INCH)

        assert value(part, "Most lift") == "0.7000 in"
        assert any(words.startswith("The nominal ratio all through the lift") for words in part.assumed)
        assert [gap.url_name for gap in part.gaps] == ["worksheet-new", "log-step"]

    def test_without_a_centreline_it_says_so(self, scene: Scene):
        part = motion_part(case(scene), 7000, INCH)

        assert part.gaps[0].words.startswith("The intake centreline is neither degreed nor on the card")
        assert part.grids == []

    def test_a_lobe_that_cannot_be_gives_its_sentence(self, scene: Scene):
        card = a_timed_card(scene)
        some_rows(scene)
        card.intake_lobe_lift = Decimal("0.150")
        card.save()

        (problem,) = motion_part(case(scene), 7000, INCH).problems
        assert problem.startswith("The card has an event at 0.2 in and the lobe lifts only 0.15 in")


class TestLoads:
    def test_turned_by_hand_the_tip_carries_the_spring(self, scene: Scene):
        everything(scene)
        top = rows(loads_part(case(scene), 7000, INCH), "Through the lift")[-1]

        # Hand-worked: 200 + 500 × .700 = 550; × (1 + 1.6) = 1430 with the pushrod upright.
        assert top[:4] == ("0.4400", "0.7000", "550", "1430")
        # Hand-worked: √(550 / (π · .342 · .235 · 2 · (1 − .292²) / 30e6)) = 188.7 ksi.
        assert top[4] == "189"

    def test_a_narrow_roller_presses_harder(self, scene: Scene):
        everything(scene)
        PushrodSide.objects.update(roller_width=Decimal("0.171"))
        top = rows(loads_part(case(scene), 7000, INCH), "Through the lift")[-1]

        # Hand-worked: half the line, √2 the pressure: 266.9.
        assert top[4] == "267"

    def test_parts_that_have_parted_carry_nothing(self, scene: Scene):
        everything(scene)

        assert rows(loads_part(case(scene), 9000, INCH), "Through the lift")[-1][5:] == ("0", "0", "0")

    def test_the_exhaust_opens_against_the_cylinder(self, scene: Scene):
        everything(scene)
        found = rows(loads_part(case(scene, "1E"), 7000, INCH), "As the valve leaves")

        # Hand-worked: 200 + 100 × π/4 × 1.6² = 401.1; × 2.6 = 1042.8.
        assert found == [("intake", "0 psi", "200", "520"), ("exhaust, no boost", "100 psi", "401", "1043")]

    def test_boost_loads_the_exhaust_and_eases_the_intake(self, scene: Scene):
        everything(scene)
        scene.build.piston_sides.update(boost=Decimal("14.6959"))
        found = rows(loads_part(case(scene, "1E"), 7000, INCH), "As the valve leaves")

        # Hand-worked: one atmosphere of boost doubles 100 psi: 200 + 402.1; and 200 − 14.6959 × 2.0106 = 170.5.
        assert found[1][:3] == ("intake, boosted", "−15 psi", "170")
        assert found[3][2] == "602"

    def test_without_the_cylinder_pressure_it_says_so(self, scene: Scene):
        a_timed_card(scene)
        part = loads_part(case(scene), 7000, INCH)

        assert part.gaps[-1].words.startswith("The exhaust valve’s head and the cylinder pressure")
        assert part.gaps[-1].args == (scene.build.pk, "piston")


class TestPiston:
    def test_at_top_centre_the_room_is_plain_addition(self, scene: Scene):
        everything(scene)
        at_top = next(row for row in rows(piston_part(case(scene), INCH), "By crank angle") if row[0] == "0°")

        # Hand-worked: .010 + .040 + .100 + .150 = .300.
        assert at_top[1] == "0.3000"
        assert float(at_top[1]) - float(at_top[2]) == pytest.approx(float(at_top[3]), abs=1e-4)

    def test_the_least_is_the_least_of_a_fine_search(self, scene: Scene):
        everything(scene)
        found = running(case(scene))
        angles = np.arange(-30.0, 30.0, 0.01)

        # Independent method: crank and rod by the cosine rule, every hundredth of a degree.
        turned = np.radians(angles)
        drop = 8.0 - (2.0 * np.cos(turned) + np.sqrt(36.0 - 4.0 * np.sin(turned) ** 2))
        clear = 0.300 + drop - found.motion(angles, 1000.0).lift
        part = piston_part(case(scene), INCH)
        assert value(part, "Least, predicted") == f"{clear.min():.4f} in"
        assert note(part, "Least, predicted") == f"at crank {angles[clear.argmin()]:.1f}°"

    def test_the_measured_least_stands_beside_it(self, scene: Scene):
        everything(scene)
        read(scene, "1I", "piston_to_valve", "0.140")
        read(scene, "1I", "piston_to_valve_angle", "9", "°")
        part = piston_part(case(scene), INCH)

        assert value(part, "Least, measured").startswith("0.1400 in at 9.0°, ")
        assert note(part, "Least, measured") == "+0.0035 in against the prediction"

    def test_deck_and_gasket_come_from_the_log_where_nothing_is_entered(self, scene: Scene):
        everything(scene)
        scene.build.piston_sides.update(deck_clearance=None, gasket_thickness=None)
        read(scene, "cyl1", "deck_clearance", "0.012")
        read(scene, "engine", "gasket_thickness", "0.039")
        part = piston_part(case(scene), INCH)

        assert (value(part, "Deck clearance"), note(part, "Deck clearance")) == (
            "+0.0120 in",
            "as read at cylinder 1",
        )
        assert note(part, "Head gasket") == "from the log"
        assert next(row for row in rows(part, "By crank angle") if row[0] == "0°")[1] == "0.3010"

    def test_each_thing_that_is_missing_is_named(self, scene: Scene):
        a_timed_card(scene)
        a_piston_side(scene, rod_length=None, deck_clearance=None, gasket_thickness=None, valve_recess=None)
        words = " ".join(gap.words for gap in piston_part(case(scene), INCH).gaps)

        for each in ("stroke", "deck clearance", "gasket", "rod’s length", "above the head’s face"):
            assert each in words

    def test_a_valve_that_would_meet_its_piston_is_told_first(self, scene: Scene):
        everything(scene)
        scene.build.piston_sides.update(pocket_depth=0)

        assert piston_part(case(scene), INCH).problems == [
            "The valve and the piston would meet. Check the numbers, then the engine, before it is turned."
        ]

    def test_a_rod_that_is_too_short_gives_the_geometrys_sentence(self, scene: Scene):
        everything(scene)
        scene.build.piston_sides.update(rod_length=Decimal(2))

        (problem,) = piston_part(case(scene), INCH).problems
        assert problem.startswith("The rod is no longer than half the stroke")


def test_whatever_is_read_every_part_says_what_it_takes_for_granted(scene: Scene):
    everything(scene)
    found = case(scene)

    for part in (
        lift_part(found, [], INCH),
        motion_part(found, 7000, INCH),
        loads_part(found, 7000, INCH),
        piston_part(found, INCH),
    ):
        assert part.assumed, part.title
        assert part.problems == []


def test_a_linkage_that_cannot_be_raises_for_those_who_ask_for_it(scene: Scene):
    a_pushrod_side(scene, checked_top=Decimal("3"))

    with pytest.raises(GeometryError, match="cannot reach"):
        case(scene).linkage()


def test_weights_and_springs_alone_are_no_motion(scene: Scene):
    some_masses(scene)
    a_spring_sheet(scene)

    assert running(case(scene)) is None
