"""Printing a photo log from the tablet: the bar moves by itself, with a script and without one."""

import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.conf import settings as django_settings
from django.test import Client

from builds.models import Person
from builds.printing.background import Progress
from builds.printing.press import PrintingFailed
from tests.scenes import make_scene
from valvetrain.sheets import photo_run

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
AT_LEAST = 56  # px


class Printing:
    """A work that goes as far as it is told to."""

    def __init__(self) -> None:
        self.half, self.go, self.ends_in = threading.Event(), threading.Event(), ""

    def __call__(self, log: Any, paper: Any, develop: Any, progress: Progress) -> bytes:
        """Say that twelve pictures of forty are ready, wait, and be done or fail."""
        progress("Making the pictures ready", 12, 40)
        self.half.set()
        assert self.go.wait(30)
        if self.ends_in:
            raise PrintingFailed(self.ends_in)
        return b"%PDF-1.7 a sheet"


@pytest.fixture
def printing(tmp_path: Path, settings: Any, monkeypatch: pytest.MonkeyPatch) -> Printing:
    """A folder of its own, and a press that waits for the test."""
    settings.DATA_DIR = tmp_path
    work = Printing()
    monkeypatch.setattr(photo_run, "photo_pdf", work)
    return work


@pytest.fixture
def start(bench_tablet: Any) -> Callable[[], Any]:
    """Open the photo log of a job and press the key."""

    def press_the_key() -> Any:
        scene = make_scene(Person.objects.get(username="nora"))
        bench_tablet.goto(f"/jobs/{scene.build.pk}/photo-log/")
        bench_tablet.get_by_role("button", name="Print on A4").click()
        return bench_tablet

    return press_the_key


def test_the_bar_moves_until_the_sheet_is_there(printing: Printing, start: Callable[[], Any]):
    page = start()
    page.get_by_text("Making the pictures ready: 12 of 40").wait_for()
    assert page.locator("progress").get_attribute("value") == "12"
    for button in page.locator("#page .button").all():
        box = button.bounding_box()
        assert min(box["width"], box["height"]) >= AT_LEAST
    assert Axe().run(page).response["violations"] == []
    printing.go.set()
    link = page.get_by_role("link", name="Open the PDF")
    link.wait_for()
    assert Axe().run(page).response["violations"] == []
    assert page.locator("[hx-trigger]").count() == 0
    answer = page.request.get(link.get_attribute("href"))
    assert answer.headers["content-type"] == "application/pdf"


def test_what_went_wrong_is_said_and_can_be_tried_again(printing: Printing, start: Callable[[], Any]):
    printing.ends_in = "The sheet was not ready after 100 seconds, so printing was stopped."
    page = start()
    page.get_by_text("12 of 40").wait_for()
    first = page.url
    printing.go.set()
    page.get_by_text("not ready after 100 seconds").wait_for()
    printing.ends_in = ""
    page.get_by_role("button", name="Try again").click()
    page.get_by_role("link", name="Open the PDF").wait_for()
    assert page.url != first


def test_without_a_script_the_page_loads_itself_again(printing: Printing, browser: Any, live_server: Any):
    person = Person.objects.create_user("nora", name="Nora Vesterlund", password="nine loose lifters")
    scene = make_scene(person)
    client = Client()
    client.force_login(person)
    cookie = client.cookies[django_settings.SESSION_COOKIE_NAME]
    context = browser.new_context(base_url=live_server.url, java_script_enabled=False)
    context.add_cookies([{"name": cookie.key, "value": cookie.value, "url": live_server.url}])
    page = context.new_page()
    page.goto(f"/jobs/{scene.build.pk}/photo-log/")
    page.get_by_role("button", name="Print on Letter").click()
    page.get_by_text("Making the pictures ready: 12 of 40").wait_for()
    printing.go.set()
    page.get_by_role("link", name="Open the PDF").wait_for(timeout=15_000)
    context.close()
