"""What a drawing is made from, and what comes back."""

from dataclasses import dataclass

from builds.measures import show
from valvetrain.geometry.arm import RockerArm
from valvetrain.geometry.height import target_height, top_of_shaft
from valvetrain.geometry.travel import sweep
from valvetrain.geometry.units import inch_to_mm


@dataclass(frozen=True)
class ValveNumbers:
    """One valve and its rocker, as drawn. Lengths in inches whatever `unit` they are lettered in.

    `height_error` is how high the shaft stands now (negative: low); None when no height is read. `when` says at what time
    that was, where it is not now.
    """

    arm_length: float
    tip_radius: float
    shaft_radius: float
    lift: float
    tip_diameter: float
    square_at: float = 0.5
    height_error: float | None = None
    unit: str = "in"
    address: str = ""
    when: str = "now"

    @property
    def arm(self) -> RockerArm:
        """The rocker as the geometry service takes it."""
        return RockerArm(self.arm_length, self.tip_radius, self.shaft_radius)

    @property
    def shaft_height(self) -> float:
        """Shaft centre above the closed tip, at the right height."""
        return float(target_height(self.arm, self.lift, self.square_at))

    @property
    def top(self) -> float:
        """Top of the shaft above the closed tip, at the right height."""
        return float(top_of_shaft(self.arm, self.lift, self.square_at))

    @property
    def sweep(self) -> float:
        """Width of the mark at the right height."""
        return float(sweep(self.arm, self.lift, square_at=self.square_at))

    @property
    def shaft_offset(self) -> float:
        """Shaft to valve axis, so that the mark is centred at the right height.

        The contact runs furthest, L from the shaft, where the arm is square, and a sweep less at the far end.
        """
        return self.arm_length - self.sweep / 2

    @property
    def is_off(self) -> bool:
        """Whether the shaft stands off its height by anything that can be shown."""
        return self.height_error is not None and abs(self.height_error) >= 5e-5

    @property
    def place(self) -> str:
        """The address at the head of a sentence."""
        return f"{self.address}: " if self.address else ""

    def in_unit(self, inches: float) -> float:
        """A length in the unit it is lettered in, unrounded."""
        return float(inch_to_mm(inches)) if self.unit == "mm" else inches

    def said(self, inches: float, *, sign: bool = False) -> str:
        """A length as it is lettered, without its unit."""
        return show(inches, self.unit, sign=sign)

    def told(self, inches: float) -> str:
        """A length with its unit, for a sentence."""
        return show(inches, self.unit, with_unit=True)

    @property
    def error_words(self) -> str:
        """`0.0120 high`, as it is lettered; nothing when the height is right or not read."""
        if not self.is_off or self.height_error is None:
            return ""
        return f"{self.said(abs(self.height_error))} {'high' if self.height_error > 0 else 'low'}"


@dataclass(frozen=True)
class Drawing:
    """A finished figure: its SVG, its title, and the sentence that says the same in words."""

    svg: str
    title: str
    words: str


@dataclass(frozen=True)
class ChartTable:
    """The figures behind a chart, as they are read out: what a column is, then the rows, the first cell its name."""

    caption: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
