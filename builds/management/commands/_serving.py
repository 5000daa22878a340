"""What `serve` and `demo` have in common. The underscore keeps it from being a command."""

from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from builds import serving
from builds.setting_up import CannotStart


class ServingCommand(BaseCommand):
    """Takes an address, prepares the book, says where it is, and serves it."""

    requires_migrations_checks = False
    # A data folder that is not there yet is made on the way; checks that read the tables come after that.
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Where to listen, and who stands in front."""
        parser.add_argument(
            "--listen",
            default=serving.DEFAULT_LISTEN,
            metavar="HOST:PORT",
            help="0.0.0.0:8000 lets the shop's tablets in; the default lets in this machine alone.",
        )
        parser.add_argument(
            "--proxy",
            default="127.0.0.1" if settings.HTTPS else "",
            metavar="ADDRESS",
            help="The reverse proxy to believe about who is asking.",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """Serve, or say in a sentence why not."""
        try:
            address = serving.Address.parse(options["listen"])
            taken = serving.take(address)
            with taken:
                address = serving.Address(address.host, taken.getsockname()[1])
                serving.allow_hosts(address.names())
                serving.prepare()
                self.fill()
                server = serving.open_server(taken, proxy=options["proxy"])
                self.say_where(address)
                self.greet()
                self.stdout.flush()
                self.stand_watch()
                serving.run(server)
        except CannotStart as problem:
            raise CommandError(str(problem)) from None
        except KeyboardInterrupt:
            pass  # before the server stood; from then on it ends by itself
        self.stdout.write("Standbook has stopped.")

    def fill(self) -> None:
        """Put something into the book before it is served."""

    def greet(self) -> None:
        """Say what a visitor needs to know."""

    def stand_watch(self) -> None:
        """Begin what is done beside the serving."""

    def say_where(self, address: serving.Address) -> None:
        """Print every address under which a browser finds the book."""
        self.stdout.write(f"Standbook is at  {address.url(address.names()[0])}")
        for name in address.names()[1:]:
            self.stdout.write(f"                 {address.url(name)}")
        if address.is_loopback:
            self.stdout.write(
                "Only this machine can open it; --listen 0.0.0.0:8000 lets the shop's tablets in."
            )
        self.stdout.write("Ctrl-C stops it.")
