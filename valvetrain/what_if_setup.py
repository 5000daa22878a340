"""One valve as the records have it, what a trial changes at it, and the same valve with that changed.

Inches, pounds-force and degrees, with the signs of the glossary. What moves what, common practice or derived here:

- The tip comes up by δ: a longer valve, a lash cap, a seat cut deeper. Read from the tip, the shaft then stands δ low.
- The retainer comes up with the seat, and with a longer valve whose extra length lies below the lock groove.
- More lift takes as much room under the retainer and from the coils; toward the piston it takes at most as much.
"""

from dataclasses import dataclass, replace
from typing import Any

from valvetrain.geometry.arm import RockerArm
from valvetrain.geometry.cam import net_lift
from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.linkage import PushrodLinkage
from valvetrain.geometry.springs import load_at


@dataclass(frozen=True)
class Setup:
    """One valve as it stands, in the records or in a trial. None: not known.

    `tip` and `retainer` say how far above today's place they stand; all clearances are those that were measured.
    `linkage` is the pushrod's side as it stands today, for an exact pushrod length.
    """

    arm_length: float | None = None
    tip_radius: float | None = None
    shaft_radius: float | None = None
    square_at: float = 0.5
    ratio: float | None = None
    lobe_lift: float | None = None
    lash: float | None = None
    lift: float | None = None
    top_now: float | None = None
    pad_tilt: float = 0.0
    gauge_step: float | None = None
    dummy_radius: float | None = None
    installed_height: float | None = None
    seat_load: float | None = None
    spring_rate: float | None = None
    solid_height: float | None = None
    retainer_to_seal: float | None = None
    rocker_to_retainer: float | None = None
    piston_to_valve: float | None = None
    pushrod_length: float | None = None
    linkage: PushrodLinkage | None = None
    tip: float = 0.0
    retainer: float = 0.0

    @property
    def arm(self) -> RockerArm | None:
        """The rocker as the geometry takes it; None where a size is not known."""
        if self.arm_length is None or self.tip_radius is None or self.shaft_radius is None:
            return None
        return RockerArm(self.arm_length, self.tip_radius, self.shaft_radius)


@dataclass(frozen=True)
class Changes:
    """What a trial changes at a valve. None, or zero for the three that move the tip: as it is today."""

    net_lift: float | None = None
    lobe_lift: float | None = None
    ratio: float | None = None
    lash: float | None = None
    arm_length: float | None = None
    tip_radius: float | None = None
    shaft_radius: float | None = None
    square_at: float | None = None
    longer_valve: float = 0.0
    groove_stays: bool = False
    lash_cap: float = 0.0
    deeper_seat: float = 0.0
    pad_tilt: float | None = None
    gauge_step: float | None = None
    dummy_radius: float | None = None
    installed_height: float | None = None
    seat_load: float | None = None
    spring_rate: float | None = None
    solid_height: float | None = None
    pushrod_length: float | None = None

    @property
    def tip_rise(self) -> float:
        """How far the closed tip comes up from the head."""
        return self.longer_valve + self.lash_cap + self.deeper_seat

    @property
    def retainer_rise(self) -> float:
        """How far the retainer comes up from the head."""
        return (0.0 if self.groove_stays else self.longer_valve) + self.deeper_seat


TAKEN_OVER = (
    "ratio", "lobe_lift", "lash", "arm_length", "tip_radius", "shaft_radius", "square_at", "pad_tilt", "spring_rate",
    "solid_height",
)  # fmt: skip


def trial_lift(today: Setup, changes: Changes) -> float | None:
    """Net lift [in] of a trial.

    A typed net lift is taken as it is. Else what lobe lift × ratio − lash changes by is added to today's lift, which
    keeps what a measured lift knows better than the card. Raises `GeometryError` where the arithmetic lacks a number.
    """
    if changes.net_lift is not None:
        return changes.net_lift
    if changes.lobe_lift is None and changes.ratio is None and changes.lash is None:
        return today.lift
    lobe, ratio, lash = (
        getattr(today, name) if getattr(changes, name) is None else getattr(changes, name)
        for name in ("lobe_lift", "ratio", "lash")
    )
    if lobe is None or ratio is None:
        lacking = "lobe lift" if lobe is None else "ratio"
        raise GeometryError(
            f"the net lift cannot be worked out without the {lacking}",
            where="net_lift",
            right=f"type the {lacking} too, or the net lift itself",
        )
    after = float(net_lift(lobe, ratio, lash=lash or 0.0))
    if today.lift is None or today.lobe_lift is None or today.ratio is None:
        return after
    return today.lift + (after - float(net_lift(today.lobe_lift, today.ratio, lash=today.lash or 0.0)))


def with_changes(today: Setup, changes: Changes) -> Setup:
    """The valve as it stands in a trial, before its stand is moved. Raises `GeometryError` as `trial_lift`."""
    told: dict[str, Any] = {
        name: value for name in TAKEN_OVER if (value := getattr(changes, name)) is not None
    }
    lift = trial_lift(today, changes)
    if changes.gauge_step is not None:
        told |= {"gauge_step": changes.gauge_step, "dummy_radius": changes.dummy_radius}
    trial = replace(today, **told, lift=lift, tip=changes.tip_rise, retainer=changes.retainer_rise)
    return replace(
        trial,
        top_now=_shaft_as_it_stands(today, trial),
        **_spring(today, changes),
        **_clearances(today, trial, changes),
    )


def _shaft_as_it_stands(today: Setup, trial: Setup) -> float | None:
    """Top of the shaft above the trial's tip: the shaft's centre has not moved, the tip and the shaft's size may have."""
    if today.top_now is None or today.shaft_radius is None or trial.shaft_radius is None:
        return None
    return today.top_now - trial.tip + (trial.shaft_radius - today.shaft_radius)


def _spring(today: Setup, changes: Changes) -> dict[str, Any]:
    """Installed height and the load there: typed, or what the retainer’s move makes of them, shims as they are."""
    rate = today.spring_rate if changes.spring_rate is None else changes.spring_rate
    height = changes.installed_height
    if height is None and today.installed_height is not None:
        height = today.installed_height + changes.retainer_rise
    load = changes.seat_load
    if load is None and today.seat_load is not None:
        if height == today.installed_height or today.installed_height is None:
            load = today.seat_load
        elif rate is not None and height is not None:
            load = float(
                load_at(
                    height,
                    spring_rate=rate,
                    seat_load=today.seat_load,
                    installed_height=today.installed_height,
                )
            )
    return {"installed_height": height, "seat_load": load}


def _clearances(today: Setup, trial: Setup, changes: Changes) -> dict[str, Any]:
    """The measured clearances, moved by plain arithmetic; None where it does not follow from that alone."""
    more = None if trial.lift is None or today.lift is None else trial.lift - today.lift
    same_arm = (trial.arm_length, trial.tip_radius) == (today.arm_length, today.tip_radius)
    seal, rocker, piston = today.retainer_to_seal, today.rocker_to_retainer, today.piston_to_valve
    return {
        "retainer_to_seal": None if seal is None or more is None else seal + trial.retainer - more,
        "rocker_to_retainer": None if rocker is None or not same_arm else rocker + trial.tip - trial.retainer,
        "piston_to_valve": None
        if piston is None or more is None
        else piston + changes.deeper_seat - max(more, 0.0),
    }
