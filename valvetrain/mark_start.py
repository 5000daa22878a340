"""The first guess that the screen offers: rim and edges looked for in the picture, on a copy of a size that is quick."""

from typing import Any

import numpy as np

from builds.photos.renditions import picture_of
from builds.recording import EntryRefused
from valvetrain.dye_guess import NoGuess
from valvetrain.mark_guess import guess_mark
from valvetrain.mark_photos import MarkPhoto
from valvetrain.mark_taps import GROUPS, MOST_POINTS, RIM, WAYS

# The longest side [px] of the copy that is looked at.
LOOKED_AT = 1600


def first_guess(on: MarkPhoto, toward_shaft: str) -> dict[str, Any]:
    """Points on rim and edges in pixels of the upright picture; with a sentence where only part of it was found.

    Raises `EntryRefused` where nothing was.
    """
    if on.not_here:
        raise EntryRefused("photo", on.not_here)
    picture = picture_of(on.photo)
    picture.thumbnail((LOOKED_AT, LOOKED_AT))
    scale = on.photo.width / picture.width
    try:
        found = guess_mark(np.asarray(picture), toward_shaft=WAYS.get(toward_shaft))
    except NoGuess as none:
        if none.rim is None:
            raise EntryRefused("photo", str(none)) from None
        nothing: dict[str, Any] = {group: [] for group in GROUPS}
        return nothing | {RIM: _points(none.rim, scale), "sentence": str(none)}
    return {group: _points(getattr(found, group), scale) for group in GROUPS}


def _points(found: Any, scale: float) -> list[list[float]]:
    """Points of the copy as points of the picture, evenly thinned out where there are more than a hand would tap."""
    points = np.asarray(found, dtype=float).reshape(-1, 2)
    if len(points) > MOST_POINTS:
        points = points[np.linspace(0, len(points) - 1, MOST_POINTS).round().astype(int)]
    # The middle of a pixel stays the middle of the patch that it stands for.
    placed: list[list[float]] = np.round((points + 0.5) * scale - 0.5, 2).tolist()
    return placed
