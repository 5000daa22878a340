"""Saving a reading through HTTP, verdict and drawing included, against a bare view that commits one row.

Run: python -m tests.bench.saving [how many]

Both run in one process, on one server, on a fresh book on this disk, by turns. The goal is a ratio of 2 or less.
"""

import http.client
import os
import statistics
import sys
import tempfile
import threading
import time
from urllib.parse import urlencode
from uuid import uuid4


def _prepare(folder: str) -> None:
    os.environ["STANDBOOK_DATA"] = folder
    os.environ["DJANGO_SETTINGS_MODULE"] = "builds.settings"
    import django
    from django.conf import settings
    from django.core.management import call_command

    django.setup()
    settings.ROOT_URLCONF = "tests.bench.bare"
    call_command("migrate", verbosity=0)
    call_command("collectstatic", verbosity=0, interactive=False)


def _log_in(person: object) -> dict[str, str]:
    from django.test import Client

    client = Client(headers={"host": "127.0.0.1"})
    client.force_login(person)  # type: ignore[arg-type]
    client.get("/login/")
    token = "t" * 32
    return {
        "Cookie": f"sessionid={client.cookies['sessionid'].value}; csrftoken={token}",
        "X-CSRFToken": token,
        "HX-Request": "true",
        "Content-Type": "application/x-www-form-urlencoded",
    }


def _post(
    connection: http.client.HTTPConnection, url: str, headers: dict[str, str], data: dict[str, str]
) -> float:
    started = time.perf_counter()
    connection.request("POST", url, urlencode(data), headers)
    answer = connection.getresponse()
    body = answer.read()
    took = time.perf_counter() - started
    if answer.status != 200:
        raise SystemExit(f"{url} answered {answer.status}: {body[:400]!r}")
    return took


def main(count: int) -> None:
    """Measure and print the medians and their ratio."""
    with tempfile.TemporaryDirectory() as folder:
        _prepare(folder)
        from django.core.wsgi import get_wsgi_application
        from waitress.server import create_server

        from builds.models import Person
        from tests.scenes import make_scene

        person = Person.objects.create_user("nora", name="Nora Vesterlund", password="nine loose lifters")
        valves = [f"{cylinder}{kind}" for cylinder in range(1, 9) for kind in "IE"]
        scenes = [
            make_scene(person, job_number=f"26-{number:03}") for number in range(-(-(count + 20) // 16))
        ]
        for scene in scenes:
            for address in valves:
                scene.read_gap(address, "0.024")
        server = create_server(get_wsgi_application(), listen="127.0.0.1:0", threads=4)
        threading.Thread(target=server.run, daemon=True).start()
        headers = _log_in(person)
        connection = http.client.HTTPConnection("127.0.0.1", server.effective_port)
        urls = [
            (address, f"/bench/{scene.head_of(address).pk}/readings/")
            for scene in scenes
            for address in valves
        ]
        saved, bare = [], []
        for turn in range(count + 20):
            # Each valve of engine after engine is read a second time, as a builder would: not one valve a hundred times.
            address, url = urls[turn]
            reading = {
                "client_id": str(uuid4()), "by": str(person.pk), "position": address, "open": address, "pack": "",
                "characteristic": "stand_gap", "value": "0.024", "unit": "in",
                "instrument": str(scene.gauge.instrument_id),
            }  # fmt: skip
            took = (
                _post(connection, url, headers, reading),
                _post(connection, "/bare/", headers, {"value": "0.024"}),
            )
            if turn >= 20:  # the first few warm both up
                saved.append(took[0])
                bare.append(took[1])
        server.task_dispatcher.shutdown()
        server.close()
    a, b = statistics.median(saved), statistics.median(bare)
    print(f"saving a reading, verdict included: median {a * 1e3:.2f} ms over {count}")
    print(f"bare view that commits one row:     median {b * 1e3:.2f} ms")
    print(f"ratio {a / b:.2f} (goal: 2 or less)")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100)
