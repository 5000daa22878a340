"""What the tests share: a cast of people, a browser, and a database that may be emptied between tests."""

import asyncio
import os
import tempfile
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.db import connections
from django.test import Client, TransactionTestCase

from builds import appendonly
from builds.models import Person
from tests.scenes import shelf

# Playwright's synchronous side keeps an event loop in this thread; the ORM beside it would refuse to work.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")


def pytest_configure(config: pytest.Config) -> None:
    """Give the run a data folder of its own before anything is collected: what a test writes goes away with it."""
    folder = tempfile.TemporaryDirectory(prefix="standbook-test-", ignore_cleanup_errors=True)
    config.add_cleanup(folder.cleanup)
    settings.DATA_DIR = Path(folder.name)
    settings.STATIC_ROOT = settings.DATA_DIR / "static"
    settings.STATIC_ROOT.mkdir()  # WhiteNoise warns about one that is not there


_run_alone = asyncio.run


def _run_beside(work: Any, **how: Any) -> Any:
    """As `asyncio.run`, which PDFs are signed with; beside Playwright's loop it gets a thread of its own."""
    try:
        asyncio.get_running_loop()
    except RuntimeError:
        return _run_alone(work, **how)
    with ThreadPoolExecutor(1) as thread:
        return thread.submit(_run_alone, work, **how).result()


asyncio.run = _run_beside

CHROMIUM = "/usr/bin/chromium"
# ms that a page may take before a test gives it up: a machine that is busy elsewhere is no fault of the page.
PATIENCE = 30_000

_flush = TransactionTestCase._fixture_teardown  # type: ignore[attr-defined]


def _flush_with_triggers_lifted(self: TransactionTestCase) -> None:
    """Empty the tables as Django does. The append-only ones refuse that, so their triggers step aside.

    What a new book has on its shelf is put back: the next test on this database finds it as the first one did.
    """
    appendonly.remove()
    try:
        _flush(self)
    finally:
        appendonly.install()
    shelf()


TransactionTestCase._fixture_teardown = _flush_with_triggers_lifted  # type: ignore[attr-defined]


@pytest.fixture(scope="session")
def django_db_modify_db_settings() -> None:
    """Test on a file, as a shop does: each thread of a live server then has a connection of its own."""
    connections["default"].settings_dict["TEST"]["NAME"] = str(settings.DATA_DIR / "test.sqlite3")


@pytest.fixture
def builder(db: None) -> Person:
    """Nora, who builds the engines."""
    return Person.objects.create_user("nora", name="Nora Vesterlund", password="nine loose lifters")


@pytest.fixture
def second(db: None) -> Person:
    """Tobias, who works at the other bench."""
    return Person.objects.create_user("tobias", name="Tobias Arendal", password="seven tight lifters")


@pytest.fixture
def owner(db: None) -> Person:
    """Greta, whose shop it is."""
    return Person.objects.create_superuser(
        "greta", name="Greta Holmqvist", password="eleven very loose lifters"
    )


@pytest.fixture
def bench_client(builder: Person) -> Client:
    """Nora's browser, logged in."""
    client = Client()
    client.force_login(builder)
    return client


@pytest.fixture
def second_client(second: Person) -> Client:
    """Tobias's browser, logged in."""
    client = Client()
    client.force_login(second)
    return client


@pytest.fixture
def owner_client(owner: Person) -> Client:
    """Greta's browser, logged in."""
    client = Client()
    client.force_login(owner)
    return client


@pytest.fixture
def stranger() -> Client:
    """A browser on the shop's network that nobody has logged in."""
    return Client()


@pytest.fixture
def photo_folder(settings: Any, tmp_path: Path) -> Path:
    """A folder of its own for the photos of a test."""
    folder = tmp_path / "photos"
    folder.mkdir()
    photos = {**settings.STORAGES["photos"], "OPTIONS": {"location": str(folder)}}
    settings.STORAGES = {**settings.STORAGES, "photos": photos}
    return folder


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """One headless Chromium for the whole run."""
    from playwright.sync_api import expect, sync_playwright

    expect.set_options(timeout=PATIENCE)
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(
            executable_path=CHROMIUM,
            headless=True,
            args=["--no-sandbox", "--disable-gpu", "--disable-background-networking"],
        )
        yield chromium
        chromium.close()


@pytest.fixture
def tablet(browser: Any, live_server: Any) -> Iterator[Any]:
    """The bench tablet's browser, logged out. Fails the test when a page raised an error of its own."""
    context = browser.new_context(
        base_url=live_server.url, viewport={"width": 1024, "height": 768}, has_touch=True, is_mobile=False
    )
    page = context.new_page()
    page.set_default_timeout(PATIENCE)
    errors: list[str] = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.on(
        "console", lambda line: errors.append(line.text) if "Content Security Policy" in line.text else None
    )
    yield page
    context.close()
    assert errors == []


@pytest.fixture
def bench_tablet(tablet: Any, live_server: Any) -> Any:
    """The bench tablet with Nora logged in. Her account is made here: the live server needs it committed."""
    person = Person.objects.create_user("nora", name="Nora Vesterlund", password="nine loose lifters")
    client = Client()
    client.force_login(person)
    cookie = client.cookies[settings.SESSION_COOKIE_NAME]
    tablet.context.add_cookies([{"name": cookie.key, "value": cookie.value, "url": live_server.url}])
    return tablet
