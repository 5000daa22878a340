"""How every sheet of a job stands with its signatures, and what it lacks: for the pages where they are signed."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from builds.models import Acceptance, Build, Person, Role, SealedSheet, Signature, Signing
from builds.models.sheets import SealedSheetQuerySet
from builds.sealing.acceptance import accepted_of, lacking
from builds.sealing.canonical import canonical, digest, digest_words
from builds.sealing.kinds import OutItem, SheetKind, UnknownKind, kind_of, sheet_kinds
from builds.sealing.standing import Standing, standing

WHOLE_JOB = "job"
NOTHING_SINCE = Standing()
MARK = 16  # hexadecimals that name an item as it was seen


class SheetState(StrEnum):
    """Where a sheet stands. The value is the word that a page says."""

    NOT_BEGUN = "not begun"
    PUT_UP = "put up, not signed"
    MOVED_ON = "changed before it was signed"
    SIGNED = "signed once, to be checked"
    VOID = "signature void"
    SEALED = "sealed"
    CHANGED = "sealed, changed since"


# The sign and the weight of a state, by the names that the stylesheet knows.
SIGNS = {
    SheetState.SIGNED: "is-look",
    SheetState.MOVED_ON: "is-look",
    SheetState.VOID: "is-out",
    SheetState.SEALED: "is-done",
    SheetState.CHANGED: "is-look",
}


@dataclass(frozen=True)
class SheetLine:
    """One sheet of a job: what is put up, who signed it, what changed since, and its newest sealed revision."""

    build: Build
    kind: SheetKind
    subject: str
    words: str
    signing: Signing | None = None
    signature: Signature | None = None
    sealed: SealedSheet | None = None
    since: Standing = NOTHING_SINCE

    @property
    def place(self) -> str:
        """The subject as it stands in an address."""
        return self.subject or WHOLE_JOB

    @property
    def name(self) -> str:
        """The sheet in words, as a heading."""
        return self.kind.titled(self.words)

    @property
    def state(self) -> SheetState:
        """Where it stands."""
        if self.signing is not None and self.signature is not None:
            return SheetState.VOID if self.since.is_void else SheetState.SIGNED
        if self.signing is not None:
            return SheetState.MOVED_ON if self.since.is_void else SheetState.PUT_UP
        if self.sealed is not None:
            return SheetState.CHANGED if self.since.is_void else SheetState.SEALED
        return SheetState.NOT_BEGUN

    @property
    def sign(self) -> str:
        """The sign beside the word."""
        return SIGNS.get(self.state, "is-todo")

    @property
    def waits_for_signature(self) -> bool:
        """Whether who measured can sign it now."""
        return self.state is SheetState.PUT_UP

    @property
    def waits_for_check(self) -> bool:
        """Whether somebody else can sign it now."""
        return self.state is SheetState.SIGNED

    @property
    def is_void(self) -> bool:
        """Whether something changed since it was put up."""
        return self.state in (SheetState.VOID, SheetState.MOVED_ON)

    @property
    def since_words(self) -> str:
        """What changed since it was put up, or since it was sealed; nothing where nothing did."""
        if self.state is not SheetState.CHANGED:
            return self.since.sentence
        count = len(self.since.differences)
        what = "1 figure" if count == 1 else f"{count} figures" if count else "the readings"
        return f"Since it was sealed, {what} changed. The sealed sheet stays as it is; a revision shows what is now."

    @property
    def digest_words(self) -> str:
        """The digest of what is put up, to be read out."""
        return "" if self.signing is None else digest_words(self.signing.digest)


def sheet_lines(build: Build) -> list[SheetLine]:
    """Every sheet that a job can have."""
    signings, sealed = _newest_signings(build), _newest_sealed(build)
    return [
        _line(build, kind, subject, words, signings, sealed)
        for kind in sheet_kinds()
        for subject, words in kind.subjects(build)
    ]


def sheet_line(build: Build, kind: SheetKind, subject: str) -> SheetLine:
    """One sheet of a job. Raises `KeyError` where the job has none of that."""
    words = dict(kind.subjects(build))[subject]
    return _line(build, kind, subject, words, _newest_signings(build), _newest_sealed(build))


def sealed_of(build: Build) -> SealedSheetQuerySet:
    """All sealed sheets of a job, newest first."""
    found: SealedSheetQuerySet = SealedSheet.objects.for_list().filter(signing__build=build)
    return found


def titled(build: Build, sheets: Iterable[SealedSheet]) -> list[SealedSheet]:
    """Sealed sheets of a job, each with its name in words as a heading."""
    page = list(sheets)
    names = sheet_names(page, {build.pk: build})
    for sheet in page:
        sheet.title = names[sheet.pk][:1].upper() + names[sheet.pk][1:]
    return page


def sheet_names(sheets: Iterable[SealedSheet], builds: Mapping[int, Build]) -> dict[int, str]:
    """Sealed sheet → its name in words: setup sheet, left head. One question for a job and kind that has subjects."""
    asked: dict[tuple[int, str], dict[str, str]] = {}
    names: dict[int, str] = {}
    for sheet in sheets:
        signing = sheet.signing
        try:
            kind = kind_of(signing.kind)
        except UnknownKind:
            names[sheet.pk] = signing.kind.replace("-", " ")
            continue
        key = (signing.build_id, kind.key)
        if signing.subject and key not in asked:
            asked[key] = dict(kind.subjects(builds[signing.build_id]))
        names[sheet.pk] = kind.named(asked[key].get(signing.subject, "") if signing.subject else "")
    return names


Key = tuple[str, str]


def _newest_signings(build: Build) -> dict[Key, Signing]:
    """What was put up last of each sheet, with its signatures."""
    found = Signing.objects.filter(build=build).defer("snapshot").select_related("begun_by", "revises")
    found = found.defer("snapshot", "revises__entry", "revises__pdf").order_by("pk")
    return {(each.kind, each.subject): each for each in found.prefetch_related("signatures__person")}


def _newest_sealed(build: Build) -> dict[Key, SealedSheet]:
    return {(each.signing.kind, each.signing.subject): each for each in sealed_of(build).order_by("number")}


def _line(
    build: Build,
    kind: SheetKind,
    subject: str,
    words: str,
    signings: dict[Key, Signing],
    sealed_sheets: dict[Key, SealedSheet],
) -> SheetLine:
    signing, sealed = signings.get((kind.key, subject)), sealed_sheets.get((kind.key, subject))
    if signing is not None and sealed is not None and sealed.signing_id == signing.pk:
        return SheetLine(
            build, kind, subject, words, sealed=sealed, since=_since_sealed(build, kind, signing)
        )
    if signing is None:
        return SheetLine(build, kind, subject, words, sealed=sealed)
    signing.build = build
    signature = next((each for each in signing.signatures.all() if each.role == Role.MEASURED), None)
    return SheetLine(build, kind, subject, words, signing, signature, sealed, standing(signing))


def _since_sealed(build: Build, kind: SheetKind, signing: Signing) -> Standing:
    """What changed since; nothing once the engine is out, nor where the form of the sheet is another by now."""
    if not build.takes_readings or kind.schema != signing.schema:
        return Standing()
    signing.build = build
    return standing(signing)


@dataclass(frozen=True)
class ItemLine:
    """Something that has to be accepted by name, and who did."""

    item: OutItem
    acceptance: Acceptance | None

    @property
    def mark(self) -> str:
        """The item as it was seen: another value, another mark."""
        return mark_of(self.item)


@dataclass(frozen=True)
class ReadyList:
    """What a sheet lacks, and what of it is accepted."""

    missing: Sequence[str]
    out: Sequence[ItemLine]
    overdue: Sequence[ItemLine]
    lacks: Sequence[str]

    @property
    def is_ready(self) -> bool:
        """Whether the sheet may be signed."""
        return not self.lacks

    @property
    def out_open(self) -> bool:
        """Whether something out is not accepted yet."""
        return any(line.acceptance is None for line in self.out)

    @property
    def overdue_open(self) -> bool:
        """Whether a tool past its check is not accepted yet."""
        return any(line.acceptance is None for line in self.overdue)


def ready_list(line: SheetLine) -> ReadyList:
    """What a sheet lacks now."""
    found, accepted = line.kind.readiness(line.build, line.subject), accepted_of(line.build)
    out, overdue = (list(_item_lines(items, accepted)) for items in (found.out, found.overdue))
    return ReadyList(found.missing, out, overdue, lacking(found, accepted))


def _item_lines(items: Sequence[OutItem], accepted: dict[tuple[str, str], Acceptance]) -> Iterator[ItemLine]:
    for item in items:
        yield ItemLine(item, accepted.get((item.key, item.value_text)))


def mark_of(item: OutItem) -> str:
    """A short name for an item with the value that it has."""
    return digest(canonical([item.key, item.value_text]))[:MARK]


def may_not_check(line: SheetLine, person: Person, right: str) -> str:
    """Why this person does not sign second; nothing where they may. `right` says why they have not the right."""
    if line.signature is not None and line.signature.person_id == person.pk:
        return "You signed this as measured. Somebody else has to check it: nobody checks their own work."
    return right
