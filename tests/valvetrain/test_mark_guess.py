"""The first guess of a mark from its picture, against drawn pictures: the camera that drew them knows where all is."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from valvetrain.geometry.mark import measure_mark
from valvetrain.mark_guess import Guess, NoGuess, guess_mark
from valvetrain.tip_picture import TipPicture, TipScene, draw_tip

# Every expected figure here: independent method, the drawing's own projection.
SCENE = TipScene(inner=-0.030, outer=0.041, size=(960, 720), pixels_across=480, seed=11)
EASY = {
    "square on": SCENE,
    "tilted 20°, turned": replace(SCENE, tilt=20, tilt_toward=60, turn=35),
    "tilted 20°, red, tapered": replace(
        SCENE, tilt=20, tilt_toward=150, turn=-100, colour="red", taper=0.010
    ),
    "the other bank": replace(SCENE, tilt=10, tilt_toward=300, turn=170, front_clockwise=True),
}
HARD = {
    "tilted 40°": replace(SCENE, tilt=40, tilt_toward=90, turn=60),
    "out of focus": replace(SCENE, blur=4.0),
    "noisy": replace(SCENE, noise=12.0),
    "lamp in the picture": replace(SCENE, glare=0.6, gradient=0.6),
    "a third off centre": replace(SCENE, tip_at=(320.0, 430.0), tilt=20, tilt_toward=10),
    "a quarter of the height": replace(SCENE, pixels_across=180),
    "nine tenths of the height": replace(SCENE, pixels_across=648),
    "a narrow mark near the rim": replace(SCENE, inner=0.060, outer=0.095),
    "a thick coat, unevenly brushed": replace(SCENE, uneven=0.6, smear=1.0, ragged=0.002),
}


def _seen(picture: TipPicture) -> Guess:
    return guess_mark(picture.pixels, toward_shaft=picture.toward_shaft)


def _errors(picture: TipPicture, guess: Guess) -> tuple[float, float]:
    mark = measure_mark(
        guess.rim,
        inner_taps=guess.inner,
        outer_taps=guess.outer,
        rim_diameter=picture.scene.rim_diameter,
        toward_shaft=picture.toward_shaft,
        toward_front=picture.toward_front,
    )
    return mark.width - picture.width, mark.centre - picture.centre


@pytest.mark.parametrize("scene", EASY.values(), ids=EASY)
def test_on_an_easy_picture_the_mark_is_guessed_within_four_thousandths(scene: TipScene) -> None:
    picture = draw_tip(scene)
    assert _errors(picture, _seen(picture)) == pytest.approx((0, 0), abs=0.004)


@pytest.mark.parametrize("scene", HARD.values(), ids=HARD)
def test_on_a_hard_picture_the_edges_lie_within_two_thousandths_where_they_are(scene: TipScene) -> None:
    picture = draw_tip(scene)
    guess = _seen(picture)
    assert picture.to_tip(guess.inner)[:, 0] == pytest.approx(scene.inner, abs=0.002)
    assert picture.to_tip(guess.outer)[:, 0] == pytest.approx(scene.outer, abs=0.002)


def test_it_gives_twelve_points_on_the_rim_and_three_along_each_edge() -> None:
    picture = draw_tip(EASY["tilted 20°, turned"])
    guess = _seen(picture)
    assert (guess.rim.shape, guess.inner.shape, guess.outer.shape) == ((12, 2), (3, 2), (3, 2))
    # Independent method: the rim lies below the tip by the broken edge, and its points as far out as its radius.
    out = np.hypot(*picture.scene.camera.to_tip(guess.rim, picture.scene.chamfer).T)
    assert out == pytest.approx(picture.scene.radius, abs=0.003)
    assert np.ptp(picture.to_tip(guess.inner)[:, 1]) > 0.12


def test_a_wide_broken_edge_is_not_taken_for_the_end_of_the_tip() -> None:
    picture = draw_tip(replace(SCENE, chamfer=0.010, pixels_across=600, tilt=15, tilt_toward=250))
    out = np.hypot(*picture.scene.camera.to_tip(_seen(picture).rim, picture.scene.chamfer).T)
    assert out == pytest.approx(picture.scene.radius, abs=0.003)


def test_the_edge_nearer_to_the_shaft_is_the_inner_one() -> None:
    picture = draw_tip(replace(SCENE, turn=90))
    above = guess_mark(picture.pixels, toward_shaft=(0.1, -1.0))
    below = guess_mark(picture.pixels, toward_shaft=(0.1, 1.0))
    assert above.inner[:, 1].mean() < above.outer[:, 1].mean()
    assert below.inner[:, 1].mean() > below.outer[:, 1].mean()
    assert above.inner == pytest.approx(below.outer)


def test_without_a_shaft_the_left_edge_is_the_inner_one() -> None:
    guess = guess_mark(draw_tip(replace(SCENE, turn=170)).pixels)
    assert guess.inner[:, 0].mean() < guess.outer[:, 0].mean()


@pytest.mark.parametrize("tint", [(1.1, 0.8, 0.45), (0.75, 0.95, 1.15)], ids=["lamp light", "shade"])
def test_coloured_light_does_not_hide_the_dye(tint: tuple[float, float, float]) -> None:
    picture = draw_tip(replace(SCENE, colour="red" if tint[0] > 1 else "blue"))
    tinted = np.clip(picture.pixels * np.array(tint), 0, 255).astype(np.uint8)
    guess = guess_mark(tinted, toward_shaft=picture.toward_shaft)
    assert picture.to_tip(guess.inner)[:, 0] == pytest.approx(SCENE.inner, abs=0.002)


def _noise() -> NDArray[np.uint8]:
    return np.random.default_rng(1).integers(0, 256, (600, 800, 3), dtype=np.uint8)


def _gradient() -> NDArray[np.uint8]:
    across, down = np.meshgrid(np.linspace(0, 255, 800), np.linspace(0, 255, 600))
    return np.stack([across, down, np.full_like(across, 120)], axis=-1).astype(np.uint8)


def _card() -> NDArray[np.uint8]:
    return np.clip(np.random.default_rng(2).normal(128, 6, (600, 800, 3)), 0, 255).astype(np.uint8)


def _blue_card() -> NDArray[np.uint8]:
    return np.full((600, 800, 3), (30, 50, 140), dtype=np.uint8)


def _striped_box() -> NDArray[np.uint8]:
    picture = Image.new("RGB", (800, 600), (120, 120, 120))
    pen = ImageDraw.Draw(picture)
    pen.rectangle((200, 100, 600, 500), fill=(30, 50, 140))
    pen.rectangle((360, 100, 430, 500), fill=(200, 200, 200))
    return np.asarray(picture)


@pytest.mark.parametrize("make", [_noise, _gradient, _card, _blue_card, _striped_box])
def test_where_there_is_no_tip_there_is_no_guess(make) -> None:
    with pytest.raises(NoGuess, match="No inked tip was found in this picture") as refused:
        guess_mark(make())
    assert refused.value.rim is None


@pytest.mark.parametrize(
    "scene",
    [
        replace(SCENE, inner=-1e-5, outer=1e-5, ragged=0.0),
        replace(SCENE, glare=6.0),
    ],
    ids=["inked and not run", "burnt out"],
)
def test_where_the_tip_shows_no_mark_its_rim_is_given_and_the_edges_are_asked_for(scene: TipScene) -> None:
    with pytest.raises(NoGuess, match="Tap both edges of the mark yourself") as refused:
        _seen(draw_tip(scene))
    assert refused.value.rim is not None
    assert refused.value.rim.shape == (12, 2)


def test_a_tip_that_is_half_out_of_the_picture_is_not_guessed() -> None:
    with pytest.raises(NoGuess, match="whole rim in it"):
        _seen(draw_tip(replace(SCENE, tip_at=(40.0, 360.0))))


def test_a_tip_without_dye_is_not_guessed() -> None:
    grey = draw_tip(SCENE).pixels.mean(axis=-1, keepdims=True).repeat(3, axis=-1).astype(np.uint8)
    with pytest.raises(NoGuess, match="No inked tip"):
        guess_mark(grey)


@pytest.mark.parametrize("shape", [(50, 50, 3), (600, 800)], ids=["tiny", "without colour"])
def test_a_picture_too_small_or_grey_is_refused_with_a_sentence(shape: tuple[int, ...]) -> None:
    with pytest.raises(NoGuess, match="too small or has no colour"):
        guess_mark(np.zeros(shape, dtype=np.uint8))


@pytest.mark.parametrize("toward", [0, 45, 90, 135])
def test_taps_a_pixel_off_give_the_mark_within_three_thousandths_at_thirty_degrees(toward: float) -> None:
    scene = TipScene(inner=-0.036, outer=0.031, tilt=30, tilt_toward=toward, turn=15, pixels_across=800)
    picture = TipPicture(scene, np.zeros((1, 1, 3), dtype=np.uint8))
    random = np.random.default_rng(7)

    def tapped(points: NDArray[np.floating]) -> NDArray[np.floating]:
        return points + random.normal(0, 1, points.shape)

    taps = Guess(
        tapped(picture.rim_points(12)), tapped(picture.inner_points(3)), tapped(picture.outer_points(3))
    )
    assert _errors(picture, taps) == pytest.approx((0, 0), abs=0.003)
