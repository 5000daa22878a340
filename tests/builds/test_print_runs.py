"""Print runs: started once, told as they go, kept for a day, and never left hanging."""

import os
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.test import Client
from django.urls import reverse

from builds.models import Build
from builds.printing import background, runs
from builds.printing.background import Progress, start
from builds.printing.press import Press, PrintingFailed
from builds.printing.runs import PrintRun, RunRefused, find, put_down, sweep

SHEET = b"%PDF-1.7 a sheet"


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, settings: Any) -> Path:
    """A book's folder of its own."""
    settings.DATA_DIR = tmp_path
    return tmp_path / "printing"


@pytest.fixture
def asked() -> Callable[..., PrintRun]:
    """Somebody asks for a sheet."""

    def ask(run_id: UUID | None = None, **more: Any) -> PrintRun:
        kept = {
            "job": 1,
            "person": 1,
            "title": "Photo log",
            "file_name": "log.pdf",
            "back": "/",
            "again": "/again/",
        }
        return PrintRun(run_id or uuid4(), **{**kept, **more})  # type: ignore[arg-type]

    return ask


class Held:
    """A work that goes on until it is let go."""

    def __init__(self) -> None:
        self.begun, self.go, self.times = threading.Event(), threading.Event(), 0

    def __call__(self, progress: Progress) -> bytes:
        """Say one step, wait, and be done."""
        self.times += 1
        progress("Pictures", 12, 40)
        self.begun.set()
        assert self.go.wait(20)
        return SHEET


@pytest.fixture
def held() -> Iterator[Held]:
    """A work that is let go in the end, whatever the test does."""
    work = Held()
    yield work
    work.go.set()


def ended(run: PrintRun) -> PrintRun:
    """The run when it has ended."""
    for _ in range(400):
        found = find(run.id)
        if found is not None and found.has_ended:
            return found
        time.sleep(0.025)
    raise AssertionError("the run did not end")


def failing(error: BaseException) -> Callable[[Progress], bytes]:
    """A work that comes to nothing."""

    def work(progress: Progress) -> bytes:
        raise error

    return work


def test_a_run_says_how_far_it_is_and_then_keeps_its_sheet(asked: Callable[..., PrintRun], held: Held):
    run = start(asked(), held)
    assert held.begun.wait(10)
    now = find(run.id)
    assert now is not None
    assert (now.state, now.words, now.done, now.of) == ("working", "Pictures", 12, 40)
    held.go.set()
    assert ended(run).is_done
    assert run.pdf.read_bytes() == SHEET


def test_the_same_id_sent_again_starts_nothing(asked: Callable[..., PrintRun], held: Held):
    first = start(asked(), held)
    again = start(asked(first.id), held)
    held.go.set()
    ended(first)
    assert (again.id, again.started) == (first.id, first.started)
    assert held.times == 1


def test_an_id_cannot_be_used_for_something_else(asked: Callable[..., PrintRun]):
    first = start(asked(), lambda progress: SHEET)
    with pytest.raises(RunRefused, match="already used to print something else"):
        start(asked(first.id, job=2), lambda progress: SHEET)
    ended(first)


def test_two_starts_at_once_with_one_id_are_one_run(asked: Callable[..., PrintRun], held: Held):
    run_id, found = uuid4(), []
    threads = [
        threading.Thread(target=lambda: found.append(start(asked(run_id), held).started)) for _ in range(6)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    held.go.set()
    ended(asked(run_id))
    assert held.times == 1
    assert len(found) == 6
    assert len(set(found)) == 1


def test_two_runs_at_once_are_worked_on_one_after_the_other(asked: Callable[..., PrintRun], held: Held):
    first = start(asked(), held)
    assert held.begun.wait(10)
    second = start(asked(), lambda progress: SHEET)
    waiting = find(second.id)
    assert waiting is not None
    assert (waiting.state, waiting.words) == ("waiting", "Waiting for its turn")
    held.go.set()
    assert ended(first).is_done
    assert ended(second).is_done


def test_more_runs_than_may_wait_are_refused(
    asked: Callable[..., PrintRun], held: Held, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(background, "_running", threading.BoundedSemaphore(2))
    both = [start(asked(), held) for _ in range(2)]
    with pytest.raises(RunRefused, match="already waiting to be printed"):
        start(asked(), held)
    held.go.set()
    for run in both:
        assert ended(run).is_done


@pytest.mark.parametrize(
    ("error", "sentence"),
    [
        (PrintingFailed("The sheet was not ready after 5 seconds."), "not ready after 5 seconds"),
        (MemoryError(), "more memory than this computer has free"),
        (OSError(28, "No space left on device"), "No space left on device"),
    ],
)
def test_what_goes_wrong_is_a_sentence(asked: Callable[..., PrintRun], error: BaseException, sentence: str):
    found = ended(start(asked(), failing(error)))
    assert found.is_failed
    assert sentence in found.sentence


def test_a_fault_goes_to_the_log_and_the_person_reads_where(
    asked: Callable[..., PrintRun], caplog: pytest.LogCaptureFixture
):
    found = ended(start(asked(), failing(KeyError("address"))))
    assert found.sentence == background.FAULT
    assert "KeyError" in caplog.text


def test_a_printing_child_that_is_killed_ends_the_run_in_a_sentence(asked: Callable[..., PrintRun]):
    press = Press()

    def kill(words: str) -> None:
        assert press._child is not None
        press._child.kill()

    def work(progress: Progress) -> bytes:
        return press.to_pdf("<title>Sheet</title>" + "<p style='break-after:page'>x</p>" * 300, told=kill)

    try:
        found = ended(start(asked(), work))
    finally:
        press.close()
    assert found.is_failed
    assert "the printing process ended" in found.sentence


def test_a_run_whose_server_died_says_so_after_a_while(asked: Callable[..., PrintRun]):
    run, new = put_down(asked())
    assert new
    found = find(run.id)
    assert found is not None
    assert not found.has_ended
    silent = time.time() - runs.SILENCE - 1
    os.utime(run.folder / "beat", (silent, silent))
    found = find(run.id)
    assert found is not None
    assert found.sentence == runs.STOPPED


def test_a_run_that_takes_long_stays_alive(
    asked: Callable[..., PrintRun], held: Held, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(background, "BEAT", 0.05)
    monkeypatch.setattr(runs, "SILENCE", 1.0)
    run = start(asked(), held)
    time.sleep(1.5)
    found = find(run.id)
    assert found is not None
    assert not found.has_ended


def test_runs_of_yesterday_are_swept_and_those_alive_stay(asked: Callable[..., PrintRun], folder: Path):
    old, dead, alive = (put_down(asked())[0] for _ in range(3))
    replace(old, state=runs.DONE).write()
    old.keep_pdf(SHEET)
    (folder / "somebody else's").mkdir()
    yesterday = time.time() - runs.KEPT_SECONDS - 60
    os.utime(dead.folder / "beat", (yesterday, yesterday))
    for run in (old, dead, alive):
        os.utime(run.folder, (yesterday, yesterday))
    assert sweep() == 2
    assert sorted(path.name for path in folder.iterdir()) == sorted([str(alive.id), "somebody else's"])


def test_only_so_many_runs_are_kept(asked: Callable[..., PrintRun], monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(runs, "MOST_KEPT", 3)
    for age in range(5):
        run, _new = put_down(asked())
        replace(run, state=runs.DONE).write()
        run.keep_pdf(SHEET)
        os.utime(run.folder, (time.time() - age, time.time() - age))
    assert sweep() == 2


@pytest.mark.parametrize("kept", [b"", b"{", b"[]", b'{"id": "x"}'])
def test_a_run_that_cannot_be_read_is_not_there(asked: Callable[..., PrintRun], kept: bytes):
    run, _new = put_down(asked())
    (run.folder / "run.json").write_bytes(kept)
    assert find(run.id) is None


def page(run: PrintRun) -> str:
    return reverse("print-run", args=[run.id])


def sheet(run: PrintRun) -> str:
    return reverse("print-run-file", args=[run.id])


def test_the_page_asks_again_until_the_sheet_is_there(
    bench_client: Client, job: Build, asked: Callable[..., PrintRun], held: Held
):
    run = start(asked(job=job.pk), held)
    assert held.begun.wait(10)
    whole = bench_client.get(page(run)).content.decode()
    assert 'hx-trigger="every 700ms"' in whole
    assert '<noscript><meta http-equiv="refresh" content="2"></noscript>' in whole
    assert '<progress aria-labelledby="run-words" value="12" max="40">' in whole
    part = bench_client.get(page(run), headers={"HX-Request": "true"}).content.decode()
    assert part.lstrip().startswith('<div id="run" hx-get')
    assert bench_client.get(sheet(run)).status_code == 404
    held.go.set()
    ended(run)
    done = bench_client.get(page(run)).content.decode()
    assert "hx-trigger" not in done
    assert "http-equiv" not in done
    assert sheet(run) in done


def test_the_sheet_is_served_with_safe_headers(
    bench_client: Client, job: Build, asked: Callable[..., PrintRun]
):
    run = start(asked(job=job.pk, file_name="26-014 Łód.pdf"), lambda progress: SHEET)
    ended(run)
    answer = bench_client.get(sheet(run))
    assert b"".join(answer.streaming_content) == SHEET  # type: ignore[attr-defined]
    assert answer["Content-Type"] == "application/pdf"
    assert answer["Content-Disposition"] == "inline; filename*=utf-8''26-014%20%C5%81%C3%B3d.pdf"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Cache-Control"] == "private, no-cache"
    assert "default-src 'self'" in answer["Content-Security-Policy"]


def test_a_run_that_failed_offers_another_with_an_id_of_its_own(
    bench_client: Client, job: Build, asked: Callable[..., PrintRun]
):
    run = start(asked(job=job.pk, fields={"paper": "A4"}), failing(PrintingFailed("It is <too> long.")))
    ended(run)
    told = bench_client.get(page(run)).content.decode()
    assert "It is &lt;too&gt; long." in told
    assert '<input type="hidden" name="paper" value="A4">' in told
    assert 'action="/again/"' in told
    assert str(run.id) not in told


def test_a_stranger_and_one_who_left_see_neither_page_nor_sheet(
    stranger: Client, left_client: Client, job: Build, asked: Callable[..., PrintRun]
):
    run = start(asked(job=job.pk), lambda progress: SHEET)
    ended(run)
    for client in (stranger, left_client):
        for address in (page(run), sheet(run)):
            assert client.get(address).url.startswith(reverse("login"))  # type: ignore[attr-defined]


def test_a_run_of_a_job_that_is_not_there_is_not_shown(bench_client: Client, asked: Callable[..., PrintRun]):
    run = start(asked(job=987654), lambda progress: SHEET)
    ended(run)
    assert bench_client.get(page(run)).status_code == 404
    assert bench_client.get(sheet(run)).status_code == 404


def test_no_run_no_page(bench_client: Client, db: None):
    assert bench_client.get(reverse("print-run", args=[uuid4()])).status_code == 404
