"""What other floors offer to do with a photo: keys on its page."""

from collections.abc import Callable

from builds.models import Photo

# Each takes a photo and names what may be done with it: words, and the address that they lead to.
photo_acts: list[Callable[[Photo], list[tuple[str, str]]]] = []


def acts_of(photo: Photo) -> list[tuple[str, str]]:
    """All that may be done with a photo."""
    return [act for provider in photo_acts for act in provider(photo)]
