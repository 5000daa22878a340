"""A round tip with two straight edges on it, seen by a camera: true geometry in space, nothing of ours.

The camera is a plain pinhole, or looks from infinitely far. Tip: x outboard, y toward the front, inches.
"""

import math
from dataclasses import dataclass

import numpy as np

from valvetrain.geometry.mark import measure_mark


def _turn(axis, degrees):
    cos, sin = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    if axis == "z":
        return np.array([[cos, -sin, 0.0], [sin, cos, 0.0], [0.0, 0.0, 1.0]])
    return np.array([[1.0, 0.0, 0.0], [0.0, cos, -sin], [0.0, sin, cos]])


@dataclass(frozen=True)
class SeenTip:
    diameter: float = 0.345
    inner: float = -0.020
    outer: float = 0.030
    taper: float = 0.0  # front width less rear width, half-way out
    tilt: float = 30.0
    toward: float = 0.0  # on the tip, which way the tilt goes
    roll: float = 0.0
    across: float = 800.0  # pixels across the tip
    distance: float = math.inf  # of the camera, in tip diameters
    beside: tuple[float, float] = (0.0, 0.0)  # how far beside the middle of the view the tip lies, degrees
    mirrored: bool = False  # the front to the left of outboard or to the right of it

    def picture(self, points):
        points = np.asarray(points, dtype=float)
        side = -1.0 if self.mirrored else 1.0
        flat = np.column_stack([points[:, 0], side * points[:, 1], np.zeros(len(points))])
        space = flat @ (_turn("z", self.roll) @ _turn("x", self.tilt) @ _turn("z", self.toward)).T
        scale = self.across / self.diameter
        if math.isinf(self.distance):
            seen = space[:, :2]
        else:
            away = self.distance * self.diameter
            shift = [away * math.tan(math.radians(angle)) for angle in self.beside]
            space = space + np.array([*shift, away])
            seen = space[:, :2] / space[:, 2:] * away
        return seen * [scale, -scale] + [1600.0, 1200.0]

    def rim(self, angles):
        angles = np.radians(angles)
        return self.picture(0.5 * self.diameter * np.column_stack([np.cos(angles), np.sin(angles)]))

    def edge(self, which, places):
        y = np.asarray(places, dtype=float)
        lean = self.taper / self.diameter
        x = self.inner - lean * y if which == "inner" else self.outer + lean * y
        return self.picture(np.column_stack([x, y]))

    @property
    def truth(self):
        width = self.outer - self.inner
        return {
            "inner": self.inner,
            "outer": self.outer,
            "width": width,
            "centre": 0.5 * (self.inner + self.outer),
            "front_width": width + 0.5 * self.taper,
            "rear_width": width - 0.5 * self.taper,
            "taper": self.taper,
        }

    def directions(self):
        centre, shaft, front = self.picture([[0.0, 0.0], [-0.05, 0.0], [0.0, 0.05]])
        return {"toward_shaft": tuple(shaft - centre), "toward_front": tuple(front - centre)}

    def near_side(self):
        """Direction in the picture of the rim's point that is nearest to the camera."""
        angle = math.radians(-90.0 - self.toward)
        side = -1.0 if self.mirrored else 1.0
        centre, near = self.picture([[0.0, 0.0], [0.01 * math.cos(angle), 0.01 * side * math.sin(angle)]])
        return tuple(near - centre)

    def taps(self, *, rim=8, edge=3, noise=0.0, draws=None, start=0.0):
        """Taps with this much scatter: on the rim evenly round, on each edge out to 0.6 of the radius."""
        draws = draws or np.random.default_rng(0)
        along = np.linspace(-0.3, 0.3, edge) * self.diameter
        true = {
            "rim_taps": self.rim(start + np.arange(rim) * 360.0 / rim),
            "inner_taps": self.edge("inner", along),
            "outer_taps": self.edge("outer", along),
        }
        return {name: places + draws.normal(0.0, noise, places.shape) for name, places in true.items()}

    def measured(self, *, rim=8, edge=3, noise=0.0, draws=None, start=0.0, **told):
        taps = self.taps(rim=rim, edge=edge, noise=noise, draws=draws, start=start)
        told = {"rim_diameter": self.diameter, **self.directions(), **told}
        return measure_mark(taps.pop("rim_taps"), **taps, **told)
