"""Where a book is served, what is looked at first, and that many can write in it at once."""

import os
import signal
import socket
import sqlite3
import subprocess
import sys
import threading
import time
import urllib.request
from pathlib import Path

import pytest
from django.conf import settings
from django.db import connection

from builds import health, serving
from builds.models import Build, Customer, Engine, Person, Reading
from builds.serving import Address
from builds.setting_up import CannotStart

BASE = Path(__file__).resolve().parent.parent.parent


@pytest.mark.parametrize(
    ("text", "host", "port"),
    [
        ("8000", "127.0.0.1", 8000),
        ("0.0.0.0:8000", "0.0.0.0", 8000),
        ("shop-pc:81", "shop-pc", 81),
        ("[::1]:8000", "::1", 8000),
    ],
)
def test_an_address_is_read(text: str, host: str, port: int) -> None:
    assert Address.parse(text) == Address(host, port)


@pytest.mark.parametrize(
    "text", ["", "shop-pc", ":8000", "127.0.0.1:", "127.0.0.1:http", "127.0.0.1:70000", "1:-1"]
)
def test_what_is_no_address_is_said_in_a_sentence(text: str) -> None:
    with pytest.raises(CannotStart, match=r"is no address to listen on\. Write HOST:PORT"):
        Address.parse(text)


def test_a_loopback_address_names_this_machine_alone() -> None:
    assert Address("127.0.0.1", 8000).names() == ["127.0.0.1"]
    assert Address("::1", 8000).url() == "http://[::1]:8000/"


def test_an_open_address_names_the_machine_on_its_network(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(serving, "machine_addresses", lambda: ["192.0.2.7", "shop-pc", "shop-pc.local"])
    assert Address("0.0.0.0", 8000).names() == ["192.0.2.7", "shop-pc", "shop-pc.local"]
    monkeypatch.setattr(settings, "ALLOWED_HOSTS", ["localhost"])
    serving.allow_hosts(["192.0.2.7", "localhost"])
    assert settings.ALLOWED_HOSTS == ["localhost", "192.0.2.7"]


def test_a_taken_port_is_said_with_what_to_try() -> None:
    with socket.create_server(("127.0.0.1", 0)) as holder:
        port = holder.getsockname()[1]
        with pytest.raises(CannotStart, match=f"Port {port} is taken: is Standbook running already"):
            serving.take(Address("127.0.0.1", port))


def test_an_address_of_another_machine_is_said() -> None:
    with pytest.raises(CannotStart, match=r"no address “192\.0\.2\.1”"):
        serving.take(Address("192.0.2.1", 8000))


@pytest.mark.django_db
def test_a_book_is_not_served_without_its_guards() -> None:
    with connection.cursor() as cursor:
        cursor.execute('DROP TRIGGER "builds_reading_no_update"')
    assert [finding.what for finding in health.unwell(health.look(thorough=False))] == ["append-only"]


@pytest.mark.django_db(transaction=True)
def test_a_start_puts_lost_guards_back() -> None:
    with connection.cursor() as cursor:
        cursor.execute('DROP TRIGGER "builds_reading_no_update"')
    serving.prepare()
    assert health.unwell(health.look()) == []


@pytest.mark.django_db(transaction=True)
def test_a_book_is_copied_before_its_tables_change(builder: Person) -> None:
    target = serving.copy_before_change()
    assert target is not None
    copy = sqlite3.connect(target)
    try:
        assert copy.execute("SELECT name FROM builds_person").fetchall() == [("Nora Vesterlund",)]
    finally:
        copy.close()


class StandbookProcess:
    """A real server on a free port, in a data folder of its own."""

    def __init__(self, folder: Path) -> None:
        environment = {
            k: v for k, v in os.environ.items() if not k.startswith(("STANDBOOK", "PYTEST", "DJANGO"))
        }
        self.process = subprocess.Popen(
            [sys.executable, "manage.py", "serve", "--listen", "127.0.0.1:0"],
            cwd=BASE,
            env={
                **environment,
                "STANDBOOK_NO_VENV": "1",
                "STANDBOOK_DATA": str(folder),
                "PYTHONUNBUFFERED": "1",
            },
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        assert self.process.stdout is not None
        self.said = ""
        for line in self.process.stdout:
            self.said += line
            if "The code for" in line:
                break

    @property
    def url(self) -> str:
        """Where it says that it is."""
        return self.said.split("Standbook is at", 1)[1].split()[0]

    def stop(self, number: signal.Signals) -> tuple[int, str]:
        """Ask it to stop; its exit code and last words."""
        self.process.send_signal(number)
        words, _ = self.process.communicate(timeout=60)
        return self.process.returncode, words


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_new_book_is_served_and_stops_when_asked(tmp_path: Path, number: signal.Signals) -> None:
    server = StandbookProcess(tmp_path / "book")
    try:
        assert "The code for the owner's account:" in server.said
        with urllib.request.urlopen(server.url, timeout=60) as answer:
            page = answer.read().decode()
        assert answer.url.endswith("/first-owner/")
        assert "Make the owner’s" in page
        style = page.split('rel="stylesheet" href="')[1].split('"')[0]
        with urllib.request.urlopen(server.url.rstrip("/") + style, timeout=60) as answer:
            assert answer.status == 200
            assert "immutable" in answer.headers["Cache-Control"]
    finally:
        code, words = server.stop(number)
    assert code == 0
    assert words.strip() == "Standbook has stopped."


@pytest.mark.django_db(transaction=True)
def test_many_write_at_once_and_nobody_is_turned_away(builder: Person) -> None:
    engine = Engine.objects.create(customer=Customer.objects.create(name="Ketil Brandvold"), name="V8")
    build = Build.objects.create(job_number="26-014", engine=engine)
    writers, each = 8, 40
    failures: list[str] = []

    def write(number: int) -> None:
        try:
            for turn in range(each):
                Reading.objects.create(
                    build=build, position=f"{number}E", characteristic="gap", text=f"0.0{turn:02}", unit="in",
                    value="0.024", taken_by=builder,
                )  # fmt: skip
        except Exception as error:
            failures.append(str(error))
        finally:
            connection.close()

    started = time.monotonic()
    threads = [threading.Thread(target=write, args=[number]) for number in range(writers)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert failures == []
    assert Reading.objects.count() == writers * each
    assert time.monotonic() - started < 20
