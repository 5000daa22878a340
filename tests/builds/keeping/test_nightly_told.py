"""What is told of the nights: to the owner first, on the shop's page, in the check-up."""

import re
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from builds import health
from builds.keeping import nights
from builds.keeping.nights import Night
from builds.models import Build
from builds.sealing import checking
from tests.builds.conftest import customer, engine, job, queries
from tests.builds.keeping.conftest import NIGHT, NOON
from tests.builds.sealing_scene import Scene, scene

__all__ = ["customer", "engine", "job", "queries", "scene"]


def unsound(data: Path) -> None:
    checking._write(checking.BookCheck(checking.DONE, ended=NOON.timestamp(), unsound=NOON.timestamp()))


def test_the_owner_alone_reads_of_it_first(data: Path, owner_client: Client, bench_client: Client) -> None:
    unsound(data)
    nights.keep(Night(NIGHT.isoformat(), "There is no folder /media/stick. Is the stick in?"))
    page = owner_client.get("/").text
    assert "is not what was sealed or kept; the check of 25 Nov 2026 12:30" in page
    assert reverse("verify-page") in page
    assert (
        "The book did not back itself up in the night (25 Nov 2026 03:30): There is no folder /media/stick."
        in page
    )
    for text in ("sealed or kept", "back itself up"):
        assert text not in bench_client.get("/").text


def test_it_asks_the_database_nothing(
    data: Path, owner_client: Client, job: Build, queries: Callable[[Client, str], int]
) -> None:
    few = queries(owner_client, "/")
    unsound(data)
    nights.keep(Night(NIGHT.isoformat(), "x"))
    assert queries(owner_client, "/") == few
    assert len(re.findall('role="alert"', owner_client.get("/").text)) == 2


def test_it_stands_until_a_later_check_is_sound(
    data: Path, scene: Scene, owner_client: Client, monkeypatch: pytest.MonkeyPatch, settings: Any
) -> None:
    settings.DATA_DIR = data
    unsound(data)
    monkeypatch.setattr(checking, "_live", lambda check: None)
    checking.run("Greta")
    assert checking.look().is_working
    assert nights.troubles()
    monkeypatch.undo()
    settings.DATA_DIR = data
    (data / checking.NAME).unlink()
    unsound(data)
    checking.run("Greta")
    assert nights.troubles() == []


def test_a_check_that_broke_off_is_told_and_one_whose_server_stopped_is_not(data: Path) -> None:
    checking._write(checking.BookCheck(checking.FAILED, sentence="The check could not go on: x."))
    assert [trouble.page for trouble in nights.troubles()] == ["verify-page"]
    checking._write(checking.BookCheck(checking.FAILED, sentence=checking.STOPPED))
    assert nights.troubles() == []


@pytest.mark.django_db
def test_the_check_up_and_the_shops_page_say_where_it_lies(
    data: Path, owner_client: Client, settings: Any
) -> None:
    found = health.nightly()
    assert (found.well, found.note) == (True, True)
    assert (
        f"Every night at 03:30, while it is served, the book backs itself up into {data}/backups"
        in found.sentence
    )
    assert nights.SAME_DISK in found.sentence
    assert nights.SAME_DISK in owner_client.get(reverse("shop")).text
    settings.NIGHTLY = "off"
    assert health.nightly().sentence.startswith("Switched off by STANDBOOK_NIGHTLY")
    assert not health.nightly().note


def test_another_disk_is_no_reason_to_warn(data: Path, settings: Any) -> None:
    settings.BACKUPS = "/proc"
    assert nights.look().warnings == ()


def test_a_book_that_is_not_served_at_night_says_so(data: Path) -> None:
    nights.keep(Night(NIGHT.isoformat()))
    assert "That is 3 days ago." in " ".join(nights.look(NIGHT + timedelta(days=3)).warnings)
    assert "days ago" not in " ".join(nights.look(NIGHT + timedelta(days=2)).warnings)
