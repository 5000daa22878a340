"""What may be changed on the What if screen, and between which ends an engine may have it."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Spec:
    """One thing that may be changed. `low` and `high` [base unit]: past them no engine has it."""

    name: str
    label: str
    low: str
    high: str
    kind: str = "length"
    how: str = ""
    signed: bool = False
    shown_unit: str = ""


GROUPS: list[tuple[str, list[Spec]]] = [
    (
        "Lift",
        [
            Spec(
                "net_lift", "Net lift", "0.1", "1.5", how="Taken as it is; it outranks the three beside it."
            ),
            Spec(
                "lobe_lift",
                "Lobe lift",
                "0.1",
                "0.8",
                how="What it changes the card’s lift by is added to today’s.",
            ),
            Spec("ratio", "Rocker ratio", "0.5", "3", kind="ratio", shown_unit="×"),
            Spec("lash", "Lash", "0", "0.1", how="Running clearance at the valve."),
        ],
    ),
    (
        "Rocker",
        [
            Spec("arm_length", "Arm length", "0.5", "5", how="Shaft centre to roller centre."),
            Spec("tip_diameter", "Roller diameter", "0.1", "2"),
            Spec("shaft_diameter", "Shaft diameter", "0.2", "3", how="The shaft’s centre stays where it is."),
            Spec(
                "square_at",
                "Square at",
                "0",
                "1",
                kind="ratio",
                shown_unit="of lift",
                how="0.5 is half lift.",
            ),
        ],
    ),
    (
        "Valve and seat",
        [
            Spec(
                "longer_valve",
                "Valve longer by",
                "-1",
                "1",
                signed=True,
                how="Same head, more stem. Minus: shorter.",
            ),
            Spec(
                "lash_cap",
                "Cap thicker by",
                "-0.5",
                "0.5",
                signed=True,
                how="A new cap: its whole thickness over the tip.",
            ),
            Spec(
                "deeper_seat",
                "Seat cut deeper by",
                "-0.25",
                "0.25",
                signed=True,
                how="How far the valve sinks up into the head.",
            ),
        ],
    ),
    (
        "Stand and gauge",
        [
            Spec(
                "pad_tilt",
                "Pad tilt",
                "-45",
                "45",
                kind="angle",
                signed=True,
                how="Plus: shims carry the shaft toward the valve.",
            ),
            Spec(
                "gauge_step",
                "Another gauge’s step",
                "-0.5",
                "2",
                signed=True,
                how="For a gauge that is not in the drawer.",
            ),
        ],
    ),
    (
        "Spring",
        [
            Spec(
                "installed_height",
                "Installed height",
                "0.8",
                "3.5",
                how="Shimmed to this. Empty: it follows the retainer.",
            ),
            Spec("seat_load", "Seat load", "0", "2000", kind="force", how="At the trial’s installed height."),
            Spec("spring_rate", "Rate", "10", "10000", kind="rate"),
            Spec("solid_height", "Solid height", "0.4", "2.5"),
        ],
    ),
    (
        "Pushrod",
        [
            Spec("pushrod_length", "Pushrod length", "3", "16", how="Held against what the trial asks for."),
        ],
    ),
]
SPECS = {spec.name: spec for _title, group in GROUPS for spec in group}
