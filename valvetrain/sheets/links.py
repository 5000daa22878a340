"""Ways to the sheets from pages of the ground floor."""

from django.urls import reverse

from builds.models import Build


def photo_log_acts(build: Build) -> list[tuple[str, str]]:
    """From a job's photos to its photo log."""
    return [("Photo log", reverse("photo-log", args=[build.pk]))]
