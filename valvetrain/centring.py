"""Centring a stand: how far to slide it so that its marks come to the middle, and what that asks of the bolt holes.

Height outranks centring: a slide is worked out only where every valve of the stand is in by the gauge. Lengths in inches.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from builds.verdicts import IN, OUT
from valvetrain.geometry.centring import CentringSlide, HoleRelief, centring_slide, hole_relief
from valvetrain.geometry.travel import centring_move
from valvetrain.marks import MarkState
from valvetrain.standstate import StandState
from valvetrain.status import Status

# Less tilt than this [deg] moves no shaft that anybody could measure.
LEVEL = 0.05


@dataclass(frozen=True)
class Centring:
    """One stand with the marks of its valves."""

    stand: StandState
    marks: tuple[MarkState, ...]

    @property
    def address(self) -> str:
        """The stand's printed address."""
        return self.stand.address

    @property
    def tilt(self) -> float:
        """Tilt of its pads [deg]."""
        return float(self.stand.stand.pad_tilt)

    @property
    def height_is_right(self) -> bool:
        """Whether every valve of the stand is in by the gauge, and nothing changed since."""
        return self.stand.status == Status.DONE

    @property
    def unread(self) -> list[str]:
        """Valves whose mark is not read, or cannot be."""
        return [mark.address for mark in self.marks if not mark.possible]

    @property
    def stale(self) -> list[str]:
        """Valves whose mark no longer counts."""
        return [mark.address for mark in self.marks if mark.possible and mark.again]

    @property
    def ready(self) -> bool:
        """Whether anything can be said: the height is right, and every mark counts."""
        return self.height_is_right and bool(self.marks) and not self.unread and not self.stale

    @cached_property
    def needed(self) -> bool:
        """Whether a mark lies off centre by more than the limit, or too near it to call."""
        return self.ready and any(mark.verdict("centre") not in ("", IN) for mark in self.marks)

    @cached_property
    def move(self) -> float:
        """The one move of the shaft across that leaves the worst mark least off; plus: toward the valve."""
        needs = [float(centring_move(mark.inner, mark.outer)) for mark in self.marks]  # type: ignore[arg-type]
        return (min(needs) + max(needs)) / 2

    @property
    def left(self) -> list[tuple[MarkState, float]]:
        """Where the move leaves the middle of each mark."""
        return [(mark, (mark.centre or 0.0) + self.move) for mark in self.marks]

    @property
    def still_out(self) -> list[str]:
        """Valves whose mark would be off centre even then: their needs lie too far apart for one stand."""
        found = []
        for mark, left in self.left:
            limit = mark.limits.get("mark_centre")
            if limit is not None and mark.rule.judge(left, limit.low, limit.high, None) == OUT:
                found.append(mark.address)
        return found

    @cached_property
    def slide(self) -> CentringSlide:
        """The slide along the pad, with the change of pack that keeps the height."""
        return centring_slide(self.move, self.tilt)

    @property
    def tilted(self) -> bool:
        """Whether the pads tilt enough for a slide to change the height."""
        return abs(self.tilt) >= LEVEL

    @property
    def pack_after(self) -> float:
        """Pack under each pad that keeps the height; below zero: shims cannot keep it."""
        return self.stand.pack_total + float(self.slide.pack_change)

    @property
    def expanded(self) -> float | None:
        """How well the move is known: as the worse of its marks."""
        known = [mark.expanded("centre") for mark in self.marks]
        return None if None in known else max(each or 0.0 for each in known)

    @cached_property
    def relief(self) -> HoleRelief | None:
        """What the slide asks of the bolt holes; None where the hole is not entered."""
        hole = self.stand.stand.bolt_hole
        if hole is None or hole < self.stand.stand.bolt_diameter:
            return None
        return hole_relief(
            float(self.slide.slide),
            hole_diameter=float(hole),
            bolt_diameter=float(self.stand.stand.bolt_diameter),
        )


def centring_of(stand: StandState, marks: Sequence[MarkState]) -> Centring:
    """A stand with its valves' marks."""
    mine = {valve.address for valve in stand.valves}
    return Centring(stand, tuple(mark for mark in marks if mark.address in mine))
