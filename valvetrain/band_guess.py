"""The mark on an inked valve tip, looked for within a rim that is known: the band that the roller rubbed bare.

The tip is made round first. Bare steel has little colour and dye has much, so the band is the strip, at whatever angle,
whose colour differs most from that of what lies beside it. Each edge is then followed in slices, half-way between its own
bare and its own inked level, and the line is the one that most slices agree on.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage, stats

from .dye_guess import Oval
from .picture_copy import Array, Copy, colourfulness

GRID = 160
ACROSS = 110
INSIDE = 0.90
"""How far out the tip is looked at, of the rim's radius: the edge is broken, and dye lies there in streaks."""
WIDTHS = (0.05, 1.3)
"""Narrowest and widest mark, in radii."""
SLICES = 44
LEAST_CONTRAST = 0.12
LEAST_SHARE = 0.45
LEAST_EDGE = 0.25
"""Of the largest score that two edges across the middle could have."""
MOST_APART = 0.25
"""Slope between the edges."""


@dataclass(frozen=True)
class Line:
    """An edge: how far from the tip's centre square to the band, and how that changes along it; in radii."""

    at: float
    slope: float
    scatter: float
    share: float
    """Of the slices, how many agree."""


@dataclass(frozen=True)
class Band:
    """A mark within a rim: its edges, and the angle of the way square to it [rad, clockwise, tip made round]."""

    angle: float
    low: Line
    high: Line

    @property
    def across(self) -> Array:
        return np.array([np.cos(self.angle), np.sin(self.angle)])

    def points(self, edge: Line, along: Array) -> Array:
        """Points on an edge, in radii."""
        way = np.array([-self.across[1], self.across[0]])
        points: Array = (edge.at + edge.slope * along)[:, None] * self.across + along[:, None] * way
        return points


def find_band(rim: Oval, fine: Copy) -> Band | None:
    """The mark, or None where no strip across the tip stands out from the ink beside it."""
    step = np.linspace(-1, 1, GRID)
    x, y = np.meshgrid(step, step)
    colours = fine.sampled(rim.at(np.stack([x, y], axis=-1)))
    colours = np.stack([ndimage.gaussian_filter(colours[..., part], 1.0) for part in range(3)], axis=-1)
    ink = colourfulness(colours)
    coarse = _best_strip(ink, np.radians(np.arange(0, 180, 3)))
    if coarse is None:
        return None
    angle, low, high = _best_strip(ink, coarse[0] + np.radians(np.arange(-2.5, 2.6, 0.5))) or coarse
    across = x * np.cos(angle) + y * np.sin(angle)
    inside = np.hypot(x, y) < INSIDE
    within = inside & (across > low + 0.02) & (across < high - 0.02)
    beside = (
        inside
        & (np.abs(across - (low + high) / 2) < (high - low) / 2 + 0.2)
        & ((across < low) | (across > high))
    )
    if not within.any() or np.median(ink[beside]) - np.median(ink[within]) < LEAST_CONTRAST:
        return None
    light = colours**2
    contrast = np.median(light[within], axis=0) - np.median(light[beside], axis=0)
    lines = [
        _edge(rim, fine, angle, edge, side, high - low, contrast) for edge, side in ((low, 1), (high, -1))
    ]
    if lines[0] is None or lines[1] is None:
        return None
    band = Band(angle, lines[0], lines[1])
    return band if _sound(band) else None


def _best_strip(ink: Array, angles: Array) -> tuple[float, float, float] | None:
    """Angle and edges of the strip along whose whole length the ink ends on one side and begins on the other.

    A change counts the same once it is large enough, and is summed along straight lines: so a long faint edge
    outweighs the round edge of the lamp's mirror image.
    """
    place = np.linspace(-INSIDE, INSIDE, ACROSS)
    out, along = np.meshgrid(place, place, indexing="ij")
    inside = np.hypot(out, along) < INSIDE
    length = np.maximum(inside.sum(axis=1), 1)
    enough = 0.35 * float(np.percentile(ink, 90) - np.percentile(ink, 10))
    if enough < 0.35 * LEAST_CONTRAST:
        return None
    wide = place[None, :] - place[:, None]
    allowed = (wide >= WIDTHS[0]) & (wide <= WIDTHS[1])
    best, best_score = None, 0.0
    for angle in angles:
        x = out * np.cos(angle) - along * np.sin(angle)
        y = out * np.sin(angle) + along * np.cos(angle)
        turned = ndimage.map_coordinates(ink, [(y + 1) / 2 * (GRID - 1), (x + 1) / 2 * (GRID - 1)], order=1)
        change = np.zeros_like(turned)
        change[2:-2] = np.clip(turned[4:] - turned[:-4], -enough, enough) / enough
        line = (change * inside).sum(axis=1) / length * np.sqrt(length / ACROSS)
        ends, begins = np.maximum(-line, 0), np.maximum(line, 0)
        score = np.where(allowed, np.sqrt(ends[:, None] * begins[None, :]), 0)
        if score.max() > best_score:
            first, last = np.unravel_index(score.argmax(), score.shape)
            best, best_score = (float(angle), float(place[first]), float(place[last])), float(score.max())
    return best if best_score > LEAST_EDGE else None


def _edge(
    rim: Oval, fine: Copy, angle: float, at: float, side: int, width: float, contrast: Array
) -> Line | None:
    """The line along one edge. `side` +1: the mark lies on the far side of it, counted square to the band."""
    across = np.array([np.cos(angle), np.sin(angle)])
    way = np.array([-across[1], across[0]])
    reach = float(np.sqrt(max(INSIDE**2 - at**2, 0.04)))
    along = np.linspace(-reach, reach, SLICES * 5)
    pixel = fine.step / min(rim.first, rim.second)
    window = min(0.14, 0.6 * width)
    out = np.arange(at - window, at + window + pixel, pixel)
    colours = fine.sampled(rim.at(out[None, :, None] * across + along[:, None, None] * way))
    # Blur mixes light, and a picture holds about its square root: half-way is half-way in light.
    bareness = side * (colours**2 @ (contrast / (contrast @ contrast)))
    # The slices: five lines each, taken together, a little blurred along the edge and hardly across it.
    slices = bareness.reshape(SLICES, 5, len(out)).mean(axis=1)
    slices = ndimage.gaussian_filter(slices, (0.7, max(0.8, 0.004 / pixel)))
    where, rise = _steps(slices, out)
    good = (rise > 0.35) & np.isfinite(where)
    if good.mean() < LEAST_SHARE:
        return None
    along = along.reshape(SLICES, 5).mean(axis=1)
    slope, start = stats.theilslopes(where[good], along[good])[:2]
    for _ in range(2):
        off = np.abs(where - start - slope * along)
        spread = max(1.5 * float(np.median(off[good])), 0.006)
        kept = good & (off < 2.5 * spread)
        if kept.sum() < LEAST_SHARE * SLICES:
            return None
        slope, start = np.polyfit(along[kept], where[kept], 1)
    scatter = float(np.std(where[kept] - start - slope * along[kept]))
    return Line(float(start), float(slope), scatter, float(kept.mean()))


def _steps(slices: Array, out: Array) -> tuple[Array, Array]:
    """Where each slice crosses half-way between its levels on both sides of its steepest rise, and the rise."""
    count = len(out)
    arm = max(3, count // 4)
    sums = np.concatenate([np.zeros((len(slices), 1)), np.cumsum(slices, axis=1)], axis=1)
    middle = np.arange(arm, count - arm + 1)
    before = (sums[:, middle] - sums[:, middle - arm]) / arm
    after = (sums[:, middle + arm] - sums[:, middle]) / arm
    best = (after - before).argmax(axis=1)
    rows = np.arange(len(slices))
    low, high = before[rows, best], after[rows, best]
    level = 0.5 * (low + high)
    # The crossing nearest to the middle of the rise, upward.
    above = slices > level[:, None]
    crossing = ~above[:, :-1] & above[:, 1:]
    far = np.abs(np.arange(count - 1)[None, :] + 0.5 - middle[best][:, None] + 0.5)
    far = np.where(crossing, far, np.inf)
    at = far.argmin(axis=1)
    left, right = slices[rows, at], slices[rows, at + 1]
    share = np.where(crossing[rows, at], (level - left) / np.where(right > left, right - left, 1), np.nan)
    return out[at] + share * (out[1] - out[0]), np.where(np.isfinite(far.min(axis=1)), high - low, 0)


def _sound(band: Band) -> bool:
    """Whether the two lines can be the edges of one mark that lies within the rim."""
    width = band.high.at - band.low.at
    return (
        WIDTHS[0] * 0.8 < width < WIDTHS[1] * 1.1
        and max(abs(band.low.at), abs(band.high.at)) < 0.97
        and abs(band.low.slope - band.high.slope) < MOST_APART
        and max(band.low.scatter, band.high.scatter) < 0.035
    )
