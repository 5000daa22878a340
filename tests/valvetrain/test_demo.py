"""The invented shop: whole and consistent."""

import json

import pytest
from django.conf import settings
from django.contrib.auth import authenticate

from builds.forms.first_owner import OWNER_PASSWORD_LENGTH
from builds.models import Build, Customer, Instrument, Reading
from valvetrain.models import CamCard, Head
from valvetrain.readiness import what_is_missing
from valvetrain.status import Status
from valvetrain.targets import states_of

pytestmark = pytest.mark.django_db


def job(title: str) -> Build:
    return Build.objects.get(title__startswith=title)


def stands(title: str) -> dict[str, Status]:
    heads = Head.objects.filter(build=job(title)).select_related("build")
    return {stand.address: stand.status for state in states_of(heads) for stand in state.stands}


def test_everybody_who_is_listed_can_log_in(shop, rf):
    people = json.loads((settings.BASE_DIR / "fixtures/demo/people.json").read_text(encoding="utf-8"))

    for row in people:
        person = authenticate(rf.post("/"), username=row["username"], password=row["password"])
        assert person is not None
        assert person.is_superuser == row["is_superuser"]
        assert len(row["password"]) >= (OWNER_PASSWORD_LENGTH if row["is_superuser"] else 8)


def test_the_engine_on_the_bench_is_half_way(shop):
    assert stands("Both heads") == {
        "L.stand1": Status.DONE,
        "L.stand2": Status.DONE,
        "L.stand3": Status.OUT,
        "L.stand4": Status.PROVE,
        "R.stand1": Status.SHIM,
        "R.stand2": Status.READ,
        "R.stand3": Status.READ,
        "R.stand4": Status.READ,
    }


def test_the_engine_on_the_bench_shows_a_repeat_and_a_correction(shop):
    readings = Reading.objects.filter(build=job("Both heads"))

    assert readings.filter(note__startswith="read again").count() == 1
    assert readings.get(corrects__isnull=False).reason == "two figures swapped when typing"


def test_the_fours_were_set_up_to_the_end(shop):
    for title in ("Heads, cam and rockers", "Rockers on a new shaft", "Valve job, old shaft"):
        assert stands(title) == {"shaft": Status.DONE}


def test_the_canted_engine_is_ready_to_start(shop):
    build = job("Canted heads")
    heads = list(Head.objects.filter(build=build))

    assert what_is_missing(heads, list(build.rocker_sets.all()), build.cam_card) == []
    assert set(stands("Canted heads").values()) == {Status.READ}


def test_one_of_its_cam_cards_disagrees_with_itself_to_show_what_the_book_says(shop):
    sentences = [sentence for card in CamCard.objects.all() for sentence in card.disagreements()]

    assert sentences == ["intake centreline: the card says 110°, its events give 108°"]


def test_one_instrument_is_overdue(shop):
    assert [instrument.mark for instrument in Instrument.objects.all() if instrument.overdue()] == ["DI-1"]


def test_every_record_of_it_passes_the_models_own_rules(shop):
    for model in (Customer, Build, Head, Instrument, CamCard):
        for record in model.objects.all():
            record.full_clean()
