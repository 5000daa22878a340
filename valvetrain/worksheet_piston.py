"""Worksheet, part 4: how near the valve comes to the piston by crank angle, beside the least that was measured."""

import numpy as np

from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.piston import PistonToValve
from valvetrain.lift_table import TableRefused
from valvetrain.worksheet import Case
from valvetrain.worksheet_running import running, say_what_is_missing
from valvetrain.worksheet_words import Letters, Part, sentence

# Crank degrees about top centre of the overlap: searched, and printed.
SEARCHED = np.arange(-90.0, 90.5, 0.5)
PRINTED = np.arange(-40.0, 45.0, 5.0)


def piston_part(case: Case, letters: Letters) -> Part:
    """The fourth part."""
    part = Part("piston", "Piston to valve, predicted")
    try:
        found, pair = running(case), _pair(case, part, letters)
        if found is None:
            say_what_is_missing(case, part)
        if found is not None and pair is not None:
            # The lift is a matter of angle alone; any speed gives it.
            lift = found.motion(SEARCHED, 1000.0).lift
            least = pair.closest(SEARCHED, lift)
            part.line(
                "Least, predicted",
                letters.length(least.clearance),
                f"at crank {letters.angle(least.crank_angle)}",
            )
            if least.clearance < 0.0:
                part.problems.append(
                    "The valve and the piston would meet. Check the numbers, then the engine, before it is turned."
                )
            _beside_measured(case, part, least.clearance, least.crank_angle, letters)
            shown = found.motion(PRINTED, 1000.0).lift
            room, left = np.asarray(pair.room(PRINTED)), np.asarray(pair.clearance(PRINTED, shown))
            part.grid(
                "By crank angle",
                ("crank angle", "room", "valve lift", "clearance"),
                [
                    (
                        letters.angle(float(a), 0),
                        letters.length(float(r), unit=False),
                        letters.length(float(s), unit=False),
                        letters.length(float(c), unit=False),
                    )
                    for a, r, s, c in zip(PRINTED, room, shown, left, strict=True)
                ],
                f"Zero at top centre of the overlap; in {letters.length_word} along the valve. Room: lift at touch.",
            )
            part.assume(
                "Heights as measured, hot and at speed nothing stretches and the piston does not rock: a prediction says "
                "where to look, and does not stand in for clay or a dial.",
                "A pocket cut square to the valve, a flat crown square to the cylinder.",
                "No offset of the piston’s pin.",
            )
    except GeometryError as error:
        part.problems.append(sentence(error))
    except TableRefused as error:
        part.problems.append(f"The imported table: {error}")
    return part


def _pair(case: Case, part: Part, letters: Letters) -> PistonToValve | None:
    side, values, job = case.piston_side, case.values, case.build.pk
    if side is None:
        part.gap(
            "The rod, the pocket and the valve’s place are not entered.",
            "worksheet-new",
            (job, "piston"),
            "Enter the piston’s side",
        )
        return None
    deck, gasket = side.deck_clearance, side.gasket_thickness
    deck_from = gasket_from = "entered for the worksheet"
    if deck is None and "deck_clearance" in values:
        deck, deck_from = values["deck_clearance"], f"as read at cylinder {case.valve.cylinder}"
    if gasket is None and "gasket_thickness" in values:
        gasket, gasket_from = values["gasket_thickness"], "from the log"
    if "stroke" not in values:
        part.gap(
            "The stroke is not on the engine’s page.",
            "engine-edit",
            (case.build.engine_id,),
            "Enter the stroke",
        )
    edit = ("worksheet-edit", (job, "piston", side.pk))
    if deck is None:
        part.gap(
            f"The deck clearance is neither read at cylinder {case.valve.cylinder} nor entered.",
            "log-step",
            (job, "cylinders"),
            "Read it",
        )
    if gasket is None:
        part.gap("The gasket’s thickness is neither in the log nor entered.", *edit, "Enter it")
    if side.rod_length is None:
        part.gap("The rod’s length is not entered.", *edit, "Enter it")
    if side.valve_recess is None:
        part.gap("The valve’s place above the head’s face is not entered.", *edit, "Enter it")
    if (
        deck is None
        or gasket is None
        or side.rod_length is None
        or side.valve_recess is None
        or "stroke" not in values
    ):
        return None
    part.line("Deck clearance", letters.length(float(deck), sign=True), deck_from)
    part.line("Head gasket", letters.length(float(gasket)), gasket_from)
    return PistonToValve(
        stroke=float(values["stroke"]),
        rod_length=float(side.rod_length),
        deck_clearance=float(deck),
        gasket_thickness=float(gasket),
        valve_recess=float(side.valve_recess),
        pocket_depth=float(side.pocket_depth),
        valve_angle=float(side.valve_angle),
    )


def _beside_measured(case: Case, part: Part, least: float, at: float, letters: Letters) -> None:
    read = case.values.get("piston_to_valve")
    if read is None:
        part.gap(
            "The least clearance is not measured yet: the prediction stands alone.",
            "log-step", (case.build.pk, "clearances"), "Measure it",
        )  # fmt: skip
        return
    angle = case.values.get("piston_to_valve_angle")
    told = (
        f" at {letters.angle(float(angle))}, {letters.angle(abs(float(angle) - at))} off"
        if angle is not None
        else ""
    )
    part.line(
        "Least, measured",
        f"{letters.length(float(read))}{told}",
        f"{letters.length(float(read) - least, sign=True)} against the prediction",
    )
