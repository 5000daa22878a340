"""Pictures and lines for tests of the photo log. All of it is invented."""

import hashlib
from io import BytesIO

import numpy as np
from PIL import Image
from pypdf import PdfReader

from valvetrain.sheets.photo_lines import FigureLine, MarkLine, PhotoLog, PictureLine
from valvetrain.sheets.snapshot import Fact, LimitLine
from valvetrain.sheets.words import CAUTIONS

# A mark as its readings keep it: tip .400 across, 800 px, square to the camera, shaft to the left, front up.
MEASURED = {
    "rim": {"centre": [800.0, 600.0], "semi_major": 400.0, "semi_minor": 400.0, "turned": 0.0},
    "frame": {
        "origin": [800.0, 600.0], "x": [2000.0, 0.0], "y": [0.0, -2000.0], "radius": 0.2,
        "edges": {"inner": [[-0.036, -0.1967], [-0.036, 0.1967]], "outer": [[0.031, -0.1976], [0.031, 0.1976]]},
    },
    "results": {"inner": -0.036, "outer": 0.031, "width": 0.067},
}  # fmt: skip


def noisy(width: int, height: int, seed: int = 1) -> Image.Image:
    """A picture with as much in it as a photograph has: coarse and fine patches of every brightness."""
    rng = np.random.default_rng(seed)
    coarse = Image.fromarray(rng.integers(0, 255, (height // 40 + 1, width // 40 + 1, 3), dtype=np.uint8))
    fine = Image.fromarray(rng.integers(0, 60, (height // 4 + 1, width // 4 + 1, 3), dtype=np.uint8))
    size = (width, height)
    return Image.blend(coarse.resize(size), fine.resize(size, Image.Resampling.NEAREST), 0.3)


def as_jpeg(picture: Image.Image, quality: int = 84) -> bytes:
    """A picture as a camera sends it."""
    file = BytesIO()
    picture.save(file, "JPEG", quality=quality)
    return file.getvalue()


def picture_line(
    key: str, *, size: tuple[int, int] = (1600, 1200), of_mark: bool = False, **more: object
) -> PictureLine:
    """A photo as the log says it."""
    told = {
        "photo": "x", "sha256": hashlib.sha256(key.encode()).hexdigest(), "name": f"IMG_{key}.jpg", "kind": "part",
        "where": "L.stand1", "note": "", "by": "Nora Vesterlund", "at": "02 Mar 2026 14:05",
    }  # fmt: skip
    return PictureLine(key, width=size[0], height=size[1], of_mark=of_mark, **{**told, **more})  # type: ignore[arg-type]


def mark_line(address: str, picture: PictureLine | None, **more: object) -> MarkLine:
    """A valve whose mark is read."""
    figures = [
        FigureLine("inner edge", -0.036, 0.0021, "−0.0360", "± 0.0021", "", ""),
        FigureLine("outer edge", 0.031, 0.0021, "+0.0310", "± 0.0021", "", ""),
        FigureLine("width", 0.067, 0.0031, "0.0670", "± 0.0031", "at most 0.0800 in", "in"),
        FigureLine("centre", -0.0025, 0.0014, "−0.0025", "± 0.0014", "±0.0300 in", "out"),
    ]
    told = {
        "kind": "exhaust", "head": "Left head", "inner": -0.036, "outer": 0.031, "tip_diameter": 0.4,
        "expected": 0.0375, "taper": None, "closed": None, "open": None,
        "figures": figures, "readers": ["on its photo by Nora Vesterlund, 02 Mar 2026 14:10"], "sentences": [],
    }  # fmt: skip
    return MarkLine(address=address, picture=picture, **{**told, **more})  # type: ignore[arg-type]


def a_log(**more: object) -> PhotoLog:
    """A log with nothing in it yet."""
    told = {
        "shop": ["Fjord Engine Shop", "1 Quay Lane"], "job": "26-014", "title": [Fact("engine", "V8 puller")],
        "marks": [], "unpictured": [], "bare": [], "others": [], "not_shown": 0, "set_aside": 0,
        "limits": [LimitLine("width of the mark", "at most 0.0800 in", "shop setting")], "rule": "In is inside.",
        "cautions": CAUTIONS, "unit": "in", "printed": "05 Mar 2026 10:00", "printed_by": "Nora Vesterlund",
        "time_zone": "UTC", "geometry_version": "1",
    }  # fmt: skip
    return PhotoLog(**{**told, **more})  # type: ignore[arg-type]


def text_of(pdf: bytes) -> str:
    """All the words of a PDF."""
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(pdf)).pages)


def images_of(pdf: bytes) -> list[tuple[bytes, dict[str, object]]]:
    """Every picture of a PDF once: its bytes, and what is said of it."""
    found = {}
    for page in PdfReader(BytesIO(pdf)).pages:
        for reference in page["/Resources"].get("/XObject", {}).values():  # type: ignore[union-attr]
            image = reference.get_object()
            if image["/Subtype"] == "/Image":
                found[image.indirect_reference.idnum] = (image._data, dict(image))
    return list(found.values())
