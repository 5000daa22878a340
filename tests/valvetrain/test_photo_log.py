"""The photo log: what of a job's records stands in it, and the pages that print it."""

import hashlib
import subprocess
import sys
import time
from decimal import Decimal
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from builds.models import Instrument, Limit, MediaType, Person, Photo, PhotoFiling, Reading
from builds.photos.storage import fresh_path, photo_files, put
from builds.positions import positions_of
from builds.printing import runs
from builds.recording import Entry, record
from tests.scenes import Scene, make_scene
from tests.valvetrain.photo_bench import MEASURED, as_jpeg, images_of, noisy, text_of
from valvetrain.sheets.photo_lines import MarkLine, PhotoLog
from valvetrain.sheets.photo_log import PUT_ASIDE, photo_log
from valvetrain.sheets.photo_run import LOST

SOME_ID = "7d1d7bd4-2a0c-4b3e-9b52-4d3a70c1a3f1"
COVARIANCE = [[1e-6, 4e-7], [4e-7, 1e-6]]


@pytest.fixture(autouse=True)
def folders(tmp_path: Path, settings: Any) -> Path:
    """A book's folder of its own, for its photos and its printing."""
    settings.DATA_DIR = tmp_path
    settings.STORAGES = {
        **settings.STORAGES,
        "photos": {"BACKEND": "builds.photos.storage.PhotoFolder", "OPTIONS": {"location": str(tmp_path / "photos")}},
    }  # fmt: skip
    return tmp_path


@pytest.fixture
def scene(builder: Person) -> Scene:
    Limit.add_defaults()
    return make_scene(builder)


def take(
    scene: Scene, position: str = "1E", *, kind: str = "witness-mark", seed: int = 1, **filing: Any
) -> Photo:
    """Take a photo and file it."""
    data = as_jpeg(noisy(1600, 1200, seed))
    digest = hashlib.sha256(data).hexdigest()
    path = fresh_path(MediaType.JPEG)
    put(path, data)
    photo = Photo.objects.create(
        build=scene.build, name=f"IMG_{seed}.jpg", media_type=MediaType.JPEG, size=len(data), sha256=digest,
        sent_sha256=digest, width=1600, height=1200, path=path, taken_by=scene.person,
    )  # fmt: skip
    PhotoFiling.objects.create(photo=photo, position=position, kind=kind, filed_by=scene.person, **filing)
    return photo


def measured(scene: Scene, address: str, photo: Photo | None = None, **more: Any) -> list[Reading]:
    """Read both edges of a mark: on a photo, else by hand."""
    positions = positions_of(scene.build)
    context = {"standard": "0.001", "mark": {**MEASURED, "covariance": COVARIANCE}} if photo else {}
    found = []
    for key, text in (("mark_inner", "-0.036"), ("mark_outer", "0.031")):
        entry = Entry(
            uuid4(), address, key, text, "in", photo=photo, how="photo" if photo else "", context=dict(context),
            sure=True, **more,
        )  # fmt: skip
        found.append(record(scene.build, scene.person, entry, positions)[0])
    return found


def log_of(scene: Scene, unit: str = "in") -> PhotoLog:
    return photo_log(scene.build, scene.person, unit=unit)[0]


def line(log: PhotoLog, address: str) -> MarkLine:
    return next(each for each in [*log.marks, *log.unpictured] if each.address == address)


def test_a_mark_measured_on_its_photo_stands_beside_it(scene: Scene):
    photo = take(scene, note="second roll")
    measured(scene, "1E", photo)
    mark = line(log_of(scene), "1E")
    assert mark.picture is not None
    assert (mark.picture.sha256, mark.picture.note) == (photo.sha256, "second roll")
    assert mark.picture.mark["results"]["width"] == 0.067
    figures = {each.name: each for each in mark.figures}
    assert (figures["inner edge"].shown, figures["outer edge"].shown) == ("−0.0360", "+0.0310")
    # Hand-worked: .031 + .036; middle −.0025; tip .3415, so .17075 − .036 is left.
    assert (figures["width"].shown, figures["width"].verdict) == ("0.0670", "in")
    assert (figures["centre"].shown, figures["centre"].limit) == ("−0.0025", "±0.0300 in")
    assert figures["room to the rim"].value == pytest.approx(float(tip_of(scene)) / 2 - 0.036)
    # Hand-worked, k 2: √(1 + 1 − 2 × .4) × .001 = .00110; √(1 + 1 + 2 × .4)/2 × .001 = .00084; rounded up.
    assert (figures["width"].plus_minus, figures["centre"].plus_minus) == ("± 0.0022", "± 0.0017")
    assert mark.readers[0].startswith("on its photo by Nora Vesterlund, ")


def tip_of(scene: Scene) -> Decimal:
    return next(valve.tip_diameter for valve in scene.left.valves.all() if valve.address == "1E")


def test_what_the_mark_says_of_the_height_stands_with_it(scene: Scene):
    scene.read_gap("1E", "0.002")
    measured(scene, "1E", take(scene))
    told = " ".join(line(log_of(scene), "1E").sentences)
    assert "the mark proves, the gauge decides" in told
    # Gauge step .235 and right height .235: a gap of .002 is .002 low.
    assert "The gauge says 0.002 in low" in told


def test_in_millimetres_the_same_log(scene: Scene):
    measured(scene, "1E", take(scene))
    figures = {each.name: each for each in line(log_of(scene, "mm"), "1E").figures}
    # 25.4 mm to the inch: .067 in are 1.7018 mm.
    assert (figures["width"].shown, figures["width"].limit) == ("1.702", "at most 2.032 mm")


def test_of_several_photos_the_one_that_was_measured_is_shown(scene: Scene):
    first = take(scene, seed=1)
    take(scene, seed=2)
    measured(scene, "1E", first)
    log = log_of(scene)
    mark = line(log, "1E")
    assert mark.picture is not None
    assert (mark.picture.name, mark.more_photos) == ("IMG_1.jpg", 1)
    assert [other.name for other in log.others] == ["IMG_2.jpg"]


def test_a_photo_that_is_not_measured_stands_without_lines(scene: Scene):
    take(scene, "1I")
    mark = line(log_of(scene), "1I")
    assert mark.picture is not None
    assert (mark.figures, mark.picture.mark, mark.picture.of_mark) == ([], {}, True)


def test_a_mark_read_by_hand_says_with_what(scene: Scene):
    scale = Instrument.objects.create(mark="SC-1", kind="scale")
    measured(scene, "1E", instrument=scale)
    measured(scene, "1I")
    log = log_of(scene)
    assert {each.address for each in log.unpictured} == {"1E", "1I"}
    assert line(log, "1E").readers[0].startswith("with SC-1 by Nora Vesterlund")
    assert line(log, "1I").readers[0].startswith("without a named tool by Nora Vesterlund")
    assert "1E" not in log.bare
    assert "3E" in log.bare


def test_photos_set_aside_are_counted_and_not_shown(scene: Scene):
    take(scene, "1E", seed=1)
    photo = take(scene, "1E", seed=2)
    PhotoFiling.objects.create(
        photo=photo,
        position="1E",
        kind="witness-mark",
        set_aside=True,
        reason="blurred",
        filed_by=scene.person,
    )
    log = log_of(scene)
    assert (len(log.pictures), log.set_aside) == (1, 1)


def test_a_mark_whose_photo_was_set_aside_says_so(scene: Scene):
    photo = take(scene, "1E")
    measured(scene, "1E", photo)
    assert PUT_ASIDE not in line(log_of(scene), "1E").sentences
    PhotoFiling.objects.create(
        photo=photo,
        position="1E",
        kind="witness-mark",
        set_aside=True,
        reason="wrong valve",
        filed_by=scene.person,
    )
    mark = line(log_of(scene), "1E")
    assert mark.picture is None
    assert PUT_ASIDE in mark.sentences


def test_a_photo_that_was_filed_at_another_valve_is_not_printed_as_this_ones(scene: Scene):
    photo = take(scene, "1E")
    measured(scene, "1E", photo)
    PhotoFiling.objects.create(photo=photo, position="1I", kind="witness-mark", filed_by=scene.person)
    mark = line(log_of(scene), "1E")
    assert mark.picture is None
    assert PUT_ASIDE in mark.sentences
    assert "which is filed at 1I now" in mark.again[0]
    other = line(log_of(scene), "1I")
    assert other.picture is not None
    assert not other.picture.mark


def test_parts_and_damage_come_after_the_marks(scene: Scene):
    take(scene, "L.stand1", kind="damage", seed=3, note="cracked at the bolt")
    log = log_of(scene)
    (other,) = log.others
    assert (other.kind, other.where, other.note) == ("damage", "L.stand1", "cracked at the bolt")
    assert not log.marks


def test_more_photos_than_a_log_takes_are_counted(scene: Scene, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("valvetrain.sheets.photo_log.MOST_OTHERS", 2)
    for seed in range(3):
        take(scene, "L.stand1", kind="part", seed=seed)
    log = log_of(scene)
    assert (len(log.others), log.not_shown) == (2, 1)


def test_a_pack_fitted_since_asks_for_another_look(scene: Scene):
    measured(scene, "1E", take(scene))
    scene.fit("L.stand1", "0.010")
    (sentence,) = line(log_of(scene), "1E").again
    assert "pack was fitted since" in sentence


def test_the_log_takes_as_many_queries_for_one_photo_as_for_many(scene: Scene):
    measured(scene, "1E", take(scene))
    log_of(scene)
    with CaptureQueriesContext(connection) as few:
        log_of(scene)
    for seed, address in enumerate(("1I", "3E", "3I", "5E"), start=2):
        measured(scene, address, take(scene, address, seed=seed))
        take(scene, "L.stand1", kind="part", seed=seed + 20)
    with CaptureQueriesContext(connection) as many:
        log_of(scene)
    assert len(many) == len(few) <= 40


def page_of(scene: Scene) -> str:
    return reverse("photo-log", args=[scene.build.pk])


def printed(client: Client, scene: Scene, **more: str) -> tuple[runs.PrintRun, Any]:
    """Ask for the log, and wait until it is printed."""
    run_id = uuid4()
    answer = client.post(page_of(scene), {"id": str(run_id), "paper": "A4", **more})
    for _ in range(1200):
        run = runs.find(run_id)
        if run is not None and run.has_ended:
            return run, answer
        time.sleep(0.05)
    raise AssertionError("the log was not printed")


def test_from_the_key_to_the_pdf(scene: Scene, bench_client: Client):
    measured(scene, "1E", take(scene))
    take(scene, "L.stand1", kind="damage", seed=3, note="cracked at the bolt")
    assert "2 photos" in bench_client.get(page_of(scene)).content.decode()
    run, answer = printed(bench_client, scene)
    assert answer.url == reverse("print-run", args=[run.id])
    assert run.is_done, run.sentence
    served = bench_client.get(reverse("print-run-file", args=[run.id]))
    pdf = b"".join(served.streaming_content)  # type: ignore[attr-defined]
    assert 'filename="26-014 photo log DRAFT.pdf"' in served["Content-Disposition"]
    said = text_of(pdf)
    assert "width 0.0670 ± 0.0022 at most 0.0800 in ✓ in" in said
    assert "cracked at the bolt" in said
    assert len(images_of(pdf)) == 2


def test_a_picture_whose_file_is_gone_is_said_on_the_sheet(scene: Scene, bench_client: Client):
    photo = take(scene)
    photo_files().delete(photo.path)
    run, _answer = printed(bench_client, scene)
    assert run.is_done, run.sentence
    assert LOST in text_of(run.pdf.read_bytes())


def test_two_logs_at_once_both_come(scene: Scene, bench_client: Client, second_client: Client):
    take(scene)
    ids = [uuid4(), uuid4()]
    for client, run_id in zip((bench_client, second_client), ids, strict=True):
        client.post(page_of(scene), {"id": str(run_id), "paper": "Letter"})
    for run_id in ids:
        for _ in range(1200):
            run = runs.find(run_id)
            if run is not None and run.has_ended:
                break
            time.sleep(0.05)
        assert run is not None
        assert run.is_done, run.sentence


def test_pressed_twice_it_prints_once(scene: Scene, bench_client: Client, folders: Path):
    run, _answer = printed(bench_client, scene)
    again = bench_client.post(page_of(scene), {"id": str(run.id), "paper": "A4"})
    assert again.url == reverse("print-run", args=[run.id])  # type: ignore[attr-defined]
    assert len(list((folders / "printing").iterdir())) == 1
    other = bench_client.post(page_of(scene), {"id": str(run.id), "paper": "Letter"})
    assert other.status_code == 409
    assert "already used to print something else" in other.content.decode()


@pytest.mark.parametrize(
    ("sent", "sentence"),
    [
        ({"paper": "A4"}, "This page did not arrive whole."),
        ({"id": "../../etc", "paper": "A4"}, "This page did not arrive whole."),
        ({"id": SOME_ID, "paper": "A0<b>"}, "There is no such paper here. Choose A4 or Letter."),
        ({"id": SOME_ID}, "No paper was chosen. Choose A4 or Letter."),
    ],
)  # fmt: skip
def test_what_cannot_be_printed_is_a_sentence(
    scene: Scene, bench_client: Client, folders: Path, sent: dict[str, str], sentence: str
):
    answer = bench_client.post(page_of(scene), sent)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert not (folders / "printing").exists()


def test_a_stranger_prints_nothing(scene: Scene, stranger: Client, folders: Path):
    answer = stranger.post(page_of(scene), {"id": str(uuid4()), "paper": "A4"})
    assert answer.url.startswith(reverse("login"))  # type: ignore[attr-defined]
    assert not (folders / "printing").exists()


def test_a_job_that_is_not_there_has_no_log(scene: Scene, bench_client: Client):
    address = reverse("photo-log", args=[987654])
    assert bench_client.get(address).status_code == 404
    assert bench_client.post(address, {"id": str(uuid4()), "paper": "A4"}).status_code == 404


@pytest.mark.parametrize("name", ["job-photos", "valvetrain-panel"])
def test_a_job_leads_to_its_log(scene: Scene, bench_client: Client, name: str):
    address = reverse(name, args=[scene.build.pk])
    assert f'href="{page_of(scene)}"' in bench_client.get(address).content.decode()


def test_the_page_is_not_kept_by_the_browser(scene: Scene, bench_client: Client):
    assert "no-store" in bench_client.get(page_of(scene))["Cache-Control"]


def test_forty_photos_of_twelve_megapixels_stay_within_their_memory(tmp_path: Path):
    # Its exit code says whether server and printing child stayed under 300 MB, the latter held to it by the system, and
    # the PDF under 15 MB.
    told = subprocess.run(
        [sys.executable, "-m", "tests.bench.photo_log", "40"], capture_output=True, text=True, timeout=180, check=False,
        env={"PATH": "/usr/bin:/bin", "TMPDIR": str(tmp_path), "HOME": str(tmp_path)},
    )  # fmt: skip
    assert told.returncode == 0, told.stdout + told.stderr
    assert "40 photos of 12 megapixels" in told.stdout
