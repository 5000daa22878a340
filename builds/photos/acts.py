"""What other floors offer to do with a photo, or with all of a job: keys on their pages."""

from collections.abc import Callable

from builds.models import Build, Photo

# Each takes a photo and names what may be done with it: words, and the address that they lead to.
photo_acts: list[Callable[[Photo], list[tuple[str, str]]]] = []
# The same for a job: what may be done with its photos together.
job_photo_acts: list[Callable[[Build], list[tuple[str, str]]]] = []


def acts_of(photo: Photo) -> list[tuple[str, str]]:
    """All that may be done with a photo."""
    return [act for provider in photo_acts for act in provider(photo)]


def acts_of_job(job: Build) -> list[tuple[str, str]]:
    """All that may be done with the photos of a job."""
    return [act for provider in job_photo_acts for act in provider(job)]
