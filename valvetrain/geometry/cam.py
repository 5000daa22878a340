"""Cam card arithmetic: lift, durations, centrelines, and whether a card agrees with itself.

All angles are crankshaft degrees except lobe separation, which is in camshaft degrees. Openings
before and closings after the dead centre that names them are positive; past it, negative.
"""

from dataclasses import dataclass

import numpy as np

from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.guard import Numbers, require, scalar

# The four angles of a card come in whole or half degrees: less than this is their rounding.
CARD_ROUNDING = 0.5
# Floating point only: a card that is off by just its rounding agrees, a lift of just the lash is none.
_ROUNDING = 1e-9


def net_lift(lobe_lift: Numbers, ratio: Numbers, *, lash: Numbers = 0.0) -> Numbers:
    """Net valve lift worked out from the card.

    Args:
        lobe_lift: Lift at the cam [in], above zero.
        ratio: Rocker ratio, valve travel over lobe travel [-], above zero.
        lash: Running clearance at the valve [in], zero or more.
    Returns:
        Net lift S [in], above zero.
    Raises:
        GeometryError: A number out of range, or a lash that eats the whole lift.
    Notes:
        Lobe lift × ratio − lash, for a solid lifter. A measured lift outranks it. Common practice.
    Examples:
        >>> net_lift(0.470, 1.6, lash=0.022)
        0.730
    """
    gross = require("lobe_lift", lobe_lift) * require("ratio", ratio)
    net = gross - require("lash", lash)
    if np.any(np.asarray(net) <= _ROUNDING):
        raise GeometryError(
            "the lash is as much as the lift, so the valve never opens",
            where="lash",
            right="give the lash in inches, a few hundredths at most",
        )
    return net


def duration(opening_btdc: Numbers, closing_abdc: Numbers) -> Numbers:
    """Crank degrees for which a valve is open, from its two events.

    Args:
        opening_btdc: Opening before the dead centre [deg]: BTDC for an intake, BBDC for an exhaust.
        closing_abdc: Closing after the next dead centre [deg]: ABDC for an intake, ATDC for an exhaust.
    Returns:
        Duration [deg], above zero.
    Raises:
        GeometryError: An angle beyond 180 either way, or a valve that closes before it opens.
    Notes:
        Opening + 180 + closing. Common practice.
    Examples:
        >>> duration(28.0, 71.0)
        279.0
    """
    degrees = require("opening_btdc", opening_btdc) + 180.0 + require("closing_abdc", closing_abdc)
    if np.any(np.asarray(degrees) <= 0.0):
        raise GeometryError(
            "the valve closes before it opens",
            where="closing_abdc",
            right="an event past the dead centre that names it is negative; check both",
        )
    return degrees


def intake_centreline(opening_btdc: Numbers, closing_abdc: Numbers) -> Numbers:
    """Middle of the intake's duration.

    Args:
        opening_btdc: Intake opens [deg BTDC].
        closing_abdc: Intake closes [deg ABDC].
    Returns:
        Centreline [deg ATDC].
    Raises:
        GeometryError: As ``duration``.
    Notes:
        Duration / 2 − opening. It is the place of most lift only on a lobe with equal flanks. Common
        practice.
    Examples:
        >>> intake_centreline(28.0, 71.0)
        111.5
    """
    return 0.5 * duration(opening_btdc, closing_abdc) - require("opening_btdc", opening_btdc)


def exhaust_centreline(opening_bbdc: Numbers, closing_atdc: Numbers) -> Numbers:
    """Middle of the exhaust's duration.

    Args:
        opening_bbdc: Exhaust opens [deg BBDC].
        closing_atdc: Exhaust closes [deg ATDC].
    Returns:
        Centreline [deg BTDC].
    Raises:
        GeometryError: As ``duration``.
    Notes:
        Duration / 2 − closing. Common practice.
    Examples:
        >>> exhaust_centreline(75.0, 45.0)
        105.0
    """
    return 0.5 * duration(opening_bbdc, closing_atdc) - require("closing_atdc", closing_atdc)


def lobe_separation(intake_centreline: Numbers, exhaust_centreline: Numbers) -> Numbers:
    """Angle between the two lobes of a cylinder, on the cam.

    Args:
        intake_centreline: Intake centreline [deg ATDC].
        exhaust_centreline: Exhaust centreline [deg BTDC].
    Returns:
        Lobe separation [camshaft deg].
    Raises:
        GeometryError: An angle beyond 180 either way.
    Notes:
        Half the crank degrees between the centrelines, so their mean. Common practice.
    Examples:
        >>> lobe_separation(111.5, 105.0)
        108.25
    """
    return 0.5 * (require("centreline", intake_centreline) + require("centreline", exhaust_centreline))


def overlap(opening_btdc: Numbers, closing_atdc: Numbers) -> Numbers:
    """Crank degrees for which both valves are open.

    Args:
        opening_btdc: Intake opens [deg BTDC].
        closing_atdc: Exhaust closes [deg ATDC].
    Returns:
        Overlap [deg]; negative: both are shut for so long.
    Raises:
        GeometryError: An angle beyond 180 either way.
    Notes:
        The sum of the two. Common practice.
    Examples:
        >>> overlap(28.0, 45.0)
        73.0
    """
    return require("opening_btdc", opening_btdc) + require("closing_atdc", closing_atdc)


@dataclass(frozen=True)
class CamEvents:
    """The four events of a cylinder, all read at the same lift.

    Args:
        intake_opening: Intake opens [deg BTDC].
        intake_closing: Intake closes [deg ABDC].
        exhaust_opening: Exhaust opens [deg BBDC].
        exhaust_closing: Exhaust closes [deg ATDC].
    Raises:
        GeometryError: As ``duration``.
    Examples:
        >>> CamEvents(28.0, 71.0, 75.0, 45.0).lobe_separation
        108.25
    """

    intake_opening: float
    intake_closing: float
    exhaust_opening: float
    exhaust_closing: float

    def __post_init__(self) -> None:
        scalar("opening_btdc", self.intake_opening)
        scalar("closing_abdc", self.intake_closing)
        scalar("opening_bbdc", self.exhaust_opening)
        scalar("closing_atdc", self.exhaust_closing)
        duration(self.intake_opening, self.intake_closing)
        duration(self.exhaust_opening, self.exhaust_closing)

    @property
    def intake_duration(self) -> float:
        """Intake duration [deg]."""
        return float(duration(self.intake_opening, self.intake_closing))

    @property
    def exhaust_duration(self) -> float:
        """Exhaust duration [deg]."""
        return float(duration(self.exhaust_opening, self.exhaust_closing))

    @property
    def intake_centreline(self) -> float:
        """Intake centreline [deg ATDC]."""
        return float(intake_centreline(self.intake_opening, self.intake_closing))

    @property
    def exhaust_centreline(self) -> float:
        """Exhaust centreline [deg BTDC]."""
        return float(exhaust_centreline(self.exhaust_opening, self.exhaust_closing))

    @property
    def lobe_separation(self) -> float:
        """Lobe separation [camshaft deg]."""
        return float(lobe_separation(self.intake_centreline, self.exhaust_centreline))

    @property
    def overlap(self) -> float:
        """Overlap [deg]; negative: both valves are shut for so long."""
        return float(overlap(self.intake_opening, self.exhaust_closing))


def card_disagreements(
    events: CamEvents,
    *,
    intake_duration: float | None = None,
    exhaust_duration: float | None = None,
    intake_centreline: float | None = None,
    exhaust_centreline: float | None = None,
    lobe_separation: float | None = None,
    overlap: float | None = None,
    rounding: float = CARD_ROUNDING,
) -> list[str]:
    """Where a card's printed numbers do not follow from its own events.

    Args:
        events: The card's four events [deg].
        intake_duration: As printed [deg]; left out: not on the card, and so for all below.
        exhaust_duration: As printed [deg].
        intake_centreline: As printed [deg ATDC].
        exhaust_centreline: As printed [deg BTDC].
        lobe_separation: As printed [camshaft deg].
        overlap: As printed [deg].
        rounding: Difference to pass over [deg], zero or more.
    Returns:
        One sentence for each number that disagrees, none for a card that agrees.
    Raises:
        GeometryError: A number that is not finite.
    Notes:
        Every number must be for the same lift: a duration off the seat beside events at 0.050 in will
        disagree, and rightly. On a lobe with unequal flanks the printed centreline may be the place of
        most lift and then differs as well. Derived here.
    Examples:
        >>> card_disagreements(CamEvents(28.0, 71.0, 75.0, 45.0), intake_duration=279.0, overlap=63.0)
        ['overlap: the card says 63°, its events give 73°']
    """
    allowed = scalar("tolerance", rounding)
    printed = {
        "intake duration": (intake_duration, events.intake_duration),
        "exhaust duration": (exhaust_duration, events.exhaust_duration),
        "intake centreline": (intake_centreline, events.intake_centreline),
        "exhaust centreline": (exhaust_centreline, events.exhaust_centreline),
        "lobe separation": (lobe_separation, events.lobe_separation),
        "overlap": (overlap, events.overlap),
    }
    return [
        f"{words}: the card says {says:g}°, its events give {gives:g}°"
        for words, (says, gives) in printed.items()
        if says is not None and abs(scalar("card_figure", says) - gives) > allowed + _ROUNDING
    ]
