"""The ground floor: the shop, its people, and one job file for each build of an engine."""

from typing import Any

from django.apps import AppConfig
from django.db.models.signals import post_migrate


def _put_triggers_back(**kwargs: Any) -> None:
    from builds import appendonly  # the models are ready only now

    appendonly.install()


class BuildsConfig(AppConfig):
    """Puts the append-only triggers back after every migrate."""

    name = "builds"

    def ready(self) -> None:
        """Connect the signal. Without a sender, so that an app migrated later is covered too."""
        post_migrate.connect(_put_triggers_back, dispatch_uid="builds.appendonly")
