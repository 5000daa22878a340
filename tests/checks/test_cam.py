"""Card arithmetic against the valve timing worked in a public army manual."""

from valvetrain.geometry.cam import CamEvents, card_disagreements, duration, intake_centreline, overlap

# Published: TM 9-8000, valve timing: intake open for 279 degrees, overlap 28 + 45 = 73 degrees.
INTAKE_OPENS, EXHAUST_CLOSES, INTAKE_DURATION, OVERLAP = 28.0, 45.0, 279.0, 73.0
# Hand-worked from them: closing 279 - 180 - 28, centreline 279 / 2 - 28.
INTAKE_CLOSES, INTAKE_CENTRELINE = 71.0, 111.5
# Not in the manual: any exhaust opening will do here.
EXHAUST_OPENS = 75.0


def test_the_manuals_overlap():
    assert overlap(INTAKE_OPENS, EXHAUST_CLOSES) == OVERLAP


def test_the_manuals_duration():
    assert duration(INTAKE_OPENS, INTAKE_CLOSES) == INTAKE_DURATION


def test_the_centreline_that_follows():
    assert intake_centreline(INTAKE_OPENS, INTAKE_CLOSES) == INTAKE_CENTRELINE


def test_the_manual_agrees_with_itself():
    events = CamEvents(INTAKE_OPENS, INTAKE_CLOSES, EXHAUST_OPENS, EXHAUST_CLOSES)
    assert card_disagreements(events, intake_duration=INTAKE_DURATION, overlap=OVERLAP) == []
