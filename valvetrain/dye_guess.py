"""Where a picture shows an inked tip, roughly: dye with an oval outline, whatever cuts it up."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from scipy import ndimage
from skimage.filters import threshold_otsu
from skimage.measure import EllipseModel, label, ransac, regionprops
from skimage.morphology import convex_hull_image, disk, opening

from .picture_copy import Array, Copy, Mask, colourfulness

LEAST_COLOUR = 0.16
LEAST_ROUND = 0.62
"""Shorter over longer axis: a camera leaning by 50°."""
HUES = 36
NO_TIP = (
    "No inked tip was found in this picture. Tap the rim and both edges of the mark yourself, or take it again closer, "
    "sharp, with the whole rim in it."
)


class NoGuess(Exception):
    """Nothing in the picture that can be offered as a guess; says what to do. The rim, where that at least was found."""

    def __init__(self, sentence: str, rim: Array | None = None) -> None:
        super().__init__(sentence)
        self.rim = rim


@dataclass(frozen=True)
class Oval:
    """An ellipse in a picture: centre, half axes, turn of the first axis [rad, clockwise]."""

    x: float
    y: float
    first: float
    second: float
    turned: float

    @property
    def axes(self) -> Array:
        """2 × 2: from the unit circle to the ellipse about its centre, without turning the tip."""
        cos, sin = np.cos(self.turned), np.sin(self.turned)
        turn = np.array([[cos, -sin], [sin, cos]])
        axes: Array = turn @ np.diag([self.first, self.second]) @ turn.T
        return axes

    def at(self, unit: Array) -> Array:
        """Points (..., 2) given in parts of the rim's radius, as pixels."""
        pixels: Array = unit @ self.axes.T + np.array([self.x, self.y])
        return pixels

    def unit(self, pixels: Array) -> Array:
        """Pixels (..., 2) in parts of the rim's radius."""
        parts: Array = (pixels - np.array([self.x, self.y])) @ np.linalg.inv(self.axes).T
        return parts

    def points(self, count: int) -> Array:
        """Points all round."""
        angle = np.arange(count) * 2 * np.pi / count
        return self.at(np.column_stack([np.cos(angle), np.sin(angle)]))

    @property
    def roundness(self) -> float:
        return min(self.first, self.second) / max(self.first, self.second)


class QuickEllipse(EllipseModel):  # type: ignore[misc]
    """scikit-image's ellipse, with the distances that RANSAC asks for taken along the ray from the centre: a thousand
    times quicker than the true ones, and alike for points near the rim."""

    def residuals(self, data: Array) -> Array:
        oval = oval_of(self)
        out = np.linalg.norm(oval.unit(data), axis=1)
        return np.asarray(np.abs(out - 1) * min(oval.first, oval.second))


def oval_of(model: EllipseModel) -> Oval:
    (x, y), (first, second) = model.center, model.axis_lengths
    return Oval(float(x), float(y), float(first), float(second), float(model.theta))


def rough_oval(whole: Copy) -> Oval:
    """The best oval of dye in a small copy, in its pixels.

    Raises:
        NoGuess: no dye in the picture has an oval outline.
    """
    pixels = np.stack([ndimage.gaussian_filter(whole.pixels[..., part], 1.3) for part in range(3)], axis=-1)
    best, best_score = None, 0.0
    for mask in _dye_masks(pixels):
        for parts in _groups(mask):
            found = _outline(parts)
            if found and found[1] > best_score:
                best, best_score = found
    if best is None:
        raise NoGuess(NO_TIP)
    return best


def _dye_masks(pixels: Array) -> Iterator[Mask]:
    """Where each of the strongest colours in the picture is."""
    colour = colourfulness(pixels)
    if float(colour.max()) < LEAST_COLOUR:
        return
    split = max(LEAST_COLOUR, min(float(threshold_otsu(colour)), 0.45))
    strong = colour > split
    hue = np.arctan2(
        np.sqrt(3) * (pixels[..., 1] - pixels[..., 2]), 2 * pixels[..., 0] - pixels[..., 1] - pixels[..., 2]
    )
    bins = (np.floor((hue + np.pi) / (2 * np.pi) * HUES).astype(int)) % HUES
    counts = np.bincount(bins[strong], weights=colour[strong], minlength=HUES)
    counts = np.convolve(np.concatenate([counts[-2:], counts, counts[:2]]), np.ones(5), mode="valid")
    for _ in range(3):
        peak = int(counts.argmax())
        if counts[peak] < 0.004 * colour.size * split:
            return
        apart = np.abs((bins - peak + HUES // 2) % HUES - HUES // 2)
        yield opening(strong & (apart <= 4), disk(1))
        counts[[(peak + shift) % HUES for shift in range(-4, 5)]] = 0


def _groups(mask: Mask) -> Iterator[Mask]:
    """The larger pieces of a mask, alone and together: the mark cuts the dye in two, glare cuts it further."""
    labels = label(mask, connectivity=1)
    pieces = sorted(regionprops(labels), key=lambda piece: -piece.area)[:5]
    pieces = [
        piece for piece in pieces if piece.area > 0.04 * pieces[0].area and piece.area > 0.0008 * mask.size
    ]
    for count in range(len(pieces), 0, -1):
        for chosen in combinations(pieces, count):
            if count <= 3 or count == len(pieces):
                yield np.isin(labels, [piece.label for piece in chosen])


def _outline(mask: Mask) -> tuple[Oval, float] | None:
    """The ellipse about a mask, with a score: how much of its outline agrees, and how large it is."""
    hull = convex_hull_image(mask)
    border = hull & ~ndimage.binary_erosion(hull)
    rows, columns = np.nonzero(border)
    points = np.column_stack([columns, rows]).astype(float)
    if len(points) < 40:
        return None
    # A border along the edge of the picture is the picture's, not the tip's.
    height, width = mask.shape
    inside = (columns > 1) & (rows > 1) & (columns < width - 2) & (rows < height - 2)
    if inside.sum() < 0.6 * len(points):
        return None
    model, within = ransac(
        points[inside],
        QuickEllipse,
        min_samples=8,
        residual_threshold=max(1.2, 0.012 * np.sqrt(hull.sum())),
        max_trials=40,
        rng=1,
    )
    if model is None or not model or within is None:
        return None
    oval = oval_of(model)
    if oval.roundness < LEAST_ROUND or min(oval.first, oval.second) < 12:
        return None
    support = float(within.sum()) / len(points)
    area = np.pi * oval.first * oval.second
    filled = float(mask.sum()) / area
    if support < 0.6 or filled < 0.35 or abs(hull.sum() / area - 1) > 0.25:
        return None
    return oval, support**2 * area
