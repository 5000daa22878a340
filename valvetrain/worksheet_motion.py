"""Worksheet, part 2: how the valve moves with the engine turning, and whether its spring can follow."""

import numpy as np

from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.loads import inertia_load, spring_load
from valvetrain.geometry.motion import ValveMotion, equivalent_mass, spring_margin
from valvetrain.lift_table import TableRefused
from valvetrain.models import ValveKind
from valvetrain.worksheet import Case, SpringNow, lobe_points, nose_of
from valvetrain.worksheet_running import Running, assume, running, say_what_is_missing
from valvetrain.worksheet_words import Letters, Part, rpm, sentence

# Crank degrees between the rows of the table.
ROW_EVERY = 10.0
FRACTIONS = (0.25, 0.5, 0.75, 0.9, 1.0)
# Speeds beside the one chosen [rpm].
BESIDE = (-1000.0, -500.0, 0.0, 500.0, 1000.0)


def motion_part(case: Case, speed: float, letters: Letters) -> Part:
    """The second part, at an engine speed [rpm]."""
    part = Part("motion", f"Motion and spring at {rpm(speed)}")
    try:
        found = running(case)
        say_what_is_missing(case, part)
        if found is not None:
            _lobe_lines(case, part, found, letters)
            _by_crank_angle(part, found, speed, letters)
            if found.spring is not None and found.mass is not None:
                _spring_lines(part, found, found.spring, found.mass, letters)
                _by_speed(part, found, found.spring, found.mass, speed, letters)
            assume(case, part, found)
    except GeometryError as error:
        part.problems.append(sentence(error))
    except TableRefused as error:
        part.problems.append(f"The imported table: {error}")
    return part


def _lobe_lines(case: Case, part: Part, found: Running, letters: Letters) -> None:
    lobe, kind = found.lobe, case.valve.kind
    table = case.lobe_table
    if table is not None and table.text:
        source = (
            f"from the table {table.file_name}".rstrip() if table.file_name else "from the imported table"
        )
    else:
        count = len(lobe_points(kind, case.card, table)) if case.card else 0
        source = f"through {count} lift{'' if count == 1 else 's'} with a duration, and the card’s lobe lift"
    nose = lobe.nose_at if kind == ValveKind.INTAKE else -lobe.nose_at
    where = "after" if kind == ValveKind.INTAKE else "before"
    known = nose_of(kind, case.card, case.values)
    part.line("Lobe", f"{letters.length(lobe.max_lift)} lift", source)
    part.line(
        "Centreline",
        f"{letters.angle(nose)} {where} top centre",
        known[1] if known else "by the table’s own angles",
    )


def _by_crank_angle(part: Part, found: Running, speed: float, letters: Letters) -> None:
    whole = found.motion(found.angles, speed)
    open_at = found.angles[whole.lift > 0.0]
    if not open_at.size:
        part.problems.append(
            "The valve never opens with this lobe and lash. Check the lobe lift and the lash."
        )
        return
    part.line(
        "Valve off its seat",
        f"from {letters.angle(float(open_at[0]))} to {letters.angle(float(open_at[-1]))}",
        "crank degrees from top centre of the overlap, lash taken up",
    )
    part.line("Most lift", letters.length(float(whole.lift.max())))
    part.line(
        "Fastest",
        f"{letters.velocity(float(whole.velocity.max()))} {letters.speed_unit} opening",
        f"{letters.velocity(float(whole.velocity.min()))} closing",
    )
    part.line(
        "Hardest over the nose",
        f"{letters.acceleration(float(whole.acceleration.min()))} {letters.acceleration_unit}",
    )
    first = float(np.ceil(open_at[0] / ROW_EVERY) * ROW_EVERY)
    rows = found.motion(np.arange(first, open_at[-1], ROW_EVERY), speed)
    heads = [
        "crank angle",
        "valve lift",
        f"velocity, {letters.speed_unit}",
        f"acceleration, {letters.acceleration_unit}",
    ]
    cells = [
        [
            letters.angle(float(a), 0),
            letters.length(float(s), unit=False),
            letters.velocity(float(v)),
            letters.acceleration(float(w)),
        ]
        for a, s, v, w in zip(rows.crank_angle, rows.lift, rows.velocity, rows.acceleration, strict=True)
    ]
    if found.spring is not None and found.mass is not None:
        spring, mass = found.spring, found.mass
        left = spring_margin(rows, seat_load=spring.seat_load, spring_rate=spring.rate, mass=mass)
        heads += ["spring", "inertia", "left over"]
        for row, lift, push, over in zip(cells, rows.lift, rows.acceleration, left, strict=True):
            held = spring_load(float(lift), seat_load=spring.seat_load, spring_rate=spring.rate)
            row += [
                letters.force(float(held), unit=False),
                letters.force(float(inertia_load(float(push), mass)), unit=False),
                letters.force(float(over), unit=False),
            ]
    part.grid(
        "By crank angle",
        heads,
        cells,
        f"Zero at top centre of the overlap. Lift in {letters.length_word}, loads in {letters.force_unit} at the valve; "
        "left over below zero: the parts would part.",
    )


def _spring_lines(part: Part, found: Running, spring: SpringNow, mass: float, letters: Letters) -> None:
    part.line(
        "Spring",
        f"{letters.force(spring.seat_load)} on the seat, rate {letters.rate(spring.rate)}",
        spring.source,
    )
    grams = mass / float(equivalent_mass(valve=1.0))
    part.line(
        "Moving mass at the valve",
        f"{grams:.0f} g",
        "valve side, a third of the spring, and the lifter’s side over ratio²",
    )
    limit = found.limit()
    if limit is not None:
        part.line(
            "The spring’s margin ends at",
            rpm(limit.rpm),
            f"at crank {letters.angle(limit.crank_angle)}, lift {letters.length(limit.lift)}; a real one parts earlier",
        )


def _by_speed(
    part: Part, found: Running, spring: SpringNow, mass: float, speed: float, letters: Letters
) -> None:
    """Spring against inertia through the lift at several speeds, where inertia works against the spring most."""
    speeds = [speed + beside for beside in BESIDE if speed + beside > 0.0]
    motion = found.motion(found.angles, speed)
    rows = []
    full = float(motion.lift.max())
    for fraction in FRACTIONS:
        at = _hardest_near(motion, fraction * full)
        lift, push = float(motion.lift[at]), float(motion.acceleration[at])
        held = float(spring_load(lift, seat_load=spring.seat_load, spring_rate=spring.rate))
        rows.append(
            [letters.length(lift, unit=False), letters.force(held, unit=False)]
            + [
                letters.force(float(inertia_load(push * (each / speed) ** 2, mass)), unit=False)
                for each in speeds
            ]
        )
    least = [
        float(
            spring_margin(
                found.motion(found.angles, each),
                seat_load=spring.seat_load,
                spring_rate=spring.rate,
                mass=mass,
            ).min()
        )
        for each in speeds
    ]
    rows.append(["least left over", "–", *(letters.force(each, unit=False) for each in least)])
    part.grid(
        "Spring against inertia through the lift, by speed",
        ("valve lift", "spring", *(f"inertia, {rpm(each)}" for each in speeds)),
        rows,
        f"Lift in {letters.length_word}, loads in {letters.force_unit}. Inertia below zero works against the spring.",
    )


def _hardest_near(motion: ValveMotion, lift: float) -> int:
    """Of the two places where the valve passes a lift, the one where it is held back hardest."""
    top = int(np.argmax(motion.lift))
    opening = int(np.argmin(np.abs(motion.lift[: top + 1] - lift)))
    closing = top + int(np.argmin(np.abs(motion.lift[top:] - lift)))
    return min((opening, closing), key=lambda place: float(motion.acceleration[place]))
