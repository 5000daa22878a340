"""A sheet printed as a draft, to be looked at before it is signed: what is put up, or what it would show now."""

import json
from uuid import UUID

from django.urls import reverse
from django.utils.text import slugify

from builds.models import Person, Shop
from builds.printing.background import Progress, start
from builds.printing.paper import PAPERS
from builds.printing.press import to_pdf
from builds.printing.runs import PrintRun
from builds.sealing.board import SheetLine
from builds.sealing.canonical import canonical

MOST_SECONDS = 120.0


def start_draft(line: SheetLine, person: Person, run_id: UUID) -> PrintRun:
    """Start printing; safe to repeat. Raises `RunRefused` with a sentence.

    The background needs nothing but what was taken down here, and the files that it names.
    """
    plain, paper_name = _shown(line, person)
    paper = PAPERS[paper_name]
    arguments = [line.build.pk, line.kind.key, line.place]
    number = slugify(line.build.job_number) or "job"
    run = PrintRun(
        id=run_id, job=line.build.pk, person=person.pk, title=f"{line.name}, job {line.build.job_number}: draft",
        file_name=f"{number}-{slugify(line.name) or 'sheet'}-draft.pdf", back=reverse("sheet-ready", args=arguments),
        again=reverse("sheet-draft", args=arguments), fields={},
    )  # fmt: skip

    def work(progress: Progress) -> bytes:
        page = line.kind.render(plain, None, paper)
        progress("Printing")
        return to_pdf(
            page.html, drawings=page.drawings, pictures=page.pictures, stylesheets=page.stylesheets,
            seconds=MOST_SECONDS,
        )  # fmt: skip

    return start(run, work)


def _shown(line: SheetLine, person: Person) -> tuple[dict[str, object], str]:
    """What is printed, and on which paper."""
    if line.signing is not None and not line.is_void:
        return json.loads(bytes(line.signing.snapshot)), line.signing.paper
    now = line.kind.taken(line.build, line.subject, person.length_unit)
    return json.loads(canonical(now)), Shop.get().paper
