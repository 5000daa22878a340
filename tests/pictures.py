"""Makes the pictures of the README anew from the demo shop. Run: python -m tests.pictures"""

import os
import subprocess
import sys
import tempfile
import threading
from pathlib import Path

PICTURES = Path(__file__).resolve().parent.parent / "static" / "pictures"
# Those that show photographs, with more shades than a palette has.
OF_PHOTOS = {"measure-mark", "photo-log"}
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
    from valvetrain.status import Status
    from valvetrain.targets import states_of

    for wanted in (Status.OUT, Status.SHIM):
        for state in states_of(
            Head.objects.filter(build__went_out_on=None).select_related("build__engine__customer")
        ):
            for stand in state.stands:
                if stand.status == wanted:
                    return state.head.job.pk, state.head.pk, stand.address, stand.valves[0].address
    raise SystemExit("The demo shop has no stand to be shimmed.")


def _to_measure() -> str:
    """The page of the demo's photo that waits to be measured."""
    from builds.models import Photo
    from valvetrain.models import Head

    photo = Photo.objects.get(name="IMG_0431.jpg")
    head = Head.objects.get(build=photo.build, code="L")
    return f"/bench/{head.pk}/marks/5I/photos/{photo.client_id}/"


def _measure_mark(page: object, address: str) -> None:
    """Accept the first guess on a photo, and say what lies where in it."""
    page.set_viewport_size({"width": 1024, "height": 940})  # type: ignore[attr-defined]
    page.goto(address)  # type: ignore[attr-defined]
    for key in ("accept", "shaft='left'", "front='down'", "stem='down'"):
        page.locator(f"[data-{key}]").tap()  # type: ignore[attr-defined]
    page.get_by_text("The mark as tapped").wait_for()  # type: ignore[attr-defined]
    page.wait_for_load_state("networkidle")  # type: ignore[attr-defined]
    page.evaluate("scrollTo(0, 0)")  # type: ignore[attr-defined]
    page.screenshot(path=PICTURES / "measure-mark.png")  # type: ignore[attr-defined]


def _came_back() -> dict[str, str]:
    """By picture: the pages of the demo's engine that came back, what moved most and the lash that told of it."""
    from builds.models import Return

    came = Return.objects.select_related("build")[0].build
    return {
        "came-back": f"/jobs/{came.pk}/return/compare/",
        "trend": f"/jobs/{came.follows_id}/trends/",
    }


def _photo_log(job: int) -> bytes:
    """The photo log of a job as PDF."""
    from builds.models import Build, Person
    from builds.printing.paper import PAPERS
    from valvetrain.sheets.photo_log import photo_log
    from valvetrain.sheets.photo_page import photo_pdf
    from valvetrain.sheets.photo_run import develop

    log, photos = photo_log(Build.objects.get(pk=job), Person.objects.order_by("pk")[0])
    return photo_pdf(log, PAPERS["A4"], lambda key, frame: develop(photos, key, frame), lambda *_said: None)


def _sealed_sheet() -> bytes:
    """The newest sealed sheet of the demo."""
    from builds.models import SealedSheet

    return bytes(SealedSheet.objects.order_by("-number")[0].pdf)


def _pages_in(pdf: bytes) -> int:
    """How many pages a PDF has: on the last stand the signatures."""
    import io

    from pypdf import PdfReader

    return len(PdfReader(io.BytesIO(pdf)).pages)


def _page_of(
    pdf: bytes, number: int, name: str, folder: str, dots: int = 80, upper: float | None = None
) -> None:
    """Make a picture of one page of a PDF, so many dots to the inch; of its upper so many inches, where given."""
    file = Path(folder) / f"{name}.pdf"
    file.write_bytes(pdf)
    page = str(number)
    command = [
        "pdftoppm",
        "-r",
        str(dots),
        "-f",
        page,
        "-l",
        page,
        "-singlefile",
        *(["-H", str(round(upper * dots))] if upper else []),
        "-png",
        file,
        PICTURES / name,
    ]
    subprocess.run(command, check=True)


def _squeeze() -> None:
    """Leave each picture as many colours as are told apart in it."""
    from PIL import Image

    for path in sorted(PICTURES.glob("*.png")):
        with Image.open(path) as picture:
            dither = Image.Dither.FLOYDSTEINBERG if path.stem in OF_PHOTOS else Image.Dither.NONE
            plain = picture.convert("RGB")
            few = plain.quantize(256, palette=plain.quantize(256), dither=dither)
        few.save(path, optimize=True)


def main() -> None:
    """Serve the demo shop, take the pictures, print the sheets."""
    from playwright.sync_api import sync_playwright

    with tempfile.TemporaryDirectory() as folder:
        server = _serve(folder)
        url = f"http://127.0.0.1:{server.effective_port}"  # type: ignore[attr-defined]
        job, head, stand, valve = _head_and_shim_stand()
        to_measure, came_back = _to_measure(), _came_back()
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
            for name, address in came_back.items():
                page.goto(url + address)
                page.wait_for_load_state("networkidle")
                page.screenshot(path=PICTURES / f"{name}.png")
            setup = page.context.request.get(f"{url}/heads/{head}/setup-sheet.pdf?paper=A4").body()
            _measure_mark(page, url + to_measure)
            browser.close()
        _page_of(setup, 1, "setup-sheet", folder)
        _page_of(_photo_log(job), 2, "photo-log", folder, dots=100)
        sealed = _sealed_sheet()
        _page_of(sealed, _pages_in(sealed), "sealed-sheet", folder, upper=4)
        _squeeze()
        server.task_dispatcher.shutdown()  # type: ignore[attr-defined]
        server.close()  # type: ignore[attr-defined]


if __name__ == "__main__":
    sys.exit(main())
