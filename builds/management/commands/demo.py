"""`manage.py demo`: an invented shop, ready to look around in."""

import json
from typing import Any

from django.conf import settings
from django.core.management import call_command

from builds.management.commands._serving import ServingCommand
from builds.models import Person


class Command(ServingCommand):
    """Serve an invented shop from a data folder of its own."""

    help = "Serve an invented shop with its engines, to look around in."

    def fill(self) -> None:
        """Load the invented shop, if it is not there yet."""
        call_command("load_demo")

    def greet(self) -> None:
        """Print who can log in."""
        # A book with people of its own (STANDBOOK_DATA) was left as it is; the invented passwords are no use there.
        here = set(Person.objects.values_list("username", flat=True))
        people = [person for person in demo_people() if person["username"] in here]
        if people:
            self.stdout.write("Log in as one of these invented people:")
        else:
            self.stdout.write("This book has its own people, so the invented shop was not loaded into it.")
        width = max((len(person["username"]) for person in people), default=0)
        for person in people:
            place = "owner" if person.get("is_superuser") else person.get("role", "builder")
            role = f"  ({place}{', checks' if person.get('may_check') else ''})"
            self.stdout.write(
                f"  {person['username']:<{width}}  {person['password']}   {person['name']}{role}"
            )


def demo_people() -> list[dict[str, Any]]:
    """The invented people, with the passwords that everybody may know."""
    people: list[dict[str, Any]] = json.loads(
        (settings.BASE_DIR / "fixtures/demo/people.json").read_text(encoding="utf-8")
    )
    return people
