"""One valve with the engine turning: its lobe, what drives it, its mass and its spring, and what of that is missing."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from valvetrain.geometry.linkage import PushrodLinkage
from valvetrain.geometry.lobe import LobeCurve
from valvetrain.geometry.motion import SpeedLimit, ValveMotion, equivalent_mass, speed_limit, valve_motion
from valvetrain.models.lobe import PlacedBy
from valvetrain.worksheet import Case, SpringNow, lobe_points, nose_of
from valvetrain.worksheet_words import Part

# Crank degrees between the angles that are searched.
SEARCH_EVERY = 0.5


@dataclass(frozen=True)
class Running:
    """One valve with the engine turning: its lobe, what drives it, and its mass and spring where they are known."""

    lobe: LobeCurve
    drive: float | PushrodLinkage
    lash: float
    mass: float | None
    spring: SpringNow | None

    def motion(self, angles: NDArray[np.float64], speed: float) -> ValveMotion:
        """The valve's motion at these crank angles [deg]."""
        return valve_motion(self.lobe, angles, rpm=speed, drive=self.drive, lash=self.lash)

    @property
    def angles(self) -> NDArray[np.float64]:
        """Crank angles [deg] over the whole lobe, close together."""
        return np.arange(self.lobe.opens_at, self.lobe.closes_at + SEARCH_EVERY, SEARCH_EVERY)

    def limit(self) -> SpeedLimit | None:
        """Where the margin ends; None without a mass or a spring."""
        if self.mass is None or self.spring is None:
            return None
        motion = self.motion(self.angles, 1000.0)
        return speed_limit(
            motion, seat_load=self.spring.seat_load, spring_rate=self.spring.rate, mass=self.mass
        )


def running(case: Case) -> Running | None:
    """The valve as it runs; None while lobe or ratio are not known. Raises `GeometryError` or `TableRefused`."""
    lobe = case.lobe()
    linkage = case.linkage()
    drive = linkage if linkage is not None else case.ratio
    if lobe is None or drive is None:
        return None
    return Running(
        lobe, drive, 0.0 if linkage is not None else case.lash, mass_of(case, drive, lobe), case.spring()
    )


def mass_of(case: Case, drive: float | PushrodLinkage, lobe: LobeCurve) -> float | None:
    """Equivalent mass at the valve; None while nothing is weighed."""
    masses = case.masses
    if masses is None:
        return None
    ratio = drive if isinstance(drive, float) else float(drive.ratio_mean(lobe.max_lift))
    return float(
        equivalent_mass(
            valve=float(masses.valve + masses.retainer + masses.locks),
            spring=float(masses.spring),
            rocker=float(masses.rocker),
            lifter_side=float(masses.lifter + masses.pushrod),
            ratio=ratio,
        )
    )


def say_what_is_missing(case: Case, part: Part) -> None:
    """What the curve, the masses and the spring still need, each with the way to it."""
    job, kind = case.build.pk, case.valve.kind
    name = case.valve.get_kind_display()
    table = case.lobe_table
    if case.rockers is None:
        part.gap("The rockers of this valve are not entered.", "rocker-set-new", (job,), "Enter the rockers")
    if nose_of(kind, case.card, case.values) is None and (
        table is None or table.placed_by != PlacedBy.OWN or not table.text
    ):
        part.gap(
            f"The {name} centreline is neither degreed nor on the card, so the lobe has no place in the cycle.",
            "cam-card", (job,), "Enter it on the cam card",
        )  # fmt: skip
    if (
        (table is None or not table.text)
        and case.card is not None
        and not lobe_points(kind, case.card, table)
    ):
        part.gap(
            f"The {name} lobe has no lift with a duration.",
            "worksheet-lobe",
            (job, kind),
            "Enter the lobe’s rows",
        )
    if case.card is None and (table is None or not table.text):
        part.gap(
            "There is no cam card and no lift table.", "worksheet-table", (job, kind), "Import a lift table"
        )
    if case.masses is None:
        part.gap(
            "Nothing that moves is weighed, so inertia is not known.",
            "worksheet-new",
            (job, "masses"),
            "Enter the weights",
        )
    if case.spring() is None:
        part.gap(
            "The spring’s loads are not known: read both on the tester, or enter its sheet with both loads.",
            "log-step", (job, "springs"), "To the springs’ step",
        )  # fmt: skip


def assume(case: Case, part: Part, found: Running) -> None:
    """What was taken for granted."""
    part.assume("Rigid parts, a steady speed, and no surge in the spring: a real valvetrain parts earlier.")
    if isinstance(found.drive, float):
        part.assume("The nominal ratio all through the lift, since the pushrod’s side is not entered.")
    if case.lobe_table is None or not case.lobe_table.text:
        part.assume(
            "Equal flanks, and between the card’s points the smoothest lobe that agrees with them: not the grinder’s own."
        )
        if case.lobe_table is None or case.lobe_table.ramp is None:
            part.assume("A ramp of 30 crank degrees below the lowest lift on the card, common practice.")
    if found.spring is not None:
        part.assume("One straight rate for the spring.")
    if case.masses is not None and not case.masses.rocker:
        part.assume(
            "The rocker’s own inertia is left out, since it is not entered: the margin is then too good."
        )
