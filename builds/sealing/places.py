"""Where the two signature blocks stand on the last page of a sealed sheet. Millimetres from its upper left corner."""

from dataclasses import dataclass

from builds.models import Role
from builds.printing.paper import Paper

SIDE, TOP, HEIGHT, BETWEEN = 12.0, 22.0, 34.0, 6.0
POINTS = 72 / 25.4


@dataclass(frozen=True)
class Place:
    """A rectangle on the page."""

    left: float
    top: float
    width: float
    height: float

    def right_half(self) -> "Place":
        """The right half of a block: what the PDF's own signature says; the left is what was drawn."""
        half = self.width / 2
        return Place(self.left + half, self.top, half, self.height)

    def in_points(self, paper: Paper) -> tuple[int, int, int, int]:
        """As PDF counts: points from the lower left corner."""
        left, right = self.left * POINTS, (self.left + self.width) * POINTS
        top, bottom = (paper.height - self.top) * POINTS, (paper.height - self.top - self.height) * POINTS
        return round(left), round(bottom), round(right), round(top)


def block(paper: Paper, role: str) -> Place:
    """The block of a role: who measured on the left, who checked on the right."""
    width = (paper.width - 2 * SIDE - BETWEEN) / 2
    left = SIDE if role == Role.MEASURED else SIDE + width + BETWEEN
    return Place(left, TOP, width, HEIGHT)
