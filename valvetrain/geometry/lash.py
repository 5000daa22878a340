"""The order in which lash is set on an even-fire four-stroke, and lash against the card.

One cylinder fires after another at equal steps of two crank turns.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import pairwise
from types import MappingProxyType
from typing import Literal

from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.firing import checked_firing_order, companions
from valvetrain.geometry.guard import Numbers, plain, require, scalar

# Two crank turns: one working cycle of a four-stroke.
CYCLE = 720.0
# Rounding only, so that a lash at exactly the limit is within it.
_ROUNDING = 1e-9

# Growth per degree [1/°C]: Callister, Materials Science and Engineering, table B.6.
EXPANSION: Mapping[str, float] = MappingProxyType(
    {
        "steel": 12.3e-6,
        "grey iron": 11.4e-6,
        "cast aluminium": 21.5e-6,
        "wrought aluminium": 23.6e-6,
        "titanium": 8.6e-6,
    }
)

Kind = Literal["intake", "exhaust"]


@dataclass(frozen=True)
class LashStep:
    """One step of setting lash: where to turn the engine, and what to set there.

    Args:
        cylinder: Cylinder to watch [-].
        watch: Which of its valves to watch [-], intake or exhaust.
        sets: Which valve to set there [-], of the cylinder in ``sets_on``; "both": both.
        sets_on: Cylinder to set [-].
        turn_to: Where to turn the engine, in words [-].
        crank: Crank angle of the step after the first cylinder's firing top centre [deg], 0 up to 720;
            None: not worked out.
    """

    cylinder: int
    watch: Kind
    sets: Literal["intake", "exhaust", "both"]
    sets_on: int
    turn_to: str
    crank: float | None = None

    @property
    def words(self) -> str:
        """The whole step as one line for the bench [-]."""
        return self.to("set")

    def to(self, act: str) -> str:
        """The whole step as one line for the bench, for whatever is done there.

        Args:
            act: What is done to the lash, as a verb [-]: set, read.
        Returns:
            The line.
        """
        what = "both valves" if self.sets == "both" else self.sets
        return f"Turn to where {self.turn_to}: {act} {self.sets_on} {what}."


@dataclass(frozen=True)
class LashVerdict:
    """A lash reading against the card.

    Args:
        difference: Reading less card [in]; positive: loose.
        outcome: "in", "loose" or "tight" [-].
    """

    difference: float
    outcome: Literal["in", "loose", "tight"]

    @property
    def within(self) -> bool:
        """Whether the reading is within the limit [-]."""
        return self.outcome == "in"


def lash_order(firing_order: Iterable[int]) -> tuple[LashStep, ...]:
    """Lash cylinder by cylinder in firing order, each by its own valves.

    Args:
        firing_order: Cylinder numbers in the order in which they fire [-].
    Returns:
        Two steps for each cylinder: its exhaust just opening, then its intake closing.
    Raises:
        GeometryError: Not a firing order.
    Notes:
        With the exhaust just opening the intake's lifter is on its base circle, and with the intake
        just closing the exhaust's is. Common practice, no source.
    Examples:
        >>> [step.words for step in lash_order([1, 2])][0]
        'Turn to where 1 exhaust just starts to open: set 1 intake.'
    """
    return tuple(
        step
        for cylinder in checked_firing_order(firing_order)
        for step in (_exhaust_opening(cylinder), _intake_closing(cylinder))
    )


def lash_round(
    firing_order: Iterable[int], *, exhaust_opening: float = 70.0, intake_closing: float = 70.0
) -> tuple[LashStep, ...]:
    """The same steps in the order in which the turning engine comes to them.

    Args:
        firing_order: Cylinder numbers in the order in which they fire [-].
        exhaust_opening: Exhaust opens [deg BBDC], -180 to 180, from the card.
        intake_closing: Intake closes [deg ABDC], -180 to 180, from the card.
    Returns:
        All steps within two crank turns from the first cylinder's firing top centre, each with its angle.
    Raises:
        GeometryError: Not a firing order, or an angle out of range.
    Notes:
        A cylinder's exhaust opens 180° − opening after it fires and its intake closes 540° + closing after;
        cylinders fire 720°/count apart. Even-fire four-strokes. Derived here.
    Examples:
        >>> [(step.cylinder, step.sets, step.crank) for step in lash_round([1, 3, 4, 2])][:3]
        [(3, 'exhaust', 70.0), (1, 'intake', 110.0), (4, 'exhaust', 250.0)]
    """
    order = checked_firing_order(firing_order)
    opens = 180.0 - scalar("opening_bbdc", exhaust_opening)
    closes = 540.0 + scalar("closing_abdc", intake_closing)
    steps = []
    for place, cylinder in enumerate(order):
        fires = place * CYCLE / len(order)
        steps.append(_exhaust_opening(cylinder, crank=(fires + opens) % CYCLE))
        steps.append(_intake_closing(cylinder, crank=(fires + closes) % CYCLE))
    return tuple(sorted(steps, key=lambda step: step.crank or 0.0))


def overlap_order(firing_order: Iterable[int]) -> tuple[LashStep, ...]:
    """Lash by companions: with one on overlap, both valves of the other are shut and can be set.

    Args:
        firing_order: Cylinder numbers in the order in which they fire [-], an even count.
    Returns:
        One step for each cylinder, in firing order.
    Raises:
        GeometryError: As ``companions``.
    Notes:
        For short cams: on a long one both lifters may not be on their base circles at once, so set by each
        cylinder's own valves there. TM 5-6115-400-12: with no. 6 exhaust nearly closed and intake
        starting to open, adjust no. 1.
    Examples:
        >>> from valvetrain.geometry.firing import parse_firing_order
        >>> overlap_order(parse_firing_order("1-5-3-6-2-4"))[0].words
        'Turn to where 6 exhaust is nearly closed and its intake starts to open: set 1 both valves.'
    """
    order = checked_firing_order(firing_order)
    other = {one: two for pair in companions(order) for one, two in (pair, pair[::-1])}
    return tuple(
        LashStep(
            cylinder=other[cylinder],
            watch="exhaust",
            sets="both",
            sets_on=cylinder,
            turn_to=f"{other[cylinder]} exhaust is nearly closed and its intake starts to open",
        )
        for cylinder in order
    )


def turning_between(steps: Iterable[LashStep]) -> tuple[float, ...]:
    """How far to turn the engine from each step to the next.

    Args:
        steps: Steps that carry their crank angle, in order [deg].
    Returns:
        Crank degrees from each step to the next, one fewer than steps.
    Raises:
        GeometryError: A step without an angle.
    Notes:
        Forward only; a four-stroke is turned the way it runs. Derived here.
    Examples:
        >>> turning_between(lash_round([1, 3, 4, 2]))[:2]
        (40.0, 140.0)
    """
    angles = []
    for step in steps:
        if step.crank is None:
            raise GeometryError(
                f"the step of cylinder {step.cylinder} carries no crank angle",
                where="steps",
                right="take the steps from a lash round",
            )
        angles.append(step.crank)
    return tuple((later - earlier) % CYCLE for earlier, later in pairwise(angles))


def lash_verdict(reading: float, card: float, *, limit: float) -> LashVerdict:
    """A lash reading against the card.

    Args:
        reading: Lash as read [in], zero or more.
        card: Lash on the cam card [in], zero or more.
        limit: Allowed difference either way [in], zero or more.
    Returns:
        The difference and "in", "loose" or "tight".
    Raises:
        GeometryError: A number out of range.
    Notes:
        Hot against hot, cold against cold. Common practice.
    Examples:
        >>> lash_verdict(0.019, 0.016, limit=0.002)
        LashVerdict(difference=0.003, outcome='loose')
    """
    difference = scalar("lash_reading", reading) - scalar("card_lash", card)
    if abs(difference) <= scalar("tolerance", limit) + _ROUNDING:
        return LashVerdict(difference, "in")
    return LashVerdict(difference, "loose" if difference > 0.0 else "tight")


def growth(part_length: Numbers, material: str, *, warmer_by: Numbers) -> Numbers:
    """How much a part grows as it warms.

    Args:
        part_length: Length of the part [in], zero or more.
        material: What it is made of [-]: a key of ``EXPANSION``.
        warmer_by: Change of temperature [°C]; negative: colder.
    Returns:
        Change of length [in]; negative: shorter.
    Raises:
        GeometryError: A number out of range or an unknown material.
    Notes:
        Length × coefficient × change of temperature. Lash grows by what head, block and stand grow more than
        valve and pushrod do. Coefficients near room temperature: Callister, table B.6. For a sense of size
        only: the engine is not all at one temperature, so hot lash is measured, never worked out.
    Examples:
        >>> growth(5.0, "steel", warmer_by=80.0)
        0.00492
    """
    if material not in EXPANSION:
        raise GeometryError(
            f"no growth is known for {material!r}",
            where="material",
            right="choose one of " + ", ".join(sorted(EXPANSION)),
        )
    return plain(require("part_length", part_length) * EXPANSION[material] * require("warmer_by", warmer_by))


def _exhaust_opening(cylinder: int, *, crank: float | None = None) -> LashStep:
    return LashStep(
        cylinder, "exhaust", "intake", cylinder, f"{cylinder} exhaust just starts to open", crank=crank
    )


def _intake_closing(cylinder: int, *, crank: float | None = None) -> LashStep:
    return LashStep(
        cylinder, "intake", "exhaust", cylinder, f"{cylinder} intake is just about to close", crank=crank
    )
