"""The invented shop's complete set-up logs: every step of a finished engine, and a beginning on the one in work.

The figures hang together: loads follow from one spring rate, open heights from the net lift, lash and centrelines
stand about the cam card, piston clearance about the bore. A little scatter, the same at every loading, makes them
look measured. `tests/valvetrain/test_demo_log.py` works them out again.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime, time, timedelta
from decimal import ROUND_HALF_UP, Decimal
from uuid import NAMESPACE_URL, uuid5

from django.utils import timezone

from builds.models import Build, Instrument, Person
from builds.positions import positions_of
from builds.recording import Entry, record
from valvetrain.demo_marks import write_marks
from valvetrain.demo_photos import photographed
from valvetrain.models import CamCard, SpringSheet, Valve, ValveKind
from valvetrain.papers import valve_values


@dataclass(frozen=True)
class Springs:
    """A spring as its sheet has it: heights [in], load [lbf], rate [lbf/in]."""

    installed: Decimal
    seat_load: Decimal
    rate: Decimal
    solid: Decimal


@dataclass(frozen=True)
class Plan:
    """What is written for one job: its spring, how far the log goes, with which dial; what was read in so many words; and
    what was found amiss.
    """

    job: str
    spring: Springs
    who: str
    days_ago: int
    whole: bool
    torque: Decimal
    pushrod: Decimal
    dial: str = "DI-1"
    amiss: Mapping[tuple[str, str], str] = field(default_factory=dict)
    as_read: Mapping[tuple[str, str], str] = field(default_factory=dict)
    tips: Decimal | None = None


TRACK_SPRINGS = Springs(Decimal("1.800"), Decimal(150), Decimal(340), Decimal("1.020"))

PLANS = (
    Plan(
        "hillclimb", Springs(Decimal("1.650"), Decimal(118), Decimal(310), Decimal("0.880")), "mina", 12, True,
        Decimal(24), Decimal("7.240"), amiss={("3E", "rocker_to_retainer"): "0.034"},
    ),
    Plan(
        "boat", Springs(Decimal("1.650"), Decimal(118), Decimal(310), Decimal("0.880")), "joss", 77, True,
        Decimal(24), Decimal("7.235"), dial="DI-2",
    ),
    Plan(
        "skiff", Springs(Decimal("1.650"), Decimal(118), Decimal(310), Decimal("0.880")), "joss", 3, True,
        Decimal(24), Decimal("7.235"), dial="DI-2",
    ),
    Plan(
        "track-spring", TRACK_SPRINGS, "joss", 214, True, Decimal(38), Decimal("7.800"), dial="DI-2",
        as_read={("5E", "lash_cold"): "0.0230"}, tips=Decimal("2.240"),
    ),
    Plan(
        "seven", TRACK_SPRINGS, "mina", 139, True, Decimal(38), Decimal("7.795"), dial="DI-2", tips=Decimal("2.238"),
    ),
    Plan(
        "puller", Springs(Decimal("2.050"), Decimal(290), Decimal(640), Decimal("1.210")), "joss", 2, False,
        Decimal(45), Decimal("8.150"),
    ),
)  # fmt: skip

TOOLS = {
    "installed_height": "MI-2", "lash_cold": "FE-1", "bore": "MI-2",
    "tip_height": "CA-1",
    "piston_diameter": "MI-2", "retainer_to_seal": "FE-2", "rocker_to_retainer": "FE-2", "pushrod_to_head": "FE-2",
}  # fmt: skip
DIALLED = {"lobe_lift", "piston_to_valve"}


def scatter(number: int, step: str) -> Decimal:
    """A deviation of −2 to +2 steps, the same for the same number at every loading."""
    return Decimal((number * 7 + number * number) % 5 - 2) * Decimal(step)


def figure(value: Decimal, step: str) -> str:
    """A value as somebody would have typed it, to a step."""
    return f"{value.quantize(Decimal(step), ROUND_HALF_UP):f}"


def write_logs(jobs: dict[str, Build], people: dict[str, Person], drawer: dict[str, Instrument]) -> None:
    """Write the steps of every planned job."""
    for plan in PLANS:
        job = jobs[plan.job]
        sheet = SpringSheet.objects.create(
            build=job, name="Valve springs", installed_height=plan.spring.installed, seat_load=plan.spring.seat_load,
            open_height=plan.spring.installed - Decimal("0.5"),
            open_load=plan.spring.seat_load + plan.spring.rate / 2, solid_height=plan.spring.solid,
        )  # fmt: skip
        start = timezone.make_aware(
            datetime.combine(timezone.localdate() - timedelta(days=plan.days_ago), time(8))
        )
        positions, told = positions_of(job), {**plan.as_read, **plan.amiss}
        for number, (position, key, text, unit) in enumerate(_lines(plan, job, sheet)):
            tool = plan.dial if key in DIALLED else TOOLS.get(key, "")
            entry = Entry(
                client_id=uuid5(NAMESPACE_URL, f"standbook-demo/{plan.job}/step/{number}"), position=position,
                characteristic=key, text=told.get((position, key), text), unit=unit, instrument=drawer.get(tool),
                taken_at=start + timedelta(minutes=number), device="bench tablet", context={"set": 0},
            )  # fmt: skip
            record(job, people[plan.who], entry, positions)
        write_marks(
            plan.job, job, people[plan.who], drawer.get("CA-1"), start + timedelta(hours=5),
            photographed=photographed(plan.job),
        )  # fmt: skip


Line = tuple[str, str, str, str]


def _lines(plan: Plan, job: Build, sheet: SpringSheet) -> Iterator[Line]:
    valves = list(
        Valve.objects.filter(head__build=job).select_related("head", "stand__head").order_by("head", "order")
    )
    known = valve_values(job)
    card = CamCard.objects.get(build=job)
    done = valves if plan.whole else [valve for valve in valves if valve.stand.name in ("stand1", "stand2")]
    for number, valve in enumerate(done):
        lift = known[valve.address, "net_lift"]
        yield from _springs(plan.spring, valve.address, number, lift)
        yield from _clearances(plan, valve, number)
    if plan.whole:
        for number, valve in enumerate(valves):
            yield (
                valve.address,
                "lash_cold",
                figure(card.lash(valve.kind) + scatter(number, "0.0005"), "0.0001"),
                "in",
            )
        for pad in sorted(address for address, kind in positions_of(job).items() if kind == "pad"):
            yield pad, "stand_bolt_torque", figure(plan.torque, "1"), "lbf·ft"
    yield from _degreed(card)
    if plan.whole:
        yield from _short_block(job)


def _springs(spring: Springs, address: str, number: int, lift: Decimal) -> Iterator[Line]:
    """Loads follow from the height that was found, at the spring's own rate."""
    height = spring.installed + scatter(number, "0.002")
    seat = spring.seat_load + spring.rate * (spring.installed - height)
    yield address, "installed_height", figure(height, "0.001"), "in"
    yield address, "seat_load", figure(seat, "1"), "lbf"
    yield address, "open_load", figure(seat + spring.rate * lift, "1"), "lbf"


def _clearances(plan: Plan, valve: Valve, number: int) -> Iterator[Line]:
    intake = valve.kind == ValveKind.INTAKE
    yield valve.address, "pushrod_length", figure(plan.pushrod + scatter(number, "0.005"), "0.001"), "in"
    yield valve.address, "pushrod_to_head", figure(Decimal("0.048") + scatter(number, "0.004"), "0.001"), "in"
    yield (
        valve.address,
        "retainer_to_seal",
        figure(Decimal("0.085") + scatter(number, "0.005"), "0.001"),
        "in",
    )
    yield (
        valve.address,
        "rocker_to_retainer",
        figure(Decimal("0.056") + scatter(number, "0.003"), "0.001"),
        "in",
    )
    room = Decimal("0.104") if intake else Decimal("0.128")
    yield valve.address, "piston_to_valve", figure(room + scatter(number, "0.002"), "0.001"), "in"
    yield valve.address, "piston_to_valve_angle", "10" if intake else "-10", "°"
    if plan.tips is not None:
        yield valve.address, "tip_height", figure(plan.tips + scatter(number, "0.001"), "0.001"), "in"


def _degreed(card: CamCard) -> Iterator[Line]:
    """Three readings of the centreline about the card's, where the card names one."""
    if card.intake_centreline is None:
        return
    for shift in ("0", "0.5", "-0.25"):
        yield "engine", "intake_centreline", figure(card.intake_centreline + Decimal(shift), "0.01"), "°"
    for key in ("exhaust_centreline", "intake_opens", "intake_closes", "exhaust_opens", "exhaust_closes"):
        wanted = getattr(card, key)
        if wanted is not None:
            yield "engine", key, figure(wanted, "0.1"), "°"


def _short_block(job: Build) -> Iterator[Line]:
    bore = job.engine.bore or Decimal("3.5")
    for cylinder in range(1, job.engine.cylinders + 1):
        where, found = f"cyl{cylinder}", bore + Decimal("0.0004") + scatter(cylinder, "0.0001")
        yield where, "bore", figure(found, "0.0001"), "in"
        yield where, "piston_diameter", figure(found - Decimal("0.0032"), "0.0001"), "in"
        yield (
            where,
            "ring_gap_top",
            figure(bore * Decimal("0.0045") + scatter(cylinder, "0.0005"), "0.001"),
            "in",
        )
        yield (
            where,
            "ring_gap_second",
            figure(bore * Decimal("0.005") + scatter(cylinder, "0.0005"), "0.001"),
            "in",
        )
        yield where, "rod_clearance", figure(Decimal("0.0022") + scatter(cylinder, "0.0001"), "0.0001"), "in"
        yield where, "deck_clearance", figure(Decimal("0.010") + scatter(cylinder, "0.0005"), "0.001"), "in"
    for main in range(1, job.engine.mains + 1):
        yield (
            f"main{main}",
            "main_clearance",
            figure(Decimal("0.0024") + scatter(main, "0.0001"), "0.0001"),
            "in",
        )
    yield "engine", "endplay", "0.006", "in"
    yield "engine", "chamber_volume", "44.5", "cc"
    yield "engine", "crown_volume", "-2.5", "cc"
    yield "engine", "gasket_bore", figure(bore + Decimal("0.06"), "0.001"), "in"
    yield "engine", "gasket_thickness", "0.040", "in"
