"""Trials that are kept by name: kept once, opened against today's records, dropped after asking."""

from decimal import Decimal
from urllib.parse import urlencode
from uuid import uuid4

import pytest
from django.db import IntegrityError, connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from builds.models import Build, Person, Reading
from tests.scenes import Scene, make_scene
from valvetrain.models import CamCard, Trial


@pytest.fixture
def scene(builder: Person) -> Scene:
    """Every gap of the left head read."""
    scene = make_scene(builder)
    for valve in scene.left.valves.all():
        scene.read_gap(valve.address, "0.025")
    return scene


def keep(client: Client, scene: Scene, name: str = "Caps", token: str = "", **typed: str):
    sent = {
        "name": name,
        "note": "Before we order.",
        "form_token": token or str(uuid4()),
        "changes": urlencode(typed),
    }
    return client.post(reverse("trial-keep", args=[scene.build.pk]), sent)


def test_a_trial_is_kept_by_name(scene, bench_client):
    answer = keep(bench_client, scene, at="E", lash_cap=".050")
    trial = Trial.objects.get()
    assert answer.headers["Location"] == trial.get_absolute_url()
    assert (trial.name, trial.kept_by, trial.scope_words) == ("Caps", scene.person, "exhausts")
    assert trial.change_words == "cap thicker by .050 in"
    page = bench_client.get(trial.get_absolute_url()).content.decode()
    assert 'value=".050"' in page
    assert "Nothing that decides it has changed in the records since." in page


def test_a_trial_sent_twice_is_kept_once(scene, bench_client):
    token = str(uuid4())
    for _ in range(2):
        assert keep(bench_client, scene, token=token, lash_cap=".05").status_code == 302
    assert Trial.objects.count() == 1


@pytest.mark.parametrize(
    ("name", "typed", "sentence"),
    [
        ("", {"lash_cap": ".05"}, "Name: nothing is filled in."),
        ("Caps", {}, "Nothing differs from today, so there is no trial to keep."),
        ("Caps", {"lash_cap": ".0.5"}, "Nothing is kept yet: mend the field that says what is wrong"),
        ("caps of june", {"lash_cap": ".05"}, "This job has a trial called “caps of june” already."),
    ],
)
def test_a_trial_that_cannot_be_kept_says_why_and_keeps_the_text(scene, bench_client, name, typed, sentence):
    keep(bench_client, scene, "Caps of June", lash_cap=".02")
    answer = keep(bench_client, scene, name, **typed)
    assert answer.status_code == 422
    page = answer.content.decode()
    assert sentence in page
    assert "Before we order." in page
    assert all(f'value="{text}"' in page for text in typed.values())
    assert Trial.objects.count() == 1


def test_a_kept_trial_says_what_has_changed_in_the_records_since(scene, bench_client):
    keep(bench_client, scene, lash_cap=".05")
    CamCard.objects.update(exhaust_lobe_lift=Decimal("0.450"))
    page = bench_client.get(Trial.objects.get().get_absolute_url()).content.decode()
    everywhere = "1E, 2E, 3E, 4E, 5E, 6E, 7E, 8E"
    assert f"{everywhere}: net lift was 0.7000 in when this was kept, now 0.7160 in." in page
    assert f"{everywhere}: lobe lift was 0.4400 in when this was kept, now 0.4500 in." in page


def test_a_kept_trial_reads_in_the_unit_of_who_opens_it(scene, bench_client, second, second_client):
    keep(bench_client, scene, lash_cap=".050", pad_tilt="8")
    second.length_unit = "mm"
    second.save(update_fields=["length_unit"])
    page = second_client.get(Trial.objects.get().get_absolute_url()).content.decode()
    assert 'value="1.27"' in page
    assert 'value="8"' in page


def test_a_kept_trial_whose_valve_is_gone_opens_with_a_sentence(scene, bench_client):
    keep(bench_client, scene, at="1E", lash_cap=".050")
    Trial.objects.update(changes={"at": {"text": "9X"}, "lash_cap": {"text": ".05"}}, stood={"9X": {}})
    page = bench_client.get(Trial.objects.get().get_absolute_url()).content.decode()
    assert "There is no valve “9X” on this job." in page
    assert "9X: no longer on this job." in page


def test_a_closed_job_may_be_tried_on_and_kept(scene, bench_client):
    Build.objects.update(went_out_on="2026-11-20")
    assert "its log is closed" in bench_client.get(reverse("what-if", args=[scene.build.pk])).content.decode()
    assert keep(bench_client, scene, lash_cap=".05").status_code == 302


def test_who_kept_a_trial_may_drop_it_after_being_asked(scene, bench_client):
    keep(bench_client, scene, lash_cap=".05")
    url = reverse("trial-drop", args=[scene.build.pk, Trial.objects.get().pk])
    assert "Drop the trial Caps?" in bench_client.get(url).content.decode()
    assert bench_client.post(url).status_code == 302
    assert not Trial.objects.exists()
    assert Reading.objects.count() == 8


def test_somebody_else_may_not_drop_it_and_an_owner_may(scene, bench_client, second_client, owner_client):
    keep(bench_client, scene, lash_cap=".05")
    url = reverse("trial-drop", args=[scene.build.pk, Trial.objects.get().pk])
    refused = second_client.post(url)
    assert refused.status_code == 403
    assert "Nora Vesterlund kept this trial." in refused.content.decode()
    assert owner_client.post(url).status_code == 302


@pytest.mark.parametrize("name", ["trial-keep", "trial-drop"])
def test_nobody_writes_without_a_log_in(scene, bench_client, stranger, name):
    keep(bench_client, scene, lash_cap=".05")
    trial = Trial.objects.get()
    args = [scene.build.pk] if name == "trial-keep" else [scene.build.pk, trial.pk]
    assert reverse("login") in stranger.post(reverse(name, args=args)).headers["Location"]
    assert Trial.objects.count() == 1


def test_another_job_s_trial_is_not_found(scene, bench_client, builder):
    keep(bench_client, scene, lash_cap=".05")
    other = make_scene(builder, job_number="26-099").build
    for name in ("trial", "trial-drop"):
        assert bench_client.get(reverse(name, args=[other.pk, Trial.objects.get().pk])).status_code == 404


def test_the_list_of_trials_is_in_pages_and_its_queries_do_not_grow(
    scene, bench_client, django_assert_num_queries
):
    def add(count: int) -> None:
        start = Trial.objects.count()
        changes = {"lash_cap": {"text": ".05", "label": "cap thicker by", "told": ".05 in"}}
        for number in range(start, start + count):
            Trial.objects.create(
                build=scene.build, name=f"Trial {number}", kept_by=scene.person, changes=changes
            )

    url = reverse("trial-list", args=[scene.build.pk])
    assert "No trial is kept on this job." in bench_client.get(url).content.decode()
    add(2)
    with CaptureQueriesContext(connection) as few:
        bench_client.get(url)
    add(40)
    with django_assert_num_queries(len(few)):
        page = bench_client.get(url).content.decode()
    assert "Page 1 of 2" in page
    assert "cap thicker by .05 in" in page


def test_the_database_keeps_one_trial_of_a_name(scene):
    Trial.objects.create(build=scene.build, name="Caps", kept_by=scene.person)
    with pytest.raises(IntegrityError, match="trial"):
        Trial.objects.create(build=scene.build, name="Caps", kept_by=scene.person)
