"""The two ellipse fits against published points, a reference library, and a search of our own."""

import math

import numpy as np
import pytest
from scipy.optimize import minimize
from skimage.measure import EllipseModel

from valvetrain.geometry.ellipse import Ellipse, direct_ellipse, distances, nearest_ellipse
from valvetrain.geometry.rim import fit_rim

# Published: the eight points of Gander, Golub and Strebel 1994, "Least-squares fitting of circles and ellipses".
GANDER_GOLUB_STREBEL = np.array([[1, 2, 5, 7, 9, 3, 6, 8], [7, 6, 8, 7, 5, 7, 2, 4]], dtype=float).T

# Synthetic: a rim of radius 50 seen at 25°, turned by 33°, 72 points.
SYNTHETIC = Ellipse((300.0, 200.0), 50.0, 50.0 * math.cos(math.radians(25.0)), 33.0)


def _as_ours(model):
    (major, minor), (x, y) = model.axis_lengths, model.center
    return Ellipse((float(x), float(y)), float(major), float(minor), math.degrees(model.theta) % 180.0)


def _same(found, expected, tolerance):
    assert found.centre == pytest.approx(expected.centre, abs=tolerance)
    assert (found.semi_major, found.semi_minor) == pytest.approx(
        (expected.semi_major, expected.semi_minor), abs=tolerance
    )
    assert abs((found.turned - expected.turned + 90.0) % 180.0 - 90.0) < math.degrees(tolerance)


def test_the_direct_fit_of_the_published_points():
    # Reference library: scikit-image 0.26, direct algebraic fit of the published points.
    found = direct_ellipse(GANDER_GOLUB_STREBEL)
    assert found.centre == pytest.approx((5.06387772, 5.0697527), abs=5e-8)
    assert (found.semi_major, found.semi_minor) == pytest.approx((3.77566371, 2.642334), abs=5e-7)


def test_the_nearest_ellipse_of_the_published_points():
    # Published: as above, best ellipse by distance: centre (2.6996, 3.8160), axes 6.5187 and 3.0319, turned
    # by 0.3596, norm of the distances 1.1719. From memory, not opened again.
    found = nearest_ellipse(GANDER_GOLUB_STREBEL)
    assert found.centre == pytest.approx((2.6996, 3.8160), abs=5e-5)
    assert (found.semi_major, found.semi_minor) == pytest.approx((6.5187, 3.0319), abs=5e-5)
    assert math.radians(found.turned) == pytest.approx(0.3596, abs=5e-5)
    assert np.linalg.norm(distances(found, GANDER_GOLUB_STREBEL)) == pytest.approx(1.1719, abs=5e-5)


@pytest.mark.parametrize("fit", [direct_ellipse, nearest_ellipse])
def test_the_synthetic_rim(fit):
    # Closed form: the short axis is the long one times the cosine of the tilt.
    found = fit(SYNTHETIC.points(72))
    assert found.centre == pytest.approx((300.0, 200.0), abs=1e-6)
    assert (found.semi_major, found.semi_minor) == pytest.approx((50.0, 45.31538935), abs=1e-6)
    assert found.turned == pytest.approx(33.0, abs=1e-6)


def test_the_synthetic_rims_tilt():
    assert fit_rim(SYNTHETIC.points(72)).tilt == pytest.approx(25.0, abs=1e-6)


@pytest.mark.parametrize("seed", range(12))
def test_the_direct_fit_is_that_of_the_reference_library(seed):
    # Reference library: scikit-image, the same direct fit, on points that scatter.
    draws = np.random.default_rng(seed)
    seen = Ellipse(tuple(draws.uniform(-500, 3000, 2)), 400.0, draws.uniform(200, 390), draws.uniform(0, 180))
    points = seen.points(int(draws.integers(6, 40))) + draws.normal(0.0, 5.0, (1, 1))
    points = points + draws.normal(0.0, 4.0, points.shape)
    _same(direct_ellipse(points), _as_ours(EllipseModel.from_estimate(points)), 1e-6)


@pytest.mark.parametrize("seed", range(4))
def test_distances_are_those_of_the_reference_library(seed):
    # Reference library: scikit-image finds the nearest place on the ellipse by its own search.
    draws = np.random.default_rng(seed)
    points = SYNTHETIC.points(20) + draws.normal(0.0, 2.0, (20, 2))
    model = EllipseModel(SYNTHETIC.centre, (50.0, SYNTHETIC.semi_minor), math.radians(33.0))
    assert np.abs(distances(SYNTHETIC, points)) == pytest.approx(model.residuals(points), abs=1e-6)


@pytest.mark.parametrize("seed", range(4))
def test_no_ellipse_near_by_is_nearer(seed):
    # Independent method: a search without slopes over centre, axes and turn, on the library's distances.
    draws = np.random.default_rng(seed)
    points = SYNTHETIC.points(9) + draws.normal(0.0, 1.0, (9, 2))
    found = nearest_ellipse(points)

    def squares(values):
        model = EllipseModel(values[:2], values[2:4], values[4])
        return float(np.sum(model.residuals(points) ** 2))

    first = np.array([*found.centre, found.semi_major, found.semi_minor, math.radians(found.turned)])
    ours = squares(first)
    assert ours == pytest.approx(float(np.sum(distances(found, points) ** 2)), rel=1e-6)
    away = first + np.array([0.3, -0.3, 0.4, -0.4, 0.02])
    searched = minimize(squares, away, method="Nelder-Mead", options={"maxiter": 1500, "fatol": 1e-9})
    assert ours <= searched.fun + 1e-6
    assert searched.fun == pytest.approx(ours, rel=1e-3)
