"""A small sheet that can be sealed, for the tests: readings of a job with their values; and a hand that signs it."""

import json
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from html import escape
from typing import Any
from uuid import uuid4

from django.template.loader import render_to_string

from builds.models import Build, Person, Reading, Role, SealedSheet, Signature, Signing
from builds.printing.paper import Paper, ground
from builds.sealing import kinds, service
from builds.sealing.canonical import digest_words
from builds.sealing.kinds import OutItem, Readiness, SealedPage, SealMarks, SheetKind
from builds.sealing.marks import seal_style
from builds.sealing.rules import Mark

NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
STROKES = json.dumps(
    {"width": 300, "height": 120, "strokes": [[[10, 60], [60, 20], [110, 90]], [[120, 40], [200, 70]]]}
)
OUT = OutItem("lash_cold/1E", "1E, lash cold", "0.030 in")
LATE = OutItem("overdue/HG-2", "HG-2 is past its check", "due 01 Jan 2026")


def take(build: Build, subject: str, unit: str) -> dict[str, Any]:
    """Everything that the test's sheet prints."""
    readings = Reading.objects.standing().filter(build=build)
    return {
        "job": build.job_number,
        "title": build.title,
        "unit": unit,
        "geometry_version": "test 1",
        "lines": [
            {"address": each.position, "what": each.characteristic, "value": each.value_in(unit)}
            for each in readings
        ],
    }


def render(plain: dict[str, Any], seal: SealMarks | None, paper: Paper) -> SealedPage:
    """The test's page."""
    rows = "".join(
        f"<tr><td>{escape(line['address'])}</td><td>{escape(line['what'])}</td><td>{escape(line['value'])}</td></tr>"
        for line in plain["lines"]
    )
    end = style = ""
    if seal is not None:
        style = seal_style(seal, paper)
        end = render_to_string("sheets/_seal.html", {"seal": seal, "seal_words": digest_words(seal.digest)})
    html = (
        f"<!doctype html><html lang=en><head><title>Test sheet, job {escape(plain['job'])}</title>"
        f"<style>@page {{ size: {paper.size}; background-image: url(drawing:ground) }} {style}</style></head>"
        f"<body><h1>Test sheet</h1><p>Job {escape(plain['job'])}: {escape(plain['title'])}</p><table>{rows}</table>"
        f"{end}</body></html>"
    )
    return SealedPage(html, drawings={"ground": ground(paper), **(seal.drawings if seal else {})})


class TestKind:
    """What the test's kind lacks, changed by the tests."""

    __test__ = False

    def __init__(self) -> None:
        self.readiness = Readiness()

    def ready(self, build: Build, subject: str) -> Readiness:
        """What it lacks now."""
        return self.readiness


@contextmanager
def a_kind(key: str = "test-sheet") -> Iterator[TestKind]:
    """The test's kind in the registry, for as long as it lasts."""
    told = TestKind()
    kinds.register(
        SheetKind(
            key, "test sheet", 1, lambda build: [("", ""), ("L", "left head")], take, render, told.ready,
            addresses=lambda build, subject: {"1E", "1I"},
        )
    )  # fmt: skip
    try:
        yield told
    finally:
        kinds.withdraw(key)


def read(build: Build, person: Person, text: str, position: str = "1E") -> Reading:
    """A reading, straight into the book, at a time that stays the same."""
    return Reading.objects.create(
        build=build, position=position, characteristic="stand_gap", text=text, unit="in", value=text, taken_by=person,
        taken_at=NOON, context={"pack": "0.0250"},
    )  # fmt: skip


def mark_of(person: Person, signing: Signing, at: datetime = NOON, **other: Any) -> Mark:
    """What a person puts under a sheet that they looked at."""
    given = {
        "client_id": uuid4(), "typed_name": str(person), "strokes": STROKES, "seen_digest": signing.digest,
        "signed_at": at,
    } | other  # fmt: skip
    return Mark(**given)


def put_up(build: Build, person: Person, at: datetime = NOON, **other: Any) -> Signing:
    """Put the test's sheet up for signing."""
    given = {
        "client_id": uuid4(), "kind": "test-sheet", "subject": "", "unit": "in", "paper": "A4", "begun_at": at,
    } | other  # fmt: skip
    return service.begin(build, person, **given)


def sign(signing: Signing, person: Person, at: datetime = NOON) -> Signature:
    """The first signature."""
    return service.sign(signing, person, mark_of(person, signing, at))


def sealed(build: Build, tech: Person, checker: Person, at: datetime = NOON, **other: Any) -> SealedSheet:
    """A sheet through all of it."""
    signing = put_up(build, tech, at, **other)
    sign(signing, tech, at)
    return service.seal(
        signing,
        checker,
        mark_of(checker, signing, at + timedelta(minutes=5)),
        page=lambda number: f"http://shop/{number}/",
    )


def roles_of(sheet: SealedSheet) -> list[str]:
    """Roles of the signatures under a sheet."""
    return [str(Role(each.role)) for each in sheet.signing.signatures.order_by("pk")]
