"""Taps on a picture worked out: the mark in inches, what of it is drawn over the picture, and what its readings keep."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.mark import MeasuredMark, measure_mark
from valvetrain.geometry.mark_in_picture import to_picture
from valvetrain.geometry.rim import Rim, fit_rim
from valvetrain.mark_sight import BROKEN_EDGE, NEAREST_CAMERA, pixel_of
from valvetrain.mark_taps import WAYS, Taps
from valvetrain.worksheet_words import sentence

FIGURES = ("inner", "outer", "width", "centre", "front_width", "rear_width", "taper")
# The points of the ellipse on the screen.
ROUND = 72


@dataclass(frozen=True)
class WorkedOut:
    """What taps come to: the rim once it has points enough, the mark once everything is told, else why not."""

    taps: Taps
    rim: Rim | None = None
    mark: MeasuredMark | None = None
    missing: str = ""
    problem: str = ""

    @property
    def ready(self) -> bool:
        """Whether this can be saved."""
        return self.mark is not None


def work_out(taps: Taps, *, pixel: float = 1.0) -> WorkedOut:
    """Measure the mark. `pixel` is the size [px of the upright original] of a pixel of what was tapped."""
    rim = None
    try:
        if taps.rim_found:
            rim = fit_rim(taps.rim)
        if taps.missing:
            return WorkedOut(taps, rim, missing=taps.missing)
        return WorkedOut(taps, rim, measure_taps(taps, taps.rim, taps.inner, taps.outer, pixel))
    except GeometryError as error:
        return WorkedOut(taps, rim, problem=sentence(error))


def measure_taps(taps: Taps, rim: Any, inner: Any, outer: Any, pixel: float) -> MeasuredMark:
    """Measure these points with what the taps tell besides: the diameter, and what lies where."""
    assert taps.rim_diameter is not None
    pixel = pixel_of(fit_rim(rim), pixel)
    return measure_mark(
        rim, inner_taps=inner, outer_taps=outer, rim_diameter=float(taps.rim_diameter.base),
        toward_shaft=WAYS[taps.toward_shaft], toward_front=WAYS[taps.toward_front], pixel=pixel,
        near_side=WAYS[taps.stem_at] if taps.stem_at else None,
        viewing_distance=NEAREST_CAMERA, rim_below_standard=BROKEN_EDGE,
    )  # fmt: skip


# ---- drawn over the picture ---------------------------------------------------------------------------------------


def frame_of(mark: MeasuredMark) -> dict[str, Any]:
    """The tip's axes in the picture and the edges on the tip, so that the mark can be drawn over it at any time.

    A place (x, y) on the tip [in] is seen at origin + (x·X + y·Y) / (1 + p·x + q·y) [px], with X, Y for `x`, `y` and p, q
    for `nearer`: what lies nearer to the camera is seen larger. Both are zero where the side of the stem was not told.
    """
    radius = mark.rim_diameter / 2
    lean = mark.taper / mark.rim_diameter
    return {
        "origin": _rounded(mark.origin, 2),
        "x": _rounded(mark.across, 2),
        "y": _rounded(mark.along, 2),
        "nearer": _rounded(mark.projection[2][:2], 6),
        "radius": round(radius, 6),
        "edges": {
            "inner": _across_tip(mark.inner, -lean, radius),
            "outer": _across_tip(mark.outer, lean, radius),
        },
    }


def _across_tip(at: float, lean: float, radius: float) -> list[list[float]]:
    """Both ends [in] of an edge that crosses the tip: x = at + lean·y, as far as the rim."""
    # (at + lean·y)² + y² = radius²
    a, b, c = 1 + lean * lean, at * lean, at * at - radius * radius
    root = math.sqrt(max(b * b - a * c, 0.0))
    return [_rounded((at + lean * y, y), 6) for y in ((-b - root) / a, (-b + root) / a)]


def drawn(worked: WorkedOut) -> dict[str, list[Any]]:
    """The rim, the axes and the edges as lines in the picture [px], for the screen."""
    lines: dict[str, list[Any]] = {}
    if worked.rim is not None:
        lines["rim"] = np.round(worked.rim.points(ROUND), 2).tolist()
    if worked.mark is not None:
        frame = frame_of(worked.mark)
        reach = frame["radius"] * 1.12
        axes = ((-reach, 0.0), (reach, 0.0)), ((0.0, -reach), (0.0, reach))
        lines["axes"] = [_seen(worked.mark, ends) for ends in axes]
        lines["edges"] = [_seen(worked.mark, frame["edges"][name]) for name in ("inner", "outer")]
    return lines


def _seen(mark: MeasuredMark, ends: Sequence[Sequence[float]]) -> list[list[float]]:
    """Places on the tip [in] in the picture [px]."""
    seen: list[list[float]] = np.round(to_picture(mark, ends), 2).tolist()
    return seen


def _rounded(numbers: Sequence[float], places: int) -> list[float]:
    return [round(float(number), places) for number in numbers]


# ---- kept with the readings ---------------------------------------------------------------------------------------


def to_keep(worked: WorkedOut, size: tuple[int, int]) -> dict[str, Any]:
    """What the readings keep of the measurement: taps, what they came to, and what draws it over the picture again."""
    mark = worked.mark
    assert mark is not None
    return {
        "taps": worked.taps.to_keep(),
        "size": list(size),
        "rim": {
            "centre": _rounded(mark.rim.centre, 2),
            "semi_major": round(mark.rim.semi_major, 2),
            "semi_minor": round(mark.rim.semi_minor, 2),
            "turned": round(mark.rim.turned, 3),
        },
        "frame": frame_of(mark),
        "results": {name: round(getattr(mark, name), 6) for name in FIGURES}
        | {f"{name}_standard": round(getattr(mark, f"{name}_standard"), 7) for name in FIGURES}
        | {
            "tilt": round(mark.tilt, 2),
            "inch_per_pixel": round(mark.inch_per_pixel, 9),
            "tap_scatter": round(mark.tap_scatter, 3),
        },
        "covariance": [list(row) for row in mark.covariance],
    }
