"""What nobody is asked when a mark is measured: a guess that was not moved, and an edge that is broken a little."""

import numpy as np
import pytest

from valvetrain.geometry.ellipse import Ellipse
from valvetrain.geometry.mark import measure_mark
from valvetrain.geometry.rim import fit_rim
from valvetrain.mark_sight import BROKEN_EDGE, pixel_of

SEEN = Ellipse((500.0, 400.0), 400.0, 346.41016, 90.0)  # 30° of tilt about the picture's upright
TOLD = {
    "inner_taps": [[465.0, 300.0], [465.0, 500.0]], "outer_taps": [[552.0, 300.0], [552.0, 500.0]],
    "rim_diameter": 0.4, "toward_shaft": (-1.0, 0.0), "toward_front": (0.0, -1.0),
}  # fmt: skip


def test_points_that_nobody_moved_claim_less_than_they_agree():
    assert pixel_of(fit_rim(SEEN.points(12)), 1.0) == pytest.approx(3.0)


def test_taps_of_a_hand_are_taken_as_they_are():
    shaken = SEEN.points(12) + np.random.default_rng(5).normal(0, 1, (12, 2))
    assert pixel_of(fit_rim(shaken), 1.0) == 1.0


def test_five_points_tell_nothing_of_how_they_were_laid():
    assert pixel_of(fit_rim(SEEN.points(5)), 1.0) == 1.0


def test_an_edge_broken_by_nobody_knows_how_much_is_in_the_centres_doubt():
    plain = measure_mark(SEEN.points(8), **TOLD)
    broken = measure_mark(SEEN.points(8), **TOLD, rim_below_standard=BROKEN_EDGE)
    # Hand-worked: .002 × tan 30° = .001155, beside the mark's width that stays.
    added = np.sqrt(broken.centre_standard**2 - plain.centre_standard**2)
    assert added == pytest.approx(0.001155, rel=0.02)
    assert broken.width_standard == pytest.approx(plain.width_standard, rel=1e-3)


def test_a_told_side_does_not_tell_how_much_the_edge_is_broken():
    told = {**TOLD, "near_side": (1.0, 0.0)}
    plain, broken = (measure_mark(SEEN.points(8), **told, rim_below_standard=u) for u in (0.0, BROKEN_EDGE))
    assert broken.centre == plain.centre
    assert broken.centre_standard > plain.centre_standard
