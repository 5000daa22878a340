"""Worksheet, part 3: what the tip, the shaft and the contact carry, and the load as the exhaust opens."""

import numpy as np

from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.linkage import PushrodLinkage
from valvetrain.geometry.loads import (
    ShaftReaction,
    contact_pressure,
    exhaust_opening_load,
    linkage_reaction,
    shaft_reaction,
    spring_load,
    tip_load,
)
from valvetrain.lift_table import TableRefused
from valvetrain.models import PistonSide, ValveKind
from valvetrain.worksheet import Case, SpringNow
from valvetrain.worksheet_running import Running, running, say_what_is_missing
from valvetrain.worksheet_words import Letters, Part, rpm, sentence

FRACTIONS = (0.1, 0.25, 0.5, 0.75, 1.0)
# Air outside [psi], standard atmosphere: 101.325 kPa. Source: NIST SP 811.
OUTSIDE = 14.6959


def loads_part(case: Case, speed: float, letters: Letters) -> Part:
    """The third part, at an engine speed [rpm]."""
    part = Part("loads", f"Loads at {rpm(speed)}", drawn="load")
    try:
        found = running(case)
        say_what_is_missing(case, part)
        if found is not None and found.spring is not None:
            _through_the_lift(case, part, found, found.spring, speed, letters)
        part.assume(
            "Rigid parts and quiet running; friction and the rocker’s own inertia left out.",
            "Roller and tip of steel, a whole and even line of contact: a crowned roller or a canted valve has more.",
        )
        _opening(case, part, letters)
    except GeometryError as error:
        part.problems.append(sentence(error))
    except TableRefused as error:
        part.problems.append(f"The imported table: {error}")
    return part


def _contact_width(case: Case) -> float:
    """Length of the line of contact [in]: the roller's width, at most the tip's."""
    tip, side = float(case.valve.tip_diameter), case.pushrod_side
    return tip if side is None or side.roller_width is None else min(tip, float(side.roller_width))


def _reaction(found: Running, lobe_lift: float, load: float) -> ShaftReaction:
    if isinstance(found.drive, PushrodLinkage):
        return linkage_reaction(found.drive, lobe_lift, tip_load=load)
    return shaft_reaction(load, found.drive)


def _through_the_lift(
    case: Case, part: Part, found: Running, spring: SpringNow, speed: float, letters: Letters
) -> None:
    """On the opening flank: turned by hand, and at speed where the masses are known."""
    assert case.rockers is not None
    radius, width = case.rockers.arm().tip_radius, _contact_width(case)
    rows = []
    for fraction in FRACTIONS:
        lobe = fraction * found.lobe.max_lift
        angle = found.lobe.nose_at if fraction == 1.0 else float(found.lobe.events_at(lobe)[0])
        at = found.motion(np.array([angle]), speed)
        lift, acceleration = float(at.lift[0]), float(at.acceleration[0])
        still = float(spring_load(lift, seat_load=spring.seat_load, spring_rate=spring.rate))
        loads = [still]
        if found.mass is not None:
            moving = tip_load(
                lift,
                seat_load=spring.seat_load,
                spring_rate=spring.rate,
                acceleration=acceleration,
                mass=found.mass,
            )
            loads.append(max(float(moving), 0.0))
        row = [letters.length(lobe, unit=False), letters.length(lift, unit=False)]
        for load in loads:
            pressed = contact_pressure(load, roller_radius=radius, contact_width=width)
            row += [
                letters.force(load, unit=False),
                letters.force(float(_reaction(found, lobe, load).total), unit=False),
                letters.contact(float(pressed.pressure)),
            ]
        rows.append(row)
    heads = ["lobe lift", "valve lift", "tip, turned by hand", "shaft", f"contact, {letters.contact_unit}"]
    if found.mass is not None:
        heads += [f"tip, {rpm(speed)}", "shaft", f"contact, {letters.contact_unit}"]
    part.grid(
        "Through the lift, on the opening flank",
        heads,
        rows,
        f"Lengths in {letters.length_word}, loads in {letters.force_unit}; contact is the greatest pressure "
        f"between roller and tip, over {letters.length(width)} of line. A tip load of 0 at speed: the parts have parted.",
    )
    if not isinstance(found.drive, PushrodLinkage):
        part.assume(
            "The pushrod is taken as parallel to the valve, since its side is not entered: shaft = tip × (1 + ratio)."
        )


def _opening(case: Case, part: Part, letters: Letters) -> None:
    """The load as the exhaust leaves its seat against the cylinder, and the intake beside it."""
    exhaust, intake = case.sides.get(ValveKind.EXHAUST), case.sides.get(ValveKind.INTAKE)
    spring = case.spring()
    if exhaust is None or exhaust.head_diameter is None or exhaust.cylinder_pressure is None:
        part.gap(
            "The exhaust valve’s head and the cylinder pressure as it opens are not entered: no opening load.",
            *_way(case, exhaust),
        )
        return
    if spring is None:
        return
    pressure = float(exhaust.cylinder_pressure)
    boost = max(
        (float(side.boost) for side in (exhaust, intake) if side is not None and side.boost), default=0.0
    )
    whole = pressure * (OUTSIDE + boost) / OUTSIDE
    rows = []
    if intake is not None and intake.head_diameter is not None:
        rows.append(_opened("intake", spring, 0.0, intake, letters, case))
        if boost:
            rows.append(_opened("intake, boosted", spring, 0.0, intake, letters, case, behind=boost))
    rows.append(_opened("exhaust, no boost", spring, pressure, exhaust, letters, case))
    if boost:
        rows.append(
            _opened(f"exhaust, boosted {letters.pressure(boost)}", spring, whole, exhaust, letters, case)
        )
    part.grid(
        "As the valve leaves its seat",
        ("valve", "pressure on its head", "load at the tip", "on the shaft"),
        rows,
        f"At rest: what it takes to start the valve comes on top. Seat load {letters.force(spring.seat_load)}, as under "
        f"this valve. Loads in {letters.force_unit}.",
    )
    part.assume(
        "The spring of this valve on both seats.",
        "The intake opens with as much pressure above it as in its port; boost behind its head takes load off.",
    )
    if boost:
        part.assume(
            "Cylinder pressure as the exhaust opens grows with the air let in: × (14.7 + boost) / 14.7 psi."
        )


def _way(case: Case, side: PistonSide | None) -> tuple[str, tuple[object, ...], str]:
    if side is None:
        return "worksheet-new", (case.build.pk, "piston"), "Enter the piston’s side"
    return "worksheet-edit", (case.build.pk, "piston", side.pk), "Enter them"


def _opened(
    name: str,
    spring: SpringNow,
    pressure: float,
    side: PistonSide,
    letters: Letters,
    case: Case,
    *,
    behind: float = 0.0,
) -> tuple[str, ...]:
    assert side.head_diameter is not None
    diameter = float(side.head_diameter)
    load = float(
        exhaust_opening_load(seat_load=spring.seat_load, cylinder_pressure=pressure, head_diameter=diameter)
    )
    told = letters.pressure(pressure)
    if behind:
        gas = float(exhaust_opening_load(seat_load=0.0, cylinder_pressure=behind, head_diameter=diameter))
        load, told = max(load - gas, 0.0), f"−{letters.pressure(behind)}"
    shaft = float(shaft_reaction(load, case.ratio).total) if case.ratio else 0.0
    return name, told, letters.force(load, unit=False), letters.force(shaft, unit=False) if shaft else "–"
