"""Where a book lies: its folder, its database, its photos."""

import tomllib
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings
from django.core.files.storage import FileSystemStorage, storages
from django.db import connection

from builds.keeping.files import KeepingRefused

PASSPHRASE = "signing-passphrase"
# Inside the book's own folder: where it backs itself up when no other place is named.
OWN_PLACE = "backups"


@dataclass(frozen=True)
class Book:
    """The places of a book."""

    data: Path
    database: Path
    photos: Path

    @classmethod
    def here(cls) -> "Book":
        """The book that the settings name. Raises `KeepingRefused` for one that is kept in other ways."""
        if connection.vendor != "sqlite":
            raise KeepingRefused(
                f"This book is kept in {connection.vendor}; only SQLite is supported so far. Back it up with the tools "
                "of that database, and the folder of photos with it."
            )
        photos = storages["photos"]
        if not isinstance(photos, FileSystemStorage):
            raise KeepingRefused(
                "The photos of this book do not lie in a folder of this machine; only that is supported so far."
            )
        name = Path(str(connection.settings_dict["NAME"]))
        return cls(Path(settings.DATA_DIR).resolve(), name.resolve(), Path(photos.location).resolve())


def version() -> str:
    """The version of this Standbook."""
    told = tomllib.loads((Path(settings.BASE_DIR) / "pyproject.toml").read_text(encoding="utf-8"))
    return str(told["project"]["version"])
