"""What the closed form saves: valve lift through the pushrod's loop at 100,000 lifts of the lifter.

    python -m tests.bench.linkage

A root finder solves the same loop one lift at a time, on a sample, in the same process; its time is scaled
to as many lifts and the ratio of the two is printed. The goal is 200 or more. On the sample both must
agree to a millionth of a millionth of an inch.
"""

import math
import statistics
import sys
import time
from collections.abc import Callable

import numpy as np
from scipy.optimize import brentq

from valvetrain.geometry.arm import RockerArm
from valvetrain.geometry.linkage import PushrodLinkage

LIFTS = 100_000
SAMPLE = 2_000
ROUNDS = 7
GOAL = 200.0
AGREE = 1e-12
LINKAGE = PushrodLinkage(
    RockerArm(length=1.5, tip_radius=0.25, shaft_radius=0.35),
    shaft_height=-0.075,
    shaft_offset=1.48,
    cup_radius=0.95,
    cup_angle=186.0,
    lifter_point=(-2.6, -8.4, 0.25),
    lifter_direction=(0.12, 1.0, -0.05),
    cup_offset=0.1,
    lash=0.016,
)


def by_root_finder(lifts: list[float]) -> list[float]:
    """The loop written down as it stands and searched for its root, lift by lift."""
    arm, length = LINKAGE.arm, LINKAGE.fitted_length
    turn = math.radians(LINKAGE.cup_angle)
    point, way = LINKAGE.lifter_point, LINKAGE.lifter_direction
    closed = math.asin((arm.tip_radius + LINKAGE.fitted_lash - LINKAGE.shaft_height) / arm.length)

    def misfit(angle: float, x: float, y: float, z: float) -> float:
        cup_x = LINKAGE.cup_radius * math.cos(angle + turn) - LINKAGE.shaft_offset
        cup_y = LINKAGE.cup_radius * math.sin(angle + turn) + LINKAGE.shaft_height
        return math.sqrt((cup_x - x) ** 2 + (cup_y - y) ** 2 + (LINKAGE.cup_offset - z) ** 2) - length

    found = []
    for lift in lifts:
        lifter = tuple(place + lift * along for place, along in zip(point, way, strict=True))
        angle = brentq(misfit, closed - 0.7, closed + 0.01, args=lifter, xtol=1e-15, rtol=1e-15)
        travel = arm.tip_radius - LINKAGE.shaft_height - arm.length * math.sin(angle)
        found.append(max(travel, 0.0))
    return found


def timed(run: Callable[[], object]) -> float:
    start = time.perf_counter()
    run()
    return time.perf_counter() - start


def main() -> int:
    lifts = np.linspace(0.0, 0.5, LIFTS)
    every = lifts[:: LIFTS // SAMPLE]
    sample = every.tolist()
    apart = float(np.max(np.abs(np.array(by_root_finder(sample)) - LINKAGE.valve_lift(every))))
    closed, searched = [], []
    for _ in range(ROUNDS):
        closed.append(timed(lambda: LINKAGE.valve_lift(lifts)))
        searched.append(timed(lambda: by_root_finder(sample)) * LIFTS / len(sample))
    ratio = statistics.median(searched) / statistics.median(closed)
    print(f"{LIFTS:,} lifts: closed form {statistics.median(closed) * 1e3:.2f} ms,", end=" ")
    print(f"root finder {statistics.median(searched):.2f} s (scaled from {len(sample):,}),", end=" ")
    print(f"ratio {ratio:.0f} (goal {GOAL:g}); apart by {apart:.1e} in at most (goal {AGREE:g})")
    return 0 if ratio >= GOAL and apart <= AGREE else 1


if __name__ == "__main__":
    sys.exit(main())
