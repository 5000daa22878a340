"""The shop's own certificate authority: made at first use, its keys wrapped with a passphrase that is not in the book.

Keys are P-256. Each is kept as PKCS #8, encrypted under what scrypt makes of the passphrase and a salt of its own. The
passphrase comes from STANDBOOK_SIGNING_PASSPHRASE, or else lies in a file in the data folder, made at first use and
readable by its owner alone. Whoever has only the database cannot sign with it.
"""

import contextlib
import hashlib
import os
import secrets
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID
from django.conf import settings
from django.db import transaction

from builds.models import Authority, Person, Shop, SignerCertificate

LAST_YEAR = 2099  # a sheet is looked at for as long as the engine lives, and nobody renews a shop's root
SCRYPT = {"n": 2**15, "r": 8, "p": 1, "maxmem": 2**26, "dklen": 32}
SALT = "scrypt "
DESCRIPTION = x509.ObjectIdentifier("2.5.4.13")  # X.520's own: here, why a root was made anew
LONGEST_NAME = 64  # X.520's most for a name


class KeyTrouble(Exception):
    """The shop's keys cannot be used; the sentence says why and what would help."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


@dataclass(frozen=True)
class SigningKey:
    """A person's key, opened, with what goes into a signed PDF beside the signature."""

    key: ec.EllipticCurvePrivateKey
    certificate: x509.Certificate
    root: x509.Certificate

    @property
    def fingerprint(self) -> str:
        """SHA-256 of the certificate."""
        return fingerprint(self.certificate)


def fingerprint(certificate: x509.Certificate) -> str:
    """SHA-256 of a certificate, as entries name it."""
    return certificate.fingerprint(hashes.SHA256()).hex()


def certificate_of(record: Authority | SignerCertificate) -> x509.Certificate:
    """The certificate of a row."""
    return x509.load_pem_x509_certificate(record.certificate.encode())


def passphrase_file() -> Path:
    """Where the passphrase lies when the environment does not give one."""
    return Path(settings.DATA_DIR) / "signing-passphrase"


def passphrase() -> bytes:
    """The passphrase of the shop's keys; made where no key exists yet. Raises `KeyTrouble`."""
    given: str = settings.SIGNING_PASSPHRASE
    if given:
        return given.encode()
    path = passphrase_file()
    try:
        if not path.exists():
            if Authority.objects.exists():
                raise KeyTrouble(
                    "The passphrase of the shop’s signing keys is missing. Put the file signing-passphrase back into the "
                    "book’s data folder, or start the book with STANDBOOK_SIGNING_PASSPHRASE. If it is lost for good, an "
                    "owner makes new keys at the shop PC: manage.py authority --new REASON. Nothing is sealed."
                )
            make_passphrase(path)
        found = path.read_bytes().strip()
    except OSError as error:
        raise KeyTrouble(
            f"The passphrase of the shop’s signing keys cannot be read or written ({error.strerror or error}). Look at "
            "the file signing-passphrase in the book’s data folder. Nothing is sealed."
        ) from None
    if not found:
        raise KeyTrouble(
            "The file signing-passphrase is empty. Put back the one that the shop’s keys were made with. Nothing is "
            "sealed."
        )
    return found


def make_passphrase(path: Path) -> None:
    """Make a passphrase and put it into its file, for its owner alone to read; one that is there stays."""
    # Written whole under another name and then linked: two first uses never see half of one, or two.
    path.parent.mkdir(parents=True, exist_ok=True)
    fresh = path.with_name(f".{path.name}-{secrets.token_hex(8)}")
    fresh.touch(mode=0o600)
    try:
        fresh.write_text(secrets.token_urlsafe(48), encoding="ascii")
        with contextlib.suppress(FileExistsError):
            os.link(fresh, path)
    finally:
        fresh.unlink()


def authority(at: datetime) -> Authority:
    """The shop's authority; made when there is none."""
    found = Authority.objects.last()
    if found is not None:
        return found
    secret = passphrase()
    with transaction.atomic():
        shop = Shop.objects.select_for_update().get(pk=Shop.get().pk)
        found = Authority.objects.last()
        if found is not None:  # another sheet was a moment earlier
            return found
        return make_root(shop, secret, at)


def make_root(shop: Shop, secret: bytes, at: datetime, reason: str = "") -> Authority:
    """Make a root and keep it: from now on it is the one that signs. Inside a transaction that holds the shop."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = _name(f"{shop.name} sealed sheets", shop.name, reason)
    builder = _certificate(name, name, key.public_key(), at).add_extension(
        x509.BasicConstraints(ca=True, path_length=0), critical=True
    )
    root = _used_for(builder, signs_certificates=True).sign(key, hashes.SHA256())
    return Authority.objects.create(
        certificate=_pem(root), wrapped_key=wrap(key, secret), made_at=_second(at), reason=reason
    )


def certificate_for(person: Person, at: datetime) -> SignerCertificate:
    """A person's certificate; made when there is none in this name from today's authority."""
    issuer = authority(at)
    found = _newest(person, issuer)
    if found is not None:
        return found
    issuing_key = unwrap(issuer.wrapped_key, passphrase())
    secret = passphrase()
    at = max(at, issuer.made_at)  # never older than its root, whenever what it signs was drawn
    with transaction.atomic():
        Shop.objects.select_for_update().get(pk=Shop.get().pk)
        found = _newest(person, issuer)
        if found is not None:
            return found
        key = ec.generate_private_key(ec.SECP256R1())
        root = certificate_of(issuer)
        builder = _certificate(_name(str(person), Shop.get().name), root.subject, key.public_key(), at)
        builder = builder.add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        builder = builder.add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_public_key(issuing_key.public_key()), critical=False
        )
        certificate = _used_for(builder, signs_certificates=False).sign(issuing_key, hashes.SHA256())
        return SignerCertificate.objects.create(
            authority=issuer, person=person, certificate=_pem(certificate), wrapped_key=wrap(key, secret),
            made_at=_second(at),
        )  # fmt: skip


def open_key(record: SignerCertificate) -> SigningKey:
    """A person's key, ready to sign. Raises `KeyTrouble`."""
    key = unwrap(record.wrapped_key, passphrase())
    return SigningKey(key, certificate_of(record), certificate_of(record.authority))


def wrap(key: ec.EllipticCurvePrivateKey, secret: bytes) -> str:
    """A key as it is kept: its salt, then PKCS #8 under what scrypt makes of the passphrase."""
    salt = secrets.token_bytes(16)
    pem = key.private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.BestAvailableEncryption(_stretched(secret, salt)),
    )
    return f"{SALT}{salt.hex()}\n{pem.decode()}"


def unwrap(kept: str, secret: bytes) -> ec.EllipticCurvePrivateKey:
    """The key again. Raises `KeyTrouble` where the passphrase is another, or what is kept was touched."""
    try:
        head, pem = kept.split("\n", 1)
        salt = bytes.fromhex(head.removeprefix(SALT))
        key = serialization.load_pem_private_key(pem.encode(), _stretched(secret, salt))
    except (ValueError, TypeError):
        raise KeyTrouble(
            "The passphrase does not open the shop’s signing keys: it is not the one that they were made with, or the "
            "keys were touched. Put the right one back. Nothing is sealed."
        ) from None
    if not isinstance(key, ec.EllipticCurvePrivateKey):
        raise KeyTrouble("The shop’s signing key is not one of the book’s own. Nothing is sealed.")
    return key


def _stretched(secret: bytes, salt: bytes) -> bytes:
    return hashlib.scrypt(secret, salt=salt, **SCRYPT).hex().encode()


def _newest(person: Person, issuer: Authority) -> SignerCertificate | None:
    found = SignerCertificate.objects.filter(person=person, authority=issuer).last()
    name = _fitting(str(person))
    if (
        found is None
        or certificate_of(found).subject.get_attributes_for_oid(NameOID.COMMON_NAME)[0].value != name
    ):
        return None
    return found


def reason_in(certificate: x509.Certificate) -> str:
    """Why a root was made anew, as it stands in its certificate."""
    return "".join(str(each.value) for each in certificate.subject.get_attributes_for_oid(DESCRIPTION))


def _name(name: str, shop: str, reason: str = "") -> x509.Name:
    parts = {
        NameOID.ORGANIZATION_NAME: _fitting(shop),
        NameOID.COMMON_NAME: _fitting(name),
        DESCRIPTION: reason,
    }
    return x509.Name([x509.NameAttribute(oid, text) for oid, text in parts.items() if text])


def _fitting(name: str) -> str:
    return name.strip()[:LONGEST_NAME].strip() or "unnamed"


def _second(at: datetime) -> datetime:
    return at.astimezone(UTC).replace(microsecond=0)


def _certificate(
    subject: x509.Name, issuer: x509.Name, public: ec.EllipticCurvePublicKey, at: datetime
) -> x509.CertificateBuilder:
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(public)
        .serial_number(x509.random_serial_number())
        .not_valid_before(_second(at))
        .not_valid_after(datetime(LAST_YEAR, 12, 31, tzinfo=UTC))
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(public), critical=False)
    )


def _used_for(builder: x509.CertificateBuilder, *, signs_certificates: bool) -> x509.CertificateBuilder:
    usage = x509.KeyUsage(
        digital_signature=not signs_certificates, content_commitment=not signs_certificates,
        key_cert_sign=signs_certificates, crl_sign=signs_certificates, key_encipherment=False,
        data_encipherment=False, key_agreement=False, encipher_only=False, decipher_only=False,
    )  # fmt: skip
    return builder.add_extension(usage, critical=True)


def _pem(certificate: x509.Certificate) -> str:
    return certificate.public_bytes(serialization.Encoding.PEM).decode()
