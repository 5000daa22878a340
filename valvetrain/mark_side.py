"""Whether it would help to know on which side the stem shows below the tip, and whether what was said of it is any use.

The rim's ellipse tells how far the camera leaned, but not to which side; the side on which the stem shows does.
"""

from dataclasses import replace

import numpy as np

from builds.uncertainty import plus_minus
from builds.verdicts import Rule
from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.mark import MeasuredMark
from valvetrain.mark_result import WorkedOut, measure_taps
from valvetrain.mark_taps import WAYS

# A camera that leaned by less than this [deg] moves the centre by next to nothing, to whichever side.
LITTLE = 5.0
# By how much of its U the centre must be better known for the question to be worth a tap.
WORTH_IT = 0.85
ACROSS, UPRIGHT = ("left to right", "left or right"), ("top to bottom", "up or down")


def side_words(worked: WorkedOut, rule: Rule, unit: str, *, pixel: float) -> str:
    """What is to be said about the side of the stem, as a sentence; nothing where it would gain nothing."""
    mark, taps = worked.mark, worked.taps
    if mark is None or mark.tilt < LITTLE or side_used(mark):
        return ""
    likely = _likeliest(mark)
    try:
        known = measure_taps(replace(taps, stem_at=likely), taps.rim, taps.inner, taps.outer, pixel)
    except GeometryError:
        return ""
    if known.centre_standard > WORTH_IT * mark.centre_standard:
        return ""
    if taps.stem_at:
        narrow, where = ACROSS if likely in ("left", "right") else UPRIGHT
        return (
            f"The rim is seen narrower from {narrow}, so the stem shows {where}, not {taps.stem_at}: that was not used. "
            "Look again, or choose Not seen."
        )
    better, now = (plus_minus(rule.expanded(each.centre_standard) or 0.0, unit) for each in (known, mark))
    return f"The camera leaned: say on which side the stem shows, and the centre is known to {better} instead of {now}."


def side_used(mark: MeasuredMark) -> bool:
    """Whether the side of the stem was told and went into the mark."""
    return bool(np.any(np.abs(mark.projection[2][:2]) > 1e-9))


def _likeliest(mark: MeasuredMark) -> str:
    """A way along the rim's short axis: the stem shows there or on the other side, and either tells as much."""
    _long, short = mark.rim.axes
    return max(WAYS, key=lambda way: float(np.dot(WAYS[way], short)))
