"""What an inked, ground valve tip looks like: steel, layout dye, light. Plain arrays in, plain arrays out.

Values are light as it falls on the sensor (linear), 1 being white paper in the same light.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

Picture = NDArray[np.floating[Any]]

DYES = {"blue": (0.030, 0.075, 0.36), "red": (0.47, 0.028, 0.040)}
"""What one full coat of layout dye lets back of red, green and blue."""
STEEL = np.array([0.56, 0.565, 0.58], dtype=np.float32)
LATTICE = 128


class Grain:
    """Repeatable unevenness: smooth random values between -1 and 1 over a lattice that repeats."""

    def __init__(self, random: np.random.Generator) -> None:
        lattice = random.uniform(-1, 1, (LATTICE, LATTICE)).astype(np.float32)
        self._flat = lattice.ravel()
        self._line = random.uniform(-1, 1, 4096).astype(np.float32)

    def over(self, x: Picture, y: Picture) -> Picture:
        """Smooth blotches of about one unit across."""
        left, top = np.floor(x).astype(np.int32), np.floor(y).astype(np.int32)
        across, down = x - left, y - top
        across, down = across * across * (3 - 2 * across), down * down * (3 - 2 * down)
        left &= LATTICE - 1
        right = (left + 1) & (LATTICE - 1)
        upper = (top & (LATTICE - 1)) * LATTICE
        lower = ((top + 1) & (LATTICE - 1)) * LATTICE
        values = self._flat
        above = values[upper + left] * (1 - across) + values[upper + right] * across
        below = values[lower + left] * (1 - across) + values[lower + right] * across
        blotches: Picture = above * (1 - down) + below * down
        return blotches

    def along(self, x: Picture) -> Picture:
        """Lines about one unit wide, square to the way x runs."""
        left = np.floor(x).astype(np.int32)
        share = x - left
        lines: Picture = self._line[left & 4095] * (1 - share) + self._line[(left + 1) & 4095] * share
        return lines


def steel(grain: Grain, x: Picture, y: Picture, *, ground_at: float, radius: float) -> Picture:
    """Brightness of ground steel: fine lines along the way the wheel ran [deg from outboard]."""
    way = math.radians(ground_at)
    across = (y * math.cos(way) - x * math.sin(way)) / radius
    across = across + np.float32(0.02) * (x * math.cos(way) + y * math.sin(way)) ** 2 / radius**2
    lines = (
        0.5 * grain.along(across * 70)
        + 0.35 * grain.along(across * 190 + 17)
        + 0.3 * grain.along(across * 23 + 5)
    )
    shades: Picture = 1 + 0.17 * lines + 0.06 * grain.over(x / radius * 3 + 9, y / radius * 3)
    return shades


def brushed(
    grain: Grain, x: Picture, y: Picture, *, brushed_at: float, uneven: float, radius: float
) -> Picture:
    """How thick the dye lies, 1 being a full coat: strokes of a brush, and where it ran together."""
    way = math.radians(brushed_at)
    along = (x * math.cos(way) + y * math.sin(way)) / radius
    across = (y * math.cos(way) - x * math.sin(way)) / radius
    across = across + np.float32(0.06) * along * along
    strokes = grain.over(along * 1.3 + 3, across * 17) + 0.6 * grain.over(along * 2.1, across * 41 + 7)
    pools = grain.over(along * 2.2 + 31, across * 2.6 + 11)
    return np.clip(1 + uneven * (0.75 * strokes + 0.65 * pools), 0.12, 2.4).astype(np.float32)


def dyed(thickness: Picture, colour: str) -> Picture:
    """What comes back through the dye, (rows, columns, 3); bare steel where there is none."""
    depth = np.log(np.array(DYES[colour], dtype=np.float32))
    back: Picture = np.exp(thickness[..., None] * depth)
    return back


def left_by_roller(
    grain: Grain,
    x: Picture,
    y: Picture,
    *,
    inner: float,
    outer: float,
    taper: float,
    ragged: float,
    smear: float,
    soft: float,
    radius: float,
) -> tuple[Picture, Picture]:
    """How much of the dye the roller took, 0 to 1, and how much of it lies pushed up beside the mark.

    `ragged` [in] is how far the edges wander about their lines; `soft` [in] is over what width an edge fades.
    """
    half = taper / (2 * radius)
    size = np.float32(max(ragged, 1e-9))
    near, far = y / radius * 16, y / radius * 55
    wander = (
        grain.along(near + 100)
        + 0.7 * grain.along(far + 700)
        + 0.5 * grain.over(x / radius * 60, y / radius * 60)
    )
    from_inner = x - (inner - half * y) + size * wander
    wander = (
        grain.along(near + 1500)
        + 0.7 * grain.along(far + 2300)
        - 0.5 * grain.over(x / radius * 60, y / radius * 60)
    )
    from_outer = (outer + half * y) - x + size * wander
    inside = np.minimum(from_inner, from_outer)
    taken = np.clip(0.5 + inside / (2 * soft), 0, 1).astype(np.float32)
    taken = taken * taken * (3 - 2 * taken)
    lip = np.exp(-(((inside + 0.012 * radius + 2 * soft) / (0.02 * radius)) ** 2)).astype(np.float32)
    # The roller drags what is left along its way, and toward the rim it hardly bears: dye stays there in streaks.
    end = np.clip((np.abs(y) / radius - 0.80) / 0.20, 0, 1)
    streaks = np.clip(0.5 + 0.6 * grain.over(x / radius * 5, y / radius * 38 + 3), 0, 1)
    film = (
        0.06 + 0.05 * grain.along(y / radius * 95) + smear * (0.9 * end * streaks + 0.16 * streaks * streaks)
    )
    return taken * (1 - np.clip(film, 0, 0.9)), lip * (0.6 + 0.4 * grain.along(y / radius * 30 + 40))


def surroundings(grain: Grain, x: Picture, y: Picture, *, radius: float) -> Picture:
    """The retainer, its two locks and the coils of the spring below, dark and (once blurred) only suggested."""
    out = np.hypot(x, y) / radius
    round_ = np.arctan2(y, x)
    light = 0.5 + 0.5 * np.cos(round_ * 2 + 0.9) * 0.6 + 0.18 * grain.over(out * 2, round_ * 2 + 8)
    locks = 0.10 + 0.10 * light
    locks = np.where(np.abs(y + 0.18 * x) < 0.10 * radius, 0.015, locks)
    retainer = 0.06 + 0.13 * light + 0.05 * np.cos((out - 1.9) * 4)
    coil = (out - 3.3 - 0.16 * round_ / np.pi) / 0.42
    coils = 0.012 + 0.17 * np.clip(np.cos(coil * np.pi), 0, 1) ** 2 * light
    shade = np.where(out < 1.45, locks, np.where(out < 1.55, 0.02, np.where(out < 2.75, retainer, coils)))
    shade = np.where((out > 2.05) & (out < 2.12), 0.28 * light, shade)
    shade = np.where(out > 4.6, 0.035 + 0.02 * grain.over(x / radius, y / radius), shade)
    return shade[..., None].astype(np.float32) * np.array([1.0, 0.97, 0.93], dtype=np.float32)
