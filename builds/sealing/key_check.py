"""The shop's certificates and keys held against one another, and signatures that lead to no sheet."""

from collections.abc import Iterator

from cryptography import x509
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric import ec

from builds.models import Authority, Person, Role, Signature, SignerCertificate, Signing
from builds.sealing.authority import (
    KeyTrouble,
    certificate_of,
    passphrase,
    passphrase_file,
    reason_in,
    unwrap,
)
from builds.sealing.canonical import digest
from builds.sealing.standalone import Fault

NOT_OPENED = "The keys themselves were not looked at: the passphrase is not here."


def key_faults(notes: list[str]) -> Iterator[Fault]:
    """Whether every certificate is sound, from its root, of its time, and its key its own."""
    secret = _secret(notes)
    roots = {root.pk: root for root in Authority.objects.all()}
    people = {person.pk: person for person in Person.objects.all()}
    newest = max(roots, default=0)
    for root in roots.values():
        if root.reason:
            notes.append(
                f"The keys were made anew on {root.made_at:%d %b %Y}: {root.reason}. Older ones only verify."
            )
        # The passphrase of older keys may be lost: what they signed is verified without it.
        yield from _record_faults(root, f"root {root.pk}", secret, root, may_stay_shut=root.pk != newest)
    for record in SignerCertificate.objects.all():
        where = f"certificate {record.pk} ({people.get(record.person_id, 'nobody')})"
        if record.authority_id in roots:
            old = record.authority_id != newest
            yield from _record_faults(record, where, secret, roots[record.authority_id], may_stay_shut=old)
        else:
            yield Fault(where, "the root that it names is gone from the book")


def _secret(notes: list[str]) -> bytes | None:
    if not Authority.objects.exists():
        return None
    try:
        return passphrase()
    except KeyTrouble:
        notes.append(
            f"{NOT_OPENED} It is given by STANDBOOK_SIGNING_PASSPHRASE, or lies in {passphrase_file().name}."
        )
        return None


def _record_faults(
    record: Authority | SignerCertificate,
    where: str,
    secret: bytes | None,
    issuer: Authority,
    *,
    may_stay_shut: bool,
) -> Iterator[Fault]:
    try:
        certificate, root = certificate_of(record), certificate_of(issuer)
    except ValueError:
        yield Fault(where, "it cannot be read")
        return
    if not _issued_by(certificate, root):
        yield Fault(where, "it is not from the shop’s root that it names")
    if certificate.not_valid_before_utc != record.made_at:
        yield Fault(
            where, f"the book says made at {record.made_at:%d %b %Y %H:%M:%S}, the certificate says otherwise"
        )
    if isinstance(record, Authority) and reason_in(certificate) != record.reason:
        yield Fault(
            where, f"the book says it was made because “{record.reason}”, the certificate says otherwise"
        )
    if secret is None:
        return
    try:
        key = unwrap(record.wrapped_key, secret)
    except KeyTrouble:
        if not may_stay_shut:
            yield Fault(
                where,
                "its key does not open with the shop’s passphrase: it was touched, or the passphrase is another",
            )
        return
    if key.public_key() != certificate.public_key():
        yield Fault(where, "its key is not the one of its certificate")


def _issued_by(certificate: x509.Certificate, root: x509.Certificate) -> bool:
    try:
        certificate.verify_directly_issued_by(root)
    except (ValueError, TypeError, InvalidSignature):
        return False
    return isinstance(certificate.public_key(), ec.EllipticCurvePublicKey)


def loose_faults() -> Iterator[Fault]:
    """Sheets that were checked and yet are not there, and what is put up for signing and was touched."""
    for signature in Signature.objects.filter(role=Role.CHECKED, signing__sheet__isnull=True).select_related(
        "person", "signing__build"
    ):
        where = f"job {signature.signing.build.job_number}"
        yield Fault(
            where,
            f"{signature.person} sealed a {signature.signing} on {signature.signed_at:%d %b %Y}; it is gone",
        )
    for signing in Signing.objects.filter(sheet__isnull=True).select_related("build").iterator():
        where = f"job {signing.build.job_number}"
        if digest(bytes(signing.snapshot)) != signing.digest:
            yield Fault(where, f"what was put up for signing as {signing} (no. {signing.pk}) was changed")
