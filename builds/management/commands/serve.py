"""`manage.py serve`: this shop's own book."""

from builds import first_owner
from builds.management.commands._serving import ServingCommand


class Command(ServingCommand):
    """Serve the book, with a code for the owner's account when nobody has one yet."""

    help = "Serve this shop's book."

    def greet(self) -> None:
        """Show the code for the first account."""
        if not first_owner.has_people():
            first_owner.code.make()
