"""HTML to PDF, in a child process that is kept warm and can be killed.

Printing takes memory and time that a page can drive up without end. So it is done by one child with a limit to both.
Whatever goes wrong there, the caller gets `PrintingFailed` with a sentence, and the next job a new child.
"""

import atexit
import json
import logging
import os
import subprocess
import sys
import threading
from collections.abc import Callable, Mapping
from datetime import datetime
from pathlib import Path
from types import MappingProxyType
from typing import IO

from builds.printing.frames import Hangup, receive, send

BASE_DIR = Path(__file__).resolve().parent.parent.parent
STATIC = BASE_DIR / "static"

MOST_SECONDS = 30.0
MOST_MEMORY = 512 * 2**20
START_SECONDS = 60.0
# A child is replaced after so many sheets, before anything that leaks can add up.
SHEETS_PER_CHILD = 500
SHEET = ("css/sheet.css",)
NOTHING: Mapping[str, str] = MappingProxyType({})
NO_PICTURES: Mapping[str, bytes] = MappingProxyType({})
JPEG = b"\xff\xd8\xff"
SAID = b"S"

Told = Callable[[str], None]

logger = logging.getLogger(__name__)


class PrintingFailed(RuntimeError):
    """A sheet could not be printed; the sentence is for the person who asked for it."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


class Press:
    """One printing child, started when it is first needed. Safe to call from several threads: one prints at a time."""

    def __init__(
        self, *, static: Path = STATIC, seconds: float = MOST_SECONDS, memory: int = MOST_MEMORY
    ) -> None:
        self._static, self._seconds, self._memory = static, seconds, memory
        self._lock = threading.Lock()
        self._child: subprocess.Popen[bytes] | None = None
        self._started_in = 0
        self._printed = 0

    def to_pdf(
        self,
        html: str,
        *,
        drawings: Mapping[str, str] = NOTHING,
        pictures: Mapping[str, bytes] = NO_PICTURES,
        stylesheets: tuple[str, ...] = SHEET,
        attachments: Mapping[str, bytes] = NO_PICTURES,
        attached_at: datetime | None = None,
        seconds: float | None = None,
        told: Told | None = None,
    ) -> bytes:
        """Print a page.

        `drawings` are SVG texts that the page shows as `drawing:name`. `pictures` are JPEGs that it shows as
        `picture:name`; they go into the PDF byte for byte, so they come as large as they are to be printed.
        `stylesheets` are names under the static folder. `attachments` are files that go into the PDF as its source,
        dated `attached_at` in UTC. A long sheet may have more `seconds` than the press gives
        others; `told` hears, in a few words, how far it is.
        """
        if odd := [name for name, jpeg in pictures.items() if not jpeg.startswith(JPEG)]:
            raise ValueError(f"no JPEG: {', '.join(odd)}")
        seconds = seconds or self._seconds
        if not self._lock.acquire(timeout=2 * seconds):
            raise PrintingFailed("Other sheets are still being printed. Try again in a minute.")
        try:
            child = self._ready_child()
            parts = {
                "html": html, "drawings": dict(drawings), "stylesheets": stylesheets, "pictures": list(pictures),
                "tells": told is not None, "attachments": list(attachments),
                "attached_at": attached_at.isoformat() if attached_at else None,
            }  # fmt: skip
            files = [*pictures.values(), *attachments.values()]
            job = [json.dumps(parts, ensure_ascii=False).encode(), *files]
            return self._read(self._exchange(child, job, seconds, told))
        finally:
            self._lock.release()

    def warm_up(self) -> None:
        """Start the child before the first sheet is asked for."""
        with self._lock:
            self._ready_child()

    def close(self) -> None:
        """End the child."""
        child, self._child = self._child, None
        if child is None or self._started_in != os.getpid():
            return
        child.kill()
        child.wait()
        for pipe in (child.stdin, child.stdout):
            _close(pipe)

    def _ready_child(self) -> "subprocess.Popen[bytes]":
        """The child that prints, started if there is none; never one that belongs to a process we were forked from."""
        mine = self._child is not None and self._started_in == os.getpid() and self._child.poll() is None
        if mine and self._printed < SHEETS_PER_CHILD:
            assert self._child is not None
            return self._child
        self.close()
        self._child = subprocess.Popen(
            [sys.executable, "-X", "utf8", "-m", "builds.printing.worker", str(self._static), str(self._memory)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            cwd=BASE_DIR,
            env={**os.environ, "PYTHONWARNINGS": "ignore"},
        )  # fmt: skip
        self._started_in, self._printed = os.getpid(), 0
        self._exchange(self._child, [], START_SECONDS)
        return self._child

    def _exchange(
        self, child: "subprocess.Popen[bytes]", job: list[bytes], seconds: float, told: Told | None = None
    ) -> bytes:
        """Send the messages of a job, if any, and wait for the answer; kill the child when it takes too long."""
        assert child.stdin is not None and child.stdout is not None
        too_long = threading.Event()

        def stop() -> None:
            too_long.set()
            child.kill()

        timer = threading.Timer(seconds, stop)
        timer.daemon = True
        timer.start()
        try:
            for message in job:
                send(child.stdin, message)
            while (answer := receive(child.stdout))[:1] == SAID:
                if told is not None:
                    told(answer[1:].decode(errors="replace"))
            return answer
        except (Hangup, OSError):
            self.close()
            if too_long.is_set():
                logger.warning("printing was stopped after %g s", seconds)
                raise PrintingFailed(
                    f"The sheet was not ready after {seconds:g} seconds, so printing was stopped. Try again; if it "
                    "happens again, print fewer pages at once."
                ) from None
            logger.warning("the printing process ended with code %s", child.returncode)
            raise PrintingFailed(
                "The sheet could not be printed: the printing process ended. Try again."
            ) from None
        finally:
            timer.cancel()

    def _read(self, answer: bytes) -> bytes:
        self._printed += 1
        if answer[:1] == b"P":
            return answer[1:]
        why = answer[1:].decode(errors="replace")
        logger.warning("printing failed: %s", why)
        if why == "out of memory":
            self.close()
            raise PrintingFailed(
                "The sheet needs more memory than printing may take. Print fewer pages at once."
            )
        raise PrintingFailed("The sheet could not be printed. The log of this book says why.")


def _close(pipe: IO[bytes] | None) -> None:
    try:
        if pipe is not None:
            pipe.close()
    except OSError:  # what was still to be sent has nowhere to go
        pass


press = Press()
atexit.register(press.close)


def to_pdf(
    html: str,
    *,
    drawings: Mapping[str, str] = NOTHING,
    pictures: Mapping[str, bytes] = NO_PICTURES,
    stylesheets: tuple[str, ...] = SHEET,
    attachments: Mapping[str, bytes] = NO_PICTURES,
    attached_at: datetime | None = None,
    seconds: float | None = None,
    told: Told | None = None,
) -> bytes:
    """Print a page on the book's own press. Raises `PrintingFailed` with a sentence."""
    return press.to_pdf(
        html, drawings=drawings, pictures=pictures, stylesheets=stylesheets, attachments=attachments,
        attached_at=attached_at, seconds=seconds, told=told,
    )  # fmt: skip
