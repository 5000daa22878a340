"""Samples of sealed sheets, one for each schema that was ever printed, with the text of their pages.

    .venv/bin/python -m tests.valvetrain.samples 2026-031 setup     # from a book, its first head: for a new schema alone

A sample is never made anew: what was signed must come out the same. It holds the snapshot as it was signed, the paper,
the files of its pictures, and the words of each page.
"""

import base64
import hashlib
import io
import json
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from PIL import Image

FOLDER = Path(__file__).parent / "sealed_samples"


def text_of(pdf: bytes) -> list[str]:
    """The words of each page as poppler reads them, in the order in which they were printed."""
    done = subprocess.run(["pdftotext", "-raw", "-", "-"], input=pdf, capture_output=True, check=True)
    return [" ".join(page.split()) for page in done.stdout.decode().split("\f")[:-1]]


def printed(plain: dict[str, Any], paper: str) -> bytes:
    """A sample's snapshot as it would be sealed today."""
    from builds.printing.paper import PAPERS
    from builds.printing.press import to_pdf
    from builds.sealing.kinds import kind_of
    from tests.valvetrain.seals import a_seal

    page = kind_of(plain["sheet"]).render(plain, a_seal(revises=7), PAPERS[paper])
    return to_pdf(
        page.html, drawings=page.drawings, pictures=page.pictures, stylesheets=page.stylesheets, seconds=120.0
    )


def grey(width: int, height: int) -> bytes:
    """A picture file of a size, with nothing on it."""
    told = io.BytesIO()
    Image.new("RGB", (width, height), "#9a9a9a").save(told, "JPEG", quality=60)
    return told.getvalue()


def pictures_in(plain: Any) -> Iterator[dict[str, Any]]:
    """Every picture that a snapshot names, wherever it stands."""
    if isinstance(plain, dict) and {"sha256", "file", "width", "height"} <= set(plain):
        yield plain
    elif isinstance(plain, (dict, list)):
        for each in plain.values() if isinstance(plain, dict) else plain:
            yield from pictures_in(each)


def without_pictures(plain: dict[str, Any]) -> dict[str, bytes]:
    """Put grey pictures in the place of those that a snapshot names; their files by name."""
    files: dict[str, bytes] = {}
    for line in pictures_in(plain):
        data = grey(line["width"], line["height"])
        line["sha256"] = hashlib.sha256(data).hexdigest()
        line["file"] = f"sample/{line['width']}-{line['height']}.jpg"
        files[line["file"]] = data
    return files


def main(job: str, kind: str) -> None:
    """Write a sample from a book."""
    import django

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "builds.settings")
    django.setup()
    from builds.models import Build
    from builds.photos.storage import photo_files, put
    from builds.sealing.canonical import canonical
    from builds.sealing.kinds import kind_of

    build = Build.objects.select_related("engine__customer").get(job_number=job)
    sheet = kind_of(kind)
    plain = json.loads(canonical(sheet.taken(build, sheet.subjects(build)[0][0], "in")))
    files = without_pictures(plain)
    for name, data in files.items():
        if not photo_files().exists(name):
            put(name, data)
    path = FOLDER / f"{kind}-{sheet.schema}.json"
    if path.exists():
        raise SystemExit(f"{path} is there already. A sample is never made anew.")
    sample = {
        "plain": plain,
        "paper": "Letter",
        "pictures": {name: base64.b64encode(data).decode() for name, data in files.items()},
        "pages": text_of(printed(plain, "Letter")),
    }
    path.write_text(json.dumps(sample, ensure_ascii=False, indent=0) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(*sys.argv[1:])
