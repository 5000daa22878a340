"""A camera over a valve tip: where a point of the tip falls in the picture, and back.

A pinhole, with true perspective: what is nearer is larger, and a round rim is not quite where its ellipse's centre says.
The tip is flat at z = 0 with the camera above it; x and y are the tip's own (outboard, front). Pixels run right and down,
and a whole number is the middle of a pixel.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.floating[Any]]


def _turn_onto(target: Array) -> Array:
    """The smallest rotation that takes the z axis onto a unit vector (in front of the camera, so never behind)."""
    x, y, z = target
    share = 1.0 / (1.0 + z)
    return np.array(
        [[1 - x * x * share, -x * y * share, x], [-x * y * share, 1 - y * y * share, y], [-x, -y, z]]
    )


@dataclass(frozen=True)
class TipCamera:
    """Where the camera stands, and how it is held."""

    matrix: Array
    """3 × 4: a point of the tip (x, y, z, 1) [in] to the picture, before the division."""

    @classmethod
    def over_tip(
        cls,
        *,
        size: tuple[int, int],
        tip_at: tuple[float, float],
        pixels_per_inch: float,
        distance: float,
        tilt: float,
        tilt_toward: float,
        turn: float,
        front_clockwise: bool,
    ) -> TipCamera:
        """A camera at a distance [in] from the tip's centre, leaning by `tilt` [deg] toward a direction on the tip.

        `tilt_toward` [deg] is measured on the tip from outboard toward the front; `turn` [deg] is where outboard points
        in the picture, clockwise from right, when nothing is tilted. `front_clockwise`: in the picture the front lies a
        quarter turn clockwise of outboard, as on one bank of an engine; on the other it is the mirror of it.
        """
        across = np.radians(turn)
        outboard = np.array([np.cos(across), np.sin(across), 0.0])
        clockwise = np.array([-np.sin(across), np.cos(across), 0.0])
        front = clockwise if front_clockwise else -clockwise
        # Seen from straight above, in the camera's axes: right, down, away from the camera.
        level = np.column_stack([outboard, front, [0.0, 0.0, -1.0]])
        way = np.radians(tilt_toward)
        lean = level @ np.array([np.cos(way), np.sin(way), 0.0])
        # The camera moves toward `lean`, so what lies there comes nearer: turn about the axis square to both.
        axis = np.array([-lean[1], lean[0], 0.0])
        angle = np.radians(tilt)
        cross = np.array([[0, 0, axis[1]], [0, 0, -axis[0]], [-axis[1], axis[0], 0]])
        tilted = np.eye(3) + np.sin(angle) * cross + (1 - np.cos(angle)) * cross @ cross
        if (tilted @ lean)[2] > 0:
            tilted = tilted.T
        focal = pixels_per_inch * distance
        middle = (np.array(size, dtype=float) - 1) / 2
        toward_tip = np.array([*((np.array(tip_at) - middle) / focal), 1.0])
        toward_tip /= np.linalg.norm(toward_tip)
        turned = _turn_onto(toward_tip)
        lens = np.array([[focal, 0.0, middle[0]], [0.0, focal, middle[1]], [0.0, 0.0, 1.0]])
        return cls(lens @ np.column_stack([turned @ tilted @ level, distance * toward_tip]))

    def plane(self, depth: float = 0.0) -> Array:
        """3 × 3: from the plane this deep [in] below the tip to the picture."""
        return np.column_stack(
            [self.matrix[:, 0], self.matrix[:, 1], self.matrix[:, 3] - depth * self.matrix[:, 2]]
        )

    def to_picture(self, points: Array, depth: float = 0.0) -> Array:
        """Points (n, 2) [in] of the tip, or of a plane below it, as pixels (n, 2)."""
        return _mapped(self.plane(depth), points)

    def to_tip(self, pixels: Array, depth: float = 0.0) -> Array:
        """Pixels (n, 2) as points (n, 2) [in] of the tip, or of a plane below it."""
        return _mapped(np.linalg.inv(self.plane(depth)), pixels)

    def grid(self, columns: Array, rows: Array, depth: float = 0.0) -> tuple[Array, Array]:
        """x and y [in] under every pixel of some columns and rows."""
        back = np.linalg.inv(self.plane(depth))
        across, down = columns[None, :], rows[:, None]
        scale = (1.0 / (back[2, 0] * across + back[2, 1] * down + back[2, 2])).astype(np.float32)
        x = (back[0, 0] * across + back[0, 1] * down + back[0, 2]).astype(np.float32) * scale
        y = (back[1, 0] * across + back[1, 1] * down + back[1, 2]).astype(np.float32) * scale
        return x, y

    def circle(self, radius: float, depth: float = 0.0) -> tuple[tuple[float, float], float, float, float]:
        """The ellipse that a circle about the stem's axis makes: centre, half axes [px], turn of the longer [deg]."""
        back = np.linalg.inv(self.plane(depth))
        conic = back.T @ np.diag([1.0, 1.0, -radius * radius]) @ back
        form, line = conic[:2, :2], conic[:2, 2]
        centre = np.linalg.solve(form, -line)
        values, axes = np.linalg.eigh(form / -(conic[2, 2] + line @ centre))
        major = axes[:, 0]
        turned = float(np.degrees(np.arctan2(major[1], major[0])) % 180.0)
        return (
            (float(centre[0]), float(centre[1])),
            float(values[0] ** -0.5),
            float(values[1] ** -0.5),
            turned,
        )


def _mapped(matrix: Array, points: Array) -> Array:
    points = np.asarray(points, dtype=float)
    flat = points @ matrix[:, :2].T + matrix[:, 2]
    mapped: Array = flat[:, :2] / flat[:, 2:]
    return mapped
