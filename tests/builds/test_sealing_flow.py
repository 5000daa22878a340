"""Putting up, signing, sealing: what goes in, who may, and every refusal as a sentence with nothing half sealed."""

import errno
import json
from dataclasses import replace
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.db import OperationalError

from builds.models import Acceptance, Authority, Person, SealedSheet, Signature, SignerCertificate
from builds.sealing import acceptance, authority, making, service
from builds.sealing.canonical import canonical, digest
from builds.sealing.kinds import Readiness, kind_of
from builds.sealing.marks import marks_from
from builds.sealing.rules import SealRefused
from builds.sealing.standing import standing
from tests.builds.a_sheet import LATE, NOON, OUT, mark_of, put_up, read, roles_of, sign
from tests.builds.sealing_scene import Scene, scene

__all__ = ["scene"]


def refused(words: str) -> Any:
    """Refused, with these words in the sentence."""
    return pytest.raises(SealRefused, match=words)


def nothing_is_sealed() -> bool:
    """Neither a sheet nor a checker's signature."""
    return not SealedSheet.objects.exists() and not Signature.objects.filter(role="checked").exists()


def test_a_sheet_is_signed_by_two_and_sealed(scene: Scene) -> None:
    sheet = scene.seal()
    entry = json.loads(sheet.entry)
    assert (sheet.number, sheet.revision, roles_of(sheet)) == (1, 0, ["measured", "checked"])
    assert sheet.digest == digest(sheet.entry)
    assert sheet.pdf_sha256 == digest(sheet.pdf)
    assert entry["snapshot"] == digest(sheet.signing.snapshot) == sheet.signing.digest
    assert entry["engine"]["serial"] == "HR-0417"
    assert entry["readings"]["count"] == 2
    assert entry["previous_digest"] == ""


def test_the_second_sheet_is_linked_to_the_first(scene: Scene) -> None:
    first, second = scene.seal(), scene.seal(subject="L", at=NOON + timedelta(hours=1))
    entry = json.loads(second.entry)
    assert second.number == 2
    assert second.previous_digest == entry["previous_digest"] == first.digest
    assert entry["previous_pdf"] == first.pdf_sha256


def test_sent_twice_nothing_is_made_twice(scene: Scene) -> None:
    again = {"client_id": uuid4()}
    signing = scene.put_up(**again)
    assert scene.put_up(**again).pk == signing.pk
    first, second = mark_of(scene.tech, signing), mark_of(scene.checker, signing)
    assert service.sign(signing, scene.tech, first).pk == service.sign(signing, scene.tech, first).pk
    assert service.seal(signing, scene.checker, second).pk == service.seal(signing, scene.checker, second).pk
    assert SealedSheet.objects.count() == 1


def test_nobody_checks_their_own_work(scene: Scene) -> None:
    scene.tech.may_check = True
    signing = scene.signed()
    with refused("nobody checks their own work"):
        service.seal(signing, scene.tech, mark_of(scene.tech, signing))
    assert nothing_is_sealed()


def test_checking_needs_the_right(scene: Scene, second: Person) -> None:
    signing = scene.signed()
    with refused("Checking needs the checker’s right"):
        service.seal(signing, second, mark_of(second, signing))
    assert nothing_is_sealed()


def test_the_checker_comes_second(scene: Scene) -> None:
    signing = scene.put_up()
    with refused("Nobody has signed this as measured yet"):
        service.seal(signing, scene.checker, mark_of(scene.checker, signing))


def test_two_cannot_both_have_measured(scene: Scene, second: Person) -> None:
    signing = scene.signed()
    with refused("Nora Vesterlund signed this already"):
        service.sign(signing, second, mark_of(second, signing))


@pytest.mark.parametrize(
    ("other", "words"),
    [
        ({"typed_name": "Nora"}, "“Nora” is not your name as the book has it. Type Nora Vesterlund"),
        ({"strokes": "[]"}, "did not come whole"),
        ({"strokes": '{"width": 9, "height": 9, "strokes": [[["a", 1]]]}'}, "did not come whole"),
        ({"strokes": '{"width": 9, "height": 9, "strokes": [[[NaN, 1]]]}'}, "did not come whole"),
        ({"strokes": '{"width": 9, "height": 9, "strokes": []}'}, "Nothing is drawn"),
        ({"strokes": " " * 300_000}, "more lines than can be kept"),
        ({"seen_digest": "0" * 64}, "not the sheet that was on your screen"),
    ],
)
def test_a_mark_that_will_not_do(scene: Scene, other: dict[str, str], words: str) -> None:
    signing = scene.put_up()
    with refused(words):
        service.sign(signing, scene.tech, mark_of(scene.tech, signing, **other))
    assert not Signature.objects.exists()


def test_the_typed_name_may_differ_in_spaces_and_capitals(scene: Scene) -> None:
    signing = scene.put_up()
    made = service.sign(signing, scene.tech, mark_of(scene.tech, signing, typed_name=" nora  VESTERLUND"))
    assert made.typed_name == "nora  VESTERLUND"


def test_a_new_figure_voids_the_first_signature_and_is_named(scene: Scene) -> None:
    signing = scene.signed()
    old = scene.job.readings.first()
    scene.job.readings.create(
        position="1E", characteristic="stand_gap", text="0.026", unit="in", value="0.026", taken_by=scene.tech,
        corrects=old, reason="gauge not seated",
    )  # fmt: skip
    with pytest.raises(SealRefused, match="signatures are void") as caught:
        service.seal(signing, scene.checker, mark_of(scene.checker, signing))
    assert "lines › 1E › value: was 0.0240 in, is 0.0260 in" in map(str, caught.value.differences)
    assert nothing_is_sealed()


def test_a_reading_that_changes_no_figure_voids_it_too(scene: Scene) -> None:
    signing = scene.signed()
    again = read(scene.job, scene.tech, "0.024")
    scene.job.readings.create(
        position="1E", characteristic="stand_gap", taken_by=scene.tech, corrects=again, reason="twice"
    )
    now = standing(signing)
    assert (now.differences, now.new_readings, now.is_void) == ((), ("1E", "1E"), True)
    with refused(r"A reading came in since this sheet was put up \(1E\)"):
        service.seal(signing, scene.checker, mark_of(scene.checker, signing))


def test_a_sheet_put_up_anew_voids_the_old_one(scene: Scene) -> None:
    signing = scene.signed()
    scene.put_up()
    with refused("put up for signing anew since"):
        service.seal(signing, scene.checker, mark_of(scene.checker, signing))


def test_what_is_missing_stops_both(scene: Scene) -> None:
    signing = scene.put_up()
    scene.kind.readiness = Readiness(missing=["3E has no reading."])
    with pytest.raises(SealRefused, match="not ready: 3E has no reading") as caught:
        service.sign(signing, scene.tech, mark_of(scene.tech, signing))
    assert caught.value.lacks == ("3E has no reading.",)


def test_what_is_out_is_accepted_by_name_and_stands_in_the_entry(scene: Scene, owner: Person) -> None:
    scene.kind.readiness = Readiness(out=[OUT], overdue=[LATE])
    signing = scene.put_up()
    with refused("1E, lash cold: 0.030 in. Accept it by name"):
        service.sign(signing, scene.tech, mark_of(scene.tech, signing))
    told = {"reason": "customer wants it loose", "accepted_at": NOON}
    acceptance.accept(scene.job, scene.checker, OUT, client_id=uuid4(), **told)
    with refused("HG-2 is past its check: due 01 Jan 2026"):
        service.sign(signing, scene.tech, mark_of(scene.tech, signing))
    acceptance.accept(scene.job, owner, LATE, client_id=uuid4(), overdue=True, **told)
    sign(signing, scene.tech)
    sheet = service.seal(signing, scene.checker, mark_of(scene.checker, signing))
    accepted = json.loads(sheet.entry)["acceptances"]
    assert [(each["words"], each["accepted_by"]["name"]) for each in accepted] == [
        ("1E, lash cold", "Ylva Norrgard"),
        ("HG-2 is past its check", "Greta Holmqvist"),
    ]


def test_an_acceptance_holds_for_its_value_only(scene: Scene) -> None:
    acceptance.accept(scene.job, scene.checker, OUT, client_id=uuid4(), reason="as asked", accepted_at=NOON)
    worse = replace(OUT, value_text="0.040 in")
    assert acceptance.lacking(Readiness(out=[OUT]), acceptance.accepted_of(scene.job)) == []
    assert acceptance.lacking(Readiness(out=[worse]), acceptance.accepted_of(scene.job)) != []


@pytest.mark.parametrize(
    ("who", "reason", "overdue", "words"),
    [
        ("tech", "fine", False, "only somebody with the checker’s right"),
        ("checker", "fine", True, "only an owner can let it pass"),
        ("checker", "  ", False, "say why it is accepted"),
        ("checker", "x" * 201, False, "201 characters long"),
    ],
)
def test_an_acceptance_that_will_not_do(
    scene: Scene, who: str, reason: str, overdue: bool, words: str
) -> None:
    with refused(words):
        acceptance.accept(
            scene.job,
            getattr(scene, who),
            OUT,
            client_id=uuid4(),
            reason=reason,
            accepted_at=NOON,
            overdue=overdue,
        )
    assert not Acceptance.objects.exists()


def test_a_revision_says_why_and_the_old_one_stays(scene: Scene) -> None:
    first, later = scene.seal(), NOON + timedelta(hours=1)
    with refused("sealed already, as sheet 1. A new one takes its place as a revision: say why"):
        scene.put_up()
    second = scene.seal(at=later, reason="lash checked hot")
    entry = json.loads(second.entry)
    assert (second.number, second.revision, entry["reason"]) == (2, 1, "lash checked hot")
    assert entry["revises"] == {"number": 1, "digest": first.digest}
    old, new = SealedSheet.objects.for_list().order_by("number")
    assert (old.superseded_by, new.superseded_by) == (new, None)
    assert bytes(SealedSheet.objects.get(pk=first.pk).pdf) == first.pdf


def test_a_list_asks_the_same_however_many_there_are(scene: Scene, django_assert_num_queries: Any) -> None:
    def look() -> None:
        for sheet in SealedSheet.objects.for_list():
            assert [str(each.person) for each in sheet.signing.signatures.all()]
            assert sheet.superseded_by is None
            assert str(sheet.signing.build.engine.customer)

    scene.seal()
    with django_assert_num_queries(3):
        look()
    scene.seal(subject="L", at=NOON + timedelta(hours=1))
    with django_assert_num_queries(3):
        look()


def test_who_comes_second_is_told_who_sealed(scene: Scene, owner: Person) -> None:
    signing = scene.signed()
    service.seal(signing, owner, mark_of(owner, signing))
    with refused("sealed a moment ago by Greta Holmqvist, as sheet 1"):
        service.seal(signing, scene.checker, mark_of(scene.checker, signing))


def test_a_clock_that_went_back_seals_nothing(scene: Scene) -> None:
    scene.seal()
    signing = scene.signed(subject="L")
    with refused("Set the clock of this computer right"):
        service.seal(signing, scene.checker, mark_of(scene.checker, signing, NOON - timedelta(days=1)))
    assert SealedSheet.objects.count() == 1


def test_without_the_passphrase_nothing_is_sealed(scene: Scene) -> None:
    signing = scene.signed()
    authority.passphrase_file().unlink()
    with refused("passphrase of the shop’s signing keys is missing"):
        service.seal(signing, scene.checker, mark_of(scene.checker, signing))
    assert nothing_is_sealed()
    assert not authority.passphrase_file().exists()


def test_with_another_passphrase_nothing_is_sealed(scene: Scene, settings: Any) -> None:
    signing = scene.signed()
    settings.SIGNING_PASSPHRASE = "not the one"
    with refused("does not open the shop’s signing keys"):
        service.seal(signing, scene.checker, mark_of(scene.checker, signing))
    assert nothing_is_sealed()


def test_the_passphrase_lies_outside_the_book_for_its_owner_alone(scene: Scene) -> None:
    scene.signed()
    path = authority.passphrase_file()
    assert path.stat().st_mode & 0o777 == 0o600
    kept = Authority.objects.get().wrapped_key + SignerCertificate.objects.get().wrapped_key
    assert kept.count("BEGIN ENCRYPTED PRIVATE KEY") == 2
    assert path.read_text() not in kept


@pytest.mark.parametrize(
    "trouble",
    [OSError(errno.ENOSPC, "No space left on device"), OperationalError("database or disk is full")],
)
@pytest.mark.parametrize("place", ["printing", "signature", "sheet"])
def test_a_full_disk_seals_nothing(
    scene: Scene, monkeypatch: pytest.MonkeyPatch, trouble: Exception, place: str
) -> None:
    signing = scene.signed()

    def full(*args: Any, **kwargs: Any) -> Any:
        raise trouble

    target = {
        "printing": (making, "print_sheet"),
        "signature": (Signature, "save"),
        "sheet": (SealedSheet, "save"),
    }
    monkeypatch.setattr(*target[place], full)
    with refused("no room left on the book’s disk"):
        service.seal(signing, scene.checker, mark_of(scene.checker, signing))
    assert nothing_is_sealed()


def test_the_page_can_be_printed_again_from_snapshot_and_entry_alone(scene: Scene) -> None:
    sheet = scene.seal()
    entry = json.loads(sheet.entry)
    strokes = {each.role: each.strokes for each in sheet.signing.signatures.all()}
    pages = [
        kind_of("test-sheet").render(
            json.loads(sheet.signing.snapshot), marks_from(entry, sheet.digest, strokes), making.PAPERS["A4"]
        )
        for _time in range(2)
    ]
    assert pages[0] == pages[1]
    assert "0.0251 in" in pages[0].html
    assert sheet.digest[:4] in pages[0].html
    assert canonical(entry) == sheet.entry


def test_a_page_that_was_used_for_something_else_is_refused(scene: Scene) -> None:
    used = put_up(scene.job, scene.tech).client_id
    with refused("already used for another sheet"):
        put_up(scene.job, scene.tech, client_id=used, subject="L")


@pytest.mark.parametrize(
    ("other", "words"),
    [
        ({"kind": "gearbox"}, "There is no such sheet"),
        ({"subject": "R"}, "This job has no test sheet of that"),
        ({"unit": "ft"}, "Choose inch or millimetre"),
        ({"paper": "A0"}, "Choose inch or millimetre"),
    ],
)
def test_what_cannot_be_put_up(scene: Scene, other: dict[str, str], words: str) -> None:
    with refused(words):
        scene.put_up(**other)
