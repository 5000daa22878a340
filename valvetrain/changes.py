"""What a valve is judged by, and what of it has changed since it was last read.

Each height reading keeps the inputs that held when it was taken, so that the page can say which stands need another
look, and why, without keeping any verdict.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from statistics import fmean
from typing import Any

from builds.measures import show
from builds.models import Reading
from valvetrain.gathering import HeadRecords, context_of
from valvetrain.geometry.arm import RockerArm
from valvetrain.geometry.cam import net_lift
from valvetrain.geometry.errors import GeometryError
from valvetrain.models import HeightGauge, StandMove, Valve

NOTICEABLE = 5e-7  # inch: below anything that is shown
MEASURED = "measured"


@dataclass(frozen=True)
class Inputs:
    """What decides a valve's target. Lengths in inches."""

    arm: RockerArm | None
    square_at: float
    lift: float | None
    lift_source: str
    lift_count: int = 0
    lift_spread: float | None = None
    ratio: float | None = None
    lift_readings: tuple[Reading, ...] = ()
    lobe_lift: float | None = None
    lash: float = 0.0

    def as_held(self, held: Mapping[str, str]) -> "Inputs":
        """These inputs as they were when a reading was taken, as far as the reading kept them."""
        arm = self.arm
        if {"arm_length", "tip_radius", "shaft_radius"} <= held.keys():
            arm = RockerArm(float(held["arm_length"]), float(held["tip_radius"]), float(held["shaft_radius"]))
        lift = float(held["lift"]) if held.get("lift") else self.lift
        return replace(self, arm=arm, lift=lift, square_at=float(held.get("square_at", self.square_at)))

    def to_keep(self, gauge: HeightGauge | None) -> dict[str, str]:
        """The inputs as a reading keeps them: plain text, so that nothing is lost in JSON."""
        kept: dict[str, str] = {"square_at": repr(self.square_at)}
        if self.lift is not None:
            kept["lift"] = repr(self.lift)
        if self.arm is not None:
            kept |= {
                "arm_length": repr(self.arm.length),
                "tip_radius": repr(self.arm.tip_radius),
                "shaft_radius": repr(self.arm.shaft_radius),
            }
        if gauge is not None:
            kept["step"] = repr(gauge.step_value())
            kept["dummy_diameter"] = repr(float(gauge.dummy_diameter)) if gauge.dummy_diameter else ""
        return kept


WORDS = {
    "lift": "net lift", "arm_length": "arm length", "tip_radius": "roller radius", "shaft_radius": "shaft radius",
    "square_at": "the part of lift it stands square at", "step": "the gauge’s step",
    "dummy_diameter": "the dummy shaft’s diameter",
}  # fmt: skip
PLAIN_NUMBERS = {"square_at"}


def inputs_of(records: HeadRecords, valve: Valve) -> Inputs:
    """What decides this valve's target now: rockers, and the lift, measured before worked out.

    A job that looks again has the lift that was measured when the engine left, until it is measured anew.
    """
    rockers = records.build.rockers_for(valve.kind)
    arm = rockers.arm() if rockers else None
    square_at = float(rockers.square_at) if rockers else 0.5
    ratio = float(rockers.ratio) if rockers else None
    readings = tuple(records.build.lifts_at(valve))
    measured = [float(reading.value or Decimal(0)) for reading in readings]
    if measured:
        spread = max(measured) - min(measured) if len(measured) > 1 else None
        source = MEASURED
        if readings[0].build_id != records.build.build.pk:
            source = f"{MEASURED} when it left, job {readings[0].build}"
        return Inputs(arm, square_at, fmean(measured), source, len(measured), spread, ratio, readings)
    card = records.build.cam_card
    if card is None or rockers is None:
        return Inputs(arm, square_at, None, "", ratio=ratio)
    lobe_lift, lash = float(card.lobe_lift(valve.kind)), float(card.lash(valve.kind))
    try:
        lift = float(net_lift(lobe_lift, float(rockers.ratio), lash=lash))
    except GeometryError:
        return Inputs(arm, square_at, None, "", ratio=ratio)
    source = "worked out from the cam card"
    return Inputs(arm, square_at, lift, source, ratio=ratio, lobe_lift=lobe_lift, lash=lash)


def lift_part(then: Inputs, now: Inputs) -> float | None:
    """How much higher a shaft that did not move reads for another lift than for an earlier one [in]; None: not known.

    The height it is held against is r + R − k·S: less lift asks for a higher shaft, so that it reads low by k of that.
    """
    if then.lift is None or now.lift is None:
        return None
    return now.square_at * now.lift - then.square_at * then.lift


def changes_since(
    reading: Reading, inputs: Inputs, gauges: dict[int, HeightGauge], address: str
) -> list[str]:
    """Sentences that say what has changed since a height reading was taken."""
    _pack, _feeler, held = context_of(reading)
    now = inputs.to_keep(gauges.get(reading.instrument_id or 0))
    return [_sentence(address, key, held[key], now[key]) for key in WORDS if _differs(held, now, key)]


def since_the_slide(readings: Sequence[Reading], moves: Sequence[StandMove]) -> list[Reading]:
    """The readings since the stand was last slid; all of them where there is none since: they are looked at again."""
    after = [reading for reading in readings if not slid_since(reading, moves)]
    return after or list(readings)


def slid_since(reading: Reading, moves: Sequence[StandMove]) -> StandMove | None:
    """The newest slide of the stand after a reading was taken; None where it stands as it stood."""
    return moves[-1] if moves and moves[-1].moved_at > reading.taken_at else None


def slide_since(reading: Reading, moves: Sequence[StandMove], address: str) -> list[str]:
    """A sentence where the stand was slid since a height was read."""
    move = slid_since(reading, moves)
    if move is None:
        return []
    return [f"{address}: the stand was slid {slide_words(move)} since it was read: read the height again."]


def slide_words(move: StandMove, unit: str = "in") -> str:
    """A slide in words: 0.0120 in toward the valve."""
    way = "toward the valve" if move.slide > 0 else "away from the valve"
    return f"{show(abs(move.slide), unit, with_unit=True)} {way}"


def _differs(held: dict[str, Any], now: dict[str, str], key: str) -> bool:
    if key not in held or key not in now:
        return False
    old, new = held[key], now[key]
    if not old or not new:
        return bool(old) != bool(new)
    return abs(float(old) - float(new)) > NOTICEABLE


def _sentence(address: str, key: str, old: str, new: str) -> str:
    def told(value: str) -> str:
        if not value:
            return "none"
        return f"{float(value):g}" if key in PLAIN_NUMBERS else show(Decimal(value), "in", with_unit=True)

    return f"{address}: {WORDS[key]} was {told(old)} when it was read, now {told(new)}."
