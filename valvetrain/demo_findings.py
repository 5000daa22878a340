"""What the invented shop found on the engine that came back, what came out of it, and whom it asks after the lot."""

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from typing import Any
from uuid import NAMESPACE_URL, UUID, uuid5

from django.utils import timezone

from builds import recalling
from builds.findings import Backing, Told, add_evidence, add_finding, add_photo, answer_prompt, prompts_of
from builds.models import (
    Build,
    BuildKind,
    Engine,
    Finding,
    PartFitted,
    Person,
    Photo,
    Reading,
    Recall,
    RecallStep,
    Symptom,
    TracedBy,
)
from builds.models.returns import Side
from builds.parts_out import take_out as take_part_out
from valvetrain.demo_bench import moment_of

Row = dict[str, Any]


def find(plan: Sequence[Row], came: Build, people: Mapping[str, Person]) -> None:
    """Write down what was found: each with its evidence, its photos, and what was looked at."""
    for row in plan:
        person = people[row["who"]]
        told = Told(
            what=row["what"], condition=row["condition"], position=row["at"], detail=row["detail"],
            cause=row["cause"], confidence=row["confidence"], action=row["action"],
            symptom=Symptom.objects.get(name=row["symptom"]),
        )  # fmt: skip
        finding, _new = add_finding(came, person, told, token=_key(f"finding/{row['key']}"))
        finding.found_at = moment_of(row)
        finding.save(update_fields=["found_at"])
        for name in row["photos"]:
            add_photo(finding, Photo.objects.get(build=came, name=name))
        for side, key in ((Side.FOR, "for"), (Side.AGAINST, "against")):
            for number, each in enumerate(row[key]):
                add_evidence(
                    finding, person, side=side, text=each["text"], backing=_backing(each, came),
                    token=_key(f"finding/{row['key']}/{key}/{number}"),
                )  # fmt: skip
        _look(finding, row["looked"], person)


def _backing(row: Row, came: Build) -> Backing:
    """What evidence leans on: a reading as found or of the last check, a photo, or a part that it left with."""
    if "check" in row:
        position, step = row["check"]
        read = Reading.objects.standing().filter(build__follows=came.follows_id, build__kind=BuildKind.CHECK)
        return Backing(reading=read.filter(position=position, characteristic=step).latest("taken_at"))
    if "found" in row:
        position, step = row["found"]
        return Backing(
            reading=Reading.objects.standing().get(build=came, position=position, characteristic=step)
        )
    if "photo" in row:
        return Backing(photo=Photo.objects.get(build=came, name=row["photo"]))
    if "part" in row:
        return Backing(part=PartFitted.objects.get(build=came.follows_id, role=row["part"]))
    return Backing()


def _look(finding: Finding, looked: Sequence[Sequence[str]], person: Person) -> None:
    """Answer the prompts that were looked at; each is named by some of its words."""
    prompts = prompts_of(finding.symptom)
    for words, answer, note in looked:
        text = next(prompt for prompt in prompts if words in prompt)
        answer_prompt(finding, person, text=text, answer=answer, note=note)


def take_out(plan: Sequence[Row], came: Build, person: Person) -> None:
    """Take parts of the job that the engine left with out of it, in the job that reads it as found."""
    for row in plan:
        take_part_out(
            PartFitted.objects.get(build=came.follows_id, role=row["role"]), person, quantity=1,
            out_on=_day(row["days_ago"]), why=row["why"], position=row["at"], in_job=came, note=row["note"],
        )  # fmt: skip


def recall(plan: Row, people: Mapping[str, Person]) -> Recall:
    """Begin a recall of a lot, with every engine that carries it, and mark the customer who was told."""
    person, told = people[plan["who"]], plan["told"]
    begun = recalling.begin(
        Recall(
            by=TracedBy.LOT, value=plan["lot"], reason=plan["reason"], advice=plan["advice"],
            opened_on=_day(plan["days_ago"]),
        ),
        person,
    )  # fmt: skip
    engine = Engine.objects.get(serial=told["engine"])
    recalling.mark(
        begun, engine, person, lines=begun.lines.filter(part__build__engine=engine), step=RecallStep.TOLD,
        done_on=_day(told["days_ago"]), note=told["note"], client_id=_key("recall/told"),
    )  # fmt: skip
    return begun


def _day(days_ago: int) -> date:
    return timezone.localdate() - timedelta(days=days_ago)


def _key(name: str) -> UUID:
    return uuid5(NAMESPACE_URL, f"standbook-demo/return/{name}")
