"""Edits of what stands on an engine, told by address and trade words; and forms that leave one row for one edit."""

from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from builds.edits import THE_BOOK, Edit, edits_of_job, edits_of_shop, told
from builds.models import Build, Person
from builds.tracking import history_of, written_by
from tests.scenes import Scene, make_scene, shelf
from tests.valvetrain.shopfloor import filled
from valvetrain import demo
from valvetrain.forms.heads import HeadForm
from valvetrain.forms.rockers import CamCardForm
from valvetrain.forms.stands import StandForm
from valvetrain.forms.valves import ValveFormSet
from valvetrain.models import CamCard, LobePoint, LobeTable, Pad, RockerSet, ShimStock, Stand, Trial, Valve

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene(builder: Person) -> Scene:
    """The V8, nothing measured."""
    return make_scene(builder)


def edits(scene: Scene, unit: str = "in") -> list[Edit]:
    """All edits of the job, newest first."""
    return told(edits_of_job(scene.build), unit)


def newest(scene: Scene, unit: str = "in") -> list[tuple[str, str, str]]:
    """What the newest edit changed."""
    return [(line.what, line.before, line.after) for line in edits(scene, unit)[0].lines]


# Hand-worked: 0.0040 in is 0.1016 mm, 0.0195 in is 0.4953 mm.
@pytest.mark.parametrize(
    ("unit", "before", "after"), [("in", "0.0040 in", "0.0195 in"), ("mm", "0.1016 mm", "0.4953 mm")]
)
def test_a_cam_cards_lash(scene: Scene, unit: str, before: str, after: str) -> None:
    CamCard.objects.filter(build=scene.build).update(intake_lash=Decimal("0.0195"))
    assert newest(scene, unit) == [("cam card, intake lash", before, after)]


def test_a_valve_and_a_stand_by_their_addresses(scene: Scene) -> None:
    valve = scene.left.valves.get(cylinder=3, kind="E")
    was = valve.tip_diameter
    valve.tip_diameter = was + Decimal("0.0005")
    valve.save()
    assert newest(scene)[0][0] == "3E tip diameter"

    stand = scene.left.stands.get(name="stand2")
    stand.pad_tilt = Decimal("-2.5")
    stand.save()
    assert newest(scene) == [("L.stand2 pad tilt", "0.0°", "−2.5°")]

    pad = stand.pads.get(letter="A")
    Pad.objects.filter(pk=pad.pk).update(letter="Z")
    assert newest(scene) == [("L.stand2.padZ letter", "A", "Z")]


def test_a_valve_that_moves_to_another_stand_names_both(scene: Scene) -> None:
    valve = scene.left.valves.get(cylinder=1, kind="E")
    other = scene.left.stands.get(name="stand2")
    was = valve.stand
    Valve.objects.filter(pk=valve.pk).update(stand=other)
    assert newest(scene) == [("1E stand", str(was), str(other))]


def test_a_rocker_set(scene: Scene) -> None:
    RockerSet.objects.filter(build=scene.build).update(ratio=Decimal("1.65"), arm_length=Decimal("1.655"))
    assert newest(scene) == [
        ("rockers, intake and exhaust, arm length", "1.650 in", "1.655 in"),
        ("rockers, intake and exhaust, nominal ratio", "1.60", "1.65"),
    ]


def test_a_head_that_is_taken_away_stays_in_the_line_with_all_its_parts(scene: Scene) -> None:
    scene.right.take_away()
    found = edits(scene)
    assert [(edit.what, edit.act) for edit in found[:4]] == [
        ("Right head", "removed"), ("4 stands", "removed"), ("8 valves", "removed"), ("8 pads", "removed"),
    ]  # fmt: skip
    assert {name for name, _facts in found[1].facts} == {f"R.stand{number}" for number in (1, 2, 3, 4)}
    assert "R.stand1.padA" in {name for name, _facts in found[3].facts}
    assert all("tip diameter" in facts for _name, facts in found[2].facts)


def test_a_layout_is_the_shops_and_not_the_jobs(scene: Scene) -> None:
    before = edits_of_job(scene.build).count()
    stand = shelf()["V8 head, paired stands"].stands.get(name="stand1")
    stand.pad_tilt = Decimal(3)
    stand.save()
    assert edits_of_job(scene.build).count() == before
    line = told(edits_of_shop(), "in")[0].lines[0]
    assert (line.what, line.after) == ("layout V8 head, paired stands: stand1 pad tilt", "3°")


def test_shims_that_are_counted_again(bench_client: Client, scene: Scene) -> None:
    shim = ShimStock.objects.get(thickness=Decimal("0.005"))
    sent = {"thickness": "0.005", "count": "38", "least": "5"}
    bench_client.post(reverse("shim-edit", args=[shim.pk]), sent)
    edit = told(edits_of_shop(), "in")[0]
    assert edit.who == "Nora Vesterlund"
    assert [(line.what, line.before, line.after) for line in edit.lines] == [
        ("shim 0.005 in, pieces in the drawer", "40", "38"), ("shim 0.005 in, keep at least", "0", "5"),
    ]  # fmt: skip


def test_a_trial_that_was_dropped(scene: Scene) -> None:
    Trial.objects.create(build=scene.build, name="taller cam", kept_by=scene.person).delete()
    assert [(edit.what, edit.act) for edit in edits(scene)[:2]] == [
        ("trial taller cam", "removed"), ("trial taller cam", "added"),
    ]  # fmt: skip


# ---- forms of several rows


def test_pads_that_swap_their_letters_are_two_edits_without_the_steps_between(
    bench_client: Client, scene: Scene
) -> None:
    stand = scene.left.stands.get(name="stand2")
    url = reverse("stand-edit", args=[scene.left.pk, stand.pk])
    form = StandForm(instance=stand)
    sent = filled(form, form.pads)
    letters = [name for name, value in sent.items() if name.endswith("-letter") and value in ("A", "B")]
    sent[letters[0]], sent[letters[1]] = sent[letters[1]], sent[letters[0]]
    assert bench_client.post(url, sent).status_code == 302

    changed = history_of(Pad).filter(stand_id=stand.pk, history_type="~")
    assert sorted(changed.values_list("letter", flat=True)) == ["A", "B"]


def test_valves_that_swap_their_cylinders_leave_no_steps_between(bench_client: Client, scene: Scene) -> None:
    url = reverse("valves-edit", args=[scene.left.pk])
    sent = filled(ValveFormSet(instance=scene.left, form_kwargs={"stands": list(scene.left.stands.all())}))
    swapped = {"1": "3", "3": "1"}
    sent = {
        name: swapped.get(value, value) if name.endswith("-cylinder") else value
        for name, value in sent.items()
    }
    assert bench_client.post(url, sent).status_code == 302

    changed = history_of(Valve).filter(head_id=scene.left.pk, history_type="~")
    assert sorted(changed.values_list("cylinder", "kind")) == [(1, "E"), (1, "I"), (3, "E"), (3, "I")]


def test_forms_sent_unchanged_leave_no_row(bench_client: Client, scene: Scene) -> None:
    before = edits_of_job(scene.build).count()
    head, stand = scene.left, scene.left.stands.get(name="stand1")
    stand_form = StandForm(instance=stand)
    valve_rows = ValveFormSet(instance=head, form_kwargs={"stands": list(head.stands.all())})
    for url, sent in (
        (reverse("valves-edit", args=[head.pk]), filled(valve_rows)),
        (reverse("stand-edit", args=[head.pk, stand.pk]), filled(stand_form, stand_form.pads)),
        (reverse("cam-card", args=[scene.build.pk]), filled(CamCardForm(instance=scene.build.cam_card))),
        (reverse("head-edit", args=[head.pk]), filled(HeadForm(instance=head))),
    ):
        assert bench_client.post(url, sent).status_code == 302, url
    assert edits_of_job(scene.build).count() == before


def test_rows_of_a_lobe_that_stay_are_let_be(bench_client: Client, scene: Scene) -> None:
    table = LobeTable.objects.create(build=scene.build, kind="I")
    LobePoint.objects.bulk_create(
        LobePoint(table=table, lift=Decimal(lift), duration=Decimal(duration))
        for lift, duration in (("0.050", 260), ("0.200", 180), ("0.300", 130))
    )
    url = reverse("worksheet-lobe", args=[scene.build.pk, "I"])
    rows = {"rows-TOTAL_FORMS": "3", "rows-INITIAL_FORMS": "0", "ramp": ""}
    for number, (lift, duration) in enumerate((("0.050", "260"), ("0.200", "182"), ("0.300", "130"))):
        rows |= {f"rows-{number}-lift": lift, f"rows-{number}-duration": duration}
    answer = bench_client.post(url, rows)
    assert answer.status_code == 302
    assert newest(scene) == [("intake lobe at 0.2 in, duration there", "180°", "182°")]
    assert history_of(LobePoint).filter(table_id=table.pk).count() == 4


# ---- what it costs


def test_a_line_of_every_kind_asks_as_often_for_many_as_for_few(
    scene: Scene, django_assert_max_num_queries: Any
) -> None:
    def edit_all(number: int) -> None:
        step = Decimal(number) / 1000
        Valve.objects.filter(head=scene.left).update(along=step)
        Pad.objects.filter(stand__head=scene.left).update(along=step)
        Stand.objects.filter(head=scene.left).update(pad_tilt=step)
        CamCard.objects.update(intake_lash=step)
        RockerSet.objects.update(arm_length=Decimal("1.6") + step)

    for number in range(1, 4):
        edit_all(number)
    # One for the line; two for each kind on it; stands for valves and pads, heads for stands, pads and valves.
    with django_assert_max_num_queries(22):
        assert len(told(edits_of_job(scene.build), "in")) > 60


def test_readings_and_packs_are_records_and_no_edits(scene: Scene) -> None:
    with written_by(scene.person):
        before = edits_of_job(scene.build).count()
        scene.read_gap("1E", "0.024")
        scene.fit("L.stand1", "0.010")
    assert edits_of_job(scene.build).count() == before


def test_the_demo_shop_has_edits_to_look_at(
    db: None, photo_folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(
        demo, "seal_some", lambda *_shop: None
    )  # sealing takes its time, and is not asked after here
    assert demo.load()
    puller = Build.objects.select_related("engine").get(title__startswith="Both heads")
    changed = [edit for edit in told(edits_of_job(puller), "in") if edit.lines and edit.who != THE_BOOK]
    assert [(edit.who, edit.lines[0].what) for edit in changed] == [
        ("Runa Ostergaard", "job, note"),
        ("Joss Wakely", "part rocker arm all, serial number"),
        ("Joss Wakely", "spring sheet, intake and exhaust, name"),
    ]
