"""`manage.py serve`: this shop's own book."""

from builds import first_owner
from builds.keeping import nights
from builds.keeping.nightly import Watch
from builds.management.commands._serving import ServingCommand


class Command(ServingCommand):
    """Serve the book, with a code for the owner's account when nobody has one yet."""

    help = "Serve this shop's book."

    def greet(self) -> None:
        """Show the code for the first account."""
        if not first_owner.has_people():
            first_owner.code.make()

    def stand_watch(self) -> None:
        """Back the book up and check it, every night."""
        if at := nights.hour():
            Watch(at).start()
