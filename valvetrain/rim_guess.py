"""The rim of an inked valve tip, looked for in a picture.

Layout dye is the one strong colour on a ground steel tip: where the dye ends is followed on rays. The stem may show below
the rim on the near side, and the edge of the tip is broken: the rim is the outermost line that goes all the way round.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy import ndimage
from skimage.measure import EllipseModel

from .dye_guess import NO_TIP, NoGuess, Oval, oval_of, rough_oval
from .picture_copy import Array, Copy, Mask, colourfulness, reduced

SMALL = 520
"""Longer side of the copy on which the dye is looked for [px]."""
FINE = 420
"""Half the rim's longer axis, about, in the copy on which it is followed [px]."""
RAYS = 240
LEAST_DYE = 0.45
"""Of the rays, how many must agree on where the dye ends."""
BROKEN_EDGE = 0.13
"""How far outside the dye the rim may lie, of the rim's radius."""
OUTER_SHARE = 0.36
"""Of the rays, how many must show the broken edge's outer line."""
SAME_EDGE = 0.025
"""How far two lines of one broken edge may differ from what one edge would show, of the rim's radius."""
NOT_DYE = 0.004
"""A line nearer to the end of the dye than this is the end of the dye."""


def find_rim(picture: Image.Image) -> tuple[Oval, Copy]:
    """The rim, and the copy of its surroundings on which it was followed.

    Raises:
        NoGuess: no dye with an oval outline is in the picture, or its outline cannot be followed all the way round.
    """
    whole = reduced(picture, max(1, -(-max(picture.size) // SMALL)))
    rough = rough_oval(whole)
    centre = whole.to_picture(np.array([rough.x, rough.y]))
    rough = Oval(
        float(centre[0]), float(centre[1]), rough.first * whole.step, rough.second * whole.step, rough.turned
    )
    longer = max(rough.first, rough.second)
    step = max(1, int(longer / FINE))
    reach = 1.4 * longer
    box = (
        max(0, int(rough.x - reach)),
        max(0, int(rough.y - reach)),
        min(picture.width, int(rough.x + reach) + 1),
        min(picture.height, int(rough.y + reach) + 1),
    )
    fine = reduced(picture, step, box)
    for within in (0.03, 0.012):
        rough, _ = _dye_ends(fine, rough, within)
    _, rays = _dye_ends(fine, rough, 0.012)
    rim = _outer_line(rough, rays)
    seen = rim.points(72)
    if (seen < -1).any() or (seen[:, 0] > picture.width).any() or (seen[:, 1] > picture.height).any():
        raise NoGuess(
            "The rim of the tip runs out of the picture. Take it again with the whole rim in it, or tap what you see."
        )
    return rim, fine


@dataclass(frozen=True)
class _Rays:
    """What lies along rays from the middle of an oval, and where the dye ends on them."""

    angle: Array
    out: Array
    colours: Array
    dye: _Ring


def _dye_ends(fine: Copy, rough: Oval, within: float) -> tuple[Oval, _Rays]:
    """The oval where the dye ends, and the rays on which it was followed. A rough oval is enough to start from."""
    angle = np.arange(RAYS) * 2 * np.pi / RAYS
    ways = np.column_stack([np.cos(angle), np.sin(angle)])
    pixel = fine.step / min(rough.first, rough.second)
    out = np.arange(0.82, 1.24, pixel)
    colours = fine.sampled(rough.at(ways[:, None, :] * out[None, :, None]))
    spread = (2.0, max(1.2, 0.003 / pixel))
    colours = np.stack([ndimage.gaussian_filter(colours[..., part], spread) for part in range(3)], axis=-1)
    fall = -np.gradient(colourfulness(colours), axis=1)
    most = fall.max(axis=1)
    dye = _ring(angle, _between(out, fall, fall.argmax(axis=1)), most > 0.35 * np.median(most), within=within)
    if dye is None or dye.share < LEAST_DYE:
        raise NoGuess(NO_TIP)
    return _fitted(rough, angle, dye), _Rays(angle, out, colours, dye)


def _fitted(rough: Oval, angle: Array, ring: _Ring) -> Oval:
    ways = np.column_stack([np.cos(angle), np.sin(angle)])
    model = EllipseModel.from_estimate(rough.at(ways[ring.good] * ring.at[ring.good, None]))
    if not model:
        raise NoGuess(NO_TIP)
    return oval_of(model)


def _outer_line(rough: Oval, rays: _Rays) -> Oval:
    """The outer line of the broken edge, or where the dye ends if no other line goes round.

    The edge is as deep as it is wide, so where the camera leans to, the outer line lies farther from the dye, and on
    the other side nearer. Which side that is, the ellipse does not tell: both are tried.
    """
    angle, out, dye = rays.angle, rays.out, rays.dye
    change = np.sqrt((np.gradient(rays.colours, axis=1) ** 2).sum(axis=-1))
    peaks = (change[:, 1:-1] > change[:, :-2]) & (change[:, 1:-1] >= change[:, 2:])
    least = np.maximum(3 * np.median(change, axis=1), 0.05 * np.median(change.max(axis=1)))
    strength = np.where(np.pad(peaks, ((0, 0), (1, 1))) & (change > least[:, None]), change, 0.0)
    from_dye = out[None, :] - dye.out[:, None]
    lean = np.sqrt(1 / rough.roundness**2 - 1)
    short = rough.turned if rough.first < rough.second else rough.turned + np.pi / 2
    lines: list[_Ring] = []
    for side in (lean, -lean):
        rings, seen = [], []
        for width in np.arange(0.006, BROKEN_EDGE, 0.006):
            expected = width * (1 + side * np.cos(angle - short))
            near = np.where(np.abs(from_dye - expected[:, None]) < 0.014, strength, 0.0)
            seen.append(float((near.max(axis=1) > 0).mean()))
            rings.append(_ring(angle, out[near.argmax(axis=1)], near.max(axis=1) > 0, within=0.007))
        # What the grain of the edge and the noise show at any distance is no line.
        least_share = max(OUTER_SHARE, 1.4 * float(np.median(seen)))
        for ring in rings:
            if ring is None or ring.share < least_share or ring.mean < dye.mean + NOT_DYE:
                continue
            off = ring.out - dye.out - (ring.mean - dye.mean) * (1 + side * np.cos(angle - short))
            if np.abs(off).max() < SAME_EDGE:
                lines.append(ring)
    clearest = max((line.share for line in lines), default=0.0)
    clear = [line for line in lines if line.share > 0.75 * clearest]
    return _fitted(rough, angle, max(clear, key=lambda line: line.mean, default=dye))


@dataclass(frozen=True)
class _Ring:
    """An ellipse near the one the rays were drawn for: how far out it is on each ray, and which rays agree."""

    out: Array
    at: Array
    good: Mask

    @property
    def share(self) -> float:
        return float(self.good.mean())

    @property
    def mean(self) -> float:
        return float(self.out.mean())


def _between(out: Array, values: Array, at: NDArray[np.intp]) -> Array:
    """The top of a parabola through the largest value of each ray and its neighbours."""
    at = np.clip(at, 1, values.shape[1] - 2)
    rays = np.arange(len(values))
    before, top, after = values[rays, at - 1], values[rays, at], values[rays, at + 1]
    bend = before - 2 * top + after
    shift = np.where(bend < -1e-9, 0.5 * (before - after) / np.where(bend < -1e-9, bend, 1), 0)
    between: Array = out[at] + np.clip(shift, -0.5, 0.5) * (out[1] - out[0])
    return between


def _ring(angle: Array, at: Array, use: Mask, *, within: float) -> _Ring | None:
    """The ring that most rays agree on. Near a circle an ellipse is its mean radius and the first two waves round it."""
    shape = np.column_stack(
        [np.ones_like(angle), np.cos(angle), np.sin(angle), np.cos(2 * angle), np.sin(2 * angle)]
    )
    usable = np.flatnonzero(use)
    if len(usable) < 0.33 * len(angle):
        return None
    random = np.random.default_rng(5)
    chosen = random.choice(usable, (300, 5))
    forms = shape[chosen]
    sound = np.abs(np.linalg.det(forms)) > 0.05
    fits = np.linalg.solve(forms[sound], at[chosen[sound]][..., None])[..., 0]
    fits = fits[np.abs(fits[:, 1:]).max(axis=1) < 0.12]
    if not len(fits):
        return None
    agree = (np.abs(fits @ shape.T - at) < within) & use
    good = agree[agree.sum(axis=1).argmax()]
    for _ in range(3):
        if good.sum() < 0.3 * len(angle):
            return None
        fit = np.linalg.lstsq(shape[good], at[good], rcond=None)[0]
        good = (np.abs(shape @ fit - at) < within) & use
    return _Ring(shape @ fit, at, good)
