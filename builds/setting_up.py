"""How Standbook sets itself up: its own environment, and the system's libraries that it needs.

Standard library only, and nothing of Django's: this runs before either is there. The environment is
`.venv` beside manage.py. A stamp inside it, written last, holds what it was made for; an environment
without a stamp was interrupted half-way and is made anew.
"""

import contextlib
import ctypes
import errno
import hashlib
import importlib.util
import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

STAMP = "standbook-stamp"
# What pip said at the last set-up, inside the environment.
PIP_LOG = "standbook-pip.log"
LOCK = ".venv.lock"

# Shared library as the loader asks for it → Debian's package. WeasyPrint sets the sheets' text with them;
# without the subset library its PDFs come out with other bytes, so that one is not optional here.
TEXT_LIBRARIES = {
    "libpango-1.0.so.0": "libpango-1.0-0",
    "libpangoft2-1.0.so.0": "libpangoft2-1.0-0",
    "libharfbuzz-subset.so.0": "libharfbuzz-subset0",
}
# Program that the tests run → Debian's package.
TEST_PROGRAMS = {
    "chromium": "chromium", "pdftotext": "poppler-utils", "qpdf": "qpdf", "certutil": "libnss3-tools",
}  # fmt: skip

# Descriptors of the lock that child processes hold on to; Windows cannot hand them on.
_held: list[int] = []

Installer = Callable[[Path, Path], None]
Maker = Callable[[Path], None]


class CannotStart(Exception):
    """Something that only a person can put right; the message is a sentence for them."""


def say(line: str) -> None:
    """Tell what is going on. On standard error, so that a command's own output stays clean."""
    print(line, file=sys.stderr, flush=True)


def start(base: str, argv: list[str]) -> int:
    """Set up what is missing, step into the environment, and run the command; returns its exit code."""
    folder = Path(base)
    command = argv[1] if len(argv) > 1 else ""
    try:
        if not _stands_elsewhere():
            venv = folder / ".venv"
            made = make_ready(venv, folder / "requirements.txt")
            if made or command in ("demo", "serve", "test"):
                install_system_packages(missing_packages(for_tests=command == "test"))
            if Path(sys.prefix).resolve() != venv.resolve():
                return _step_into(venv)
    except CannotStart as problem:
        say(str(problem))
        return 1
    except KeyboardInterrupt:
        say("\nStopped while setting up. The next start begins again.")
        return 130
    return _run_tests(folder, argv[2:]) if command == "test" else _run(folder, command, argv)


def _stands_elsewhere() -> bool:
    """Whether somebody else (a container image, a packager) answers for the environment."""
    return os.environ.get("STANDBOOK_NO_VENV", "") not in ("", "0", "false")


# The whole suite on every processor, a file's tests on one: they share what is dear to load.
EVERYTHING = ["-n", "auto", "--dist", "loadfile"]


def _run_tests(folder: Path, arguments: list[str]) -> int:
    import pytest  # there only once the environment stands

    os.chdir(folder)
    return int(pytest.main(arguments or EVERYTHING))


def _run(folder: Path, command: str, argv: list[str]) -> int:
    if command == "demo":
        # Its own folder: an invented shop never lands in somebody's real book.
        os.environ.setdefault("STANDBOOK_DATA", str(folder / "data" / "demo"))
        # An invented shop that nobody would miss is not kept by night.
        os.environ["STANDBOOK_NIGHTLY"] = "off"
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "builds.settings")
    from django.conf import settings  # there only once the environment stands
    from django.core.management import execute_from_command_line

    try:
        folder = settings.DATA_DIR  # the first look at the settings makes the book's folder and its secret
    except OSError as error:
        say(
            f"Standbook cannot keep its book in {error.filename}: {error.strerror}. Name another with STANDBOOK_DATA."
        )
        return 1
    try:
        execute_from_command_line(argv)
    except OSError as error:
        if error.errno not in (errno.EACCES, errno.EPERM, errno.EROFS, errno.ENOSPC):
            raise
        where = error.filename or folder
        say(f"Standbook cannot write {where}: {error.strerror}. Put that right and start again.")
        return 1
    return 0


def python_of(venv: Path) -> Path:
    """The environment's own Python."""
    return venv / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def wanted_stamp(requirements: Path) -> str:
    """What an environment for these requirements and this Python carries: two lines, Python and hash."""
    version = "{}.{}".format(*sys.version_info[:2])
    return f"{sys.platform} {version}\n{hashlib.sha256(requirements.read_bytes()).hexdigest()}\n"


def stamp_of(venv: Path) -> str:
    """The stamp of an environment; empty when there is none, or its Python is gone."""
    try:
        return (venv / STAMP).read_text(encoding="ascii") if python_of(venv).exists() else ""
    except OSError:
        return ""


def make_ready(
    venv: Path, requirements: Path, make: Maker | None = None, install: Installer | None = None
) -> bool:
    """Make the environment, or bring it up to the requirements. Returns whether there was anything to do.

    Two starts at once wait for each other: the second finds the first one's stamp and goes on.
    Raises `CannotStart` with a sentence when it cannot be done.
    """
    wanted = wanted_stamp(requirements)
    if stamp_of(venv) == wanted:
        return False
    try:
        with locked(venv.parent / LOCK, waiting="Another start is setting Standbook up; waiting for it."):
            found = stamp_of(venv)
            if found == wanted:
                return False
            _build(venv, requirements, found, wanted, make or make_venv, install or install_requirements)
    except OSError as error:
        raise CannotStart(
            f"Standbook cannot set itself up in {venv.parent}: {error.strerror or error}. It keeps its "
            "environment there, so put this folder where you may write and 1 GB is free, and start again."
        ) from None
    return True


def _build(venv: Path, requirements: Path, found: str, wanted: str, make: Maker, install: Installer) -> None:
    same_python = found.split("\n")[0] == wanted.split("\n")[0]
    # From here on, until the new stamp, an interruption leaves an environment that is made anew.
    (venv / STAMP).unlink(missing_ok=True)
    if same_python:
        say("requirements.txt has changed: bringing .venv up to it.")
    else:
        say("Setting up Standbook's own environment in .venv; the first time takes about a minute.")
        if venv.is_symlink():
            venv.unlink()
        elif venv.exists():
            shutil.rmtree(venv)
        make(venv)
    install(venv, requirements)
    unfinished = venv / (STAMP + ".new")
    unfinished.write_text(wanted, encoding="ascii")
    unfinished.replace(venv / STAMP)


def make_venv(venv: Path) -> None:
    """Make an environment with pip, getting Debian's package for that first when it is missing."""
    if not all(importlib.util.find_spec(name) for name in ("venv", "ensurepip")):
        install_system_packages(["python3-venv"])
    command = [sys.executable, "-I", "-m", "venv", str(venv)]
    # What it says is kept back until it is known that it failed: after Ctrl-C it is a page of nothing useful.
    made = subprocess.run(command, stdin=subprocess.DEVNULL, capture_output=True, text=True, pass_fds=_held)
    if made.returncode:
        say(made.stdout + made.stderr)
        raise CannotStart(
            "Python could not make .venv; what it says stands above. Put that right and start again."
        )


def install_requirements(venv: Path, requirements: Path) -> None:
    """Install what requirements.txt names, from pip's cache where it has it."""
    say("Installing what requirements.txt names.")
    pip = [
        str(python_of(venv)),
        "-m",
        "pip",
        "--disable-pip-version-check",
        "--no-input",
        "--quiet",
        "install",
    ]
    # As root, pip warns about system packages: this environment is Standbook's own.
    environment = {**os.environ, "PIP_ROOT_USER_ACTION": "ignore", "PIP_REQUIRE_VIRTUALENV": "0"}
    command = [*pip, "-r", str(requirements)]
    # pip warns by the page about indexes that it passes over; that is worth reading only when it failed.
    log = venv / PIP_LOG
    with log.open("wb") as kept:
        code = subprocess.run(
            command, stdin=subprocess.DEVNULL, stdout=kept, stderr=kept, env=environment, pass_fds=_held
        ).returncode
    if code:
        say(log.read_text(encoding="utf-8", errors="replace").rstrip())
        raise CannotStart(
            "pip could not install everything; what it says stands above. The first start needs the network; "
            "when it is there, start again."
        )


def missing_packages(*, for_tests: bool = False) -> list[str]:
    """Debian's names of what the system lacks."""
    lacking = [package for library, package in TEXT_LIBRARIES.items() if not _can_load(library)]
    if for_tests:
        lacking += [package for program, package in TEST_PROGRAMS.items() if shutil.which(program) is None]
    return lacking


def _can_load(library: str) -> bool:
    # Elsewhere than on Linux the files go by other names; there WeasyPrint itself says what it lacks.
    if not sys.platform.startswith("linux"):
        return True
    try:
        ctypes.CDLL(library)
    except OSError:
        return False
    return True


def install_system_packages(packages: list[str]) -> None:
    """Install Debian packages when this is root on Debian; otherwise say the one line that does."""
    if not packages:
        return
    names = " ".join(packages)
    line = f"sudo apt-get install -y {names}"
    if shutil.which("apt-get") is None:
        raise CannotStart(
            f"Standbook needs these from your system, by Debian's names: {names}. Install them, start again."
        )
    if os.name != "posix" or os.geteuid() != 0:
        raise CannotStart(
            f"Standbook needs this from your system. Type it once, then start again:\n\n    {line}\n"
        )
    say(f"Installing from Debian: {names}.")
    environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    apt = ["apt-get", "-qq", "-o", "DPkg::Lock::Timeout=300"]
    install = [*apt, "install", "-y", "--no-install-recommends", *packages]
    for step in ([*apt, "update"], install):
        done = subprocess.run(step, stdin=subprocess.DEVNULL, stdout=sys.stderr, env=environment)
        # A list that could not be refreshed may still be good enough; a package that did not install is not.
        if done.returncode and step is install:
            raise CannotStart(f"apt-get could not install them; what it says stands above. By hand: {line}")
    # The library search looks things up once; what has just been installed counts from here on.
    importlib.invalidate_caches()


@contextlib.contextmanager
def locked(path: Path, waiting: str = "") -> Iterator[None]:
    """Hold a lock that ends with this process and its children, however they end.

    The children count because a killed start leaves its pip running: the next one waits for that, rather than
    make an environment under its hands.
    """
    with open(path, "a+b") as handle:
        if not _try_lock(handle.fileno()):
            if waiting:
                say(waiting)
            _wait_for_lock(handle.fileno())
        if os.name == "posix":
            _held.append(handle.fileno())
        try:
            yield
        finally:
            _held.clear()


@contextlib.contextmanager
def locked_if_free(path: Path) -> Iterator[bool]:
    """Hold the same kind of lock where nobody has it; tells whether it is held, and never waits."""
    with open(path, "a+b") as handle:
        yield _try_lock(handle.fileno())


if sys.platform == "win32":
    import msvcrt
    import time

    def _try_lock(descriptor: int) -> bool:
        os.lseek(descriptor, 0, os.SEEK_SET)
        try:
            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

    def _wait_for_lock(descriptor: int) -> None:
        while not _try_lock(descriptor):
            time.sleep(0.2)

else:
    import fcntl

    def _try_lock(descriptor: int) -> bool:
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True

    def _wait_for_lock(descriptor: int) -> None:
        fcntl.flock(descriptor, fcntl.LOCK_EX)


def _step_into(venv: Path) -> int:
    """Run the same command line with the environment's Python: in this process's place where that works."""
    command = [str(python_of(venv)), *sys.orig_argv[1:]]
    if os.name == "nt":
        # There, replacing the process hands the terminal back before the command has ended.
        return subprocess.run(command).returncode
    sys.stdout.flush()
    sys.stderr.flush()
    os.execv(command[0], command)
