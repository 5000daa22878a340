"""A hand on the picture of a tip: taps at the very places, and what is then in the book."""

import pytest

from builds.models import Reading

WITHIN = 0.003  # in, of the mark as it was drawn

ON_PAGE = """point => { const box = stage.getBoundingClientRect(), [x, y] = view.toScreen(point);
  return [box.left + stage.clientLeft + x, box.top + stage.clientTop + y]; }"""


def place(screen, point) -> tuple[float, float]:
    """Where a place of the picture is on the page now."""
    x, y = screen.evaluate(ON_PAGE, [float(each) for each in point])
    return x, y


def tap(screen, group, points) -> None:
    screen.locator(f"[data-group={group}]").tap()
    for point in points:
        screen.touchscreen.tap(*place(screen, point))


def tap_all(screen, picture) -> None:
    tap(screen, "rim", picture.rim_points(8))
    tap(screen, "inner", picture.inner_points(3))
    tap(screen, "outer", picture.outer_points(3))


def counts(screen) -> list[str]:
    return screen.locator("[data-count]").all_inner_texts()


def say_how_it_lies(screen) -> None:
    screen.locator("[data-shaft=left]").tap()
    screen.locator("[data-front=up]").tap()


def saved(photo) -> dict[str, float]:
    standing = Reading.objects.standing().filter(photo=photo)
    return {reading.characteristic: float(reading.value) for reading in standing}


def assert_as_drawn(found, picture) -> None:
    # Independent method: where the mark lies is what the picture was drawn from.
    assert found["mark_inner"] == pytest.approx(picture.scene.inner, abs=WITHIN)
    assert found["mark_outer"] == pytest.approx(picture.scene.outer, abs=WITHIN)
    assert found["mark_front_width"] == pytest.approx(picture.front_width, abs=WITHIN)
    assert found["mark_rear_width"] == pytest.approx(picture.rear_width, abs=WITHIN)
