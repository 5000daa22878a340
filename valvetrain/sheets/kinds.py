"""The valvetrain's sheets that can be signed and sealed: how each is taken down, and printed again from that alone.

A page that was signed must come out the same for good. So whoever changes what a sheet says raises its schema, and keeps
the form and the template that the older schema was printed by; `tests/valvetrain/sealed_samples/` holds a sample of each.
"""

from collections.abc import Callable, Mapping
from typing import Any, TypeVar

from builds.models import Build, Photo
from builds.printing.paper import Paper
from builds.sealing.kinds import SealedPage, SealMarks, SheetKind, register
from valvetrain.models import Head
from valvetrain.sheets import ready
from valvetrain.sheets.build_lines import BuildSheet
from valvetrain.sheets.build_page import STYLE as BUILD_STYLE
from valvetrain.sheets.build_page import build_page
from valvetrain.sheets.build_sheet import build_sheet
from valvetrain.sheets.kept_pictures import kept_jpegs, kept_pictures
from valvetrain.sheets.page import setup_page
from valvetrain.sheets.photo_lines import PhotoLog
from valvetrain.sheets.photo_log import photo_log
from valvetrain.sheets.photo_page import STYLE, photo_page
from valvetrain.sheets.plain import Plain, from_plain, to_plain
from valvetrain.sheets.return_lines import ReturnReport
from valvetrain.sheets.return_page import RETURN_STYLES, return_frames, return_page
from valvetrain.sheets.return_ready import return_ready
from valvetrain.sheets.return_report import return_report
from valvetrain.sheets.setup import setup_sheet
from valvetrain.sheets.snapshot import SetupSheet

Sheet = TypeVar("Sheet")
# What belongs to one printing and not to the sheet; and what the sealing itself adds.
OF_PRINTING = ("printed", "printed_by", "draft")
OF_SEALING = ("sheet", "schema")
STYLES = ("css/sheet.css", "css/seal.css")


class UnknownSchema(ValueError):
    """A sheet of a schema that this book never had."""


def taken(sheet: Any) -> Plain:
    """A snapshot as it is signed: without who printed it and when."""
    plain = to_plain(sheet)
    return {name: value for name, value in plain.items() if name not in OF_PRINTING}


def opened(
    plain: Mapping[str, Any], editions: Mapping[int, Callable[[Plain], Sheet]], seal: SealMarks | None
) -> Sheet:
    """A snapshot again from what was taken, by the form of its own schema; a draft where there is no seal."""
    edition = editions.get(plain.get("schema", 0))
    if edition is None:
        raise UnknownSchema(f"{plain.get('sheet')}: schema {plain.get('schema')} is not known here")
    body = {name: value for name, value in plain.items() if name not in OF_SEALING}
    return edition({**body, "printed": "", "printed_by": "", "draft": seal is None})


SETUP_EDITIONS: dict[int, Callable[[Plain], SetupSheet]] = {1: lambda plain: from_plain(SetupSheet, plain)}
BUILD_EDITIONS: dict[int, Callable[[Plain], BuildSheet]] = {1: lambda plain: from_plain(BuildSheet, plain)}
RETURN_EDITIONS: dict[int, Callable[[Plain], ReturnReport]] = {
    1: lambda plain: from_plain(ReturnReport, plain)
}
PHOTO_EDITIONS: dict[int, Callable[[Plain], PhotoLog]] = {1: lambda plain: from_plain(PhotoLog, plain)}


def heads_of(build: Build) -> list[tuple[str, str]]:
    """The heads of a job by their keys: each has a setup sheet of its own; not where they are looked at again."""
    if build.follows_id is not None:
        return []
    heads = Head.objects.filter(build=build).order_by("pk").values_list("pk", "name")
    return [(str(pk), name) for pk, name in heads]


def take_setup(build: Build, subject: str, unit: str) -> Plain:
    """The setup sheet of a head; of one that was removed meanwhile, that it was."""
    head = ready.head_of(build, subject)
    if head is None:
        return {"job": build.job_number, "head": "removed from this job", "geometry_version": ""}
    return taken(setup_sheet(head, unit=unit))


def render_setup(plain: Plain, seal: SealMarks | None, paper: Paper) -> SealedPage:
    """A setup sheet again, from what was taken."""
    page = setup_page(opened(plain, SETUP_EDITIONS, seal), paper, seal)
    return SealedPage(page.html, page.drawings, stylesheets=STYLES)


def job_with_photos(build: Build) -> list[tuple[str, str]]:
    """The whole job, once it has a photo; not a check, which stands beside the job that it looks at."""
    if build.is_check:
        return []
    return [("", "")] if Photo.objects.filter(build=build).exists() else []


def take_photo_log(build: Build, subject: str, unit: str) -> Plain:
    """The photo log of a job."""
    return taken(photo_log(build, unit=unit)[0])


def render_photo_log(plain: Plain, seal: SealMarks | None, paper: Paper) -> SealedPage:
    """A photo log again, from what was taken and the kept files that it names."""
    log = opened(plain, PHOTO_EDITIONS, seal)
    pictures, lost = kept_pictures(log, strict=seal is not None)
    page = photo_page(log, paper, lost, seal)
    return SealedPage(page.html, page.drawings, pictures, (*STYLES, STYLE))


def whole_build(build: Build) -> list[tuple[str, str]]:
    """The whole job, where it builds an engine; a return has a report of its own, and a check no sheet."""
    return [("", "")] if build.follows_id is None else []


def whole_return(build: Build) -> list[tuple[str, str]]:
    """The whole job, where it reads an engine as it was found when it came back."""
    return [("", "")] if build.is_return else []


def take_build(build: Build, subject: str, unit: str) -> Plain:
    """The build sheet of a job."""
    return taken(build_sheet(build, unit=unit))


def render_build(plain: Plain, seal: SealMarks | None, paper: Paper) -> SealedPage:
    """A build sheet again, from what was taken."""
    page = build_page(opened(plain, BUILD_EDITIONS, seal), paper, seal)
    return SealedPage(page.html, page.drawings, stylesheets=(*STYLES, BUILD_STYLE))


def take_return(build: Build, subject: str, unit: str) -> Plain:
    """The return report of a job."""
    return taken(return_report(build, unit=unit))


def render_return(plain: Plain, seal: SealMarks | None, paper: Paper) -> SealedPage:
    """A return report again, from what was taken and the kept files that it names."""
    report = opened(plain, RETURN_EDITIONS, seal)
    pictures, lost = kept_jpegs(report.pictures, return_frames(report), strict=seal is not None)
    page = return_page(report, paper, lost, seal)
    return SealedPage(page.html, page.drawings, pictures, (*STYLES, *RETURN_STYLES))


def register_sheets() -> None:
    """Enter the valvetrain's sheets among those that can be sealed, in the order of a packet."""
    register(SheetKind("return", "return report", 1, whole_return, take_return, render_return, return_ready))
    register(SheetKind("build", "build sheet", 1, whole_build, take_build, render_build, ready.build_ready))
    register(
        SheetKind(
            "setup", "setup sheet", 1, heads_of, take_setup, render_setup, ready.setup_ready,
            addresses=ready.addresses_of_head,
        )
    )  # fmt: skip
    register(
        SheetKind(
            "photo-log", "photo log", 1, job_with_photos, take_photo_log, render_photo_log, ready.photo_log_ready,
            addresses=ready.valves_of_job,
        )
    )  # fmt: skip
