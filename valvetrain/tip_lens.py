"""What a lens does to a drawn picture: blur, and a small picture stretched to a large one."""

from __future__ import annotations

import numpy as np

from .tip_shading import Picture


def stretched(picture: Picture, count: int, axis: int) -> Picture:
    """So many rows (axis 0) or columns (axis 1), with straight lines between those there are."""
    at = np.linspace(0, picture.shape[axis] - 1, count)
    left = np.minimum(at.astype(int), picture.shape[axis] - 2)
    share = (at - left).astype(np.float32).reshape((-1, 1, 1) if axis == 0 else (1, -1, 1))
    wide: Picture = picture.take(left, axis) * (1 - share) + picture.take(left + 1, axis) * share
    return wide


def blurred(picture: Picture, spread: float) -> Picture:
    """Gaussian blur [px], the edges of the picture held."""
    if spread <= 0:
        return picture
    reach = max(1, int(np.ceil(3 * spread)))
    weights = np.exp(-0.5 * (np.arange(-reach, reach + 1) / spread) ** 2).astype(np.float32)
    weights /= weights.sum()
    rows, columns = picture.shape[:2]
    for axis in (0, 1):
        edge = [(0, 0)] * 3
        edge[axis] = (reach, reach)
        padded = np.pad(picture, edge, mode="edge")
        picture = np.zeros_like(picture)
        for shift, weight in enumerate(weights):
            picture += weight * (
                padded[shift : shift + rows] if axis == 0 else padded[:, shift : shift + columns]
            )
    return picture
