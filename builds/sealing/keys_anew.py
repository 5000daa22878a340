"""The shop's keys made anew: where the passphrase is lost, or somebody else may know it.

A new root signs from then on. The old one stays in the book, so that all that it signed is verified as before.
"""

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from builds.models import Authority, Shop
from builds.sealing.authority import (
    KeyTrouble,
    certificate_of,
    fingerprint,
    make_passphrase,
    make_root,
    passphrase,
    passphrase_file,
    unwrap,
)

LONGEST_REASON = 200


class AnewRefused(Exception):
    """New keys are not made; the sentence says why."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


@dataclass(frozen=True)
class RootLine:
    """A root as it is told: which, since when, why, and whether the passphrase opens it."""

    root: Authority
    fingerprint: str
    signs: bool
    opens: bool


@dataclass(frozen=True)
class Anew:
    """New keys: their root, and the old passphrase's file where it was put aside."""

    root: Authority
    put_aside: Path | None


def roots() -> list[RootLine]:
    """The shop's roots, oldest first. The last one signs."""
    found = list(Authority.objects.all())
    return [
        RootLine(root, fingerprint(certificate_of(root)), place == len(found), opens(root))
        for place, root in enumerate(found, start=1)
    ]


def opens(root: Authority) -> bool:
    """Whether the passphrase of this book opens a root's key. Makes no passphrase."""
    try:
        unwrap(root.wrapped_key, passphrase())
    except KeyTrouble:
        return False
    return True


def make_anew(reason: str, at: datetime) -> Anew:
    """Make new keys. Raises `AnewRefused` or `KeyTrouble` with a sentence.

    A passphrase that opens the keys of today is used for the new ones too; one that does not is put aside, under a name
    with the time, and another is made. What the environment gives is used as it is.
    """
    reason = " ".join(reason.split())
    if not reason:
        raise AnewRefused(
            "Say why: manage.py authority --new “the passphrase is lost”. It is kept with the keys."
        )
    if len(reason) > LONGEST_REASON:
        raise AnewRefused(
            f"This reason is {len(reason)} characters long. Say it in {LONGEST_REASON} or fewer."
        )
    newest = Authority.objects.last()
    if newest is None:
        raise AnewRefused("There are no keys yet. They are made by themselves with the first signature.")
    if at <= newest.made_at:
        raise AnewRefused(
            f"The clock says {at:%d %b %Y %H:%M}, but the keys of today were made later, at "
            f"{newest.made_at:%d %b %Y %H:%M}. Set the clock of this computer right first."
        )
    aside = None if opens(newest) else _fresh_passphrase(at)
    secret = passphrase()
    with transaction.atomic():
        shop = Shop.objects.select_for_update().get(pk=Shop.get().pk)
        return Anew(make_root(shop, secret, at, reason), aside)


def _fresh_passphrase(at: datetime) -> Path | None:
    if settings.SIGNING_PASSPHRASE:
        return None
    path = passphrase_file()
    aside = None
    try:
        if path.exists():
            aside = path.with_name(f"{path.name}-until-{timezone.localtime(at):%Y-%m-%dT%H%M%S}")
            path.rename(aside)
        make_passphrase(path)
    except OSError as error:
        raise AnewRefused(
            f"The file {path} cannot be written ({error.strerror or error}). No new keys are made."
        ) from None
    return aside
