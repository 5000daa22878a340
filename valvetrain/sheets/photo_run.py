"""Printing a photo log in the background."""

import logging
from collections.abc import Mapping
from uuid import UUID

from django.urls import reverse

from builds.models import Build, Person, Photo
from builds.photos.renditions import print_jpeg
from builds.printing.background import Progress, start
from builds.printing.paper import Paper
from builds.printing.runs import PrintRun
from valvetrain.sheets.framing import Framed
from valvetrain.sheets.photo_log import photo_log
from valvetrain.sheets.photo_page import PictureLost, photo_file_name, photo_pdf

LOST = (
    "The file of this picture cannot be read. What was measured on it stands; `manage.py health` says more."
)

logger = logging.getLogger(__name__)


def start_photo_log(build: Build, person: Person, *, run_id: UUID, paper: Paper) -> PrintRun:
    """Start printing the photo log of a job; safe to repeat. Raises `RunRefused` with a sentence.

    All that the log says is put together now; what is left for the background is the pictures and the press.
    """
    log, photos = photo_log(build, person)
    here = reverse("photo-log", args=[build.pk])
    run = PrintRun(
        id=run_id, job=build.pk, person=person.pk, title=f"Photo log, job {build.job_number}",
        file_name=photo_file_name(log), back=here, again=here, fields={"paper": paper.name},
    )  # fmt: skip

    def work(progress: Progress) -> bytes:
        return photo_pdf(log, paper, lambda key, frame: develop(photos, key, frame), progress)

    return start(run, work)


def develop(photos: Mapping[str, Photo], key: str, frame: Framed) -> bytes:
    """The JPEG of one picture as it is printed. Raises `PictureLost` where its file is not there or not readable."""
    left, top, right, bottom = (round(side) for side in frame.box)
    try:
        return print_jpeg(photos[key], frame.long_side, (left, top, right, bottom))
    except (OSError, ValueError) as error:
        logger.warning("photo %s is not printed: %s", photos[key].client_id, error)
        raise PictureLost(LOST) from None
