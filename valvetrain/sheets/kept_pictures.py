"""The pictures of a sheet, made ready from their kept files: by name and digest, whatever the records say by now."""

import hashlib
import logging
from collections.abc import Iterable, Mapping

from django.core.exceptions import SuspiciousOperation

from builds.photos.pictures import kind_of
from builds.photos.renditions import paper_jpeg
from builds.photos.storage import get
from builds.printing.press import PrintingFailed
from valvetrain.sheets.framing import Framed
from valvetrain.sheets.photo_lines import PhotoLog, PictureLine
from valvetrain.sheets.photo_page import PictureLost, photo_frames

GONE = "The file of this picture cannot be read; `manage.py health` says more."
CHANGED = "The file of this picture is not the one that was taken in; `manage.py health` says more."

logger = logging.getLogger(__name__)


def kept_jpeg(line: PictureLine, frame: Framed) -> bytes:
    """One picture as it is printed. Raises `PictureLost` where its file is gone, or is another by its SHA-256."""
    left, top, right, bottom = (round(side) for side in frame.box)
    try:
        data = get(line.file)
        if hashlib.sha256(data).hexdigest() != line.sha256:
            logger.warning("photo %s is not printed: its file is not what was taken in", line.photo)
            raise PictureLost(CHANGED)
        kind = kind_of(data)
        if kind is None:
            raise PictureLost(GONE)
        return paper_jpeg(data, kind, frame.long_side, (left, top, right, bottom))
    except (OSError, ValueError, SuspiciousOperation) as error:
        logger.warning("photo %s is not printed: %s", line.photo, error)
        raise PictureLost(GONE) from None


def kept_pictures(log: PhotoLog, *, strict: bool) -> tuple[dict[str, bytes], dict[str, str]]:
    """Every picture of a log by its key, and why those are lost that are; see `kept_jpegs`."""
    return kept_jpegs(log.pictures, photo_frames(log), strict=strict)


def kept_jpegs(
    pictures: Iterable[PictureLine], frames: Mapping[str, Framed], *, strict: bool
) -> tuple[dict[str, bytes], dict[str, str]]:
    """Pictures by their keys, each as its frame wants it, and why those are lost that are.

    A strict one is for a seal: a lost picture raises `PrintingFailed` with a sentence.
    """
    lines = {line.key: line for line in pictures}
    made: dict[str, bytes] = {}
    lost: dict[str, str] = {}
    for key, frame in frames.items():
        try:
            made[key] = kept_jpeg(lines[key], frame)
        except PictureLost as error:
            if strict:
                raise PrintingFailed(f"The photo {lines[key].name} cannot be printed. {error}") from None
            lost[key] = str(error)
    return made, lost
