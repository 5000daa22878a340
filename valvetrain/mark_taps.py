"""What a tablet sends of a tapped picture: read into points and choices, with a sentence for whatever does not fit.

Coordinates are pixels of the upright picture, x to the right and y down.
"""

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from builds.measures import Measure, MeasureError, parse
from builds.recording import EntryRefused

RIM, INNER, OUTER = "rim", "inner", "outer"
GROUPS = {RIM: "rim", INNER: "inner edge", OUTER: "outer edge"}
ENOUGH = {RIM: 5, INNER: 2, OUTER: 2}
MOST_POINTS = 60
# Three full groups with long decimals are a third of this.
LONGEST_TEXT = 20_000
# A point this far beyond the picture's edge [px] is taken as on it: fingers and rounding.
BESIDE = 2.0
# A rim outside this [in] is no valve's tip and no lash cap.
NARROWEST_RIM, WIDEST_RIM = Decimal("0.1"), Decimal("1.5")

WAYS: dict[str, tuple[float, float]] = {
    "left": (-1.0, 0.0), "right": (1.0, 0.0), "up": (0.0, -1.0), "down": (0.0, 1.0),
}  # fmt: skip
STALE = "The taps did not arrive as they should. Load the page again: they are kept in this browser."

Point = tuple[float, float]
Points = tuple[Point, ...]


@dataclass(frozen=True)
class Taps:
    """Points on a picture, what lies where in it, and what scales it. Any of it may still be missing."""

    rim: Points
    inner: Points
    outer: Points
    toward_shaft: str
    toward_front: str
    rim_diameter: Measure | None
    typed: Mapping[str, str]
    stem_at: str = ""
    """On which side of the tip the stem shows below it; empty where it is not seen."""

    def points(self, group: str) -> Points:
        """The points of one group."""
        return {RIM: self.rim, INNER: self.inner, OUTER: self.outer}[group]

    @property
    def rim_found(self) -> bool:
        """Whether the rim has points enough for an ellipse."""
        return len(self.rim) >= ENOUGH[RIM]

    @property
    def missing(self) -> str:
        """What is still needed before the mark can be measured, as a sentence; nothing when all is there."""
        few = [
            f"{ENOUGH[group] - len(self.points(group))} more on the {name}"
            for group, name in GROUPS.items()
            if len(self.points(group)) < ENOUGH[group]
        ]
        if few:
            return f"Tap {_listed(few)}."
        if not self.toward_shaft:
            return "Say on which side of the picture the rocker’s shaft lies."
        if not self.toward_front:
            return "Say on which side of the picture the front of the engine lies."
        if self.rim_diameter is None:
            return "Type the diameter of the rim: it scales the picture."
        return ""

    def to_keep(self) -> dict[str, Any]:
        """As it is kept with the readings, and as the page takes it again."""
        kept: dict[str, Any] = {group: [list(point) for point in self.points(group)] for group in GROUPS}
        return kept | {
            "toward_shaft": self.toward_shaft,
            "toward_front": self.toward_front,
            "stem_at": self.stem_at,
            "rim_diameter": dict(self.typed),
        }


def read_taps(text: str, *, size: tuple[int, int]) -> Taps:
    """Read taps sent as JSON for a picture of `size` [px].

    Raises `EntryRefused` with a sentence for the person, whatever the text holds.
    """
    if len(text) > LONGEST_TEXT:
        raise EntryRefused("taps", f"That is more than {MOST_POINTS} points in a group. Remove some of them.")
    try:
        sent = json.loads(text)
    except (ValueError, RecursionError):
        raise EntryRefused("taps", STALE) from None
    if not isinstance(sent, dict):
        raise EntryRefused("taps", STALE)
    shaft = _way(sent.get("toward_shaft", ""), "Where the shaft lies")
    front = _way(sent.get("toward_front", ""), "Where the front of the engine lies")
    stem = _way(sent.get("stem_at", ""), "Where the stem shows, if it is seen,")
    if shaft and front and _dot(WAYS[shaft], WAYS[front]) != 0:
        raise EntryRefused(
            "toward_front",
            f"The front of the engine can’t lie {front} when the shaft lies {shaft}: it lies square to that. "
            "Choose one of the other two.",
        )
    typed = _typed(sent.get("rim_diameter", {}))
    return Taps(
        rim=_points(sent.get(RIM, []), RIM, size),
        inner=_points(sent.get(INNER, []), INNER, size),
        outer=_points(sent.get(OUTER, []), OUTER, size),
        toward_shaft=shaft,
        toward_front=front,
        rim_diameter=_diameter(typed),
        typed=typed,
        stem_at=stem,
    )


def _points(sent: Any, group: str, size: tuple[int, int]) -> Points:
    if not isinstance(sent, list):
        raise EntryRefused("taps", STALE)
    if len(sent) > MOST_POINTS:
        raise EntryRefused(
            group,
            f"The {GROUPS[group]} has {len(sent)} points; {MOST_POINTS} are enough for any. Remove some of them.",
        )
    return tuple(_point(each, number, group, size) for number, each in enumerate(sent, start=1))


def _point(sent: Any, number: int, group: str, size: tuple[int, int]) -> Point:
    if not isinstance(sent, list) or len(sent) != 2:
        raise EntryRefused("taps", STALE)
    x, y = (_coordinate(each) for each in sent)
    for value, limit in ((x, size[0]), (y, size[1])):
        if not -BESIDE <= value <= limit + BESIDE:
            raise EntryRefused(
                group,
                f"Point {number} of the {GROUPS[group]} lies beside the picture. Remove it, or move it onto the picture.",
            )
    return min(max(x, 0.0), float(size[0])), min(max(y, 0.0), float(size[1]))


def _coordinate(sent: Any) -> float:
    # True is an int in Python, and no coordinate.
    if isinstance(sent, bool) or not isinstance(sent, int | float):
        raise EntryRefused("taps", STALE)
    try:
        value = float(sent)
    except OverflowError:
        raise EntryRefused("taps", STALE) from None
    if not math.isfinite(value):
        raise EntryRefused("taps", STALE)
    return value


def _way(sent: Any, what: str) -> str:
    if sent == "":
        return ""
    if not isinstance(sent, str) or sent not in WAYS:
        raise EntryRefused("taps", f"{what} is left, right, up or down in the picture. Choose one.")
    return sent


def _typed(sent: Any) -> dict[str, str]:
    """The diameter as typed. Signs that no field sends, and that a page cannot show, are not let through."""
    if not isinstance(sent, dict):
        raise EntryRefused("taps", STALE)
    text, unit = sent.get("text", ""), sent.get("unit", "")
    if not isinstance(text, str) or not isinstance(unit, str) or not (text + unit).isprintable():
        raise EntryRefused("taps", STALE)
    return {"text": text.strip()[:80], "unit": unit[:10]}


def _diameter(typed: Mapping[str, str]) -> Measure | None:
    if not typed["text"]:
        return None
    try:
        measure = parse(typed["text"], unit=typed["unit"] or None)
    except MeasureError as error:
        offer = f" Did you mean {' or '.join(error.offers)}?" if error.offers else ""
        raise EntryRefused("rim_diameter", f"Diameter of the rim: {error.sentence}{offer}") from None
    if not NARROWEST_RIM <= measure.base <= WIDEST_RIM:
        raise EntryRefused(
            "rim_diameter",
            f"Diameter of the rim: {measure.text} {measure.unit} is no valve’s tip and no lash cap. Type a diameter from "
            f"{NARROWEST_RIM} to {WIDEST_RIM} in, such as 0.3125 or 11/32.",
        )
    return measure


def _dot(one: Point, other: Point) -> float:
    return one[0] * other[0] + one[1] * other[1]


def _listed(words: list[str]) -> str:
    return f"{', '.join(words[:-1])} and {words[-1]}" if len(words) > 1 else words[0]
