"""Guests: a customer who looks at one job by a link. Other floors may add to what they see."""

import hashlib
import secrets
from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from django.core.signing import BadSignature, Signer
from django.db.models import Q
from django.utils import timezone

from builds.models import Build, GuestLink, RunEntry, ToldReading

_SALT = "builds.guests"
# That a guest looked is noted once in so long: a page with its pictures is one look.
ONE_LOOK = timedelta(minutes=1)
# More than a crew writes on a race day; less than fills a book.
MOST_A_DAY = 200


@dataclass(frozen=True)
class GuestPanel:
    """A section of the page that a guest sees: a template, and what it is given; nothing when there is nothing to see."""

    title: str
    template: str
    context: Callable[[Build], dict[str, Any] | None]


guest_panels: list[GuestPanel] = []


def _digest(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()


def new_token() -> tuple[str, str]:
    """A token that nobody guesses, signed, for the address of a link; and the digest that is kept of it."""
    secret = secrets.token_urlsafe(24)
    return Signer(sep=".", salt=_SALT).sign(secret), _digest(secret)


def link_of(token: str) -> GuestLink | None:
    """The link that a token belongs to, open or over; nothing for a token that this book did not make."""
    try:
        secret = Signer(sep=".", salt=_SALT).unsign(token)
    except BadSignature:
        return None
    return GuestLink.objects.filter(digest=_digest(secret)).first()


def note_look(link: GuestLink) -> None:
    """Note that the link was used just now."""
    moment = timezone.now()
    GuestLink.objects.filter(Q(last_used_at=None) | Q(last_used_at__lt=moment - ONE_LOOK), pk=link.pk).update(
        last_used_at=moment
    )


def sent_today(link: GuestLink) -> int:
    """How many entries came by a link since midnight."""
    midnight = timezone.localtime().replace(hour=0, minute=0, second=0, microsecond=0)
    return sum(
        model.objects.filter(via=link, saved_at__gte=midnight).count() for model in (RunEntry, ToldReading)
    )


def why_takes_no_more(link: GuestLink, job: Build) -> str:
    """Why nothing can be written by a link any more, as it is at this moment; nothing when it can."""
    now = GuestLink.objects.get(pk=link.pk)
    if not now.is_live:
        return now.ended_sentence
    if now.build_id != job.pk or not now.takes_running:
        return "This link shows its job and takes nothing. Ask the shop for one that takes running from the track."
    if sent_today(now) >= MOST_A_DAY:
        return (
            f"{MOST_A_DAY} entries came by this link today, and it takes no more until tomorrow. Telephone the shop with "
            "what is left."
        )
    return ""


def panels_for(job: Build) -> list[tuple[GuestPanel, dict[str, Any]]]:
    """The sections that have something to show for a job."""
    found = [(panel, panel.context(job)) for panel in guest_panels]
    return [(panel, context) for panel, context in found if context is not None]
