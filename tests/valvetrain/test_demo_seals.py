"""The invented shop's sealed sheets: signed by two, verified, one superseded, one that waits. Invented data."""

import io
import json
from collections import Counter

import pytest
from django.core.management import call_command
from django.urls import reverse
from pypdf import PdfReader

from builds.models import Build, BuildState, GuestLink, Person, SealedSheet, with_states
from builds.sealing.authority import passphrase_file
from builds.sealing.board import SheetState, sheet_lines
from builds.sealing.rules import strokes_of
from valvetrain.demo_seals import FILE, drawn

pytestmark = pytest.mark.django_db
WITH_SEALS = True


def states(title: str) -> dict[str, SheetState]:
    build = Build.objects.select_related("engine").get(title__startswith=title)
    return {line.kind.key: line.state for line in sheet_lines(build)}


def pages_of(sheet: SealedSheet) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(sheet.pdf)).pages)


def test_its_jobs_stand_in_all_states(shop):
    found = Counter(build.state for build in with_states(Build.objects.jobs().for_list()))

    assert set(found) == set(BuildState)
    assert 10 <= found.total() <= 12


def test_everything_that_it_sealed_matches(shop, capsys):
    call_command("verify")
    said = capsys.readouterr().out
    assert said.startswith("4 sealed sheets, ")
    assert said.endswith("Everything matches.\n")


def test_its_passphrase_lies_beside_the_book_and_not_in_it(shop):
    assert passphrase_file().stat().st_mode & 0o777 == 0o600


def test_its_sheets_stand_as_planned(shop):
    assert states("Rockers on a new shaft") == {"build": SheetState.NOT_BEGUN, "setup": SheetState.SEALED}
    assert states("Heads, cam and rockers")["build"] == SheetState.SEALED
    assert states("Freshen up before")["build"] == SheetState.SEALED
    assert states("Valve job, old shaft") == {"build": SheetState.NOT_BEGUN, "setup": SheetState.SIGNED}


def test_each_was_sealed_by_another_than_who_measured(shop):
    for sheet in SealedSheet.objects.for_list():
        first, second = sheet.signing.signatures.order_by("pk")
        assert first.person != second.person
        assert second.person.may_check


def test_one_takes_the_place_of_another_and_says_why(shop):
    first, second = SealedSheet.objects.filter(signing__kind="setup").order_by("number")
    assert (first.revision, second.revision, second.signing.revises) == (0, 1, first)
    assert f"It takes the place of sheet {first.number}: Lash of 2E read again" in pages_of(second)


def test_what_was_accepted_is_on_the_sheet_with_who_and_why(shop):
    told = pages_of(SealedSheet.objects.get(number=4))
    plan = [row for row in json.loads(FILE.read_text(encoding="utf-8")) if row["do"] == "accept"]
    reasons = next(row["reasons"] for row in plan if row["job"] == "hillclimb")
    assert len(reasons) == 3
    for reason in reasons.values():
        assert reason in told
    assert "Runa Ostergaard" in told


def test_a_visitor_opens_the_page_of_each(shop, client):
    client.force_login(Person.objects.get(username="joss"))
    for number in (1, 2, 3, 4):
        assert client.get(reverse("sealed-sheet", args=[number])).status_code == 200


def test_a_customer_has_a_link_that_ends(shop):
    looks, tells = GuestLink.objects.order_by("pk")
    assert looks.is_live
    assert tells.is_live
    assert not looks.shows_photos
    assert (looks.takes_running, tells.takes_running) == (False, True)


def test_a_drawn_name_is_a_signature_and_stays_on_its_pad():
    for name in ("Runa Ostergaard", "Joss Wakely", "Mina Dellacourt"):
        width, height, strokes = strokes_of(drawn(name))
        assert len(strokes) == 3  # both names, and the line below
        assert all(0 <= x <= width and 0 <= y <= height for stroke in strokes for x, y in stroke)
