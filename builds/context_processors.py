"""What every page shows."""

from typing import Any

from django.http import HttpRequest

from builds.models import Person, Shop
from builds.panels import return_pages
from builds.rights import rights_of
from builds.sitting import LOCKS_AFTER, sitting_of

# A shop has no more at its bench; beyond them a password does.
MOST_PEOPLE = 200


def shop(request: HttpRequest) -> dict[str, Any]:
    """The shop, and the unit of the person at the keyboard; the pages under “Returns”. Asked for only when shown."""
    unit = getattr(request.user, "length_unit", "in") if hasattr(request, "user") else "in"
    return {"shop": Shop.get, "unit": unit, "return_pages": return_pages}


def _bench_people() -> list[Person]:
    """Who may stand at the bench: asked for by the cover of an enrolled tablet alone."""
    return list(Person.objects.filter(is_active=True)[:MOST_PEOPLE])


def person(request: HttpRequest) -> dict[str, Any]:
    """What the person at the keyboard may do, by the names in `builds.rights`; the bench's tablet that this is."""
    user, sitting = getattr(request, "user", None), sitting_of(request)
    rights = rights_of(user, by_pin=sitting.by_pin) if isinstance(user, Person) else ()
    return {
        "may": {right.value: True for right in rights},
        "tablet": sitting.tablet if rights else None,
        "bench_people": _bench_people,
        "lock_after": LOCKS_AFTER,
        "guest": sitting.guest_link if not rights else None,
    }
