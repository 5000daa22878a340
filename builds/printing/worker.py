"""The press's child: reads a job, prints it, answers; until the pipe closes.

    python -m builds.printing.worker <static folder> <most memory, bytes>

Kept apart from Django and from the book's files, so that a hostile or hopeless page can take down nothing but this
process. A job is a message in JSON, then one message for each picture and each attachment that it names. An answer starts
with one byte: b"P" before a PDF, b"F" before a few words on why there is none, b"S" before a few words on how far it is;
a last one follows those.
"""

import gc
import json
import logging
import os
import sys
import warnings
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import IO, Any

from weasyprint import CSS, HTML, Attachment
from weasyprint.text.fonts import FontConfiguration
from weasyprint.urls import FatalURLFetchingError

from builds.printing import lettering
from builds.printing.fetcher import OnlyFromTheHouse
from builds.printing.frames import Hangup, receive, send
from builds.printing.kept import KeptDrawings

PRINTED, FAILED, SAID = b"P", b"F", b"S"
DRAWINGS_DPI = 150
# Loads the fonts and every part of the program that the first real page would have to wait for.
FIRST_PAGE = "<title>.</title><table><tr><td>0<b>1</b></td></tr></table>"


class Complaints(logging.Handler):
    """Collects what WeasyPrint logs as an error. It would go on without the picture; a sheet must not."""

    def __init__(self) -> None:
        super().__init__(logging.ERROR)
        self.lines: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        """Keep one line."""
        self.lines.append(record.getMessage()[:200])


class Steps(logging.Handler):
    """Passes on how far WeasyPrint is, in the book's words; nothing while nobody listens."""

    def __init__(self) -> None:
        super().__init__(logging.INFO)
        self.tell: Callable[[str], None] | None = None

    def emit(self, record: logging.LogRecord) -> None:
        """Say one step, if it is one that takes time."""
        if self.tell is None:
            return
        if record.msg.startswith("Step 5") and record.args:
            self.tell(f"Laying out page {record.args[0]}")  # type: ignore[index]
        elif record.msg.startswith("Step 6"):
            self.tell("Writing the PDF")


class SheetIncomplete(RuntimeError):
    """Something that belongs on the sheet could not be drawn."""


class Printer:
    """Prints pages with the house's fonts; keeps stylesheets and fonts ready between jobs."""

    def __init__(self, static: Path) -> None:
        self._static = static
        self._fetcher = OnlyFromTheHouse(static)
        self._fonts = FontConfiguration()
        self._styles: dict[tuple[str, int], CSS] = {}
        if lettering.install():
            KeptDrawings(self._fetcher).install()
        self._complaints = Complaints()
        logging.getLogger("weasyprint").addHandler(self._complaints)
        self._steps = Steps()
        progress = logging.getLogger("weasyprint.progress")
        progress.addHandler(self._steps)
        progress.setLevel(logging.INFO)

    def to_pdf(
        self,
        html: str,
        stylesheets: list[str],
        drawings: dict[str, str] | None = None,
        pictures: dict[str, bytes] | None = None,
        tell: Callable[[str], None] | None = None,
        attachments: list[Attachment] | None = None,
    ) -> bytes:
        """Print a page as PDF/A-3b; all of it, or not at all."""
        self._fetcher.drawings, self._fetcher.pictures = drawings or {}, pictures or {}
        self._steps.tell = tell
        self._complaints.lines.clear()
        try:
            return self._printed(html, stylesheets, attachments or [])
        finally:
            self._fetcher.pictures, self._steps.tell = {}, None

    def _printed(self, html: str, stylesheets: list[str], attachments: list[Attachment]) -> bytes:
        page = HTML(string=html, base_url=self._static.as_uri() + "/", url_fetcher=self._fetcher)
        pdf: bytes = page.write_pdf(
            stylesheets=[self._style(name) for name in stylesheets],
            font_config=self._fonts,
            pdf_variant="pdf/a-3b",
            attachments=attachments,
            # Pictures come as large as they are printed, and are not to be encoded a second time.
            dpi=None if self._fetcher.pictures else DRAWINGS_DPI,
        )
        if self._complaints.lines:
            raise SheetIncomplete(self._complaints.lines[0])
        return pdf

    def _style(self, name: str) -> CSS:
        path = self._static / name
        key = (name, path.stat().st_mtime_ns)
        if key not in self._styles:
            self._styles[key] = CSS(
                filename=path, base_url=path.as_uri(), url_fetcher=self._fetcher, font_config=self._fonts
            )
        return self._styles[key]


def attached(files: dict[str, bytes], at: str | None) -> list[Attachment]:
    """Files that go into a PDF as what it was made from; always dated, so that the same job gives the same bytes."""
    when = datetime.fromisoformat(at) if at else datetime(2000, 1, 1)
    return [
        Attachment(string=data, name=name, created=when, modified=when, relationship="Source")
        for name, data in files.items()
    ]


def limit_memory(most: int) -> None:
    """Refuse this process more memory than it may have, where the system can."""
    try:
        import resource
    except ImportError:  # Windows
        return
    _soft, hard = resource.getrlimit(resource.RLIMIT_DATA)
    resource.setrlimit(resource.RLIMIT_DATA, (most, hard))


def serve(printer: Printer, jobs: IO[bytes], answers: IO[bytes]) -> None:
    """Print job after job until the press hangs up."""
    while True:
        try:
            job: dict[str, Any] = json.loads(receive(jobs))
            pictures = {name: receive(jobs) for name in job["pictures"]}
            files = {name: receive(jobs) for name in job["attachments"]}
        except Hangup:
            return
        try:
            tell = (lambda words: send(answers, SAID + words.encode())) if job["tells"] else None
            answer = PRINTED + printer.to_pdf(
                job["html"], job["stylesheets"], job["drawings"], pictures, tell,
                attached(files, job["attached_at"]),
            )  # fmt: skip
        except MemoryError:
            # What is left of this process is not to be trusted: the press starts another.
            send(answers, FAILED + b"out of memory")
            return
        except (Exception, FatalURLFetchingError) as error:
            answer = FAILED + f"{type(error).__name__}: {error}".encode()[:500]
        send(answers, answer)
        # Nothing of a long sheet is held until the next one comes.
        del job, pictures, files, answer
        gc.collect()


def main(static: str, most_memory: str) -> None:
    """Set the process up, print a first page to warm up, say so, and serve."""
    jobs, answers = sys.stdin.buffer, os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    # Nothing that a library prints may get between the answers.
    sys.stdout = sys.stderr
    warnings.simplefilter("ignore")
    limit_memory(int(most_memory))
    printer = Printer(Path(static))
    printer.to_pdf(FIRST_PAGE, ["css/sheet.css"])
    # What is loaded by now stays; what a sheet leaves behind is swept up after it is handed over, not while it is made.
    gc.collect()
    gc.freeze()
    gc.disable()
    send(answers, b"ready")
    serve(printer, jobs, answers)


if __name__ == "__main__":
    main(*sys.argv[1:])
