"""The scene's engine with everything the worksheet reckons with; numbers that can be followed by hand."""

from decimal import Decimal

from tests.scenes import Scene
from valvetrain.models import (
    CamCard,
    LobePoint,
    LobeTable,
    MovingMasses,
    PistonSide,
    PushrodSide,
    SpringSheet,
)

# A straight rocker with an upright pushrod under its cup: P = 1.650 / 1.6.
CUP = Decimal("1.03125")


def a_pushrod_side(scene: Scene, **changes: object) -> PushrodSide:
    """Read with the stand at its right height, top of shaft .235 over the tip; 8 in between ball centres."""
    sizes: dict[str, object] = {
        "cup_radius": CUP, "checked_length": Decimal("8"), "checked_top": Decimal("0.235"), "lean": Decimal(0),
    }  # fmt: skip
    return PushrodSide.objects.create(build=scene.build, **{**sizes, **changes})


def some_masses(scene: Scene, **changes: object) -> MovingMasses:
    """Valve side 140, spring 90 of which 30 count, rocker 30, lifter side 256 / 1.6² = 100: 300 g in all."""
    grams = {
        "valve": 110,
        "retainer": 22,
        "locks": 8,
        "spring": 90,
        "rocker": 30,
        "pushrod": 96,
        "lifter": 160,
    }
    return MovingMasses.objects.create(build=scene.build, **{**grams, **changes})


def a_piston_side(scene: Scene, **changes: object) -> PistonSide:
    """A flat arrangement: valve along the cylinder, so that room is deck + gasket + recess + pocket + drop."""
    sizes: dict[str, object] = {
        "rod_length": Decimal("6"), "deck_clearance": Decimal("0.010"), "gasket_thickness": Decimal("0.040"),
        "valve_recess": Decimal("0.100"), "pocket_depth": Decimal("0.150"), "head_diameter": Decimal("1.6"),
        "cylinder_pressure": Decimal("100"),
    }  # fmt: skip
    return PistonSide.objects.create(build=scene.build, **{**sizes, **changes})


def a_spring_sheet(scene: Scene) -> SpringSheet:
    """200 lbf on the seat at 1.900, 500 at 1.300: 500 lbf for each inch."""
    return SpringSheet.objects.create(
        build=scene.build, installed_height=Decimal("1.9"), seat_load=Decimal(200), open_height=Decimal("1.3"),
        open_load=Decimal(500), solid_height=Decimal("1.1"),
    )  # fmt: skip


def a_timed_card(scene: Scene) -> CamCard:
    """The scene's card with centrelines 108 and 112, and 248 degrees at .050."""
    card = scene.build.cam_card
    card.intake_centreline, card.exhaust_centreline = Decimal(108), Decimal(112)
    card.intake_duration = card.exhaust_duration = Decimal(248)
    card.save()
    return card


def some_rows(scene: Scene, kind: str = "I") -> LobeTable:
    """.020 for 280 degrees and .200 for 160 beside the card's own .050 for 248."""
    table = LobeTable.objects.create(build=scene.build, kind=kind)
    for lift, duration in (("0.020", 280), ("0.200", 160)):
        LobePoint.objects.create(table=table, lift=Decimal(lift), duration=Decimal(duration))
    return table


def everything(scene: Scene) -> None:
    """All that the worksheet asks for, on both kinds of valve."""
    engine = scene.build.engine
    engine.stroke = Decimal(4)
    engine.save()
    a_timed_card(scene)
    a_pushrod_side(scene)
    some_masses(scene)
    a_piston_side(scene)
    a_spring_sheet(scene)
    some_rows(scene, "I")
    some_rows(scene, "E")
