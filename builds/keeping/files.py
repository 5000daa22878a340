"""Files of a backup: written whole and onto the disk, read without following links."""

import contextlib
import errno
import hashlib
import os
import stat
from pathlib import Path
from typing import BinaryIO

from django.template.defaultfilters import filesizeformat

CHUNK = 1024 * 1024
DISK_FULL = {errno.ENOSPC, errno.EDQUOT}


class KeepingRefused(Exception):
    """A backup or a restore that is not made; the message is a sentence for the one who asked."""


class SourceUnreadable(OSError):
    """A file that can be opened and not read to its end."""


def open_plain(path: Path) -> BinaryIO:
    """Open a file for reading; a link, a pipe or a folder under its name raises `OSError`."""
    return open(path, "rb", opener=_plain_only)


def _plain_only(path: str, flags: int) -> int:
    # Not waiting for the other end of a pipe that somebody has put there.
    handle = os.open(path, flags | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0))
    if not stat.S_ISREG(os.fstat(handle).st_mode):
        os.close(handle)
        raise OSError(errno.EINVAL, "is no plain file", path)
    return handle


def read_plain(path: Path, most: int) -> bytes:
    """The bytes of a small file; `KeepingRefused` when it is larger than it can be meant to be."""
    with open_plain(path) as file:
        data = file.read(most + 1)
    if len(data) > most:
        raise KeepingRefused(f"{path.name} is larger than {room(most)}, so it is not what a backup writes.")
    return data


def digest(file: BinaryIO) -> tuple[int, str]:
    """Size and SHA-256 of what is left in an open file."""
    found, size = hashlib.sha256(), 0
    while piece := file.read(CHUNK):
        found.update(piece)
        size += len(piece)
    return size, found.hexdigest()


def digest_of(path: Path) -> tuple[int, str]:
    """Size and SHA-256 of a file as its disk gives it."""
    with open_plain(path) as file:
        if hasattr(os, "posix_fadvise"):
            # What the system still remembers of the file would be answered without asking the disk.
            os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)
        return digest(file)


def copy(source: BinaryIO, target: Path) -> tuple[int, str]:
    """Copy into a new file that only its owner reads. Size and SHA-256 of it, once it is on the disk.

    Raises `SourceUnreadable` when the source's disk fails in the middle; nothing of the copy is left then.
    """
    found, size = hashlib.sha256(), 0
    target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    try:
        with open(target, "xb", opener=_for_its_owner) as file:
            while piece := _piece(source):
                found.update(piece)
                size += file.write(piece)
            file.flush()
            os.fsync(file.fileno())
    except SourceUnreadable:
        target.unlink()
        with contextlib.suppress(OSError):
            os.removedirs(target.parent)  # those that are empty now
        raise
    return size, found.hexdigest()


def _piece(source: BinaryIO) -> bytes:
    try:
        return source.read(CHUNK)
    except OSError as error:
        raise SourceUnreadable(error.errno, error.strerror, str(source.name)) from None


def write(target: Path, data: bytes) -> None:
    """Write a new file that only its owner reads, onto the disk."""
    with open(target, "xb", opener=_for_its_owner) as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())


def write_over(target: Path, data: bytes) -> None:
    """Write a small file in the place of the one before: somebody who reads it finds the one or the other, whole."""
    fresh = target.with_name(f".{target.name}-{os.getpid()}")
    try:
        write(fresh, data)
        fresh.replace(target)
    finally:
        fresh.unlink(missing_ok=True)


def _for_its_owner(path: str, flags: int) -> int:
    return os.open(path, flags, 0o600)


def sync(path: Path) -> None:
    """Put a file that somebody else has written onto the disk."""
    with path.open("rb+") as file:
        os.fsync(file.fileno())


def settle(folder: Path) -> None:
    """Put a folder's own list of names onto the disk."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        # Some disks of other makes refuse this for a folder; they write its names with the files.
        with contextlib.suppress(OSError):
            os.fsync(handle)
    finally:
        os.close(handle)


def settle_all(folder: Path) -> None:
    """Put the lists of names of a folder and of all folders below it onto the disk."""
    for each, _folders, _files in os.walk(folder):
        settle(Path(each))


def why(error: OSError) -> str:
    """What went wrong with a disk, to stand after a colon."""
    if error.errno in DISK_FULL:
        return "there is no room left on it"
    return error.strerror or str(error)


def room(size: int) -> str:
    """A number of bytes as a person says it."""
    return filesizeformat(size).replace("\xa0", " ")
