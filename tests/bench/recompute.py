"""The complete recomputation of a 16-valve engine: records read, targets, verdicts, budgets, and the packs chosen.

    python -m tests.bench.recompute [rounds]

On a fresh book on this disk. Both heads are read, every valve twice, the guard band is on, and every stand needs a
pack. What a process may keep between two saved readings is thrown away before each round, so that every round does it
all. The goal is a median of 50 ms, and as many queries for four engines as for one.
"""

import os
import statistics
import sys
import tempfile
import time
from typing import Any

GOAL_MS = 50.0
ROUNDS = 40


def prepare(folder: str) -> None:
    """A fresh book in a folder."""
    os.environ["STANDBOOK_DATA"] = folder
    os.environ["DJANGO_SETTINGS_MODULE"] = "builds.settings"
    import django
    from django.core.management import call_command

    django.setup()
    call_command("migrate", verbosity=0)


def full_engine(person: Any, number: int) -> Any:
    """An engine with every valve read twice, each a little different, so that nothing is found worked out already."""
    from tests.scenes import make_scene

    scene = make_scene(person, job_number=f"26-{number:03}")
    for cylinder in range(1, 9):
        for kind in "IE":
            for repeat in range(2):
                scene.read_gap(
                    f"{cylinder}{kind}",
                    f"{0.018 + 0.0007 * cylinder + 0.0003 * repeat + 0.0001 * number:.4f}",
                )
    return scene


def recompute(build_ids: list[int]) -> list[Any]:
    """Everything that is worked out of the records of these builds; returns their heads."""
    from valvetrain.acts import act_for
    from valvetrain.gathering import gather
    from valvetrain.models import Head
    from valvetrain.targets import head_state

    heads = Head.objects.filter(build__in=build_ids).select_related("build__engine__customer")
    states = [head_state(records) for records in gather(heads, with_tools=True)]
    for state in states:
        for stand in state.stands:
            act_for(stand)
            for valve in (valve for valve in stand.valves if valve.reads):
                assert valve.target_top is not None
                assert valve.verdict
                assert valve.budget is not None
                assert valve.budget.lines
    return states


def forget() -> None:
    """Throw away what the process may keep."""
    from valvetrain import budgets
    from valvetrain.geometry import packs

    budgets._slopes.cache_clear()
    packs._opened.cache_clear()


def queries_of(build_ids: list[int]) -> int:
    """How often the database is asked for all of it."""
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    with CaptureQueriesContext(connection) as captured:
        recompute(build_ids)
    return len(captured)


def main(rounds: int) -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as folder:
        prepare(folder)
        from builds.models import Person, Shop

        person = Person.objects.create_user("nora", name="Nora Vesterlund", password="nine loose lifters")
        builds = [full_engine(person, number).build.pk for number in range(1, 5)]
        Shop.get()
        Shop.objects.update(guard_band=True)
        took = []
        for _turn in range(rounds + 3):
            forget()
            started = time.perf_counter()
            states = recompute(builds[:1])
            took.append((time.perf_counter() - started) * 1e3)
        took = took[3:]  # the first few warm up
        kept = []
        for _turn in range(rounds):
            started = time.perf_counter()
            recompute(builds[:1])
            kept.append((time.perf_counter() - started) * 1e3)
        valves = sum(len(state.valves) for state in states)
        one, four = queries_of(builds[:1]), queries_of(builds)
    print(
        f"{valves} valves, all of it: median {statistics.median(took):.1f} ms over {rounds}, worst {max(took):.1f} ms"
    )
    print(f"with what a process keeps:  median {statistics.median(kept):.1f} ms")
    print(f"goal: {GOAL_MS:.0f} ms or less: {'met' if statistics.median(took) <= GOAL_MS else 'MISSED'}")
    print(f"queries: {one} for one engine, {four} for four: {'constant' if one == four else 'NOT CONSTANT'}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else ROUNDS)
