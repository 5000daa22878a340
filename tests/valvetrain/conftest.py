"""The invented shop, loaded once for all tests of a module that only look at it."""

from collections.abc import Iterator
from typing import Any

import pytest
from django.conf import settings
from django.db import transaction
from django.test import override_settings

from builds.sealing import authority
from valvetrain import demo


@pytest.fixture(scope="module")
def demo_loaded(
    request: pytest.FixtureRequest,
    django_db_setup: None,
    django_db_blocker: Any,
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[None]:
    """An open transaction with the demo in it: each test's own lies inside, and nothing is left of either.

    Printing and signing take their time: sheets are sealed only for a module that says `WITH_SEALS = True`.
    """
    data = tmp_path_factory.mktemp("demo")
    folder = {"OPTIONS": {"location": str(data / "photos")}}
    storages = {**settings.STORAGES, "photos": {**settings.STORAGES["photos"], **folder}}
    told = override_settings(STORAGES=storages, DATA_DIR=data, SIGNING_PASSPHRASE="")
    with django_db_blocker.unblock(), told, transaction.atomic():
        with pytest.MonkeyPatch.context() as patch:
            patch.setitem(authority.SCRYPT, "n", 2**10)  # slow on purpose, and only in a shop
            if not getattr(request.module, "WITH_SEALS", False):
                patch.setattr(demo, "seal_some", lambda *_shop: None)
            assert demo.load()
            yield
        transaction.set_rollback(True)


@pytest.fixture
def shop(demo_loaded: None, db: None) -> None:
    """The invented shop; what a test changes in it is taken back."""
