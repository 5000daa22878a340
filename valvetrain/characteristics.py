"""What may be measured on the valvetrain."""

from decimal import Decimal

from builds.characteristics import Characteristic, register
from builds.uncertainty import mostly_read_with

NET_LIFT = Characteristic(
    key="net_lift", name="net lift", applies_to="valve", low=Decimal("0.1"), high=Decimal("1.5"),
    how_measured="Dial indicator on the retainer, in line with the valve, lash set, from seat to full lift.",
)  # fmt: skip
STAND_GAP = Characteristic(
    key="stand_gap", name="gap", applies_to="valve", low=Decimal(0), high=Decimal("0.35"),
    how_measured="Gauge on the valve tip, over the dummy shaft: the thickest blade that slides between the two with a "
    "light drag.",
)  # fmt: skip
TOP_OF_SHAFT = Characteristic(
    key="top_of_shaft", name="top of shaft", applies_to="valve", low=Decimal("-0.5"), high=Decimal("1.5"),
    signed=True, how_measured="Depth micrometer: from the valve tip up to the top of the shaft.",
)  # fmt: skip
UNDERSIDE_OF_SHAFT = Characteristic(
    key="underside_of_shaft", name="underside of shaft", applies_to="valve", low=Decimal("-1.5"), high=Decimal("1"),
    signed=True, how_measured="Depth micrometer: from the valve tip to the underside of the shaft; minus when the "
    "underside is below the tip.",
)  # fmt: skip

# The three ways to read how high the shaft stands over a valve.
HEIGHT_WAYS = {way.key: way for way in (STAND_GAP, TOP_OF_SHAFT, UNDERSIDE_OF_SHAFT)}


# What is mostly read with what, where nobody said which tool it was.
MOSTLY_READ_WITH = {
    "net_lift": "dial", "lobe_lift": "dial", "stand_gap": "feeler", "top_of_shaft": "depth-micrometer",
    "underside_of_shaft": "depth-micrometer", "pushrod_length": "caliper", "pushrod_to_head": "feeler",
    "installed_height": "micrometer", "solid_height": "caliper", "retainer_to_seal": "feeler",
    "rocker_to_retainer": "feeler", "piston_to_valve": "dial", "piston_to_valve_radial": "feeler",
    "valve_to_bore": "feeler", "tip_height": "caliper", "lash_cold": "feeler", "lash_hot": "feeler",
}  # fmt: skip


def register_all() -> None:
    """Put the valvetrain's entries into the registry."""
    mostly_read_with.update(MOSTLY_READ_WITH)
    register(NET_LIFT, *HEIGHT_WAYS.values())
