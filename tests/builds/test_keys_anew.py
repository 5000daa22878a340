"""Keys made anew after their passphrase was lost: new ones sign, old ones still verify."""

from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from builds.models import Authority, SealedSheet
from builds.sealing import service, standalone
from builds.sealing.authority import passphrase_file
from builds.sealing.keys_anew import AnewRefused, make_anew
from builds.sealing.rules import SealRefused
from builds.sealing.verify import verify_book
from tests.builds.a_sheet import NOON, mark_of
from tests.builds.sealing_scene import Scene, scene

__all__ = ["scene"]

LATER = NOON + timedelta(hours=1)


def lose_the_passphrase() -> None:
    passphrase_file().unlink()


def test_without_the_passphrase_the_sentence_says_what_to_do(scene: Scene) -> None:
    scene.seal()
    lose_the_passphrase()
    with pytest.raises(
        SealRefused, match=r"an owner makes new keys at the shop PC: manage\.py authority --new REASON"
    ):
        scene.seal(subject="L", at=LATER)


def test_new_keys_seal_and_old_sheets_still_verify(scene: Scene) -> None:
    scene.seal()
    lose_the_passphrase()
    make_anew("the passphrase is lost", LATER)
    scene.seal(subject="L", at=LATER + timedelta(hours=1))
    report = verify_book()
    assert report.faults == []
    assert report.sheets == 2
    assert any("the passphrase is lost" in note for note in report.notes)
    assert Authority.objects.count() == 2


def test_a_stranger_is_given_both_roots_or_told_of_them(scene: Scene) -> None:
    scene.seal()
    lose_the_passphrase()
    make_anew("lost", LATER)
    scene.seal(subject="L", at=LATER + timedelta(hours=1))
    sheets = [standalone.examine(f"{each.number}.pdf", bytes(each.pdf)) for each in SealedSheet.objects.all()]
    assert [fault.what[:34] for fault in standalone.chain_faults(sheets)] == [
        "the sheets are from 2 different ro"
    ]
    assert standalone.chain_faults(sheets, (), [each.root for each in sheets]) == []
    assert len(standalone.chain_faults(sheets, (), [sheets[0].root])) == 1


def test_a_passphrase_that_does_not_fit_is_put_aside(scene: Scene) -> None:
    scene.seal()
    passphrase_file().write_text("another", encoding="ascii")
    made = make_anew("somebody wrote over it", LATER)
    assert made.put_aside is not None
    assert made.put_aside.read_text(encoding="ascii") == "another"
    assert passphrase_file().read_text(encoding="ascii") != "another"
    assert passphrase_file().stat().st_mode & 0o777 == 0o600


def test_one_that_fits_is_kept(scene: Scene) -> None:
    scene.seal()
    before = passphrase_file().read_bytes()
    assert make_anew("a disk was stolen", LATER).put_aside is None
    assert passphrase_file().read_bytes() == before
    assert verify_book().faults == []


def test_what_was_signed_once_before_is_put_up_and_signed_anew(scene: Scene) -> None:
    signing = scene.signed()
    lose_the_passphrase()
    make_anew("lost", LATER)
    at = LATER + timedelta(hours=1)
    with pytest.raises(SealRefused, match="keys were made anew since Nora Vesterlund signed this"):
        service.seal(signing, scene.checker, mark_of(scene.checker, signing, at))
    assert not SealedSheet.objects.exists()
    assert scene.seal(at=at).number == 1
    assert verify_book().faults == []


def test_new_keys_need_a_reason_old_keys_and_a_right_clock(scene: Scene) -> None:
    with pytest.raises(AnewRefused, match="There are no keys yet"):
        make_anew("lost", LATER)
    scene.seal()
    with pytest.raises(AnewRefused, match="Say why"):
        make_anew("  ", LATER)
    with pytest.raises(AnewRefused, match="201 characters long"):
        make_anew("x" * 201, LATER)
    with pytest.raises(AnewRefused, match="Set the clock of this computer right"):
        make_anew("lost", NOON - timedelta(days=1))
    assert Authority.objects.count() == 1


def test_the_command_tells_the_keys_and_makes_new_ones(scene: Scene) -> None:
    told = StringIO()
    with pytest.raises(CommandError, match="There are no keys yet"):
        call_command("authority", new="lost", stdout=told)
    scene.seal()
    lose_the_passphrase()
    call_command("authority", new="the passphrase is lost", stdout=told)
    words = told.getvalue()
    assert "New keys are made." in words
    assert "verifies what it signed. The passphrase of this book does not open it." in words
    assert "signs. Made anew: the passphrase is lost." in words
