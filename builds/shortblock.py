"""The short block's steps of the log: bores, pistons, rings, bearings, deck, and the compression that follows."""

from decimal import Decimal, localcontext

from builds.characteristics import Characteristic
from builds.models import Build
from builds.steps import Derived, Step, Values, register_step, value_providers

PI = Decimal("3.14159265358979323846")
CC_PER_CUBIC_INCH = Decimal("16.387064")


def _length(
    key: str, name: str, where: str, low: str, high: str, how: str, *, signed: bool = False
) -> Characteristic:
    return Characteristic(
        key=key, name=name, applies_to=where, how_measured=how, low=Decimal(low), high=Decimal(high), signed=signed,
        limit_key=key,
    )  # fmt: skip


def piston_clearance(values: Values) -> Decimal:
    """Bore less piston diameter [in]."""
    return values["bore"] - values["piston_diameter"]


def swept_volume(values: Values) -> Decimal:
    """Volume [cc] that one piston sweeps, from bore and stroke [in]. Common practice; plain geometry."""
    return PI / 4 * values["bore"] ** 2 * values["stroke"] * CC_PER_CUBIC_INCH


def displacement(values: Values) -> Decimal:
    """Swept volume of the whole engine [cc]."""
    return swept_volume(values) * values["cylinders"]


def clearance_volume(values: Values) -> Decimal:
    """Volume [cc] left above the piston at top centre: chamber, gasket, deck, less what the piston's crown fills."""
    gasket = PI / 4 * values["gasket_bore"] ** 2 * values["gasket_thickness"] * CC_PER_CUBIC_INCH
    deck = PI / 4 * values["bore"] ** 2 * values["deck_clearance"] * CC_PER_CUBIC_INCH
    return values["chamber_volume"] + gasket + deck - values["crown_volume"]


def compression_ratio(values: Values) -> Decimal | None:
    """(Swept + clearance) / clearance; None where the volumes leave no clearance."""
    clearance = clearance_volume(values)
    if clearance <= 0:
        return None
    with localcontext() as context:
        context.prec = 20
        return (swept_volume(values) + clearance) / clearance


def register_short_block() -> None:
    """Put the short block's steps into the registry."""
    value_providers.append(_engine_values)
    register_step(
        Step(
            "cylinders", "cylinders", "cylinder", order=100,
            lead="Bore gauge and micrometer at the same temperature. Several readings round the bore are welcome: the mean "
            "is judged and the range is shown.",
            measured=(
                _length("bore", "bore", "cylinder", "1", "8", "Across the cylinder, with a bore gauge."),
                _length("piston_diameter", "piston diameter", "cylinder", "1", "8", "Across the skirt where its maker says."),
                _length("ring_gap_top", "top ring gap", "cylinder", "0.002", "0.08", "Ring square in the bore, with a feeler."),
                _length("ring_gap_second", "second ring gap", "cylinder", "0.002", "0.08", "Ring square in the bore, with a feeler."),
                _length("rod_clearance", "rod bearing clearance", "cylinder", "0.0003", "0.01", "Bore less journal, bolts at their stretch."),
                _length("deck_clearance", "deck clearance", "cylinder", "-0.1", "0.2", "Piston below the deck at top centre; minus when it stands proud.", signed=True),
            ),
            derived=(
                Derived("piston_clearance", "piston clearance", ("bore", "piston_diameter"), piston_clearance, "bore − piston", limit_key="piston_clearance", low=Decimal(0), unlikely="the piston is larger than its bore: read one of them again."),
            ),
        )
    )  # fmt: skip
    register_step(
        Step(
            "mains", "main bearings", "main", order=110,
            lead="Caps torqued as their maker says. Clearance is the bore less the journal.",
            measured=(
                _length("main_clearance", "main bearing clearance", "main", "0.0003", "0.01", "Bore less journal, or plastic gauge."),
            ),
        )
    )  # fmt: skip
    register_step(
        Step(
            "block", "volumes and endplay", "engine", order=120,
            lead="What is one figure for the whole engine. Compression follows from the mean bore and deck of the cylinders.",
            measured=(
                _length("endplay", "crankshaft endplay", "engine", "0.001", "0.03", "Dial indicator on the crank's nose, pried both ways."),
                Characteristic(
                    key="chamber_volume", name="chamber volume", applies_to="engine", unit_kind="volume", low=Decimal(5),
                    high=Decimal(250), how_measured="Burette through a plate, valves and plug in.", limit_key="chamber_volume",
                ),
                Characteristic(
                    key="crown_volume", name="piston crown volume", applies_to="engine", unit_kind="volume", low=Decimal(-60),
                    high=Decimal(120), signed=True, how_measured="Plus for a dome, minus for a dish and valve pockets.",
                ),
                _length("gasket_bore", "head gasket bore", "engine", "1", "8", "Across the gasket's fire ring."),
                _length("gasket_thickness", "head gasket, compressed", "engine", "0.005", "0.2", "From its maker's sheet, as clamped."),
            ),
            derived=(
                Derived("swept", "swept volume of one cylinder", ("bore", "stroke"), swept_volume, "π/4 · bore² · stroke", "volume", averaged=("bore",), inch_unit="in³"),
                Derived("displacement", "displacement", ("bore", "stroke", "cylinders"), displacement, "swept × cylinders", "volume", averaged=("bore",), inch_unit="in³", places=1),
                Derived(
                    "compression", "compression ratio",
                    ("bore", "stroke", "chamber_volume", "crown_volume", "gasket_bore", "gasket_thickness", "deck_clearance"),
                    compression_ratio, "(swept + clearance) / clearance", "ratio", places=2, limit_key="compression",
                    averaged=("bore", "deck_clearance"), low=Decimal(3), high=Decimal(30),
                    unlikely="chamber, crown, gasket and deck do not go together: read them again.",
                ),
            ),
        )
    )  # fmt: skip


def _engine_values(build: Build) -> dict[tuple[str, str], Decimal]:
    """What the engine's own record says: its nominal bore and stroke, and how many cylinders."""
    engine = build.engine
    found = {("", "cylinders"): Decimal(engine.cylinders)}
    if engine.bore is not None:
        found["", "bore"] = engine.bore
    if engine.stroke is not None:
        found["", "stroke"] = engine.stroke
    return found
