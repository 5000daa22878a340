"""The invented shop's photos: drawn tips, taken in as the shop's people take theirs in, and measured by taps on them.

The mark on each is the one that its valve's height makes, with a little scatter; the taps stand where the drawing has rim
and edges, as a hand would set them: a pixel off. All of it is the same at every loading.
`tests/valvetrain/test_demo_photos.py` holds what was measured against what was drawn.
"""

import io
import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from functools import cache
from typing import Any
from uuid import NAMESPACE_URL, uuid5

import numpy as np
from django.conf import settings
from django.utils import timezone
from PIL import ExifTags, Image
from PIL.TiffImagePlugin import IFDRational

from builds.models import Build, PartFitted, Person, Photo, PhotoKind
from builds.photos.filing import Filing, file_again
from builds.photos.intake import Sent, take_in
from builds.photos.renditions import SIZES
from builds.photos.storage import photo_files, rendition_path
from valvetrain.demo_marks import middle_of, run_of
from valvetrain.gathering import HeadRecords, gather
from valvetrain.mark_photos import READINGS, MarkPhoto, MarkSent, save_mark
from valvetrain.mark_taps import WAYS
from valvetrain.models import Head
from valvetrain.targets import head_state
from valvetrain.tip_picture import TipPicture, TipScene, draw_tip
from valvetrain.valvestate import ValveState

FILE = settings.BASE_DIR / "fixtures" / "demo" / "photos.json"
SIZE = (1600, 1200)
QUALITY = 88
# How far an inked edge lies at most from where the height puts it [in], and a tap mostly from where it was meant [px].
EDGE_SCATTER = 0.0006
TAP_SCATTER = 1.0
RIM_TAPS, EDGE_TAPS = 12, 4
MEASURED_AFTER = timedelta(minutes=25)
# Less tilt than this [deg] shows no stem beside the tip.
STEM_SEEN = 8.0
Row = dict[str, Any]


@dataclass(frozen=True)
class Placed:
    """A valve as it stands when its mark is photographed."""

    records: HeadRecords
    valve: ValveState
    middle: float


def planned() -> list[Row]:
    """The photos that the invented shop has."""
    rows: list[Row] = json.loads(FILE.read_text(encoding="utf-8"))
    return rows


def photographed(job: str) -> set[str]:
    """Valves of a job whose mark is measured on a photo, and not by caliper as well."""
    return {
        row["at"]
        for row in planned()
        if row["job"] == job and row.get("measured") and not row.get("by_caliper_too")
    }


@contextmanager
def no_files_left_behind() -> Iterator[list[Photo]]:
    """Gives a list to put taken photos on; their files go again where the loading comes to nothing."""
    taken: list[Photo] = []
    try:
        yield taken
    except BaseException:
        for photo in taken:
            for path in (photo.path, *(rendition_path(photo.path, size) for size in SIZES)):
                with suppress(OSError):
                    photo_files().delete(path)
        raise


def add_photos(jobs: Mapping[str, Build], people: Mapping[str, Person], taken: list[Photo]) -> None:
    """Take in the photos planned for these jobs, and measure those that are to be measured; each is put on `taken`."""
    rows = [row for row in planned() if row["job"] in jobs]
    valves = {key: _valves_of(key, jobs[key]) for key in {row["job"] for row in rows}}
    for row in rows:
        place = valves[row["job"]].get(row["at"])
        _Photographer(row, jobs[row["job"]], people[row["who"]], taken).shoot(scene_of(row, place), place)


def _valves_of(key: str, job: Build) -> dict[str, Placed]:
    heads = Head.objects.filter(build=job).select_related("build__engine__customer").order_by("pk")
    return {
        valve.address: Placed(records, valve, middle_of(key, stand.address, number))
        for records in gather(heads, with_tools=True)
        for stand in head_state(records).stands
        for number, valve in enumerate(stand.valves)
    }


def scene_of(row: Row, place: Placed | None) -> TipScene:
    """What the camera saw: the valve's own tip with the mark that its height makes; else what the plan says."""
    told: Row = {**row["scene"], "size": tuple(row["scene"].get("size", SIZE))}
    random = np.random.default_rng(told["seed"])
    told.setdefault("tip_at", tuple(np.array(told["size"]) / 2 + random.integers(-60, 60, 2)))
    if place is not None:
        told["rim_diameter"] = float(place.valve.valve.tip_diameter)
        told["front_clockwise"] = place.records.head.code == "L"
        if "inner" not in told:
            error = float(row["height_error"]) if "height_error" in row else None
            run = run_of(place.valve, place.middle, error)
            scatter = random.uniform(-EDGE_SCATTER, EDGE_SCATTER, 2)
            told["inner"], told["outer"] = np.array([run.inner, run.outer]) + scatter
            told["taper"] = float(row.get("taper", 0))
    return TipScene(**told)


class _Photographer:
    """One photo of the plan, and the person who takes, files and measures it."""

    def __init__(self, row: Row, job: Build, person: Person, taken: list[Photo]) -> None:
        self.row, self.job, self.person, self.taken = row, job, person, taken
        day: date = timezone.localdate() - timedelta(days=row["days_ago"])
        self.at = timezone.make_aware(datetime.combine(day, time.fromisoformat(row["time"])))
        self.name = f"standbook-demo/photo/{row['job']}/{row['name']}"

    def shoot(self, scene: TipScene, place: Placed | None) -> None:
        """Take it in, and do with it what the plan says."""
        photo, _new = take_in(
            self.job, self.person,
            Sent(
                uuid5(NAMESPACE_URL, self.name), self.row["name"], as_taken(scene, phone="phone" in self.row),
                self._filing(), taken_at=self.at, device=self.row["device"],
            ),
        )  # fmt: skip
        self.taken.append(photo)
        if "set_aside" in self.row:
            again = self._filing(reason=self.row["set_aside"])
            file_again(photo, self.person, client_id=uuid5(NAMESPACE_URL, f"{self.name}/aside"), filing=again)
        if self.row.get("measured") and place is not None:
            self._measure(photo, scene, place)

    def _filing(self, reason: str = "") -> Filing:
        part = None
        if "part" in self.row:
            part = PartFitted.objects.get(build=self.job, role=self.row["part"])
        return Filing(
            self.row["at"], part, PhotoKind(self.row["kind"]), self.row["note"], bool(reason), reason
        )

    def _measure(self, photo: Photo, scene: TipScene, place: Placed) -> None:
        sent = MarkSent(
            json.dumps(taps_on(truth_of(scene))),
            {key: uuid5(NAMESPACE_URL, f"{self.name}/{key}") for key in READINGS},
            taken_at=self.at + MEASURED_AFTER,
            device=self.row["device"],
        )
        save_mark(MarkPhoto(place.records, place.valve.valve, photo, "in"), self.person, sent)


@cache
def as_taken(scene: TipScene, *, phone: bool = False) -> bytes:
    """The camera's file, drawn once; a phone also writes down where it was, and whose it is."""
    tags = Image.Exif()
    if phone:
        tags[ExifTags.Base.Artist] = "Mina's phone"
        where = tags.get_ifd(ExifTags.IFD.GPSInfo)
        for ref, key, sign, degrees in (
            (ExifTags.GPS.GPSLatitudeRef, ExifTags.GPS.GPSLatitude, "N", (0, 7, 30)),
            (ExifTags.GPS.GPSLongitudeRef, ExifTags.GPS.GPSLongitude, "W", (30, 12, 0)),
        ):
            where[ref], where[key] = sign, tuple(IFDRational(part) for part in degrees)
    file = io.BytesIO()
    Image.fromarray(draw_tip(scene).pixels).save(file, "JPEG", quality=QUALITY, exif=tags)
    return file.getvalue()


def truth_of(scene: TipScene) -> TipPicture:
    """Where all of a scene is seen, without drawing it again."""
    return TipPicture(scene, np.empty((0, 0, 3), np.uint8))


def taps_on(picture: TipPicture) -> Row:
    """Taps where a hand sets them, as the tablet sends them."""
    random = np.random.default_rng([picture.scene.seed, 7])
    taps = {
        "rim": picture.rim_points(RIM_TAPS, first=11),
        "inner": picture.inner_points(EDGE_TAPS),
        "outer": picture.outer_points(EDGE_TAPS),
    }
    shaft = _nearest_way(picture.toward_shaft)
    return {
        name: np.round(points + random.normal(0, TAP_SCATTER, points.shape), 1).tolist()
        for name, points in taps.items()
    } | {
        "toward_shaft": shaft,
        "toward_front": _nearest_way(picture.toward_front),
        "stem_at": _stem_at(picture),
        "rim_diameter": {"text": f"{picture.scene.rim_diameter:.4f}", "unit": "in"},
    }


def _nearest_way(toward: tuple[float, float]) -> str:
    return max(WAYS, key=lambda way: float(np.dot(WAYS[way], toward)))


def _stem_at(picture: TipPicture) -> str:
    """On which side of the tip the stem shows below it: the side that the camera leans to."""
    if picture.scene.tilt < STEM_SEEN:
        return ""
    way = np.radians(picture.scene.tilt_toward)
    middle, near = picture.to_picture(np.array([(0.0, 0.0), (0.01 * np.cos(way), 0.01 * np.sin(way))]))
    return _nearest_way((float(near[0] - middle[0]), float(near[1] - middle[1])))
