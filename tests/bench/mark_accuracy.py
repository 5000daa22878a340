"""How well a mark is read from a picture: drawn pictures whose mark is known, over tilt, size, focus, noise and light.

    python -m tests.bench.mark_accuracy [pictures a row]

Prints the tables of DEVELOPERS.md: errors of width and centre in thousandths of an inch, for taps that scatter by a pixel
and for the first guess, and how often the truth lies within the stated U (k = 2). Then what a guess on a 12 megapixel
picture costs, as a multiple of reading that picture from its JPEG.
"""

import io
import statistics
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.mark import MeasuredMark, measure_mark
from valvetrain.geometry.rim import fit_rim
from valvetrain.mark_guess import Guess, NoGuess, guess_mark
from valvetrain.mark_sight import BROKEN_EDGE, NEAREST_CAMERA, pixel_of
from valvetrain.tip_picture import TipPicture, TipScene, draw_tip

BASE = TipScene(tilt=20, pixels_across=800, blur=1.0, noise=3.0, glare=0.2, gradient=0.3)
TAPS_A_ROW = 400
PICTURES_A_ROW = 24
ROUNDS = 7


@dataclass(frozen=True)
class Row:
    """One line of the table: what is different from the usual picture, and what of it is told to the measurement."""

    words: str
    change: dict[str, float] = field(default_factory=dict)
    told: dict[str, float] = field(default_factory=dict)
    for_taps: bool = True


ROWS = [
    *(Row(f"tilt {tilt}°", {"tilt": tilt}) for tilt in (0, 10, 20, 30, 40)),
    *(Row(f"{pixels} px across", {"pixels_across": pixels}) for pixels in (300, 500, 1200, 1600)),
    *(Row(f"blur {blur} px", {"blur": blur}, for_taps=False) for blur in (2, 4)),
    *(Row(f"noise {noise} of 255", {"noise": noise}, for_taps=False) for noise in (6, 12)),
    Row("light from one side", {"gradient": 0.7}, for_taps=False),
    Row("lamp mirrored in the tip", {"glare": 0.6}, for_taps=False),
    Row("lamp burnt out", {"glare": 1.0}, for_taps=False),
    Row("dye brushed badly", {"uneven": 0.6, "smear": 1.0, "ragged": 0.002}, for_taps=False),
    Row("edge broken by 0.010 in", {"chamfer": 0.010}),
    Row("the same, and told", {"chamfer": 0.010}, {"rim_below": 0.010}),
    Row("camera 5 in away", {"distance": 5.0}),
    Row("camera 2 in away", {"distance": 2.0}),
    Row("the same, and told", {"distance": 2.0}, {"viewing_distance": 2.0 / BASE.rim_diameter}),
]


def scenes(row: Row, count: int) -> Iterator[TipScene]:
    """Scenes of a row, each with its own mark, turn, side of tilt, light, dye and place in the picture."""
    random = np.random.default_rng(20)
    for seed in range(count):
        base = replace(BASE, **row.change)
        middle, width = random.uniform(-0.03, 0.03), random.uniform(0.035, 0.09)
        columns, rows = int(base.pixels_across * 2.0), int(base.pixels_across * 1.5)
        yield replace(
            base,
            inner=float(middle - width / 2),
            outer=float(middle + width / 2),
            taper=float(random.uniform(-0.01, 0.01)),
            colour=("blue", "red")[seed % 2],
            front_clockwise=bool(seed // 2 % 2),
            size=(columns, rows),
            tip_at=(columns * float(random.uniform(0.42, 0.58)), rows * float(random.uniform(0.45, 0.55))),
            tilt_toward=float(random.uniform(0, 360)),
            turn=float(random.uniform(0, 360)),
            light_from=float(random.uniform(0, 360)),
            ground_at=float(random.uniform(0, 180)),
            brushed_at=float(random.uniform(0, 180)),
            seed=seed,
        )


def tapped(picture: TipPicture, random: np.random.Generator) -> Guess:
    """Twelve taps on the rim and three on each edge, a pixel off at random."""

    def off(points: NDArray[np.floating]) -> NDArray[np.floating]:
        return points + random.normal(0, 1, points.shape)

    first = float(random.uniform(0, 30))
    return Guess(
        off(picture.rim_points(12, first=first)), off(picture.inner_points(3)), off(picture.outer_points(3))
    )


def measured(picture: TipPicture, taps: Guess, told: dict[str, float]) -> MeasuredMark:
    return measure_mark(
        taps.rim,
        inner_taps=taps.inner,
        outer_taps=taps.outer,
        rim_diameter=picture.scene.rim_diameter,
        toward_shaft=picture.toward_shaft,
        toward_front=picture.toward_front,
        pixel=pixel_of(fit_rim(taps.rim), 1.0),
        **{"viewing_distance": NEAREST_CAMERA, "rim_below_standard": BROKEN_EDGE} | told,
    )


def errors(picture: TipPicture, mark: MeasuredMark) -> tuple[float, float, bool, bool]:
    """Errors of width and centre, and whether each lies within U."""
    width, centre = abs(mark.width - picture.width), abs(mark.centre - picture.centre)
    return width, centre, width <= 2 * mark.width_standard, centre <= 2 * mark.centre_standard


def line(words: str, found: list[tuple[float, float, bool, bool]], asked: int | None = None) -> str:
    """One line of a table in Markdown."""
    cells = [words]
    if asked is not None:
        cells.append(f"{100 * len(found) / asked:.0f} %")
    for error, within in ((0, 2), (1, 3)):
        values = 1000 * np.array([one[error] for one in found]) if found else np.array([np.nan])
        cells += [f"{np.median(values):.1f}", f"{np.percentile(values, 95):.1f}", f"{values.max():.1f}"]
        cells.append(f"{100 * statistics.mean(one[within] for one in found):.0f} %" if found else "—")
    return "| " + " | ".join(cells) + " |"


def header(first: str) -> str:
    titles = [
        first,
        *(f"{what} {part}" for what in ("width", "centre") for part in ("median", "95 %", "worst", "in U")),
    ]
    if first == "guess":
        titles.insert(1, "guessed")
    return "| " + " | ".join(titles) + " |\n|---" + "|---:" * (len(titles) - 1) + "|"


def of_taps(row: Row) -> str:
    random = np.random.default_rng(3)
    found = []
    for scene in scenes(row, TAPS_A_ROW):
        picture = TipPicture(scene, np.zeros((1, 1, 3), dtype=np.uint8))
        found.append(errors(picture, measured(picture, tapped(picture, random), row.told)))
    return line(row.words, found)


def of_guesses(row: Row, count: int) -> str:
    found = []
    for scene in scenes(row, count):
        picture = draw_tip(scene)
        try:
            guess = guess_mark(picture.pixels, toward_shaft=picture.toward_shaft)
            found.append(errors(picture, measured(picture, guess, row.told)))
        except (NoGuess, GeometryError):
            continue
    return line(row.words, found, count)


def cost() -> float:
    """A guess on a 12 megapixel picture, as a multiple of reading it from its JPEG; medians, turn and turn about."""
    pixels = draw_tip(replace(BASE, size=(4032, 3024), pixels_across=1600)).pixels
    kept = io.BytesIO()
    Image.fromarray(pixels).save(kept, "JPEG", quality=90)

    def timed(run: Callable[[], object]) -> float:
        start = time.perf_counter()
        run()
        return time.perf_counter() - start

    times = [
        (timed(lambda: np.asarray(Image.open(kept).convert("RGB"))), timed(lambda: guess_mark(pixels)))
        for _ in range(ROUNDS)
    ]
    return statistics.median(guess for _, guess in times) / statistics.median(read for read, _ in times)


def main() -> int:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else PICTURES_A_ROW
    print(header("taps"), *(of_taps(row) for row in ROWS if row.for_taps), sep="\n", end="\n\n", flush=True)
    print(header("guess"), flush=True)
    for row in ROWS:
        print(of_guesses(row, count), flush=True)
    print(f"\nA guess on 12 megapixels costs {cost():.1f} times what reading them from a JPEG costs.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
