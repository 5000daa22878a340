"""The side on which the stem shows: what telling it brings, what is said about it, and that the drawing follows."""

import json
from dataclasses import dataclass
from xml.etree import ElementTree

import numpy as np
import pytest

from builds.verdicts import Rule
from tests.tapped import taps_on
from valvetrain.mark_overlay import overlay_svg
from valvetrain.mark_result import WorkedOut, drawn, frame_of, to_keep, work_out
from valvetrain.mark_side import side_words
from valvetrain.mark_taps import read_taps
from valvetrain.tip_picture import TipPicture, TipScene

SIZE = (800, 600)


@dataclass
class Upright:
    """The size of the picture, as the overlay asks for it."""

    width: int = SIZE[0]
    height: int = SIZE[1]


def seen(tilt: float, toward: float, distance: float = 10.0, chamfer: float = 0.0) -> TipPicture:
    """A tip seen by a known camera: outboard to the right, the front up. Nothing is painted: only places are asked."""
    scene = TipScene(
        inner=-0.030, outer=0.041, rim_diameter=0.342, chamfer=chamfer, size=SIZE, pixels_across=420.0, tilt=tilt,
        tilt_toward=toward, distance=distance,
    )  # fmt: skip
    return TipPicture(scene, np.zeros((1, 1, 3), dtype=np.uint8))


def worked(picture: TipPicture, stem_at: str = "") -> WorkedOut:
    """Taps as by a steady hand, the rim's in turn a little out and in, with the side of the stem told or not."""
    taps = taps_on(picture, stem_at=stem_at)
    for number, tap in enumerate(taps["rim"]):
        tap[0] += 0.1 * (-1) ** number
    found = work_out(read_taps(json.dumps(taps), size=SIZE))
    assert found.mark is not None
    return found


def said(found: WorkedOut) -> str:
    return side_words(found, Rule(), "in", pixel=1.0)


def off(picture: TipPicture, stem_at: str = "") -> float:
    """How far the centre is off what the picture was drawn from: independent method, the picture's own camera."""
    found = worked(picture, stem_at)
    assert found.mark is not None
    return abs(found.mark.centre - picture.centre)


# The camera leans outboard, which is to the right, inboard, to the front, which is up, or to the rear.
@pytest.mark.parametrize(
    ("toward", "side"), [(0.0, "right"), (180.0, "left"), (45.0, "right"), (45.0, "up"), (225.0, "down")]
)
def test_the_side_told_takes_the_cameras_distance_out_of_the_centre(toward, side):
    picture = seen(30.0, toward)
    assert off(picture) > 0.0008
    assert off(picture, side) < 0.0002


def test_the_wrong_side_is_worse_than_none():
    picture = seen(30.0, 0.0)
    assert off(picture, "left") > 1.4 * off(picture)


def test_an_edge_of_a_chamfer_tapped_for_the_rim_moves_the_centre():
    # Hand-worked: .020 of chamfer at 30°, .020 × tan 30° = .0115.
    assert off(seen(30.0, 0.0, chamfer=0.020)) == pytest.approx(0.0115, abs=0.002)


def test_a_camera_that_leaned_is_told_what_the_side_would_bring():
    picture = seen(30.0, 0.0)
    words = said(worked(picture))
    before, after = (
        f"± {2 * each.mark.centre_standard:.3f}" for each in (worked(picture), worked(picture, "right"))
    )
    assert words.startswith(
        "The camera leaned: say on which side the stem shows, and the centre is known to ± 0.00"
    )
    assert words.index(after) < words.index(before)


@pytest.mark.parametrize(("tilt", "toward"), [(0.0, 0.0), (4.0, 0.0), (30.0, 90.0)])
def test_nothing_is_said_where_the_side_would_bring_nothing(tilt, toward):
    # A camera that stands square, nearly square, or leans along the mark.
    assert said(worked(seen(tilt, toward))) == ""


def test_nothing_is_said_once_it_is_told():
    assert said(worked(seen(30.0, 0.0), "right")) == ""


def test_a_side_that_cannot_be_is_told_and_not_used():
    picture = seen(30.0, 0.0)
    assert "so the stem shows left or right, not up: that was not used." in said(worked(picture, "up"))
    assert off(picture, "up") == off(picture)


def test_the_pair_that_can_be_is_named_for_a_camera_leaning_up_or_down():
    # A mark askew to the picture, so that a camera that leans up or down moves its centre too.
    picture = TipPicture(
        TipScene(
            inner=-0.030, outer=0.041, rim_diameter=0.342, chamfer=0.0, size=SIZE, pixels_across=420.0, tilt=35.0,
            tilt_toward=60.0, turn=-30.0,
        ),
        np.zeros((1, 1, 3), dtype=np.uint8),
    )  # fmt: skip
    assert "narrower from top to bottom, so the stem shows up or down, not left" in said(
        worked(picture, "left")
    )


# ---- what is drawn and kept ---------------------------------------------------------------------------------------


def far(one, other) -> float:
    return float(np.abs(np.asarray(one) - np.asarray(other)).max())


def test_the_axes_cross_where_the_tips_centre_is_seen():
    picture = seen(30.0, 0.0)
    middle = picture.scene.camera.to_picture(np.zeros((1, 2)))[0]
    told, untold = (frame_of(worked(picture, side).mark)["origin"] for side in ("right", ""))
    assert far(told, middle) < 0.3 < far(untold, middle)
    across, _along = drawn(worked(picture, "right"))["axes"]
    ends = picture.scene.camera.to_picture(np.array([[-1.0, 0.0], [1.0, 0.0]]) * 0.171 * 1.12)
    assert far(across, ends) < 1.0


def test_the_overlay_draws_from_what_is_kept_what_the_screen_showed():
    found = worked(seen(30.0, 45.0), "right")
    lines = drawn(found)
    kept = json.loads(json.dumps(to_keep(found, SIZE)))
    assert kept["taps"]["stem_at"] == "right"
    svg = ElementTree.fromstring(overlay_svg(Upright(), kept))
    paths = [path.get("d")[1:].split("L") for path in svg.iter("{http://www.w3.org/2000/svg}path")]
    ends = [[list(map(float, place.split())) for place in path] for path in paths if len(path) == 2]
    for edge in lines["edges"]:
        assert min(far(edge, each) for each in ends) < 0.15


def test_the_edges_end_on_the_rim_that_was_tapped():
    found = worked(seen(30.0, 0.0), "right")
    assert found.rim is not None
    ends = np.array(drawn(found)["edges"]).reshape(-1, 2)
    assert np.hypot(*found.rim.on_disc(ends).T) == pytest.approx(np.ones(4), abs=1e-3)


def test_a_side_not_told_is_drawn_as_ever():
    found = worked(seen(30.0, 0.0))
    frame = frame_of(found.mark)
    assert frame["origin"] == pytest.approx(list(found.rim.centre), abs=0.01)
    assert frame["nearer"] == [0.0, 0.0]
