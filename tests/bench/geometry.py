"""What the checks and the sentences cost: one million valves through the public functions.

    python -m tests.bench.geometry

The same formulas are run as bare numpy in the same process, turn and turn about, and the ratio of the
medians is printed. The goal is 3 or less. Times the choice of packs for one engine as well.
"""

import statistics
import sys
import time
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from valvetrain.geometry.arm import RockerArm
from valvetrain.geometry.height import height_from_gauge, pack_for_rise, rise_needed, target_height
from valvetrain.geometry.packs import Piece, StandNeed, choose_packs
from valvetrain.geometry.travel import sweep

VALVES = 1_000_000
ROUNDS = 15
GOAL = 3.0
STEP = 0.212
ARM = RockerArm(length=1.5, tip_radius=0.237, shaft_radius=0.35)

Array = NDArray[np.float64]


def through_the_service(lift: Array, gap: Array, tilt: Array) -> tuple[Array, ...]:
    target = target_height(ARM, lift)
    now = height_from_gauge(ARM, step=STEP, gap=gap)
    rise = rise_needed(ARM, lift, now)
    return target, rise, pack_for_rise(rise, tilt), sweep(ARM, lift, -rise)


def bare(lift: Array, gap: Array, tilt: Array) -> tuple[Array, ...]:
    """The same formulas for the same answers, with nothing checked."""
    length, square_at = ARM.length, 0.5
    target = ARM.tip_radius - square_at * lift
    now = STEP - gap - ARM.shaft_radius
    rise = target - now
    pack = rise / np.cos(np.radians(tilt))
    middle = np.abs((0.5 - square_at) * lift - rise)
    far = middle + 0.5 * lift
    near = np.maximum(middle - 0.5 * lift, 0.0)
    across_near = np.sqrt((length - near) * (length + near))
    across_far = np.sqrt((length - far) * (length + far))
    return target, rise, pack, np.minimum(far, lift) * (far + near) / (across_near + across_far)


def timed(run: Callable[[], object]) -> float:
    start = time.perf_counter()
    run()
    return time.perf_counter() - start


def main() -> int:
    random = np.random.default_rng(1)
    valves = (
        random.uniform(0.3, 1.0, VALVES),
        random.uniform(0.0, 0.05, VALVES),
        random.uniform(-15.0, 15.0, VALVES),
    )
    for ours, theirs in zip(through_the_service(*valves), bare(*valves), strict=True):
        np.testing.assert_allclose(ours, theirs, rtol=1e-12, atol=1e-15)
    service, plain = [], []
    for _ in range(ROUNDS):
        service.append(timed(lambda: through_the_service(*valves)))
        plain.append(timed(lambda: bare(*valves)))
    ratio = statistics.median(service) / statistics.median(plain)
    print(f"{VALVES:,} valves: service {statistics.median(service) * 1e3:.1f} ms,", end=" ")
    print(f"bare {statistics.median(plain) * 1e3:.1f} ms, ratio {ratio:.2f} (goal {GOAL:g})")

    drawer = [Piece(mil / 1000) for mil in (1, 2, 3, 5, 8, 10, 15, 20, 25, 30, 45, 60)]
    stands = [StandNeed(f"stand{n}", (0.01 + 0.011 * n, 0.012 + 0.011 * n)) for n in range(8)]
    packs = [timed(lambda: choose_packs(stands, drawer, tolerance=0.005)) for _ in range(ROUNDS)]
    print(f"packs for {len(stands)} stands from {len(drawer)} thicknesses:", end=" ")
    print(f"{statistics.median(packs) * 1e3:.1f} ms")
    return 0 if ratio <= GOAL else 1


if __name__ == "__main__":
    sys.exit(main())
