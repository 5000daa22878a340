"""Parts that come out of an engine: the one way in, so that never more come out than went in."""

import re
from datetime import date

from django.db import transaction
from django.utils import timezone

from builds.models import Build, Engine, PartFitted, PartTakenOut, Person, RecallMark, WhyOut
from builds.places import no_such_place
from builds.positions import positions_of
from builds.refusals import Refused

# How a valve's place is chalked: 5E, 5E2.
VALVE = re.compile(r"[0-9]{1,2}[IE][0-9]?")


class PartRefused(Refused):
    """A part that cannot have come out like that."""


@transaction.atomic
def take_out(
    part: PartFitted,
    person: Person,
    *,
    quantity: int,
    out_on: date,
    why: WhyOut | str,
    position: str = "",
    in_job: Build | None = None,
    note: str = "",
    by_mark: RecallMark | None = None,
) -> PartTakenOut:
    """Note that so many of a part came out. Raises `PartRefused`."""
    PartFitted.objects.select_for_update(of=("self",)).get(pk=part.pk)
    found: PartFitted = PartFitted.objects.with_out().select_related("build__engine").get(pk=part.pk)
    _refuse_count(found, quantity)
    _refuse_place(found, position)
    refuse_day(found, out_on)
    if in_job is not None and in_job.engine_id != found.build.engine_id:
        raise PartRefused(
            "in_job", f"Job {in_job} is on another engine. Choose a job of the engine that this part is in."
        )
    return PartTakenOut.objects.create(
        part=found, quantity=quantity, position=position, out_on=out_on, why=why, in_job=in_job, note=note,
        noted_by=person, by_mark=by_mark,
    )  # fmt: skip


def _refuse_count(part: PartFitted, quantity: int) -> None:
    if quantity < 1:
        raise PartRefused("quantity", "How many: type a whole number, 1 or more.")
    if part.left == 0:
        raise PartRefused(
            "quantity", f"None of this {part} is left in the engine: all of it came out before."
        )
    if quantity > part.left:
        of = f" of {part.quantity}" if part.quantity > 1 else ""
        raise PartRefused(
            "quantity",
            f"{quantity} cannot come out: {part.left}{of} {'are' if part.left > 1 else 'is'} still in. Type "
            f"{part.left} or fewer.",
        )


def _refuse_place(part: PartFitted, position: str) -> None:
    """Refuse a valve that the job does not have, and a second part of one line out of the same valve."""
    place = "".join(position.split()).upper()
    if not VALVE.fullmatch(place):
        return
    known = positions_of(part.build)
    if "valve" in known.values() and place not in known:
        raise PartRefused("position", no_such_place(part.build, position, known))
    before = next(
        (gone for gone in part.taken_out.all() if "".join(gone.position.split()).upper() == place), None
    )
    if before is not None:
        raise PartRefused(
            "position",
            f"{place} of this {part.role} came out on {before.out_on:%d %b %Y} already. Name the valve that this one "
            "came out of, or leave the field empty.",
        )


def refuse_day(part: PartFitted, day: date, field_name: str = "out_on") -> None:
    """Refuse a day before a part was fitted, or still to come. Raises `PartRefused`."""
    if day > timezone.localdate():
        raise PartRefused(
            field_name,
            f"{day:%d %b %Y} is still to come, so nothing can have been done then. Use today or before.",
        )
    if day < part.fitted_on:
        raise PartRefused(
            field_name,
            f"{day:%d %b %Y} is before it was fitted, {part.fitted_on:%d %b %Y}. Use that day or a later one.",
        )


def parts_in(engine: Engine) -> "list[PartFitted]":
    """What is still in an engine, from whichever job: with what came out."""
    return list(
        PartFitted.objects.still_in()
        .filter(build__engine=engine)
        .select_related("build")
        .order_by("role", "position", "pk")
    )


def why_kept(part: PartFitted) -> str:
    """Why a part cannot be taken off its job's list; nothing when it can."""
    if part.photo_filings.exists():
        return "a photo is filed to it"
    if part.taken_out.exists():
        return "it came out again, which the book keeps"
    if part.recall_lines.exists():
        return "it stands on the list of a recall"
    if part.evidence.exists():
        return "a finding points at it"
    return ""
