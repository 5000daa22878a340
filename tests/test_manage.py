"""The environment sets itself up, once, and starts again after an interruption. No network: pip is stood in for."""

import os
import shutil
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from builds import setting_up
from builds.setting_up import CannotStart

BASE = Path(__file__).resolve().parent.parent


class Workshop:
    """A folder with requirements and a stand-in for venv and pip that counts what it is asked to do."""

    def __init__(self, folder: Path) -> None:
        self.venv = folder / ".venv"
        self.requirements = folder / "requirements.txt"
        self.requirements.write_text("one==1\n")
        self.done: list[str] = []
        self.fails_at = ""

    def make(self, venv: Path) -> None:
        """Stand in for `python -m venv`."""
        self.done.append("make")
        python = setting_up.python_of(venv)
        python.parent.mkdir(parents=True)
        python.write_text("")
        if self.fails_at == "make":
            raise KeyboardInterrupt

    def install(self, venv: Path, requirements: Path) -> None:
        """Stand in for `pip install`."""
        self.done.append("install")
        if self.fails_at == "install":
            raise KeyboardInterrupt
        (venv / "installed").write_text(requirements.read_text())

    def start(self) -> bool:
        """One start."""
        return setting_up.make_ready(self.venv, self.requirements, self.make, self.install)

    def interrupted_start(self, where: str) -> None:
        """One start that Ctrl-C ends."""
        self.fails_at = where
        with pytest.raises(KeyboardInterrupt):
            self.start()
        self.fails_at = ""
        self.done.clear()


@pytest.fixture
def workshop(tmp_path: Path) -> Workshop:
    """A fresh copy of the book, before its first start."""
    return Workshop(tmp_path)


def test_the_first_start_makes_and_fills_the_environment(workshop: Workshop) -> None:
    assert workshop.start()
    assert workshop.done == ["make", "install"]


def test_a_second_start_does_nothing(workshop: Workshop) -> None:
    workshop.start()
    workshop.done.clear()
    assert not workshop.start()
    assert workshop.done == []


@pytest.mark.parametrize("where", ["make", "install"])
def test_an_interrupted_environment_is_made_anew(workshop: Workshop, where: str) -> None:
    workshop.interrupted_start(where)
    left_over = workshop.venv / "left-over"
    left_over.write_text("")
    workshop.start()
    assert workshop.done == ["make", "install"]
    assert not left_over.exists()


def test_changed_requirements_are_installed_into_the_same_environment(workshop: Workshop) -> None:
    workshop.start()
    workshop.done.clear()
    workshop.requirements.write_text("one==2\n")
    assert workshop.start()
    assert workshop.done == ["install"]
    assert (workshop.venv / "installed").read_text() == "one==2\n"


def test_an_interrupted_upgrade_is_made_anew(workshop: Workshop) -> None:
    workshop.start()
    workshop.requirements.write_text("one==2\n")
    workshop.interrupted_start("install")
    workshop.start()
    assert workshop.done == ["make", "install"]


def a_pip_that(folder: Path, code: int) -> Path:
    """An environment whose pip warns as an index without some wheels makes it warn, and then ends so."""
    python = setting_up.python_of(folder / ".venv")
    python.parent.mkdir(parents=True)
    python.write_text(f"#!/bin/sh\necho fetching\necho 'WARNING: Location is ignored' >&2\nexit {code}\n")
    python.chmod(0o755)
    return folder / ".venv"


def test_what_pip_warns_of_is_kept_in_a_file_and_not_shown(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    venv = a_pip_that(tmp_path, 0)
    setting_up.install_requirements(venv, tmp_path / "requirements.txt")
    shown = capfd.readouterr()
    assert (shown.out, shown.err) == ("", "Installing what requirements.txt names.\n")
    assert (venv / setting_up.PIP_LOG).read_text() == "fetching\nWARNING: Location is ignored\n"


def test_what_pip_says_is_shown_when_it_fails(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    venv = a_pip_that(tmp_path, 1)
    with pytest.raises(CannotStart, match="what it says stands above"):
        setting_up.install_requirements(venv, tmp_path / "requirements.txt")
    assert "WARNING: Location is ignored" in capfd.readouterr().err


def test_another_python_makes_the_environment_anew(workshop: Workshop) -> None:
    workshop.start()
    workshop.done.clear()
    stamp = workshop.venv / setting_up.STAMP
    stamp.write_text(stamp.read_text().replace(" 3.", " 2."))
    workshop.start()
    assert workshop.done == ["make", "install"]


def test_an_environment_whose_python_is_gone_is_made_anew(workshop: Workshop) -> None:
    workshop.start()
    workshop.done.clear()
    setting_up.python_of(workshop.venv).unlink()
    workshop.start()
    assert workshop.done == ["make", "install"]


def test_of_two_starts_at_once_one_waits_and_finds_it_done(workshop: Workshop) -> None:
    inside, go_on = threading.Event(), threading.Event()
    install = workshop.install

    def slow_install(venv: Path, requirements: Path) -> None:
        inside.set()
        assert go_on.wait(10)
        install(venv, requirements)

    workshop.install = slow_install  # type: ignore[method-assign]
    answers: list[bool] = []
    first = threading.Thread(target=lambda: answers.append(workshop.start()))
    second = threading.Thread(target=lambda: answers.append(workshop.start()))
    first.start()
    assert inside.wait(10)
    second.start()
    second.join(0.2)
    assert second.is_alive()
    go_on.set()
    first.join(10)
    second.join(10)
    assert sorted(answers) == [False, True]
    assert workshop.done == ["make", "install"]


def test_a_killed_start_leaves_no_lock_behind(workshop: Workshop) -> None:
    holder = (
        "import sys, time; sys.path.insert(0, sys.argv[1]); from pathlib import Path\n"
        "from builds import setting_up\n"
        "with setting_up.locked(Path(sys.argv[2])): print('held', flush=True); time.sleep(60)"
    )
    lock = str(workshop.venv.parent / setting_up.LOCK)
    with subprocess.Popen([sys.executable, "-c", holder, str(BASE), lock], stdout=subprocess.PIPE) as process:
        assert process.stdout is not None
        process.stdout.readline()
        process.kill()
    assert workshop.start()


def test_a_killed_start_whose_pip_goes_on_is_waited_for(workshop: Workshop) -> None:
    starter = (
        "import subprocess, sys; sys.path.insert(0, sys.argv[1]); from pathlib import Path\n"
        "from builds import setting_up\n"
        "with setting_up.locked(Path(sys.argv[2])):\n"
        "    child = [sys.executable, '-c', 'import time; print(1, flush=True); time.sleep(1)']\n"
        "    subprocess.run(child, pass_fds=setting_up._held)"
    )
    lock = str(workshop.venv.parent / setting_up.LOCK)
    with subprocess.Popen(
        [sys.executable, "-c", starter, str(BASE), lock], stdout=subprocess.PIPE
    ) as process:
        assert process.stdout is not None
        process.stdout.readline()
        process.kill()
        process.wait()
        started = time.monotonic()
        assert workshop.start()
        assert time.monotonic() - started > 0.5


def test_a_folder_that_cannot_be_written_is_said_in_words(tmp_path: Path) -> None:
    requirements = tmp_path / "requirements.txt"
    requirements.write_text("")
    # A file where a folder should be: unlike a missing right, that stops root too.
    (tmp_path / "file").write_text("")
    with pytest.raises(CannotStart, match=r"cannot set itself up in .*put this folder where you may write"):
        setting_up.make_ready(tmp_path / "file" / ".venv", requirements)


@pytest.fixture
def bare_system(monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
    """A system without the text libraries and without Chromium; returns what is run on it."""
    ran: list[list[str]] = []

    def run(command: list[str], **options: object) -> subprocess.CompletedProcess[str]:
        ran.append(command)
        return subprocess.CompletedProcess(command, 0)

    monkeypatch.setattr(setting_up, "_can_load", lambda library: False)
    monkeypatch.setattr(setting_up.subprocess, "run", run)
    monkeypatch.setattr(shutil, "which", lambda name: "/usr/bin/apt-get" if name == "apt-get" else None)
    return ran


def test_root_on_debian_installs_what_is_missing(
    bare_system: list[list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os, "geteuid", lambda: 0)
    setting_up.install_system_packages(setting_up.missing_packages())
    update, install = bare_system
    assert update[-1] == "update"
    assert install[-3:] == ["libpango-1.0-0", "libpangoft2-1.0-0", "libharfbuzz-subset0"]


def test_anybody_else_reads_the_one_line_to_type(
    bare_system: list[list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os, "geteuid", lambda: 1000)
    line = "sudo apt-get install -y libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0\n"
    with pytest.raises(CannotStart, match=line):
        setting_up.install_system_packages(setting_up.missing_packages())
    assert bare_system == []


@pytest.mark.usefixtures("bare_system")
def test_the_tests_need_four_programs_more() -> None:
    assert setting_up.missing_packages(for_tests=True)[3:] == [
        "chromium", "poppler-utils", "qpdf", "libnss3-tools",
    ]  # fmt: skip


def test_an_old_python_is_told_so(tmp_path: Path) -> None:
    """Run as an old Python would: manage.py with a version that is lied down."""
    script = "import sys, runpy; sys.version_info = (3, 9, 2); sys.argv = ['manage.py', 'demo']\n"
    script += f"runpy.run_path({str(BASE / 'manage.py')!r}, run_name='__main__')"
    ran = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, cwd=tmp_path)
    assert ran.returncode == 1
    assert "needs Python 3.11 or newer; this is Python 3.9" in ran.stderr


def test_a_book_that_cannot_be_kept_where_it_should_is_said_in_words(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    kept_in_a_file = {
        **os.environ,
        "STANDBOOK_NO_VENV": "1",
        "STANDBOOK_DATA": str(tmp_path / "file" / "book"),
    }
    ran = subprocess.run(
        [sys.executable, "manage.py", "health"], cwd=BASE, env=kept_in_a_file, capture_output=True, text=True
    )
    assert ran.returncode == 1
    assert ran.stderr.startswith(f"Standbook cannot keep its book in {tmp_path / 'file' / 'book'}")
    assert "Traceback" not in ran.stderr
