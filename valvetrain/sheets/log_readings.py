"""The readings of a job's log as a sheet needs them: with who took them and with what."""

from collections.abc import Iterable

from builds.logcells import StepState
from builds.models import Build, Reading


def log_readings(build: Build, states: Iterable[StepState]) -> list[Reading]:
    """Every standing reading of these steps, with who took it and with what."""
    keys = {characteristic.key for state in states for characteristic in state.step.measured}
    standing = Reading.objects.standing().filter(build=build, characteristic__in=keys)
    return list(standing.select_related("instrument", "taken_by"))


def people(readings: Iterable[Reading]) -> dict[int, tuple[str, str]]:
    """Instrument and person of each reading, by its key."""
    return {
        reading.pk: (reading.instrument.mark if reading.instrument else "", str(reading.taken_by))
        for reading in readings
    }


def taken_back(build: Build, addresses: set[str]) -> list[Reading]:
    """Every correction and striking-out at these addresses, oldest first."""
    return list(
        Reading.objects.filter(build=build, corrects__isnull=False, position__in=addresses)
        .select_related("instrument", "taken_by", "corrects__taken_by", "corrects__instrument")
        .order_by("pk")
    )
