"""What may happen to an address: one that the log names stays, and no two places of an engine share one.

Plain functions over addresses; forms ask them, so that the answer is a sentence beside the field.
"""

from collections import Counter
from collections.abc import Iterable, Mapping

from valvetrain.models import Head, Valve


def renamed(before: Mapping[int, str], after: Mapping[int, str], fixed: Iterable[str]) -> list[str]:
    """Sentences for addresses that the log names and that would be called otherwise, or go. Keys are row keys."""
    kept = set(fixed)
    found = []
    for key, address in before.items():
        if address not in kept:
            continue
        new = after.get(key)
        if new is None:
            found.append(f"{address} stands in the log of this job: it can’t be removed.")
        elif new != address:
            found.append(f"{address} stands in the log of this job: it can’t become {new}.")
    return found


def doubled(addresses: Iterable[str]) -> list[str]:
    """Sentences for addresses that occur twice."""
    return [
        f"{address} is there twice. Give each valve its own cylinder, kind and number."
        for address, count in Counter(addresses).items()
        if count > 1
    ]


def taken_on_other_heads(head: Head, addresses: Iterable[str]) -> list[str]:
    """Sentences for valve addresses that another head of the same engine has."""
    if head.build_id is None:
        return []
    others = {
        valve.address: valve.head
        for valve in Valve.objects.filter(head__build=head.build_id)
        .exclude(head=head.pk)
        .select_related("head")
    }
    return [
        f"{address} is on {others[address]} already. Each cylinder’s valve stands on one head of the engine."
        for address in sorted(set(addresses) & set(others))
    ]


def cylinders_beyond(head: Head, cylinders: Iterable[int]) -> list[str]:
    """Sentences for cylinders that the engine does not have."""
    if head.build is None:
        return []
    last = head.build.engine.cylinders
    return [
        f"There is no cylinder {number}: this engine has {last}."
        for number in sorted(set(cylinders))
        if not 1 <= number <= last
    ]
