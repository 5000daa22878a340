"""The valvetrain's sheets that can be sealed: taken down as plain JSON, printed again from that alone; what they lack."""

import base64
import json
from datetime import timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.utils import timezone

from builds.models import Instrument, Limit, Person, Photo
from builds.photos.storage import photo_files, put
from builds.printing.paper import PAPERS
from builds.printing.press import PrintingFailed
from builds.sealing.canonical import canonical
from builds.sealing.kinds import kind_of
from tests.scenes import Scene, make_scene
from tests.valvetrain.samples import FOLDER, printed, text_of
from tests.valvetrain.seals import ACCEPTED, a_seal
from tests.valvetrain.test_photo_log import measured, take
from tests.valvetrain.test_setup_sheet import keyed
from tests.valvetrain.worksheet_bench import a_pushrod_side, some_masses
from valvetrain.models import SpringSheet
from valvetrain.sheets.kinds import UnknownSchema
from valvetrain.sheets.plain import NotThisForm, from_plain, to_plain
from valvetrain.sheets.snapshot import ArmLine, SetupSheet

SAMPLES = sorted(FOLDER.glob("*.json"), key=lambda path: path.name)


@pytest.fixture
def scene(builder: Person, photo_folder: Path) -> Scene:
    Limit.add_defaults()
    return make_scene(builder)


@pytest.fixture
def proved(scene: Scene) -> Scene:
    """The left head: every height read and in."""
    for address in ("1E", "1I", "3E", "3I", "5E", "5I", "7E", "7I"):
        scene.read_gap(address, "0.001")
    return scene


def taken(scene: Scene, kind: str = "setup", subject: str | None = None, unit: str = "in") -> dict[str, Any]:
    """As it is signed, through the bytes that are signed."""
    subject = str(scene.left.pk) if subject is None else subject
    plain: dict[str, Any] = json.loads(canonical(kind_of(kind).taken(scene.build, subject, unit)))
    return plain


def ready(scene: Scene, kind: str = "setup", subject: str | None = None) -> Any:
    return kind_of(kind).readiness(scene.build, str(scene.left.pk) if subject is None else subject)


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_the_same_snapshot_gives_the_same_page_text(path: Path, photo_folder: Path):
    # Regression only: what was printed when the sample was made, of every schema that this book ever had.
    sample = json.loads(path.read_text(encoding="utf-8"))
    for name, data in sample["pictures"].items():
        put(name, base64.b64decode(data))
    assert text_of(printed(sample["plain"], sample["paper"])) == sample["pages"]


def test_there_is_a_sample_of_every_schema():
    kinds = [kind_of(key) for key in ("build", "setup", "photo-log", "return")]
    assert {f"{kind.key}-{number}" for kind in kinds for number in range(1, kind.schema + 1)} <= {
        path.stem for path in SAMPLES
    }


def test_what_is_taken_says_neither_who_printed_nor_when(proved: Scene):
    plain = taken(proved)
    assert (plain["sheet"], plain["schema"], plain["geometry_version"]) == ("setup", 1, "1")
    assert not {"printed", "printed_by", "draft"} & set(plain)


def test_it_is_the_same_whenever_it_is_taken(proved: Scene):
    take(proved)
    for kind, subject in (("setup", None), ("photo-log", "")):
        assert taken(proved, kind, subject) == taken(proved, kind, subject)


@pytest.mark.parametrize("unit", ["in", "mm"])
def test_the_page_from_json_is_the_page_from_the_records(proved: Scene, unit: str):
    a_pushrod_side(proved)
    some_masses(proved)
    SpringSheet.objects.create(
        build=proved.build, installed_height=Decimal("1.900"), seat_load=Decimal(240), open_height=Decimal("1.200"),
        open_load=Decimal(590), solid_height=Decimal("1.120"),
    )  # fmt: skip
    keyed(proved, "1E", "installed_height", "1.904")
    kind = kind_of("setup")
    direct = kind.taken(proved.build, str(proved.left.pk), unit)
    assert direct["ratios"]
    assert direct["springs"]
    paper = PAPERS["A4"]
    assert kind.render(taken(proved, unit=unit), None, paper) == kind.render(direct, None, paper)


def test_a_snapshot_comes_back_as_what_it_was(proved: Scene):
    from valvetrain.sheets.setup import setup_sheet

    sheet = setup_sheet(proved.left, unit="in")
    back = from_plain(SetupSheet, json.loads(canonical(to_plain(sheet))))
    assert back == sheet
    assert isinstance(back.plan_stands, tuple)


def test_whole_numbers_come_back_as_floats():
    # RFC 8785 writes 2.0 as 2.
    assert canonical(to_plain(ArmLine(2.0, 0.235, 0.35, 0.5))) == (
        b'{"length":2,"shaft_radius":0.35,"square_at":0.5,"tip_radius":0.235}'
    )
    back = from_plain(ArmLine, {"length": 2, "tip_radius": 0.235, "shaft_radius": 0.35, "square_at": 0.5})
    assert isinstance(back.length, float)


@pytest.mark.parametrize(
    ("plain", "says"),
    [
        ({"length": 2}, "tip_radius is not there"),
        ({"length": "2", "tip_radius": 1, "shaft_radius": 1, "square_at": 1}, "found str"),
        ({"length": True, "tip_radius": 1, "shaft_radius": 1, "square_at": 1}, "found bool"),
        ({"length": 2, "tip_radius": 1, "shaft_radius": 1, "square_at": 1, "more": 1}, "knows no more"),
        ([], "found list"),
    ],
)
def test_what_is_not_of_the_form_is_refused(plain: Any, says: str):
    with pytest.raises(NotThisForm, match=says):
        from_plain(ArmLine, plain)


def test_an_unknown_schema_is_refused(proved: Scene):
    with pytest.raises(UnknownSchema, match="schema 99"):
        kind_of("setup").render({**taken(proved), "schema": 99}, None, PAPERS["A4"])


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_sealed_sheet_shows_its_seal_on_every_page(proved: Scene, paper: str):
    pages = text_of(printed(taken(proved), paper))
    digest = "digest ba78 16bf 8f01 cfea 4141 40de 5dae 2223 b003 61a3 9617 7a9c b410 ff61 f200 15ad"
    for number, page in enumerate(pages, start=1):
        assert f"Sheet 12, revision 1 · {digest}" in page
        assert f"{number} of {len(pages)}" in page
        assert "26-014" in page
    whole = " ".join(pages)
    assert "DRAFT" not in whole
    assert "Printed" not in whole
    assert "It takes the place of sheet 7: 3E read again with the other gauge." in whole
    for told in (*ACCEPTED.values(), "Y. Norrgard", "http://shop.example/sheets/12/"):
        assert told in whole


def test_without_a_seal_it_is_a_draft(proved: Scene):
    page = kind_of("setup").render(taken(proved), None, PAPERS["A4"])
    assert "<strong>DRAFT</strong>, not signed" in page.html
    assert "seal-code" not in page.drawings
    sealed = kind_of("setup").render(taken(proved), a_seal(), PAPERS["A4"])
    assert page.drawings["ground"] != sealed.drawings["ground"]


def test_photos_are_printed_from_their_kept_files_whatever_the_rows_say(scene: Scene):
    take(scene, "1E")
    plain = taken(scene, "photo-log", "")
    other = Photo.objects.create(
        build=scene.build, name="other.jpg", media_type="image/jpeg", size=1, sha256="0" * 64, sent_sha256="0" * 64,
        width=1, height=1, path="zz/other.jpg", taken_by=scene.person,
    )  # fmt: skip
    page = kind_of("photo-log").render(plain, a_seal(), PAPERS["A4"])
    assert list(page.pictures) == ["p1"]
    assert page.pictures["p1"].startswith(b"\xff\xd8\xff")
    assert other.sha256 not in json.dumps(plain)


def test_a_photo_whose_file_is_another_stops_the_seal_and_is_named_on_a_draft(scene: Scene):
    photo, spoilt = take(scene, "1E"), take(scene, "1I", seed=2)
    plain = taken(scene, "photo-log", "")
    with photo_files().open(spoilt.path) as file:
        data = file.read()
    photo_files().delete(photo.path)
    put(photo.path, data)
    with pytest.raises(
        PrintingFailed, match=r"photo IMG_1.jpg cannot be printed.*not the one that was taken in"
    ):
        kind_of("photo-log").render(plain, a_seal(), PAPERS["A4"])
    draft = kind_of("photo-log").render(plain, None, PAPERS["A4"])
    assert "not the one that was taken in" in draft.html
    assert list(draft.pictures) == ["p2"]


def test_a_photo_log_lacks_a_file_that_is_gone(scene: Scene):
    photo = take(scene, "1E")
    assert ready(scene, "photo-log", "").missing == []
    photo_files().delete(photo.path)
    assert ready(scene, "photo-log", "").missing == [
        "The file of the photo IMG_1.jpg is gone or spoilt. Put it back from a backup, or set the photo aside."
    ]


def test_only_a_job_with_photos_has_a_photo_log(scene: Scene):
    assert kind_of("photo-log").subjects(scene.build) == []
    take(scene, "1E")
    assert kind_of("photo-log").subjects(scene.build) == [("", "")]


def test_each_head_has_a_setup_sheet(scene: Scene):
    kind = kind_of("setup")
    assert [words for _key, words in kind.subjects(scene.build)] == ["Left head", "Right head"]
    addresses = kind.addresses(scene.build, str(scene.left.pk))
    assert {"1E", "L.stand1", "L.stand1.padA", "engine"} <= addresses
    assert "2E" not in addresses


def test_heights_that_are_not_read_block(scene: Scene):
    assert "L.stand1: height not read yet at 1E, 1I." in " ".join(ready(scene).missing).replace(
        "1I, 1E", "1E, 1I"
    )


def test_a_head_that_is_read_lacks_only_what_can_be_accepted(proved: Scene):
    found = ready(proved)
    assert found.missing == []
    assert [item.key for item in found.out] == [
        "unread/marks/L", "unread/pushrods/L", "unread/springs/L", "unread/clearances/L", "unread/degreeing/engine",
        "unread/lash/L", "unread/torque/L",
    ]  # fmt: skip
    assert {item.value_text for item in found.out} == {"not measured"}


def test_a_step_that_is_read_in_part_says_where_it_is_not(proved: Scene):
    keyed(proved, "1E", "lash_cold", "0.004")
    lash = next(item for item in ready(proved).out if item.key == "unread/lash/L")
    assert lash.value_text == "not read at 1I, 3I, 3E, 5E, 5I, 7I, 7E"


def test_what_is_out_is_named_with_its_value_and_a_new_value_is_another(proved: Scene):
    proved.read_gap("1E", "0.021", sure=True)
    first = next(item for item in ready(proved).out if item.key == "height/1E")
    # Hand-worked: repeats .001 and .021 mean .011, so that much low; .011 × 25.4 = .2794 mm.
    assert (first.words, first.value_text) == ("1E, stand height", "0.011 in low (0.279 mm): out")
    proved.read_gap("1E", "0.021", sure=True)
    second = next(item for item in ready(proved).out if item.key == "height/1E")
    assert second.value_text == "0.0143 in low (0.364 mm): out"
    assert "L.stand1: no pack is fitted." not in ready(proved).missing


def test_a_value_of_a_step_that_is_out_has_the_same_key_on_either_sheet(proved: Scene):
    measured(proved, "1E", take(proved))
    Limit.objects.filter(key="sweep", build=None).update(high="0.060")
    on_setup = next(item for item in ready(proved).out if item.key == "marks/mark_width/1E")
    assert on_setup in ready(proved, "photo-log", "").out
    # Hand-worked: .031 + .036; .067 × 25.4 = 1.7018 mm.
    assert on_setup.value_text == "0.0670 in (1.702 mm): out"


def test_a_tool_past_its_check_asks_the_owner(proved: Scene):
    late = timezone.localdate() - timedelta(days=1)
    Instrument.objects.filter(mark="HG-1").update(due_on=late)
    (item,) = ready(proved).overdue
    assert (item.key, item.value_text) == ("overdue/HG-1", f"due {late:%d %b %Y}")


def test_an_engine_without_a_serial_number_cannot_be_sealed(proved: Scene):
    proved.build.engine.serial = ""
    assert ready(proved).missing == [
        "The engine has no serial number, and a sealed sheet names it. Write it on the engine’s page."
    ]


def test_a_head_that_was_removed_is_told(scene: Scene):
    gone = str(scene.right.pk + 1000)
    assert ready(scene, subject=gone).missing[0].startswith("This head was removed from the job.")
    assert taken(scene, subject=gone)["head"] == "removed from this job"


def test_an_id_of_a_head_of_another_job_is_not_taken(scene: Scene, builder: Person):
    other = make_scene(builder, job_number="26-099")
    assert taken(scene, subject=str(other.left.pk))["head"] == "removed from this job"
