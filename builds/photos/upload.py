"""How a file comes in: into memory, up to what a photo may have, and nothing on the disk before it is looked at."""

import io
from typing import Any

from django.core.files.uploadedfile import InMemoryUploadedFile
from django.core.files.uploadhandler import FileUploadHandler, SkipFile
from django.http import HttpRequest

MOST_BYTES = 40_000_000
# What stands around the file in a request: its fields and their frames.
FRAME_BYTES = 100_000
TOO_LARGE = "standbook.too_large"


class PictureUploadHandler(FileUploadHandler):
    """Keeps a file in memory, and drops what is larger than a photo may be while it still comes in.

    The rest of a file that is too large is read and thrown away, so that the one who sends it gets a sentence and not a
    broken line.
    """

    def new_file(self, *args: Any, **kwargs: Any) -> None:
        """A file begins; one that is told to be too large is not even begun."""
        super().new_file(*args, **kwargs)
        self.pieces = io.BytesIO()
        told = _number(self.request.META.get("CONTENT_LENGTH", "")) if self.request else 0
        if told > MOST_BYTES + FRAME_BYTES:
            self._drop()

    def receive_data_chunk(self, raw_data: bytes, start: int) -> None:
        """Take the next piece."""
        if start + len(raw_data) > MOST_BYTES:
            self._drop()
        self.pieces.write(raw_data)

    def file_complete(self, file_size: int) -> InMemoryUploadedFile:
        """The whole file."""
        self.pieces.seek(0)
        return InMemoryUploadedFile(
            file=self.pieces, field_name=self.field_name, name=self.file_name, content_type=self.content_type,
            size=file_size, charset=self.charset, content_type_extra=self.content_type_extra,
        )  # fmt: skip

    def _drop(self) -> None:
        self.pieces = io.BytesIO()
        if self.request is not None:
            self.request.META[TOO_LARGE] = str(self.file_name or "")
        raise SkipFile


def too_large(request: HttpRequest) -> str | None:
    """The name of the file that was dropped because it is too large; None when none was."""
    return request.META.get(TOO_LARGE)


def _number(text: str) -> int:
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 20 else 0
