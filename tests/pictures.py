"""Makes the pictures of the README anew from the demo shop. Run: python -m tests.pictures"""

import os
import subprocess
import sys
import tempfile
import threading
from pathlib import Path

PICTURES = Path(__file__).resolve().parent.parent / "static" / "pictures"
CHROMIUM = {
    "executable_path": "/usr/bin/chromium",
    "args": ["--no-sandbox", "--disable-gpu", "--disable-background-networking"],
}


def _serve(folder: str) -> object:
    os.environ["STANDBOOK_DATA"] = folder
    os.environ["DJANGO_SETTINGS_MODULE"] = "builds.settings"
    import django
    from django.core.management import call_command
    from django.core.wsgi import get_wsgi_application
    from waitress.server import create_server

    django.setup()
    call_command("migrate", verbosity=0)
    call_command("collectstatic", verbosity=0, interactive=False)
    call_command("load_demo")
    server = create_server(get_wsgi_application(), listen="127.0.0.1:0", threads=4)
    threading.Thread(target=server.run, daemon=True).start()
    return server


def _log_in(page: object, url: str) -> None:
    import json

    people = json.loads(
        (PICTURES.parents[1] / "fixtures" / "demo" / "people.json").read_text(encoding="utf-8")
    )
    page.goto(url + "/login/")  # type: ignore[attr-defined]
    page.fill("[name=username]", people[0]["username"])  # type: ignore[attr-defined]
    page.fill("[name=password]", people[0]["password"])  # type: ignore[attr-defined]
    page.press("[name=password]", "Enter")  # type: ignore[attr-defined]
    page.wait_for_url(url + "/")  # type: ignore[attr-defined]


def _head_and_shim_stand() -> tuple[int, int, str, str]:
    """A head of the demo with a stand to be shimmed: job, head, the stand's address, and one of its valves."""
    from valvetrain.models import Head
    from valvetrain.states import Status
    from valvetrain.targets import states_of

    for wanted in (Status.OUT, Status.SHIM):
        for state in states_of(
            Head.objects.filter(build__went_out_on=None).select_related("build__engine__customer")
        ):
            for stand in state.stands:
                if stand.status == wanted:
                    return state.head.job.pk, state.head.pk, stand.address, stand.valves[0].address
    raise SystemExit("The demo shop has no stand to be shimmed.")


def main() -> None:
    """Serve the demo shop, take the pictures, print the sheet."""
    from playwright.sync_api import sync_playwright

    with tempfile.TemporaryDirectory() as folder:
        server = _serve(folder)
        url = f"http://127.0.0.1:{server.effective_port}"  # type: ignore[attr-defined]
        job, head, stand, valve = _head_and_shim_stand()
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(**CHROMIUM)  # type: ignore[arg-type]
            page = browser.new_context(viewport={"width": 1024, "height": 768}, has_touch=True).new_page()
            _log_in(page, url)
            page.screenshot(path=PICTURES / "jobs.png")
            page.goto(f"{url}/bench/{head}/at/{stand}")
            page.locator("#act").wait_for()
            page.screenshot(path=PICTURES / "bench.png")
            page.get_by_text(f"Drawings of {valve}").click()
            drawings = page.locator(f"[data-drawing-of='{valve}'] .drawings")
            drawings.locator("img").last.scroll_into_view_if_needed()
            page.wait_for_load_state("networkidle")
            drawings.screenshot(path=PICTURES / "drawings.png")
            page.goto(f"{url}/jobs/{job}/log/springs/")
            page.locator("#panel").wait_for()
            page.screenshot(path=PICTURES / "log.png")
            page.goto(f"{url}/jobs/{job}/what-if/?net_lift=.740")
            page.wait_for_load_state("networkidle")
            page.screenshot(path=PICTURES / "what-if.png")
            sheet = Path(folder) / "sheet.pdf"
            sheet.write_bytes(page.context.request.get(f"{url}/heads/{head}/setup-sheet.pdf?paper=A4").body())
            browser.close()
        subprocess.run(
            [
                "pdftoppm",
                "-r",
                "80",
                "-f",
                "1",
                "-l",
                "1",
                "-singlefile",
                "-png",
                sheet,
                PICTURES / "setup-sheet",
            ],
            check=True,
        )
        server.task_dispatcher.shutdown()  # type: ignore[attr-defined]
        server.close()  # type: ignore[attr-defined]


if __name__ == "__main__":
    sys.exit(main())
