"""The invented shop, loaded once for all tests of a module that only look at it."""

from collections.abc import Iterator
from typing import Any

import pytest
from django.conf import settings
from django.db import transaction
from django.test import override_settings

from valvetrain import demo


@pytest.fixture(scope="module")
def demo_loaded(
    django_db_setup: None, django_db_blocker: Any, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[None]:
    """An open transaction with the demo in it: each test's own lies inside, and nothing is left of either."""
    folder = {"OPTIONS": {"location": str(tmp_path_factory.mktemp("demo-photos"))}}
    storages = {**settings.STORAGES, "photos": {**settings.STORAGES["photos"], **folder}}
    with django_db_blocker.unblock(), override_settings(STORAGES=storages), transaction.atomic():
        assert demo.load()
        yield
        transaction.set_rollback(True)


@pytest.fixture
def shop(demo_loaded: None, db: None) -> None:
    """The invented shop; what a test changes in it is taken back."""
