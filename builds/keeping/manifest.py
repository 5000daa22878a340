"""The manifest of a backup: every file with its size and digest, and what the book was. In and out, by the letter.

`manifest.json` is written in one way only (names sorted, two blanks of indent), so that the same backup has the same
manifest. `manifest.sha256` holds the digests once more, that of the manifest among them, as `sha256sum -c` takes them.
"""

import hashlib
import json
import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, NoReturn

from builds.keeping.files import KeepingRefused

NAME = "manifest.json"
SUMS = "manifest.sha256"
DATABASE = "database.sqlite3"
README = "README.txt"
PHOTOS = "photos/"
FORMAT = "standbook-backup"
VERSION = 1
MOST_BYTES = 200_000_000

_PATH = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]*(/[A-Za-z0-9][A-Za-z0-9._-]*)*\Z")
_DIGEST = re.compile(r"[0-9a-f]{64}\Z")
FAULTS = {
    "missing": "cannot be read from the book's folder of photos",
    "different": "is not the file that was taken in: its content has changed",
    "reference": "holds references that lead nowhere",
}


@dataclass(frozen=True, order=True)
class Kept:
    """One file of a backup."""

    path: str
    size: int
    sha256: str


@dataclass(frozen=True, order=True)
class Fault:
    """Something that was not well in the book when it was backed up: kind, name inside the book, and words for it."""

    what: str
    name: str
    label: str

    @property
    def sentence(self) -> str:
        """The fault, told."""
        return f"{self.label} {FAULTS[self.what]} ({self.name})."


@dataclass(frozen=True)
class NewestSheet:
    """The newest sealed sheet: kept outside the book, its digest bears witness to the whole chain before it."""

    number: int
    digest: str


@dataclass(frozen=True)
class Manifest:
    """What is in a backup."""

    standbook: str
    made_at: datetime
    shop: str
    migrations: dict[str, list[str]]
    rows: dict[str, int]
    newest_sheet: NewestSheet | None
    files: tuple[Kept, ...]
    faults: tuple[Fault, ...]

    def written(self) -> bytes:
        """The bytes of manifest.json."""
        sheet = self.newest_sheet
        plain = {
            "format": FORMAT,
            "version": VERSION,
            "standbook": self.standbook,
            "made_at": self.made_at.astimezone(UTC).isoformat(timespec="seconds"),
            "shop": self.shop,
            "database": "sqlite",
            "migrations": self.migrations,
            "rows": self.rows,
            "newest_sealed_sheet": sheet and {"number": sheet.number, "digest": sheet.digest},
            "files": [{"path": kept.path, "size": kept.size, "sha256": kept.sha256} for kept in self.files],
            "faults": [
                {"what": fault.what, "name": fault.name, "label": fault.label} for fault in self.faults
            ],
        }
        text = json.dumps(plain, indent=2, sort_keys=True, ensure_ascii=False)
        return text.encode(errors="surrogatepass") + b"\n"

    def sums(self) -> bytes:
        """The bytes of manifest.sha256."""
        own = Kept(NAME, 0, hashlib.sha256(self.written()).hexdigest())
        return "".join(f"{kept.sha256}  {kept.path}\n" for kept in sorted([own, *self.files])).encode()

    @property
    def photos(self) -> tuple[Kept, ...]:
        """The files that are photos."""
        return tuple(kept for kept in self.files if kept.path.startswith(PHOTOS))

    @property
    def size(self) -> int:
        """Bytes of all files together."""
        return sum(kept.size for kept in self.files)


def is_plain_path(path: str) -> bool:
    """Whether a name stays inside the folder that it is put in, on every kind of disk."""
    return len(path) <= 300 and bool(_PATH.match(path)) and ".." not in path


def read(data: bytes) -> Manifest:
    """Read manifest.json. Raises `KeepingRefused` with a sentence for everything that a backup does not write."""
    try:
        plain = json.loads(data, object_pairs_hook=_once, parse_constant=_no_number)
    except (ValueError, RecursionError):
        raise KeepingRefused(
            f"{NAME} cannot be read: it was cut off or written over. Use another backup."
        ) from None
    manifest = _from(_Reader("", plain))
    if manifest.written() != data:
        _wrong("it is not written as a backup writes it")
    return manifest


def _from(told: "_Reader") -> Manifest:
    if told.text("format") != FORMAT:
        raise KeepingRefused(f"{NAME} is not that of a Standbook backup.")
    if (version := told.number("version")) != VERSION:
        raise KeepingRefused(
            f"This backup is written in form {version}; this Standbook reads form {VERSION}. Use a newer Standbook."
        )
    if (engine := told.text("database")) != "sqlite":
        raise KeepingRefused(f"This backup holds a {engine} database; only SQLite is supported so far.")
    sheet = told.maybe("newest_sealed_sheet")
    return Manifest(
        standbook=told.text("standbook"),
        made_at=told.moment("made_at"),
        shop=told.text("shop"),
        migrations={app: told.of("migrations").texts(app) for app in told.of("migrations").plain},
        rows={table: told.of("rows").number(table) for table in told.of("rows").plain},
        newest_sheet=NewestSheet(sheet.number("number"), sheet.digest("digest")) if sheet else None,
        files=_files(told),
        faults=tuple(_fault(each) for each in told.each("faults")),
    )


def _files(told: "_Reader") -> tuple[Kept, ...]:
    files = tuple(
        Kept(each.path("path"), each.number("size"), each.digest("sha256")) for each in told.each("files")
    )
    names = [kept.path for kept in files]
    if names != sorted(set(names)):
        _wrong("its files are not each named once and in order")
    for name in (DATABASE, README):
        if name not in names:
            _wrong(f"it does not name {name}")
    for name in names:
        if name not in (DATABASE, README) and not name.startswith(PHOTOS):
            _wrong(f"it names {name}, which is no part of a backup")
    return files


def _fault(told: "_Reader") -> Fault:
    fault = Fault(told.text("what"), told.text("name"), told.text("label"))
    if fault.what not in FAULTS:
        _wrong(f"“{fault.what}” is no kind of fault")
    return fault


def _wrong(what: str) -> NoReturn:
    raise KeepingRefused(f"{NAME} is not as a backup writes it: {what}. Use another backup.")


def _once(pairs: Iterable[tuple[str, Any]]) -> dict[str, Any]:
    pairs = list(pairs)
    plain = dict(pairs)
    if len(plain) != len(pairs):
        _wrong("a name stands in it twice")
    return plain


def _no_number(word: str) -> NoReturn:
    _wrong(f"{word} stands in it where a number belongs")


class _Reader:
    """One object of the manifest, read by its names; what does not fit is refused with the name."""

    def __init__(self, where: str, plain: Any) -> None:
        self.where = where
        if not isinstance(plain, dict):
            _wrong(f"{where or 'it'} is no list of names and values")
        self.plain = plain

    def _get(self, name: str, kind: type) -> Any:
        where = f"{self.where}{name}"
        if name not in self.plain:
            _wrong(f"“{where}” is lacking")
        found = self.plain[name]
        if type(found) is not kind:
            _wrong(f"“{where}” holds what does not belong there")
        return found

    def text(self, name: str) -> str:
        return str(self._get(name, str))

    def number(self, name: str) -> int:
        found = int(self._get(name, int))
        if not 0 <= found < 2**63:
            _wrong(f"“{self.where}{name}” cannot be {found}")
        return found

    def digest(self, name: str) -> str:
        found = self.text(name)
        if not _DIGEST.match(found):
            _wrong(f"“{self.where}{name}” is no SHA-256")
        return found

    def path(self, name: str) -> str:
        found = self.text(name)
        if not is_plain_path(found):
            _wrong(f"“{found}” is no name of a file inside a backup")
        return found

    def moment(self, name: str) -> datetime:
        try:
            found = datetime.fromisoformat(self.text(name))
            found.astimezone(UTC)
        except (ValueError, OverflowError):
            _wrong(f"“{self.where}{name}” is no date and time")
        if found.tzinfo is None:
            _wrong(f"“{self.where}{name}” does not say in which time zone")
        return found

    def texts(self, name: str) -> list[str]:
        found = self._get(name, list)
        if not all(type(each) is str for each in found):
            _wrong(f"“{self.where}{name}” holds what does not belong there")
        return list(found)

    def of(self, name: str) -> "_Reader":
        return _Reader(f"{self.where}{name}.", self._get(name, dict))

    def maybe(self, name: str) -> "_Reader | None":
        return None if self.plain.get(name, "") is None else self.of(name)

    def each(self, name: str) -> "list[_Reader]":
        found = self._get(name, list)
        return [_Reader(f"{self.where}{name}[{number}].", each) for number, each in enumerate(found)]
