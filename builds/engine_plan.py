"""The engine as a plain drawing from its own numbers: cylinders in order, main bearings, and the whole of it to tap."""

from collections.abc import Sequence
from dataclasses import dataclass

from builds.models import Build, Engine
from builds.places import PlacePicker

WIDTH = 1000  # drawing units
MARGIN = 16
TARGET = 80  # at 740 px for 1000 units this is 59 px
BETWEEN = 18
IN_A_ROW = 8
ROW = TARGET + 26
BAR = 64


@dataclass(frozen=True)
class Spot:
    """One place to tap, by the upper left corner of its box."""

    address: str
    label: str
    word: str
    x: int
    y: int
    w: int
    h: int

    @property
    def across(self) -> int:
        """The middle of the box, across."""
        return self.x + self.w // 2

    @property
    def down(self) -> int:
        """The middle of the box, down."""
        return self.y + self.h // 2

    @property
    def radius(self) -> int:
        """Of the circle that fills the box, for a cylinder."""
        return min(self.w, self.h) // 2


@dataclass(frozen=True)
class EnginePlan:
    """An engine laid out for drawing; `bores` are round, `mains` square, `whole` is the engine itself."""

    width: int
    height: int
    bores: tuple[Spot, ...]
    mains: tuple[Spot, ...]
    whole: Spot
    crank: tuple[int, ...]

    @property
    def block(self) -> tuple[int, int, int, int]:
        """The outline about cylinders and mains: x, y, width, height."""
        return 6, 6, self.width - 12, self.whole.y - 20


def engine_plan(engine: Engine) -> EnginePlan:
    """Lay out an engine: its cylinders in order of their numbers, its mains below them on the crank's line."""
    bores, y = _rows(range(1, engine.cylinders + 1), "cyl", "cylinder", MARGIN + 12)
    mains, y = _rows(range(1, engine.mains + 1), "main", "main bearing", y + 6)
    whole = Spot(
        "engine", "the whole engine", "engine: the whole of it", MARGIN, y + 14, WIDTH - 2 * MARGIN, BAR + 12
    )
    crank = tuple(sorted({spot.down for spot in mains}))
    return EnginePlan(WIDTH, whole.y + whole.h + MARGIN, bores, mains, whole, crank)


def _rows(numbers: Sequence[int], prefix: str, label: str, y: int) -> tuple[tuple[Spot, ...], int]:
    """Boxes in as many rows as they need, each row in the middle; and where the next thing may stand."""
    count = len(numbers)
    rows = max(1, -(-count // IN_A_ROW))
    each = -(-count // rows)
    spots = []
    for start in range(0, count, each):
        row = numbers[start : start + each]
        pitch = min((WIDTH - 2 * MARGIN - 24) // len(row), TARGET + 3 * BETWEEN)
        left = (WIDTH - pitch * len(row)) // 2
        spots += [
            Spot(
                f"{prefix}{number}", f"{label} {number}", f"{prefix}{number}",
                left + place * pitch + (pitch - TARGET) // 2, y, TARGET, TARGET,
            )
            for place, number in enumerate(row)
        ]  # fmt: skip
        y += ROW
    return tuple(spots), y


def engine_picker(job: Build) -> list[PlacePicker]:
    """The drawing of a job's engine, to tap places on."""
    return [
        PlacePicker(
            "Engine: cylinders and mains", "builds/findings/_engine_plan.html", engine_plan(job.engine)
        )
    ]
