"""An engine on the bench, with plain numbers that can be followed by hand. Invented."""

from dataclasses import dataclass
from decimal import Decimal
from importlib import import_module
from uuid import uuid4

from django.apps import apps

from builds.models import Build, Customer, Engine, Instrument, Person
from builds.recording import Entry
from valvetrain.gathering import gather
from valvetrain.logbook import fit_pack, record_height, record_lift
from valvetrain.models import CamCard, Head, HeightGauge, RockerSet, ShimStock, Stand
from valvetrain.standstate import StandState
from valvetrain.states import HeadState
from valvetrain.targets import head_state

THICKNESSES = ("0.002", "0.003", "0.005", "0.010", "0.015", "0.020", "0.030", "0.060")


@dataclass
class Scene:
    """One V8 with two heads of paired stands, its rockers, cam card, gauge, and a drawer of shims.

    Arm 1.650, roller .470, shaft .700: r + R = .585. Gauge step .235: made for .700 lift, square at half lift.
    Lobe lift .440 × 1.6 − .004 = .700 net, intake and exhaust alike: the right gap is nothing, the right height is the
    gauge's own.
    """

    build: Build
    left: Head
    right: Head
    gauge: HeightGauge
    person: Person

    def state(self, head: Head | None = None) -> HeadState:
        """The head as it stands now, read afresh."""
        fresh = Head.objects.select_related("build__engine__customer").get(pk=(head or self.left).pk)
        return head_state(gather([fresh])[0])

    def stand(self, address: str) -> StandState:
        """One stand as it stands now."""
        heads = (self.state(self.left), self.state(self.right))
        return next(stand for state in heads for stand in state.stands if stand.address == address)

    def head_of(self, address: str) -> Head:
        """The head that a valve is on."""
        for head in (self.left, self.right):
            if any(valve.address == address for valve in Head.objects.get(pk=head.pk).valves.all()):
                return head
        raise AssertionError(address)

    def entry(self, address: str, text: str, characteristic: str = "stand_gap", **more: object) -> Entry:
        """What a person keys in at a valve."""
        return Entry(
            client_id=more.pop("client_id", None) or uuid4(),  # type: ignore[arg-type]
            position=address, characteristic=characteristic, text=text, unit=str(more.pop("unit", "in")),
            instrument=self.gauge.instrument, **more,  # type: ignore[arg-type]
        )  # fmt: skip

    def read_gap(self, address: str, gap: str, *, foot_feeler: str = "", **more: object) -> None:
        """Read a gap at a valve, with the pack that is in place now."""
        records = gather([self.head_of(address)])[0]
        pack = next(
            str(records.packs[pk][-1].client_id) if records.packs.get(pk) else ""
            for pk, valves in records.valves_on.items()
            if address in {valve.address for valve in valves}
        )
        record_height(
            records, self.person, self.entry(address, gap, **more), pack=pack, foot_feeler=foot_feeler
        )

    def read_lift(self, address: str, lift: str, **more: object) -> None:
        """Measure the net lift at a valve."""
        records = gather([self.head_of(address)])[0]
        record_lift(records, self.person, self.entry(address, lift, "net_lift", **more))

    def fit(self, stand: str, *thicknesses: str) -> None:
        """Fit a pack under a stand."""
        found = next(each for each in Stand.objects.select_related("head__build") if each.address == stand)
        counts = {Decimal(text): thicknesses.count(text) for text in thicknesses}
        fit_pack(found, self.person, client_id=uuid4(), pieces=sorted(counts.items()))


def shelf() -> dict[str, Head]:
    """The layouts of a new book; put back when a test before has emptied the database."""
    if not Head.objects.filter(build__isnull=True).exists():
        import_module("valvetrain.migrations.0002_head_layouts").fill_the_shelf(apps, None)
    return {head.layout_name: head for head in Head.objects.filter(build__isnull=True)}


def make_canted(person: Person) -> Scene:
    """The same engine with canted heads: one bar for all intakes on five pads, and single exhaust stands."""
    return make_scene(person, job_number="26-015", layout_name="V8 head, canted valves")


def make_scene(
    person: Person, *, job_number: str = "26-014", layout_name: str = "V8 head, paired stands"
) -> Scene:
    """Set the engine up, nothing measured yet."""
    customer = Customer.objects.create(name="Halvorsen Pulling Team")
    engine = Engine.objects.create(customer=customer, name="V8 puller", serial="HPT-3", cylinders=8)
    build = Build.objects.create(job_number=job_number, engine=engine, opened_by=person)
    RockerSet.objects.create(
        build=build, arm_length=Decimal("1.650"), tip_diameter=Decimal("0.470"), shaft_diameter=Decimal("0.700"),
        ratio=Decimal("1.6"),
    )  # fmt: skip
    CamCard.objects.create(
        build=build, intake_lobe_lift=Decimal("0.440"), exhaust_lobe_lift=Decimal("0.440"),
        intake_lash=Decimal("0.004"), exhaust_lash=Decimal("0.004"),
    )  # fmt: skip
    instrument, _made = Instrument.objects.get_or_create(mark="HG-1", kind="height-gauge")
    gauge, _made = HeightGauge.objects.get_or_create(
        instrument=instrument, defaults={"step": Decimal("0.235")}
    )
    for text in THICKNESSES:
        ShimStock.objects.get_or_create(thickness=Decimal(text), defaults={"count": 40})
    layout = shelf()[layout_name]
    left = layout.copy_to(build, code="L", name="Left head", cylinders={1: 1, 2: 3, 3: 5, 4: 7})
    right = layout.copy_to(build, code="R", name="Right head", cylinders={1: 2, 2: 4, 3: 6, 4: 8})
    return Scene(build, left, right, gauge, person)
