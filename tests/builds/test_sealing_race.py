"""Two seal at once: one wins, the other is told; and two sheets at once both find their place in the chain."""

import threading
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.db import connection

from builds.models import Person, SealedSheet, Signature
from builds.sealing import authority, making, service
from builds.sealing.rules import SealRefused
from builds.sealing.verify import verify_book
from tests.builds.a_sheet import NOON, mark_of, sign
from tests.builds.sealing_scene import Scene, make_scene

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def scene(
    transactional_db: None, settings: Any, tmp_path: Path, photo_folder: Path, builder: Person,
    monkeypatch: pytest.MonkeyPatch,
) -> Iterator[Scene]:  # fmt: skip
    """The scene, written for every connection to see."""
    settings.DATA_DIR = tmp_path
    settings.SIGNING_PASSPHRASE = ""
    monkeypatch.setitem(authority.SCRYPT, "n", 2**10)
    with make_scene(tmp_path, builder) as made:
        yield made


def at_once(*acts: Callable[[], Any]) -> list[Any]:
    """Do all of them, each in a thread of its own; what each gave back, or the sentence that it was told."""
    found: list[Any] = [None] * len(acts)

    def one(place: int) -> None:
        try:
            found[place] = acts[place]()
        except SealRefused as refused:
            found[place] = refused.sentence
        except Exception as error:
            found[place] = error
        finally:
            connection.close()

    threads = [threading.Thread(target=one, args=(place,)) for place in range(len(acts))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return found


@pytest.fixture
def together(monkeypatch: pytest.MonkeyPatch) -> None:
    """Both have made their PDF before either writes."""
    meeting = threading.Barrier(2, timeout=60)
    make = making.make
    came: set[int] = set()

    def make_and_wait(*args: Any) -> making.Made:
        made = make(*args)
        if threading.get_ident() not in came:
            came.add(threading.get_ident())
            meeting.wait()
        return made

    monkeypatch.setattr(service, "make", make_and_wait)


def test_one_sheet_sealed_from_two_tablets(scene: Scene, owner: Person, together: None) -> None:
    signing = scene.signed()
    acts = [
        lambda who=who: service.seal(signing, who, mark_of(who, signing, NOON + timedelta(minutes=1)))
        for who in (scene.checker, owner)
    ]
    found = at_once(*acts)
    sheets = [each for each in found if isinstance(each, SealedSheet)]
    told = [each for each in found if isinstance(each, str)]
    assert (len(sheets), len(told)) == (1, 1), found
    winner = sheets[0].signing.signatures.get(role="checked").person
    assert told == [f"This was sealed a moment ago by {winner}, as sheet 1. There is nothing to sign."]
    assert (SealedSheet.objects.count(), Signature.objects.count()) == (1, 2)
    assert at_once(lambda: verify_book().faults) == [[]]  # in a thread without the browser's event loop


def test_two_sheets_sealed_at_once_are_both_linked(scene: Scene, owner: Person, together: None) -> None:
    whole, left = scene.put_up(), scene.put_up(subject="L")
    for signing in (whole, left):
        sign(signing, scene.tech)
    later = NOON + timedelta(minutes=1)
    found = at_once(
        lambda: service.seal(whole, scene.checker, mark_of(scene.checker, whole, later)),
        lambda: service.seal(left, owner, mark_of(owner, left, later)),
    )
    assert sorted(each.number for each in found) == [1, 2], found
    assert at_once(lambda: verify_book().faults) == [[]]  # in a thread without the browser's event loop
