"""Which sheets can be sealed: a registry that each floor fills with its own.

A kind knows how to take down all that its sheet prints, how to print that again from what was taken down alone, and what
a sheet lacks before it may be signed. It knows nothing of signatures and chains.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from builds.models import Build
from builds.printing.paper import Paper

Plain = dict[str, Any]


@dataclass(frozen=True)
class OutItem:
    """Something out of its limit, or a tool past its check: what it is, in words, and its value as it stands now."""

    key: str
    words: str
    value_text: str


@dataclass(frozen=True)
class Readiness:
    """What a sheet lacks before it may be signed.

    `missing` are sentences that must go away; `out` and `overdue` must each be accepted by name.
    """

    missing: list[str] = field(default_factory=list)
    out: list[OutItem] = field(default_factory=list)
    overdue: list[OutItem] = field(default_factory=list)


@dataclass(frozen=True)
class Signed:
    """A signature as it is printed."""

    role: str
    name: str
    typed_name: str
    meaning: str
    signed_at: str
    drawing: str


@dataclass(frozen=True)
class SealMarks:
    """What a sheet shows of its own seal. All of it is in the entry of the chain, so it can be printed again.

    `drawings` holds the strokes of each signature and the code with the address of the sheet's page, for the press.
    """

    number: int
    revision: int
    reason: str
    revises: int | None
    digest: str
    previous_digest: str
    sealed_at: str
    page: str
    signatures: tuple[Signed, ...]
    accepted: tuple[Mapping[str, str], ...]
    drawings: Mapping[str, str]


@dataclass(frozen=True)
class SealedPage:
    """A page for the press."""

    html: str
    drawings: Mapping[str, str] = field(default_factory=dict)
    pictures: Mapping[str, bytes] = field(default_factory=dict)
    stylesheets: tuple[str, ...] = ("css/sheet.css", "css/seal.css")


Subjects = Callable[[Build], list[tuple[str, str]]]
Take = Callable[[Build, str, str], Plain]
Render = Callable[[Plain, SealMarks | None, Paper], SealedPage]
Ready = Callable[[Build, str], Readiness]


@dataclass(frozen=True)
class SheetKind:
    """One kind of sheet that can be sealed.

    subjects   what of a job has such a sheet: (key, words); the key "" stands for the whole job
    take       plain JSON of everything printed, with `geometry_version` and `schema` (set from here), and without who
               printed it or when. Figures as the sheet shows them are text; numbers that drawings need are numbers
    render     the page from what was taken alone, for every schema ever used; ends with `sheets/_seal.html` when sealed
    readiness  what it lacks
    addresses  at which addresses a reading concerns it; None: at all of the job's. A new one voids the first signature
    """

    key: str
    name: str
    schema: int
    subjects: Subjects
    take: Take
    render: Render
    readiness: Ready
    addresses: Callable[[Build, str], set[str]] | None = None

    def taken(self, build: Build, subject: str, unit: str) -> Plain:
        """What is printed, with the kind and the edition of its form."""
        return {**self.take(build, subject, unit), "sheet": self.key, "schema": self.schema}

    def named(self, words: str) -> str:
        """The sheet's name with what it is about: setup sheet, left head."""
        return f"{self.name}, {words}" if words else self.name

    def titled(self, words: str) -> str:
        """The same as a heading."""
        told = self.named(words)
        return told[:1].upper() + told[1:]


class UnknownKind(KeyError):
    """No floor has such a sheet."""


_kinds: dict[str, SheetKind] = {}


def register(kind: SheetKind) -> None:
    """Add a kind; once."""
    if kind.key in _kinds and _kinds[kind.key] != kind:
        raise ValueError(f"the sheet {kind.key} is there already")
    _kinds[kind.key] = kind


def withdraw(key: str) -> None:
    """Take a kind out again; for tests that bring their own."""
    _kinds.pop(key, None)


def sheet_kinds() -> list[SheetKind]:
    """All kinds, in the order in which they came."""
    return list(_kinds.values())


def kind_of(key: str) -> SheetKind:
    """The kind with this key. Raises `UnknownKind`."""
    try:
        return _kinds[key]
    except KeyError:
        raise UnknownKind(key) from None
