"""In, undecided, out: both rules, at a limit, just inside and just outside; and how well a reading is known."""

from decimal import Decimal

import pytest
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from builds.models import Instrument, Reading, Shop, UsualUncertainty
from builds.uncertainty import Toolbox, plus_minus, scatter, standard_of, standard_of_figure
from builds.verdicts import Rule

OFF, ON = Rule(), Rule(guard_band=True)
LOW, HIGH, U = -0.005, 0.005, 0.0012  # U = 2u, so u = 0.0006
HAIR = 1e-6


def reading(value: str, instrument: int | None = None) -> Reading:
    return Reading(value=Decimal(value), instrument_id=instrument)


def toolbox(*tools: Instrument, **usual: str) -> Toolbox:
    """A drawer, not saved: usual uncertainties by kind."""
    for number, tool in enumerate(tools, start=1):
        tool.pk = number
    rows = [
        UsualUncertainty(key=key.replace("_", "-"), name=key, uncertainty=Decimal(value))
        for key, value in usual.items()
    ]
    return Toolbox(tools, rows, complete=True)


# Hand-worked from the rule's own words.
@pytest.mark.parametrize(
    ("value", "off", "on"),
    [
        (0.0, "in", "in"),
        (HIGH - U - HAIR, "in", "in"),
        (HIGH - U, "in", "in"),
        (HIGH - U + HAIR, "in", "undecided"),
        (HIGH - HAIR, "in", "undecided"),
        (HIGH, "in", "undecided"),
        (HIGH + HAIR, "out", "undecided"),
        (HIGH + U, "out", "undecided"),
        (HIGH + U + HAIR, "out", "out"),
        (LOW + U, "in", "in"),
        (LOW, "in", "undecided"),
        (LOW - U - HAIR, "out", "out"),
    ],
)
def test_both_rules_at_a_limit_just_inside_and_just_outside(value: float, off: str, on: str) -> None:
    assert (OFF.judge(value, LOW, HIGH, U / 2), ON.judge(value, LOW, HIGH, U / 2)) == (off, on)


@pytest.mark.parametrize("rule", [OFF, ON])
def test_with_no_uncertainty_both_rules_say_the_same(rule: Rule) -> None:
    assert [rule.judge(value, LOW, HIGH, 0.0) for value in (HIGH, HIGH + HAIR)] == ["in", "out"]


def test_what_is_not_known_is_never_proved_in() -> None:
    assert [ON.judge(value, LOW, HIGH, None) for value in (0.0, 0.006)] == ["undecided", "out"]
    assert OFF.judge(0.0, LOW, HIGH, None) == "in"


@pytest.mark.parametrize(
    ("low", "high", "inside", "near"), [(0.060, None, 0.062, 0.0605), (None, 0.080, 0.078, 0.0795)]
)
def test_a_limit_may_have_one_end(low: float | None, high: float | None, inside: float, near: float) -> None:
    assert [ON.judge(value, low, high, 0.0006) for value in (inside, near)] == ["in", "undecided"]


def test_nothing_is_judged_without_a_value_or_a_limit() -> None:
    assert (ON.judge(None, LOW, HIGH, 0.0), ON.judge(0.0, None, None, 0.0)) == ("", "")


def test_exact_decimals_are_judged_as_they_are() -> None:
    assert OFF.judge(Decimal("0.005"), Decimal("-0.005"), Decimal("0.005")) == "in"


def test_limits_closer_than_the_tools_can_tell_are_said_to_be_so() -> None:
    assert ON.too_coarse(LOW, HIGH, 0.0026)  # U = .0052, and half the limits' width is .005
    assert not ON.too_coarse(LOW, HIGH, 0.0025)
    assert not OFF.too_coarse(LOW, HIGH, 0.0026)


def test_the_rule_is_told_in_words() -> None:
    assert "U = 2·u" in OFF.words
    assert "undecided between" in Rule(guard_band=True, coverage=3.0).words
    assert "U = 3·u" in Rule(guard_band=True, coverage=3.0).words


# ---- one reading ---------------------------------------------------------------------------------------------------


def test_a_step_counts_as_half_a_step_over_the_root_of_three() -> None:
    tools = toolbox(
        Instrument(mark="FE-1", kind="feeler", resolution=Decimal("0.001"), uncertainty=Decimal(0))
    )
    # JCGM 100 F.2.2.1: 0.29 of the step.
    assert standard_of([reading("0.024", 1)], tools) == pytest.approx(0.29e-3, abs=0.005e-3)


def test_what_is_stated_counts_by_its_own_k() -> None:
    tools = toolbox(
        Instrument(mark="MI-1", kind="micrometer", uncertainty=Decimal("0.0003"), coverage=Decimal(3))
    )
    assert standard_of([reading("0.5", 1)], tools) == pytest.approx(0.0001)


def test_step_and_stated_go_together_as_the_root_of_their_squares() -> None:
    # Hand-worked: (0.0012/√12)² + (0.0002)² = 0.00034641² + 0.0002² = 0.0004².
    tools = toolbox(
        Instrument(
            mark="MI-1", kind="micrometer", resolution=Decimal("0.0012"), uncertainty=Decimal("0.0004")
        )
    )
    assert standard_of([reading("0.5", 1)], tools) == pytest.approx(0.0004)


def test_a_step_of_zero_adds_nothing() -> None:
    tools = toolbox(
        Instrument(mark="MI-1", kind="micrometer", resolution=Decimal(0), uncertainty=Decimal("0.0002"))
    )
    assert standard_of([reading("0.5", 1)], tools) == pytest.approx(0.0001)


def test_an_instrument_without_data_is_as_usual_for_its_kind_and_says_so() -> None:
    tools = toolbox(Instrument(mark="FE-1", kind="feeler"), feeler="0.0005")
    assert standard_of([reading("0.024", 1)], tools) == pytest.approx(0.00025)
    assert tools.of(1).words() == "FE-1: ± 0.0005 in (k 2), usual for its kind"


def test_a_certificate_comes_before_the_usual() -> None:
    tools = toolbox(Instrument(mark="FE-1", kind="feeler", uncertainty=Decimal("0.0001")), feeler="0.0005")
    assert tools.of(1).words() == "FE-1: ± 0.0001 in (k 2), stated"


def test_a_tool_that_reads_something_else_says_nothing_of_a_length() -> None:
    tools = toolbox(Instrument(mark="ST-1", kind="spring-tester", uncertainty=Decimal(5)), other="0.002")
    assert standard_of([reading("0.024", 1)], tools) == pytest.approx(0.001)


@pytest.mark.parametrize("step", ["0", "0.001", "0.01"])
def test_naming_no_tool_is_never_better_than_naming_one(step: str) -> None:
    """Hand-worked: ± .0002 and a step of .001 come to ± .00061; none named is ± .002 or that of the worst tool."""
    tools = toolbox(
        Instrument(mark="MI-2", kind="micrometer", resolution=Decimal(step)),
        micrometer="0.0002",
        other="0.002",
    )
    named = standard_of([reading("1.9", 1)], tools, taken_for="micrometer")
    not_said = standard_of([reading("1.9")], tools, taken_for="micrometer")
    assert named is not None
    assert not_said is not None
    assert not_said >= named
    assert not_said >= 0.001  # the shop's own figure for none named
    assert "not named" in tools.of(None, taken_for="micrometer").words()


def test_none_named_is_no_better_than_the_likely_tool_though_the_shop_says_so() -> None:
    tools = toolbox(
        Instrument(mark="MI-2", kind="micrometer", resolution=Decimal("0.001")),
        micrometer="0.0002",
        other="0",
    )
    assert standard_of([reading("1.9")], tools, taken_for="micrometer") == standard_of(
        [reading("1.9", 1)], tools, taken_for="micrometer"
    )


def test_nothing_known_is_not_zero() -> None:
    assert standard_of([reading("0.024")], toolbox()) is None
    assert standard_of([], toolbox(other="0.002")) is None


def test_repeats_add_their_scatter_and_do_not_shrink_the_tool() -> None:
    tools = toolbox(Instrument(mark="FE-1", kind="feeler", uncertainty=Decimal("0.0006")))
    three = [reading(value, 1) for value in ("0.020", "0.022", "0.021")]
    # Hand-worked: s = 0.001, s/√3 = 0.00057735; with u = 0.0003 of the tool: 0.00065064.
    assert standard_of(three, tools) == pytest.approx(0.000650641, abs=5e-10)
    same = [reading("0.020", 1)] * 5
    assert standard_of(same, tools) == pytest.approx(0.0003)


def test_two_tools_share_the_mean() -> None:
    tools = toolbox(
        Instrument(mark="A", kind="feeler", uncertainty=Decimal("0.0006")),
        Instrument(mark="B", kind="feeler", uncertainty=Decimal("0.0008")),
    )
    # Hand-worked: √(0.00015² + 0.0002²) = 0.00025.
    assert standard_of([reading("0.02", 1), reading("0.02", 2)], tools) == pytest.approx(0.00025)


def test_gum_twenty_temperatures() -> None:
    """Published: JCGM 100:2008, 4.4.3 and table 1: s/√n = 0.333."""
    seen = [
        96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07, 100.33, 100.42, 100.68, 100.95, 101.11,
        101.20, 101.57, 101.84, 102.36, 102.72,
    ]  # fmt: skip
    assert scatter(seen) == pytest.approx(0.333, abs=0.0005)


def test_scatter_keeps_its_digits_on_large_numbers() -> None:
    """Published: NIST StRD NumAcc1, standard deviation exactly 1."""
    off = scatter([10000001, 10000003, 10000002])
    assert off is not None
    assert off * 3**0.5 == pytest.approx(1.0, rel=1e-9)


def test_a_figure_is_as_well_known_as_what_it_follows_from() -> None:
    values = {"installed_height": Decimal("1.9"), "net_lift": Decimal("0.7"), "sheet": Decimal("1.1")}
    # Hand-worked: √(0.003² + 0.004²) = 0.005; the sheet's figure counts as exact.
    found = standard_of_figure(
        lambda v: v["installed_height"] - v["net_lift"] - v["sheet"],
        values,
        {"installed_height": 0.003, "net_lift": 0.004},
    )
    assert found == pytest.approx(0.005)


def test_a_figure_from_something_unknown_is_unknown() -> None:
    assert standard_of_figure(lambda v: v["a"], {"a": Decimal(1)}, {"a": None}) is None
    assert standard_of_figure(lambda v: None, {"a": Decimal(1)}, {"a": 0.1}) is None


@pytest.mark.parametrize(
    ("expanded", "unit", "words"),
    [
        (0.0012, "in", "± 0.0012 in"),
        (0.00121, "in", "± 0.0013 in"),  # up, never down
        (0.0012, "mm", "± 0.031 mm"),
        (0.0, "in", "± 0.0000 in"),
        (0.5, "°", "± 0.50°"),
    ],
)
def test_an_uncertainty_is_rounded_up_where_a_person_reads(expanded: float, unit: str, words: str) -> None:
    assert plus_minus(expanded, unit) == words


# ---- the shop's own figures ----------------------------------------------------------------------------------------


def test_a_new_book_has_usual_uncertainties_and_the_guard_band_off(db: None) -> None:
    feeler = UsualUncertainty.objects.get(key="feeler")
    assert (feeler.uncertainty, feeler.source) == (Decimal("0.0005"), "common practice; shop setting")
    assert Toolbox.read().rule == Rule()


def test_migrating_again_leaves_what_the_shop_set(db: None) -> None:
    UsualUncertainty.objects.filter(key="feeler").update(uncertainty=Decimal("0.0003"))
    call_command("migrate", verbosity=0)
    assert UsualUncertainty.objects.get(key="feeler").uncertainty == Decimal("0.0003")


def test_an_owner_turns_the_guard_band_on(owner_client: Client) -> None:
    owner_client.post(reverse("guard-band"), {"guard_band": "on", "guard_coverage": "2.5"})
    assert Toolbox.read().rule == Rule(guard_band=True, coverage=2.5)
    assert "Guard band on" in owner_client.get(reverse("shop")).text


def test_an_owner_changes_a_usual_uncertainty_in_its_own_unit(owner_client: Client) -> None:
    wrench = UsualUncertainty.objects.get(key="torque-wrench")
    page = reverse("usual-uncertainty-edit", args=[wrench.pk])
    owner_client.post(page, {"uncertainty": "4 N·m", "source": "its maker’s sheet"})
    wrench.refresh_from_db()
    assert wrench.uncertainty == pytest.approx(Decimal("2.9502"), abs=Decimal("0.0001"))


@pytest.mark.parametrize(
    ("name", "sent", "sentence"),
    [
        ("guard-band", {"guard_coverage": "0"}, "type a number from 1 to 4"),
        ("guard-band", {"guard_coverage": "two"}, "type a number from 1 to 4"),
        ("usual-uncertainty-edit", {"uncertainty": "", "source": "x"}, "nothing is filled in"),
        ("usual-uncertainty-edit", {"uncertainty": "-0.001", "source": "x"}, "below zero"),
        ("usual-uncertainty-edit", {"uncertainty": "2 lbf", "source": "x"}, "is a force"),
    ],
)
def test_what_cannot_be_is_refused_with_a_sentence(
    owner_client: Client, name: str, sent: dict[str, str], sentence: str
) -> None:
    feeler = UsualUncertainty.objects.get(key="feeler")
    answer = owner_client.post(reverse(name, args=[feeler.pk] if name.startswith("usual") else []), sent)
    assert (answer.status_code, sentence in answer.text) == (422, True)
    feeler.refresh_from_db()
    assert feeler.uncertainty == Decimal("0.0005")
    assert not Shop.get().guard_band


def test_a_builder_may_not_change_the_rule_or_what_is_usual(bench_client: Client) -> None:
    feeler = UsualUncertainty.objects.get(key="feeler")
    answers = [
        bench_client.post(reverse("guard-band"), {"guard_band": "on", "guard_coverage": "2"}),
        bench_client.post(
            reverse("usual-uncertainty-edit", args=[feeler.pk]), {"uncertainty": "0", "source": "x"}
        ),
    ]
    assert [answer.status_code for answer in answers] == [403, 403]
    assert not Shop.get().guard_band


def test_an_instruments_uncertainty_is_typed_in_the_unit_of_its_kind(bench_client: Client) -> None:
    sent = {
        "mark": "ST-1",
        "kind": "spring-tester",
        "in_use": "on",
        "resolution": "1",
        "uncertainty": "4 lbf",
        "coverage": "",
    }
    bench_client.post(reverse("instrument-new"), sent)
    tester = Instrument.objects.get()
    assert (tester.resolution, tester.uncertainty, tester.coverage) == (1, 4, 2)
    assert "± 4.0 lbf (k 2)" in bench_client.get(reverse("drawer")).text


def test_an_instruments_uncertainty_below_zero_is_refused(bench_client: Client) -> None:
    sent = {"mark": "MI-1", "kind": "micrometer", "in_use": "on", "uncertainty": "-0.0001"}
    answer = bench_client.post(reverse("instrument-new"), sent)
    assert (answer.status_code, "below zero" in answer.text) == (422, True)
