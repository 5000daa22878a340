"""Which limit holds at an address of a job, and where it comes from.

Three ranks, the first that speaks is heard: the job's own limit (a customer's spec, a maker's sheet, typed in for
that job); what another floor works out from the job's papers (the lash of the cam card); the shop's setting.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from builds.measures import BASE_UNIT, show
from builds.models import Build, Limit

ROUNDING = Decimal("1e-9")  # exactly at the limit is in: the last figure of a division must not decide it


@dataclass(frozen=True)
class LimitFor:
    """A limit as a verdict uses it, in the base unit."""

    low: Decimal | None
    high: Decimal | None
    source: str
    unit_kind: str = "length"

    def holds(self, value: Decimal) -> bool:
        """Whether a value [base unit] is inside, or exactly at an end."""
        above = self.low is None or value >= self.low - ROUNDING
        return above and (self.high is None or value <= self.high + ROUNDING)

    def words(self, length_unit: str) -> str:
        """The limit in words, in the reader's unit."""
        unit = unit_for(self.unit_kind, length_unit)
        if self.low is None:
            return f"at most {show(self.high, unit, with_unit=True)}"
        if self.high is None:
            return f"at least {show(self.low, unit, with_unit=True)}"
        return f"{show(self.low, unit)} to {show(self.high, unit, with_unit=True)}"


METRIC = {"length": "mm", "force": "N", "torque": "N·m", "pressure": "kPa"}


def unit_for(kind: str, length_unit: str) -> str:
    """The unit in which a person reads a kind of quantity: who reads millimetres reads newtons too."""
    if length_unit == "mm":
        return METRIC.get(kind, BASE_UNIT[kind])
    return BASE_UNIT[kind]


# Each takes a build and the limits below it, and returns (limit key, address) → limit; the address "" means everywhere.
LimitProvider = Callable[[Build, Mapping[str, LimitFor]], Mapping[tuple[str, str], LimitFor]]
limit_providers: list[LimitProvider] = []


class LimitBook:
    """The limits of one job."""

    def __init__(self, build: Build) -> None:
        rows = list(Limit.objects.filter(build__isnull=True) | Limit.objects.filter(build=build))
        self.of_shop = {row.key: _limit_for(row) for row in rows if row.build_id is None}
        self.of_job = {row.key: _limit_for(row) for row in rows if row.build_id is not None}
        self.from_papers: dict[tuple[str, str], LimitFor] = {}
        for provider in limit_providers:
            self.from_papers.update(provider(build, self.of_shop))

    def get(self, key: str, position: str = "") -> LimitFor | None:
        """The limit that holds at an address; None where nothing is judged."""
        return (
            self.of_job.get(key)
            or self.from_papers.get((key, position))
            or self.from_papers.get((key, ""))
            or self.of_shop.get(key)
        )


def _limit_for(row: Limit) -> LimitFor:
    return LimitFor(row.low, row.high, row.source, row.unit_kind)
