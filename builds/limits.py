"""Which limit holds at an address of a job, and where it comes from.

Three ranks, the first that speaks is heard: the job's own limit (a customer's spec, a maker's sheet, typed in for
that job); what another floor works out from the job's papers (the lash of the cam card); the shop's setting.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal

from builds.measures import show, unit_for
from builds.models import Build, Limit
from builds.steps import judged_things, steps

ROUNDING = Decimal("1e-9")  # exactly at the limit is in: the last figure of a division must not decide it

JOB, PAPERS, SHOP = "job", "papers", "shop"
RANK_WORDS = {JOB: "this job’s own", PAPERS: "from its papers", SHOP: "the shop’s"}


@dataclass(frozen=True)
class LimitFor:
    """A limit as a verdict uses it, in the base unit. `rank` says who set it: job, papers or shop."""

    low: Decimal | None
    high: Decimal | None
    source: str
    unit_kind: str = "length"
    rank: str = PAPERS

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


# Each takes a build and the limits below it (the shop's, and the job's own in their place), and returns
# (limit key, address) → limit; the address "" means everywhere.
LimitProvider = Callable[[Build, Mapping[str, LimitFor]], Mapping[tuple[str, str], LimitFor]]
limit_providers: list[LimitProvider] = []

# A limit that is one of several, by what stands at the address: piston to valve, by the kind of the valve. Those are
# set; the key itself is not.
split_limits: dict[str, tuple[str, ...]] = {}


class LimitBook:
    """The limits of one job. `shop_rows` are the shop's own of another day, by key; left out: today's."""

    def __init__(self, build: Build, shop_rows: Mapping[str, Limit] | None = None) -> None:
        mine = Limit.objects.filter(build=build)
        rows = list(mine if shop_rows is not None else Limit.objects.filter(build__isnull=True) | mine)
        today = {row.key: row for row in rows if row.build_id is None}
        self.shop_rows = today if shop_rows is None else dict(shop_rows)
        self.job_rows = {row.key: row for row in rows if row.build_id is not None}
        self.of_shop = {key: _limit_for(row, SHOP) for key, row in self.shop_rows.items()}
        self.of_job = {key: _limit_for(row, JOB) for key, row in self.job_rows.items()}
        self.from_papers: dict[tuple[str, str], LimitFor] = {}
        for provider in limit_providers:
            self.from_papers.update(provider(build, {**self.of_shop, **self.of_job}))

    def get(self, key: str, position: str = "") -> LimitFor | None:
        """The limit that holds at an address; None where nothing is judged."""
        return (
            self.of_job.get(key)
            or self.from_papers.get((key, position))
            or self.from_papers.get((key, ""))
            or self.of_shop.get(key)
        )

    def papers_on(self, key: str) -> dict[str, LimitFor]:
        """What the job's papers say on a limit: address → limit."""
        return {position: limit for (found, position), limit in self.from_papers.items() if found == key}


def _limit_for(row: Limit, rank: str) -> LimitFor:
    return LimitFor(row.low, row.high, row.source, row.unit_kind, rank)


def around(wanted: Decimal, tolerance: LimitFor, paper: str) -> LimitFor:
    """A limit about a figure that a paper gives, with both sources named."""
    low = None if tolerance.low is None else wanted + tolerance.low
    high = None if tolerance.high is None else wanted + tolerance.high
    return LimitFor(low, high, f"{paper}; {tolerance.source}", tolerance.unit_kind)


@dataclass(frozen=True)
class Topic:
    """Something that a limit may be set for on a job: its key, its name, and the kind of its unit."""

    key: str
    name: str
    unit_kind: str = "length"
    step: str = ""


def topics(book: LimitBook) -> list[Topic]:
    """Everything that the bench or some step judges by: what only the shop's list has, then by the order of the work."""
    found: dict[str, Topic] = {}
    for step in steps():
        for key, name, kind in judged_things(step):
            for part in split_limits.get(key, (key,)):
                if part:
                    found.setdefault(part, Topic(part, name, kind, step.name))
    other = [Topic(key, row.name, row.unit_kind) for key, row in book.shop_rows.items() if key not in found]
    for key, row in book.shop_rows.items():
        if key in found:
            found[key] = replace(found[key], name=row.name)
    return other + list(found.values())


def topic_of(book: LimitBook, key: str) -> Topic | None:
    """One thing that a limit may be set for; None where nothing is judged by that key."""
    return next((topic for topic in topics(book) if topic.key == key), None)


@dataclass(frozen=True)
class InForce:
    """A limit that holds, and at which addresses; no addresses means everywhere."""

    limit: LimitFor
    positions: tuple[str, ...]
    length_unit: str

    @property
    def words(self) -> str:
        """The limit in the reader's unit."""
        return self.limit.words(self.length_unit)

    @property
    def sentence(self) -> str:
        """The limit, where it holds, and its source."""
        return f"{self.words}{f' at {self.where}' if self.where else ''} ({self.limit.source})"

    @property
    def rank_word(self) -> str:
        """Who set it, in words."""
        return RANK_WORDS[self.limit.rank]

    @property
    def where(self) -> str:
        """The addresses it holds at, in words."""
        return ", ".join(self.positions)


@dataclass(frozen=True)
class LimitLine:
    """One line of a job's limits: what is limited, and what holds now."""

    topic: Topic
    in_force: tuple[InForce, ...]
    own: bool

    @property
    def words(self) -> str:
        """What holds now, in a sentence."""
        told = "; ".join(held.sentence for held in self.in_force)
        return f"Now in force: {told}." if told else "No limit holds: it is written down and not judged."


def line_of(book: LimitBook, topic: Topic, length_unit: str) -> LimitLine:
    """One limit of a job, with what is in force."""
    return LimitLine(topic, tuple(_in_force(book, topic.key, length_unit)), topic.key in book.of_job)


def lines(book: LimitBook, length_unit: str) -> list[LimitLine]:
    """Every limit of a job, with what is in force."""
    return [line_of(book, topic, length_unit) for topic in topics(book)]


def _in_force(book: LimitBook, key: str, length_unit: str) -> Iterable[InForce]:
    own, shop = book.of_job.get(key), book.of_shop.get(key)
    if own is not None:
        return [InForce(own, (), length_unit)]
    alike: dict[LimitFor, list[str]] = {}
    for position, limit in book.papers_on(key).items():
        alike.setdefault(limit, []).append(position)
    if len(alike) == 1:
        return [InForce(next(iter(alike)), (), length_unit)]
    if alike:
        return [InForce(limit, tuple(filter(None, where)), length_unit) for limit, where in alike.items()]
    return [] if shop is None else [InForce(shop, (), length_unit)]


def legend(
    book: LimitBook, keys: Iterable[tuple[str, str]], length_unit: str
) -> list[tuple[str, list[InForce]]]:
    """For the names and limit keys of a step: what it is judged by, so that a page says each limit once."""
    found = []
    for name, key in keys:
        parts = list(_in_force(book, key, length_unit))
        for part in () if parts else split_limits.get(key, ()):
            parts.extend(_in_force(book, part, length_unit))
        if parts:
            found.append((name, parts))
    return found
