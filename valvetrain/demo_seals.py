"""The invented shop's signed and sealed sheets: what was accepted, by whom and why; a revision; one that waits.

All of it goes through what people sign with, so it takes as long: about a second for each sealed sheet. The shop's
authority and its passphrase are made at first use, as in any book.
"""

import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import datetime, time, timedelta
from math import cos, pi, sin
from typing import Any
from uuid import NAMESPACE_URL, UUID, uuid5

from django.conf import settings
from django.urls import reverse
from django.utils import timezone

from builds.guests import new_token
from builds.models import Build, GuestLink, Instrument, Person, Shop, Signing
from builds.positions import positions_of
from builds.recording import Entry, record
from builds.sealing import service
from builds.sealing.acceptance import accept
from builds.sealing.authority import passphrase_file
from builds.sealing.kinds import kind_of
from builds.sealing.rules import Mark
from builds.serving import DEFAULT_LISTEN

FILE = settings.BASE_DIR / "fixtures" / "demo" / "seals.json"
LINK_DAYS = 21
PAD, SLANT = (480, 150), 0.35
TALL, DEEP = set("bdfhklt"), set("gjpqyz")
Row = dict[str, Any]


@contextmanager
def no_passphrase_left_behind() -> Iterator[None]:
    """Takes the passphrase away again that a loading made, where the loading comes to nothing."""
    was_there = passphrase_file().exists()
    try:
        yield
    except BaseException:
        if not was_there:
            passphrase_file().unlink(missing_ok=True)
        raise


def seal_some(
    jobs: Mapping[str, Build], people: Mapping[str, Person], drawer: Mapping[str, Instrument]
) -> None:
    """Accept, sign and seal as planned, in the order of time."""
    for number, row in enumerate(json.loads(FILE.read_text(encoding="utf-8"))):
        act = _Act(row, jobs[row["job"]], people, uuid5(NAMESPACE_URL, f"standbook-demo/seal/{number}"))
        if row["do"] == "accept":
            act.accept()
        elif row["do"] == "read":
            act.read(drawer[row["with"]])
        else:
            act.sign()


def add_guest_link(
    job: Build, person: Person, *, days: int = LINK_DAYS, takes_running: bool = False
) -> GuestLink:
    """A link by which the customer of a job may look at it for a while, and perhaps tell how it ran."""
    _token, digest = new_token()
    last = timezone.localdate() + timedelta(days=days)
    return GuestLink.objects.create(
        build=job, name=job.engine.customer.name, digest=digest, made_by=person, last_day=last,
        takes_running=takes_running,
    )  # fmt: skip


class _Act:
    """One line of the plan, done by its person at its time."""

    def __init__(self, row: Row, job: Build, people: Mapping[str, Person], key: UUID) -> None:
        self.row, self.job, self.people, self.key = row, job, people, key

    def accept(self) -> None:
        """Accept by name, of what the job's sheets ask for, that which the plan has a reason for."""
        person, at = self.people[self.row["who"]], _moment(self.row)
        asked = kind_of("build").readiness(self.job, "")
        late = {item.key for item in asked.overdue}
        items = {item.key: item for item in [*asked.out, *asked.overdue]}
        for key, reason in self.row["reasons"].items():
            accept(
                self.job, person, items[key], client_id=uuid5(self.key, key), reason=reason, accepted_at=at,
                overdue=key in late,
            )  # fmt: skip

    def read(self, tool: Instrument) -> None:
        """One more reading, after the sheet was sealed."""
        row = self.row
        entry = Entry(
            client_id=self.key, position=row["at"], characteristic=row["step"], text=row["text"], unit="in",
            instrument=tool, taken_at=_moment(row), device="bench tablet", note=row["note"], context={"set": 0},
        )  # fmt: skip
        record(self.job, self.people[row["who"]], entry, positions_of(self.job))

    def sign(self) -> None:
        """Put the sheet up and sign it; seal it too where the plan has somebody who checked."""
        row, first = self.row, self.row["measured"]
        subject = kind_of(row["kind"]).subjects(self.job)[0][0]
        signing = service.begin(
            self.job, self.people[first["who"]], client_id=self.key, kind=row["kind"], subject=subject, unit="in",
            paper=Shop.get().paper, begun_at=_moment(first), reason=row.get("reason", ""),
        )  # fmt: skip
        service.sign(signing, self.people[first["who"]], self._mark(first, signing))
        if "checked" in row:
            second = row["checked"]
            service.seal(signing, self.people[second["who"]], self._mark(second, signing), page=_page)

    def _mark(self, told: Row, signing: Signing) -> Mark:
        name = str(self.people[told["who"]])
        return Mark(
            client_id=uuid5(self.key, told["who"]), typed_name=name, strokes=drawn(name), seen_digest=signing.digest,
            signed_at=_moment(told),
        )  # fmt: skip


def _moment(row: Row) -> datetime:
    # A job counts as sealed when its seal is younger than its last reading by the book's clock, and that is today's.
    if "minutes_ago" in row:
        return timezone.now() - timedelta(minutes=row["minutes_ago"])
    day = timezone.localdate() - timedelta(days=row["days_ago"])
    return timezone.make_aware(datetime.combine(day, time.fromisoformat(row["time"])))


def _page(number: int) -> str:
    """A sheet's page, where the demo stands when nothing else is asked for."""
    return f"http://{DEFAULT_LISTEN}{reverse('sealed-sheet', args=[number])}"


def drawn(name: str) -> str:
    """An invented signature as a pad sends it: a loop for each letter, tall or deep as it is, and a line below."""
    strokes: list[list[list[float]]] = []
    x, base, advance = 20.0, 85.0, 24.0
    for word in name.split():
        stroke = []
        for place, letter in enumerate(word.casefold()):
            rise = 62 if place == 0 else 46 if letter in TALL else -34 if letter in DEEP else 20
            for step in range(12):
                turn = 2 * pi * step / 12
                up = rise * (1 - cos(turn)) / 2
                along = x + advance * step / 12 + 8 * sin(turn) + SLANT * up
                stroke.append([round(along, 1), round(base - up, 1)])
            x += advance
        strokes.append(stroke)
        x += advance / 2
    strokes.append([[40, 128], [x / 2, 122], [x - 20, 126]])
    return json.dumps({"width": PAD[0], "height": PAD[1], "strokes": strokes})
