"""One valve at one time, when the engine left or as found: height, lift, mark and spring that it really had.

Makes no query. Lengths in inches.
"""

from dataclasses import dataclass
from functools import cached_property

from valvetrain.as_found_springs import Figure, SpringHad
from valvetrain.geometry.arm import RockerArm
from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.height import square_at_for_height
from valvetrain.geometry.travel import lift_with_height_error
from valvetrain.marks import MarkState
from valvetrain.valvestate import ValveState


@dataclass
class Moment:
    """What one valve really had. A figure that cannot be worked out is None, and `why_not` says why in a sentence."""

    state: ValveState
    lift: Figure
    mark: MarkState | None
    spring: SpringHad
    problem: str = ""

    @property
    def height_error(self) -> float | None:
        """How high the shaft stood for the lift that it had; negative: low."""
        return self.state.height_error

    @cached_property
    def expanded(self) -> float | None:
        """U of the height error."""
        return self.state.expanded

    @property
    def verdict(self) -> str:
        """in, undecided, out, or nothing, of the height."""
        return self.state.verdict

    @property
    def top(self) -> float | None:
        """Top of the shaft above the closed tip."""
        return self.state.top_now

    @cached_property
    def square_at(self) -> float | None:
        """Part of the lift at which the arm really stood square; outside 0 to 1: nowhere in it."""
        rocker = self._rocker
        if rocker is None or self.top is None:
            return None
        arm, lift = rocker
        try:
            return float(square_at_for_height(arm, lift, self.top - arm.shaft_radius))
        except GeometryError:
            return None

    @cached_property
    def lift_lost(self) -> float | None:
        """Lift that the height error takes from the same swing of the rocker; negative: it gives."""
        rocker, error = self._rocker, self.height_error
        if rocker is None or error is None:
            return None
        arm, lift = rocker
        try:
            return lift - float(
                lift_with_height_error(arm, lift, error, square_at=self.state.inputs.square_at)
            )
        except GeometryError:
            return None

    @property
    def sweep(self) -> float | None:
        """Width of the mark to expect at this height."""
        return self.state.sweep_now

    @property
    def mark_width(self) -> float | None:
        """Width of the mark as it was read."""
        return self.mark.width if self.mark is not None and self.mark.possible else None

    @property
    def lift_read(self) -> bool:
        """Whether its lift is of that time, and not taken over from when the engine left."""
        return self.lift.value is not None and not self.lift.borrowed

    @property
    def spring_told(self) -> bool:
        """Whether lift or spring were read at that time: else its loads would only be those it left with."""
        return self.lift_read or self.spring.was_read

    @property
    def why_not(self) -> str:
        """Why there is no height to tell of."""
        if self.height_error is not None and self.square_at is None:
            return f"{self.state.address}: the arm cannot reach the valve from the height that was read."
        return "" if self.height_error is not None else self.problem

    @property
    def _rocker(self) -> tuple[RockerArm, float] | None:
        inputs = self.state.inputs
        return (
            None
            if inputs.arm is None or inputs.lift is None or self.state.problem
            else (inputs.arm, inputs.lift)
        )
