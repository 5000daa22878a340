"""Drawn pictures of a tip: what they say of themselves is so."""

import math
from dataclasses import replace

import numpy as np
import pytest
from skimage.measure import EllipseModel

from valvetrain.tip_picture import TipScene, draw_tip

SMALL = TipScene(size=(320, 240), pixels_across=160, noise=0, glare=0)


def test_seen_from_straight_above_a_point_falls_by_scale_alone() -> None:
    # Hand-worked: the middle of 1600 × 1200 is (799.5, 599.5); 0.1 in at 800 px over 0.3415 in is 234.26 px.
    picture = draw_tip(replace(SMALL, size=(1600, 1200), pixels_across=800))
    assert picture.to_picture(np.array([(0.0, 0.0), (0.1, 0.0)])) == pytest.approx(
        np.array([(799.5, 599.5), (799.5 + 234.26, 599.5)]), abs=0.01
    )


def test_a_leaning_camera_shortens_and_what_is_nearer_is_larger() -> None:
    # Hand-worked: a point x outboard is x·cos 30° across and 5 − x·sin 30° away; 160/0.3415 px per in at 5 in.
    camera = replace(SMALL, tilt=30, distance=5).camera
    scale = 160 / 0.3415
    for x in (-0.15, 0.15):
        across = scale * 5 * x * math.cos(math.radians(30)) / (5 - x * 0.5)
        assert camera.to_picture(np.array([(x, 0.0)])) == pytest.approx(
            np.array([(159.5 + across, 119.5)]), abs=1e-9
        )


@pytest.mark.parametrize(("tilt", "toward", "turn"), [(0, 0, 0), (35, 200, 110), (20, 45, -60)])
def test_pixels_lead_back_to_where_they_came_from(tilt: float, toward: float, turn: float) -> None:
    camera = replace(SMALL, tilt=tilt, tilt_toward=toward, turn=turn, tip_at=(90.0, 150.0)).camera
    points = np.array([(0.0, 0.0), (0.1, -0.05), (-0.16, 0.02)])
    assert camera.to_tip(camera.to_picture(points)) == pytest.approx(points, abs=1e-12)
    assert camera.to_picture(points)[0] == pytest.approx((90.0, 150.0))


def test_the_rims_ellipse_is_the_one_scikit_image_fits_to_its_points() -> None:
    # Independent method: scikit-image's fit of 60 points against the projected conic.
    picture = draw_tip(replace(SMALL, tilt=33, tilt_toward=70, turn=15, distance=3, chamfer=0.01))
    fitted = EllipseModel.from_estimate(picture.rim_points(60))
    centre, longer, shorter, turned = picture.rim
    assert fitted.center == pytest.approx(centre, abs=1e-6)
    assert sorted(fitted.axis_lengths) == pytest.approx([shorter, longer], abs=1e-6)
    way = fitted.theta if fitted.axis_lengths[0] > fitted.axis_lengths[1] else fitted.theta + math.pi / 2
    assert math.degrees(way) % 180 == pytest.approx(turned, abs=1e-4)


def test_front_lies_a_quarter_turn_from_outboard_on_the_side_told() -> None:
    picture = draw_tip(replace(SMALL, turn=30))
    assert picture.toward_shaft == pytest.approx((-math.cos(math.radians(30)), -0.5), abs=1e-4)
    assert picture.toward_front == pytest.approx((0.5, -math.cos(math.radians(30))), abs=1e-4)
    mirrored = draw_tip(replace(SMALL, turn=30, front_clockwise=True))
    assert mirrored.toward_front == pytest.approx((-0.5, math.cos(math.radians(30))), abs=1e-4)


def test_widths_half_way_to_the_rim_differ_by_the_taper() -> None:
    picture = draw_tip(replace(SMALL, inner=-0.030, outer=0.040, taper=0.010))
    # Hand-worked: 0.070 in the middle, half the taper either way.
    assert (picture.width, picture.centre) == pytest.approx((0.070, 0.005))
    assert (picture.front_width, picture.rear_width) == pytest.approx((0.075, 0.065))
    inner, outer = picture.inner_points(3, reach=0.5), picture.outer_points(3, reach=0.5)
    widths = picture.to_tip(outer)[:, 0] - picture.to_tip(inner)[:, 0]
    assert widths == pytest.approx([0.065, 0.070, 0.075])


@pytest.mark.parametrize(("colour", "channel"), [("blue", 0), ("red", 2)])
def test_the_dye_is_gone_between_the_edges_and_there_beside_them(colour: str, channel: int) -> None:
    picture = draw_tip(
        replace(
            SMALL,
            size=(800, 600),
            pixels_across=420,
            colour=colour,
            tilt=25,
            tilt_toward=130,
            turn=40,
            ragged=0.0,
        )
    )

    def brightness(x: float) -> float:
        along = np.column_stack([np.full(80, x), np.linspace(-0.09, 0.09, 80)])
        columns, rows = np.round(picture.to_picture(along)).astype(int).T
        return float(picture.pixels[rows, columns, channel].mean())

    scene = picture.scene
    for edge, inward in ((scene.inner, 1), (scene.outer, -1)):
        assert brightness(edge + inward * 0.003) > brightness(edge - inward * 0.003) + 60
    assert brightness(0.0) > 150


def test_the_same_scene_is_the_same_picture_and_another_seed_is_not() -> None:
    noisy = replace(SMALL, noise=3.0)
    first, again = draw_tip(noisy), draw_tip(noisy)
    assert first.pixels.shape == (240, 320, 3)
    assert first.pixels.dtype == np.uint8
    assert np.array_equal(first.pixels, again.pixels)
    assert not np.array_equal(first.pixels, draw_tip(replace(noisy, seed=2)).pixels)


def test_a_tip_that_hangs_over_the_edge_of_the_picture_is_drawn_as_far_as_it_goes() -> None:
    picture = draw_tip(replace(SMALL, tip_at=(0.0, 0.0), tilt=20))
    assert picture.pixels[:40, :40, 2].mean() > picture.pixels[-40:, -40:, 2].mean()


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"colour": "green"}, "The dye is one of blue, red"),
        ({"inner": 0.04, "outer": 0.03}, "must lie inside of its outer edge"),
        ({"tilt": 75.0}, "leans by 0 to 60°"),
    ],
)
def test_it_refuses_a_scene_that_cannot_be(wrong: dict[str, object], sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        replace(SMALL, **wrong)
