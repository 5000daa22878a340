"""The shapes that a head in plan is drawn from: places as they are entered, and what is drawn of them."""

from dataclasses import dataclass
from typing import NamedTuple


class Point(NamedTuple):
    """A place on the drawing."""

    x: float
    y: float


class Box(NamedTuple):
    """A rectangle on the drawing, by its upper left corner."""

    x: float
    y: float
    w: float
    h: float

    @property
    def centre(self) -> Point:
        """The middle of the box."""
        return Point(round(self.x + self.w / 2, 1), round(self.y + self.h / 2, 1))

    def overlaps(self, other: "Box", between: float = 0.0) -> bool:
        """Whether two boxes come closer than `between`."""
        return (
            self.x < other.x + other.w + between
            and other.x < self.x + self.w + between
            and self.y < other.y + other.h + between
            and other.y < self.y + self.h + between
        )


@dataclass(frozen=True)
class StandPlace:
    """A stand as it is on the head: its pads as (letter, along, across) [in]."""

    key: object
    address: str
    label: str
    bolt_diameter: float
    pads: tuple[tuple[str, float, float], ...]


@dataclass(frozen=True)
class ValvePlace:
    """A valve as it is on the head; `stand` is the key of the stand that carries its rocker. Lengths [in]."""

    stand: object
    address: str
    label: str
    cylinder: int
    along: float
    across: float
    tip_diameter: float


@dataclass(frozen=True)
class Target:
    """A balloon to touch, with the leader to the true place."""

    address: str
    label: str
    kind: str
    box: Box
    leader: tuple[Point, Point]


@dataclass(frozen=True)
class DrawnPad:
    """A pad with its bolt."""

    letter: str
    centre: Point
    radius: float
    bolt_radius: float


@dataclass(frozen=True)
class DrawnStand:
    """A stand as a bar on its pads, with the shaft through it."""

    address: str
    outline: tuple[Point, ...]
    shaft: tuple[Point, Point]
    pads: tuple[DrawnPad, ...]

    @property
    def points(self) -> str:
        """The outline as SVG wants it."""
        return " ".join(f"{point.x},{point.y}" for point in self.outline)


@dataclass(frozen=True)
class DrawnValve:
    """A valve tip, and the rocker from the shaft to it."""

    address: str
    centre: Point
    radius: float
    rocker: tuple[Point, Point]


@dataclass(frozen=True)
class DrawnCylinder:
    """A light guide circle where a cylinder lies under the head."""

    number: int
    centre: Point
    radius: float
