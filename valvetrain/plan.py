"""A head in plan, laid out for drawing: parts true to scale, and a balloon to touch for each stand and valve.

Balloons stand in two rows, stands above the head and valves below it, as on an inspection drawing. A row is
spread as far as its balloons need; a leader runs from each balloon to the true place. Nothing here reads or
writes the database except `plan_for`, and nothing knows about Django's templates.
"""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from valvetrain.models import Head
from valvetrain.planshapes import (
    Box,
    DrawnCylinder,
    DrawnPad,
    DrawnStand,
    DrawnValve,
    Point,
    StandPlace,
    Target,
    ValvePlace,
)

WIDTH = 1000.0  # drawing units; a head that needs more gets more
MARGIN = 14.0
TARGET = 76.0  # at 740 px for 1000 units this is 56 px
BETWEEN = 16.0  # 8 px there even between two heavy rules, half of which lies outside each box
LETTER_WIDTH = 13.0  # of the address, at the size that the drawing uses
LEADER = 30.0  # room between a row of balloons and the head
LARGEST_SCALE = 74.0  # units per inch: a short head is not blown up
BAR_HALF_WIDTH = 0.36  # in; how a stand is drawn, not how it measures
EDGE = 0.62  # in; the head is drawn this far beyond its outermost part
GUIDE = 0.44  # radius of a cylinder's guide circle, as a part of the distance between cylinders


Place = Callable[[float, float], Point]  # inches along and across the head → the drawing


@dataclass(frozen=True)
class Plan:
    """A head in plan: drawing units, x along the head, y across it toward the valves."""

    width: float
    height: float
    scale: float
    outline: Box
    stands: tuple[DrawnStand, ...]
    valves: tuple[DrawnValve, ...]
    cylinders: tuple[DrawnCylinder, ...]
    targets: tuple[Target, ...]

    @property
    def pixels(self) -> str:
        """Width of the drawing: what the page has, or so much that the balloons stay large enough."""
        return "100%" if self.width <= WIDTH else str(round(self.width * 0.78))


def plan_for(head: Head) -> Plan:
    """Lay out a head. Prefetch `valves` and `stands__pads` where several heads are drawn."""
    stands = [
        StandPlace(
            key=stand.pk,
            address=stand.address,
            label=str(stand),
            bolt_diameter=float(stand.bolt_diameter),
            pads=tuple((pad.letter, float(pad.along), float(pad.across)) for pad in stand.pads.all()),
        )
        for stand in head.stands.all()
    ]
    valves = [
        ValvePlace(
            stand=valve.stand_id,
            address=valve.address,
            label=f"cylinder {valve.cylinder}, {valve.get_kind_display()}",
            cylinder=valve.cylinder,
            along=float(valve.along),
            across=float(valve.across),
            tip_diameter=float(valve.tip_diameter),
        )
        for valve in head.valves.all()
    ]
    return lay_out(stands, valves)


def lay_out(stands: Sequence[StandPlace], valves: Sequence[ValvePlace]) -> Plan:
    """Lay out stands and valves, given in inches, for drawing."""
    stand_widths = [_balloon_width(stand.address) for stand in stands]
    valve_widths = [_balloon_width(valve.address) for valve in valves]
    width = max(WIDTH, *(_row_width(row) + 2 * MARGIN for row in (stand_widths, valve_widths)))
    left, right, low, high = _extent(stands, valves)
    scale = min(LARGEST_SCALE, (width - 2 * MARGIN) / (right - left))
    top = MARGIN + TARGET + LEADER
    offset = (width - (right - left) * scale) / 2

    def place(along: float, across: float) -> Point:
        return Point(round(offset + (along - left) * scale, 1), round(top + (across - low) * scale, 1))

    outline = Box(*place(left, low), round((right - left) * scale, 1), round((high - low) * scale, 1))
    drawn = {stand.key: _draw_stand(stand, valves, place, scale) for stand in stands}
    tips = [_draw_valve(valve, drawn.get(valve.stand), place, scale) for valve in valves]
    lower_row = outline.y + outline.h + LEADER
    targets = [
        *_balloons(
            "stand", stands, stand_widths, [_middle(drawn[s.key].shaft) for s in stands], MARGIN, width
        ),
        *_balloons("valve", valves, valve_widths, [tip.centre for tip in tips], lower_row, width),
    ]
    return Plan(
        width=round(width, 1),
        height=round(lower_row + TARGET + MARGIN, 1),
        scale=scale,
        outline=outline,
        stands=tuple(drawn.values()),
        valves=tuple(tips),
        cylinders=tuple(_draw_cylinders(valves, place, scale)),
        targets=tuple(targets),
    )


def _balloon_width(address: str) -> float:
    """Wide enough to touch, and for the address to stand in it."""
    return max(TARGET, len(address) * LETTER_WIDTH + 22)


def _row_width(widths: Sequence[float]) -> float:
    return sum(widths) + BETWEEN * max(0, len(widths) - 1)


def _extent(stands: Iterable[StandPlace], valves: Iterable[ValvePlace]) -> tuple[float, float, float, float]:
    """Edges of the drawn head [in]: left, right, low and high across. A head without parts gets a blank."""
    places = [(along, across) for stand in stands for _letter, along, across in stand.pads]
    places += [(valve.along, valve.across) for valve in valves]
    if not places:
        return 0.0, 12.0, 0.0, 2.0
    alongs, acrosses = zip(*places, strict=True)
    return min(alongs) - EDGE, max(alongs) + EDGE, min(acrosses) - EDGE, max(acrosses) + EDGE


def _axis(stand: StandPlace, valves: Iterable[ValvePlace]) -> tuple[Point, Point]:
    """The shaft's line over the pads [in], as long as its pads and its valves need."""
    pads = sorted((along, across) for _letter, along, across in stand.pads)
    if not pads:  # a stand not yet given its pads stands beside its valves
        pads = [(valve.along, valve.across - 1.5) for valve in valves] or [(0.0, 0.0)]
    (x0, y0), (x1, y1) = pads[0], pads[-1]
    length = math.hypot(x1 - x0, y1 - y0)
    ux, uy = ((x1 - x0) / length, (y1 - y0) / length) if length > 1e-6 else (1.0, 0.0)
    reaches = [(valve.along - x0) * ux + (valve.across - y0) * uy for valve in valves]
    first, last = min([0.0, *reaches]), max([length, *reaches])
    return Point(x0 + first * ux, y0 + first * uy), Point(x0 + last * ux, y0 + last * uy)


def _draw_stand(stand: StandPlace, valves: Iterable[ValvePlace], place: Place, scale: float) -> DrawnStand:
    start, end = _axis(stand, [valve for valve in valves if valve.stand == stand.key])
    length = math.hypot(end.x - start.x, end.y - start.y)
    ux, uy = ((end.x - start.x) / length, (end.y - start.y) / length) if length > 1e-6 else (1.0, 0.0)
    half = BAR_HALF_WIDTH
    corners = [
        (start, -half, -half),
        (end, half, -half),
        (end, half, half),
        (start, -half, half),
    ]
    return DrawnStand(
        address=stand.address,
        outline=tuple(
            place(point.x + ux * ahead - uy * aside, point.y + uy * ahead + ux * aside)
            for point, ahead, aside in corners
        ),
        shaft=(place(*start), place(*end)),
        pads=tuple(
            DrawnPad(
                letter=letter,
                centre=place(along, across),
                radius=round(BAR_HALF_WIDTH * 0.78 * scale, 1),
                bolt_radius=round(stand.bolt_diameter / 2 * scale, 1),
            )
            for letter, along, across in stand.pads
        ),
    )


def _draw_valve(valve: ValvePlace, stand: DrawnStand | None, place: Place, scale: float) -> DrawnValve:
    centre = place(valve.along, valve.across)
    return DrawnValve(
        address=valve.address,
        centre=centre,
        radius=round(max(valve.tip_diameter / 2 * scale, 5.0), 1),
        rocker=(centre if stand is None else _foot(centre, stand.shaft), centre),
    )


def _foot(point: Point, line: tuple[Point, Point]) -> Point:
    """The place on a line from which a square stroke reaches the point."""
    start, end = line
    dx, dy = end.x - start.x, end.y - start.y
    length = dx * dx + dy * dy
    part = ((point.x - start.x) * dx + (point.y - start.y) * dy) / length if length > 1e-9 else 0.0
    return Point(round(start.x + part * dx, 1), round(start.y + part * dy, 1))


def _draw_cylinders(valves: Iterable[ValvePlace], place: Place, scale: float) -> Iterable[DrawnCylinder]:
    """Guide circles: each about the middle of its valves, as large as the cylinders' distance allows."""
    grouped: dict[int, list[ValvePlace]] = {}
    for valve in valves:
        grouped.setdefault(valve.cylinder, []).append(valve)
    middles = {
        number: (sum(v.along for v in group) / len(group), sum(v.across for v in group) / len(group))
        for number, group in grouped.items()
    }
    alongs = sorted(along for along, _across in middles.values())
    pitch = min((b - a for a, b in pairwise(alongs) if b - a > 0.5), default=4.0)
    for number, middle in middles.items():
        yield DrawnCylinder(number=number, centre=place(*middle), radius=round(pitch * GUIDE * scale, 1))


def _middle(line: tuple[Point, Point]) -> Point:
    return Point(round((line[0].x + line[1].x) / 2, 1), round((line[0].y + line[1].y) / 2, 1))


def _balloons(
    kind: str,
    parts: Sequence[StandPlace] | Sequence[ValvePlace],
    widths: Sequence[float],
    true_places: Sequence[Point],
    y: float,
    width: float,
) -> Iterable[Target]:
    """A row of balloons as near to their true places as their size allows, in order along the head."""
    order = sorted(range(len(parts)), key=lambda index: (true_places[index].x, true_places[index].y, index))
    centres = spread(
        [true_places[index].x for index in order],
        [widths[index] for index in order],
        low=MARGIN,
        high=width - MARGIN,
    )
    for index, centre in zip(order, centres, strict=True):
        box = Box(round(centre - widths[index] / 2, 1), round(y, 1), round(widths[index], 1), TARGET)
        foot = Point(box.centre.x, box.y + box.h if kind == "stand" else box.y)
        yield Target(
            address=parts[index].address,
            label=parts[index].label,
            kind=kind,
            box=box,
            leader=(foot, true_places[index]),
        )


def spread(wanted: Sequence[float], widths: Sequence[float], *, low: float, high: float) -> list[float]:
    """Centres for boxes of these widths, in this order, moved as little as keeps them apart and inside.

    Boxes that touch move as one group to the mean of what they want; groups that then touch join. There must
    be room for all of them between `low` and `high`.
    """
    # Taking each box's place in a packed row off its wish turns "keep apart" into "never fall back".
    packed, at = [], 0.0
    for width in widths:
        packed.append(at + width / 2)
        at += width + BETWEEN
    groups: list[list[float]] = []  # mean wish, how many
    for wish, place in zip(wanted, packed, strict=True):
        groups.append([wish - place, 1])
        while len(groups) > 1 and groups[-2][0] > groups[-1][0]:
            mean, count = groups.pop()
            before = groups[-1]
            before[0] = (before[0] * before[1] + mean * count) / (before[1] + count)
            before[1] += count
    room = high - low - max(0.0, at - BETWEEN)
    starts = [min(max(mean, low), low + room) for mean, count in groups for _ in range(int(count))]
    return [start + place for start, place in zip(starts, packed, strict=True)]
