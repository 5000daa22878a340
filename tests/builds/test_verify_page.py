"""The owner's page about everything sealed: the check behind it, the head of the chain, the passphrase."""

import json
import os
from typing import Any

import pytest
from django.db import DatabaseError, connection
from django.test import Client
from django.urls import reverse

from builds import appendonly
from builds.sealing import checking
from tests.builds.sealing_scene import Scene, scene

__all__ = ["scene"]

PAGE = "/shop/verify/"


@pytest.fixture
def at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """The check is done within the request: the test's own transaction is seen by nobody else."""
    monkeypatch.setattr(checking, "begin", lambda work: work())


def test_a_check_names_what_does_not_match(scene: Scene, owner_client: Client, at_once: None) -> None:
    sheet = scene.seal()
    assert "No check was run yet." in owner_client.get(PAGE).text
    assert owner_client.post(PAGE).url == PAGE
    page = owner_client.get(PAGE).text
    assert "Everything matches." in page
    assert "1 sealed sheet, 2 of 2 readings under seal, 0 photos" in page
    assert sheet.digest[:4] in page
    appendonly.remove()
    with connection.cursor() as cursor:
        cursor.execute("UPDATE builds_reading SET text = '0.099' WHERE position = '1E'")
    appendonly.install()
    owner_client.post(PAGE)
    page = owner_client.get(PAGE).text
    assert "was changed after it was sealed over" in page
    assert "Needs somebody." in owner_client.get(reverse("shop")).text


def test_it_says_how_far_it_is_and_asks_again_by_itself(scene: Scene, owner_client: Client) -> None:
    working = {"state": "working", "by": "Greta", "words": "Files of photos", "done": 3, "of": 40}
    (scene.data / checking.NAME).write_text(json.dumps(working), encoding="utf-8")
    part = owner_client.get(PAGE, headers={"hx-request": "true"}).text
    assert "Files of photos</strong>: 3 of 40" in part
    assert 'hx-trigger="every' in part
    assert "<html" not in part


def test_one_check_at_a_time(scene: Scene, owner_client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    begun: list[Any] = []
    monkeypatch.setattr(checking, "begin", begun.append)
    owner_client.post(PAGE)
    owner_client.post(PAGE)
    assert len(begun) == 1


def test_one_that_went_silent_says_so(scene: Scene, owner_client: Client) -> None:
    path = scene.data / checking.NAME
    path.write_text(json.dumps({"state": "working"}), encoding="utf-8")
    os.utime(path, (1, 1))
    assert "stopped in the middle" in owner_client.get(PAGE).text


@pytest.mark.parametrize(
    ("trouble", "sentence"),
    [
        (DatabaseError("disk I/O error"), "could not go on: disk I/O error"),
        (ValueError("x"), "could not go on. The log"),
    ],
)
def test_a_check_that_cannot_go_on_says_so(
    scene: Scene,
    owner_client: Client,
    at_once: None,
    monkeypatch: pytest.MonkeyPatch,
    trouble: Exception,
    sentence: str,
) -> None:
    def fail(**_named: Any) -> None:
        raise trouble

    monkeypatch.setattr(checking, "verify_book", fail)
    owner_client.post(PAGE)
    assert sentence in owner_client.get(PAGE).text


def test_a_file_that_was_spoilt_is_no_check(scene: Scene) -> None:
    (scene.data / checking.NAME).write_bytes(b"{")
    assert checking.look().state == checking.NEVER


def test_it_says_where_the_passphrase_lies(scene: Scene, owner_client: Client, settings: Any) -> None:
    scene.seal()
    page = owner_client.get(PAGE).text
    assert f"{scene.data}/signing-passphrase" in page
    assert "Write it on paper" in page
    (scene.data / "signing-passphrase").unlink()
    assert "nothing can be sealed" in owner_client.get(PAGE).text
    settings.SIGNING_PASSPHRASE = "given"
    assert "STANDBOOK_SIGNING_PASSPHRASE" in owner_client.get(PAGE).text


def test_it_is_an_owners_page(scene: Scene, bench_client: Client) -> None:
    assert bench_client.get(PAGE).status_code == 403
    assert bench_client.post(PAGE).status_code == 403
