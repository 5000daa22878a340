"""What the drawings of a trial are made from."""

from valvetrain.charts.numbers import ValveNumbers
from valvetrain.what_if_board import WhatIfBoard


def numbers_of(board: WhatIfBoard, side: str) -> ValveNumbers | None:
    """The numbers of the first valve of a trial, today or in the trial; None where something is missing."""
    outcome = board.tried.outcomes.get(board.drawn)
    if outcome is None:
        return None
    setup, figures = (outcome.today, outcome.was) if side == "today" else (outcome.trial, outcome.now)
    if setup.arm is None or setup.lift is None or figures.target_top is None:
        return None
    return ValveNumbers(
        arm_length=setup.arm.length,
        tip_radius=setup.arm.tip_radius,
        shaft_radius=setup.arm.shaft_radius,
        lift=setup.lift,
        tip_diameter=float(board.today.valves[board.drawn].state.valve.tip_diameter),
        square_at=setup.square_at,
        height_error=None if figures.rise is None else -figures.rise,
        unit=board.unit,
        address=board.drawn,
    )
