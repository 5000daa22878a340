"""A picture of an inked valve tip that nobody took: drawn, with everything about it known to the last digit.

The mark on it, and where each of its points falls, are given; so whatever reads a mark from a picture can be told how far
off it was. The demo shop's photographs are made here too.

    picture = draw_tip(TipScene(inner=-0.036, outer=0.031, tilt=20, seed=3))
    picture.pixels                      # rows × columns × 3, as a photograph
    picture.inner_points(5)             # on the inner edge, in pixels, exact
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from .tip_camera import Array, TipCamera
from .tip_lens import blurred, stretched
from .tip_shading import DYES, STEEL, Grain, Picture, brushed, dyed, left_by_roller, steel, surroundings

STEM_SHOWN = 0.21
"""How far the stem stands out of the retainer [in]."""


@dataclass(frozen=True, kw_only=True)
class TipScene:
    """A tip, its mark, and the camera over it. Lengths in inches on the tip, pixels in the picture, degrees."""

    inner: float = -0.036
    outer: float = 0.036
    taper: float = 0.0
    """Width of the mark half-way to the front rim less that half-way to the rear rim."""
    rim_diameter: float = 0.3415
    chamfer: float = 0.002
    """How wide, and how deep, the edge of the tip is broken. The rim lies this much below the tip."""
    colour: str = "blue"
    uneven: float = 0.35
    ragged: float = 0.0007
    smear: float = 0.5
    ground_at: float = 25.0
    brushed_at: float = 70.0
    size: tuple[int, int] = (1600, 1200)
    """Columns and rows."""
    tip_at: tuple[float, float] | None = None
    """Pixel of the tip's centre; the middle of the picture unless told."""
    pixels_across: float = 800.0
    """Along the longest line over the rim."""
    distance: float = 10.0
    tilt: float = 0.0
    tilt_toward: float = 0.0
    """On the tip, from outboard toward the front: where the camera leans to."""
    turn: float = 0.0
    """Where outboard points in the picture, clockwise from right."""
    front_clockwise: bool = False
    blur: float = 0.9
    noise: float = 2.0
    """Standard deviation of the sensor's noise in the mid-tones, of 255."""
    exposure: float = 1.0
    light_from: float = 225.0
    """Direction in the picture from which the light comes, clockwise from right."""
    gradient: float = 0.25
    """How much brighter the side toward the light is, of the brightness in the middle."""
    glare: float = 0.15
    """How strongly the lamp mirrors in the tip: 0 not at all, 1 burnt out white."""
    seed: int = 1

    def __post_init__(self) -> None:
        if self.colour not in DYES:
            raise ValueError(f"The dye is one of {', '.join(DYES)}; got {self.colour!r}.")
        if not self.inner < self.outer:
            raise ValueError(
                f"The mark's inner edge {self.inner} must lie inside of its outer edge {self.outer}."
            )
        if not 0 <= self.tilt < 60:
            raise ValueError(f"The camera leans by 0 to 60°; got {self.tilt}.")

    @property
    def radius(self) -> float:
        return self.rim_diameter / 2

    @cached_property
    def camera(self) -> TipCamera:
        """The camera that the scene describes."""
        columns, rows = self.size
        return TipCamera.over_tip(
            size=self.size,
            tip_at=self.tip_at or ((columns - 1) / 2, (rows - 1) / 2),
            pixels_per_inch=self.pixels_across / self.rim_diameter,
            distance=self.distance,
            tilt=self.tilt,
            tilt_toward=self.tilt_toward,
            turn=self.turn,
            front_clockwise=self.front_clockwise,
        )


@dataclass(frozen=True)
class TipPicture:
    """The picture, and the truth about it."""

    scene: TipScene
    pixels: NDArray[np.uint8]

    @property
    def width(self) -> float:
        """Width of the mark [in] on the line through the tip's centre."""
        return self.scene.outer - self.scene.inner

    @property
    def centre(self) -> float:
        """Middle of the mark [in] from the tip's centre, positive outboard."""
        return (self.scene.outer + self.scene.inner) / 2

    @property
    def front_width(self) -> float:
        """Width of the mark [in] half-way to the front rim."""
        return self.width + self.scene.taper / 2

    @property
    def rear_width(self) -> float:
        """Width of the mark [in] half-way to the rear rim."""
        return self.width - self.scene.taper / 2

    @property
    def toward_shaft(self) -> tuple[float, float]:
        """Unit vector in the picture, at the tip's centre."""
        return self._direction((-1e-4, 0.0))

    @property
    def toward_front(self) -> tuple[float, float]:
        """Unit vector in the picture, at the tip's centre."""
        return self._direction((0.0, 1e-4))

    @property
    def rim(self) -> tuple[tuple[float, float], float, float, float]:
        """The rim's ellipse: centre, half axes [px], turn of the longer one [deg, clockwise]."""
        return self.scene.camera.circle(self.scene.radius, self.scene.chamfer)

    def to_picture(self, points: Array) -> Array:
        """Points (n, 2) [in] of the tip as pixels."""
        return self.scene.camera.to_picture(points)

    def to_tip(self, pixels: Array) -> Array:
        """Pixels (n, 2) as points [in] of the tip."""
        return self.scene.camera.to_tip(pixels)

    def rim_points(self, count: int = 12, *, first: float = 0.0) -> Array:
        """Points on the rim [px], evenly round the tip; `first` [deg] from outboard toward the front."""
        angle = np.radians(first) + np.arange(count) * 2 * np.pi / count
        circle = self.scene.radius * np.column_stack([np.cos(angle), np.sin(angle)])
        return self.scene.camera.to_picture(circle, self.scene.chamfer)

    def inner_points(self, count: int = 3, *, reach: float = 0.6) -> Array:
        """Points on the inner edge [px], from rear to front, over this part of the rim's radius either way."""
        return self._edge_points(self.scene.inner, -self.scene.taper, count, reach)

    def outer_points(self, count: int = 3, *, reach: float = 0.6) -> Array:
        """Points on the outer edge [px], from rear to front, over this part of the rim's radius either way."""
        return self._edge_points(self.scene.outer, self.scene.taper, count, reach)

    def _edge_points(self, at: float, taper: float, count: int, reach: float) -> Array:
        y = np.linspace(-reach, reach, count) * self.scene.radius
        return self.to_picture(np.column_stack([at + taper * y / self.scene.rim_diameter, y]))

    def _direction(self, step: tuple[float, float]) -> tuple[float, float]:
        start, end = self.to_picture(np.array([(0.0, 0.0), step]))
        way = (end - start) / np.linalg.norm(end - start)
        return float(way[0]), float(way[1])


def draw_tip(scene: TipScene) -> TipPicture:
    """Draw the scene. The same scene gives the same picture."""
    random = np.random.default_rng(scene.seed)
    grain = Grain(random)
    picture = _background(scene, grain)
    columns, rows = _around_tip(scene)
    if columns.size and rows.size:
        part = picture[int(rows[0]) : int(rows[-1]) + 1, int(columns[0]) : int(columns[-1]) + 1]
        _draw_stem(scene, grain, part, columns, rows)
    picture *= _light_over(scene)[..., None]
    picture = blurred(picture, scene.blur)
    np.clip(picture * np.float32(scene.exposure), 0, None, out=picture)
    # As a camera does: the bright end is bent, then the square root stands in for its tone curve.
    picture = np.sqrt(picture / (picture * picture * np.float32(0.30) + 1) ** 0.5)
    picture *= 255
    grainy = random.standard_normal(picture.shape, dtype=np.float32)
    picture += grainy * np.float32(scene.noise) * (0.6 + picture / 320)
    return TipPicture(scene, np.clip(picture + 0.5, 0, 255).astype(np.uint8))


def _around_tip(scene: TipScene) -> tuple[Array, Array]:
    """The columns and rows that the stem can reach."""
    turn = np.linspace(0, 2 * np.pi, 90)
    circle = scene.radius * np.column_stack([np.cos(turn), np.sin(turn)])
    seen = np.vstack([scene.camera.to_picture(circle, depth) for depth in (0.0, STEM_SHOWN)])
    low = np.maximum(np.floor(seen.min(axis=0)) - 3, 0)
    high = np.minimum(np.ceil(seen.max(axis=0)) + 3, np.array(scene.size) - 1)
    return np.arange(low[0], high[0] + 1), np.arange(low[1], high[1] + 1)


def _background(scene: TipScene, grain: Grain) -> Picture:
    """What lies under the tip, out of focus: drawn small, blurred, stretched."""
    columns, rows = scene.size
    step = max(2.0, scene.pixels_across / 100)
    across = np.linspace(0, columns - 1, max(2, int(columns / step)))
    down = np.linspace(0, rows - 1, max(2, int(rows / step)))
    x, y = scene.camera.grid(across, down, STEM_SHOWN)
    small = blurred(surroundings(grain, x, y, radius=scene.radius), 1.6)
    return stretched(stretched(small, rows, 0), columns, 1)


def _draw_stem(scene: TipScene, grain: Grain, part: Picture, columns: Array, rows: Array) -> None:
    """The stem's side, the broken edge and the inked tip, painted over the background one after the other."""
    camera, radius = scene.camera, np.float32(scene.radius)
    pixel = np.float32(scene.rim_diameter / scene.pixels_across)
    light = math.radians(scene.light_from - scene.turn)
    toward = (math.cos(light), math.sin(light) * (1 if scene.front_clockwise else -1))

    x, y = camera.grid(columns, rows, scene.chamfer)
    low_x, low_y = camera.grid(columns, rows, STEM_SHOWN)
    cover, side_x, side_y, deep = _stem_side(x, y, low_x, low_y, radius, pixel)
    facing = side_x * toward[0] + side_y * toward[1]
    streaks = 0.5 + 0.5 * grain.along(np.arctan2(side_y, side_x) * 5 + 300)
    side = 0.05 + 0.30 * np.clip(facing, 0, 1) ** 3 + 0.12 * np.abs(facing) + 0.16 * streaks * streaks
    side = side * (1 - 0.8 * deep) * (1 + 0.05 * grain.along(deep * 160))
    _paint(part, cover, side[..., None] * STEEL)

    out = np.hypot(x, y)
    facing = (x * toward[0] + y * toward[1]) / np.maximum(out, 1e-6)
    broken = 0.16 + 0.75 * np.clip(facing, 0, 1) ** 3 + 0.20 * np.clip(-facing, 0, 1) ** 4
    broken = broken * (1 + 0.25 * grain.along(np.arctan2(y, x) * 60))
    thin = np.clip(0.22 + 0.35 * grain.over(x / radius * 9, y / radius * 9), 0, 1)
    _paint(
        part,
        np.clip(0.5 + (radius - out) / pixel, 0, 1),
        (broken[..., None] * STEEL) * dyed(thin, scene.colour),
    )

    x, y = camera.grid(columns, rows)
    edge = np.float32(scene.radius - scene.chamfer)
    _paint(part, np.clip(0.5 + (edge - np.hypot(x, y)) / pixel, 0, 1), _inked(scene, grain, x, y, toward))


def _paint(under: Picture, cover: Picture, over: Picture) -> None:
    under += cover[..., None] * (over - under)


def _stem_side(
    x: Picture, y: Picture, low_x: Picture, low_y: Picture, radius: np.float32, pixel: np.float32
) -> tuple[Picture, Picture, Picture, Picture]:
    """Where each ray meets the stem below its rim: cover, the way the side faces there, how far down (0 to 1)."""
    way_x, way_y = low_x - x, low_y - y
    length = np.maximum(way_x * way_x + way_y * way_y, 1e-12)
    nearest = -(x * way_x + y * way_y) / length
    miss = np.hypot(x + nearest * way_x, y + nearest * way_y)
    back = np.sqrt(np.clip(radius * radius - miss * miss, 0, None) / length)
    deep = nearest - back
    cover = np.clip(0.5 + (radius - miss) / pixel, 0, 1) * ((deep > 0) & (deep < 1))
    deep = np.clip(deep, 0, 1)
    return cover, (x + deep * way_x) / radius, (y + deep * way_y) / radius, deep


def _inked(scene: TipScene, grain: Grain, x: Picture, y: Picture, toward: tuple[float, float]) -> Picture:
    """The ground tip with its dye, its mark and the lamp's mirror image."""
    radius = scene.radius
    pixel = scene.rim_diameter / scene.pixels_across
    ground = steel(grain, x, y, ground_at=scene.ground_at, radius=radius)
    coat = brushed(grain, x, y, brushed_at=scene.brushed_at, uneven=scene.uneven, radius=radius)
    taken, lip = left_by_roller(
        grain,
        x,
        y,
        inner=scene.inner,
        outer=scene.outer,
        taper=scene.taper,
        ragged=scene.ragged,
        smear=scene.smear,
        soft=max(0.7 * pixel, 0.0005),
        radius=radius,
    )
    coat = (coat + 0.35 * lip) * (1 - taken)
    rubbed = 1 + taken * (
        0.30 + 0.14 * grain.along(y / radius * 110 + 900) + 0.08 * grain.along(y / radius * 37 + 50)
    )
    face = (ground * rubbed)[..., None] * STEEL * dyed(coat, scene.colour)
    # The lamp in a ground face is drawn out square to the grinding; in a coat of dye it is smaller and sharper.
    way = math.radians(scene.ground_at)
    from_x, from_y = x / radius - 0.42 * toward[0], y / radius - 0.42 * toward[1]
    along = from_x * math.cos(way) + from_y * math.sin(way)
    across = from_y * math.cos(way) - from_x * math.sin(way)
    wide = np.exp(-(along * along / 0.09 + across * across / 0.55))
    tight = np.exp(-(along * along / 0.05 + across * across / 0.09))
    shine = scene.glare * (wide * (0.45 + 0.9 * taken) * ground + 1.3 * tight * (1 - 0.5 * taken))
    return np.asarray(face + shine[..., None], dtype=np.float32)


def _light_over(scene: TipScene) -> Picture:
    """Brighter toward the light, a little darker in the corners."""
    columns, rows = scene.size
    across = (np.arange(columns, dtype=np.float32) - (columns - 1) / 2)[None, :]
    down = (np.arange(rows, dtype=np.float32) - (rows - 1) / 2)[:, None]
    way = math.radians(scene.light_from)
    slope = (across * math.cos(way) + down * math.sin(way)) / (rows / 2)
    corners = (across**2 + down**2) / (columns**2 + rows**2) * 4
    return np.asarray(np.clip(1 + scene.gradient * slope, 0.1, 2.5) * (1 - 0.15 * corners), dtype=np.float32)
