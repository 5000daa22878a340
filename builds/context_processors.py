"""What every page shows."""

from typing import Any

from django.http import HttpRequest

from builds.models import Shop


def shop(request: HttpRequest) -> dict[str, Any]:
    """The shop, and the unit of the person at the keyboard. Asked for only when a template shows it."""
    unit = getattr(request.user, "length_unit", "in") if hasattr(request, "user") else "in"
    return {"shop": Shop.get, "unit": unit}
