"""What can go wrong outside the rules while a sheet is sealed, told as sentences: no room, no passphrase, no press."""

import errno
from collections.abc import Iterator
from contextlib import contextmanager

from django.db import DataError, InternalError, OperationalError

from builds.printing.press import PrintingFailed
from builds.sealing.authority import KeyTrouble
from builds.sealing.rules import SealRefused

DISK_FULL = {errno.ENOSPC, errno.EDQUOT}
NO_ROOM = "There is no room left on the book’s disk. Make room, then sign again. Nothing is sealed."


@contextmanager
def told_as_sentences() -> Iterator[None]:
    """Turn what the disk, the keys and the press may do into `SealRefused`."""
    try:
        yield
    except KeyTrouble as trouble:
        raise SealRefused(trouble.sentence) from trouble
    except PrintingFailed as failed:
        raise SealRefused(f"{failed.sentence} Nothing is sealed.") from failed
    except (OperationalError, InternalError, DataError) as error:
        words = str(error).lower()
        if "full" in words or "no space" in words:
            raise SealRefused(NO_ROOM) from error
        if "locked" in words or "busy" in words:
            raise SealRefused(
                "The book is busy with something else. Sign again in a moment. Nothing is sealed."
            ) from error
        raise
    except OSError as error:
        if error.errno in DISK_FULL:
            raise SealRefused(NO_ROOM) from error
        raise SealRefused(
            f"A file of the book cannot be read or written ({error.strerror or error}). `manage.py health` says more. "
            "Nothing is sealed."
        ) from error
