"""What a photo log costs: forty photos of 12 megapixels, from their files to the PDF, and the most memory it takes.

    python -m tests.bench.photo_log [how many]

Memory is the most that a process ever held (VmHWM), of the printing child and of this process, which stands for the
server. The goals: under 300 MB each, which the child is also held to by the system, and a PDF under 15 MB.
"""

import os
import sys
import tempfile
import time

if __name__ == "__main__":
    os.environ["STANDBOOK_DATA"] = tempfile.mkdtemp()
    os.environ["DJANGO_SETTINGS_MODULE"] = "builds.settings"
    import django

    django.setup()

from builds.models import MediaType, Photo
from builds.photos.storage import fresh_path, put
from builds.printing.paper import PAPERS
from builds.printing.press import Press
from tests.valvetrain.photo_bench import a_log, as_jpeg, mark_line, noisy, picture_line
from valvetrain.sheets import photo_page
from valvetrain.sheets.framing import Framed
from valvetrain.sheets.photo_lines import PhotoLog
from valvetrain.sheets.photo_run import develop

ACROSS, DOWN = 4000, 3000
MOST_MEMORY, MOST_BYTES = 300.0, 15.0  # MB
# The tip in the middle of the picture, 1800 px across: as a tablet held close sees it.
CLOSE = {
    "rim": {"centre": [2000.0, 1500.0], "semi_major": 900.0, "semi_minor": 840.0, "turned": 20.0},
    "frame": {
        "origin": [2000.0, 1500.0], "x": [4500.0, 0.0], "y": [0.0, -4500.0], "radius": 0.2,
        "edges": {"inner": [[-0.036, -0.1967], [-0.036, 0.1967]], "outer": [[0.031, -0.1976], [0.031, 0.1976]]},
    },
    "results": {"inner": -0.036, "outer": 0.031, "width": 0.067},
}  # fmt: skip


def many_photos(count: int, *, distinct: int = 4) -> tuple[PhotoLog, dict[str, Photo]]:
    """A log of so many photos of 12 megapixels, half of them of marks, and their files in the book's folder."""
    files = [as_jpeg(noisy(ACROSS, DOWN, seed=number)) for number in range(distinct)]
    photos = {}
    for number in range(1, count + 1):
        path = fresh_path(MediaType.JPEG)
        put(path, files[number % distinct])
        photos[f"p{number}"] = Photo(path=path, media_type=MediaType.JPEG, width=ACROSS, height=DOWN)
    lines = [
        picture_line(
            key, size=(ACROSS, DOWN), of_mark=number < count // 2, mark=CLOSE if number < count // 2 else {}
        )
        for number, key in enumerate(photos)
    ]
    marks = [mark_line(f"{number}E", line) for number, line in enumerate(lines[: count // 2], start=1)]
    return a_log(marks=marks, others=lines[count // 2 :]), photos


def print_all(log: PhotoLog, photos: dict[str, Photo]) -> bytes:
    """The log as a print run makes it."""

    def developed(key: str, frame: Framed) -> bytes:
        return develop(photos, key, frame)

    return photo_page.photo_pdf(log, PAPERS["A4"], developed, lambda words, done=0, of=0: None)


def most_memory(pid: int | str = "self") -> float:
    """The most that a process ever held [MB]."""
    with open(f"/proc/{pid}/status", encoding="ascii") as told:
        line = next(line for line in told if line.startswith("VmHWM"))
    return int(line.split()[1]) / 1000


def main() -> int:
    """Print, measure, and say by the exit code whether the goals are met."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 40
    log, photos = many_photos(count)
    # What making the pictures took is not what printing them takes: a new mark for the most from here on.
    with open("/proc/self/clear_refs", "w", encoding="ascii") as clear:
        clear.write("5")
    before = most_memory()
    press = Press(memory=int(MOST_MEMORY * 1e6))
    photo_page.to_pdf = press.to_pdf
    press.warm_up()
    start = time.perf_counter()
    pdf = print_all(log, photos)
    seconds = time.perf_counter() - start
    assert press._child is not None
    server, child, size = most_memory(), most_memory(press._child.pid), len(pdf) / 1e6
    press.close()
    pixels = ACROSS * DOWN / 1e6
    print(
        f"{count} photos of {pixels:.0f} megapixels: {seconds:.1f} s, PDF {size:.2f} MB (goal {MOST_BYTES:g});"
    )
    told = f"server {server:.0f} MB ({before:.0f} before), printing child {child:.0f} MB"
    print(f"most memory: {told} (goal {MOST_MEMORY:g})")
    return 0 if max(server, child) < MOST_MEMORY and size < MOST_BYTES else 1


if __name__ == "__main__":
    sys.exit(main())
