"""What was measured on a picture, drawn over it: rim, centre lines, both edges, and the width dimensioned.

Drawn from what the readings keep and from nothing else, so that a picture is always shown with the lines it was measured
by. Blue lines in a white casing: seen on dark and on light, in colour and in black and white.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from math import cos, hypot, pi, radians, sin, sqrt
from typing import Any, Protocol

from builds.measures import show

DYE, CASING = "#22408f", "#ffffff"
Point = tuple[float, float]
Box = tuple[float, float, float, float]
# How far lines run beyond the rim, in tip radii: centre lines, extension lines, the dimension.
AXIS_ENDS, EXTENSION_ENDS, DIMENSION_AT = 1.15, 1.42, 1.34
# What is shown around a tip, in tip radii.
AROUND_TIP = 1.75
# The width of a figure, of the size of the letters.
DIGIT_WIDE = 0.6


@dataclass(frozen=True)
class Lettered:
    """Where words stand: the left end of their base line, and how long they are [px]."""

    x: float
    y: float
    long: float


class Picture(Protocol):
    """Size of an upright picture [px]."""

    @property
    def width(self) -> int:
        """Across."""

    @property
    def height(self) -> int:
        """Down."""


def tip_box(picture: Picture, mark: Mapping[str, Any]) -> Box:
    """The part of a picture [px] that shows the tip with what is drawn around it: left, top, right, bottom."""
    rim = mark["rim"]
    x, y = rim["centre"]
    reach = rim["semi_major"] * AROUND_TIP
    return (
        max(x - reach, 0.0),
        max(y - reach, 0.0),
        min(x + reach, picture.width),
        min(y + reach, picture.height),
    )


def overlay_svg(
    picture: Picture,
    mark: Mapping[str, Any],
    *,
    box: Box | None = None,
    unit: str = "in",
    title: str = "The mark as measured",
    lettering: float | None = None,
) -> str:
    """The lines over a picture as an SVG of the picture's own proportions.

    `mark` is what a reading taken from a photo keeps in its context; `box` the part of the picture that is shown (all of
    it when None); `unit` that of the dimension; `lettering` the size of its letters [px of the picture], as suits the
    lines when None. Nothing is drawn where nothing was kept.
    """
    shown = box or (0.0, 0.0, float(picture.width), float(picture.height))
    left, top, right, bottom = shown
    opening = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{left:.1f} {top:.1f} {right - left:.1f} {bottom - top:.1f}" '
        f'role="img" fill="none" stroke-linecap="butt" stroke-linejoin="round"><title>{escape(title)}</title>'
    )
    if not mark.get("rim") or not mark.get("frame"):
        return f"{opening}</svg>"
    drawing = _Lines(mark, shown, lettering)
    drawing.rim()
    drawing.centre_lines()
    drawing.edges()
    drawing.dimension(show(mark["results"]["width"], unit, with_unit=True))
    return f"{opening}<desc>{escape(overlay_words(mark, unit))}</desc>{drawing.svg()}</svg>"


def overlay_words(mark: Mapping[str, Any], unit: str = "in") -> str:
    """What the lines show, for who does not see them."""
    results = mark["results"]
    inner, outer, width = (show(results[key], unit, with_unit=True) for key in ("inner", "outer", "width"))
    return (
        f"Inner edge at {inner}, outer edge at {outer} from the tip’s centre, outboard plus; width {width}."
    )


class _Lines:
    """Strokes in the picture's pixels, as thick as suits what is shown of it."""

    def __init__(self, mark: Mapping[str, Any], shown: Box, lettering: float | None) -> None:
        self.mark = mark
        self.left, self.right = shown[0], shown[2]
        across = max(shown[2] - shown[0], shown[3] - shown[1])
        self.unit = min(across / 640, mark["rim"]["semi_major"] / 110)
        self.letters = 17 * self.unit if lettering is None else lettering
        self.radius = float(mark["frame"]["radius"])
        self.traces: list[tuple[str, float, str]] = []
        self.words: list[str] = []

    def at(self, point: Sequence[float]) -> Point:
        """A place on the tip [in], in the picture [px]."""
        frame = self.mark["frame"]
        (ox, oy), (xx, xy), (yx, yy) = frame["origin"], frame["x"], frame["y"]
        # What lies nearer to the camera is seen larger. Marks kept before this was asked have none of it.
        p, q = frame.get("nearer", (0.0, 0.0))
        x, y = (place / (1 + p * point[0] + q * point[1]) for place in point)
        return ox + x * xx + y * yx, oy + x * xy + y * yy

    def stroke(self, points: Iterable[Point], width: float, dash: str = "", *, closed: bool = False) -> None:
        """A line through points of the picture."""
        path = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points) + ("Z" if closed else "")
        self.traces.append((path, width * self.unit, dash))

    def rim(self) -> None:
        """The ellipse that was fitted to the rim."""
        rim = self.mark["rim"]
        (x, y), major, minor = rim["centre"], rim["semi_major"], rim["semi_minor"]
        along, down = cos(radians(rim["turned"])), sin(radians(rim["turned"]))
        turns = [2 * pi * number / 90 for number in range(90)]
        on = [(major * cos(turn), minor * sin(turn)) for turn in turns]
        self.stroke([(x + p * along - q * down, y + p * down + q * along) for p, q in on], 1.6, closed=True)

    def centre_lines(self) -> None:
        """The tip's axes, as chain lines."""
        reach = self.radius * AXIS_ENDS
        unit = self.unit
        for end in ((reach, 0.0), (0.0, reach)):
            line = [self.at((-end[0], -end[1])), self.at(end)]
            self.stroke(line, 1.0, f"{12 * unit:.1f} {3 * unit:.1f} {3 * unit:.1f} {3 * unit:.1f}")

    def edges(self) -> None:
        """Both edges of the mark, from rim to rim."""
        for name in ("inner", "outer"):
            self.stroke([self.at(end) for end in self.mark["frame"]["edges"][name]], 2.4)

    def dimension(self, words: str) -> None:
        """The width, beyond the rim on the side where the picture has room above it."""
        edges = self.mark["frame"]["edges"]
        # Toward the front or the rear, whichever is higher up in the picture.
        side = 1.0 if self.mark["frame"]["y"][1] <= 0 else -1.0
        across = [float(self.mark["results"][name]) for name in ("inner", "outer")]
        for name, x in zip(("inner", "outer"), across, strict=True):
            nearest = max(edges[name], key=lambda end: end[1] * side)
            self.stroke(
                [
                    self.at((x, nearest[1] + side * self.radius * 0.06)),
                    self.at((x, side * self.radius * EXTENSION_ENDS)),
                ],
                0.9,
            )
        level = side * self.radius * DIMENSION_AT
        tail = self.radius * 0.35
        for x, way in ((min(across), -1.0), (max(across), 1.0)):
            point = self.at((x, level))
            self.stroke([point, self.at((x + way * tail, level))], 0.9)
            self._arrow(point, self.at((x + way * tail, level)))
        places = [
            self._place(self.at((x + way * tail * 1.1, level)), self.at((x + way * tail * 2.1, level)), words)
            for x, way in ((max(across), 1.0), (min(across), -1.0))
        ]
        # Outboard, unless the words would run out of the picture there and not on the other side.
        self._letter(min(places, key=self._beside), words)

    def _arrow(self, tip: Point, toward: Point) -> None:
        """An arrow head whose point touches an extension line."""
        length = hypot(toward[0] - tip[0], toward[1] - tip[1])
        if not length:
            return
        ux, uy = (toward[0] - tip[0]) / length, (toward[1] - tip[1]) / length
        long, half = 9 * self.unit, 3 * self.unit
        back = (tip[0] + ux * long, tip[1] + uy * long)
        corners = [
            tip,
            (back[0] - uy * half, back[1] + ux * half),
            (back[0] + uy * half, back[1] - ux * half),
        ]
        path = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in corners) + "Z"
        self.words.append(
            f'<path d="{path}" fill="{DYE}" stroke="{CASING}" stroke-width="{1.2 * self.unit:.2f}"/>'
            f'<path d="{path}" fill="{DYE}"/>'
        )

    def _place(self, at: Point, further: Point, words: str) -> Lettered:
        """Where words stand beside the dimension: level, on the side to which it runs on."""
        long = len(words) * DIGIT_WIDE * self.letters
        upright = abs(further[1] - at[1]) > abs(further[0] - at[0]) * sqrt(3)
        if upright:
            below = 0.35 * self.letters + (self.letters if further[1] > at[1] else -self.letters) * 0.65
            return Lettered(at[0] - long / 2, at[1] + below, long)
        start = at[0] if further[0] > at[0] + 1e-9 else at[0] - long
        return Lettered(start, at[1] + 0.35 * self.letters, long)

    def _beside(self, place: Lettered) -> float:
        """How far words run out of what is shown."""
        return max(self.left - place.x, 0.0) + max(place.x + place.long - self.right, 0.0)

    def _letter(self, place: Lettered, words: str) -> None:
        """Words in a white casing; what would run out of the picture is drawn in."""
        x = max(min(place.x, self.right - place.long), self.left)
        said = (
            f'x="{x + place.long / 2:.1f}" y="{place.y:.1f}" text-anchor="middle" '
            f'font-family="Plex, sans-serif" font-weight="600" font-size="{self.letters:.1f}"'
        )
        casing = f'stroke="{CASING}" stroke-width="{self.letters * 4 / 17:.1f}" stroke-linejoin="round"'
        self.words.append(f"<text {said} {casing}>{escape(words)}</text>")
        self.words.append(f'<text {said} fill="{DYE}">{escape(words)}</text>')

    def svg(self) -> str:
        """All casings first, so that no white cuts a line that was drawn before; then the lines, then the words."""
        casings = "".join(
            f'<path d="{path}" stroke="{CASING}" stroke-width="{width + 2.4 * self.unit:.2f}"/>'
            for path, width, _dash in self.traces
        )
        lines = "".join(
            f'<path d="{path}" stroke="{DYE}" stroke-width="{width:.2f}"{_dashed(dash)}/>'
            for path, width, dash in self.traces
        )
        return f"{casings}{lines}{''.join(self.words)}"


def _dashed(dash: str) -> str:
    return f' stroke-dasharray="{dash}"' if dash else ""
