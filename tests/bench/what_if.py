"""What a typed change is answered with, through HTTP, against two bare views and one recomputation of the engine.

Run: python -m tests.bench.what_if [how many]

A V8 with every height read, on one server, on a fresh book on this disk, by turns: the screen's answer to another
change each time; a bare view that commits one row; and the whole engine recomputed from its records in this process,
today and with the change. The goal is a ratio of 1 or less.
"""

import http.client
import statistics
import sys
import tempfile
import threading
import time

from tests.bench.saving import _log_in, _post, _prepare

WARM_UP = 10


def _get(connection: http.client.HTTPConnection, url: str, headers: dict[str, str]) -> float:
    started = time.perf_counter()
    connection.request("GET", url, headers=headers)
    answer = connection.getresponse()
    body = answer.read()
    took = time.perf_counter() - started
    if answer.status != 200 or b"Worked out for" not in body:
        raise SystemExit(f"{url} answered {answer.status}: {body[:400]!r}")
    return took


def main(count: int) -> None:
    """Measure and print the medians and their ratios."""
    with tempfile.TemporaryDirectory() as folder:
        _prepare(folder)
        from django.core.wsgi import get_wsgi_application
        from waitress.server import create_server

        from builds.models import Build, Person
        from tests.scenes import make_scene
        from valvetrain.what_if_records import read_today, try_out
        from valvetrain.what_if_setup import Changes

        person = Person.objects.create_user("nora", name="Nora Vesterlund", password="nine loose lifters")
        scene = make_scene(person)
        for turn, address in enumerate(f"{cylinder}{kind}" for cylinder in range(1, 9) for kind in "IE"):
            scene.read_gap(address, f"0.0{20 + turn % 7}")

        def recompute(cap: float) -> float:
            started = time.perf_counter()
            try_out(
                read_today(Build.objects.select_related("engine__customer").get()), "", Changes(lash_cap=cap)
            )
            return time.perf_counter() - started

        server = create_server(get_wsgi_application(), listen="127.0.0.1:0", threads=4)
        threading.Thread(target=server.run, daemon=True).start()
        headers = _log_in(person)
        connection = http.client.HTTPConnection("127.0.0.1", server.effective_port)
        answers, bare, whole = [], [], []
        for turn in range(count + WARM_UP):
            cap = 0.010 + turn / 10_000
            took = (
                _get(connection, f"/jobs/{scene.build.pk}/what-if/?lash_cap={cap:.4f}", headers),
                _post(connection, "/bare/", headers, {"value": "0.024"}),
                recompute(cap),
            )
            if turn >= WARM_UP:
                for kept, seconds in zip((answers, bare, whole), took, strict=True):
                    kept.append(seconds)
        server.task_dispatcher.shutdown()
        server.close()
    answer, view, work = (statistics.median(each) * 1e3 for each in (answers, bare, whole))
    print(f"what-if answer:                          median {answer:.2f} ms over {count}")
    print(f"bare view that commits one row:          median {view:.2f} ms")
    print(f"the engine recomputed, today and trial:  median {work:.2f} ms")
    print(f"ratio to two bare views and that: {answer / (2 * view + work):.2f} (goal: 1 or less)")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 60)
