"""The pages on which sheets are accepted, signed and sealed: what they show, and every refusal as a sentence."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from builds import appendonly
from builds.guests import new_token
from builds.models import Acceptance, Build, GuestLink, Person, SealedSheet, Signature, Signing
from builds.sealing.kinds import Readiness
from tests.builds import a_sheet
from tests.builds.a_sheet import LATE, OUT, STROKES, read
from tests.builds.sealing_scene import Scene, scene
from tests.tablets import enrolled, give_pin
from tests.tablets import log_in as log_in_there

__all__ = ["scene"]

PASSWORDS = {"nora": "nine loose lifters", "ylva": "four gauge blocks", "greta": "eleven very loose lifters"}


def address(scene: Scene, name: str = "sheet-ready", subject: str = "job") -> str:
    return reverse(name, args=[scene.job.pk, "test-sheet", subject])


def log_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


@pytest.fixture
def tech(scene: Scene) -> Client:
    """Nora's browser."""
    return log_in(scene.tech)


@pytest.fixture
def checker(scene: Scene) -> Client:
    """Ylva's browser."""
    return log_in(scene.checker)


def begin(client: Client, scene: Scene, **more: Any) -> Any:
    sent = {"client_id": uuid4(), "unit": "in", "paper": "A4"} | more
    return client.post(address(scene, "sheet-begin"), sent)


def signed_by(scene: Scene, person: Person, signing: Signing | None = None) -> dict[str, Any]:
    """What the pad sends."""
    signing = signing or Signing.objects.latest("pk")
    return {
        "client_id": uuid4(), "signing": signing.pk, "seen_digest": signing.digest, "strokes": STROKES,
        "typed_name": str(person), "secret": PASSWORDS[person.username],
    }  # fmt: skip


def sign(client: Client, scene: Scene, **more: Any) -> Any:
    return client.post(address(scene, "sheet-sign"), signed_by(scene, scene.tech) | more)


def seal(client: Client, scene: Scene, **more: Any) -> Any:
    return client.post(address(scene, "sheet-seal"), signed_by(scene, scene.checker) | more)


def put_up(scene: Scene) -> Signing:
    return scene.put_up()


# The whole way.


def test_a_sheet_is_put_up_signed_checked_and_sealed(scene: Scene, tech: Client, checker: Client) -> None:
    assert "Not begun" in tech.get(address(scene)).text
    assert begin(tech, scene).url == f"{address(scene)}#sign"
    page = tech.get(address(scene)).text
    assert "Put up, not signed" in page
    assert Signing.objects.get().digest in page
    assert sign(tech, scene).url == address(scene)
    assert "Signed once, to be checked" in tech.get(address(scene)).text
    page = checker.get(address(scene, "sheet-check")).text
    assert "Nothing changed since" in page
    assert "<svg" in page
    assert seal(checker, scene).url == reverse("sealed-sheet", args=[1])
    sheet = SealedSheet.objects.get()
    assert b"http://testserver/sheets/1/" in bytes(sheet.entry)
    page = checker.get(reverse("sealed-sheet", args=[1])).text
    assert sheet.digest[:4] + " " + sheet.digest[4:8] in page
    assert page.count("Signature of ") == 2
    assert "Sealed" in tech.get(address(scene)).text


def test_the_job_says_how_its_sheets_stand(scene: Scene, tech: Client) -> None:
    scene.signed()
    page = tech.get(reverse("job-sheets", args=[scene.job.pk])).text
    assert "Signed once, to be checked" in page
    assert "Test sheet, left head" in page
    panel = tech.get(reverse("job-sheets", args=[scene.job.pk]), headers={"hx-request": "true"}).text
    assert "Check and seal" in panel
    assert "<html" not in panel


def sealed_now(scene: Scene) -> None:
    """Sealed at this moment, by the clock: what was read stands before it, what comes next after it."""
    scene.seal(at=timezone.now() - timedelta(minutes=5))


def test_a_sealed_job_says_so_until_a_revision_is_signed(scene: Scene, tech: Client) -> None:
    jobs = reverse("job-list")
    sealed_now(scene)
    assert "state sealed" in tech.get(jobs).text
    scene.signed(reason="title put right", at=timezone.now())
    assert "state on-the-bench" in tech.get(jobs).text


def test_a_reading_takes_a_sealed_job_back_to_the_bench(scene: Scene, tech: Client) -> None:
    sealed_now(scene)
    read(scene.job, scene.tech, "0.030")
    assert "state on-the-bench" in tech.get(reverse("job-list")).text


def test_the_draft_is_printed_from_what_is_put_up(scene: Scene, tech: Client, monkeypatch: Any) -> None:
    shown = {}
    monkeypatch.setattr(
        "builds.sealing.drafts.start", lambda run, work: shown.update(pdf=work(lambda *_: None)) or run
    )
    begin(tech, scene)
    answer = tech.post(address(scene, "sheet-draft"), {"id": uuid4()})
    assert answer.url.startswith("/printing/")
    assert shown["pdf"].startswith(b"%PDF")


# What it lacks.


def test_what_is_missing_blocks_and_is_listed(scene: Scene, tech: Client) -> None:
    scene.kind.readiness = Readiness(["No gap is read at 3E."])
    page = tech.get(address(scene)).text
    assert "No gap is read at 3E." in page
    assert "1 thing above stands in the way" in page
    signing = put_up(scene)
    answer = sign(tech, scene)
    assert (answer.status_code, "not ready" in answer.text) == (422, True)
    assert not signing.signatures.exists()


def mark_in(page: str) -> str:
    return page.split('name="item" value="')[1].split('"')[0]


def test_what_is_out_is_accepted_by_name_with_a_reason(scene: Scene, tech: Client, checker: Client) -> None:
    scene.kind.readiness = Readiness(out=[OUT])
    assert "Accepted by somebody with the right to check" in tech.get(address(scene)).text
    mark = mark_in(checker.get(address(scene)).text)
    sent = {"client_id": uuid4(), "item": mark, "reason": "Customer runs it so"}
    for _twice in range(2):
        assert checker.post(address(scene, "accept-out"), sent).url == f"{address(scene)}#ready"
    accepted = Acceptance.objects.get()
    assert (accepted.accepted_by, accepted.reason) == (scene.checker, "Customer runs it so")
    page = tech.get(address(scene)).text
    assert "Nothing is lacking" in page
    assert "Accepted by Ylva Norrgard" in page


@pytest.mark.parametrize(
    ("sent", "sentence"),
    [
        ({}, "say why it is accepted"),
        ({"item": ""}, "Nothing is ticked"),
        ({"item": "0123456789abcdef", "reason": "so"}, "Something changed since this page was shown"),
        ({"client_id": "x", "reason": "so"}, "did not arrive whole"),
        ({"reason": "x" * 201}, "201 characters long"),
    ],
)
def test_an_acceptance_without_what_it_needs_is_refused(
    scene: Scene, checker: Client, sent: dict[str, Any], sentence: str
) -> None:
    scene.kind.readiness = Readiness(out=[OUT])
    whole = {"client_id": uuid4(), "item": mark_in(checker.get(address(scene)).text)} | sent
    answer = checker.post(
        address(scene, "accept-out"), {name: value for name, value in whole.items() if value}
    )
    assert (answer.status_code, sentence in answer.text) == (422, True)
    assert not Acceptance.objects.exists()


def test_who_may_not_check_accepts_nothing(scene: Scene, tech: Client) -> None:
    scene.kind.readiness = Readiness(out=[OUT])
    assert tech.post(address(scene, "accept-out"), {"client_id": uuid4()}).status_code == 403


def test_a_tool_past_its_check_is_let_pass_by_an_owner_alone(
    scene: Scene, checker: Client, owner_client: Client
) -> None:
    scene.kind.readiness = Readiness(overdue=[LATE])
    assert checker.post(address(scene, "accept-overdue"), {"client_id": uuid4()}).status_code == 403
    mark = mark_in(owner_client.get(address(scene)).text)
    owner_client.post(
        address(scene, "accept-overdue"), {"client_id": uuid4(), "item": mark, "reason": "back on Monday"}
    )
    assert Acceptance.objects.get().reason == "back on Monday"
    assert "Nothing is lacking" in checker.get(address(scene)).text


# Bad signatures.


@pytest.mark.parametrize(
    ("sent", "sentence"),
    [
        ({"secret": "wrong"}, "That is not your password"),
        ({"secret": ""}, "Type your password"),
        ({"strokes": ""}, "Nothing is drawn"),
        ({"strokes": "[1, 2"}, "did not come whole"),
        ({"strokes": '{"width": 300, "height": 120, "strokes": []}'}, "Nothing is drawn"),
        ({"typed_name": "N. Vesterlund"}, "is not your name as the book has it. Type Nora Vesterlund."),
        ({"typed_name": ""}, "Type your name, as the book has it"),
        ({"seen_digest": "0" * 64}, "not the sheet that was on your screen"),
        ({"client_id": "x"}, "did not arrive whole"),
        ({"signing": "99999"}, "of another sheet"),
        ({"signing": ""}, "did not arrive whole"),
        ({"signing": "one"}, "of another sheet"),
    ],
)
def test_a_bad_signature_is_refused_in_a_sentence(
    scene: Scene, tech: Client, sent: dict[str, str], sentence: str
) -> None:
    put_up(scene)
    answer = sign(tech, scene, **sent)
    assert (answer.status_code, sentence in answer.text) == (422, True)
    assert not Signature.objects.exists()


def test_the_pad_carries_all_that_is_sent(scene: Scene, tech: Client) -> None:
    signing = put_up(scene)
    page = tech.get(address(scene)).text
    for name, value in {"signing": signing.pk, "seen_digest": signing.digest}.items():
        assert f'<input type="hidden" name="{name}" value="{value}"' in page
    assert 'name="client_id"' in page
    assert 'name="strokes"' in page


def test_what_was_typed_and_drawn_stays_but_never_the_secret(scene: Scene, tech: Client) -> None:
    put_up(scene)
    page = sign(tech, scene, secret="wrong lifters").text
    assert 'value="Nora Vesterlund"' in page
    assert "[[[10, 60]" in page
    assert "wrong lifters" not in page


def test_a_pin_says_nothing_away_from_an_enrolled_tablet(scene: Scene, tech: Client) -> None:
    put_up(scene)
    assert "That is not your password" in sign(tech, scene, secret="4071").text
    assert not Signature.objects.exists()


def test_on_an_enrolled_tablet_a_pin_signs_and_a_wrong_one_is_counted(scene: Scene, owner: Person) -> None:
    tablet = enrolled(owner)
    log_in_there(tablet)
    give_pin(scene.tech, "4071")
    put_up(scene)
    assert "Your password or PIN once more" in tablet.get(address(scene)).text
    assert "That is not the PIN of Nora Vesterlund. 4 more tries" in sign(tablet, scene, secret="4072").text
    assert not Signature.objects.exists()
    assert sign(tablet, scene, secret="4071").url == address(scene)


def test_who_cannot_draw_types_and_the_sheet_says_so(scene: Scene, tech: Client, checker: Client) -> None:
    put_up(scene)
    sign(tech, scene, strokes="", typed="on")
    signature = Signature.objects.get()
    assert signature.meaning.endswith("Signed by typing my name, not by drawing.")
    assert "Nora Vesterlund</text>" in checker.get(address(scene, "sheet-check")).text
    assert seal(checker, scene, strokes="", typed="on").url == reverse("sealed-sheet", args=[1])


def test_sent_twice_it_is_signed_and_sealed_once(scene: Scene, tech: Client, checker: Client) -> None:
    signing = put_up(scene)
    first, second = signed_by(scene, scene.tech, signing), signed_by(scene, scene.checker, signing)
    for _twice in range(2):
        assert tech.post(address(scene, "sheet-sign"), first).status_code == 302
    for _twice in range(2):
        assert checker.post(address(scene, "sheet-seal"), second).url == reverse("sealed-sheet", args=[1])
    assert (Signature.objects.count(), SealedSheet.objects.count()) == (2, 1)


# Checking.


def test_nobody_checks_their_own_work(scene: Scene, owner: Person) -> None:
    Person.objects.filter(pk=scene.tech.pk).update(may_check=True)
    scene.signed()
    client = log_in(Person.objects.get(pk=scene.tech.pk))
    assert "nobody checks their own work" in client.get(address(scene, "sheet-check")).text
    answer = client.post(address(scene, "sheet-seal"), signed_by(scene, scene.tech))
    assert (answer.status_code, "nobody checks their own work" in answer.text) == (422, True)
    assert not SealedSheet.objects.exists()


def test_who_has_not_the_right_is_told_so(scene: Scene, second_client: Client) -> None:
    scene.signed()
    assert "somebody with the right to check" in second_client.get(address(scene, "sheet-check")).text
    assert second_client.post(address(scene, "sheet-seal")).status_code == 403


def test_a_new_reading_voids_the_first_signature_visibly(scene: Scene, tech: Client, checker: Client) -> None:
    scene.signed()
    read(scene.job, scene.tech, "0.0260")
    for page in (tech.get(address(scene)).text, checker.get(address(scene, "sheet-check")).text):
        assert "Signature void" in page
        assert "The signature of Nora Vesterlund is void." in page
        assert "<strong>address 1E; value 0.0260 in; what stand_gap</strong>" in page
    answer = seal(checker, scene)
    assert (answer.status_code, "its signatures are void" in answer.text) == (422, True)
    assert not SealedSheet.objects.exists()
    begin(tech, scene)
    assert "Put up, not signed" in tech.get(address(scene)).text


def test_a_change_while_the_page_was_open_refuses_the_first_signature_with_the_difference(
    scene: Scene, tech: Client
) -> None:
    signing = put_up(scene)
    scene.job.title = "set up anew"
    scene.job.save(update_fields=["title"])
    answer = sign(tech, scene)
    assert answer.status_code == 422
    assert "1 figure changed since this sheet was put up" in answer.text
    assert "<strong>set up anew</strong>" in answer.text
    assert not signing.signatures.exists()


def test_of_two_tablets_one_seals_and_the_other_is_told(scene: Scene, checker: Client, owner: Person) -> None:
    signing = scene.signed()
    other = log_in(owner)
    late = signed_by(scene, owner, signing)
    seal(checker, scene)
    answer = other.post(address(scene, "sheet-seal"), late)
    assert answer.status_code == 422
    assert "This was sealed a moment ago by Ylva Norrgard, as sheet 1" in answer.text
    assert SealedSheet.objects.count() == 1


def test_without_the_passphrase_nothing_is_sealed(scene: Scene, checker: Client) -> None:
    scene.signed()
    (scene.data / "signing-passphrase").unlink()
    answer = seal(checker, scene)
    assert (answer.status_code, "passphrase of the shop’s signing keys is missing" in answer.text) == (
        422,
        True,
    )
    assert not SealedSheet.objects.exists()


def test_with_a_full_disk_nothing_is_sealed(scene: Scene, checker: Client, monkeypatch: Any) -> None:
    def full(*_given: Any, **_named: Any) -> bytes:
        raise OSError(28, "No space left on device")

    scene.signed()
    monkeypatch.setattr("builds.sealing.making.print_sheet", full)
    answer = seal(checker, scene)
    assert (answer.status_code, "no room left on the book’s disk" in answer.text) == (422, True)
    assert not SealedSheet.objects.exists()
    assert not Signature.objects.filter(role="checked").exists()


# Sealed.


def test_a_revision_says_why_and_what_changed_and_the_old_one_stays(
    scene: Scene, tech: Client, checker: Client
) -> None:
    first = scene.seal()
    read(scene.job, scene.tech, "0.0260")
    assert "Sealed, changed since" in tech.get(address(scene)).text
    answer = begin(tech, scene)
    assert (answer.status_code, "say why" in answer.text) == (422, True)
    begin(tech, scene, reason="3E read again")
    sign(tech, scene)
    seal(checker, scene)
    page = tech.get(reverse("sealed-sheet", args=[2])).text
    assert "What this revision changed" in page
    assert "3E read again" in page
    old = tech.get(reverse("sealed-sheet", args=[1])).text
    assert "Superseded." in old
    assert "Make a revision" not in old
    assert tech.get(reverse("sealed-pdf", args=[1])).content == bytes(first.pdf)


def test_the_check_of_one_sheet_names_what_does_not_match(scene: Scene, tech: Client) -> None:
    scene.seal()
    here = reverse("sealed-check", args=[1])
    assert "Everything matches." in tech.get(here).text
    appendonly.remove()
    with connection.cursor() as cursor:
        cursor.execute("UPDATE builds_sealedsheet SET digest = %s", ["0" * 64])
    appendonly.install()
    part = tech.get(here, headers={"hx-request": "true"}).text
    assert "its entry in the chain does not have its digest" in part
    assert "<html" not in part


def test_a_guest_sees_the_sealed_sheets_of_their_own_job_alone(scene: Scene, owner: Person) -> None:
    first = scene.seal()
    other = Build.objects.create(engine=scene.job.engine, job_number="2026-002")
    guest = Client()
    for job in (other, scene.job):
        token, kept = new_token()
        GuestLink.objects.create(build=job, digest=kept, name="crew chief", made_by=owner)
        guest.get(reverse("guest-enter", args=[token]))
        page, pdf = guest.get(reverse("guest-job")).text, guest.get(reverse("guest-sheet", args=[1]))
        assert ("Test sheet" in page) == (job == scene.job)
        assert pdf.status_code == (200 if job == scene.job else 404)
    assert pdf.content == bytes(first.pdf)
    assert guest.get(reverse("guest-sheet", args=[2])).status_code == 404


@pytest.mark.parametrize("name", ["sealed-sheet", "sealed-pdf", "sealed-check"])
def test_a_number_that_was_never_sealed_leads_nowhere(scene: Scene, tech: Client, name: str) -> None:
    assert tech.get(reverse(name, args=[7])).status_code == 404


def test_a_sheet_that_the_job_has_not_leads_nowhere(scene: Scene, tech: Client) -> None:
    assert tech.get(address(scene, subject="R")).status_code == 404
    assert tech.get(reverse("sheet-ready", args=[scene.job.pk, "no-such", "job"])).status_code == 404


def test_lists_ask_as_often_for_many_sheets_as_for_few(
    scene: Scene, tech: Client, queries: Callable[[Client, str], int]
) -> None:
    lists = [
        reverse("job-sheets", args=[scene.job.pk]),
        reverse("job-list"),
        reverse("sealed-sheet", args=[1]),
    ]
    scene.seal()
    few = [queries(tech, each) for each in lists]
    for again in range(3):
        scene.seal(at=a_sheet.NOON.replace(hour=13 + again), reason="once more")
    assert [queries(tech, each) for each in [*lists[:2], reverse("sealed-sheet", args=[4])]] == [
        few[0], few[1], pytest.approx(few[2], abs=3),
    ]  # fmt: skip
