"""Putting a sheet up for signing, signing it, sealing it: the only ways in.

What a person saw is what they sign: the sheet is taken down anew at every step, and any change voids what was signed
before. Everything slow (printing, signing the PDF) is done first; then one short transaction looks once more and writes
the checker's signature and the sealed sheet, or neither.
"""

from datetime import datetime
from uuid import UUID

from django.db import IntegrityError, transaction

from builds.models import Build, PaperSize, Person, Role, SealedSheet, Signature, Signing
from builds.sealing import authority
from builds.sealing.acceptance import accepted_of, lacking
from builds.sealing.canonical import canonical, digest
from builds.sealing.chain import Head, chain_of
from builds.sealing.kinds import SheetKind, UnknownKind, kind_of
from builds.sealing.making import Made, PageAddress, make, no_page
from builds.sealing.rules import Mark, SealRefused, may_check, refuse_mark
from builds.sealing.standing import newest_sealed, standing
from builds.sealing.trouble import told_as_sentences

TRIES = 3
LONGEST_REASON = 200


def begin(
    build: Build,
    person: Person,
    *,
    client_id: UUID,
    kind: str,
    subject: str,
    unit: str,
    paper: str,
    begun_at: datetime,
    reason: str = "",
) -> Signing:
    """Put a sheet up for signing, as it stands now. Safe to repeat. Raises `SealRefused` with a sentence.

    Where the sheet is sealed already this begins a revision of its newest, which needs a reason.
    """
    with told_as_sentences(), transaction.atomic():
        build = _lock(build)
        known = Signing.objects.filter(client_id=client_id).first()
        if known is not None:
            if (known.build_id, known.kind, known.subject) != (build.pk, kind, subject):
                raise SealRefused("This page was already used for another sheet. Load it again, then sign.")
            return known
        sheet = _kind(build, kind, subject)
        if unit not in ("in", "mm") or paper not in PaperSize.values:
            raise SealRefused("Choose inch or millimetre, and the paper that is in the printer.")
        revises = newest_sealed(build, kind, subject)
        reason = _reason(reason, revises)
        chain = chain_of(build)
        snapshot = canonical(sheet.taken(build, subject, unit))
        return Signing.objects.create(
            client_id=client_id, build=build, kind=kind, subject=subject, schema=sheet.schema, snapshot=snapshot,
            digest=digest(snapshot), readings=chain.count, readings_head=chain.head, unit=unit, paper=paper,
            begun_by=person, begun_at=begun_at, revises=revises, reason=reason,
        )  # fmt: skip


def _kind(build: Build, kind: str, subject: str) -> SheetKind:
    try:
        sheet = kind_of(kind)
    except UnknownKind:
        raise SealRefused("There is no such sheet. Go back to the job and choose one.") from None
    if subject not in dict(sheet.subjects(build)):
        raise SealRefused(f"This job has no {sheet.name} of that. Go back to the job and choose one.")
    return sheet


def _reason(reason: str, revises: SealedSheet | None) -> str:
    reason = reason.strip()
    if revises is None:
        return ""
    if not reason:
        raise SealRefused(
            f"This is sealed already, as sheet {revises.number}. A new one takes its place as a revision: say why."
        )
    if len(reason) > LONGEST_REASON:
        raise SealRefused(
            f"This reason is {len(reason)} characters long. Say it in {LONGEST_REASON} or fewer."
        )
    return reason


def sign(signing: Signing, person: Person, mark: Mark) -> Signature:
    """The first signature, of the one who measured. Safe to repeat. Raises `SealRefused` with a sentence."""
    refuse_mark(person, mark)
    with told_as_sentences():
        if (known := _known(signing, person, mark)) is not None:
            return known
        # A certificate of one's own from the first signature on, so that it is never younger than what it signs.
        authority.open_key(authority.certificate_for(person, mark.signed_at))
        try:
            with transaction.atomic():
                signing = _look_again(signing, mark)
                known = _known(signing, person, mark)
                return known or _signature(signing, person, Role.MEASURED, mark, save=True)
        except IntegrityError:
            return _told_who_was_first(signing, mark)


def _known(signing: Signing, person: Person, mark: Mark) -> Signature | None:
    """The signature that this very mark made; refuses where another stands there already."""
    standing_there = (
        Signature.objects.filter(signing=signing, role=Role.MEASURED).select_related("person").first()
    )
    if standing_there is None:
        return None
    if standing_there.client_id == mark.client_id and standing_there.person_id == person.pk:
        return standing_there
    raise SealRefused(f"{standing_there.person} signed this already. Now somebody else checks it.")


def _told_who_was_first(signing: Signing, mark: Mark) -> Signature:
    found = Signature.objects.filter(signing=signing, role=Role.MEASURED).select_related("person").first()
    if found is None or found.client_id != mark.client_id:
        who = "Somebody" if found is None else str(found.person)
        raise SealRefused(f"{who} signed this a moment ago. Load the page again.")
    return found


def seal(signing: Signing, checker: Person, mark: Mark, *, page: PageAddress = no_page) -> SealedSheet:
    """The second signature, of the checker, and with it the sealed sheet. Raises `SealRefused` with a sentence.

    Safe to repeat. The mark's time is the seal's. `page` gives the address of a sheet's page from its number.
    """
    refuse_mark(checker, mark)
    with told_as_sentences():
        if (done := _sealed(signing, mark)) is not None:
            return done
        for _try in range(TRIES):
            _refuse_checker(signing, checker)
            made = make(_look_again(signing, mark, locked=False), checker, mark, Head.now(), page)
            try:
                with transaction.atomic():
                    sheet = _write(made, mark)
            except IntegrityError:
                sheet = None  # another sheet took the number, or this one was sealed from elsewhere
            if sheet is not None:
                return sheet
            if (done := _sealed(signing, mark)) is not None:
                return done
    raise SealRefused("Other sheets are being sealed at this moment. Sign again. Nothing is sealed.")


def _sealed(signing: Signing, mark: Mark) -> SealedSheet | None:
    """The sheet that this very mark sealed; refuses where somebody else's did."""
    sheet = SealedSheet.objects.for_list().filter(signing=signing).first()
    if sheet is None:
        return None
    by = next(each for each in sheet.signing.signatures.all() if each.role == Role.CHECKED)
    if by.client_id == mark.client_id:
        return SealedSheet.objects.get(pk=sheet.pk)
    raise SealRefused(
        f"This was sealed a moment ago by {by.person}, as sheet {sheet.number}. There is nothing to sign."
    )


def _refuse_checker(signing: Signing, checker: Person) -> None:
    first = Signature.objects.filter(signing=signing, role=Role.MEASURED).first()
    if first is None:
        raise SealRefused("Nobody has signed this as measured yet. Who measured signs first.")
    if first.person_id == checker.pk:
        raise SealRefused(
            "You signed this as measured. Somebody else has to check it: nobody checks their own work."
        )
    if not may_check(checker):
        raise SealRefused("Checking needs the checker’s right. An owner gives it on the people page.")


def _look_again(signing: Signing, mark: Mark, *, locked: bool = True) -> Signing:
    """Whether the sheet is still what was put up and what was seen, and lacks nothing. Inside a transaction: hold it."""
    build = (
        _lock(signing.build) if locked else Build.objects.select_related("engine").get(pk=signing.build_id)
    )
    signing = Signing.objects.select_related("begun_by", "revises").get(pk=signing.pk)
    signing.build = build
    if mark.seen_digest != signing.digest:
        raise SealRefused(
            "This is not the sheet that was on your screen. Load the page again, look at it, then sign."
        )
    now = standing(signing)
    if now.is_void:
        raise SealRefused(now.sentence, differences=now.differences)
    holds = newest_sealed(build, signing.kind, signing.subject)
    if (holds and holds.pk) != signing.revises_id:
        raise SealRefused("This sheet was sealed meanwhile. Put it up anew, as a revision of that one.")
    lacks = lacking(kind_of(signing.kind).readiness(build, signing.subject), accepted_of(build))
    if lacks:
        raise SealRefused(f"This sheet is not ready: {lacks[0]}", lacks=lacks)
    return signing


def _write(made: Made, mark: Mark) -> SealedSheet | None:
    """Write both rows, if everything is still as it was when the PDF was made; None where the chain grew meanwhile."""
    build = _lock(made.signing.build)
    if SealedSheet.objects.filter(signing=made.signing).exists() or Head.now() != made.head:
        return None
    signing = _look_again(made.signing, mark)
    if made.is_stale(build):
        return None
    made.signature.signing = signing
    made.signature.save()
    made.sheet.signing = signing
    made.sheet.save()
    return made.sheet


def _signature(signing: Signing, person: Person, role: Role, mark: Mark, *, save: bool) -> Signature:
    signature = Signature(
        client_id=mark.client_id, signing=signing, role=role, person=person, typed_name=mark.typed_name.strip(),
        meaning=mark.meaning_as(role), strokes=mark.strokes, seen_digest=mark.seen_digest, signed_at=mark.signed_at,
    )  # fmt: skip
    if save:
        signature.save()
    return signature


def _lock(build: Build) -> Build:
    """Hold the job, as a reading does while it goes in: whichever comes second sees what the first wrote."""
    return Build.objects.select_for_update(of=("self",)).select_related("engine").get(pk=build.pk)
