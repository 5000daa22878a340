"""Part of a picture, smaller: what is looked at where every pixel would cost too much, and how it lies in the picture."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy import ndimage

Array = NDArray[np.floating[Any]]
Mask = NDArray[np.bool_]


@dataclass(frozen=True)
class Copy:
    """A smaller copy of part of a picture, values 0 to 1, and how its pixels lie in the picture."""

    pixels: Array
    step: int
    left: int
    top: int

    def to_picture(self, points: Array) -> Array:
        """Pixels of the copy as pixels of the picture."""
        pixels: Array = (points + 0.5) * self.step - 0.5 + np.array([self.left, self.top])
        return pixels

    def from_picture(self, points: Array) -> Array:
        """Pixels of the picture as pixels of the copy."""
        pixels: Array = (points - np.array([self.left, self.top]) + 0.5) / self.step - 0.5
        return pixels

    def sampled(self, points: Array) -> Array:
        """Colours (..., 3) at points (..., 2) of the picture."""
        at = self.from_picture(points)
        where = [at[..., 1], at[..., 0]]
        return np.stack(
            [
                ndimage.map_coordinates(self.pixels[..., part], where, order=1, mode="nearest")
                for part in range(3)
            ],
            axis=-1,
        )


def reduced(picture: Image.Image, step: int, box: tuple[int, int, int, int] | None = None) -> Copy:
    """A copy of a part (left, top, right, bottom), `step` pixels made into one."""
    left, top, right, bottom = box or (0, 0, *picture.size)
    part = (
        picture.reduce(step, (left, top, right, bottom))
        if step > 1
        else picture.crop((left, top, right, bottom))
    )
    return Copy(np.asarray(part, dtype=np.float32) / 255, step, left, top)


def colourfulness(pixels: Array) -> Array:
    """How strongly coloured, 0 for grey; what is nearly black counts for little."""
    most = pixels.max(axis=-1)
    share: Array = (most - pixels.min(axis=-1)) / (most + 0.12)
    return share
