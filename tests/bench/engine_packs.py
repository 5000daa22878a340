"""What the packs of a whole engine cost: sixteen valves on eight stands, out of one drawer that counts.

    python -m tests.bench.engine_packs

The drawer has twelve thicknesses. It is tried with plenty, with enough, and with too few to go round; with one
pack under both pads of a stand and with one under each. The stand-by-stand choice, which gives every stand
the whole drawer, is timed in the same process, turn and turn about; the ratio of the medians is printed, and
what the engine would be if the stands were to take their own choice one after another. The goal, for a drawer
that is not nearly empty and one pack a stand, is below one second.
"""

import statistics
import sys
import time
from collections import Counter
from collections.abc import Callable

from valvetrain.geometry.engine_packs import EnginePacks, choose_engine_packs
from valvetrain.geometry.engine_stands import EngineStand
from valvetrain.geometry.packs import PackChoice, Piece, StandNeed, choose_packs

MILS = (1, 2, 3, 5, 8, 10, 15, 20, 25, 30, 45, 60)
# What the two valves of each stand need: a plain spread, no two stands alike.
RISES = [(0.0163 + 0.0117 * n, 0.0187 + 0.0119 * n) for n in range(8)]
PADS, VALVES = (0.0, 3.5), (0.6, 2.9)
TOLERANCE = 0.005
ROUNDS = 5
GOAL = 1.0


def drawer(count: int | None) -> list[Piece]:
    return [Piece(mil / 1000, count) for mil in MILS]


def whole_engine(count: int | None, *, tilt: bool) -> EnginePacks:
    stands = [
        EngineStand(f"stand{n}", rises, valves_at=VALVES, pads_at=PADS, allow_tilt=tilt)
        for n, rises in enumerate(RISES)
    ]
    return choose_engine_packs(stands, drawer(count), tolerance=TOLERANCE)


def stand_by_stand(count: int | None) -> tuple[PackChoice, ...]:
    needs = [StandNeed(f"stand{n}", rises, pads=len(PADS)) for n, rises in enumerate(RISES)]
    return choose_packs(needs, drawer(count), tolerance=TOLERANCE)


def one_after_another(count: int | None) -> float:
    """Worst valve of the engine if each stand takes its own choice from what the others left."""
    left = Counter(dict.fromkeys(MILS, 10**6 if count is None else count))
    worst = 0.0
    for n, rises in enumerate(RISES):
        stock = [Piece(mil / 1000, many) for mil, many in left.items()]
        (choice,) = choose_packs([StandNeed(f"stand{n}", rises)], stock, tolerance=TOLERANCE)
        left.subtract({round(thickness * 1000): 2 * many for thickness, many in choice.pieces})
        worst = max(worst, choice.worst)
    return worst


def timed(run: Callable[[], object]) -> float:
    start = time.perf_counter()
    run()
    return time.perf_counter() - start


def main() -> int:
    goal_met = True
    for count, tilt in [
        (None, False),
        (16, False),
        (8, False),
        (4, False),
        (None, True),
        (16, True),
        (8, True),
    ]:
        engine = whole_engine(count, tilt=tilt)
        together, apart = [], []
        for _ in range(ROUNDS):
            together.append(timed(lambda count=count, tilt=tilt: whole_engine(count, tilt=tilt)))
            apart.append(timed(lambda count=count: stand_by_stand(count)))
        median = statistics.median(together)
        many = "any number" if count is None else f"{count}"
        print(f"{many} of each, {'a pack a pad' if tilt else 'a pack a stand'}:", end=" ")
        print(
            f"{median * 1e3:.0f} ms, {median / statistics.median(apart):.1f} times stand by stand;", end=" "
        )
        print(f"worst {engine.worst:.4f} in ({one_after_another(count):.4f} one after another),", end=" ")
        print(f"{engine.pieces} shims, {'proved' if engine.proved else 'not proved'}")
        goal_met = goal_met and (tilt or count == 4 or (median < GOAL and engine.proved))
    return 0 if goal_met else 1


if __name__ == "__main__":
    sys.exit(main())
