"""Printing a build sheet and a customer packet in the background."""

from uuid import UUID

from django.urls import reverse
from django.utils import timezone

from builds.models import Build, Person
from builds.printing.background import Progress, start
from builds.printing.paper import Paper
from builds.printing.runs import PrintRun
from valvetrain.sheets.build_page import build_file_name, build_pdf
from valvetrain.sheets.build_sheet import build_sheet
from valvetrain.sheets.packet import packet_of, packet_pdf
from valvetrain.sheets.words import when


def start_build_sheet(build: Build, person: Person, *, run_id: UUID, paper: Paper) -> PrintRun:
    """Start printing the build sheet of a job as a draft; safe to repeat. Raises `RunRefused` with a sentence."""
    sheet = build_sheet(build, person)
    here = reverse("build-sheet", args=[build.pk])
    run = PrintRun(
        id=run_id, job=build.pk, person=person.pk, title=f"Build sheet, job {build.job_number}",
        file_name=build_file_name(sheet), back=here, again=here, fields={"paper": paper.name},
    )  # fmt: skip

    def work(progress: Progress) -> bytes:
        return build_pdf(sheet, paper, progress)

    return start(run, work)


def start_packet(build: Build, person: Person, *, run_id: UUID, paper: Paper) -> PrintRun:
    """Start printing the customer packet of a job; safe to repeat. Raises `RunRefused` with a sentence.

    All that its sheets say is put together now; what is left for the background is pictures, pages and the press.
    """
    packet = packet_of(build, person, when(timezone.now()))
    here = reverse("packet", args=[build.pk])
    name = "".join(letter if letter.isalnum() or letter in " -_" else "-" for letter in build.job_number)
    run = PrintRun(
        id=run_id, job=build.pk, person=person.pk, title=f"Customer packet, job {build.job_number}",
        file_name=f"{name} packet{' DRAFT' if packet.drafts else ''}.pdf", back=here, again=here,
        fields={"paper": paper.name},
    )  # fmt: skip

    def work(progress: Progress) -> bytes:
        return packet_pdf(packet, paper, progress)

    return start(run, work)
