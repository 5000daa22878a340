"""Photos on a page: their pictures in a size, and what the take keys need to know."""

from typing import Any

from django.template import Library
from django.urls import reverse

from builds.forms.photos import places_of
from builds.models import Build, Photo, PhotoKind
from builds.photos.renditions import size_of
from builds.photos.upload import MOST_BYTES

register = Library()


@register.inclusion_tag("builds/photos/_img.html")
def photo_img(photo: Photo, size: str, words: str = "") -> dict[str, Any]:
    """The picture of a photo, with its width and height, loaded when it comes into sight."""
    width, height = size_of(photo, size)
    address = reverse("photo-file", args=[photo.client_id, size])
    lazy = size == "thumb"
    return {"address": address, "width": width, "height": height, "words": words, "lazy": lazy}


@register.simple_tag
def photo_kinds() -> list[tuple[str, str]]:
    """What a photo may show."""
    return [(kind.value, kind.label) for kind in PhotoKind]


@register.simple_tag
def photo_places(job: Build) -> list[tuple[str, list[str]]]:
    """The addresses of a job, by what stands there."""
    return places_of(job)


@register.simple_tag
def photo_most_bytes() -> int:
    """How large the file of a photo may be."""
    return MOST_BYTES
