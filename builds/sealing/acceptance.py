"""Accepting, by name and with a reason, what is out of its limit or measured with a tool past its check."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from uuid import UUID, uuid5

from django.db import transaction

from builds.models import Acceptance, Build, Person
from builds.sealing.kinds import OutItem, Readiness
from builds.sealing.rules import SealRefused, may_check

LONGEST_REASON = 200


def accept(
    build: Build,
    person: Person,
    item: OutItem,
    *,
    client_id: UUID,
    reason: str,
    accepted_at: datetime,
    overdue: bool = False,
) -> Acceptance:
    """Accept one item as it stands. Safe to repeat. Raises `SealRefused` with a sentence.

    What is out may be accepted by who may check; a tool past its check only by an owner.
    """
    if overdue and not person.is_owner:
        raise SealRefused(
            f"{item.words}: only an owner can let it pass. Have the tool checked, or ask the owner."
        )
    if not overdue and not may_check(person):
        raise SealRefused(f"{item.words}: only somebody with the checker’s right can accept it.")
    reason = reason.strip()
    if not reason:
        raise SealRefused(f"{item.words}: say why it is accepted. The reason is printed on the sheet.")
    if len(reason) > LONGEST_REASON:
        raise SealRefused(
            f"This reason is {len(reason)} characters long. Say it in {LONGEST_REASON} or fewer."
        )
    with transaction.atomic():
        Build.objects.select_for_update().get(pk=build.pk)
        known = Acceptance.objects.filter(client_id=client_id).select_related("accepted_by").first()
        if known is not None:
            if (known.build_id, known.key, known.value_text) != (build.pk, item.key, item.value_text):
                raise SealRefused(
                    f"This answer was already used for {known.words}. Load the page again, then accept."
                )
            return known
        return Acceptance.objects.create(
            client_id=client_id, build=build, key=item.key, value_text=item.value_text, words=item.words, reason=reason,
            accepted_by=person, accepted_at=accepted_at,
        )  # fmt: skip


def accept_all(
    build: Build,
    person: Person,
    items: Mapping[str, OutItem],
    *,
    client_id: UUID,
    reason: str,
    accepted_at: datetime,
    overdue: bool,
) -> list[Acceptance]:
    """Accept several items, each under a mark of its own, for one reason: all of them or none. Safe to repeat."""
    with transaction.atomic():
        return [
            accept(
                build, person, item, client_id=uuid5(client_id, mark), reason=reason, accepted_at=accepted_at,
                overdue=overdue,
            )
            for mark, item in items.items()
        ]  # fmt: skip


def accepted_of(build: Build) -> dict[tuple[str, str], Acceptance]:
    """What is accepted on a job, by key and value: for what has another value by now, nothing is."""
    found = Acceptance.objects.filter(build=build).select_related("accepted_by").order_by("pk")
    return {(each.key, each.value_text): each for each in found}


def lacking(readiness: Readiness, accepted: dict[tuple[str, str], Acceptance]) -> list[str]:
    """Every reason why a sheet may not be signed yet, as sentences; empty where it may."""
    return [
        *readiness.missing,
        *_not_accepted(readiness.out, accepted, "Accept it by name, or mend it."),
        *_not_accepted(readiness.overdue, accepted, "An owner lets it pass by name, or have it checked."),
    ]


def _not_accepted(
    items: Sequence[OutItem], accepted: dict[tuple[str, str], Acceptance], act: str
) -> list[str]:
    return [
        f"{item.words}: {item.value_text}. {act}"
        for item in items
        if (item.key, item.value_text) not in accepted
    ]


def standing_acceptances(
    readiness: Readiness, accepted: dict[tuple[str, str], Acceptance]
) -> list[Acceptance]:
    """Those that hold for this sheet as it stands, in its order."""
    keys = [(item.key, item.value_text) for item in [*readiness.out, *readiness.overdue]]
    return [accepted[key] for key in dict.fromkeys(keys) if key in accepted]
