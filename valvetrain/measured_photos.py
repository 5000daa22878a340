"""The photos that a mark was measured on, each with the lines that it was measured by over it."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.safestring import SafeString, mark_safe

from builds.models import Photo, Reading
from valvetrain.mark_overlay import overlay_svg, overlay_words


@dataclass(frozen=True)
class MeasuredPhoto:
    """One photo with the reading of the inner edge that stands in the log from it: its context draws the lines."""

    photo: Photo
    reading: Reading
    unit: str

    @property
    def overlay(self) -> SafeString:
        """The lines over the whole picture, as an SVG of our own making."""
        return mark_safe(overlay_svg(self.photo, self.reading.context["mark"], unit=self.unit))

    @property
    def words(self) -> str:
        """The lines in a sentence."""
        return overlay_words(self.reading.context["mark"], self.unit)


def measured_photos(photos: Iterable[Photo], readings: Iterable[Reading], unit: str) -> list[MeasuredPhoto]:
    """Those photos of a valve's mark that its standing readings of the inner edge were measured on, in their order.

    Makes no query.
    """
    found = {reading.photo_id: reading for reading in readings if reading.context.get("mark")}
    return [MeasuredPhoto(photo, found[photo.pk], unit) for photo in photos if photo.pk in found]


def strays(readings: Iterable[Reading], address: str) -> dict[Photo, str]:
    """Photos on which a mark was measured that are not this valve's any more, and what became of each.

    Their filings are fetched beforehand; makes no query.
    """
    found = {}
    for photo in (reading.photo for reading in readings if reading.photo is not None):
        filing = photo.filing
        if filing.set_aside:
            found[photo] = "was set aside since"
        elif filing.position != address:
            found[photo] = (
                f"is filed at {filing.position} now" if filing.position else "is filed at no valve now"
            )
    return found


def filed_elsewhere(edges: Iterable[Reading], address: str) -> list[str]:
    """That a photo on which a mark was measured is not this valve's any more: a wrong valve, or set aside."""
    return [
        f"It was measured on {photo.name}, which {since}: take those readings back, or file the photo at {address} again."
        for photo, since in strays(edges, address).items()
    ]
