"""The page with the packs for an engine, and fitting them from it."""

import re
from datetime import date
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from builds.models import Person
from tests.scenes import Scene, make_scene
from valvetrain.models import FittedPack, ShimStock, Stand


@pytest.fixture
def scene(builder: Person) -> Scene:
    return make_scene(builder)


@pytest.fixture
def url(scene: Scene) -> str:
    return reverse("engine-packs", args=[scene.build.pk])


def stand1(scene: Scene) -> Stand:
    return Stand.objects.get(head=scene.left, name="stand1")


def fit_url(scene: Scene) -> str:
    return reverse("engine-pack-fit", args=[scene.build.pk, stand1(scene).pk])


def read_stand1(scene: Scene, exhaust: str = "0.025", intake: str = "0.025") -> None:
    scene.read_gap("1E", exhaust)
    scene.read_gap("1I", intake)


def without_020() -> None:
    """With no .020 in the drawer there is one way alone to make .025 of two shims."""
    ShimStock.objects.filter(thickness=Decimal("0.020")).delete()


def offered(page: str) -> dict[str, str]:
    """The hidden fields of the first stand's form."""
    form = page[page.index('class="act"') :]
    fields = re.findall(r'type="hidden" name="([^"]+)" value="([^"]*)"', form[: form.index("</form>")])
    return {name: value for name, value in fields if name != "csrfmiddlewaretoken"}


def test_a_job_without_readings_says_what_to_do(url, bench_client):
    page = bench_client.get(url).content.decode()
    assert "No stand is read yet" in page
    assert "Stands still to be read" in page


def test_it_proposes_what_it_leaves_and_what_it_takes(scene, url, bench_client):
    without_020()
    read_stand1(scene, "0.0243", "0.0243")
    page = bench_client.get(url).content.decode()
    assert "Every stand comes in: the worst valve is 1E, 0.0007 in high. 4 shims in all." in page
    assert ".015 + .010" in page
    assert "takes 2 of .015, 2 of .010" in page
    assert "Proved the best that this drawer can do" in page
    assert "L.stand1, proposed: pad A .015 + .010, pad B .015 + .010" in page


def test_what_is_missing_is_said(scene, url, bench_client):
    ShimStock.objects.exclude(thickness=Decimal("0.060")).delete()
    read_stand1(scene)
    page = bench_client.get(url).content.decode()
    assert "1 of 1 stands cannot come in with this drawer" in page
    assert "Missing for L.stand1. Add 2 of ." in page


def test_it_speaks_millimetres(scene, url, bench_client, builder):
    builder.length_unit = "mm"
    builder.save()
    without_020()
    read_stand1(scene)
    assert "0.381 + 0.254" in bench_client.get(url).content.decode()


def test_fitted_as_proposed_goes_into_the_log(scene, url, bench_client):
    without_020()
    read_stand1(scene)
    answer = bench_client.post(fit_url(scene), offered(bench_client.get(url).content.decode()), follow=True)
    assert "Fitted under L.stand1: .015 + .010. Torque the stand" in answer.content.decode()
    assert FittedPack.objects.get().total() == Decimal("0.025")
    assert scene.stand("L.stand1").status == "prove"


def test_fitting_sent_twice_is_written_once(scene, url, bench_client):
    read_stand1(scene)
    sent = offered(bench_client.get(url).content.decode())
    for _ in range(2):
        assert bench_client.post(fit_url(scene), sent).status_code == 302
    assert FittedPack.objects.count() == 1


def test_pads_that_may_differ_are_fitted_pad_by_pad(scene, url, bench_client):
    read_stand1(scene, "0.010", "0.030")
    asked = f"{url}?how-{stand1(scene).pk}=tilt"
    sent = offered(bench_client.get(asked).content.decode())
    assert {"pad-A", "pad-B"} <= set(sent)
    answer = bench_client.post(f"{fit_url(scene)}?how-{stand1(scene).pk}=tilt", sent)
    assert answer.url == asked
    pack = FittedPack.objects.get()
    assert pack.differs
    assert (
        "Under the pads: <strong>pad A ."
        in bench_client.get(reverse("bench-at", args=[scene.left.pk, "L.stand1"])).content.decode()
    )


def test_a_pack_changed_meanwhile_is_not_fitted_over(scene, url, bench_client):
    read_stand1(scene)
    sent = offered(bench_client.get(url).content.decode())
    scene.fit("L.stand1", "0.020")
    answer = bench_client.post(fit_url(scene), sent)
    assert answer.status_code == 422
    assert "The pack under L.stand1 was changed since this page was opened" in answer.content.decode()
    assert FittedPack.objects.count() == 1


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"client_id": "nonsense"}, "This page is too old"),
        ({"pieces": ".015 abc"}, "Type the thicknesses with spaces"),
        ({"by": "99999"}, "Somebody else keyed this in"),
        ({"pieces": "", "pad-Z": ".015"}, "has no pad Z"),
        ({"pieces": ".001x13"}, "is not a shim"),
    ],
)
def test_bad_input_gets_a_sentence_and_writes_nothing(scene, url, bench_client, changes, sentence):
    read_stand1(scene)
    answer = bench_client.post(fit_url(scene), offered(bench_client.get(url).content.decode()) | changes)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert not FittedPack.objects.exists()


def test_a_page_that_names_no_pieces_fits_nothing(scene, url, bench_client):
    read_stand1(scene)
    sent = offered(bench_client.get(url).content.decode())
    del sent["pieces"]
    assert "This page is too old" in bench_client.post(fit_url(scene), sent).content.decode()
    assert not FittedPack.objects.exists()


@pytest.mark.parametrize(
    ("name", "typed", "sentence"),
    [
        ("must", "thick", "L.stand1: Pack: "),
        ("must", ".007", "it takes 2 of .007, one lot for each pad, and there are none in the drawer"),
        ("must", ".002x13", "13 of one shim is no pack"),
        ("bending", "straight", "Bending allowance: "),
        ("bending", "0.5", "would bend any stand"),
        ("bending", "-0.001", "is below zero"),
    ],
)
def test_what_cannot_be_wished_for_gets_a_sentence_and_stays_typed(
    scene, url, bench_client, name, typed, sentence
):
    read_stand1(scene)
    asked = name if name == "bending" else f"{name}-{stand1(scene).pk}"
    answer = bench_client.get(url, {asked: typed})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in page
    assert f'value="{typed}"' in page
    assert "Fitted as proposed" not in page


def test_a_way_that_is_not_known_is_the_usual_one(scene, url, bench_client):
    read_stand1(scene)
    assert bench_client.get(url, {f"how-{stand1(scene).pk}": "sideways"}).status_code == 200


def test_what_must_be_under_each_pad_is(scene, url, bench_client):
    read_stand1(scene)
    page = bench_client.get(url, {f"must-{stand1(scene).pk}": ".005"}).content.decode()
    assert ".020 + .005" in page


def test_a_stand_that_is_in_may_be_left_or_chosen_anew(scene, url, bench_client):
    scene.fit("L.stand1", "0.010")
    read_stand1(scene, "0.002", "0.002")
    assert "Every stand that is read keeps its pack" in bench_client.get(url).content.decode()
    page = bench_client.get(url, {f"how-{stand1(scene).pk}": "alike"}).content.decode()
    assert ".010 + .002" in page


def test_a_closed_job_is_looked_at_and_nothing_is_fitted(scene, url, bench_client):
    read_stand1(scene)
    sent = offered(bench_client.get(url).content.decode())
    scene.build.went_out_on = date(2026, 3, 1)
    scene.build.save()
    assert "Fitted as proposed" not in bench_client.get(url).content.decode()
    answer = bench_client.post(fit_url(scene), sent)
    assert answer.status_code == 422
    assert "log is closed" in answer.content.decode()
    assert not FittedPack.objects.exists()


def test_nobody_looks_or_fits_without_a_log_in(scene, url):
    read_stand1(scene)
    assert Client().get(url).status_code == 302
    assert Client().post(fit_url(scene), {"pieces": ".015"}).status_code == 302
    assert not FittedPack.objects.exists()


def test_a_stand_of_another_job_is_a_404(scene, second, bench_client):
    other = make_scene(second, job_number="26-015")
    answer = bench_client.post(reverse("engine-pack-fit", args=[other.build.pk, stand1(scene).pk]))
    assert answer.status_code == 404


def test_a_job_that_is_not_there_is_a_404(bench_client):
    assert bench_client.get(reverse("engine-packs", args=[99999])).status_code == 404


def test_the_page_asks_as_often_for_a_full_engine_as_for_one_stand(
    scene, url, bench_client, django_assert_max_num_queries
):
    scene.fit("R.stand3", "0.010")
    read_stand1(scene)
    with django_assert_max_num_queries(40) as first:
        bench_client.get(url)
    for address in ("3E", "3I", "2E", "2I", "4E", "4I"):
        scene.read_gap(address, "0.020")
    scene.fit("R.stand4", "0.015", "0.010")
    with django_assert_max_num_queries(len(first)):
        bench_client.get(url)


def test_the_jobs_valvetrain_leads_there(scene, bench_client, url):
    page = bench_client.get(reverse("valvetrain-panel", args=[scene.build.pk])).content.decode()
    assert f'href="{url}"' in page
