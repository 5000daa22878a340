"""How a book is set: strict by default, and without a warning when it is served over HTTPS."""

import json
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver

from builds.rights import Right, url_rules

BASE = Path(__file__).resolve().parent.parent.parent
OPEN_TO_ALL = {"login", "first-owner"}
# A link that is none, and a tablet that is none: neither asks a stranger for a log-in, and neither opens anything.
REFUSED_AT_ONCE = {"guest-enter", "tablet-who"}


def run_in_a_book(folder: Path, *arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run a command as a shop would, outside the tests' own settings."""
    return subprocess.run(
        [sys.executable, *arguments],
        cwd=BASE,
        capture_output=True,
        text=True,
        env={
            **{
                name: value
                for name, value in os.environ.items()
                if not name.startswith(("STANDBOOK", "PYTEST", "DJANGO"))
            },
            "STANDBOOK_NO_VENV": "1",
            "STANDBOOK_DATA": str(folder),
            "DJANGO_SETTINGS_MODULE": "builds.settings",
            **environment,
        },
    )


def settings_in_a_book(folder: Path, expression: str, **environment: str) -> object:
    """The value of an expression over the settings outside the tests."""
    script = f"import json; from django.conf import settings; print(json.dumps({expression}, default=str))"
    ran = run_in_a_book(folder, "-c", script, **environment)
    assert ran.returncode == 0, ran.stderr
    return json.loads(ran.stdout)


def test_deployment_over_https_has_no_warning(tmp_path: Path) -> None:
    ran = run_in_a_book(
        tmp_path, "manage.py", "check", "--deploy", "--fail-level", "WARNING", STANDBOOK_HTTPS="true"
    )
    assert ran.returncode == 0, ran.stderr


def test_passwords_are_kept_by_argon2(tmp_path: Path) -> None:
    script = (
        "import django; django.setup()\n"
        "from django.contrib.auth.hashers import make_password; print(make_password('nine loose lifters'))"
    )
    assert run_in_a_book(tmp_path, "-c", script).stdout.startswith("argon2$argon2id$")


def test_the_secret_is_made_once_and_readable_by_its_owner_alone(tmp_path: Path) -> None:
    first = settings_in_a_book(tmp_path, "settings.SECRET_KEY")
    assert settings_in_a_book(tmp_path, "settings.SECRET_KEY") == first
    assert len(str(first)) >= 64
    assert (tmp_path / "secret-key").stat().st_mode & 0o077 == 0


def test_two_books_have_two_secrets(tmp_path: Path) -> None:
    secrets = {settings_in_a_book(tmp_path / name, "settings.SECRET_KEY") for name in ("one", "two")}
    assert len(secrets) == 2


def test_only_this_machine_is_answered_unless_named(tmp_path: Path) -> None:
    assert settings_in_a_book(tmp_path, "settings.ALLOWED_HOSTS") == ["localhost", "127.0.0.1", "[::1]"]
    named = settings_in_a_book(tmp_path, "settings.ALLOWED_HOSTS", STANDBOOK_HOSTS="shop-pc,192.0.2.7")
    assert named == ["localhost", "127.0.0.1", "[::1]", "shop-pc", "192.0.2.7"]


def test_debug_is_off_and_cookies_are_secure_over_https(tmp_path: Path) -> None:
    names = ["DEBUG", "SESSION_COOKIE_SECURE", "CSRF_COOKIE_SECURE", "SECURE_SSL_REDIRECT"]
    expression = f"[getattr(settings, name) for name in {names}]"
    assert settings_in_a_book(tmp_path, expression) == [False, False, False, False]
    assert settings_in_a_book(tmp_path, expression, STANDBOOK_HTTPS="true") == [False, True, True, True]


@pytest.mark.django_db
def test_an_unknown_host_is_refused(stranger: Client) -> None:
    assert stranger.get("/login/", headers={"host": "elsewhere.example"}).status_code == 400


def addresses(patterns: list[URLPattern | URLResolver], prefix: str = "") -> Iterator[tuple[str, str]]:
    """Every address of the book, with its name, its parameters filled in with 1."""
    for pattern in patterns:
        route = prefix + str(pattern.pattern)
        if isinstance(pattern, URLResolver):
            yield from addresses(pattern.url_patterns, route)
        else:
            whole = re.sub(r"<uuid:\w+>", "00000000-0000-4000-8000-000000000001", route)
            yield str(pattern.name), "/" + re.sub(r"<[^>]+>", "1", whole)


@pytest.mark.django_db
def test_every_other_page_asks_for_a_log_in(stranger: Client, builder: object) -> None:
    closed = [
        (name, path) for name, path in addresses(get_resolver().url_patterns) if name not in OPEN_TO_ALL
    ]
    assert closed
    for name, path in closed:
        for answer in (stranger.get(path), stranger.post(path)):
            if name in REFUSED_AT_ONCE or url_rules[name].read is Right.GUEST:
                assert answer.status_code in (403, 404, 405), (name, path)
                continue
            led_to_log_in = answer.status_code == 302 and answer.headers["Location"].startswith("/login/")
            assert led_to_log_in or (name == "logout" and answer.status_code in (302, 405)), (name, path)


@pytest.mark.django_db
def test_no_page_runs_a_script_from_elsewhere(stranger: Client, builder: object) -> None:
    policy = stranger.get("/login/").headers["Content-Security-Policy"]
    assert "default-src 'self'" in policy
    assert "unsafe-inline" not in policy
    assert "frame-ancestors 'none'" in policy
