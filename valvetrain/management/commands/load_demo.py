"""`manage.py load_demo`: the invented shop, for a book that is empty."""

from typing import Any

from django.core.management.base import BaseCommand

from valvetrain import demo


class Command(BaseCommand):
    """Fill an empty book with the invented shop; a book that has people or jobs is left as it is."""

    help = "Load an invented shop into an empty book."

    def handle(self, *args: Any, **options: Any) -> None:
        """Load it. Says nothing: `demo` tells who can log in."""
        demo.load()
