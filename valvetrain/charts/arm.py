"""The arm at closed, half and full lift on its stand."""

from dataclasses import dataclass
from functools import lru_cache
from math import cos, hypot, pi, radians, sin

from matplotlib.patches import Polygon

from valvetrain.charts.numbers import Drawing, ValveNumbers
from valvetrain.charts.style import CHAIN, DYE, GRAPHITE, HEAVY, HIDDEN, LINE, PHANTOM, SOFT, THIN, Sheet
from valvetrain.geometry.arm import arm_angle

Point = tuple[float, float]


@dataclass(frozen=True)
class ArmLayout:
    """Where things stand [in]: origin at the centre of the closed tip, x toward the valve, y away from the seat."""

    shaft: Point
    rollers: tuple[Point, Point, Point]  # closed, where the arm stands square, full lift
    tips: tuple[float, float, float]
    top: float
    shaft_now: Point | None

    @property
    def square(self) -> Point:
        """Roller centre where the arm stands square."""
        return self.rollers[1]


def arm_layout(numbers: ValveNumbers) -> ArmLayout:
    """Work out where the shaft, the rollers and the tips stand. Raises `GeometryError` where the arm cannot reach."""
    height = numbers.shaft_height
    shaft = (-numbers.shaft_offset, height)
    lifts = (0.0, numbers.square_at * numbers.lift, numbers.lift)
    rollers = []
    for lift in lifts:
        angle = radians(float(arm_angle(numbers.arm, height, lift)))
        rollers.append(
            (shaft[0] + numbers.arm_length * cos(angle), shaft[1] + numbers.arm_length * sin(angle))
        )
    now = (shaft[0], height + numbers.height_error) if numbers.is_off and numbers.height_error else None
    return ArmLayout(
        shaft=shaft,
        rollers=(rollers[0], rollers[1], rollers[2]),
        tips=(-lifts[0], -lifts[1], -lifts[2]),
        top=height + numbers.shaft_radius,
        shaft_now=now,
    )


@lru_cache(maxsize=256)
def arm_drawing(numbers: ValveNumbers, *, width: float = 4.7, lettered: bool = False) -> Drawing:
    """Draw the arm on its stand, to scale, with the shaft's height above the closed tip."""
    layout = arm_layout(numbers)
    boss = numbers.shaft_radius * 1.38
    lowest = min(layout.shaft[1] - boss - 0.42, layout.tips[2] - 0.34)
    # The lettering keeps its size, so a narrow drawing gives it more of its width.
    left = layout.shaft[0] - boss - 0.95 * (4.7 / width) ** 1.3
    highest = max(layout.rollers[0][1] + numbers.tip_radius, layout.top, layout.shaft[1] + boss + 0.2) + 0.2
    lettering = 32 / 72 * (1.0 - left) / width  # two lines above the dimension, in inches of engine
    highest = max(highest, max(layout.top, 0.0) + lettering)
    sheet = Sheet(width=width, x=(left, 1.0), y=(lowest, highest))
    _draw_stand(sheet, layout, boss, lowest)
    _draw_arms(sheet, numbers, layout, boss)
    _draw_valve(sheet, numbers, layout, lowest)
    _draw_height(sheet, numbers, layout, boss)
    return sheet.finish(f"{numbers.place}the arm on its stand", _words(numbers), lettered=lettered)


def _draw_stand(sheet: Sheet, layout: ArmLayout, boss: float, lowest: float) -> None:
    """The stand under the shaft, as a plain block on its shims: its shape is not measured, so it stays light."""
    x, y = layout.shaft
    pad = lowest + 0.1
    half, foot = boss * 0.8, boss * 1.25
    shim = sheet.points(4)
    corners = [(x - half, y), (x - foot, pad + shim), (x + foot, pad + shim), (x + half, y)]
    sheet.line([c[0] for c in corners], [c[1] for c in corners], width=THIN, color=SOFT)
    for step in (0.0, 0.5, 1.0):
        sheet.line([x - foot, x + foot], [pad + shim * step] * 2, width=THIN, color=SOFT)
    sheet.line([x - foot - 0.12, x + foot + 0.12], [pad, pad], width=LINE, color=SOFT)
    sheet.text(x, pad + shim + sheet.points(6), "stand on its pack", color=SOFT, fontsize=6.5)


def _draw_arms(sheet: Sheet, numbers: ValveNumbers, layout: ArmLayout, boss: float) -> None:
    """The arm whole where it stands square; at the ends of the lift its roller and its own line only."""
    shaft, square = layout.shaft, layout.square
    for roller, dash in ((layout.rollers[0], HIDDEN), (layout.rollers[2], PHANTOM)):
        sheet.line([shaft[0], roller[0]], [shaft[1], roller[1]], width=THIN, dash=dash, color=SOFT)
        sheet.circle(roller, numbers.tip_radius, width=LINE, dash=dash, color=SOFT)
    _edges(sheet, shaft, boss, square, numbers.tip_radius * 0.66)
    sheet.circle(square, numbers.tip_radius, width=HEAVY, filled=True)
    sheet.circle(shaft, boss, width=LINE, filled=True)
    sheet.circle(shaft, numbers.shaft_radius, width=HEAVY)
    # The arm's own line stands square to the valve axis at this lift.
    over = sheet.points(9)
    sheet.line([shaft[0] - boss - over, 0.3], [square[1]] * 2, width=THIN, dash=CHAIN, color=DYE)
    sheet.line(
        [shaft[0]] * 2, [shaft[1] - boss - over, shaft[1] + boss + over], width=THIN, dash=CHAIN, color=DYE
    )
    corner = sheet.points(6)
    sheet.line(
        [-corner, -corner, 0], [square[1], square[1] - corner, square[1] - corner], width=LINE, color=DYE
    )


def _edges(sheet: Sheet, start: Point, r0: float, end: Point, r1: float) -> None:
    """The two edges of the arm: the common tangents of its boss and its hub."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    length = hypot(dx, dy)
    ux, uy = dx / length, dy / length
    along = (r0 - r1) / length
    across = (1 - along**2) ** 0.5
    for side in (1, -1):
        nx, ny = ux * along - side * uy * across, uy * along + side * ux * across
        sheet.line([start[0] + nx * r0, end[0] + nx * r1], [start[1] + ny * r0, end[1] + ny * r1])


def _draw_valve(sheet: Sheet, numbers: ValveNumbers, layout: ArmLayout, lowest: float) -> None:
    half, foot = numbers.tip_diameter / 2, lowest + 0.06
    sheet.line(
        [0, 0],
        [foot - 0.05, layout.rollers[0][1] + numbers.tip_radius + 0.12],
        width=THIN,
        dash=CHAIN,
        color=DYE,
    )
    # The stem where the arm stands square, broken off below.
    tip = layout.tips[1]
    corners = [(-half, foot), (-half, tip), (half, tip), (half, foot)]
    sheet.axes.add_patch(Polygon(corners, closed=False, fill=False, ec=GRAPHITE, lw=HEAVY, clip_on=False))
    wave = [
        (-half + numbers.tip_diameter * i / 20, foot + sheet.points(2) * sin(2 * pi * i / 20))
        for i in range(21)
    ]
    sheet.line([p[0] for p in wave], [p[1] for p in wave], width=THIN)
    beside = half + 0.3
    rows = zip(
        layout.tips, (HIDDEN, "-", PHANTOM), ("closed", _square_words(numbers), "full lift"), strict=True
    )
    for level, dash, words in rows:
        sheet.line([-half, half], [level, level], width=LINE, dash=dash)
        sheet.line([half + sheet.points(2), beside], [level, level], width=THIN, color=SOFT)
        sheet.text(beside + sheet.points(3), level, words, ha="left")
    edges = [(-half, layout.tips[0]), (half, layout.tips[0])]
    for x, top in edges:
        sheet.line([x, x], [tip, top], width=THIN, dash=HIDDEN, color=SOFT)


def _square_words(numbers: ValveNumbers) -> str:
    return "half lift" if numbers.square_at == 0.5 else f"{numbers.square_at:g} of lift"


def _draw_height(sheet: Sheet, numbers: ValveNumbers, layout: ArmLayout, boss: float) -> None:
    """The one dimension that decides: top of shaft above the closed tip; and where the shaft stands now."""
    x, gap = layout.shaft[0], sheet.points(3)
    at = x - boss - 0.3
    sheet.line([-numbers.tip_diameter / 2 - gap, at - gap], [0, 0], width=THIN, color=SOFT)
    sheet.line([x, at - gap], [layout.top, layout.top], width=THIN, color=SOFT)
    sheet.dimension((at, 0.0), (at, layout.top), numbers.said(numbers.top))
    above = max(layout.top, 0.0) + sheet.points(15)
    small = {"fontsize": 6.5, "color": SOFT, "linespacing": 1.15}
    # Beside a shaft that once stood elsewhere, this figure would be taken for that of the time.
    words = "top of shaft\nabove closed tip" + ("" if numbers.when == "now" else ",\nif it stood right")
    sheet.text(at - gap, above, words, ha="right", va="bottom", **small)
    if layout.shaft_now is not None:
        now = layout.shaft_now
        sheet.circle(now, numbers.shaft_radius, width=LINE, dash=HIDDEN, color=DYE)
        edge = (now[0] + numbers.shaft_radius * 0.5, now[1] + numbers.shaft_radius * 0.866)
        above = layout.shaft[1] + boss + sheet.points(13)
        sheet.line([edge[0], edge[0]], [edge[1], above - sheet.points(2)], width=THIN, color=DYE)
        sheet.text(
            layout.shaft[0], above, f"shaft {numbers.when} {numbers.error_words}", va="bottom", color=DYE
        )


def _words(numbers: ValveNumbers) -> str:
    square = "half lift" if numbers.square_at == 0.5 else f"{numbers.square_at:g} of the lift"
    right = (
        f"{numbers.place}arm {numbers.told(numbers.arm_length)} long, net lift {numbers.told(numbers.lift)}. Square at "
        f"{square} the top of the shaft stands {numbers.told(numbers.top)} above the closed tip."
    )
    if numbers.height_error is None:
        return f"{right} No height is read yet."
    if not numbers.is_off:
        return f"{right} It stands right."
    side = "high" if numbers.height_error > 0 else "low"
    stands = "stands" if numbers.when == "now" else "stood"
    return f"{right} It {stands} {numbers.told(abs(numbers.height_error))} {side} {numbers.when}."
