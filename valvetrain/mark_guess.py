"""A first guess of a tip's rim and of its mark's edges, from the picture itself: points to be accepted or moved.

Nothing is measured here. The guess stands where taps would; `valvetrain.geometry.mark` makes inches of either. Rather no
guess than a wild one: what is found must agree with itself all round the rim and along both edges.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from .band_guess import Band, Line, find_band
from .dye_guess import NoGuess, Oval
from .picture_copy import Array
from .rim_guess import find_rim

RIM_POINTS = 12
ALONG = 0.55
"""How far from the middle the outermost points on an edge stand, of half its length."""
LEAST_SIDE = 120
NO_MARK = (
    "The rim was found, but no bare strip across the ink. Tap both edges of the mark yourself, or take the picture again "
    "with the lamp's mirror image off the mark."
)


@dataclass(frozen=True)
class Guess:
    """Where taps would stand, in pixels of the picture."""

    rim: Array
    """(12, 2)"""
    inner: Array
    """(3, 2), along the edge nearer to the shaft."""
    outer: Array
    """(3, 2)"""


def guess_mark(pixels: NDArray[np.uint8], *, toward_shaft: tuple[float, float] | None = None) -> Guess:
    """Look for the rim of the tip and both edges of the mark.

    `pixels` is an upright picture, rows × columns × 3. `toward_shaft` is a direction in the picture (x right, y down):
    the edge that lies farther that way is the inner one. Without it the shaft is taken to lie to the left, and above
    where the mark lies level; the two edges may then have to change places.

    Raises:
        NoGuess: nothing found that holds together; the sentence says what to do, and `rim` is given where it was found.
    """
    if pixels.ndim != 3 or pixels.shape[2] < 3 or min(pixels.shape[:2]) < LEAST_SIDE:
        raise NoGuess("The picture is too small or has no colour. Take it again closer, or tap what you see.")
    picture = Image.fromarray(np.ascontiguousarray(pixels[..., :3]))
    refused: NoGuess | None = None
    for light in _lights(picture):
        try:
            rim, band = _found(picture if light is None else _in_white_light(picture, light))
            break
        except NoGuess as no:
            # The first refusal that has a rim says most.
            refused = no if refused is None or (refused.rim is None and no.rim is not None) else refused
    else:
        raise refused or NoGuess(NO_MARK)
    low, high = _edge_points(rim, band, band.low), _edge_points(rim, band, band.high)
    inner, outer = (low, high) if _low_is_inner(low, high, toward_shaft) else (high, low)
    return Guess(rim.points(RIM_POINTS), inner, outer)


def _found(picture: Image.Image) -> tuple[Oval, Band]:
    rim, fine = find_rim(picture)
    band = find_band(rim, fine)
    if band is None:
        raise NoGuess(NO_MARK, rim.points(RIM_POINTS))
    return rim, band


def _lights(picture: Image.Image) -> Iterator[Array | None]:
    """What colour the light may have: as the camera took it to be, else as the brightest there is, bright steel, says."""
    yield None
    small = np.asarray(picture.reduce(max(1, max(picture.size) // 300)), dtype=np.float32).reshape(-1, 3)
    light = np.percentile(small, 95, axis=0)
    if light.min() > 8 and light.max() / light.min() > 1.12:
        yield light


def _in_white_light(picture: Image.Image, light: Array) -> Image.Image:
    gains = float(light.mean()) / light
    return picture.point([min(255, round(value * gain)) for gain in gains for value in range(256)])


def _edge_points(rim: Oval, band: Band, edge: Line) -> Array:
    half = ALONG * np.sqrt(max(1 - edge.at**2, 0.05))
    return rim.at(band.points(edge, np.array([-half, 0.0, half])))


def _low_is_inner(low: Array, high: Array, toward_shaft: tuple[float, float] | None) -> bool:
    """Which of two edges lies nearer to the shaft: compared square to the mark, for that is how it travels."""
    between = low.mean(axis=0) - high.mean(axis=0)
    along = np.asarray(low[-1] - low[0], dtype=np.float64)
    square = np.array([-along[1], along[0]])
    square = square * np.sign(square @ between)
    toward: NDArray[Any] = np.array(toward_shaft if toward_shaft is not None else (-1.0, -0.05))
    return bool(square @ toward >= 0)
