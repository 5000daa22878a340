"""The work of print runs: each in a thread of its own, one at a time, with signs of life for those who wait.

Whoever starts a run does all that asks the database first; the thread has only files and the press to do with.
"""

import logging
import threading
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from typing import Protocol

from builds.printing.press import PrintingFailed
from builds.printing.runs import BEAT, DONE, FAILED, WORKING, PrintRun, RunRefused, put_down, sweep

MOST_WAITING = 8  # runs in this process that have not ended; each is a thread

FAULT = "The sheet could not be printed. The log of this book says why."
NO_MEMORY = (
    "The sheet needs more memory than this computer has free. Close other programs, then print it again."
)

logger = logging.getLogger(__name__)


class Progress(Protocol):
    """How a work says how far it is: in words, and where it can be counted, so many of so many."""

    def __call__(self, words: str, done: int = 0, of: int = 0) -> None:
        """Say it."""


Work = Callable[[Progress], bytes]

# One sheet is worked on at a time: pictures take memory, and the press prints one at a time anyway.
_turn = threading.Lock()
_running = threading.BoundedSemaphore(MOST_WAITING)


def start(run: PrintRun, work: Work) -> PrintRun:
    """Start a run, or find the one that was started with its id. Raises `RunRefused` with a sentence.

    `work` gives back the PDF. What it raises as `PrintingFailed` is told to the person; anything else goes to the log.
    """
    places = _running
    if not places.acquire(blocking=False):
        raise RunRefused(f"{MOST_WAITING} sheets are already waiting to be printed. Try again in a minute.")
    new = False
    try:
        sweep()
        run, new = put_down(run)
        if new:
            threading.Thread(
                target=_live, args=(run, work, places), name=f"print-{run.id}", daemon=True
            ).start()
    finally:
        if not new:
            places.release()
    return run


def _live(run: PrintRun, work: Work, places: threading.BoundedSemaphore) -> None:
    """A run from its start to its end, whatever comes; the place it took is given back."""
    over = threading.Event()
    pulse = threading.Thread(target=_beat, args=(run, over), daemon=True)
    pulse.start()
    try:
        with _turn:
            ended = _print(run, work)
        with suppress(OSError):  # thrown away meanwhile, or the disk is full: silence will tell
            ended.write()
    finally:
        over.set()
        pulse.join()
        places.release()


def _print(run: PrintRun, work: Work) -> PrintRun:
    """Do the work and keep the sheet; the run as it then stands."""

    def progress(words: str, done: int = 0, of: int = 0) -> None:
        replace(run, state=WORKING, words=words, done=done, of=of).write()

    try:
        progress("Starting")
        run.keep_pdf(work(progress))
    except PrintingFailed as failed:
        return replace(run, state=FAILED, sentence=failed.sentence)
    except MemoryError:
        return replace(run, state=FAILED, sentence=NO_MEMORY)
    except OSError as error:
        logger.warning("a print run failed: %s", error)
        why = error.strerror or "a file could not be read or written"
        return replace(
            run, state=FAILED, sentence=f"The sheet could not be kept: {why}. `manage.py health` says more."
        )
    except Exception:
        logger.exception("a print run failed")
        return replace(run, state=FAILED, sentence=FAULT)
    return replace(run, state=DONE, words="Done")


def _beat(run: PrintRun, over: threading.Event) -> None:
    while True:
        with suppress(OSError):
            run.beat()
        if over.wait(BEAT):
            return
