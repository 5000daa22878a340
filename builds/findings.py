"""What was found on an engine: read for a page or a report, and the only ways in. A finding is what somebody says.

Each write is one transaction; what is new carries a token and is made once. A finding is never removed: it is taken
back with a reason, and stays on the list. Refusals are `EntryRefused`, with a sentence for the person.
"""

from dataclasses import dataclass
from uuid import UUID

from django.db import transaction
from django.db.models import Prefetch, QuerySet

from builds.models import (
    Build,
    BuildKind,
    CausePrompt,
    Confidence,
    Evidence,
    Finding,
    FindingPhoto,
    Looked,
    PartFitted,
    Person,
    Photo,
    PromptLook,
    Reading,
    Symptom,
)
from builds.models.returns import Side
from builds.once import made_once
from builds.places import read_place
from builds.recording import EntryRefused

# Shown wherever findings or prompts stand, on the screen and on paper.
ONLY_PROMPTS = (
    "The lists are prompts from common practice and the shop’s own, never a diagnosis. What is named as a cause is what "
    "a person here thinks. The parts maker’s instructions and the engine maker’s manual come first; a qualified engine "
    "builder decides."
)


@dataclass(frozen=True)
class Told:
    """What a person says of a finding. `position` is an address of the job, `place_words` a place that has none."""

    what: str
    condition: str
    position: str = ""
    place_words: str = ""
    detail: str = ""
    cause: str = ""
    confidence: str = ""
    action: str = ""
    symptom: Symptom | None = None


@dataclass(frozen=True)
class Backing:
    """What a piece of evidence leans on: a reading, a photo or a part, or nothing but its words."""

    reading: Reading | None = None
    photo: Photo | None = None
    part: PartFitted | None = None


def findings(**wanted: object) -> QuerySet[Finding]:
    """Findings with all that is shown of them: evidence and what it leans on, photos, what was looked at."""
    evidence = Evidence.objects.select_related(
        "reading__build", "reading__corrected_by", "photo__build", "part__build", "noted_by"
    )
    return (
        Finding.objects.filter(**wanted)
        .select_related("build", "symptom", "found_by")
        .prefetch_related(
            Prefetch("evidence", evidence),
            "evidence__photo__filings",
            Prefetch("shown_on", FindingPhoto.objects.select_related("photo__taken_by")),
            Prefetch("shown_on__photo__filings"),
            Prefetch("looks", PromptLook.objects.select_related("looked_by")),
        )
    )


def findings_of(job: Build) -> list[Finding]:
    """All findings of a job, those taken back too, in the order in which they were written down."""
    return list(findings(build=job).order_by("pk"))


def jobs_to_lean_on(job: Build) -> list[int]:
    """The job itself, the one that the engine went out with, and the checks in between: what evidence is taken from."""
    if job.follows_id is None:
        return [job.pk]
    checks = Build.objects.filter(follows=job.follows_id, kind=BuildKind.CHECK).order_by("pk")
    return [job.pk, job.follows_id, *checks.values_list("pk", flat=True)]


def add_finding(job: Build, person: Person, told: Told, *, token: UUID | None = None) -> tuple[Finding, bool]:
    """Write a finding down. Returns it and whether it is new."""

    def make() -> Finding:
        _hold(job)
        return Finding.objects.create(build=job, found_by=person, **_checked(job, told))

    return made_once(Finding, token, make)


def change_finding(finding: Finding, told: Told) -> Finding:
    """Say it otherwise; what stood there before is in the history."""
    with transaction.atomic():
        held = _hold_finding(finding)
        values = _checked(held.build, told)
        changed = [name for name, value in values.items() if getattr(held, name) != value]
        for name in changed:
            setattr(held, name, values[name])
        if changed:
            held.save(update_fields=changed)
    return held


def take_back(finding: Finding, reason: str) -> Finding:
    """Take a finding back: it stays on the list, crossed out, with the reason. Twice with the same words is once."""
    reason = reason.strip()
    if not reason:
        raise EntryRefused(
            "reason", "Say why it is taken back: the wrong valve, looked at again, the dial slipped …"
        )
    with transaction.atomic():
        _hold(finding.build)
        held = Finding.objects.select_for_update(of=("self",)).get(pk=finding.pk)
        if held.withdrawn and held.withdrawn != reason:
            raise EntryRefused("reason", _taken_back(held))
        if not held.withdrawn:
            held.withdrawn = reason
            held.save(update_fields=["withdrawn"])
    return held


def add_evidence(
    finding: Finding,
    person: Person | None,
    *,
    side: str,
    text: str,
    backing: Backing | None = None,
    token: UUID | None = None,
) -> tuple[Evidence, bool]:
    """Note what speaks for or against the probable cause. Returns it and whether it is new."""
    backing, text = backing or Backing(), text.strip()
    if side not in Side.values:
        raise EntryRefused("side", "Say whether it speaks for the probable cause or against it.")
    if not text:
        raise EntryRefused(
            "text", "What it says: write in a few words what this shows, so that another sees it too."
        )

    def make() -> Evidence:
        held = _hold_finding(finding)
        _check_backing(held, backing)
        return Evidence.objects.create(
            finding=held, side=side, text=text, reading=backing.reading, photo=backing.photo, part=backing.part,
            noted_by=person,
        )  # fmt: skip

    return made_once(Evidence, token, make)


def remove_evidence(evidence: Evidence) -> None:
    """Take a piece of evidence off; the history keeps it."""
    with transaction.atomic():
        _hold_finding(evidence.finding)
        evidence.delete()


def add_photo(finding: Finding, photo: Photo) -> tuple[FindingPhoto, bool]:
    """Put a photo of the job to a finding. Returns the link and whether it is new."""
    with transaction.atomic():
        held = _hold_finding(finding)
        if photo.build_id != held.build_id:
            raise EntryRefused(
                "photo",
                f"The photo {photo.name} belongs to another job than {held.build}. Choose one of this job; one of the "
                "job that it left with may be evidence.",
            )
        if photo.set_aside:
            raise EntryRefused(
                "photo", f"The photo {photo.name} is set aside: {photo.filing.reason}. File it again first."
            )
        return FindingPhoto.objects.get_or_create(finding=held, photo=photo)


def remove_photo(finding: Finding, photo: Photo) -> None:
    """Take a photo off a finding. The photo itself stays in the book."""
    with transaction.atomic():
        held = _hold_finding(finding)
        for link in FindingPhoto.objects.filter(finding=held, photo=photo):
            link.delete()


def answer_prompt(
    finding: Finding, person: Person | None, *, text: str, answer: str, note: str = ""
) -> PromptLook | None:
    """Say what came of looking at a prompt, once or anew; an empty answer: it was not looked at after all."""
    if answer and answer not in Looked.values:
        raise EntryRefused("answer", "Choose “it is so”, “it is not so” or “not looked at”.")
    note = note.strip()
    if len(note) > 200:
        raise EntryRefused(
            "note", f"The note has {len(note)} characters, and there is room for 200. Say it shorter."
        )
    with transaction.atomic():
        held = _hold_finding(finding)
        look = PromptLook.objects.filter(finding=held, text=text).first()
        if look is None and text not in prompts_of(held.symptom):
            raise EntryRefused(
                "text",
                "This was changed in the shop’s list meanwhile. Load the page again, and answer what stands there.",
            )
        if not answer:
            if look is not None:
                look.delete()
            return None
        if look is None:
            return PromptLook.objects.create(
                finding=held, text=text, answer=answer, note=note, looked_by=person
            )
        if (look.answer, look.note) != (answer, note):
            look.answer, look.note, look.looked_by = answer, note, person
            look.save(update_fields=["answer", "note", "looked_by"])
        return look


def prompts_of(symptom: Symptom | None) -> list[str]:
    """What the shop looks at for a symptom, in its order."""
    if symptom is None:
        return []
    found = CausePrompt.objects.filter(symptom=symptom, in_use=True).order_by("order", "pk")
    return list(found.values_list("text", flat=True))


@dataclass(frozen=True)
class PromptLine:
    """One prompt of a finding's list, with what came of looking; `look` is None where nobody looked yet."""

    text: str
    look: PromptLook | None
    asked_now: bool = True


def prompt_lines(finding: Finding) -> list[PromptLine]:
    """The list to look through as it is now, then what was answered that it does not ask any more."""
    looks = {look.text: look for look in finding.looks.all()}
    lines = [PromptLine(text, looks.pop(text, None)) for text in prompts_of(finding.symptom)]
    return lines + [PromptLine(look.text, look, asked_now=False) for look in looks.values()]


def _hold(job: Build) -> None:
    """Hold the job while something is written of it; refuse once it went out."""
    held = Build.objects.select_for_update(of=("self",)).get(pk=job.pk)
    if not held.takes_readings:
        raise EntryRefused("", held.closed_sentence)


def _hold_finding(finding: Finding) -> Finding:
    _hold(finding.build)
    held = Finding.objects.select_related("build", "symptom").get(pk=finding.pk)
    if held.withdrawn:
        raise EntryRefused("", _taken_back(held))
    return held


def _taken_back(finding: Finding) -> str:
    return f"This finding was taken back: {finding.withdrawn}. Write a new one for what stands now."


def _checked(job: Build, told: Told) -> dict[str, object]:
    """What is written of a finding. Raises `EntryRefused` where it says half of something."""
    what, cause = told.what.strip(), told.cause.strip()
    if not what:
        raise EntryRefused(
            "what", "What was found: nothing is filled in. Write it in a few words: pushrod bent."
        )
    if told.confidence and not cause:
        raise EntryRefused(
            "cause",
            f"How sure: “{Confidence(told.confidence).label}” stands there without a probable cause. Write the cause, or "
            "choose “no cause named”.",
        )
    if cause and not told.confidence:
        raise EntryRefused(
            "confidence",
            "A probable cause is named, and not how sure it is. Choose possible, likely, or as good as certain.",
        )
    return {
        "what": what, "condition": told.condition, "cause": cause, "confidence": told.confidence,
        "position": read_place(job, told.position, told.place_words), "detail": told.detail.strip(),
        "action": told.action.strip(), "symptom": told.symptom,
    }  # fmt: skip


def _check_backing(finding: Finding, backing: Backing) -> None:
    named = [each for each in (backing.reading, backing.photo, backing.part) if each is not None]
    if len(named) > 1:
        raise EntryRefused("", "One piece of evidence leans on one thing. Note the other one by itself.")
    for each in named:
        if each.build_id not in jobs_to_lean_on(finding.build):
            raise EntryRefused(
                "",
                f"{each} is of another job. Evidence is taken from this job, from the one that the engine went out with, "
                "or from a check in between.",
            )
    if backing.photo is not None and backing.photo.set_aside:
        raise EntryRefused("", f"The photo {backing.photo.name} is set aside. File it again first.")
