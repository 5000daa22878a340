"""Print runs: sheets too long to wait for in one request are printed in the background while a page shows how far it is.

A run is a folder `printing/<id>/` under the book's data folder: what it is and how it stands (`run.json`, written whole
under another name and then renamed), a file that is touched while the run is alive, and the PDF when it is done. Files,
and not the database, so that progress costs no write transaction and every server process can answer for every run.
Nothing in them is a record: a run may be thrown away at any time and printed again.
"""

import contextlib
import json
import os
import shutil
import time
from dataclasses import asdict, dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path
from uuid import UUID, uuid4

from django.conf import settings

WAITING, WORKING, DONE, FAILED = "waiting", "working", "done", "failed"
BEAT = 2.0  # s between signs of life
SILENCE = 20.0  # s without one: whoever printed it is gone
KEPT_SECONDS = 24 * 3600.0
MOST_KEPT = 100  # the oldest go first

STOPPED = "Printing stopped in the middle: the book’s server was ended or started anew. Nothing is lost; print it again."


class RunRefused(Exception):
    """A run cannot be started; the sentence says why."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


@dataclass(frozen=True)
class PrintRun:
    """One sheet on its way through the press.

    `again` is the address that starts another run like it, with `fields` and a new id; `back` the page it belongs to.
    """

    id: UUID
    job: int
    person: int
    title: str
    file_name: str
    back: str
    again: str
    fields: dict[str, str] = field(default_factory=dict)
    started: float = 0.0
    state: str = WAITING
    words: str = "Waiting for its turn"
    done: int = 0
    of: int = 0
    sentence: str = ""

    @property
    def folder(self) -> Path:
        """Where its files lie."""
        return runs_folder() / str(self.id)

    @property
    def pdf(self) -> Path:
        """The finished sheet."""
        return self.folder / "sheet.pdf"

    @property
    def started_at(self) -> datetime:
        """When it was asked for."""
        return datetime.fromtimestamp(self.started, UTC)

    @property
    def is_done(self) -> bool:
        """Whether the sheet can be opened."""
        return self.state == DONE

    @property
    def is_failed(self) -> bool:
        """Whether there will be no sheet."""
        return self.state == FAILED

    @property
    def has_ended(self) -> bool:
        """Whether nothing more will change."""
        return self.is_done or self.is_failed

    def is_like(self, other: "PrintRun") -> bool:
        """Whether the other is the same request, sent again."""
        return (self.job, self.person, self.again, self.fields) == (
            other.job, other.person, other.again, other.fields,
        )  # fmt: skip

    def write(self) -> None:
        """Keep how it stands, whole or not at all."""
        _write_whole(self.folder / "run.json", json.dumps(asdict(self), default=str).encode())

    def keep_pdf(self, pdf: bytes) -> None:
        """Keep the finished sheet, whole or not at all."""
        _write_whole(self.pdf, pdf)

    def beat(self) -> None:
        """Give a sign of life."""
        (self.folder / "beat").touch()

    def is_silent(self) -> bool:
        """Whether the last sign of life is too long ago."""
        try:
            return time.time() - (self.folder / "beat").stat().st_mtime > SILENCE
        except OSError:
            return True


def runs_folder() -> Path:
    """Where the runs of this book lie."""
    return Path(settings.DATA_DIR) / "printing"


def put_down(run: PrintRun) -> tuple[PrintRun, bool]:
    """Write a new run down; where its id is taken, the one that has it, and that it is not new.

    Raises `RunRefused` where the id belongs to something else.
    """
    run = replace(run, started=time.time())
    runs_folder().mkdir(parents=True, exist_ok=True)
    # Filled under another name: whoever finds the folder under its own finds it complete.
    fresh = runs_folder() / f".new-{uuid4()}"
    fresh.mkdir()
    try:
        (fresh / "beat").touch()
        (fresh / "run.json").write_bytes(json.dumps(asdict(run), default=str).encode())
        fresh.rename(run.folder)
    except OSError:
        shutil.rmtree(fresh, ignore_errors=True)
        taken = find(run.id)
        if taken is None:
            raise
        if not run.is_like(taken):
            raise RunRefused(
                "This page was already used to print something else. Load it again, then print."
            ) from None
        return taken, False
    return run, True


def find(run_id: UUID) -> PrintRun | None:
    """A run as it stands now; one whose printer has gone silent has failed, and says so."""
    try:
        kept = json.loads((runs_folder() / str(run_id) / "run.json").read_bytes())
        run = PrintRun(**{**kept, "id": UUID(kept["id"])})
    except (OSError, ValueError, TypeError, KeyError):
        return None
    if not run.has_ended and run.is_silent():
        return replace(run, state=FAILED, sentence=STOPPED)
    if run.is_done and not run.pdf.exists():
        return None
    return run


def sweep() -> int:
    """Throw away runs that are older than a day, and the oldest where there are too many; how many went.

    Runs that are alive stay.
    """
    found = []
    for folder in _folders():
        with contextlib.suppress(OSError):
            found.append((folder.stat().st_mtime, folder))
    found.sort(reverse=True)
    old = time.time() - KEPT_SECONDS
    gone = 0
    for place, (changed, folder) in enumerate(found):
        if (changed < old or place >= MOST_KEPT) and not _is_alive(folder):
            shutil.rmtree(folder, ignore_errors=True)
            gone += 1
    return gone


def _folders() -> list[Path]:
    """Folders that are runs, or were about to be; anything else in there is not ours."""
    if not runs_folder().is_dir():
        return []
    return [path for path in runs_folder().iterdir() if path.is_dir() and _is_run(path.name)]


def _is_run(name: str) -> bool:
    try:
        UUID(name.removeprefix(".new-"))
    except ValueError:
        return False
    return True


def _is_alive(folder: Path) -> bool:
    run = None if folder.name.startswith(".") else find(UUID(folder.name))
    return run is not None and not run.has_ended


def _write_whole(path: Path, content: bytes) -> None:
    part = path.with_name(f"{path.name}.part")
    part.write_bytes(content)
    os.replace(part, path)
