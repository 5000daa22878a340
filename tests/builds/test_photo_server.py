"""A file that is far too large, sent to the server that a shop runs: a sentence comes back, not a broken line."""

import http.client
import json
import threading
from collections.abc import Iterator
from pathlib import Path
from uuid import uuid4

import pytest
from django.conf import settings
from django.core.wsgi import get_wsgi_application
from django.db import connections
from django.test import Client
from waitress import wasyncore
from waitress.server import create_server

from builds.models import Build, Person, Photo

pytestmark = pytest.mark.django_db(transaction=True)
TOKEN = "a" * 32
FRAME = "0123456789frame"


@pytest.fixture
def port() -> Iterator[int]:
    """The production server, on a port of its own, over the tests' database."""
    server = create_server(_closing(get_wsgi_application()), listen="127.0.0.1:0", threads=1)
    done = threading.Event()

    def serve() -> None:
        while not done.is_set():
            wasyncore.loop(timeout=0.05, map=server._map, count=1)

    thread = threading.Thread(target=serve)
    thread.start()
    yield server.effective_port
    done.set()
    thread.join()
    server.task_dispatcher.shutdown()
    wasyncore.close_all(server._map)


def _closing(application):
    """The application, which gives its connection to the database back after each answer."""

    def answer(environ, start_response):
        try:
            return list(application(environ, start_response))
        finally:
            connections.close_all()

    return answer


@pytest.mark.parametrize("size", [45_000_000, 60_000_000])
def test_a_file_of_sixty_megabytes_is_answered_in_words(
    job: Build, builder: Person, photo_folder: Path, port: int, size: int
):
    client = Client()
    client.force_login(builder)
    cookie = client.cookies[settings.SESSION_COOKIE_NAME]
    fields = "".join(
        f'--{FRAME}\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{value}\r\n'
        for name, value in (("client_id", uuid4()), ("kind", "other"))
    )
    fields += f'--{FRAME}\r\nContent-Disposition: form-data; name="photo"; filename="huge.jpg"\r\n\r\n'
    body = fields.encode() + bytes(size) + f"\r\n--{FRAME}--\r\n".encode()
    line = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    line.request(
        "POST",
        f"/jobs/{job.pk}/photos/new/",
        body,
        {
            "Content-Type": f"multipart/form-data; boundary={FRAME}",
            "Cookie": f"{cookie.key}={cookie.value}; csrftoken={TOKEN}",
            "X-CSRFToken": TOKEN,
        },
    )
    answer = line.getresponse()
    told = json.loads(answer.read())
    line.close()
    assert answer.status == 422
    assert told["sentence"].startswith("huge.jpg is larger than 40 MB")
    assert list(photo_folder.iterdir()) == []
    assert Photo.objects.count() == 0
