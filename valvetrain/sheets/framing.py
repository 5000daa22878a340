"""How a photo stands in its frame on paper: which part of it, how large, and at how many dots."""

from dataclasses import dataclass

DOTS = 250  # to the inch, at the size that it is printed
MM = 25.4

Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class Framed:
    """A part of a picture [px: left, top, right, bottom] and its size on paper [mm]."""

    box: Box
    width: float
    height: float

    @property
    def long_side(self) -> int:
        """Pixels along its longer side that are worth printing; never more than there are."""
        across, down = self.box[2] - self.box[0], self.box[3] - self.box[1]
        return max(1, min(round(max(self.width, self.height) / MM * DOTS), round(max(across, down))))

    @property
    def dots_per_mm(self) -> float:
        """Pixels of the picture to a millimetre of paper."""
        return (self.box[2] - self.box[0]) / self.width


def framed(size: tuple[int, int], frame: tuple[float, float], box: Box | None = None) -> Framed:
    """Fit a picture of a size [px], or the part of it in a box, into a frame [mm].

    >>> whole = framed((4000, 3000), (60, 45))
    >>> whole.width, whole.height, whole.long_side
    (60.0, 45.0, 591)
    >>> part = framed((4000, 3000), (60, 45), (1800, 1300, 2200, 1700))
    >>> part.width, part.height, part.long_side
    (45.0, 45.0, 400)
    """
    part = box or (0.0, 0.0, float(size[0]), float(size[1]))
    across, down = part[2] - part[0], part[3] - part[1]
    scale = min(frame[0] / across, frame[1] / down)
    return Framed(part, across * scale, down * scale)
