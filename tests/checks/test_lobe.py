"""A lobe through the valve timing worked in a public army manual."""

import pytest

from valvetrain.geometry.cam import intake_centreline
from valvetrain.geometry.lobe import card_lobe, event_lobe

# Published: TM 9-8000, valve timing: intake open for 279 degrees, opening 28 BTDC; hand-worked from them,
# closing 71 ABDC about a centreline of 111.5. The lift they are read at is not printed: any will do.
OPENS, CLOSES, DURATION, CENTRELINE = 28.0, 71.0, 279.0, 111.5
READ_AT, MOST = 0.006, 0.300


def test_the_manuals_duration_comes_back_from_its_events():
    lobe = event_lobe([(READ_AT, -OPENS, 180.0 + CLOSES)], max_lift=MOST, nose_at=CENTRELINE)
    assert lobe.duration_at(READ_AT) == pytest.approx(DURATION, abs=1e-9)


def test_the_manuals_events_come_back_from_its_duration():
    lobe = card_lobe([(READ_AT, DURATION)], max_lift=MOST, nose_at=intake_centreline(OPENS, CLOSES))
    assert lobe.events_at(READ_AT) == (
        pytest.approx(-OPENS, abs=1e-9),
        pytest.approx(180.0 + CLOSES, abs=1e-9),
    )
