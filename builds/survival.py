"""How long parts last: the Kaplan–Meier estimate over what an engine ran, with what is still running counted as that.

An event is a part that came out because it failed. Everything else counts as far as it ran: what is still in, and what
came out for another reason. Several parts of one line are so many units. The estimate itself is scipy's.
"""

import warnings
from collections.abc import Iterable
from dataclasses import dataclass, replace
from math import isfinite

import numpy as np
from django.db.models import Max, Q, QuerySet, Sum
from django.db.models.functions import Upper
from scipy.stats import CensoredData, ecdf

from builds.models import PartFitted, PartTakenOut, WhyOut
from builds.part_numbers import written_alike
from builds.part_running import EnginesRunning

FEW_UNITS, FEW_FAILURES = 20, 5
LEAST_FAILURES = 2
CONFIDENCE = 0.95


@dataclass(frozen=True)
class Units:
    """So many units that ran so far, and whether they failed then."""

    ran: float
    failed: bool
    count: int = 1


@dataclass(frozen=True)
class Step:
    """The share that still lasts after a failure, its interval, and how many ran so far, failed there, and left before.

    `low` and `high` are None where the interval is not defined: where none or all have failed.
    """

    ran: float
    at_risk: int
    failed: int
    lasting: float
    low: float | None
    high: float | None

    @property
    def percent(self) -> str:
        """The share in percent, as it is shown."""
        return f"{self.lasting * 100:.0f}"

    @property
    def interval(self) -> str:
        """Its interval in percent, as it is shown."""
        if self.low is None or self.high is None:
            return "not defined"
        return f"{self.low * 100:.0f} to {self.high * 100:.0f} %"


@dataclass(frozen=True)
class Survival:
    """How long the units of one kind lasted, in one unit of running. `censored` are (ran, how many) that did not fail."""

    unit: str
    units: int
    failures: int
    steps: tuple[Step, ...] = ()
    censored: tuple[tuple[float, int], ...] = ()
    median: float | None = None
    furthest: float = 0.0

    @property
    def is_few(self) -> bool:
        """Whether this is a hint and not a rate."""
        return self.units < FEW_UNITS or self.failures < FEW_FAILURES

    @property
    def is_drawn(self) -> bool:
        """Whether there are enough failures to say more than their number."""
        return self.failures >= LEAST_FAILURES

    def at_risk(self, ran: float) -> int:
        """How many units ran at least so far."""
        failed = sum(step.failed for step in self.steps if step.ran >= ran)
        return failed + sum(count for far, count in self.censored if far >= ran)

    def lasting(self, ran: float) -> float:
        """The share that lasts longer than so far."""
        return next((step.lasting for step in reversed(self.steps) if step.ran <= ran), 1.0)


def survival(found: Iterable[Units], unit: str) -> Survival:
    """The estimate of Kaplan and Meier with its log-log interval; below two failures nothing but the count.

    >>> told = survival([Units(6, True, 3), Units(6, False), Units(7, True), Units(9, False)], "weeks")
    >>> [(step.ran, step.at_risk, step.failed, round(step.lasting, 3)) for step in told.steps]
    [(6.0, 6, 3, 0.5), (7.0, 2, 1, 0.25)]
    >>> told.median, told.is_few
    (6.0, True)
    """
    groups = [each for each in found if each.count > 0]
    failed = [each.ran for each in groups if each.failed for _unit in range(each.count)]
    going = [each.ran for each in groups if not each.failed for _unit in range(each.count)]
    known = Survival(
        unit=unit, units=len(failed) + len(going), failures=len(failed), censored=_counted(going),
        furthest=float(max([*failed, *going], default=0.0)),
    )  # fmt: skip
    if not known.is_drawn:
        return known
    steps = _steps(failed, going)
    median = next((step.ran for step in steps if step.lasting <= 0.5), None)
    return replace(known, steps=steps, median=median)


def _counted(values: Iterable[float]) -> tuple[tuple[float, int], ...]:
    found, counts = np.unique(np.asarray(list(values), dtype=float), return_counts=True)
    return tuple((float(value), int(count)) for value, count in zip(found, counts, strict=True))


def _steps(failed: list[float], going: list[float]) -> tuple[Step, ...]:
    estimate = ecdf(CensoredData(uncensored=failed, right=going)).sf
    # Where none or all have failed the interval is not defined, of which scipy warns.
    with warnings.catch_warnings(), np.errstate(all="ignore"):
        warnings.simplefilter("ignore", RuntimeWarning)
        interval = estimate.confidence_interval(CONFIDENCE, method="log-log")
    every = np.sort(np.asarray(failed + going, dtype=float))
    events, counts = np.unique(np.asarray(failed, dtype=float), return_counts=True)
    at = np.searchsorted(estimate.quantiles, events)
    return tuple(
        Step(
            ran=float(ran), at_risk=int(every.size - np.searchsorted(every, ran, side="left")), failed=int(count),
            lasting=float(estimate.probabilities[place]), low=_end(interval.low.probabilities[place]),
            high=_end(interval.high.probabilities[place]),
        )
        for ran, count, place in zip(events, counts, at, strict=True)
    )  # fmt: skip


def _end(value: float) -> float | None:
    return float(value) if isfinite(value) else None


@dataclass(frozen=True)
class Counted:
    """The units of one kind of part, and how many have no running in the unit that is counted in."""

    survival: Survival
    unknown: int
    unknown_failed: int


def of_kind(role: str, maker_number: str, unit: str) -> Counted:
    """How long the parts of one kind lasted, in one unit of running; a constant number of questions to the database."""
    parts = list(_parts(role, maker_number))
    running = EnginesRunning({part.build.engine_id for part in parts})
    outs: dict[int, list[PartTakenOut]] = {}
    for out in PartTakenOut.objects.filter(part__in=_parts(role, maker_number)):
        outs.setdefault(out.part_id, []).append(out)
    units: list[Units] = []
    unknown = unknown_failed = 0
    for part in parts:
        came = outs.get(part.pk, [])
        if unit not in running.counted_in(part):
            unknown += part.quantity
            unknown_failed += sum(out.quantity for out in came if out.why == WhyOut.FAILED)
            continue
        units += [
            Units(float(running.since(part, out.out_on).get(unit, 0)), out.why == WhyOut.FAILED, out.quantity)
            for out in came
        ]
        left = part.quantity - sum(out.quantity for out in came)
        units.append(Units(float(running.since(part).get(unit, 0)), False, left))
    return Counted(survival(units, unit), unknown, unknown_failed)


def _parts(role: str, maker_number: str) -> "QuerySet[PartFitted]":
    found: QuerySet[PartFitted] = PartFitted.objects.alias(in_capitals=Upper("role")).filter(
        in_capitals__in=written_alike(role)
    )
    if maker_number:
        found = found.alias(number=Upper("maker_number")).filter(number__in=written_alike(maker_number))
    return found.select_related("build")


@dataclass(frozen=True)
class Kind:
    """One kind of part: how many went in on all jobs, came out, and failed."""

    name: str
    fitted: int
    came_out: int
    failed: int


def kinds() -> list[Kind]:
    """Every kind of part, those that failed most first; in two questions. A shop has some dozens of kinds."""
    fitted = PartFitted.objects.annotate(kind=Upper("role")).order_by().values("kind")
    rows = fitted.annotate(name=Max("role"), n=Sum("quantity"))
    outs = PartTakenOut.objects.annotate(kind=Upper("part__role")).order_by().values("kind")
    failed = Sum("quantity", filter=Q(why=WhyOut.FAILED), default=0)
    came = {row["kind"]: row for row in outs.annotate(n=Sum("quantity"), failed=failed)}
    nothing = {"n": 0, "failed": 0}
    found = [
        Kind(
            row["name"],
            row["n"],
            came.get(row["kind"], nothing)["n"],
            came.get(row["kind"], nothing)["failed"],
        )
        for row in rows
    ]
    return sorted(found, key=lambda kind: (-kind.failed, -kind.came_out, kind.name.casefold()))
